"""Messages on the wire: bytes, milliseconds, and when each has arrived.

A MIDI line carries 31,250 bits a second, ten bits a byte, so 320 µs a byte (MIDI 1.0 Detailed
Specification 4.2.1, hardware; IEC 63035:2017, 4.1).
"""

from __future__ import annotations

from collections.abc import Sequence
from fractions import Fraction
from typing import NamedTuple

from setwright.compiler.lowering.commands import Command
from setwright.compiler.midi import MILLISECONDS_A_BYTE, encode, running


class Timed(NamedTuple):
    """A command with its time: milliseconds from the press to its first and last bit."""

    command: Command
    starts: Fraction
    ends: Fraction


class Transmission(NamedTuple):
    """A list of commands as it goes over the wire.

    ``ms`` is the time from the press until the last byte is through; ``size_running`` and
    ``ms_running`` are the same where the sender uses running status. ``sound`` is when the
    last unit has settled, in ms from the press. ``earliest`` is when each message begins where
    the sender uses running status.
    """

    commands: tuple[Timed, ...]
    size: int
    size_running: int
    ms: Fraction
    ms_running: Fraction
    sound: Fraction
    earliest: tuple[Fraction, ...] = ()

    @property
    def stream(self) -> bytes:
        """The bytes in the order of sending, without running status."""
        return b"".join(encode(timed.command.message) for timed in self.commands)

    @property
    def whole(self) -> tuple[tuple[bytes, Fraction], ...]:
        """Each message with its status byte, and when it begins, in ms from the press."""
        return tuple((encode(timed.command.message), timed.starts) for timed in self.commands)

    @property
    def shortened(self) -> tuple[tuple[bytes, Fraction], ...]:
        """The same of a sender with running status, which leaves out a status that is repeated."""
        result, last = [], -1
        for timed, starts in zip(self.commands, self.earliest, strict=True):
            encoded = encode(timed.command.message)
            result.append((encoded[1:] if encoded[0] == last else encoded, starts))
            last = encoded[0]
        return tuple(result)


def transmit(
    commands: Sequence[Command], *, gap: Fraction = Fraction(0), wait: bool
) -> Transmission:
    """Put ``commands`` on the wire one after the other.

    ``gap`` is the sender's pause between two messages, in ms. With ``wait`` the sender holds
    back what a unit that is still busy would lose, as a computer can and a switcher cannot.
    """
    timed = _times(commands, gap, wait=wait, running_status=False)
    shorter = _times(commands, gap, wait=wait, running_status=True)
    streams = [encode(command.message) for command in commands]
    return Transmission(
        tuple(timed),
        sum(map(len, streams)),
        len(running(streams)),
        timed[-1].ends if timed else Fraction(0),
        shorter[-1].ends if shorter else Fraction(0),
        max((one.ends + one.command.settles for one in timed), default=Fraction(0)),
        tuple(one.starts for one in shorter),
    )


def _times(
    commands: Sequence[Command], gap: Fraction, *, wait: bool, running_status: bool
) -> list[Timed]:
    timed: list[Timed] = []
    busy: dict[str, Fraction] = {}
    now = Fraction(0)
    last = -1
    for command in commands:
        encoded = encode(command.message)
        if timed:
            now += gap
        if wait:
            now = max(now, busy.get(command.unit, now))
        size = len(encoded) - (running_status and encoded[0] == last)
        timed.append(Timed(command, now, now + size * MILLISECONDS_A_BYTE))
        now, last = timed[-1].ends, encoded[0]
        if command.message.kind == "program":
            busy[command.unit] = now + command.busy
    return timed
