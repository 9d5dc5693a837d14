"""Units that share a loop of the switcher, or one relay contact, with each other.

What is said of one of two units counts for both. A unit that has neither a loop nor a relay of
its own sits in the loop of the unit that it shares with.
"""

from __future__ import annotations

from collections.abc import Mapping

from setwright.compiler.binding.rig_findings import RigFindings
from setwright.scenes.quantities import quoted
from setwright.scenes.unit import Unit

Groups = dict[str, tuple[str, ...]]
"""For each unit that shares something: the others, in the order of the rig."""


def placed(units: Mapping[str, Unit]) -> dict[str, Unit]:
    """Return ``units`` with those that only share a loop in that loop."""
    result = dict(units)
    said = _said(units)
    for name in said:
        unit, others = units[name], _together(said, name)
        loops = [one.loop for other, one in units.items() if other in others and one.loop]
        if unit.loop is None and unit.relay is None and loops:
            fields = {field: getattr(unit, field) for field in Unit.model_fields}
            result[name] = Unit(**(fields | {"loop": loops[0]}))
    return result


def in_one_loop(units: Mapping[str, Unit]) -> Groups:
    """Return the groups of units in one loop; ``units`` as `placed` gives them."""
    return _groups(units, {name: unit.loop for name, unit in units.items()})


def on_one_contact(units: Mapping[str, Unit]) -> Groups:
    """Return the groups of units that one relay works."""
    return _groups(
        units, {name: unit.relay.number if unit.relay else None for name, unit in units.items()}
    )


def on_contact(unit: Unit, state: str, other: Unit) -> str:
    """Return what ``other`` does where the contact that both share makes ``unit`` do ``state``."""
    assert unit.relay is not None
    assert other.relay is not None
    return other.relay.closed if state == unit.relay.closed else other.relay.open


def _groups(units: Mapping[str, Unit], numbers: Mapping[str, int | None]) -> Groups:
    said = _said(units)
    groups: Groups = {}
    for name, number in numbers.items():
        others = _together(said, name)
        same = tuple(
            one for one in units if one in others and one != name and numbers[one] == number
        )
        if number is not None and same:
            groups[name] = same
    return groups


def _together(said: Mapping[str, set[str]], name: str) -> set[str]:
    """Return every unit that ``name`` shares with, directly or through others."""
    seen = {name}
    waiting = [name]
    while waiting:
        for other in said.get(waiting.pop(), ()):
            if other not in seen:
                seen.add(other)
                waiting.append(other)
    return seen


def _said(units: Mapping[str, Unit]) -> dict[str, set[str]]:
    said: dict[str, set[str]] = {}
    for name, unit in units.items():
        for other in unit.shares_with:
            if other in units and other != name:
                said.setdefault(name, set()).add(other)
                said.setdefault(other, set()).add(name)
    return said


def check_sharing(found: RigFindings) -> None:
    """Find names under ``shares with:`` that are no unit, or with which nothing is shared."""
    units = found.rig.units
    in_loops = placed(units)
    loops, contacts = in_one_loop(in_loops), on_one_contact(in_loops)
    for name, unit in units.items():
        for index, other in enumerate(unit.shares_with):
            path = ("rig", "units", name, "shares with", index)
            if not found.units.find(other, path) or other not in units:
                continue
            if other in loops.get(name, ()) or other in contacts.get(name, ()):
                continue
            if found.is_faulty(name) or found.is_faulty(other):
                continue  # perhaps its loop was left out
            found.error(
                "shares-nothing",
                f"{quoted(name)} and {quoted(other)} are in no loop and on no relay together",
                path,
                "give both the same loop: or relay: number, or take this out",
            )
    _at_rest(found, contacts)


def _at_rest(found: RigFindings, contacts: Groups) -> None:
    """Find contacts that would have to rest open and closed at once."""
    units = found.rig.units
    seen: set[str] = set()
    for name, others in contacts.items():
        if name in seen:
            continue
        seen |= {name, *others}
        rest = {
            one: closed for one in (name, *others) if (closed := _rests(units[one])) is not None
        }
        first = next(iter(rest), "")
        for other, closed in rest.items():
            if closed is not rest[first]:
                found.error(
                    "relay-twice",
                    f"{quoted(first)} and {quoted(other)} share one contact, and cannot rest in "
                    f"{units[first].at_rest} and {units[other].at_rest}",
                    ("rig", "units", other, "at rest"),
                    "let both rest where the contact is open, or both where it is closed",
                )
                break


def _rests(unit: Unit) -> bool | None:
    """Return whether the contact is closed where ``unit`` rests; None where it says nothing."""
    if unit.relay is None or unit.at_rest not in (unit.relay.open, unit.relay.closed):
        return None
    return unit.at_rest == unit.relay.closed
