"""A live command in plain lines: one fact a line, words typed and Enter; for pipes and readers.

Only what is new is printed. Where words come from a pipe, each waits until what the one before
has sent is out, so that a list of words is a whole walk.
"""

from __future__ import annotations

import io
import queue
import sys
import threading
import time
from collections import deque
from typing import NamedTuple, TextIO

import click

from setwright.compiler.sending.port.ear import Dropped, Ear, Heard
from setwright.compiler.sending.port.line import News
from setwright.compiler.sending.port.problem import Problem
from setwright.compiler.sending.rehearsing.deliveries import Output
from setwright.compiler.sending.rehearsing.live import Fact, Live
from setwright.compiler.sending.rehearsing.pump import Pump, code_of, signals
from setwright.scenes.finding import visible
from setwright.scenes.quantities import quoted

ROUND = 0.05
"""Seconds between two looks at what is due."""
HELP = ("help", "h", "?")
ALL = ("all", "a")


class Typed(NamedTuple):
    """A line that was typed, and when, in seconds of time.perf_counter()."""

    text: str
    at: float


class Closed(NamedTuple):
    """The input has ended."""


class Signalled(NamedTuple):
    """A signal came."""

    number: int


class FromLine(NamedTuple):
    """What the output port has to tell."""

    news: News


class FromEar(NamedTuple):
    """What the input port has to tell."""

    heard: Heard | Dropped | Problem


Event = Typed | Closed | Signalled | FromLine | FromEar


class Plain:
    """Something live in plain lines."""

    def __init__(self, live: Live, stream: TextIO, *, paced: bool) -> None:
        self._live, self._stream, self._paced = live, stream, paced
        self._events: queue.SimpleQueue[Event] = queue.SimpleQueue()
        self._typed: deque[Typed] = deque()
        self._printed: set[tuple[str, str, int]] = set()
        self._closed = False

    def run(self, line: Output, ear: Ear | None) -> int:
        """Go on until a word, a signal or the end of the input ends it; return the exit code."""
        live, put = self._live, self._events.put
        for caution in live.cautions:
            click.echo(f"caution: {caution}")
        first = live.keys[0].words[0]
        click.echo(f"{live.title}: type help for the words, {first} to begin")
        self._print()
        threading.Thread(target=self._read, daemon=True).start()
        pump = Pump(line, ear, lambda one: put(FromLine(one)), lambda one: put(FromEar(one)))
        with signals(lambda number: put(Signalled(number))), pump:
            while not live.over:
                ended = self._take()
                if ended is not None:
                    return code_of(ended.number)
                self._print()
                self._obey()
                live.tick(time.perf_counter())
                self._print()
        return live.code

    def _take(self) -> Signalled | None:
        """Take what has come next; return it where it is a signal."""
        try:
            event = self._events.get(timeout=ROUND)
        except queue.Empty:
            return None
        match event:
            case Typed():
                self._typed.append(event)
            case Closed():
                self._closed = True
            case FromLine(news):
                self._live.hear(news)
            case FromEar(heard):
                self._live.step_by_foot(heard)
            case Signalled():
                return event
        return None

    def _obey(self) -> None:
        """Do what was typed, as long as nothing has to be waited for."""
        live = self._live
        while self._typed and not live.over and not (self._paced and live.busy):
            text, at = self._typed.popleft()
            self._do(text, time.perf_counter() if self._paced else at)
            self._print()
        goes_on = live.busy and self._paced
        if self._closed and not self._typed and not goes_on and not live.by_itself:
            live.over = True

    def _do(self, text: str, at: float) -> None:
        """Do what was typed, ``at`` which second."""
        live = self._live
        word, _, rest = text.strip().partition(" ")
        word = word.lower()
        if word in HELP:
            for one in live.keys:
                click.echo(f"{' or '.join(one.words)}: {one.means}")
            click.echo(f"{' or '.join(ALL)}: say everything again")
            click.echo(f"Enter alone: {live.keys[0].words[0]}")
            return
        if word in ALL:
            self._printed.clear()
            return
        if live.begun and live.by_itself:
            live.press("end" if word in live.keys[-1].words else "", at)
            return
        known = {one: key for key in live.keys for one in key.words}
        known[""] = live.keys[0]
        key = known.get(word)
        if key is None:
            click.echo(f"unknown: {visible(quoted(word))}; type help for the words")
        elif key.asks and not rest.strip():
            click.echo(f"type {key.words[0]} and what to {key.asks}, for example: {key.words[0]} 7")
        elif not live.begun and key.name != "end":
            live.begin(at)
            if not live.starts:
                live.press(key.name, at, rest)
        else:
            live.press(key.name, at, rest)

    def _print(self) -> None:
        """Print the facts that are new."""
        facts = self._live.facts()
        for fact in facts:
            if not fact.passing and _known(fact) not in self._printed:
                click.echo(f"{fact.label}: {visible(fact.text)}")
        self._printed = {_known(fact) for fact in facts if not fact.passing}

    def _read(self) -> None:
        try:
            for line in self._stream:
                self._events.put(Typed(line, time.perf_counter()))
        except (OSError, ValueError):  # the terminal has gone
            pass
        finally:
            self._events.put(Closed())


def _known(fact: Fact) -> tuple[str, str, int]:
    return fact.label, fact.text, fact.stamp


def run(live: Live, line: Output, ear: Ear | None) -> int:
    """Run something live in plain lines on standard input and output; return its exit code."""
    stream = sys.stdin
    if stream is None:  # it was closed from the beginning
        return Plain(live, io.StringIO(), paced=True).run(line, ear)
    # Whatever is typed or led in is no reason to fail.
    reconfigure = getattr(stream, "reconfigure", None)
    if reconfigure is not None:
        reconfigure(errors="backslashreplace")
    return Plain(live, stream, paced=not stream.isatty()).run(line, ear)
