"""Which scene leaves a control in a state that another scene does not set."""

from __future__ import annotations

from collections.abc import Iterator

from setwright.compiler.binding.described import describe, in_words
from setwright.compiler.binding.states import Wanted
from setwright.compiler.binding.target import Setting
from setwright.compiler.checks.common.unknowns import Unknown
from setwright.compiler.compiled import Compiled
from setwright.compiler.proving.proved import LoweredScene
from setwright.compiler.proving.tonight import program_of
from setwright.scenes.wording import number_of


def setters(compiled: Compiled, one: Unknown) -> list[tuple[Wanted, LoweredScene]]:
    """Return the different scenes that set the control of ``one``, and to what."""
    return [
        (wanted, scene)
        for scene in compiled.different_scenes
        for wanted in scene.proved
        if (wanted.unit, wanted.quantity) == (one.unit, one.quantity)
        and isinstance(wanted.value, Setting)
    ]


def cheapest_way_out(compiled: Compiled, one: Unknown) -> str:
    """Return what to do about a control that stays as it was left, the cheapest way first.

    Where a preset has no slot left for the control, only a program that has it built in will do.
    """
    book = compiled.book
    room = book.switcher.each_preset_stores.controls
    full = [
        scene
        for scene in one.scenes
        if len(scene.content.coarse) >= room and not scene.lowered.by_computer
    ]
    if full:
        return (
            f"{full[0].bound.name} has no slot left for it ({number_of(room, 'control')} in a "
            f"preset): use a program that has the {one.quantity} built in, or set one control "
            "fewer there"
        )
    if one.quantity == "time":
        return (
            f"write echo: in {one.scene.called} or for its song, or give the time an "
            "at rest: in the rig, such as 350 ms"
        )
    return (
        f"say which {one.quantity} {one.scene.called} wants, with set: in its effect; or give it "
        "an at rest: in the rig, what it should be when nobody asks; either takes one control in "
        "each of these presets"
    )


def asked(wanted: Wanted) -> str:
    """Return a setting in the words in which it is written in the rig."""
    value = wanted.value
    return in_words(value.asked) if isinstance(value, Setting) else describe(value, wanted.quantity)


def leavers(
    one: Unknown, setting: list[tuple[Wanted, LoweredScene]], *, same_program: bool
) -> Iterator[tuple[LoweredScene, Wanted, LoweredScene]]:
    """Yield (scene that cannot know, what was left, the scene that left it)."""
    for scene in one.scenes:
        here = program_of(scene.proved, one.unit)
        for wanted, other in setting:
            if not same_program or program_of(other.proved, one.unit) == here:
                yield scene, wanted, other
