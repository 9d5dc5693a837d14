"""Expression pedals that send a control of their own: which controls of which units they move.

Whether all boxes on the way pass it on is a matter of the checks; here channel, number and the
cables decide.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from itertools import pairwise

from setwright.compiler.binding.described import in_words
from setwright.compiler.binding.rig_findings import RigFindings
from setwright.compiler.binding.settings import setting_at
from setwright.compiler.binding.target import Target
from setwright.scenes.book import Book
from setwright.scenes.places import KeyPath
from setwright.scenes.quantities import quoted
from setwright.scenes.unit import Unit


def moved_by_pedals(book: Book, gone: frozenset[str]) -> dict[tuple[str, str], str]:
    """Return unit and control → the pedal that moves it, or may: the first, where two do."""
    found: dict[tuple[str, str], str] = {}
    units = book.rig.units
    for pedal, one in units.items():
        sends = one.foot_sends
        if sends is None or pedal in gone:
            continue
        joined = _joined(book.rig.midi, pedal)
        for name, unit in units.items():
            if name == pedal or unit.channel not in ("omni", sends.channel):
                continue
            if joined is not None and name not in joined:
                continue
            for control, declared in unit.every_control:
                if declared.cc == sends.cc:
                    found.setdefault((name, control), pedal)
    return found


def _joined(lines: Sequence[Sequence[Mapping[str, object]]], pedal: str) -> set[str] | None:
    """Return the boxes to which cables lead from ``pedal``, whether or not all pass it on.

    None where no cable leads out of it, which is found elsewhere, and then nothing is known.
    """
    after: dict[str, set[str]] = {}
    for line in lines:
        for box, following in pairwise(line):
            after.setdefault(next(iter(box)), set()).add(next(iter(following)))
    if pedal not in after:
        return None
    found: set[str] = set()
    waiting = [pedal]
    while waiting:
        new = after.get(waiting.pop(), set()) - found
        found |= new
        waiting += new
    return found


def sent_from(target: Target, pedal: str, position: str) -> list[str]:
    """Return what a pedal puts where when the foot brings it into a position, in words."""
    sends = target.units[pedal].foot_sends
    if sends is None or position not in sends.values:
        return []
    return [
        f"{control} of {unit} at {in_words(setting_at(declared, sends.values[position]))}"
        for (unit, control), by in target.pedals.items()
        if by == pedal and (declared := target.units[unit].control(control)) is not None
    ]


def check_pedal(found: RigFindings, name: str, unit: Unit) -> None:
    """Find a pedal whose positions and values do not come out."""
    sends = unit.foot_sends
    base: KeyPath = ("rig", "units", name, "foot sends")
    if sends is None or found.book.has_broken(base):
        return
    if not unit.by_foot:
        if not found.book.is_broken(("rig", "units", name, "by foot")):
            found.error(
                "foot-sends-disagree",
                f"{quoted(name)} sends where the foot stands, and has no positions",
                base,
                "add by foot: with its positions, for example by foot: [heel, middle, toe]",
                key=True,
            )
        return
    for position in sends.values:
        if position not in unit.by_foot:
            found.error(
                "foot-sends-disagree",
                f"{quoted(name)} has no position {quoted(position)}",
                (*base, "values", position),
                f"write one of {', '.join(unit.by_foot)}",
                key=True,
            )
            return
    lacking = [position for position in unit.by_foot if position not in sends.values]
    if lacking:
        found.error(
            "foot-sends-disagree",
            f"it is not said what {quoted(name)} sends in {lacking[0]}",
            (*base, "values"),
            f"add {lacking[0]}: and its value, 0 to 127",
            key=True,
        )
