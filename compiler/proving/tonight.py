"""Doubts that tonight's scenes do away with: what no scene of the night sets stays as it is.

Runs once all scenes of a night are lowered. A control that another effect of the rig could move
is in doubt in a scene that does not set it; if no scene of the night moves it, it is not. A fine
part that a preset has no slot for is in doubt; if no scene of the night moves it, it is what the
box had before, and 0 if it is set so by hand.
"""

from __future__ import annotations

from setwright.compiler.binding.states import Cause, Verdict, Wanted
from setwright.compiler.binding.target import Program, Setting
from setwright.compiler.placement.wanted import SceneKey
from setwright.compiler.proving.proved import LoweredScene
from setwright.scenes.unit import Unit

Moved = set[tuple[str, str, tuple[int, int] | None]]
"""Unit, control, and bank and number of the program in which it is moved, or None for any; or
`FINE`."""

FINE = (-1, -1)
"""Stands for no program, but for a fine part that is not 0."""


FINE_BY_HAND = (
    "its coarse part sets it, and no message its fine part; set that to 0 by hand before the night"
)


def verdicts_of_tonight(
    scenes: dict[SceneKey, LoweredScene], units: dict[str, Unit]
) -> dict[SceneKey, LoweredScene]:
    """Return ``scenes`` with the verdicts that hold tonight."""
    different = {id(scene.proved): scene.proved for scene in scenes.values()}
    moved = {move for proved in different.values() for move in _moves(proved, units)}
    now = {key: _settle(proved, moved) for key, proved in different.items()}
    return {
        key: scene._replace(proved=now[id(scene.proved)])
        if now[id(scene.proved)] is not scene.proved
        else scene
        for key, scene in scenes.items()
    }


def program_of(proved: tuple[Wanted, ...], unit: str) -> tuple[int, int] | None:
    """Return bank and number of the program that a scene wants of ``unit``."""
    values = (one.value for one in proved if (one.unit, one.quantity) == (unit, "program"))
    return next((value.on_wire for value in values if isinstance(value, Program)), None)


def _moves(proved: tuple[Wanted, ...], units: dict[str, Unit]) -> Moved:
    moved: Moved = set()
    for one in proved:
        if isinstance(one.value, Setting):
            moved.add((one.unit, one.quantity, None))
            moved.add((one.unit, one.quantity, program_of(proved, one.unit)))
            if one.value.fine:
                moved.add((one.unit, one.quantity, FINE))
        elif isinstance(one.value, Program):
            # It may bring fine parts of its own.
            moved |= {
                (one.unit, name, FINE)
                for name, control in units[one.unit].every_control
                if control.after_a_program != "kept"
            }
    return moved


def _settle(proved: tuple[Wanted, ...], moved: Moved) -> tuple[Wanted, ...]:
    doubts = {one for one in proved if one.cause in {Cause.LEFT, Cause.REPEAT, Cause.FINE}}
    free = {one for one in doubts if not _is_moved(proved, one, moved)}
    if not free:
        return proved
    return tuple(_settled(one) if one in free else one for one in proved)


def _settled(doubt: Wanted) -> Wanted:
    if doubt.cause is Cause.FINE and isinstance(doubt.value, Setting):
        value = doubt.value._replace(fine=None)
        return doubt._replace(
            value=value, verdict=Verdict.FEET, reason=FINE_BY_HAND, cause=Cause.NONE
        )
    return doubt._replace(
        verdict=Verdict.FREE, why="nothing moves it tonight", reason="", cause=Cause.NONE
    )


def _is_moved(proved: tuple[Wanted, ...], doubt: Wanted, moved: Moved) -> bool:
    if doubt.cause is Cause.FINE:
        return (doubt.unit, doubt.quantity, FINE) in moved
    program = program_of(proved, doubt.unit) if doubt.cause is Cause.REPEAT else None
    return (doubt.unit, doubt.quantity, program) in moved
