"""A line check under way: each line sounded, and ticked by whoever listens."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field
from typing import ClassVar

from setwright.compiler.lowering.wire import transmit
from setwright.compiler.sending.port.ear import Dropped, Heard
from setwright.compiler.sending.port.line import News
from setwright.compiler.sending.port.problem import Problem
from setwright.compiler.sending.rehearsing.deliveries import Deliveries
from setwright.compiler.sending.rehearsing.line_check import LineCheck
from setwright.compiler.sending.rehearsing.live import Fact, Key
from setwright.compiler.sending.rehearsing.suspects import report
from setwright.compiler.sending.rehearsing.walk import CAUTIONS
from setwright.compiler.sending.send import Plan
from setwright.scenes.finding import visible
from setwright.scenes.wording import joined

KEYS = (
    Key("heard", ("y", " ", "enter"), ("heard", "yes", "y"), "y heard", "it is heard"),
    Key("missed", ("n",), ("not", "no", "n"), "n not heard", "it is not heard"),
    Key("back", ("b", "left", "pageup"), ("back", "b"), "b back", "back to the one before"),
    Key("again", ("r",), ("again", "r"), "r again", "send it once more"),
    Key("end", ("q",), ("end", "quit", "q"), "q end", "end the line check"),
)


@dataclass
class CheckWalk:
    """One line check. The key that says heard begins it, too."""

    line_check: LineCheck
    out: Deliveries
    begun: bool = False
    over: bool = False
    keys: ClassVar[tuple[Key, ...]] = KEYS
    _serial: int = 0
    _said: str = ""
    _closed: bool = field(default=False)

    @property
    def busy(self) -> bool:
        """Whether something is on its way out, and the port is there."""
        return self.out.busy

    @property
    def starts(self) -> bool:
        """Whether beginning sends something: the first line is sounded."""
        return True

    @property
    def by_itself(self) -> bool:
        """Whether it goes on by itself: never, for somebody has to listen."""
        return False

    @property
    def title(self) -> str:
        """What is checked."""
        compiled = self.line_check.compiled
        gone = sorted(compiled.target.gone)
        without = f", without {joined(gone)}" if gone else ""
        return visible(f"line check of {compiled.book.rig.rig or 'this rig'}{without}")

    @property
    def cautions(self) -> tuple[str, ...]:
        """What has to be read before the first message."""
        return CAUTIONS

    def begin(self, at: float) -> None:
        """Begin with the first line, once the cautions were read."""
        self.begun = True
        self._sound(at)

    def press(self, key: str, at: float, text: str = "") -> None:
        """Do what a key does."""
        self._said = ""
        before = self.line_check.at
        if key == "end":
            self.over = True
            return
        if key == "back":
            self.line_check.back()
            if before == 0:
                self._said = "this is the first line"
        elif key in {"heard", "missed"}:
            self.line_check.tick(key == "heard")
        if self.line_check.check is None:
            self._serial += 1
            self.over = True
        elif key == "again" or self.line_check.at != before:
            self._sound(at)

    def step_by_foot(self, heard: Heard | Dropped | Problem) -> None:
        """Do nothing: whoever ticks has to say what was heard."""

    def hear(self, news: News) -> None:
        """Take note of what became of what was sent."""
        self.out.hear(news)

    def tick(self, now: float) -> None:
        """Do nothing: nothing goes by itself."""

    def _sound(self, at: float) -> None:
        check = self.line_check.check
        self._serial += 1
        if check is not None and check.sent:
            route = transmit(check.sent, wait=True)
            self.out.send(check.name, Plan(route), route.sound, at)

    def facts(self) -> list[Fact]:
        """Return all that is to be known now, what matters most first."""
        return [one._replace(text=visible(one.text)) for one in self._facts()]

    def _facts(self) -> Iterator[Fact]:
        check, serial, heard = self.line_check.check, self._serial, self.line_check.heard
        if not self.begun:
            yield Fact("lines", f"{len(heard)} to be heard, one after the other", strong=True)
        elif check is None:
            yield Fact("now", "that was the last line", strong=True)
        else:
            of = f"{self.line_check.at + 1} of {len(heard)}"
            yield Fact("now", f"{check.name} ({of})", 0, serial, strong=True)
            for hand in check.by_hand:
                yield Fact("by hand", hand, 0, serial)
            if check.called:
                yield Fact("preset", check.called, 2, serial)
            yield Fact("listen", check.listen, 0, serial, strong=True)
            if check.sent:
                yield Fact("sent", self.out.said, 1, serial, passing=self.out.busy)
                if self.out.last is not None:
                    for line in self.out.last.lines:
                        yield Fact("message", line, 5, serial)
            else:
                yield Fact("sent", "nothing: no message can do it from here", 3, serial)
        if self._said:
            yield Fact("word", self._said, 0, serial)
        yield Fact("heard", f"{heard.count(True)}; not heard: {heard.count(False)}", 3)
        yield Fact("port", self.out.port, 1)

    def summary(self) -> list[str]:
        """Return the report, and what there is to say of the port."""
        said = [self.title, *report(self.line_check), *self.out.ended]
        return [visible(one) for one in said]

    @property
    def code(self) -> int:
        """The exit code of an end by key: 1 where something was not heard, 2 without a port."""
        if self.out.lost is not None:
            return 2
        return 1 if False in self.line_check.heard else 0

    def close(self) -> None:
        """Close the port."""
        if not self._closed:
            self._closed = True
            self.out.close()
