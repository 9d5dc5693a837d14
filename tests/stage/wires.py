"""MIDI cables: bytes leave a sender, run along cables, through THRUs and merges, and arrive.

A cable carries one byte in 320 µs (MIDI 1.0 Detailed Specification 4.2.1, hardware). A THRU
passes bytes on as they come. A merge reads whole messages and sends them on one after the other,
with their status (common practice, no source). All times in µs.
"""

from __future__ import annotations

import heapq
from collections.abc import Callable
from dataclasses import dataclass, field
from itertools import count, pairwise

from tests.stage.boxes import BYTE, Parser
from tests.stage.said import Book

Taker = Callable[[int, int], None]
"""Takes a byte and when it starts."""


MOST = 500_000
"""Bytes of one play, many times what the longest has."""


@dataclass
class Wires:
    """The lines of a book, and every byte that is under way."""

    book: Book
    takers: dict[str, Taker]
    now: int = 0
    bytes_carried: int = 0
    _outs: dict[str, list[tuple[int, str, bool]]] = field(default_factory=dict)
    _passes: dict[str, bool] = field(default_factory=dict)
    _waiting: list[tuple[int, int, str, int, int, int]] = field(default_factory=list)
    _count: count[int] = field(default_factory=count)
    _free: dict[str, int] = field(default_factory=dict)
    _parsers: dict[int, Parser] = field(default_factory=dict)

    def __post_init__(self) -> None:
        said: dict[str, list[bool]] = {}
        number = count()
        for line in self.book.lines:
            for at, ((start, _), (end, _)) in enumerate(pairwise(line)):
                thru = at > 0 and start not in ("switcher", "computer")
                self._outs.setdefault(start, []).append((next(number), end, thru))
            for name, thru_said in line:
                said.setdefault(name, [])
                if thru_said is not None:
                    said[name].append(thru_said)
        for name, words in said.items():
            usual = (
                self.book.units[name].said.get("thru", "yes") == "yes"
                if (name in self.book.units)
                else (name == "switcher" and self.book.board.get("passes on MIDI") == "yes")
            )
            self._passes[name] = all(words) if words else usual

    @property
    def quiet(self) -> bool:
        """Whether no byte is under way."""
        return not self._waiting

    def ways(self, sender: str, name: str) -> int:
        """Return by how many ways a box hears a sender."""
        waiting, found = [(sender, True)], 0
        while waiting:
            at, own = waiting.pop()
            for _, end, thru in self._outs.get(at, []):
                if (own and not thru) or (not own and self._passes.get(at, False)):
                    found += end == name
                    waiting.append((end, False))
        return found

    def free(self, sender: str) -> int:
        """Return when everything that ``sender`` sends is through."""
        return self._free.get(sender, 0)

    def is_merge(self, name: str) -> bool:
        return name in self.book.units and self.book.units[name].said.get("is") == "merge"

    def send(self, sender: str, message: bytes, starts: int) -> int:
        """Let ``sender`` send bytes of its own from ``starts`` on; return when they are through."""
        starts = max(starts, self._free.get(sender, 0))
        for byte in message:
            for cable, end, thru in self._outs.get(sender, []):
                if not thru:
                    self._carry(cable, end, byte, starts)
            starts += BYTE
        self._free[sender] = starts
        return starts

    def _carry(self, cable: int, end: str, byte: int, starts: int) -> None:
        heapq.heappush(self._waiting, (starts + BYTE, next(self._count), end, byte, starts, cable))

    def run(self, until: int) -> None:
        """Let everything arrive that is through at ``until``."""
        while self._waiting and self._waiting[0][0] <= until:
            ends, _, name, byte, starts, cable = heapq.heappop(self._waiting)
            self.now = ends
            self.bytes_carried += 1
            if self.bytes_carried > MOST:
                raise ValueError("bytes go round in circles")
            if name in self.takers:
                self.takers[name](byte, starts)
            if not self._passes.get(name, False):
                continue
            if self.is_merge(name):
                self._merge(name, cable, byte, starts)
            else:
                for out, end, _ in self._outs.get(name, []):
                    # It was on the next cable at the same time.
                    self._carry_at_once(out, end, byte, starts)
        self.now = max(self.now, until)

    def _carry_at_once(self, cable: int, end: str, byte: int, starts: int) -> None:
        heapq.heappush(self._waiting, (starts + BYTE, next(self._count), end, byte, starts, cable))

    def _merge(self, name: str, cable: int, byte: int, starts: int) -> None:
        whole = self._parsers.setdefault(cable, Parser()).take(byte, starts)
        if whole is None:
            return
        status, data, _ = whole
        free = max(starts + BYTE, self._free.get(name, 0))
        for one in (status, *data):
            for out, end, _ in self._outs.get(name, []):
                self._carry(out, end, one, free)
            free += BYTE
        self._free[name] = free
