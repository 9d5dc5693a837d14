"""Messages as they come in → presses: a switcher sends all that a preset holds at once, then rests.

A burst ends with a silence that is longer than the switcher's own pause between two messages. Two
presses in quick succession may come as one burst; where the pause within it shows, and both halves
are presets, it is parted.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from fractions import Fraction
from typing import NamedTuple

QUIET = 0.06
"""Seconds of silence after which a press is over, beside the switcher's own gap. A computer takes
up to some 20 ms to hand over what came; a foot needs more than 100 ms between two switches (common
practice, no source)."""
PAUSE = 0.012
"""Seconds within a burst, beside the switcher's own gap, that may be those between two presses."""
MOST = 256
"""Messages in one burst; what goes on for longer is no preset, and is cut."""


class Burst(NamedTuple):
    """What came together: whole messages with their status, when each came, in seconds.

    ``spoilt`` says in words what came besides that is no message.
    """

    messages: tuple[bytes, ...]
    times: tuple[float, ...]
    spoilt: tuple[str, ...] = ()


class Bursts:
    """Collects messages; ``gap`` is the switcher's own pause between two, in ms."""

    def __init__(self, gap: Fraction = Fraction(0)) -> None:
        self.gap = float(gap) / 1000
        self._messages: list[bytes] = []
        self._times: list[float] = []
        self._spoilt: list[str] = []
        self._last: float | None = None

    @property
    def quiet(self) -> float:
        """Seconds of silence that end a burst."""
        return QUIET + self.gap

    def message(self, at: float, data: bytes) -> Burst | None:
        """Take one message; return the burst before it if that is over."""
        ended = self.ended(at)
        if len(self._messages) == MOST:
            ended = self._taken()
        self._messages.append(data)
        self._times.append(at)
        self._last = at
        return ended

    def spoil(self, at: float, what: str) -> Burst | None:
        """Take note of something that is no message; return the burst before it if that is over."""
        ended = self.ended(at)
        if len(self._spoilt) < MOST:
            self._spoilt.append(what)
        self._last = at
        return ended

    def ended(self, now: float) -> Burst | None:
        """Return the burst if it is over by ``now``."""
        if self._last is None or now - self._last < self.quiet:
            return None
        return self._taken()

    def left(self, now: float) -> float | None:
        """Return the seconds until the burst is over if nothing more comes; None without one."""
        return None if self._last is None else max(0.0, self._last + self.quiet - now)

    def _taken(self) -> Burst:
        burst = Burst(tuple(self._messages), tuple(self._times), tuple(self._spoilt))
        self._messages, self._times, self._spoilt, self._last = [], [], [], None
        return burst


Fits = Callable[[tuple[bytes, ...]], bool]


def parted(burst: Burst, fits: Fits, gap: float = 0.0) -> tuple[Burst, ...]:
    """Return ``burst`` as the presses that it is made of: one, if nothing shows that it is more.

    It is parted where a pause is longer than the switcher's ``gap`` (seconds), and only if each
    part ``fits`` a preset exactly and the whole does not.
    """
    if burst.spoilt or fits(burst.messages):
        return (burst,)
    pauses = [
        at
        for at in range(1, len(burst.times))
        if burst.times[at] - burst.times[at - 1] >= PAUSE + gap
    ]
    if not pauses or len(pauses) > 32:
        return (burst,)
    return next(_ways(burst, 0, pauses, fits), (burst,))


def _ways(burst: Burst, start: int, pauses: list[int], fits: Fits) -> Iterator[tuple[Burst, ...]]:
    """Yield the ways to part what begins at ``start``, the longest first press first."""
    for end in (len(burst.messages), *reversed([one for one in pauses if one > start])):
        if not fits(burst.messages[start:end]):
            continue
        first = Burst(burst.messages[start:end], burst.times[start:end])
        if end == len(burst.messages):
            yield (first,)
            return
        yield from ((first, *rest) for rest in _ways(burst, end, pauses, fits))
