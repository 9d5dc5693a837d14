"""Which unit hangs on which output of the power supply, straight or through another unit.

Units that are missing tonight draw nothing and pass nothing on; what is not said of a unit's
power is not guessed.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import NamedTuple

from setwright.compiler.compiled import Compiled
from setwright.scenes.book import Book
from setwright.scenes.places import KeyPath
from setwright.scenes.power import Output, Power
from setwright.scenes.quantities import quoted
from setwright.scenes.rig import Rig


class Fed(NamedTuple):
    """A unit that gets power from ``output``; ``path`` is where that is written.

    ``giver`` is the unit that passes the power on, an empty text where the output feeds it.
    """

    unit: str
    power: Power
    output: str
    supply: Output
    path: KeyPath
    giver: str = ""

    def also_through(self) -> str:
        """Return words for the way: nothing, or through which unit."""
        return f", through {quoted(self.giver)}," if self.giver else ""


def fed(compiled: Compiled) -> list[Fed]:
    """Return every unit that says what power it needs, on every output that it hangs on."""
    book = compiled.book
    return [
        one
        for name, supply in book.rig.supply.items()
        for one in _on(book.rig, compiled.lines.gone, name, supply)
    ]


def _on(rig: Rig, gone: frozenset[str], output: str, supply: Output) -> Iterator[Fed]:
    base: KeyPath = ("rig", "supply", output, "feeds")
    waiting: list[tuple[str, KeyPath, str]] = [
        (name, (*base, index), "") for index, name in enumerate(supply.feeds)
    ]
    seen: set[str] = set()
    while waiting:
        name, path, giver = waiting.pop(0)
        unit = rig.units.get(name)
        if unit is None or name in gone or name in seen or unit.power is None:
            continue
        seen.add(name)
        yield Fed(name, unit.power, output, supply, path, giver)
        waiting += passed_on(rig, name)


def passed_on(rig: Rig, name: str) -> list[tuple[str, KeyPath, str]]:
    """Return what ``name`` passes its power on to: (unit, where it is written, ``name``)."""
    power = rig.units[name].power
    base: KeyPath = ("rig", "units", name, "power", "passes on to")
    others = power.passes_on_to if power is not None else []
    return [(other, (*base, index), name) for index, other in enumerate(others)]


class Cable(NamedTuple):
    """A power cable to ``unit``, said at ``path``; ``giver`` is the unit that passes it on."""

    unit: str
    path: KeyPath
    giver: str = ""


def cables(rig: Rig, gone: frozenset[str]) -> list[Cable]:
    """Return every power cable between what is there tonight: from outputs, then from units."""
    found = [
        Cable(name, ("rig", "supply", output, "feeds", index))
        for output, supply in rig.supply.items()
        for index, name in enumerate(supply.feeds)
    ]
    found += [
        Cable(*cable) for name in rig.units if name not in gone for cable in passed_on(rig, name)
    ]
    return [cable for cable in found if cable.unit in rig.units and cable.unit not in gone]


def not_fed(rig: Rig, gone: frozenset[str]) -> list[str]:
    """Return the units that say what they draw, and that nothing feeds.

    A unit that would get its power from one of these is not said again.
    """
    onward: dict[str, set[str]] = {}
    for cable in cables(rig, gone):
        onward.setdefault(cable.giver, set()).add(cable.unit)
    own = {name for name, unit in rig.units.items() if unit.own_power and name not in gone}
    first = own | onward.pop("", set())
    there = first.union(*(_leads_to(onward, name) for name in first))
    dark = [
        name
        for name, unit in rig.units.items()
        if unit.power is not None and name not in there and name not in gone
    ]
    behind = {other for name in dark for other in _leads_to(onward, name)}
    return [name for name in dark if name not in behind]


def unused(book: Book) -> list[str]:
    """Return the outputs that feed nothing; ``feeds: []`` says that this is meant."""
    return [
        name
        for name, output in book.rig.supply.items()
        if not output.feeds and not book.spot.holds(("rig", "supply", name, "feeds"))
    ]


def on_supply(rig: Rig, gone: frozenset[str], *, amplifiers: bool) -> list[Cable]:
    """Return the cables to units that do not say what they draw: to amplifiers, or to others."""
    return [
        cable
        for cable in cables(rig, gone)
        if rig.units[cable.unit].power is None
        and (rig.units[cable.unit].is_ == "amplifier") is amplifiers
    ]


def circles(rig: Rig, gone: frozenset[str]) -> list[tuple[str, KeyPath]]:
    """Return (unit, where it is written) of every cable that brings power back to its giver."""
    onward: dict[str, set[str]] = {name: set() for name in rig.units if name not in gone}
    found = []
    for name in onward:
        for other, path, _ in passed_on(rig, name):
            if other not in onward:
                continue
            if name == other or name in _leads_to(onward, other):
                found.append((name, path))
            else:
                onward[name].add(other)
    return found


def _leads_to(onward: dict[str, set[str]], name: str) -> set[str]:
    found: set[str] = set()
    waiting = [name]
    while waiting:
        new = onward.get(waiting.pop(), set()) - found
        found |= new
        waiting += new
    return found
