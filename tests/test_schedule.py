"""What is due when at a port: the pace of the wire, a clock between messages, nothing parted.

Times are those of the MIDI 1.0 Detailed Specification 4.2.1: 320 µs a byte (hardware), F8 24 times
a quarter note, FA at least 1 ms before the next F8 (system real time).
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from fractions import Fraction
from itertools import pairwise

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from setwright.compiler import midi
from setwright.compiler.lowering.commands import Command
from setwright.compiler.lowering.wire import Transmission, transmit
from setwright.compiler.sending.port.schedule import Begun, Bundle, Done, Schedule, Skipped
from setwright.compiler.sending.send import bundles

WIRE = 0.00032
F8, FA, FC = b"\xf8", b"\xfa", b"\xfc"


@dataclass
class Played:
    """A schedule that is asked when it says it is due, or later; what it gave, and when."""

    late: Iterator[float] = field(default_factory=lambda: iter(()))
    orders: list[tuple[float, Callable[[Schedule, float], None]]] = field(default_factory=list)
    until: float = 160.0
    sent: list[tuple[float, bytes]] = field(default_factory=list)
    told: list[Begun | Done | Skipped] = field(default_factory=list)

    def play(self) -> Played:
        schedule = Schedule(self.told.append)
        time = 100.0
        orders = sorted(self.orders, key=lambda one: one[0])
        while True:
            while orders and orders[0][0] <= time:
                orders.pop(0)[1](schedule, time)
            while (message := schedule.next(time)) is not None:
                self.sent.append((time, message))
            due = schedule.due(time)
            coming = [one for one in (due, orders[0][0] if orders else None) if one is not None]
            if not coming or min(coming) > self.until:
                return self
            assert min(coming) > time
            time = min(coming) + (next(self.late, 0.0) if min(coming) == due else 0.0)

    @property
    def messages(self) -> list[tuple[float, bytes]]:
        return [one for one in self.sent if one[1][0] < 0xF0]

    def times(self, byte: bytes) -> list[float]:
        return [time for time, one in self.sent if one == byte]


def delivery(
    *some: Bundle, number: int = 1, settles: float = 0.0
) -> Callable[[Schedule, float], None]:
    return lambda schedule, now: schedule.deliver(number, some, settles)


def of(route: Transmission, number: int = 1) -> Callable[[Schedule, float], None]:
    some = [(ms, [bytes.fromhex(one) for one in them]) for ms, them in bundles(route)]
    return delivery(*some, number=number)


@st.composite
def routes(draw: st.DrawFn) -> Transmission:
    """Routes of programs, some with bank selects joined to them, and controls; units are busy."""
    commands: list[Command] = []
    for channel in draw(st.lists(st.integers(1, 3), min_size=1, max_size=12)):
        unit = f"unit {channel}"
        match draw(st.sampled_from(["control", "program", "banked"])):
            case "control":
                commands.append(Command(unit, "switch", midi.control(channel, 28, 127), "on"))
            case kind:
                if kind == "banked":
                    commands += [
                        Command(unit, "bank", message, "bank", joined=True)
                        for message in midi.bank(channel, 300, "msb and lsb")
                    ]
                busy = Fraction(draw(st.sampled_from([0, 3, 120, 2500])))
                commands.append(
                    Command(unit, "program", midi.program(channel, 5), "load", busy=busy)
                )
    return transmit(commands, wait=True)


# Binary fractions of a second are exact, so that sums can be compared.
lateness = st.lists(st.sampled_from([0.0, 0.0, 0.125, 1.0, 3.5]), max_size=12)


@settings(deadline=None)
@given(route=routes(), late=lateness)
def test_messages_are_never_closer_than_planned(route: Transmission, late: list[float]) -> None:
    played = Played(iter(late), [(100.0, of(route))], 300.0).play()
    assert [message for _, message in played.sent] == [
        midi.encode(timed.command.message) for timed in route.commands
    ]
    assert played.told == [
        Begun(1, played.sent[0][0]),
        Done(1, len(route.commands), played.sent[-1][0]),
    ]
    for (before, first), (after, second) in pairwise(
        zip([time for time, _ in played.sent], route.commands, strict=True)
    ):
        assert after - before >= float(second.starts - first.starts) / 1000 - 1e-9
    if not any(late):
        # On time, to the end: delays do not add up.
        last = float(route.commands[-1].starts) / 1000
        assert played.sent[-1][0] == pytest.approx(100 + last, abs=1e-9)


@settings(deadline=None)
@given(route=routes())
def test_no_bank_select_stands_alone(route: Transmission) -> None:
    for _, messages in bundles(route):
        banks = [one for one in messages if one[0] == "b" and one[2:4] in ("00", "20")]
        assert not banks or messages[-1][0] == "c"


@settings(deadline=None)
@given(
    some=st.lists(routes(), min_size=1, max_size=4),
    at=st.lists(st.floats(100, 102), min_size=4, max_size=4),
    bpm=st.sampled_from([20, 60, 97, 120, 200, 300]),
    start=st.booleans(),
)
def test_a_clock_is_never_held_up(
    some: list[Transmission], at: list[float], bpm: int, start: bool
) -> None:
    """Clocks come when they are due, with a free wire; what is between them waits for them."""
    orders: list[tuple[float, Callable[[Schedule, float], None]]] = [
        (100.0, lambda schedule, now: schedule.clock(bpm, now, start=start))
    ]
    orders += [(time, of(route, n)) for n, (route, time) in enumerate(zip(some, at, strict=False))]
    played = Played(orders=orders, until=104.0).play()
    ticks = played.times(F8)
    for number, tick in enumerate(ticks):
        assert tick == pytest.approx(ticks[0] + number * 60 / bpm / 24, abs=1e-9)
    free = 0.0
    for time, message in played.sent:
        assert time >= free - 1e-9, message
        free = time + WIRE * len(message)
    if start:
        assert played.sent[0][1] == FA
        assert ticks[0] - played.sent[0][0] >= 0.001 + WIRE


def test_24_clocks_a_quarter() -> None:
    played = Played(orders=[(100.0, lambda s, now: s.clock(120, now))], until=160.0).play()
    beats = played.times(F8)[::24]
    assert [after - before for before, after in pairwise(beats)] == pytest.approx([0.5] * 119)


@pytest.mark.parametrize("bpm", [40, 240])
def test_a_new_tempo_begins_with_the_next_clock(bpm: int) -> None:
    orders = [
        (100.0, lambda s, now: s.clock(120, now)),
        (101.0, lambda s, now: s.clock(bpm, now)),
    ]
    played = Played(orders=orders, until=103.0).play()
    ticks = played.times(F8)
    last = max(tick for tick in ticks if tick <= 101.0)
    after = [tick for tick in ticks if tick >= last]
    gaps = [later - sooner for sooner, later in pairwise(after)]
    assert gaps[1:] == pytest.approx([60 / bpm / 24] * len(gaps[1:]))
    assert gaps[0] == pytest.approx(max(60 / bpm / 24, 101.0 - last), abs=1e-9)


@settings(deadline=None)
@given(at=st.floats(100.1, 100.3), stop=st.floats(100.4, 100.6))
def test_start_is_sent_a_millisecond_before_a_clock(at: float, stop: float) -> None:
    orders = [
        (100.0, lambda s, now: s.clock(120, now)),
        (at, lambda s, now: s.clock(120, now, start=True)),
        (stop, lambda s, now: s.stop()),
        (stop, lambda s, now: s.clock(None, now)),
    ]
    played = Played(orders=orders, until=102.0).play()
    [started], [stopped] = played.times(FA), played.times(FC)
    following = min(tick for tick in played.times(F8) if tick > started)
    assert following - started >= 0.001 + WIRE - 1e-9
    assert started - at <= 0.0025  # it waits for one clock at most
    assert 0 <= stopped - stop <= WIRE
    assert max(played.times(F8)) <= stop


def test_where_the_machine_slept_no_clock_is_made_up_for() -> None:
    late = iter([0.0] * 10 + [5.0])
    played = Played(late, [(100.0, lambda s, now: s.clock(120, now))], 107.0).play()
    gaps = [after - before for before, after in pairwise(played.times(F8))]
    assert max(gaps) > 5
    assert min(gaps) > 0.02


A, B, C = b"\xc0\x01", b"\xc0\x02", b"\xc0\x03"
BANK = (0.0, [b"\xb0\x00\x01", b"\xc0\x05"])


def test_one_that_waits_is_skipped_for_a_newer_one() -> None:
    orders = [
        (100.0, delivery((0.0, [A]), (100.0, [A]), number=1)),
        (100.01, delivery((0.0, [B]), number=2)),
        (100.02, delivery((0.0, [C]), number=3)),
    ]
    played = Played(orders=orders).play()
    assert [one for _, one in played.sent] == [A, A, C]
    assert Skipped(2) in played.told
    assert [one.number for one in played.told if isinstance(one, Done)] == [1, 3]


def test_the_next_one_waits_until_the_rig_has_settled() -> None:
    orders = [
        (100.0, delivery((0.0, [A]), settles=250.0)),
        (100.01, delivery((0.0, [B]), number=2)),
    ]
    played = Played(orders=orders).play()
    assert [time for time, _ in played.sent] == pytest.approx([100.0, 100.25])


def test_what_takes_no_message_is_done_at_once() -> None:
    played = Played(orders=[(100.0, delivery())]).play()
    assert played.sent == []
    assert played.told == [Begun(1, 100.0), Done(1, 0, 100.0)]


@pytest.mark.parametrize(
    ("at", "left"),
    [
        (100.0005, [b"\xb0\x00\x01", b"\xc0\x05"]),  # the bank select is out: its program follows
        (100.05, [b"\xb0\x00\x01", b"\xc0\x05"]),
    ],
)
def test_what_is_dropped_ends_with_its_bundle(at: float, left: list[bytes]) -> None:
    orders = [
        (100.0, delivery(BANK, (100.0, [A]))),
        (at, lambda s, now: s.drop()),
        (101.0, delivery((0.0, [C]), number=2)),
    ]
    played = Played(orders=orders).play()
    assert [one for _, one in played.sent] == [*left, C]
