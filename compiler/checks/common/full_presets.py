"""Scenes that need more than a preset stores: what would stay, after which scene, the way out.

Runs after lowering. What does not fit is a finding with the numbers; what would stay from which
scene, if the last of it were left out, stands beside it, and the help names the cheapest way out:
a value that every scene shares need not be sent, a program can have a setting built in, and
else one setting fewer has to do.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import NamedTuple

from setwright.compiler.compiled import Compiled
from setwright.compiler.lowering.commands import Command
from setwright.compiler.lowering.preset import Shortage, does_not_fit
from setwright.compiler.proving.proved import LoweredScene
from setwright.scenes.finding import Finding, Related, Severity
from setwright.scenes.quantities import quoted
from setwright.scenes.records import place_for
from setwright.scenes.switcher import Switcher


class Staying(NamedTuple):
    """A command that could be left out, and a scene that sets the same quantity otherwise."""

    command: Command
    other: LoweredScene | None
    there: Command | None


def too_full(compiled: Compiled) -> list[Finding]:
    """Find presets that hold more than the switcher can store: one finding for each shortage."""
    book = compiled.book
    storage = book.switcher.each_preset_stores
    why_not: dict[int, Shortage | None] = {}
    short: dict[Shortage, list[LoweredScene]] = {}
    for scene in compiled.scenes.values():
        if id(scene.content) not in why_not:
            why_not[id(scene.content)] = does_not_fit(scene.content, storage)
        shortage = why_not[id(scene.content)]
        if shortage is not None:
            short.setdefault(shortage, []).append(scene)
    if short and not book.spot.holds(("switcher", "each preset stores")):
        return [
            Finding(
                "preset-full",
                Severity.ERROR,
                "it is not said what a preset of this switcher stores, and the scenes send "
                "programs or controls",
                place_for(book.spot, ("switcher",), Switcher, "each preset stores"),
                "add each preset stores: {programs: …, controls: …}, as its manual says",
            )
        ]
    return [_finding(compiled, shortage, scenes) for shortage, scenes in short.items()]


def _finding(compiled: Compiled, shortage: Shortage, scenes: list[LoweredScene]) -> Finding:
    book = compiled.book
    paths = list({scene.bound.path: None for scene in scenes})
    staying = _staying(compiled, scenes[0], shortage.kind)
    more = f" (so it is with {len(paths)} scenes)" if len(paths) > 1 else ""
    related = [Related("this one too", book.place_of_key(path)) for path in paths[1:4]]
    for command, other, there in staying:
        if other is not None and there is not None:
            related.append(
                Related(
                    f"if {quoted(scenes[0].bound.name)} did not send the {command.quantity} of "
                    f"{quoted(command.unit)}, it would stay as here: {there.meaning}",
                    book.place_of_key(other.bound.path),
                )
            )
            break
    place = book.place_of_key(("switcher", "each preset stores"))
    return Finding(
        "preset-full",
        Severity.ERROR,
        f"{quoted(scenes[0].bound.name)} cannot be stored: {shortage.sentence}{more}",
        book.place_of_key(paths[0]),
        _select(compiled, shortage.select_for)
        if shortage.select_for
        else _way_out(compiled, scenes[0], staying),
        (*related, Related("what a preset stores", place)),
    )


def _staying(compiled: Compiled, scene: LoweredScene, kind: str) -> list[Staying]:
    """Return the programs or the controls that a preset could do without, by the harm it does.

    Least harm does what every other scene sends with the same value; then settings, then what
    switches.
    """
    found = []
    for command in scene.content.commands:
        if command.quantity == "bank" or command.message.kind != kind:
            continue
        other = next(_otherwise(compiled, command), None)
        found.append(Staying(command, *(other or (None, None))))
    return sorted(found, key=lambda one: (one.other is not None, one.command.quantity == "switch"))


def _otherwise(compiled: Compiled, command: Command) -> Iterator[tuple[LoweredScene, Command]]:
    """Yield the scenes that set the same quantity to something else, with their commands."""
    for scene in compiled.different_scenes:
        for there in scene.content.commands:
            same = (there.unit, there.quantity) == (command.unit, command.quantity)
            if same and not there.fine and there.message != command.message:
                yield scene, there


def _select(compiled: Compiled, unit: str) -> str:
    """Return the way out where the switcher cannot send the bank select of ``unit``."""
    if any(program.bank for program in compiled.target.programs[unit].values()):
        return (
            "use a program of the first bank, where a program change alone reaches it; or a "
            "switcher that sends bank select"
        )
    return (
        f"all programs of {quoted(unit)} lie in its first bank: take bank select: out of the rig, "
        "write its display: as far as one bank goes, and leave the box in that bank"
    )


def _way_out(compiled: Compiled, scene: LoweredScene, staying: list[Staying]) -> str:
    loading = {
        command.unit for command in scene.content.commands if command.message.kind == "program"
    }
    for command, other, _ in staying:
        # What a program brings back cannot be set by hand once and for all.
        if other is None and command.message.kind == "control" and command.unit not in loading:
            return (
                f"every scene sends the same {command.quantity} to {quoted(command.unit)} "
                f"({command.meaning}): set it there by hand before the night and take it out of "
                "the rig, which frees a slot in each of these presets"
            )
    for command, _, _ in staying:
        if command.unit in loading and command.message.kind == "control":
            return (
                f"store a program on {quoted(command.unit)} that has its {command.quantity} built "
                f"in ({command.meaning}), and ask for that program; or leave an effect out"
            )
    if staying and staying[0].command.message.kind == "program":
        return "leave an effect out, or put a unit into a loop: one that is out needs no program"
    return (
        "leave an effect out, put a unit into a loop, use a program that has the settings built "
        "in, or let a control rest at one value for the whole night"
    )
