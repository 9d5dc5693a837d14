"""How the program ends when it is cut short: one line at most, an exit code, never a traceback.

2: nothing can be printed, for the disk behind the output is full or the output is closed. 130:
interrupted from the keyboard. 141: who listened to the output has gone; that is no fault, so
nothing is said. (Shells report a program that a signal ended as 128 and the signal's number,
SIGINT is 2, SIGPIPE 13: POSIX.1-2017, XCU 2.8.2, and common practice.)
"""

from __future__ import annotations

import errno
import os
import signal
import sys
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from types import FrameType
from typing import Any, NoReturn, Self, TextIO

import click

from setwright.scenes.finding import visible

CANNOT_PRINT = 2
INTERRUPTED = 130
NOBODY_LISTENS = 141


class Commands(click.Group):
    """The commands; whatever cuts one of them short ends here."""

    def main(self, *args: Any, **keywords: Any) -> Any:
        """Run the command that was typed, and exit."""
        if sys.stdout is None:
            say("standard output is closed; leave it open, or lead it into a file")
            sys.exit(CANNOT_PRINT)
        _occupy_closed_streams()
        with _ending():
            try:
                return super().main(*args, **keywords)
            finally:
                sys.stdout.flush()

    def make_context(self, *args: Any, **keywords: Any) -> click.Context:
        """Read what was typed, which may print help."""
        with _ending():
            return super().make_context(*args, **keywords)

    def invoke(self, ctx: click.Context) -> Any:
        """Carry a command out."""
        with _ending():
            return super().invoke(ctx)


class Interrupts:
    """Interrupts from the keyboard, of which none is lost to a command that goes on for long.

    Python drops one, and prints a traceback, where it comes while an object is taken apart: what
    is raised there reaches nobody. Here it is kept until somebody asks for it with `heed`.
    """

    def __enter__(self) -> Self:
        """Begin to take note of them, unless the command was started so that there are none."""
        self._came = False
        self._hook, self._handler = sys.unraisablehook, signal.getsignal(signal.SIGINT)
        if self._handler is signal.default_int_handler:
            signal.signal(signal.SIGINT, self._note)
            sys.unraisablehook = self._say_all_else
        return self

    def __exit__(self, *_: object) -> None:
        """Let Python have them again."""
        if self._handler is signal.default_int_handler:
            signal.signal(signal.SIGINT, self._handler)
            sys.unraisablehook = self._hook

    def heed(self) -> None:
        """Raise KeyboardInterrupt if one came."""
        if self._came:
            raise KeyboardInterrupt

    def _note(self, number: int, frame: FrameType | None) -> NoReturn:
        self._came = True
        raise KeyboardInterrupt

    def _say_all_else(self, unraisable: sys.UnraisableHookArgs) -> None:
        if not issubclass(unraisable.exc_type, KeyboardInterrupt):
            self._hook(unraisable)


@contextmanager
def after(done: str) -> Iterator[None]:
    """Print what was done; should that fail, the one line on the error output says so."""
    try:
        yield
    except OSError as error:
        error.add_note(done)
        raise


def say(sentence: str) -> None:
    """Print one line on the error output, if that takes anything."""
    with suppress(OSError):
        click.echo(f"setwright: {sentence}", err=True)


def end_line() -> None:
    """End the line in which a terminal shows that it was interrupted."""
    for stream in (sys.stderr, sys.stdout):
        if stream is not None and stream.isatty():
            with suppress(OSError):
                click.echo(file=stream)
            return


@contextmanager
def _ending() -> Iterator[None]:
    try:
        yield
    except OSError as error:
        _cut_short(error)
    except KeyboardInterrupt:
        say("interrupted")
        sys.exit(INTERRUPTED)


def _cut_short(error: OSError) -> NoReturn:
    # Windows calls a pipe without a reader an invalid argument (common practice, no source).
    gone = {errno.EPIPE} | ({errno.EINVAL} if sys.platform == "win32" else set())
    if error.filename is None and error.errno in gone:
        code = NOBODY_LISTENS
    else:
        code = CANNOT_PRINT
        what = "print" if error.filename is None else f"use ‘{visible(str(error.filename))}’"
        why = (error.strerror or str(error)).lower()
        done = "".join(f"; {note}" for note in getattr(error, "__notes__", ()))
        say(f"cannot {what}: {why}{done}")
    for stream in (sys.stdout, sys.stderr):
        _give_up(stream)
    sys.exit(code)


def _give_up(stream: TextIO) -> None:
    """Let what a stream still holds go nowhere, or the interpreter would try it once more."""
    try:
        stream.flush()
    except (OSError, ValueError):
        with suppress(OSError, ValueError):
            nowhere = os.open(os.devnull, os.O_WRONLY)
            os.dup2(nowhere, stream.fileno())
            os.close(nowhere)
    except AttributeError:  # it was closed from the beginning
        pass


def _occupy_closed_streams() -> None:
    """Keep a file that is opened later from taking the number of a stream that is closed."""
    if sys.stdin is None or sys.stderr is None:
        while (handle := os.open(os.devnull, os.O_RDWR)) <= 2:
            pass
        os.close(handle)
