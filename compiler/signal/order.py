"""The loops of a switcher whose order is fixed: the path cannot go through them otherwise.

From the preamplifier of an amplifier to its effects loop the signal leaves the switcher and comes
back by another socket, so the loops before and behind it are two stretches: either may have the
lower numbers, but they cannot lie among one another (common practice, no source).
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import NamedTuple

from setwright.compiler.signal.graph import Node, Side, Signal, Word, upstream


class OutOfOrder(NamedTuple):
    """Two loops in an order that the switcher does not have: ``word`` comes behind ``before``."""

    word: Word
    before: Word
    preamplifier: str = ""


class VolumeOutOfPlace(NamedTuple):
    """A volume unit between two loops, where the switcher has no loop for it.

    ``before`` and ``behind`` are what sits in the loops on both sides of it.
    """

    word: Word
    before: Word
    behind: Word


def out_of_order(
    signal: Signal, loops: dict[str, int], volume_after: int | None
) -> Iterator[OutOfOrder | VolumeOutOfPlace]:
    """Find where the path contradicts the order of ``loops`` (unit → number), each place once.

    ``volume_after`` is the last loop before the volume loop; None where the switcher has none.
    """
    words = {word.unit: word for word in reversed(signal.words) if word.port is None}
    inside = {unit: number for unit, number in loops.items() if unit not in signal.gone}
    steps = dict.fromkeys(_steps(signal, inside))
    for before, volumes, behind in steps:
        first, second = inside[before], inside[behind]
        if first > second:
            yield OutOfOrder(words[behind], words[before])
        elif first < second and volume_after is not None and not first <= volume_after < second:
            for volume in volumes:
                yield VolumeOutOfPlace(words[volume], words[before], words[behind])
    for amplifier in signal.units:
        if signal.has_loop_in_use(amplifier):
            yield from _among_one_another(signal, amplifier, inside, words)


def _steps(signal: Signal, loops: dict[str, int]) -> Iterator[tuple[str, tuple[str, ...], str]]:
    """Yield neighbours in loops along the signal, with the volume units between them."""
    starts = dict.fromkeys(cable.source for cable in signal.cables)
    for start in [one for one in starts if one.unit in loops and one.side is Side.OUT]:
        waiting: list[tuple[Node, tuple[str, ...]]] = [(one, ()) for one in signal.onward(start)]
        seen = {start}
        while waiting:
            node, volumes = waiting.pop(0)
            if node in seen:
                continue
            seen.add(node)
            if node.unit in loops:
                yield start.unit, volumes, node.unit
            elif node.side is not Side.IN or not signal.has_loop_in_use(node.unit):
                unit = signal.units.get(node.unit)
                if node.side is Side.IN and unit is not None and unit.is_ == "volume":
                    volumes = (*volumes, node.unit)
                waiting += [(after, volumes) for after in signal.onward(node)]


def _among_one_another(
    signal: Signal, unit: str, loops: dict[str, int], words: dict[str, Word]
) -> Iterator[OutOfOrder]:
    """Find a loop behind the send of ``unit`` whose number lies among those in front of it."""
    back = signal.back()
    front = _in_order(_before(back, Node(unit, Side.IN)), loops)
    behind = _in_order(
        _before(back, Node(unit, Side.RETURN)) - _before(back, Node(unit, Side.SEND)), loops
    )
    for ones, others in ((behind, front), (front, behind)):
        for one in ones:
            higher = [other for other in others if loops[other] > loops[one]]
            if higher and any(loops[other] < loops[one] for other in others):
                later, before = (one, higher[0]) if ones is behind else (behind[0], one)
                yield OutOfOrder(words[later], words[before], unit)
                return


def _before(back: dict[Node, set[Node]], node: Node) -> set[str]:
    return {one.unit for one in upstream(back, node)}


def _in_order(units: set[str], loops: dict[str, int]) -> list[str]:
    return sorted(units & loops.keys(), key=loops.__getitem__)
