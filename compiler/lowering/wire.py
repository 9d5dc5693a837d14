"""Messages on the wire: bytes, milliseconds, and when each has arrived.

A MIDI line carries 31,250 bits a second, ten bits a byte, so 320 µs a byte (MIDI 1.0 Detailed
Specification 4.2.1, hardware; IEC 63035:2017, 4.1).
"""

from __future__ import annotations

from collections.abc import Sequence
from fractions import Fraction
from typing import NamedTuple

from setwright.compiler.lowering.orders import Order
from setwright.compiler.midi import MILLISECONDS_A_BYTE, encode, running


class Timed(NamedTuple):
    """An order with its place in time: milliseconds from the press to its first and last bit."""

    order: Order
    starts: Fraction
    ends: Fraction


class Transmission(NamedTuple):
    """A list of orders as it goes over the wire.

    ``ms`` is the time from the press until the last byte is through; ``size_running`` and
    ``ms_running`` are the same where the sender uses running status. ``sound`` is when the
    last unit has settled, in ms from the press. ``earliest`` is when each message begins where
    the sender uses running status.
    """

    orders: tuple[Timed, ...]
    size: int
    size_running: int
    ms: Fraction
    ms_running: Fraction
    sound: Fraction
    earliest: tuple[Fraction, ...] = ()

    @property
    def stream(self) -> bytes:
        """The bytes in the order of sending, without running status."""
        return b"".join(encode(timed.order.message) for timed in self.orders)


def transmit(orders: Sequence[Order], *, gap: Fraction = Fraction(0), wait: bool) -> Transmission:
    """Put ``orders`` on the wire one after the other.

    ``gap`` is the sender's pause between two messages, in ms. With ``wait`` the sender holds
    back what a unit that is still busy would lose, as a computer can and a switcher cannot.
    """
    timed = _times(orders, gap, wait=wait, running_status=False)
    shorter = _times(orders, gap, wait=wait, running_status=True)
    streams = [encode(order.message) for order in orders]
    return Transmission(
        tuple(timed),
        sum(map(len, streams)),
        len(running(streams)),
        timed[-1].ends if timed else Fraction(0),
        shorter[-1].ends if shorter else Fraction(0),
        max((one.ends + one.order.settles for one in timed), default=Fraction(0)),
        tuple(one.starts for one in shorter),
    )


def _times(
    orders: Sequence[Order], gap: Fraction, *, wait: bool, running_status: bool
) -> list[Timed]:
    timed: list[Timed] = []
    busy: dict[str, Fraction] = {}
    now = Fraction(0)
    last = -1
    for order in orders:
        encoded = encode(order.message)
        if timed:
            now += gap
        if wait:
            now = max(now, busy.get(order.unit, now))
        size = len(encoded) - (running_status and encoded[0] == last)
        timed.append(Timed(order, now, now + size * MILLISECONDS_A_BYTE))
        now, last = timed[-1].ends, encoded[0]
        if order.message.kind == "program":
            busy[order.unit] = now + order.busy
    return timed
