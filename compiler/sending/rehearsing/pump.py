"""What comes from ports, from the keyboard of another process, and from signals: one after another.

A port is asked in a thread of its own, so that a pedal is not kept waiting by a screen.
"""

from __future__ import annotations

import signal
import threading
from collections.abc import Callable, Iterator
from contextlib import contextmanager, suppress
from types import FrameType

from setwright.compiler.sending.port.ear import Dropped, Ear, Heard
from setwright.compiler.sending.port.line import News
from setwright.compiler.sending.port.problem import Problem
from setwright.compiler.sending.rehearsing.deliveries import Output

LOOK = 0.1
"""Seconds after which a thread looks whether it is still needed."""

ENDING = tuple(
    getattr(signal, name) for name in ("SIGINT", "SIGTERM", "SIGHUP") if hasattr(signal, name)
)
"""Signals that end a live command; Windows has no SIGHUP."""


class Pump:
    """Threads that hand on what the ports say, from ``with`` to its end."""

    def __init__(
        self,
        line: Output,
        ear: Ear | None,
        news: Callable[[News], None],
        heard: Callable[[Heard | Dropped | Problem], None],
    ) -> None:
        self._stop = threading.Event()
        self._threads = [threading.Thread(target=self._read, args=(line, news), daemon=True)]
        if ear is not None:
            self._threads.append(
                threading.Thread(target=self._listen, args=(ear, heard), daemon=True)
            )

    def __enter__(self) -> None:
        """Begin."""
        for thread in self._threads:
            thread.start()

    def __exit__(self, *_: object) -> None:
        """End; nothing is handed on afterwards."""
        self._stop.set()
        for thread in self._threads:
            thread.join()

    def _read(self, line: Output, news: Callable[[News], None]) -> None:
        while not self._stop.is_set():
            one = line.get(LOOK)
            if one is not None:
                news(one)

    def _listen(self, ear: Ear, heard: Callable[[Heard | Dropped | Problem], None]) -> None:
        while not self._stop.is_set():
            one = ear.get(LOOK)
            if one is not None:
                heard(one)
            if isinstance(one, Problem):
                return


@contextmanager
def signals(ended: Callable[[int], None]) -> Iterator[None]:
    """Call ``ended`` with the number of a signal that asks us to end; what is ignored stays so."""

    def handler(number: int, frame: FrameType | None) -> None:
        ended(number)

    before = {
        number: signal.signal(number, handler)
        for number in ENDING
        if signal.getsignal(number) is not signal.SIG_IGN
    }
    try:
        yield
    finally:
        for number, old in before.items():
            with suppress(TypeError, ValueError):
                signal.signal(number, old)


def code_of(number: int) -> int:
    """Return the exit code of an end by a signal: 128 and its number, as shells report it."""
    return 128 + number
