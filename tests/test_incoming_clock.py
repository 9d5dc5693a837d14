"""A clock that comes in, by invented times: tempo, jitter, breaks, and where the song is.

24 clocks a quarter note, six a sixteenth, and start and continue that act at the next clock: MIDI
1.0 Detailed Specification 4.2.1, system real time and song position pointer. The straight line is
judged by the standard library's regression.
"""

from __future__ import annotations

import random
from collections.abc import Iterable
from statistics import linear_regression

import pytest
from hypothesis import given
from hypothesis import strategies as st

from setwright.compiler.sending.incoming.decode import Decoder
from setwright.compiler.sending.incoming.incoming_clock import LONGEST, IncomingClock, Jitter


def feed(clock: IncomingClock, times: Iterable[float]) -> None:
    decoder = Decoder()
    for at in times:
        for message in decoder.feed(at, b"\xf8"):
            clock.take(message)


def say(clock: IncomingClock, stream: str, at: float = 0.0) -> None:
    for message in Decoder().feed(at, bytes.fromhex(stream)):
        clock.take(message)


def even(bpm: float, clocks: int, start: float = 0.0) -> list[float]:
    return [start + n * 60 / bpm / 24 for n in range(clocks)]


NO_JITTER = Jitter(0.0, 0.0, 0.0)


@pytest.mark.parametrize("bpm", [20.0, 40.0, 119.7, 120.0, 240.0, 999.0])
def test_an_even_clock(bpm: float) -> None:
    clock = IncomingClock()
    feed(clock, even(bpm, 224, start=1000.0))
    assert clock.tempo is not None
    assert clock.tempo.bpm == pytest.approx(bpm)
    assert clock.tempo.jitter == NO_JITTER
    assert clock.overall is not None
    assert (clock.overall.slowest, clock.overall.fastest) == pytest.approx((bpm, bpm))
    assert clock.overall.jitter == NO_JITTER
    assert (clock.clocks, clock.breaks) == (224, 0)


def test_less_than_a_quarter_has_no_tempo() -> None:
    clock = IncomingClock()
    feed(clock, even(120, 24))
    assert (clock.tempo, clock.overall, clock.clocks) == (None, None, 24)


def test_a_change_of_tempo_shows_within_two_quarters_and_is_no_jitter() -> None:
    clock = IncomingClock()
    feed(clock, even(120, 24 * 8 + 10))
    last = clock.last
    assert last is not None
    feed(clock, even(90, 48, start=last + 60 / 90 / 24))
    assert clock.tempo is not None
    assert clock.tempo.bpm == pytest.approx(90)
    feed(clock, even(90, 100, start=last + 49 * 60 / 90 / 24))
    assert clock.overall is not None
    assert clock.overall.jitter == NO_JITTER
    assert (clock.overall.slowest, clock.overall.fastest) == pytest.approx((90, 120))


def test_clocks_that_are_early_and_late_by_turns() -> None:
    # 1 ms off by turns: nothing for the tempo, and just this for the jitter.
    clock = IncomingClock()
    feed(clock, [at + (0.001 if n % 2 else -0.001) for n, at in enumerate(even(120, 24 * 10 + 1))])
    for said in (clock.tempo, clock.overall):
        assert said is not None
        assert said.jitter == pytest.approx((1.0, 1.1, 1.1), abs=0.1)
    assert clock.tempo is not None
    assert clock.tempo.bpm == pytest.approx(120, abs=0.1)


def test_one_clock_in_a_thousand_that_is_late() -> None:
    clock = IncomingClock()
    times = even(120, 24 * 50)
    times[612] += 0.008  # in the middle of its quarter, where it hardly moves the line
    feed(clock, times)
    assert clock.overall is not None
    half, most, worst = clock.overall.jitter
    assert half <= 0.1
    assert most < 1
    assert worst == pytest.approx(8, abs=0.5)


def test_more_than_one_in_a_hundred_that_are_late() -> None:
    # 15 of 1,200, each in the middle of a quarter: beyond 99 %, and within 98 %.
    clock = IncomingClock()
    times = even(120, 24 * 50)
    for quarter in range(3, 48, 3):
        times[24 * quarter + 12] += 0.008
    feed(clock, times)
    assert clock.overall is not None
    half, most, worst = clock.overall.jitter
    assert half <= 0.1
    assert (most, worst) == pytest.approx((7.68, 7.68), abs=0.02)


@given(st.integers(0, 1000), st.floats(30, 300), st.floats(0, 0.004))
def test_the_line_is_that_of_a_regression(seed: int, bpm: float, uneven: float) -> None:
    drawn = random.Random(seed)
    times = [at + drawn.uniform(-uneven, uneven) for at in even(bpm, 49, start=5000.0)]
    clock = IncomingClock()
    feed(clock, times)
    slope, first = linear_regression(range(49), times)
    off = sorted(abs(at - first - slope * n) * 1000 for n, at in enumerate(times))
    assert clock.tempo is not None
    assert clock.tempo.bpm == pytest.approx(60 / 24 / slope)
    # Of 49 the half is the 25th, 99 % and all are the last.
    assert clock.tempo.jitter == pytest.approx((off[24], off[48], off[48]), abs=0.0051)


def test_a_break_is_no_tempo() -> None:
    clock = IncomingClock()
    feed(clock, even(120, 100))
    assert clock.last is not None
    assert not clock.stops(clock.last + LONGEST)
    assert clock.stops(clock.last + LONGEST + 0.01)
    assert not clock.stops(1000.0)
    assert clock.tempo is None
    feed(clock, even(140, 30, start=60.0))
    # One that nobody asked about is seen by the clock that comes after it.
    feed(clock, even(140, 30, start=70.0))
    assert (clock.clocks, clock.breaks) == (160, 2)
    assert clock.overall is not None
    assert clock.overall.jitter == NO_JITTER
    assert (clock.overall.slowest, clock.overall.fastest) == pytest.approx((120, 140))


@pytest.mark.parametrize("apart", [0.0, 0.0003])
def test_clocks_that_no_line_could_carry_have_no_tempo(apart: float) -> None:
    # A byte takes 0.32 ms: MIDI 1.0 Detailed Specification 4.2.1, hardware.
    clock = IncomingClock()
    feed(clock, [1.0 + n * apart for n in range(100)])
    assert (clock.tempo, clock.overall, clock.clocks) == (None, None, 100)


def test_where_the_song_is() -> None:
    clock = IncomingClock()
    feed(clock, even(120, 30))
    assert (clock.runs, clock.position) == (None, None)
    say(clock, "FA")
    assert (clock.runs, clock.position) == (True, 0)
    say(clock, "F8 " * 6)
    assert clock.position == 0
    say(clock, "F8")
    assert clock.position == 1
    say(clock, "F8 " * 18 + "FC" + "F8 " * 12)  # 25 clocks have run, then it stands
    assert (clock.runs, clock.position) == (False, 4)
    say(clock, "FB" + "F8 " * 6)
    assert (clock.runs, clock.position) == (True, 5)
    say(
        clock, "FA" + "F8 " * 24 + "FC FC"
    )  # the next clock would be the first of the second quarter
    assert (clock.runs, clock.position) == (False, 4)
    say(clock, "FC F2 10 01 FB F8")
    assert clock.position == 144
    say(clock, "F8 " * 6)
    assert clock.position == 145
    say(clock, "FA")
    assert clock.position == 0
