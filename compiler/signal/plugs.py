"""Outputs and inputs with more cables than can be plugged into them."""

from __future__ import annotations

from collections.abc import Collection, Iterator
from typing import NamedTuple

from setwright.compiler.signal.graph import Cable, Node, Side, Signal, Word
from setwright.compiler.signal.rounds import MANY, inputs_of, outputs_of


class Crowded(NamedTuple):
    """An output or input with too many cables: at ``word`` one too many, ``first`` before it.

    ``is_output`` tells which; ``cables`` how many there are, ``room`` how many may be.
    ``gone`` is the unit that is not there tonight to split or to join them.
    """

    word: Word
    first: Word
    is_output: bool
    cables: int
    room: int
    gone: str = ""


def crowded(signal: Signal, cables: Collection[Cable]) -> Iterator[Crowded]:
    """Find outputs and inputs with too many cables; a cable is blamed once."""
    blamed: set[Cable] = set()
    for node, there in _by_node(cables, outwards=True).items():
        room = 1 if node.side is Side.SEND else outputs_of(signal, node.unit)
        if len(there) > room:
            blamed |= set(there[room:])
            words = [cable.begin for cable in there]
            yield Crowded(words[room], words[0], True, len(there), room)
    for node, there in _by_node(cables, outwards=False).items():
        room = 1 if node.side is Side.RETURN else inputs_of(signal, node.unit)
        if len(there) > room and not blamed.intersection(there):
            words = [cable.end for cable in there]
            yield Crowded(words[room], words[0], False, len(there), room)
    yield from _without(signal, cables)


def _by_node(cables: Collection[Cable], *, outwards: bool) -> dict[Node, list[Cable]]:
    table: dict[Node, list[Cable]] = {}
    for cable in cables:
        table.setdefault(cable.source if outwards else cable.target, []).append(cable)
    return table


def _without(signal: Signal, cables: Collection[Cable]) -> Iterator[Crowded]:
    """Find units that are gone tonight, and whose cables cannot simply be joined.

    Where one cable would have to lead into two, or two into one, a splitter or mixer is missing.
    """
    for unit in sorted(signal.gone & signal.in_path):
        if unit not in signal.units or signal.units[unit].is_ == "amplifier":
            continue
        out = [one for one in cables if one.source == Node(unit, Side.OUT)]
        into = [one for one in cables if one.target == Node(unit, Side.IN)]
        feeds = sum(outputs_of(signal, one.source.unit) for one in into)
        takes = sum(inputs_of(signal, one.target.unit) for one in out)
        if len(out) > len(into) > 0 and feeds < MANY:
            words = [cable.begin for cable in out]
            yield Crowded(words[0], into[0].begin, True, len(out), len(into), unit)
        elif len(into) > len(out) > 0 and takes < MANY:
            words = [cable.end for cable in into]
            yield Crowded(words[0], out[0].end, False, len(into), len(out), unit)
