"""The signal path as a graph: what the guitar's signal comes through, and where it is heard.

Runs in ``path:`` join by name: where one ends and another begins with the same unit, the signal
goes on. Send and return of a unit with an effects loop are sides of their own: the preamplifier
feeds the send, the return feeds the power amplifier, and with nothing plugged into the return the
two are joined inside (common practice, no source: series effects loops with switched sockets).
"""

from __future__ import annotations

from collections.abc import Collection, Iterator
from dataclasses import dataclass, field
from enum import StrEnum
from itertools import pairwise
from typing import NamedTuple

from setwright.compiler.binding.target import ALWAYS_THERE
from setwright.scenes.places import KeyPath
from setwright.scenes.rig import Rig
from setwright.scenes.unit import Unit


class Side(StrEnum):
    """A side of a unit that a cable is plugged into, or comes out of."""

    IN = "in"
    SEND = "send"
    RETURN = "return"
    OUT = "out"


class Node(NamedTuple):
    """One side of one unit."""

    unit: str
    side: Side


class Word(NamedTuple):
    """One name in ``path:``, by row and place in it.

    ``port`` is `Side.SEND` or `Side.RETURN` where it says so, ``said`` the name as it is written.
    """

    row: int
    at: int
    unit: str
    port: Side | None
    said: str

    @property
    def path(self) -> KeyPath:
        """Where it stands in the book."""
        return ("rig", "path", self.row, self.at)


class Cable(NamedTuple):
    """A cable from one word of a run to the next: from an out or send to an in or return."""

    source: Node
    target: Node
    begin: Word
    end: Word


MOST_CHAINS = 64
"""So many ways of the signal are told apart in one scene; nobody reads more."""

Chain = tuple[Node, ...]


@dataclass(slots=True)
class Signal:
    """The signal's ways on one rig tonight; ``gone`` are the units that are not there.

    A unit that is gone is bridged by a cable, but for an amplifier, at which its way ends.
    ``known`` tells whether the rig has a path; without one nothing is reached. ``wrong_way`` are
    cables out of a return or into a send, which carry nothing.
    """

    units: dict[str, Unit]
    gone: frozenset[str]
    known: bool = False
    words: tuple[Word, ...] = ()
    cables: tuple[Cable, ...] = ()
    wrong_way: tuple[Cable, ...] = ()
    _onward: dict[Node, list[Node]] = field(default_factory=dict)
    _inserted: frozenset[str] = frozenset()

    @property
    def in_path(self) -> frozenset[str]:
        """The units that the path names, ``guitar`` among them."""
        return frozenset(word.unit for word in self.words)

    def is_amplifier(self, unit: str) -> bool:
        """Tell whether ``unit`` is an amplifier that is there tonight."""
        return unit in self.units and self.units[unit].is_ == "amplifier" and unit not in self.gone

    def is_played(self, unit: str) -> bool:
        """Tell whether the signal may begin at ``unit``: a guitar, or a keyboard that sends."""
        if unit not in self.units:
            return unit in ALWAYS_THERE
        return self.units[unit].is_ in {"guitar", "sender"}

    def has_loop_in_use(self, unit: str) -> bool:
        """Tell whether a cable leads into the return of ``unit``: its effects loop is in use."""
        return unit in self._inserted

    def sources(self) -> Iterator[Node]:
        """Yield the outputs at which the signal begins, each once."""
        for unit in dict.fromkeys(word.unit for word in self.words):
            if self.is_played(unit) and unit not in self.gone:
                yield Node(unit, Side.OUT)

    def onward(self, node: Node) -> list[Node]:
        """Return where the signal goes on from ``node``, within the unit or along a cable."""
        unit, side = node
        match side:
            case Side.IN:
                there = self.units.get(unit)
                if unit in self.gone and there is not None and there.is_ == "amplifier":
                    return []
                send = Node(unit, Side.SEND)
                if self.has_loop_in_use(unit):
                    return [send]
                out = Node(unit, Side.OUT)
                return [out, send] if send in self._onward else [out]
            case Side.RETURN:
                return [Node(unit, Side.OUT)]
            case _:
                return self._onward.get(node, [])

    def back(self) -> dict[Node, set[Node]]:
        """Return for every node that the signal comes to where it comes from."""
        came: dict[Node, set[Node]] = {}
        for node in self.reached():
            for other in self.onward(node):
                came.setdefault(other, set()).add(node)
        return came

    def reached(self, blocked: Collection[str] = ()) -> frozenset[Node]:
        """Return what the signal comes to while the units in ``blocked`` let nothing through."""
        seen: set[Node] = set()
        waiting = list(self.sources())
        while waiting:
            node = waiting.pop()
            if node not in seen:
                seen.add(node)
                if node.unit not in blocked or node.unit in self.gone:
                    waiting += self.onward(node)
        return frozenset(seen)

    def amplifiers_reached(self, blocked: Collection[str] = ()) -> frozenset[str]:
        """Return the amplifiers at which the signal is heard while ``blocked`` lets none through.

        A unit in the effects loop of an amplifier that is in ``blocked`` silences that amplifier.
        """
        return frozenset(
            node.unit
            for node in self.reached(blocked)
            if node.side is Side.OUT and self.is_amplifier(node.unit)
        ).difference(blocked)

    def chains(self) -> list[Chain]:
        """Return every way from a guitar to an amplifier's loudspeaker, at most `MOST_CHAINS`."""
        # Only what leads to a loudspeaker is walked along, or ways that end nowhere would add up.
        back = self.back()
        speakers = [one for one in self.reached() if self._is_speaker(one)]
        leads = {*speakers, *(one for speaker in speakers for one in upstream(back, speaker))}
        found: list[Chain] = []
        waiting: list[Chain] = []
        waiting += [(source,) for source in self.sources()][::-1]
        while waiting and len(found) < MOST_CHAINS:
            way = waiting.pop()
            if self._is_speaker(way[-1]):
                found.append(way)
            onward = [one for one in dict.fromkeys(self.onward(way[-1])) if one in leads]
            waiting += [(*way, one) for one in onward if one not in way][::-1]
        return found

    def _is_speaker(self, node: Node) -> bool:
        return node.side is Side.OUT and self.is_amplifier(node.unit)


def upstream(back: dict[Node, set[Node]], node: Node) -> set[Node]:
    """Return where the signal has been before ``node``; ``back`` as `Signal.back` gives it."""
    seen: set[Node] = set()
    waiting = [node]
    while waiting:
        for other in back.get(waiting.pop(), ()):
            if other not in seen:
                seen.add(other)
                waiting.append(other)
    return seen


def signal_of(rig: Rig, gone: frozenset[str] = frozenset(), *, broken: bool = False) -> Signal:
    """Return the signal's ways on ``rig`` without the units in ``gone``.

    With ``broken`` a slip stands in the path, and nothing is known of it.
    """
    if broken or not rig.signal_path:
        return Signal(rig.units, gone)
    words = tuple(
        _word(rig, row, index, name)
        for row, run in enumerate(rig.signal_path)
        for index, name in enumerate(run)
    )
    plugged = [
        _cable(begin, end)
        for begin, end in pairwise(words)
        if begin.row == end.row and not _inside(begin, end)
    ]
    cables = tuple(one for one in plugged if not _is_wrong_way(one))
    wrong_way = tuple(one for one in plugged if _is_wrong_way(one))
    signal = Signal(rig.units, gone, bool(words), words, cables, wrong_way)
    for cable in cables:
        signal._onward.setdefault(cable.source, []).append(cable.target)
    signal._inserted = frozenset(
        cable.target.unit for cable in cables if cable.target.side is Side.RETURN
    )
    return signal


def _word(rig: Rig, row: int, index: int, name: str) -> Word:
    if name not in rig.units:
        for port in (Side.SEND, Side.RETURN):
            unit = name.removesuffix(f" {port}")
            if unit != name:
                return Word(row, index, unit, port, name)
    return Word(row, index, name, None, name)


def _inside(begin: Word, end: Word) -> bool:
    """Tell whether two words are sides of one unit, which no cable joins but the unit itself."""
    return begin.unit == end.unit and begin.port is not end.port


def _is_wrong_way(cable: Cable) -> bool:
    return cable.begin.port is Side.RETURN or cable.end.port is Side.SEND


def _cable(begin: Word, end: Word) -> Cable:
    source = Node(begin.unit, Side.SEND if begin.port is Side.SEND else Side.OUT)
    target = Node(end.unit, Side.RETURN if end.port is Side.RETURN else Side.IN)
    return Cable(source, target, begin, end)
