"""What is wrong with the signal's way, with its consequences left out.

Runs once, when the rig is resolved and the songs are bound. One slip often leaves several ends
hanging: where a run was cut in two, there is an end, a beginning and an amplifier that nothing
reaches. What only follows from another fault is not listed.
"""

from __future__ import annotations

from collections.abc import Collection, Iterator
from dataclasses import dataclass, field
from typing import NamedTuple

from setwright.compiler.signal.graph import Node, Side, Signal, Word, upstream
from setwright.compiler.signal.plugs import Crowded, crowded
from setwright.compiler.signal.rounds import Circle, Twice, circles, twice

CARRIES = frozenset({"effect", "amplifier", "volume", "splitter", "mixer"})
"""Kinds of unit that the signal comes through; guitars are played, and the rest is MIDI."""


class DeadEnd(NamedTuple):
    """A run that ends in no amplifier.

    ``unheard`` are the units asked for that are heard nowhere because of it. ``serious`` tells
    that something is lost: such a unit, or all of the signal. ``gone`` tells that the word is an
    amplifier that is not there tonight; ``into_a_send`` that it is an output.
    """

    word: Word
    unheard: tuple[str, ...] = ()
    serious: bool = True
    gone: bool = False
    into_a_send: bool = False


class FromNowhere(NamedTuple):
    """A run that begins with a unit that nothing leads into, and ends left hanging elsewhere.

    ``from_a_return`` tells that it begins at an input.
    """

    word: Word
    ends: tuple[Word, ...] = ()
    from_a_return: bool = False


class Undeclared(NamedTuple):
    """Send and return of a unit that says nothing of an effects loop, where they are named."""

    unit: str
    words: tuple[Word, ...]


@dataclass(slots=True)
class PathFaults:
    """The faults of the signal's way, by kind.

    ``missing`` are units in no run although they are asked for, and amplifiers; ``spare`` those
    that nothing asks for.
    """

    missing: tuple[str, ...] = ()
    spare: tuple[str, ...] = ()
    twice: list[Twice] = field(default_factory=list)
    circles: list[Circle] = field(default_factory=list)
    crowded: list[Crowded] = field(default_factory=list)
    undeclared: list[Undeclared] = field(default_factory=list)
    nowhere: list[FromNowhere] = field(default_factory=list)
    ends: list[DeadEnd] = field(default_factory=list)


def faults_of(signal: Signal, asked: Collection[str]) -> PathFaults:
    """Return what is wrong with the path; ``asked`` are the units that effects and feet need."""
    found = PathFaults()
    if not signal.known:
        return found
    found.undeclared = list(_undeclared(signal))
    found.twice = list(twice(signal))
    again = {one.word.row for one in found.twice}
    cables = [one for one in signal.cables if one.begin.row not in again]
    found.circles, cables = circles(signal, cables)
    found.crowded = list(crowded(signal, cables))
    _hanging(signal, frozenset(asked) - signal.gone, found)
    cut = found.twice or found.circles or found.nowhere or any(one.serious for one in found.ends)
    if not cut:
        absent = list(_absent(signal))
        needed = [one for one in absent if one in asked or signal.is_amplifier(one)]
        found.missing = tuple(needed)
        if not (needed or found.crowded or found.undeclared):
            found.spare = tuple(absent)
    return found


def _absent(signal: Signal) -> Iterator[str]:
    """Yield the units that the signal should come through and that the path does not name.

    What sends MIDI by itself is of use without standing there.
    """
    for name, unit in signal.units.items():
        if unit.is_ in CARRIES and name not in signal.in_path | signal.gone and not unit.sends:
            yield name


def _undeclared(signal: Signal) -> Iterator[Undeclared]:
    named: dict[str, list[Word]] = {}
    for word in signal.words:
        if word.port is not None and not signal.units[word.unit].effects_loop:
            named.setdefault(word.unit, []).append(word)
    for unit, words in named.items():
        yield Undeclared(unit, tuple(words))


def _hanging(signal: Signal, asked: frozenset[str], found: PathFaults) -> None:
    """Fill in where the signal begins without a guitar and ends without an amplifier."""
    for cable in signal.wrong_way:
        if cable.begin.port is Side.RETURN:
            found.nowhere.append(FromNowhere(cable.begin, from_a_return=True))
        elif cable.begin.row not in {one.word.row for one in found.nowhere}:
            found.ends.append(DeadEnd(cable.end, into_a_send=True))
    if found.nowhere or found.ends:
        return  # what else hangs may hang because of these
    ends = list(_ends(signal, asked))
    found.nowhere = list(_nowhere(signal))
    if found.nowhere:
        # Between an end and a beginning a cable is missing, which is one slip.
        words = tuple(one.word for one in ends if one.serious)
        found.nowhere[0] = found.nowhere[0]._replace(ends=words)
    elif not found.twice:
        found.ends = ends


def _nowhere(signal: Signal) -> Iterator[FromNowhere]:
    """Find what runs begin with and nothing leads into, each unit once."""
    into = {cable.target for cable in signal.cables}
    seen: set[str] = set()
    for cable in signal.cables:
        unit, side = cable.source
        fed = Node(unit, Side.IN) in into or (side is Side.OUT and Node(unit, Side.RETURN) in into)
        if not fed and unit not in seen and not signal.is_played(unit):
            seen.add(unit)
            yield FromNowhere(cable.begin)


def _ends(signal: Signal, asked: frozenset[str]) -> Iterator[DeadEnd]:
    """Find where the signal ends without an amplifier, or at one that is not there tonight."""
    back = signal.back()
    reached = signal.reached()
    loudspeakers = {
        node for node in reached if node.side is Side.OUT and signal.is_amplifier(node.unit)
    }
    heard = {node.unit for one in loudspeakers for node in upstream(back, one)}
    # The unit itself is named rather than its send or return.
    last = {word.unit: word for word in sorted(signal.words, key=lambda word: word.port is None)}
    in_order = dict.fromkeys(word.unit for word in signal.words)
    left_at_home = False
    for node in sorted(reached, key=lambda node: last[node.unit][:2]):
        if signal.onward(node) or node in loudspeakers:
            continue
        gone = node.unit in signal.gone and signal.units[node.unit].is_ == "amplifier"
        before = {one.unit for one in upstream(back, node)}
        if gone:
            before |= _fed_by(signal, Node(node.unit, Side.SEND))
        if gone and not heard:
            # The first of them stands for all: there is nothing left to be heard from.
            if not left_at_home:
                yield DeadEnd(last[node.unit], (), True, gone)
            left_at_home = True
            continue
        unheard = tuple(unit for unit in in_order if unit in asked & before - heard)
        serious = bool(unheard) or not heard
        # A box that is not there tonight is no end, nor is a send that nobody listens to.
        if serious or (node.side is Side.OUT and node.unit not in signal.gone):
            yield DeadEnd(last[node.unit], unheard, serious, gone)


def _fed_by(signal: Signal, node: Node) -> set[str]:
    """Return the units that the signal comes to from ``node`` on."""
    seen: set[Node] = set()
    waiting = [node]
    while waiting:
        for other in signal.onward(waiting.pop()):
            if other not in seen:
                seen.add(other)
                waiting.append(other)
    return {one.unit for one in seen}
