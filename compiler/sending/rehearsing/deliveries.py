"""What was given to a port and what became of it: when it left, and when the sound is there.

Both the walk through the night and the line check send through here. Nothing here waits: news of
the line are handed in, and what there is to say is asked for.
"""

from __future__ import annotations

import queue
import time
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from fractions import Fraction
from typing import Protocol

from setwright.compiler.sending.port.line import News, Restarted
from setwright.compiler.sending.port.problem import Problem
from setwright.compiler.sending.port.schedule import Begun, Bundle, Done, Skipped
from setwright.compiler.sending.send import Plan, bundles
from setwright.scenes.finding import visible
from setwright.scenes.wording import number_of

REFUSED = "message-refused"
"""The code of a problem that leaves the port as it is."""


class Output(Protocol):
    """An output port that keeps time: `setwright.compiler.sending.port.line.Line`, or like it."""

    port: str
    real_time: bool

    def send(self, bundles: Sequence[Bundle], *, settles: float = 0.0) -> int:
        """Send a delivery, and return its number at once."""

    def clock(self, bpm: Fraction | None, *, start: bool = False, stop: bool = False) -> None:
        """Run a clock of so many quarter notes a minute; None ends it."""

    def get(self, timeout: float) -> News | None:
        """Return what there is to tell within ``timeout`` seconds."""

    def close(self) -> Problem | None:
        """Stop the clock, send the rest, close the port."""


class Nowhere:
    """An output behind which there is nothing, for a walk without a rig."""

    port, real_time = "nowhere", True

    def __init__(self) -> None:
        self._number = 0
        self._news: queue.SimpleQueue[News] = queue.SimpleQueue()

    def send(self, bundles: Sequence[Bundle], *, settles: float = 0.0) -> int:
        """Take a delivery, and say at once that it went."""
        self._number += 1
        now = time.perf_counter()
        count = sum(len(messages) for _, messages in bundles)
        self._news.put(Begun(self._number, now))
        self._news.put(Done(self._number, count, now))
        return self._number

    def clock(self, bpm: Fraction | None, *, start: bool = False, stop: bool = False) -> None:
        """Take note of nothing."""

    def get(self, timeout: float) -> News | None:
        """Return the next piece of news."""
        try:
            return self._news.get(timeout=timeout) if timeout else self._news.get_nowait()
        except queue.Empty:
            return None

    def close(self) -> Problem | None:
        """Return nothing, for nothing can be lost."""


@dataclass
class Delivery:
    """One delivery: asked for ``at`` (seconds of time.perf_counter()), and what became of it."""

    name: str
    lines: tuple[str, ...]
    at: float
    settles: Fraction
    begun: float | None = None
    done: float | None = None
    skipped: bool = False
    whole: Callable[[], None] = field(default=lambda: None)


@dataclass
class Deliveries:
    """All that goes out by one port. ``lost`` is why the port is away, None while it is there."""

    line: Output
    now: Callable[[], float] = time.perf_counter
    wall: Callable[[], float] = time.time
    last: Delivery | None = None
    lost: Problem | None = None
    problems: list[str] = field(default_factory=list)
    came_back: str = ""
    skipped: int = 0
    _open: dict[int, Delivery] = field(default_factory=dict)
    _newest: int = 0

    def send(
        self,
        name: str,
        planned: Plan,
        settles: Fraction,
        at: float,
        whole: Callable[[], None] = lambda: None,
    ) -> None:
        """Send all of ``planned``; ``whole`` is called when the last message is out."""
        self.last = Delivery(name, tuple(planned.lines()), at, settles, whole=whole)
        self._newest = self.line.send(as_bytes(planned), settles=float(settles))
        self._open[self._newest] = self.last

    def hear(self, news: News) -> None:
        """Take note of a piece of news."""
        match news:
            case Begun(number, at):
                if number in self._open:
                    self._open[number].begun = at
            case Done(number, _, at):
                delivery = self._open.get(number)
                if delivery is not None:
                    delivery.done = at
                    delivery.whole()
                    self._forget(number)
            case Skipped(number):
                if number in self._open:
                    self._open[number].skipped = True
                    self.skipped += 1
                    self._forget(number)
            case Restarted(why):
                self.lost = None
                self.came_back = self.clock_time(self.now())
                self.note(f"the port is back, and the last was sent again ({why.code})")
            case Problem():
                if news.code != REFUSED:
                    self.lost = news
                self.note(str(news))

    def close(self) -> None:
        """Send the rest, close the port, and take note of what it still has to tell."""
        problem = self.line.close()
        while (news := self.line.get(0)) is not None:
            self.hear(news)
        if problem is not None and self.lost is None:
            self.lost = problem
            self.note(str(problem))
        if self.busy and self.last is not None:
            # An end waits for a slow unit only so long.
            self.note(
                f"{self.last.name}: the end came before it had begun, so it was not sent"
                if self.last.begun is None
                else f"{self.last.name}: the end came before all of it was sent, so the rig is "
                "between two scenes; send one again"
            )

    def note(self, problem: str) -> None:
        """Take note of a problem, with the time of day."""
        self.problems.append(f"{self.clock_time(self.now())[:8]} {problem}")

    def _forget(self, number: int) -> None:
        # The newest may be sent again, after its port was away.
        for other in [one for one in self._open if one <= number and one != self._newest]:
            del self._open[other]

    def clock_time(self, at: float) -> str:
        """Return the time of day, to the ms, of a second of time.perf_counter()."""
        seconds = self.wall() - (self.now() - at)
        return f"{time.strftime('%H:%M:%S', time.localtime(seconds))}.{int(seconds % 1 * 1000):03d}"

    @property
    def busy(self) -> bool:
        """Whether the last delivery is on its way, and the port is there."""
        one = self.last
        return one is not None and one.done is None and not one.skipped and self.lost is None

    @property
    def said(self) -> str:
        """When the last delivery left and when its sound is there, in words."""
        one = self.last
        if one is None:
            return ""
        if one.skipped:
            return "not sent: a newer one came before it had begun"
        if one.begun is None:
            waits = "until the port is back" if self.lost is not None else "for the one before it"
            return f"waits {waits}"
        late = (one.begun - one.at) * 1000
        through = "" if one.done is not None else "; the rest is on its way"
        count = number_of(len(one.lines), "message")
        return (
            f"{count} at {self.clock_time(one.begun)}, {late:.1f} ms after the key; "
            f"sound {float(one.settles):.0f} ms later{through}"
        )

    @property
    def port(self) -> str:
        """How the port is, in words."""
        name = visible(f"‘{self.line.port}’")
        if self.lost is not None:
            return f"{name} LOST: {self.lost}; it is sent again when it is back"
        back = f", back since {self.came_back[:8]}" if self.came_back else ""
        slow = "" if self.line.real_time else "; no real-time priority here, so a clock may be late"
        return f"{name} is there{back}{slow}"

    @property
    def ended(self) -> list[str]:
        """What is to be said of the port at the end."""
        said = [f"problem: {one}" for one in self.problems]
        if self.skipped:
            count = number_of(self.skipped, "delivery", "deliveries")
            said.append(f"skipped: {count}, for a newer one came before it had begun")
        return said


def as_bytes(planned: Plan) -> list[Bundle]:
    """Return the messages of ``planned`` as they are sent."""
    return [
        (ms, [bytes.fromhex(message) for message in messages])
        for ms, messages in bundles(planned.route)
    ]
