"""The process that holds a driver, as its parent sees it: started, told, heard, and ended.

The driver lives in a process of its own (`setwright.compiler.sending.port.engine`), for three
reasons: its libraries write to the terminal, they crash, and where a JACK server dies they may
hang for ever with the interpreter locked. Besides, a clock that shares an interpreter with
anything else is some ten ms late. This room starts that process, listens to it with a limit on
its silence, and ends it whatever happens.
"""

from __future__ import annotations

import json
import queue
import subprocess
import sys
import threading
import time
from collections.abc import Sequence
from contextlib import suppress
from typing import IO, Any, NamedTuple

ENGINE = (sys.executable, "-P", "-m", "setwright.compiler.sending.port.engine")
"""The process that holds the driver; -P keeps the user's folder out of its imports."""


class Patience(NamedTuple):
    """Seconds for which the process may say nothing: at first, while Python starts, and then."""

    start: float = 10.0
    word: float = 1.5


PATIENCE = Patience()
"""It says that it is there before it touches a driver, and then speaks ten times a second."""


class Gone(NamedTuple):
    """The process has ended, with this exit code."""

    status: int | None


class Child:
    """A running process that holds a driver."""

    def __init__(
        self,
        request: dict[str, object],
        *,
        patience: Patience = PATIENCE,
        engine: Sequence[str] = ENGINE,
    ) -> None:
        self._patience = patience
        self._process = subprocess.Popen(
            engine, stdin=subprocess.PIPE, stdout=subprocess.PIPE, stderr=subprocess.DEVNULL
        )
        self._words: queue.SimpleQueue[bytes] = queue.SimpleQueue()
        assert self._process.stdout is not None
        self._listener = threading.Thread(
            target=_listen, args=(self._process.stdout, self._words), daemon=True
        )
        self._listener.start()
        self._spoke = time.perf_counter()
        self._has_spoken = False
        self._ended: Gone | None = None
        self.tell(request)

    @property
    def patience(self) -> float:
        """Seconds for which it may go on saying nothing, from its last word on."""
        return self._patience.word if self._has_spoken else self._patience.start

    @property
    def is_silent(self) -> bool:
        """Whether it has said nothing for longer than it may."""
        return time.perf_counter() - self._spoke > self.patience

    def tell(self, command: dict[str, object]) -> None:
        """Tell it something; where it has ended already its silence tells."""
        with suppress(OSError, ValueError):
            assert self._process.stdin is not None
            self._process.stdin.write(json.dumps(command).encode() + b"\n")
            self._process.stdin.flush()

    def hang_up(self) -> None:
        """Close its input, which asks it to stop."""
        with suppress(OSError):
            assert self._process.stdin is not None
            self._process.stdin.close()

    def word(self, timeout: float) -> dict[str, Any] | Gone | None:
        """Return the next thing that it says within ``timeout`` seconds; None for nothing."""
        if self._ended is not None:
            return self._ended
        try:
            line = self._words.get(timeout=max(0.0, timeout))
        except queue.Empty:
            return None
        self._spoke, self._has_spoken = time.perf_counter(), True
        if line:
            reply: dict[str, Any] = json.loads(line)
            return reply
        with suppress(subprocess.TimeoutExpired):
            self._process.wait(self._patience.word)
        self._ended = Gone(self._process.returncode)
        return self._ended

    def wait(self) -> None:
        """Give it time to end by itself: closing its port may still hang."""
        with suppress(subprocess.TimeoutExpired):
            self._process.wait(self._patience.word)

    def end(self) -> None:
        """End it now, whatever it does."""
        self._process.kill()
        self._process.wait()
        self._listener.join(self._patience.word)
        assert self._process.stdout is not None
        self._process.stdout.close()
        self.hang_up()


def _listen(stream: IO[bytes], words: queue.SimpleQueue[bytes]) -> None:
    for line in stream:
        if line.endswith(b"\n"):  # else it died in the middle of a word
            words.put(line)
    words.put(b"")
