"""What is being done, while it takes long: one line on a terminal, which goes when it is done.

Nobody sees it who does not sit at a terminal, nor before a second is over. The line is written over
in place with nothing but a return and spaces, which every terminal knows.
"""

from __future__ import annotations

import os
import sys
import threading
from collections.abc import Callable
from contextlib import suppress
from types import TracebackType
from typing import Protocol, Self, TextIO

PATIENCE = 1.0
"""Seconds in which nothing is shown."""

_COLUMNS = 80  # of a terminal that does not say how many it has
_KEYS = len("^C")  # what a terminal writes behind the line when it is interrupted (common practice)


class Timer(Protocol):
    """What calls something later, in a thread of its own."""

    daemon: bool

    def start(self) -> None:
        """Begin to wait."""

    def cancel(self) -> None:
        """Call it no more."""


def can_rewrite(stream: TextIO | None) -> bool:
    """Tell whether a line on ``stream`` can be written over: a terminal that is not dumb."""
    return stream is not None and stream.isatty() and os.environ.get("TERM") != "dumb"


class Progress:
    """One line about what is being done, from ``with`` to its end.

    It comes when the patience of a second is over. ``timer`` is called with that and with what
    to do then.
    """

    def __init__(
        self,
        stream: TextIO | None = None,
        timer: Callable[[float, Callable[[], None]], Timer] = threading.Timer,
    ) -> None:
        """Prepare; the line stands on ``stream``, or else on the error output."""
        self._stream = sys.stderr if stream is None else stream
        self._timer: Timer | None = None
        if can_rewrite(self._stream):
            self._timer = timer(PATIENCE, self._show_from_now_on)
            self._timer.daemon = True
        # Held while the line is written: by the thread of the timer, and by who does the work.
        self._lock = threading.Lock()
        self._line = ""
        self._shown = 0
        self._late = False

    def __enter__(self) -> Self:
        """Begin to be patient."""
        if self._timer is not None:
            self._timer.start()
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        """Take the line away, however this ends."""
        if self._timer is not None:
            self._timer.cancel()
        self.pause()

    def doing(self, what: str, number: int, of: int) -> None:
        """Say that ``what`` is being made, the ``number``-th of so many steps."""
        with self._lock:
            self._line = f"{what} … {number} of {of}"
            self._write()

    def pause(self) -> None:
        """Take the line away until something else is being made, so that others can print."""
        with self._lock:
            self._line = ""
            self._write()

    def _show_from_now_on(self) -> None:
        with self._lock:
            self._late = True
            self._write()

    def _write(self) -> None:
        """Write the line over the one that is there; without one, take that away."""
        if not self._late or self._stream is None:
            return
        if not self._line and not self._shown:
            return
        with suppress(OSError, ValueError):
            room = _columns(self._stream) - 1  # in the last one a terminal may begin a new line
            line = self._line[:room]
            rest = " " * (self._shown - len(line)) if line else " " * min(self._shown + _KEYS, room)
            self._stream.write(f"\r{line}{rest}" if line else f"\r{rest}\r")
            self._stream.flush()
            self._shown = len(line)


def _columns(terminal: TextIO) -> int:
    with suppress(OSError, ValueError):
        return os.get_terminal_size(terminal.fileno()).columns or _COLUMNS
    return _COLUMNS
