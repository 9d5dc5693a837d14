"""What both interfaces of a live command show and understand: facts, keys, and who has them.

A full screen lays the facts out, plain lines print those that are new. Neither knows what is
rehearsed; they know what is `Live`.
"""

from __future__ import annotations

from typing import ClassVar, NamedTuple, Protocol

from setwright.compiler.sending.port.ear import Dropped, Heard
from setwright.compiler.sending.port.line import News
from setwright.compiler.sending.port.problem import Problem


class Fact(NamedTuple):
    """One thing to be known: a label and a text of one line, both without invisible signs.

    Of facts that do not all find room on a small screen those with the highest ``rank`` go first;
    0 never goes. ``stamp`` tells one fact from the same fact once more. ``strong`` is what one
    looks for; ``passing`` is what is true for a moment only, which nobody wants to have read out.
    """

    label: str
    text: str
    rank: int = 0
    stamp: int = 0
    strong: bool = False
    passing: bool = False


class Key(NamedTuple):
    """Something to be done: its name, the keys of a full screen, the words of plain lines.

    ``says`` is what stands at the bottom of the screen, ``means`` what it does. ``asks`` is what
    has to be typed besides, if anything has to.
    """

    name: str
    keys: tuple[str, ...]
    words: tuple[str, ...]
    says: str
    means: str
    asks: str = ""


class Live(Protocol):
    """What is done live, between its beginning and its end."""

    keys: ClassVar[tuple[Key, ...]]
    begun: bool
    over: bool

    @property
    def busy(self) -> bool:
        """Whether something is on its way out, and the port is there."""

    @property
    def starts(self) -> bool:
        """Whether beginning is doing the first thing, too; else the first key does it."""

    @property
    def by_itself(self) -> bool:
        """Whether it goes on by itself."""

    @property
    def title(self) -> str:
        """What this is."""

    @property
    def cautions(self) -> tuple[str, ...]:
        """What has to be read before anything is sent."""

    def begin(self, at: float) -> None:
        """Take note that they were read; ``at`` is when, in seconds of time.perf_counter()."""

    def press(self, key: str, at: float, text: str = "") -> None:
        """Do what the key of that name does; one of no name stops what goes by itself."""

    def step_by_foot(self, heard: Heard | Dropped | Problem) -> None:
        """Take note of what came in by a port."""

    def hear(self, news: News) -> None:
        """Take note of what became of what was sent."""

    def tick(self, now: float) -> None:
        """Do what is due."""

    def facts(self) -> list[Fact]:
        """Return all that is to be known now, what matters most first."""

    def summary(self) -> list[str]:
        """Return what there is to say at the end."""

    @property
    def code(self) -> int:
        """The exit code of an end by key."""

    def close(self) -> None:
        """Stop the clock and close the ports."""
