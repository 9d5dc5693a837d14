"""What comes in at an input port, byte by byte, as messages; nothing is lost and nothing guessed.

Every byte that is fed stands in exactly one message, and what comes out does not depend on how
the bytes were cut into packets. Rules: MIDI 1.0 Detailed Specification 4.2.1 (running status;
Table I, summary of status bytes; Tables V and VI, system common and system real time messages;
system exclusive), which are these:

* Real time bytes may stand anywhere, also within other messages, and change nothing.
* A status that is left out is the last one, if that was of a channel message (running status).
  Any system common or exclusive status cancels it.
* A status within a message ends that one early; it is truncated.
* System exclusive ends with F7, or with any other status that is not real time.
* F4, F5, F9 and FD are undefined, and a data byte without a status has no meaning.
"""

from __future__ import annotations

from collections.abc import Mapping
from enum import Enum
from typing import NamedTuple

from setwright.compiler import midi

KEPT = 8
"""Bytes that are kept of what may be as long as it likes; the rest is counted."""
SILENCE = 0.25
"""Seconds after which an unfinished message is taken for truncated: on a line its next byte is
0.32 ms away, and drivers hand over whole messages (common practice, no source)."""


class Kind(Enum):
    """What a message is; its value is what it is called. Those from UNDEFINED on are odd."""

    NOTE_OFF = "note off"
    NOTE_ON = "note on"
    POLY_PRESSURE = "poly pressure"
    CONTROL = "control"
    MODE = "channel mode"
    PROGRAM = "program"
    CHANNEL_PRESSURE = "channel pressure"
    PITCH_BEND = "pitch bend"
    EXCLUSIVE = "system exclusive"
    QUARTER_FRAME = "time code quarter frame"
    SONG_POSITION = "song position"
    SONG_SELECT = "song select"
    TUNE_REQUEST = "tune request"
    CLOCK = "clock"
    START = "start"
    CONTINUE = "continue"
    STOP = "stop"
    SENSING = "active sensing"
    RESET = "system reset"
    UNDEFINED = "undefined"
    TRUNCATED = "truncated"
    STRAY = "data without a status"
    END_ALONE = "end of exclusive alone"


ODD = frozenset({Kind.UNDEFINED, Kind.TRUNCATED, Kind.STRAY, Kind.END_ALONE})

_CHANNEL_KINDS = {kind.status: Kind(kind.name) for kind in midi.KINDS}
_COMMON: Mapping[int, tuple[Kind, int]] = {
    # Status, what it is, and how many data bytes follow: Table V.
    0xF1: (Kind.QUARTER_FRAME, 1),
    0xF2: (Kind.SONG_POSITION, 2),
    0xF3: (Kind.SONG_SELECT, 1),
    0xF4: (Kind.UNDEFINED, 0),
    0xF5: (Kind.UNDEFINED, 0),
    0xF6: (Kind.TUNE_REQUEST, 0),
}
_END_OF_EXCLUSIVE = 0xF7
_REAL_TIME: Mapping[int, Kind] = {
    # Table VI.
    0xF8: Kind.CLOCK,
    0xF9: Kind.UNDEFINED,
    0xFA: Kind.START,
    0xFB: Kind.CONTINUE,
    0xFC: Kind.STOP,
    0xFD: Kind.UNDEFINED,
    0xFE: Kind.SENSING,
    0xFF: Kind.RESET,
}


class Message(NamedTuple):
    """One message as it came in.

    ``at`` is when the last of its bytes came, in the seconds in which they were fed. ``raw`` are
    its own bytes: no status where that was left out, and no real time bytes that stood within
    it; of system exclusive and of data without a status, the first `KEPT`. ``size`` counts all of
    them. ``channel`` is 1 to 16, or 0 where it has none; ``data`` its data bytes, 0 to 127.
    ``of`` is what a truncated message had begun to be. ``ended`` is False for system exclusive
    that no F7 ended.
    """

    kind: Kind
    at: float
    raw: bytes
    size: int
    channel: int = 0
    data: tuple[int, ...] = ()
    of: Kind | None = None
    ended: bool = True

    @property
    def is_odd(self) -> bool:
        """Whether no sender should have sent this."""
        return self.kind in ODD

    @property
    def number(self) -> int | None:
        """The note, control, program or song, 0 to 127; None for what has none."""
        if self.kind in _UNNUMBERED or not self.data:
            return None
        return self.data[0]

    @property
    def value(self) -> int | None:
        """The velocity, pressure or value, 0 to 127; None for what has none.

        A pitch bend's is 0 to 16,383 with 8,192 in the middle; that of a song position counts
        sixteenths from the beginning, 0 to 16,383 (both have their low seven bits first).
        """
        match self.kind, self.data:
            case ((Kind.PITCH_BEND | Kind.SONG_POSITION), (low, high)):
                return high << 7 | low
            case ((Kind.CHANNEL_PRESSURE | Kind.QUARTER_FRAME), (one,)):
                return one
            case ((Kind.TRUNCATED | Kind.STRAY | Kind.EXCLUSIVE), _):
                return None
            case _, (_, second):
                return second
            case _:
                return None

    @property
    def voice(self) -> midi.Message | None:
        """The same as a channel message of `setwright.compiler.midi`; None for all others."""
        if not self.channel or self.kind is Kind.TRUNCATED:
            return None
        kind = Kind.CONTROL if self.kind is Kind.MODE else self.kind
        return midi.Message(kind.value, self.channel, self.data)


_UNNUMBERED = frozenset(
    {
        Kind.CHANNEL_PRESSURE,
        Kind.PITCH_BEND,
        Kind.QUARTER_FRAME,
        Kind.SONG_POSITION,
        Kind.TRUNCATED,
        Kind.STRAY,
        Kind.EXCLUSIVE,
    }
)


class _Open:
    """What has begun and not ended: the status it stands under, its bytes, when the last came."""

    __slots__ = ("at", "raw", "size", "status")

    def __init__(self, status: int) -> None:
        self.status, self.raw, self.size, self.at = status, bytearray(), 0, 0.0

    def take(self, at: float, byte: int) -> None:
        if self.size < KEPT:
            self.raw.append(byte)
        self.size += 1
        self.at = at


class Decoder:
    """Turns the bytes of one port into messages; keeps what has not ended yet."""

    def __init__(self) -> None:
        self._running = 0
        """The status that a data byte stands under; 0 for none."""
        self._open: _Open | None = None

    @property
    def waits_since(self) -> float | None:
        """When the last byte of an unfinished message came; None where nothing is unfinished."""
        return self._open.at if self._open is not None else None

    def feed(self, at: float, data: bytes) -> list[Message]:
        """Take a packet that came ``at`` these seconds; return the messages that it finishes."""
        found: list[Message] = []
        for byte in data:
            if byte in _REAL_TIME:
                found.append(Message(_REAL_TIME[byte], at, bytes((byte,)), 1))
            elif byte >= 0x80:
                self._status(at, byte, found)
            else:
                self._data(at, byte, found)
        return found

    def flush(self, now: float | None = None) -> list[Message]:
        """Return what is unfinished as the odd message that it is, if nothing more comes.

        With ``now`` only if its last byte came `SILENCE` seconds before or more. What follows an
        unfinished message that was flushed does not continue it, nor its running status.
        """
        found: list[Message] = []
        waits = self.waits_since
        if waits is not None and (now is None or now - waits >= SILENCE):
            self._break_off(found)
            self._running = 0
        return found

    def _status(self, at: float, byte: int, found: list[Message]) -> None:
        if byte == _END_OF_EXCLUSIVE:
            exclusive = self._open
            if exclusive is not None and exclusive.status == midi.SYSTEM_EXCLUSIVE:
                exclusive.take(at, byte)
                self._open = None
                found.append(_exclusive(exclusive, ended=True))
            else:
                self._break_off(found)
                found.append(Message(Kind.END_ALONE, at, bytes((byte,)), 1))
            self._running = 0
            return
        self._break_off(found)
        self._running = byte if byte < midi.SYSTEM_EXCLUSIVE else 0
        self._open = _Open(byte)
        self._open.take(at, byte)
        self._close_if_whole(found)

    def _data(self, at: float, byte: int, found: list[Message]) -> None:
        if self._open is None:
            self._open = _Open(self._running)
        self._open.take(at, byte)
        self._close_if_whole(found)

    def _close_if_whole(self, found: list[Message]) -> None:
        opened = self._open
        assert opened is not None
        if opened.status in {0, midi.SYSTEM_EXCLUSIVE}:
            return
        kind, count = _shape(opened.status)
        data = tuple(byte for byte in opened.raw if byte < 0x80)
        if len(data) < count:
            return
        self._open = None
        if kind is Kind.CONTROL and data[0] >= midi.FIRST_MODE_MESSAGE:
            kind = Kind.MODE
        channel = _channel(opened.status)
        found.append(Message(kind, opened.at, bytes(opened.raw), opened.size, channel, data))

    def _break_off(self, found: list[Message]) -> None:
        """End what is unfinished."""
        opened, self._open = self._open, None
        if opened is None:
            return
        if opened.status == midi.SYSTEM_EXCLUSIVE:
            found.append(_exclusive(opened, ended=False))
            return
        raw, size = bytes(opened.raw), opened.size
        data = tuple(byte for byte in raw if byte < 0x80)
        if not opened.status:
            found.append(Message(Kind.STRAY, opened.at, raw, size, data=data))
            return
        kind, _ = _shape(opened.status)
        channel = _channel(opened.status)
        found.append(Message(Kind.TRUNCATED, opened.at, raw, size, channel, data, of=kind))


def _exclusive(opened: _Open, *, ended: bool) -> Message:
    return Message(Kind.EXCLUSIVE, opened.at, bytes(opened.raw), opened.size, ended=ended)


def _shape(status: int) -> tuple[Kind, int]:
    """Return what follows a status, and how many data bytes it has."""
    if status >= midi.SYSTEM_EXCLUSIVE:
        return _COMMON[status]
    return _CHANNEL_KINDS[status & 0xF0], len(midi.BY_STATUS[status & 0xF0].data)


def _channel(status: int) -> int:
    """Return the channel of a status as people count, 1 to 16; 0 where it has none."""
    return (status & 0x0F) + 1 if status < midi.SYSTEM_EXCLUSIVE else 0
