"""An output port, played by a process of its own that keeps time, and that comes back.

A thread looks after that process: what it says becomes news; where it dies, falls silent, or its
port goes away, that is said once, and a new process waits for the port. When it is back the last
delivery is sent again, for nobody knows what the rig was given of it, and the clock runs on.
"""

from __future__ import annotations

import queue
import threading
import time
from collections.abc import Sequence
from fractions import Fraction
from typing import Any, NamedTuple, Self

from setwright.compiler.sending.port.child import ENGINE, PATIENCE, Child, Gone, Patience
from setwright.compiler.sending.port.lookout import Lookout
from setwright.compiler.sending.port.ports import Port
from setwright.compiler.sending.port.problem import Problem, crashed, silent, vanished
from setwright.compiler.sending.port.schedule import Begun, Bundle, Done, Skipped

LINGER = 0.25
"""Seconds between the last message and closing the port: drivers send in a thread of their own."""
AT_MOST = 2.0
"""Seconds for which an end is waited for; what is not out by then is not sent."""
ROUND = 0.05
"""Seconds between two looks at the process."""


class Restarted(NamedTuple):
    """The port is back after ``why``; the last delivery is being sent again."""

    why: Problem


News = Begun | Done | Skipped | Restarted | Problem


class Line:
    """An open output port."""

    def __init__(
        self,
        child: Child,
        wanted: str | None,
        port: Port,
        real_time: bool,
        patience: Patience,
        engine: Sequence[str],
    ) -> None:
        self.port, self.real_time = port.name, real_time
        # What a person named comes back under that name, whatever number stands in the whole one.
        self._child, self._wanted = child, wanted or port.name
        self._patience, self._engine = patience, engine
        self._lookout: Lookout | None = Lookout(port, "output", patience, engine)
        self._lock = threading.Lock()
        self._news: queue.SimpleQueue[News] = queue.SimpleQueue()
        self._number = 0
        self._last: dict[str, object] | None = None
        self._clock: dict[str, object] | None = None
        self._lost: Problem | None = None
        self._sent = 0
        self._ending = False
        self._ended: threading.Event = threading.Event()
        self._keeper = threading.Thread(target=self._look_after, daemon=True)
        self._keeper.start()

    @classmethod
    def open(
        cls,
        wanted: str | None,
        *,
        patience: Patience = PATIENCE,
        engine: Sequence[str] = ENGINE,
    ) -> Line | Problem:
        """Open the output port that ``wanted`` means; None means the only one that there is."""
        child = Child(_request(wanted, wait=False), patience=patience, engine=engine)
        real_time = False
        try:
            while True:
                reply = child.word(child.patience)
                if reply is None or isinstance(reply, Gone):
                    child.end()
                    return silent() if reply is None else crashed(reply.status)
                if "problem" in reply:
                    child.end()
                    return Problem(*reply["problem"])
                real_time = reply.get("real time", real_time)
                if "port" in reply:
                    port = Port(reply["port"], reply["system"])
                    return cls(child, wanted, port, real_time, patience, engine)
        except BaseException:
            child.end()
            raise

    def send(self, bundles: Sequence[Bundle], *, settles: float = 0.0) -> int:
        """Send a delivery at the pace of the wire, and return its number at once.

        ``settles``: ms from its first message until the rig has settled; the next delivery
        waits until then. One that has not begun when a newer one comes is skipped.
        """
        with self._lock:
            self._number += 1
            self._last = {
                "do": "send",
                "number": self._number,
                "bundles": [(ms, [one.hex() for one in messages]) for ms, messages in bundles],
                "settles": settles,
            }
            if self._lost is None:
                self._child.tell(self._last)
            return self._number

    def clock(self, bpm: Fraction | None, *, start: bool = False, stop: bool = False) -> None:
        """Run a clock of 24 a quarter at ``bpm`` quarter notes a minute; None ends it.

        ``start`` and ``stop`` send FA and FC, too (MIDI 1.0 Detailed Specification 4.2.1, system
        real time).
        """
        with self._lock:
            order: dict[str, object] = {
                "do": "clock",
                "bpm": None if bpm is None else float(bpm),
                "start": start,
                "stop": stop,
            }
            started = start or (self._clock is not None and self._clock["start"] and not stop)
            self._clock = None if bpm is None else {**order, "stop": False, "start": started}
            if self._lost is None:
                self._child.tell(order)

    def get(self, timeout: float) -> News | None:
        """Return what there is to tell within ``timeout`` seconds; None for nothing.

        After a Problem the line goes on trying to come back until it is closed.
        """
        try:
            return self._news.get(timeout=timeout) if timeout else self._news.get_nowait()
        except queue.Empty:
            return None

    def close(self) -> Problem | None:
        """Send the rest of the delivery, stop the clock, close the port; never for long.

        Returns the problem that the port had at the end.
        """
        with self._lock:
            self._ending = True
            self._child.tell({"do": "end"})
        if self._lost is not None or not self._ended.wait(AT_MOST):
            self._child.hang_up()
            self._ended.wait(self._patience.word)
        self._ended.set()
        self._keeper.join(AT_MOST)
        if self._lookout is not None:
            self._lookout.close()
        self._child.end()
        return self._lost

    def __enter__(self) -> Self:
        """Use it, and close it afterwards."""
        return self

    def __exit__(self, *_: object) -> None:
        """Close it."""
        self.close()

    # Looking after the process, in a thread of its own.

    def _look_after(self) -> None:
        while not self._ended.is_set():
            try:
                self._look()
            except OSError:
                # No process can be started now, for lack of memory, say: it is tried again.
                time.sleep(ROUND)

    def _look(self) -> None:
        reply = self._child.word(ROUND)
        if self._lookout is not None and self._lookout.misses_it():
            self._lose(vanished(self.port, self._sent))
        elif reply is None:
            if self._child.is_silent:
                self._lose(silent(self.port))
        elif not isinstance(reply, Gone):
            self._pass_on(reply)
        elif self._ending:
            self._ended.set()
        else:
            self._lose(crashed(reply.status))

    def _pass_on(self, reply: dict[str, Any]) -> None:
        self._sent = reply.get("sent", self._sent)
        if "problem" in reply:
            self._lose(Problem(*reply["problem"]))
        elif "refused" in reply:
            self._news.put(Problem(*reply["refused"]))
        elif "last" in reply and self._ending:
            self._ended.set()
        elif "last" in reply:
            self._lose(crashed(None))  # somebody else asked it to stop
        elif "begun" in reply:
            self._news.put(Begun(reply["begun"], reply["at"]))
        elif "done" in reply:
            self._news.put(Done(reply["done"], reply["messages"], reply["at"]))
        elif "skipped" in reply:
            self._news.put(Skipped(reply["skipped"]))
        elif "port" in reply and self._lost is not None and not self._ending:
            self._come_back(reply)  # too late for that where it is to end: nothing would be sent

    def _lose(self, problem: Problem) -> None:
        """Say that the port is lost, and let a new process wait for it."""
        # First of all it is ended: who tells it something now may be stuck, and has the lock.
        self._child.end()
        with self._lock:
            if self._lost is None:
                self._lost = problem
                self._news.put(problem)
            if self._ending:
                self._ended.set()
                return
            if self._lookout is not None:
                self._lookout.close()
                self._lookout = None
            self._child = Child(
                _request(self._wanted, wait=True), patience=self._patience, engine=self._engine
            )
        # A process that dies at once must not be started over and over without a breath.
        time.sleep(ROUND)

    def _come_back(self, reply: dict[str, Any]) -> None:
        with self._lock:
            assert self._lost is not None
            why, self._lost = self._lost, None
            self.port, self._sent = reply["port"], 0
            if self._clock is not None:
                self._child.tell(self._clock)
            if self._last is not None:
                self._child.tell(self._last)
            found = Port(reply["port"], reply["system"])
            self._lookout = Lookout(found, "output", self._patience, self._engine)
        self._news.put(Restarted(why))


def _request(port: str | None, *, wait: bool) -> dict[str, object]:
    return {"ask": "play", "port": port, "wait": wait, "linger": LINGER}
