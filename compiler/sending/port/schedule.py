"""What is due when at one output port: deliveries at the pace of the wire, a clock between them.

Pure: it is told the time, in seconds of one monotonic clock, and never asks for it. Rules, all of
the MIDI 1.0 Detailed Specification 4.2.1 (DS): a byte takes 320 µs (hardware); F8 comes 24 times a
quarter note, and FA acts at the next F8, so it is sent at least 1 ms before it (system real time);
real-time bytes may stand between any others, so a clock that is due goes before everything else,
and a message that would still be on the wire then waits for it. Bank select and program belong
together: other messages never come between them.
"""

from __future__ import annotations

from collections import deque
from collections.abc import Callable, Sequence
from typing import NamedTuple

Bundle = tuple[float, Sequence[bytes]]
"""Milliseconds from the first message, and messages that must not be parted."""

BYTE = 320e-6
"""Seconds that a byte takes at 31,250 bits a second, ten bits a byte (DS, hardware)."""
CLOCKS = 24
"""Clocks a quarter note (DS, system real time)."""
AHEAD = 0.0015
"""Seconds before a clock in which FA is no longer sent: 1 ms (DS), the byte, and some room."""
TICK, START, STOP = b"\xf8", b"\xfa", b"\xfc"


class Begun(NamedTuple):
    """The first message of a delivery is out, ``at`` which second."""

    number: int
    at: float


class Done(NamedTuple):
    """All of a delivery is out: messages, and ``at`` which second the last one went."""

    number: int
    messages: int
    at: float


class Skipped(NamedTuple):
    """A delivery had not begun when a newer one came."""

    number: int


Told = Callable[[Begun | Done | Skipped], None]


class _Delivery:
    """One delivery on its way: what is left of it, and from when its times count."""

    def __init__(self, number: int, bundles: Sequence[Bundle], settles: float) -> None:
        self.number, self.settles = number, settles
        self.left: deque[tuple[float, bytes, bool]] = deque()
        for ms, messages in bundles:
            at = ms / 1000
            for index, message in enumerate(messages):
                self.left.append((at, message, bool(index)))
                at += BYTE * len(message)
        self.sent = 0
        self.origin = 0.0


class Schedule:
    """The messages of one port, each handed out when it is due."""

    def __init__(self, told: Told) -> None:
        self._told = told
        self._now: _Delivery | None = None
        self._waiting: _Delivery | None = None
        self._wire_free = 0.0
        self._rig_free = 0.0
        self._interval = 0.0
        self._tick = 0.0
        self._commands: deque[bytes] = deque()

    @property
    def idle(self) -> bool:
        """Whether no delivery is under way or waits; a clock may run all the same."""
        return self._now is None and self._waiting is None

    @property
    def ticking(self) -> bool:
        """Whether a clock runs."""
        return self._interval > 0

    def deliver(self, number: int, bundles: Sequence[Bundle], settles: float) -> None:
        """Take a delivery in; one that waits and has not begun is skipped for it.

        ``settles`` is in ms from its first message: the next delivery waits until then.
        """
        if self._waiting is not None:
            self._told(Skipped(self._waiting.number))
        self._waiting = _Delivery(number, bundles, settles)

    def drop(self) -> None:
        """Forget what has not left yet, but for the rest of a bundle that has begun."""
        self._waiting = None
        if self._now is not None:
            rest = deque[tuple[float, bytes, bool]]()
            while self._now.left and self._now.left[0][2]:
                rest.append(self._now.left.popleft())
            self._now.left = rest
            if not rest:
                self._now = None

    def clock(self, bpm: float | None, now: float, *, start: bool = False) -> None:
        """Run a clock at ``bpm`` quarter notes a minute from ``now`` on; None ends it.

        A clock that runs keeps its beat: the next one comes where it was due, at most one new
        interval after the last.
        """
        before, self._interval = self._interval, 60 / (bpm * CLOCKS) if bpm else 0.0
        if not self._interval:
            self._forget_start()
            return
        if start:
            self._commands.append(START)
        if not before:
            self._tick = max(now, self._wire_free) + 2 * AHEAD
        else:
            self._tick = max(now, self._tick - before + self._interval)

    def stop(self) -> None:
        """Send FC at the next opportunity."""
        self._forget_start()
        self._commands.append(STOP)

    def _forget_start(self) -> None:
        self._commands = deque(one for one in self._commands if one != START)

    def due(self, now: float) -> float | None:
        """Return when `next` has something to give; None where nothing is left to do."""
        times = (self._tick_due(), self._command_due(now), self._message_due(now))
        return min((time for time in times if time is not None), default=None)

    def next(self, now: float) -> bytes | None:
        """Return the message that is due at ``now``; None where none is.

        It counts as handed over at ``now``. Call again at once: more may be due.
        """
        if (due := self._tick_due()) is not None and due <= now:
            # Times are absolute. Where whole clocks were missed (the machine slept) none is made
            # up for: a burst would be heard as a jump of the tempo.
            self._tick += self._interval
            if self._tick < now:
                self._tick = now + self._interval
            self._occupy(TICK, now)
            return TICK
        if (due := self._command_due(now)) is not None and due <= now:
            command = self._commands.popleft()
            self._occupy(command, now)
            return command
        if (due := self._message_due(now)) is not None and due <= now:
            return self._message(now)
        return None

    def _tick_due(self) -> float | None:
        return self._tick if self._interval else None

    def _command_due(self, now: float) -> float | None:
        if not self._commands:
            return None
        due = max(self._wire_free, now)
        if self._commands[0] == START and due > self._tick - AHEAD:
            due = self._tick + BYTE
        return due

    def _message_due(self, now: float) -> float | None:
        one = self._now or self._waiting
        if one is None:
            return None
        due = max(self._wire_free, now)
        if one is self._now:
            if not one.left[0][2]:
                due = max(due, one.origin + one.left[0][0])
        else:
            due = max(due, self._rig_free)
        ends = due + BYTE * (len(one.left[0][1]) if one.left else 0)
        if self._interval and ends > self._tick:
            due = max(due, self._tick + BYTE)
        return due

    def _message(self, now: float) -> bytes | None:
        """Hand over the next message of the delivery under way, or of the one that waits."""
        one = self._now
        if one is None:
            one, self._waiting = self._waiting, None
            assert one is not None
            if not one.left:
                self._told(Begun(one.number, now))
                self._told(Done(one.number, 0, now))
                return None
            self._now = one
            one.origin = now - one.left[0][0]
            self._rig_free = now + one.settles / 1000
            self._told(Begun(one.number, now))
        at, message, _ = one.left.popleft()
        # Where the computer was late, all that follows is as late, for a unit that is busy is
        # busy from when it really heard.
        late = max(0.0, now - (one.origin + at))
        one.origin += late
        self._rig_free += late
        one.sent += 1
        self._occupy(message, now)
        if not one.left:
            self._now = None
            self._told(Done(one.number, one.sent, now))
        return message

    def _occupy(self, message: bytes, now: float) -> None:
        self._wire_free = max(self._wire_free, now) + BYTE * len(message)
