"""The facts of MIDI 1.0 as one data table, and the only place where channels become bytes.

Source of every number here, unless another is named: MIDI 1.0 Detailed Specification, document
version 4.2.1 (MMA). Channels are 1 to 16 wherever a person reads them and 0 to 15 only in the
status bytes that `encode` makes and `decode` reads.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from fractions import Fraction
from typing import NamedTuple


class Kind(NamedTuple):
    """A kind of channel message: the high half of its status byte, its data bytes' names."""

    name: str
    status: int
    data: tuple[str, ...]


KINDS: tuple[Kind, ...] = (
    # Table I, Summary of Status Bytes, and Table II, channel voice messages.
    Kind("note off", 0x80, ("note", "velocity")),
    Kind("note on", 0x90, ("note", "velocity")),
    Kind("poly pressure", 0xA0, ("note", "pressure")),
    Kind("control", 0xB0, ("control", "value")),
    Kind("program", 0xC0, ("program",)),
    Kind("channel pressure", 0xD0, ("pressure",)),
    Kind("pitch bend", 0xE0, ("lsb", "msb")),
)
BY_NAME = {kind.name: kind for kind in KINDS}
BY_STATUS = {kind.status: kind for kind in KINDS}

BANK_MSB = 0
"""Bank select, most significant byte: control 0 (bank select)."""
BANK_LSB = 32
"""Bank select, least significant byte: control 32."""
FIRST_MODE_MESSAGE = 120
"""Controls 120 to 127 are channel mode messages (Table IV)."""

UNDEFINED_CONTROLS = frozenset({3, 9, 14, 15, *range(20, 32), *range(85, 91), *range(102, 120)})
"""Control numbers that the tables III and IIIa leave undefined (88 was given later: CA-031, from
memory)."""

BITS_A_BYTE = 10
"""A start bit, eight data bits, a stop bit (hardware)."""
BAUD = 31_250
"""Bits a second, ±1 % (hardware; IEC 63035:2017, 4.1)."""
MILLISECONDS_A_BYTE = Fraction(BITS_A_BYTE * 1000, BAUD)
"""0.32 ms."""
CLOCKS_A_QUARTER = 24
"""Timing clocks (F8) in a quarter note (system real time messages)."""

SYSTEM_EXCLUSIVE = 0xF0
FIRST_REAL_TIME = 0xF8


class Message(NamedTuple):
    """One channel message: ``channel`` 1 to 16, ``data`` one or two numbers of 0 to 127."""

    kind: str
    channel: int
    data: tuple[int, ...]

    def __str__(self) -> str:
        named = zip(BY_NAME[self.kind].data, self.data, strict=True)
        return f"channel {self.channel} " + " ".join(f"{name} {value}" for name, value in named)


def program(channel: int, number: int) -> Message:
    """Return a program change; ``number`` 0 to 127."""
    return Message("program", channel, (number,))


def control(channel: int, number: int, value: int) -> Message:
    """Return a control change; ``number`` 0 to 119, ``value`` 0 to 127."""
    if number >= FIRST_MODE_MESSAGE:
        raise ValueError(f"{number} is a channel mode message, no control")
    return Message("control", channel, (number, value))


def bank(channel: int, number: int, by: str) -> tuple[Message, ...]:
    """Return the bank select messages for bank ``number``, most significant byte first.

    ``by`` is ``msb``, ``lsb`` or ``msb and lsb``. Of 16,384 banks, 00/00 is the first, 01/00
    the 129th (bank select).
    """
    if by == "msb":
        return (control(channel, BANK_MSB, number),)
    if by == "lsb":
        return (control(channel, BANK_LSB, number),)
    return (control(channel, BANK_MSB, number >> 7), control(channel, BANK_LSB, number & 0x7F))


def banks_reached(by: str) -> int:
    """Return how many banks there are for a receiver that obeys bank select ``by``.

    ``no`` bank select leaves the one; one half of it reaches 128, both together 16,384.
    """
    return {"no": 1, "msb and lsb": 16_384}.get(by, 128)


def encode(message: Message) -> bytes:
    """Return the two or three bytes of ``message``; ValueError where a number does not fit."""
    kind = BY_NAME[message.kind]
    if not 1 <= message.channel <= 16:
        raise ValueError(f"no channel {message.channel}")
    if len(message.data) != len(kind.data) or not all(0 <= value <= 127 for value in message.data):
        raise ValueError(f"{message.data} are no data bytes of {kind.name}")
    return bytes((kind.status | (message.channel - 1), *message.data))


def decode(stream: bytes) -> Iterator[Message]:
    """Yield the channel messages of ``stream``; understands running status.

    System messages are passed over as the specification asks of receivers: real time bytes may
    stand anywhere and change nothing, other system messages cancel running status. Data bytes
    without a status are ignored.
    """
    status = 0
    data: list[int] = []
    for byte in stream:
        if byte >= FIRST_REAL_TIME:
            continue
        if byte >= 0x80:
            status, data = (byte if byte < SYSTEM_EXCLUSIVE else 0), []
            continue
        if not status:
            continue
        data.append(byte)
        kind = BY_STATUS[status & 0xF0]
        if len(data) == len(kind.data):
            yield Message(kind.name, (status & 0x0F) + 1, tuple(data))
            data = []


def running(messages: Iterable[bytes]) -> bytes:
    """Join encoded messages with running status: a status equal to the last is left out.

    Source: running status (``90 3C 27 40 2B 43 25`` is three notes).
    """
    out = bytearray()
    last = -1
    for message in messages:
        out += message if message[0] != last else message[1:]
        last = message[0]
    return bytes(out)
