"""How a process that holds a driver speaks to its parent: JSON, a line for each thing said."""

from __future__ import annotations

import json
import os
import queue
import threading
from contextlib import suppress
from typing import Any


class Voice:
    """Replies, written by a thread of their own: who is slow to read must not hold up a clock."""

    def __init__(self, descriptor: int) -> None:
        self._descriptor = descriptor
        self._words: queue.SimpleQueue[bytes | None] = queue.SimpleQueue()
        self._writer = threading.Thread(target=self._write, daemon=True)
        self._writer.start()

    def say(self, reply: dict[str, Any]) -> None:
        """Say something."""
        self._words.put(json.dumps(reply).encode() + b"\n")

    def fall_silent(self) -> None:
        """Say the last of it."""
        self._words.put(None)
        self._writer.join(1.0)

    def _write(self) -> None:
        while (words := self._words.get()) is not None:
            with suppress(OSError):  # the parent has gone, which its other end tells us
                while words:
                    words = words[os.write(self._descriptor, words) :]


def own_voice() -> Voice:
    """Take standard output for ourselves, and shut everybody else in this process up."""
    voice = Voice(os.dup(1))
    nowhere = os.open(os.devnull, os.O_WRONLY)
    os.dup2(nowhere, 1)
    os.dup2(nowhere, 2)
    return voice
