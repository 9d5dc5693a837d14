"""Units that a path names twice, and circles in which the signal comes back to where it was."""

from __future__ import annotations

from collections.abc import Collection, Iterator
from typing import NamedTuple

from setwright.compiler.signal.graph import Cable, Node, Side, Signal, Word


class Twice(NamedTuple):
    """A unit that the signal is said to come through at two places."""

    word: Word
    first: Word


class Circle(NamedTuple):
    """A cable, told by its end, that brings the signal back; ``units`` are those of the circle."""

    word: Word
    units: tuple[str, ...]


def twice(signal: Signal) -> Iterator[Twice]:
    """Find units in the midst of more runs than they have inputs and outputs, or twice in one.

    Where a run begins or ends with a unit, it is joined to another one there. Of a run that stands
    there a second time the first unit is named.
    """
    found: dict[int, Twice] = {}
    for one in _all_twice(signal):
        found.setdefault(one.word.row, one)
    yield from found.values()


def _all_twice(signal: Signal) -> Iterator[Twice]:
    begins = {cable.begin for cable in signal.cables}
    ends = {cable.end for cable in signal.cables}
    rows: dict[tuple[int, str], Word] = {}
    midst: dict[str, list[Word]] = {}
    for word in signal.words:
        if word.port is not None:
            continue
        first = rows.setdefault((word.row, word.unit), word)
        if first != word:
            yield Twice(word, first)
        elif word in begins and word in ends:
            there = midst.setdefault(word.unit, [])
            there.append(word)
            if len(there) > min(outputs_of(signal, word.unit), inputs_of(signal, word.unit)):
                yield Twice(word, there[0])


MANY = 1_000
"""More cables than any rig has."""


def outputs_of(signal: Signal, unit: str) -> int:
    """Return how many cables may come out of ``unit``."""
    record = signal.units.get(unit)
    if record is None:
        return 1
    return MANY if record.is_ in {"splitter", "amplifier"} else record.outputs


def inputs_of(signal: Signal, unit: str) -> int:
    """Return how many cables may lead into ``unit``."""
    record = signal.units.get(unit)
    if record is None:
        return 1
    return MANY if record.is_ in {"mixer", "amplifier"} else record.inputs


def circles(signal: Signal, cables: Collection[Cable]) -> tuple[list[Circle], list[Cable]]:
    """Return the circles among ``cables``, and the cables without those that close one.

    Cables are laid in the order in which they are written: the one that brings the signal back
    to where it was is to blame.
    """
    laid: dict[Node, list[Node]] = {}
    found: list[Circle] = []
    kept: list[Cable] = []
    for cable in cables:
        way = _way(signal, laid, cable.target, cable.source)
        if way is None:
            laid.setdefault(cable.source, []).append(cable.target)
            kept.append(cable)
        else:
            found.append(Circle(cable.end, tuple(dict.fromkeys(node.unit for node in way))))
    return found, kept


def _way(
    signal: Signal, laid: dict[Node, list[Node]], start: Node, goal: Node
) -> tuple[Node, ...] | None:
    """Return a way from ``start`` to ``goal`` along ``laid`` and through units; None without."""
    waiting: list[tuple[Node, ...]] = [(start,)]
    seen = {start}
    while waiting:
        way = waiting.pop()
        here = way[-1]
        if here == goal:
            return way
        inner = signal.onward(here) if here.side in {Side.IN, Side.RETURN} else ()
        for node in (*inner, *laid.get(here, ())):
            if node not in seen:
                seen.add(node)
                waiting.append((*way, node))
    return None
