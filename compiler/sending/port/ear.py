"""An input port, listened to by a process of its own."""

from __future__ import annotations

import time
from collections import deque
from collections.abc import Sequence
from typing import NamedTuple, Self

from setwright.compiler.sending.port.child import ENGINE, PATIENCE, Child, Gone, Patience
from setwright.compiler.sending.port.lookout import Lookout
from setwright.compiler.sending.port.ports import Port
from setwright.compiler.sending.port.problem import Problem, crashed, gone_input, silent


class Heard(NamedTuple):
    """One packet as the driver gave it, and the second of time.perf_counter() in which it came.

    It is never empty: mostly one message, but it may be several, a part of one, or garbage.
    """

    at: float
    data: bytes


class Dropped(NamedTuple):
    """So many packets came faster than they could be taken."""

    packets: int


class Ear:
    """An open input port."""

    def __init__(self, child: Child, port: str, lookout: Lookout) -> None:
        self._child, self.port, self._lookout = child, port, lookout
        self._heard: deque[Heard | Dropped] = deque()
        self._problem: Problem | None = None

    @classmethod
    def open(
        cls,
        wanted: str | None,
        *,
        patience: Patience = PATIENCE,
        engine: Sequence[str] = ENGINE,
    ) -> Ear | Problem:
        """Open the input port that ``wanted`` means; None means the only one that there is."""
        child = Child({"ask": "listen", "port": wanted}, patience=patience, engine=engine)
        try:
            while True:
                reply = child.word(child.patience)
                if reply is None or isinstance(reply, Gone):
                    child.end()
                    return silent() if reply is None else crashed(reply.status)
                if "problem" in reply:
                    child.end()
                    return Problem(*reply["problem"])
                if "port" in reply:
                    port = Port(reply["port"], reply["system"])
                    return cls(child, port.name, Lookout(port, "input", patience, engine))
        except BaseException:
            child.end()
            raise

    def get(self, timeout: float) -> Heard | Dropped | Problem | None:
        """Return what comes next within ``timeout`` seconds; None where nothing does.

        After a Problem nothing more comes.
        """
        until = time.perf_counter() + timeout
        while not self._heard and self._problem is None:
            left = until - time.perf_counter()
            if left <= 0 and timeout:
                return None
            self._take(min(left, 0.1))
            if not timeout:
                break
        if self._heard:
            return self._heard.popleft()
        return self._problem

    def close(self) -> None:
        """Close the port; nothing that the process does is waited for for long."""
        self._lookout.close()
        self._child.hang_up()
        self._child.wait()
        self._child.end()

    def __enter__(self) -> Self:
        """Use it, and close it afterwards."""
        return self

    def __exit__(self, *_: object) -> None:
        """Close it."""
        self.close()

    def _take(self, timeout: float) -> None:
        reply = self._child.word(timeout)
        # Asked every time, for what it says piles up until then. As long as something comes in the
        # port is there, whatever it says; but an engine whose server died goes on saying that it
        # lives.
        missed = self._lookout.misses_it()
        if isinstance(reply, Gone):
            self._problem = gone_input(self.port)
        elif reply and "problem" in reply:
            self._problem = Problem(*reply["problem"])
        elif reply:
            self._heard += [Heard(at, bytes.fromhex(data)) for at, data in reply.get("heard", ())]
            if "dropped" in reply:
                self._heard.append(Dropped(reply["dropped"]))
        elif missed:
            self._problem = gone_input(self.port)
        elif reply is None and self._child.is_silent:
            self._problem = silent(self.port)
