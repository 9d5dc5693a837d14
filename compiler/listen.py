"""The command that says what comes in at a MIDI input."""

from __future__ import annotations

import math
import shutil
import sys
import time
from typing import TYPE_CHECKING

import click

from setwright.compiler.console import (
    compile_typed,
    exit_code,
    fail,
    print_findings,
    say_errors,
    without_units,
)
from setwright.compiler.progress import can_rewrite
from setwright.compiler.terminal import Interrupts, end_line

if TYPE_CHECKING:
    from setwright.compiler.sending.incoming.listen import Listener
    from setwright.compiler.sending.incoming.meaning import Meaning
    from setwright.compiler.sending.port.ear import Ear
    from setwright.compiler.sending.port.problem import Problem

_ROUND = 0.1
"""Seconds for which the port may say nothing before the clock on the wall is looked at."""
_CLOCK_EVERY = 1.0
"""Seconds from one line about the clock to the next."""


def _finite(context: click.Context, parameter: click.Parameter, seconds: float | None) -> object:
    if seconds is not None and not math.isfinite(seconds):
        raise click.BadParameter("write a number of seconds")
    return seconds


@click.command()
@click.argument("night", type=click.Path(), required=False)
@click.option("--port", metavar="NAME", help="The input port, or a part of its name.")
@click.option(
    "--for",
    "seconds",
    metavar="SECONDS",
    type=click.FloatRange(0, min_open=True),
    callback=_finite,
    help="End after so many seconds, and not only with Ctrl-C.",
)
@without_units
def listen(
    night: str | None, port: str | None, seconds: float | None, without: tuple[str, ...]
) -> None:
    """Say what comes in at a MIDI input, message by message, until Ctrl-C ends it.

    With NIGHT it is said in the words of its rig: which unit a program or control is for, and what
    it does there. Messages that are cut short or make no sense are named, and of a clock its tempo
    and how even it is. At the end all of it is summed up.
    """
    if night is None and without:
        raise click.UsageError("--without is about the units of a night: name NIGHT, too")
    meaning = None if night is None else _meaning(night, without)
    from setwright.compiler.sending.incoming.listen import Listener
    from setwright.compiler.sending.port.ear import Ear
    from setwright.compiler.sending.port.problem import Problem
    from setwright.scenes.finding import visible

    ear = Ear.open(port)
    if isinstance(ear, Problem):
        fail(str(ear))
    listener, page = Listener(meaning), _Page()
    problem = None
    with ear:
        until = f"for {seconds:g} s; Ctrl-C ends it sooner" if seconds else "Ctrl-C ends it"
        click.echo(visible(f"listening to ‘{ear.port}’; {until}"), err=True)
        try:
            with Interrupts() as interrupts:
                problem = _hear(ear, listener, page, seconds, interrupts)
        except KeyboardInterrupt:
            page.leave_line()
        page.end(listener)
    if problem is not None:
        fail(str(problem))


def _meaning(night: str, without: tuple[str, ...]) -> Meaning:
    """Return what messages mean on a night's rig; stop where it cannot be read."""
    from setwright.compiler.compiled import Compiled
    from setwright.compiler.sending.incoming.meaning import Meaning

    compiled = compile_typed(night, without)
    if not isinstance(compiled, Compiled):
        print_findings(compiled, "text", to_stderr=True)
        sys.exit(exit_code(compiled))
    say_errors(compiled)
    return Meaning(compiled)


def _hear(
    ear: Ear, listener: Listener, page: _Page, seconds: float | None, interrupts: Interrupts
) -> Problem | None:
    """Print what comes in until the time is over, or the port is gone; then say why."""
    import gc

    from setwright.compiler.sending.port.problem import Problem

    gc.enable()  # which `run` in `cli` leaves to whoever goes on for long
    until = math.inf if seconds is None else time.perf_counter() + seconds
    while (left := until - time.perf_counter()) > 0:
        interrupts.heed()
        came = ear.get(min(left, _ROUND))
        if isinstance(came, Problem):
            return came
        lines = listener.silent(time.perf_counter()) if came is None else listener.take(came)
        for line in lines:
            page.say(line)
        page.clock(listener)
    return None


class _Page:
    """Standard output. On a terminal the line about the clock stands last, and is written over."""

    def __init__(self) -> None:
        self._rewrites = can_rewrite(sys.stdout)
        self._shown = ""
        self._due = 0.0
        self._clocks = 0

    def say(self, line: str) -> None:
        """Print a line that stays."""
        from setwright.scenes.finding import visible

        shown = self._shown
        self._wipe()
        click.echo(visible(line))
        self._put(shown)

    def clock(self, listener: Listener) -> None:
        """Print how the clock goes, if it is time, and if it went on."""
        if listener.clock.last is None:
            self._wipe()
            return
        now = time.perf_counter()
        if now < self._due or listener.clock.clocks == self._clocks:
            return
        line = listener.clock_line()
        if line is None:
            return
        self._due, self._clocks = now + _CLOCK_EVERY, listener.clock.clocks
        if self._rewrites:
            self._wipe()
            self._put(line)
        else:
            click.echo(line)

    def leave_line(self) -> None:
        """Leave what stands in the line in which a terminal shows that it was interrupted."""
        self._shown = ""
        end_line()

    def end(self, listener: Listener) -> None:
        """Print the summary."""
        self._wipe()
        for line in listener.summary():
            self.say(line)

    def _wipe(self) -> None:
        if self._shown:
            click.echo(f"\r{' ' * len(self._shown)}\r", nl=False)
            self._shown = ""

    def _put(self, line: str) -> None:
        if line and self._rewrites:
            # In the last column a terminal may begin a new line.
            self._shown = line[: shutil.get_terminal_size().columns - 1]
            click.echo(self._shown, nl=False)
