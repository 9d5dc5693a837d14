"""A MIDI clock that comes in: how fast it is, how even, and where the song is.

There are 24 clocks in a quarter note, whatever the beat. Start and continue act at the next clock;
a song position counts sixteenths, of six clocks each (MIDI 1.0 Detailed Specification 4.2.1, system
real time, song position pointer). How even it is, is measured against a straight line: the clocks
of some quarters are numbered, the line that fits their times best is drawn (least squares), and how
far each lies from it is its jitter. Times are seconds, from wherever they are counted.
"""

from __future__ import annotations

from collections import Counter, deque
from collections.abc import Sequence
from typing import NamedTuple

from setwright.compiler.midi import CLOCKS_A_QUARTER, MILLISECONDS_A_BYTE
from setwright.compiler.sending.incoming.decode import Kind, Message

LONGEST = 0.5
"""Seconds between two clocks beyond which they are no tempo but a clock that stopped: 5 quarter
notes a minute."""
QUARTERS = 2
"""Over how many quarters the tempo is taken: a change shows wholly when so many have passed."""
SHORTEST = float(MILLISECONDS_A_BYTE) / 1000
"""Seconds that a clock takes on a MIDI line: those that come faster were held up somewhere, and
have no tempo."""
STEADY = 0.03
"""By what part the tempo of a quarter may differ from that of its neighbours. Beyond it the tempo
was changed on purpose, and how uneven the clocks are in between says nothing."""

_CLOCKS_A_SIXTEENTH = CLOCKS_A_QUARTER // 4
_GRAIN = 100_000  # a jitter is counted to 0.01 ms


class Jitter(NamedTuple):
    """How far clocks lie from even: ms within which half of them lie, 99 of 100, and all."""

    half: float
    most: float
    worst: float

    def __str__(self) -> str:
        return (
            f"half of the clocks within {self.half:.1f} ms of even, "
            f"99 % within {self.most:.1f} ms, all within {self.worst:.1f} ms"
        )


class Tempo(NamedTuple):
    """What the last quarters say: quarter notes a minute, and their jitter."""

    bpm: float
    jitter: Jitter

    def __str__(self) -> str:
        half, _, worst = self.jitter
        return f"quarter = {self.bpm:.1f}, jitter {half:.1f} ms, at most {worst:.1f} ms"


class Overall(NamedTuple):
    """What all steady quarters say: the slowest and the fastest, and their jitter."""

    slowest: float
    fastest: float
    jitter: Jitter

    def __str__(self) -> str:
        slow, fast = f"{self.slowest:.1f}", f"{self.fastest:.1f}"
        tempo = slow if slow == fast else f"{slow} to {fast}"
        return f"quarter = {tempo}, {self.jitter}"


class _Line(NamedTuple):
    """The straight line through some clocks: seconds from one to the next, and what each is off."""

    step: float
    off: list[float]

    @property
    def bpm(self) -> float:
        return 60 / (CLOCKS_A_QUARTER * self.step)


class IncomingClock:
    """The clock of one port, followed message by message.

    ``clocks`` is how many came, ``breaks`` how often they stopped for longer than `LONGEST`.
    ``runs`` tells whether the sender's song runs, None where it has not said so.
    """

    def __init__(self) -> None:
        self.clocks = 0
        self.breaks = 0
        self.runs: bool | None = None
        self.last: float | None = None
        """When the last clock came; None before the first, and after a break."""
        self._window: deque[float] = deque(maxlen=QUARTERS * CLOCKS_A_QUARTER + 1)
        self._quarter: list[float] = []
        self._before: tuple[_Line, bool] | None = None
        self._bpm: list[float] = []
        self._off: Counter[int] = Counter()
        self._from: int | None = None
        self._since = 0

    def take(self, message: Message) -> None:
        """Take a message; those that have nothing to do with a clock are passed over."""
        match message.kind:
            case Kind.CLOCK:
                self._clock(message.at)
            case Kind.START:
                self._from, self._since, self.runs = 0, 0, True
            case Kind.CONTINUE:
                self.runs = True
            case Kind.STOP:
                if self._from is not None and self.runs:
                    self._from, self._since = self._from + self._since, 0
                self.runs = False
            case Kind.SONG_POSITION:
                self._from, self._since = (message.value or 0) * _CLOCKS_A_SIXTEENTH, 0

    @property
    def position(self) -> int | None:
        """Sixteenths from the beginning of the sender's song; None where it has not said it."""
        if self._from is None:
            return None
        return (self._from + max(0, self._since - 1)) // _CLOCKS_A_SIXTEENTH

    def stops(self, now: float) -> bool:
        """Tell whether clocks came and have stopped by ``now``; that is told once."""
        if self.last is None or now - self.last <= LONGEST:
            return False
        self.breaks += 1
        self.break_off()
        return True

    def break_off(self) -> None:
        """Begin to measure anew with the next clock: between, some may have been missed."""
        self._settle_last()
        self._before = None
        self._window.clear()
        self._quarter.clear()
        self.last = None

    @property
    def tempo(self) -> Tempo | None:
        """The tempo of the last quarters; None before the end of the first."""
        if len(self._window) <= CLOCKS_A_QUARTER:
            return None
        line = _line(list(self._window))
        return None if line is None else Tempo(line.bpm, _jitter(Counter(map(_grains, line.off))))

    @property
    def overall(self) -> Overall | None:
        """What all quarters say that had a steady tempo; None where there was none."""
        bpm, off = list(self._bpm), Counter(self._off)
        if self._before is not None and self._before[1]:
            bpm.append(self._before[0].bpm)
            off.update(map(_grains, self._before[0].off))
        return Overall(min(bpm), max(bpm), _jitter(off)) if bpm else None

    def _clock(self, at: float) -> None:
        self.stops(at)
        self.clocks += 1
        self.last = at
        self._since += self.runs is True
        self._window.append(at)
        self._quarter.append(at)
        if len(self._quarter) > CLOCKS_A_QUARTER:
            if (line := _line(self._quarter)) is not None:
                self._add(line)
            del self._quarter[:-1]

    def _add(self, line: _Line) -> None:
        """Take a quarter that is over; the one before counts if it is as fast as its neighbours."""
        steady = True
        if self._before is not None:
            before, was_steady = self._before
            steady = abs(line.bpm / before.bpm - 1) <= STEADY
            self._before = (before, was_steady and steady)
            self._settle_last()
        self._before = (line, steady)

    def _settle_last(self) -> None:
        if self._before is not None and self._before[1]:
            line, _ = self._before
            self._bpm = [min([line.bpm, *self._bpm]), max([line.bpm, *self._bpm])]
            self._off.update(map(_grains, line.off))


def _line(times: Sequence[float]) -> _Line | None:
    """Return the line of least squares through ``times``; None where they are no clock's."""
    count = len(times)
    middle, mean = (count - 1) / 2, sum(at - times[0] for at in times) / count
    step = sum((n - middle) * (at - times[0] - mean) for n, at in enumerate(times)) / sum(
        (n - middle) ** 2 for n in range(count)
    )
    if step < SHORTEST:
        return None
    return _Line(step, [at - times[0] - mean - (n - middle) * step for n, at in enumerate(times)])


def _grains(seconds: float) -> int:
    return round(abs(seconds) * _GRAIN)


def _jitter(off: Counter[int]) -> Jitter:
    """Return half, 99 % and the whole of some distances (nearest rank)."""
    total = sum(off.values())
    found: list[float] = []
    seen = 0
    ranks = [-(-total * share // 100) for share in (50, 99, 100)]
    for grains in sorted(off):
        seen += off[grains]
        while len(found) < len(ranks) and seen >= ranks[len(found)]:
            found.append(grains * 1000 / _GRAIN)
    return Jitter(*found)
