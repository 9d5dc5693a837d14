"""The command that hears what the switcher sends, switch by switch: audit."""

from __future__ import annotations

import math
import queue
import signal
import sys
import threading
import time
from contextlib import suppress
from typing import TYPE_CHECKING, Self

import click

from setwright.compiler.console import (
    compile_typed,
    exit_code,
    fail,
    from_nothing,
    print_findings,
    without_units,
)
from setwright.compiler.terminal import after
from setwright.scenes.wording import number_of

if TYPE_CHECKING:
    from collections.abc import Iterable
    from fractions import Fraction
    from types import FrameType

    from setwright.compiler.compiled import Compiled
    from setwright.compiler.sending.auditing.audit import Audit
    from setwright.compiler.sending.incoming.bursts import Burst
    from setwright.compiler.sending.incoming.decode import Message
    from setwright.compiler.sending.port.ear import Ear
    from setwright.compiler.sending.port.problem import Problem

_ALL_RIGHT, _NOT_ALL_RIGHT, _NO_PORT = 0, 1, 2
_LATE = 0.15
"""Seconds that what came in may take on its way from the port to us."""
_LOOK = 0.1
"""Seconds between two looks at what was typed."""


@click.command()
@click.argument("night", type=click.Path())
@click.option("--port", metavar="NAME", help="The input port, or a part of its name.")
@click.option("--done", is_flag=True, help="Note what was heard to be right, as done does.")
@without_units
@from_nothing
def audit(night: str, port: str | None, done: bool, without: tuple[str, ...], fresh: bool) -> None:
    """Hear what the switcher sends for NIGHT: each preset that you press is ticked, or corrected.

    CAUTION: a preset can be much louder than the one before it. Turn the amplifiers down first,
    and wear no headphones.

    Connect the switcher's MIDI OUT to the computer. Press the switches in their order, or in any
    other; what is mended is pressed again. Many presets send the same: where two may be meant, type
    the number of the one that it was, or its bank and switch. ‘list’ says what is left, ‘quit’ (or
    the end of input, or Ctrl-C) ends it with a report.

    Loops, relays, tempos and names cannot be heard. With --done they are taken on trust for what
    was heard to be right. The options have to be those of the plan.

    Exit 0: all that can be heard is right. 1: something differs, is in doubt, or was not pressed.
    2: no port, or a book with errors.
    """
    from setwright.compiler.sending.auditing.audit import Audit
    from setwright.compiler.sending.auditing.audit_report import CAUTION, head, report
    from setwright.compiler.sending.incoming.expected import tonight
    from setwright.compiler.sending.port.ear import Ear
    from setwright.compiler.sending.port.problem import Problem

    compiled = _without_errors(night, without, fresh=fresh)
    gap = compiled.book.switcher.gap_between_messages
    hearing = Audit(tonight(compiled), float(gap) / 1000)
    if not hearing.audible:
        fail("nothing can be heard: no preset of tonight sends a message, as the rig has it")
    ear = Ear.open(port)
    if isinstance(ear, Problem):
        fail(str(ear), _NO_PORT)
    with ear, _Interrupted() as interrupted:
        click.echo(CAUTION, err=True)
        _say(head(compiled, hearing, ear.port))
        problem = _Session(hearing, ear, gap).run(interrupted)
    _say(("", *report(compiled, hearing)))
    if done:
        _note(compiled, hearing)
    if problem is not None:
        fail(str(problem), _NO_PORT)
    sys.exit(_ALL_RIGHT if hearing.complete else _NOT_ALL_RIGHT)


def _without_errors(night: str, without: tuple[str, ...], *, fresh: bool) -> Compiled:
    from setwright.compiler.compiled import Compiled
    from setwright.scenes.finding import Severity, summary, worst

    compiled = compile_typed(night, without, fresh=fresh)
    if not isinstance(compiled, Compiled) or worst(compiled.findings) is Severity.ERROR:
        print_findings(compiled, "text", to_stderr=True)
        click.echo(f"nothing is heard: {summary(compiled.findings)}; run check", err=True)
        sys.exit(exit_code(compiled))
    return compiled


def _say(lines: Iterable[str]) -> None:
    from setwright.scenes.finding import visible

    for line in lines:
        click.echo(visible(line))


class _Interrupted:
    """Whether Ctrl-C was pressed: the first is taken note of, the next one interrupts at once.

    Nothing is torn apart in the middle, so that what was heard until then can be told.
    """

    def __enter__(self) -> Self:
        self.came = False
        self._handler = signal.getsignal(signal.SIGINT)
        if self._handler is signal.default_int_handler:
            signal.signal(signal.SIGINT, self._note)
        return self

    def __exit__(self, *_: object) -> None:
        if self._handler is signal.default_int_handler:
            signal.signal(signal.SIGINT, self._handler)

    def _note(self, number: int, frame: FrameType | None) -> None:
        if self.came:
            raise KeyboardInterrupt
        self.came = True


class _Session:
    """What comes in at the port and from the keyboard, in turns."""

    def __init__(self, audit: Audit, ear: Ear, gap: Fraction) -> None:
        from setwright.compiler.sending.incoming.bursts import Bursts
        from setwright.compiler.sending.incoming.decode import Decoder

        self._audit, self._ear = audit, ear
        self._bursts, self._decoder = Bursts(gap), Decoder()
        self._told_of_exclusive = False
        self._typed: queue.SimpleQueue[tuple[float, str]] = queue.SimpleQueue()
        self._said: tuple[float, str] | None = None

    def run(self, interrupted: _Interrupted) -> Problem | None:
        """Listen until the player has enough of it, or the port is gone; return why it is."""
        threading.Thread(target=self._read, daemon=True).start()
        problem = None
        while problem is None and not interrupted.came and self._answered():
            problem = self._listen(_LOOK)
            self._heard(self._bursts.ended(time.perf_counter() - _LATE))
        # What was pressed before the end has come in meanwhile.
        until = time.perf_counter() + _LATE
        while problem is None and (left := until - time.perf_counter()) > 0:
            problem = self._listen(left)
        for message in self._decoder.flush():
            self._take(message)
        self._heard(self._bursts.ended(math.inf))
        return problem

    def _read(self) -> None:
        """Pass on what is typed, line by line; its end is as if somebody wished to quit."""
        if sys.stdin is not None:
            reconfigure = getattr(sys.stdin, "reconfigure", None)
            if reconfigure is not None:
                reconfigure(errors="replace")
            with suppress(OSError, ValueError):
                for line in sys.stdin:
                    self._typed.put((time.perf_counter(), line.strip()))
        self._typed.put((time.perf_counter(), "quit"))

    def _answered(self) -> bool:
        """Do what was typed; False where it was to end."""
        from setwright.compiler.sending.auditing.audit_report import HELP, left

        with suppress(queue.Empty):
            while True:
                at, typed = self._said = self._said or self._typed.get_nowait()
                match typed.casefold():
                    case "quit":
                        return False
                    case "list":
                        _say(left(self._audit))
                    case "" | "help" | "?":
                        _say((HELP,))
                    case _ if not self._is_quiet_since(at):
                        return True  # it is about a press that may still be on its way
                    case _:
                        _say(self._audit.answer(typed))
                self._said = None
        return True

    def _is_quiet_since(self, at: float) -> bool:
        now = time.perf_counter()
        return now - at >= _LATE and self._bursts.left(now) is None

    def _listen(self, timeout: float) -> Problem | None:
        """Take what comes in within so many seconds; return what is wrong with the port."""
        from setwright.compiler.sending.port.ear import Dropped, Heard

        came = self._ear.get(timeout)
        now = time.perf_counter()
        match came:
            case None:
                for message in self._decoder.flush(now):
                    self._take(message)
            case Heard():
                for message in self._decoder.feed(came.at, came.data):
                    self._take(message)
            case Dropped():
                lost = f"{number_of(came.packets, 'packet')} came too fast"
                self._heard(self._bursts.spoil(now, lost))
            case _:
                return came
        return None

    def _take(self, message: Message) -> None:
        """Sort a message: a preset's, the switcher's own, or what nobody can read."""
        from setwright.compiler.midi import encode
        from setwright.compiler.sending.incoming.decode import Kind

        if message.voice is not None:
            self._heard(self._bursts.message(message.at, encode(message.voice)))
        elif message.is_odd:
            self._heard(self._bursts.spoil(message.at, message.kind.value))
        elif message.kind is Kind.EXCLUSIVE and not self._told_of_exclusive:
            self._told_of_exclusive = True
            _say(("note: it sends system exclusive messages too; they are passed over",))

    def _heard(self, burst: Burst | None) -> None:
        if burst is not None:
            _say(self._audit.hear(burst))


def _note(compiled: Compiled, hearing: Audit) -> None:
    """Write what was proven into the file of what the switcher holds, as ``done`` does."""
    from setwright.compiler.outputs.done import done
    from setwright.compiler.plan import plan_of
    from setwright.scenes.finding import visible

    found = plan_of(compiled)
    to_type = {step.address for step in found.steps}
    proven = [at for at in hearing.proven if at in to_type]
    if not proven:
        click.echo("nothing to note: nothing that was heard to be right is new")
        return
    noted = done(compiled, found, proven)
    if noted.problem is not None:
        fail(visible(str(noted.problem)))
    at = compiled.book.stored_at
    name = visible(at.name if at is not None else "")
    with after(f"{name} is written"):
        count = number_of(noted.presets, "preset")
        click.echo(f"noted in {name}: {count}; of each, this was taken on trust")
        _say(
            f"  {one.label}: {', '.join(one.silently)}"
            for one in hearing.presets
            if one.address in proven
        )
