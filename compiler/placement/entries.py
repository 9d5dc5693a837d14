"""What has to be typed so that a preset becomes another one: entry by entry.

An entry is one thing that is set: a loop in or out, a relay, a message in its slot, the tempo, the
name. Two presets are as many entries apart in either direction.
"""

from __future__ import annotations

from collections.abc import Iterator
from enum import StrEnum
from typing import NamedTuple

from setwright.compiler.placement.held import Typed


class What(StrEnum):
    """What an entry sets."""

    LOOP = "loop"
    RELAY = "relay"
    MESSAGE = "message"
    ORDER = "order of messages"
    TEMPO = "tempo"
    NAME = "name"


class Sheet(NamedTuple):
    """A preset as a person types it: what it holds, and the name that the display shows."""

    typed: Typed
    name: str


EMPTY = Sheet(Typed(), "")
"""A preset in which nothing is set."""


class Entry(NamedTuple):
    """One thing to type.

    ``number`` is that of a loop or relay, and ``on`` whether it is in or closed; ``old`` and
    ``new`` are messages, either of which may be missing; ``text`` is a tempo or a name.
    """

    what: What
    number: int = 0
    on: bool = False
    old: bytes = b""
    new: bytes = b""
    text: str = ""


def entries(begin: Sheet, wanted: Sheet) -> tuple[Entry, ...]:
    """Return what has to be typed so that ``begin`` becomes ``wanted``."""
    return tuple(_entries(begin, wanted))


def distance(one: Sheet, other: Sheet) -> int:
    """Return how many entries two presets are apart."""
    return len(entries(one, other))


def _entries(begin: Sheet, wanted: Sheet) -> Iterator[Entry]:
    before, after = begin.typed, wanted.typed
    for what, had, has in (
        (What.LOOP, before.loops, after.loops),
        (What.RELAY, before.relays, after.relays),
    ):
        for number in sorted(set(had) ^ set(has)):
            yield Entry(what, number, on=number in has)
    yield from _messages(list(before.messages), list(after.messages))
    if before.tempo != after.tempo:
        yield Entry(What.TEMPO, text=after.tempo)
    if begin.name != wanted.name:
        yield Entry(What.NAME, text=wanted.name)


def _messages(before: list[bytes], after: list[bytes]) -> Iterator[Entry]:
    """Yield the slots that change: what goes is typed over by what comes, of one kind each."""
    came = list(after)
    gone = []
    for message in before:
        if message in came:
            came.remove(message)
        else:
            gone.append(message)
    if not gone and not came:
        if before != after:
            yield Entry(What.ORDER)
        return
    # The same control of the same unit first, then the same channel, then the same kind.
    for alike in (2, 1, 0):
        for old in list(gone):
            new = next((one for one in came if _likeness(old, one) >= alike), None)
            if new is not None:
                gone.remove(old)
                came.remove(new)
                yield Entry(What.MESSAGE, old=old, new=new)
    for new in came:
        yield Entry(What.MESSAGE, new=new)
    for old in gone:
        yield Entry(What.MESSAGE, old=old)


def _likeness(one: bytes, other: bytes) -> int:
    """Return how like two messages are; -1 where they do not share a kind of slot."""
    if one[0] >> 4 != other[0] >> 4:
        return -1
    if one[0] != other[0]:
        return 0
    return 2 if one[0] >> 4 == 0xC or one[1] == other[1] else 1
