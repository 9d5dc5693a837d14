"""What comes in at a port, said line by line, and summed up at the end.

Pure: packets with their times go in, lines come out. What comes many times a second gets no line
each time: a clock has one line about its tempo, which is asked for, and says when it begins and
stops; active sensing and time code are said once.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator
from typing import TYPE_CHECKING, NamedTuple

from setwright.compiler import midi
from setwright.compiler.sending.incoming.decode import ODD, Decoder, Kind, Message
from setwright.compiler.sending.incoming.incoming_clock import IncomingClock
from setwright.compiler.sending.port.ear import Dropped, Heard
from setwright.scenes.wording import number_of

if TYPE_CHECKING:
    from setwright.compiler.sending.incoming.meaning import Meaning

SENSED = 1.0
"""Seconds without any message after which active sensing has stopped. Its sender lets 0.3 s pass at
most (MIDI 1.0 Detailed Specification 4.2.1, active sensing); the rest is for this computer."""

_MODES = {
    # Table IV.
    120: "all sound off",
    121: "reset all controllers",
    122: "local control",
    123: "all notes off",
    124: "omni off",
    125: "omni on",
    126: "mono",
    127: "poly",
}
_ONCE = {
    Kind.SENSING: "active sensing, which is not said again",
    Kind.QUARTER_FRAME: "time code, which is not said again",
}
_WIDTH = len("90 3c 27")


class _Noted(NamedTuple):
    """How often something came, and when it came first, in which bytes."""

    times: int
    seconds: float
    raw: str

    def __str__(self) -> str:
        return f"first at {self.seconds:.3f}: {self.raw}"


class Listener:
    """Everything that has come in at one port, and what it is called."""

    def __init__(self, meaning: Meaning | None = None) -> None:
        self.clock = IncomingClock()
        self._meaning = meaning
        self._decoder = Decoder()
        self._first: float | None = None
        self._last = 0.0
        self._kinds: Counter[Kind] = Counter()
        self._odd: dict[Kind, _Noted] = {}
        self._undeclared: _Noted | None = None
        self._lost = 0
        self._clock_told = False
        self._said_once: set[Kind] = set()

    def take(self, came: Heard | Dropped) -> Iterator[str]:
        """Take what came; yield the lines about it."""
        if isinstance(came, Dropped):
            yield from self._dropped(came)
            return
        yield from self.silent(came.at)
        for message in self._decoder.feed(came.at, came.data):
            yield from self._one(message)
        self._last = came.at

    def silent(self, now: float) -> Iterator[str]:
        """Take that nothing more has come by ``now``; yield the lines about what that tells."""
        for message in self._decoder.flush(now):
            yield from self._one(message)
        last = self.clock.last
        if last is not None and self.clock.stops(now):
            self._clock_told = False
            yield self._line(last, "", "the clock has stopped")
        if Kind.SENSING in self._said_once and now - self._last > SENSED:
            self._said_once.discard(Kind.SENSING)
            yield self._line(self._last, "", "active sensing has stopped, or the cable is out")

    def clock_line(self) -> str | None:
        """Return the line about the clock's tempo; None where it has none to speak of."""
        tempo = self.clock.tempo
        if tempo is None or self.clock.last is None:
            return None
        return self._line(self.clock.last, "f8", f"clock: {tempo}")

    def summary(self) -> Iterator[str]:
        """Yield the lines about all of it; nothing more is taken afterwards."""
        for message in self._decoder.flush():
            yield from self._one(message)
        total = number_of(sum(self._kinds.values()), "message")
        lasted = f"{total} in {self._seconds(self._last):.1f} s"
        yield f"heard {lasted if self._kinds else 'nothing'}"
        for kind in Kind:
            if self._kinds[kind] and kind not in ODD:
                yield f"  {self._kinds[kind]:>7,}  {kind.value}"
        for kind, noted in self._odd.items():
            yield f"  {noted.times:>7,}  odd: {kind.value}, {noted}"
        if self._undeclared is not None:
            yield f"  {self._undeclared.times:>7,}  declared by no unit, {self._undeclared}"
        if self._lost:
            yield f"  {self._lost:>7,}  packets came too fast and are lost"
        if (overall := self.clock.overall) is not None:
            breaks = self.clock.breaks
            stopped = f"; stopped {number_of(breaks, 'time')}" if breaks else ""
            yield f"clock: {overall}{stopped}"

    def _one(self, message: Message) -> Iterator[str]:
        """Count a message, and yield its line, if it has one."""
        if self._first is None:
            self._first = message.at
        self._last = max(self._last, message.at)
        self._kinds[message.kind] += 1
        self.clock.take(message)
        raw = message.raw.hex(" ") + (" …" if message.size > len(message.raw) else "")
        if message.is_odd:
            self._odd[message.kind] = self._again(self._odd.get(message.kind), message.at, raw)
        match message.kind:
            case Kind.CLOCK if self._clock_told:
                return
            case Kind.CLOCK:
                self._clock_told = True
                words = "a clock begins"
            case kind if kind in _ONCE:
                if kind in self._said_once:
                    return
                self._said_once.add(kind)
                words = _ONCE[kind]
            case Kind.START | Kind.CONTINUE | Kind.STOP:
                words = f"{message.kind.value}{self._tempo()}{self._where()}"
            case _:
                words = self._words(message)
        yield self._line(message.at, raw, words)

    def _words(self, message: Message) -> str:
        plain = plain_words(message)
        if message.voice is None or self._meaning is None:
            return plain
        told = self._meaning.of(message.voice)
        if not told.declared:
            raw = midi.encode(message.voice).hex(" ")
            self._undeclared = self._again(self._undeclared, message.at, raw)
        return f"{told.words} ({plain})"

    def _again(self, noted: _Noted | None, at: float, raw: str) -> _Noted:
        if noted is None:
            return _Noted(1, self._seconds(at), raw)
        return noted._replace(times=noted.times + 1)

    def _dropped(self, dropped: Dropped) -> Iterator[str]:
        for message in self._decoder.flush():
            yield from self._one(message)
        self._lost += dropped.packets
        self.clock.break_off()
        self._clock_told = False
        if self._meaning is not None:
            self._meaning.forget()
        lost = number_of(dropped.packets, "packet")
        yield self._line(None, "", f"{lost} came too fast to be taken: what was in there is lost")

    def _tempo(self) -> str:
        tempo = self.clock.tempo
        return "" if tempo is None else f", clock: quarter = {tempo.bpm:.1f}"

    def _where(self) -> str:
        position = self.clock.position
        return "" if position is None else f", at sixteenth {position}"

    def _seconds(self, at: float) -> float:
        return 0.0 if self._first is None else max(0.0, at - self._first)

    def _line(self, at: float | None, raw: str, words: str) -> str:
        seconds = "" if at is None else f"{self._seconds(at):.3f}"
        return f"{seconds:>9}  {raw:{_WIDTH}}  {words}"


def plain_words(message: Message) -> str:
    """Return what a message is where nothing is known of the rig."""
    on = f"channel {message.channel} "
    match message.kind:
        case Kind.PROGRAM | Kind.CONTROL:
            words = str(message.voice)
        case Kind.MODE:
            mode = _MODES[message.data[0]]
            words = f"{on}{mode} (control {message.number} value {message.value})"
        case Kind.NOTE_ON if not message.value:
            words = f"{on}note on {message.number} velocity 0, which is note off"
        case Kind.NOTE_ON | Kind.NOTE_OFF:
            words = f"{on}{message.kind.value} {message.number} velocity {message.value}"
        case Kind.POLY_PRESSURE:
            words = f"{on}pressure {message.value} on note {message.number}"
        case Kind.CHANNEL_PRESSURE:
            words = f"{on}pressure {message.value}"
        case Kind.PITCH_BEND:
            words = f"{on}pitch bend {(message.value or 0) - 8192:+d}"
        case Kind.SONG_POSITION:
            words = f"song position: sixteenth {message.value}"
        case Kind.SONG_SELECT:
            words = f"song select {message.number}"
        case Kind.EXCLUSIVE:
            words = f"system exclusive, {number_of(message.size, 'byte')}"
            words += "" if message.ended else ", which no f7 ended"
        case Kind.UNDEFINED:
            words = "undefined: nobody may send this"
        case Kind.STRAY:
            words = f"{number_of(message.size, 'byte')} of data without a status"
        case Kind.TRUNCATED if message.of is not None:
            of = (
                f"channel {message.channel} {message.of.value}"
                if message.channel
                else (message.of.value)
            )
            words = f"truncated: {of}, of which no more came"
        case _:
            words = message.kind.value
    if message.channel and message.raw[0] < 0x80:
        words += ", running status"
    return words
