"""What no message can set and all of tonight wants alike: it is set by hand before the night.

Runs behind `tonight`, once the scenes of a night are proved. A switch that flips, a relay that
gives a pulse and a program that is stepped to cannot be set by a message, and so none is sent.
Where every scene that cares wants the same, and nothing that is sent changes it, it stays as it
is set before the first song: proven, if the start is as printed. So it is with a clock of the
switcher that has one tempo for all presets.
"""

from __future__ import annotations

from typing import NamedTuple

from setwright.compiler.binding.described import describe
from setwright.compiler.binding.paced import CLOCK
from setwright.compiler.binding.states import Cause, Verdict, Wanted
from setwright.compiler.binding.target import SWITCHER, Program, is_relay
from setwright.compiler.placement.wanted import SceneKey
from setwright.compiler.proving.prove import Prover
from setwright.compiler.proving.proved import LoweredScene
from setwright.compiler.proving.tonight import FINE_BY_HAND
from setwright.scenes.unit import Unit

UNSETTABLE = frozenset({Cause.FLIPS, Cause.PULSE, Cause.STEPS, Cause.PRESSES, Cause.ONE_TEMPO})
"""Why no message can set a quantity."""

REASON = "no message sets or changes it tonight; set it by hand before the night"


class ByHand(NamedTuple):
    """A quantity of a unit that is set before the night, and to what, in words.

    ``quantity`` is ``switch``, ``relay``, ``program``, or ``fine part``, that of a control; a
    control's name; or ``clock``, that of the switcher.
    """

    unit: str
    quantity: str
    value: str


def settled_by_hand(
    prover: Prover, scenes: dict[SceneKey, LoweredScene]
) -> tuple[dict[SceneKey, LoweredScene], tuple[ByHand, ...]]:
    """Return ``scenes`` with the verdicts that hold if that is set, and what is to be set."""
    different = {id(scene.proved): scene for scene in scenes.values()}
    values: dict[tuple[str, str], dict[object, Wanted]] = {}
    doubted: set[tuple[str, str]] = set()
    for scene in different.values():
        for one in scene.proved:
            settable = one.quantity in {"switch", "program", CLOCK}
            settable = settable or one.cause is Cause.PRESSES
            if (settable or is_relay(one.quantity)) and one.value is not None:
                values.setdefault(_key(one), {})[_same(one)] = one
                if one.cause in UNSETTABLE:
                    doubted.add(_key(one))
    fine = tuple(
        ByHand(unit, "fine part", f"{quantity} fine part 0")
        for unit, quantity in dict.fromkeys(
            (one.unit, one.quantity)
            for scene in different.values()
            for one in scene.proved
            if one.reason == FINE_BY_HAND
        )
    )
    if not doubted:
        return scenes, fine
    loading = {
        timed.command.unit
        for scene in different.values()
        for timed in scene.lowered.sent.commands
        if timed.command.quantity == "program"
    }
    by_hand = {
        key: one
        for key, found in values.items()
        for one in found.values()
        if key in doubted and len(found) == 1
        if not _is_undone(prover.units[one.unit], one, loads=one.unit in loading)
    }
    now = {key: _settle(prover, scene, by_hand) for key, scene in different.items()}
    return (
        {
            key: scene._replace(proved=now[id(scene.proved)])
            if now[id(scene.proved)] is not scene.proved
            else scene
            for key, scene in scenes.items()
        },
        (*(ByHand(*key, _in_words(one)) for key, one in by_hand.items()), *fine),
    )


def _key(wanted: Wanted) -> tuple[str, str]:
    """Return whose quantity it is: that of a unit, or the switcher's one clock."""
    return SWITCHER if wanted.quantity == CLOCK else wanted.unit, wanted.quantity


def _same(wanted: Wanted) -> object:
    """Return what tells two values apart: one program may have two names."""
    return wanted.value.on_wire if isinstance(wanted.value, Program) else wanted.value


def _is_undone(unit: Unit, wanted: Wanted, *, loads: bool) -> bool:
    """Tell whether a program that is loaded tonight would switch the unit the other way.

    Or bring another setting of a control that no message sets.
    """
    if wanted.cause is Cause.PRESSES:
        control = unit.control(wanted.quantity)
        return loads and control is not None and control.after_a_program != "kept"
    if wanted.quantity != "switch" or not loads:
        return False
    return unit.loading == ("bypasses" if wanted.value else "engages")


def _in_words(wanted: Wanted) -> str:
    if isinstance(wanted.value, Program):
        return f"{wanted.value.name} (display {wanted.value.shown})"
    words = describe(wanted.value, wanted.quantity)
    return f"clock {words}" if wanted.quantity == CLOCK else words


def _settle(
    prover: Prover, scene: LoweredScene, by_hand: dict[tuple[str, str], Wanted]
) -> tuple[Wanted, ...]:
    def settled(one: Wanted) -> Wanted:
        stands = one.cause in UNSETTABLE and _key(one) in by_hand
        if one.cause is Cause.PROGRAM and (one.unit, "program") in by_hand:
            program = by_hand[one.unit, "program"].value
            assert isinstance(program, Program)
            stands = prover.stands_with(scene.lowered.sent, one, program.on_wire)
        if not stands:
            return one
        return one._replace(verdict=Verdict.FEET, reason=REASON, cause=Cause.NONE)

    now = tuple(settled(one) for one in scene.proved)
    return scene.proved if now == scene.proved else now
