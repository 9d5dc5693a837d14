"""What a parent tells the process that holds a driver, taken from its input while it works."""

from __future__ import annotations

import json
import threading
from collections import deque
from typing import Any, BinaryIO


class Orders:
    """Orders that have come, each a JSON object on a line; the end of the input means stop."""

    def __init__(self, stream: BinaryIO) -> None:
        self._stream = stream
        self._came: deque[dict[str, Any]] = deque()
        self._stop = False
        self.wake = threading.Event()

    def begin(self) -> None:
        """Begin to read."""
        threading.Thread(target=self._read, daemon=True).start()

    @property
    def stopped(self) -> bool:
        """Whether the parent wants an end, or has gone."""
        return self._stop

    def stop(self, *_: object) -> None:
        """Wish for an end; may be called by a signal."""
        self._stop = True
        self.wake.set()

    def add(self, order: dict[str, Any]) -> None:
        """Give an order ourselves."""
        self._came.append(order)
        self.wake.set()

    def take(self) -> dict[str, Any] | None:
        """Return the next order, None where none has come."""
        return self._came.popleft() if self._came else None

    def _read(self) -> None:
        for line in iter(self._stream.readline, b""):
            self._came.append(json.loads(line))
            self.wake.set()
        self.stop()
