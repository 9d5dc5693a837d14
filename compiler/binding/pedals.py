"""Expression pedals that send a control of their own: which controls of which units they move.

Who hears them is a matter of cables, and of the checks; here channel and number decide.
"""

from __future__ import annotations

from setwright.compiler.binding.rig_findings import RigFindings
from setwright.scenes.places import KeyPath
from setwright.scenes.quantities import quoted
from setwright.scenes.unit import Unit


def moved_by_pedals(units: dict[str, Unit], gone: frozenset[str]) -> dict[tuple[str, str], str]:
    """Return unit and control → the pedal that moves it."""
    found: dict[tuple[str, str], str] = {}
    for pedal, one in units.items():
        sends = one.foot_sends
        if sends is None or pedal in gone:
            continue
        for name, unit in units.items():
            if name == pedal or unit.channel not in ("omni", sends.channel):
                continue
            for control, declared in unit.every_control:
                if declared.cc == sends.cc:
                    found.setdefault((name, control), pedal)
    return found


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
