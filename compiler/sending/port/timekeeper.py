"""The loop that keeps time at one output port: it waits, spins a little, and hands over.

It sleeps until shortly before something is due, for a sleep may end late, and looks at the clock
over and over for the rest (measured: 0.1 ms late at most where real-time priority is granted).
Between messages it looks whether the port is still there, and says that it lives.

Everything live counts the seconds of ``time.perf_counter()``, which all processes of a computer
share (Python's What's New 3.10). The clock that is called monotonic moves in steps of 15.6 ms on
Windows before Python 3.13 (What's New 3.13), most of a MIDI clock at 120 quarters a minute.
"""

from __future__ import annotations

import os
import sys
import time
from collections.abc import Callable
from contextlib import suppress
from typing import Any

from setwright.compiler.sending.port.drivers import DriverError, Output
from setwright.compiler.sending.port.orders import Orders
from setwright.compiler.sending.port.problem import Problem, vanished
from setwright.compiler.sending.port.schedule import Begun, Done, Schedule, Skipped

SPIN = 0.0005
"""Seconds before something is due in which we no longer sleep."""
LOOK = 0.0003
"""Seconds that a look at the port may take (measured with JACK: 0.1 ms)."""
ROUND = 0.05
"""Seconds between two looks at the port, and two signs of life."""
PRIORITY = 20
"""Our place among real-time processes, 1 to 99: below the sound servers', which carry us."""

Say = Callable[[dict[str, Any]], None]


def ask_for_real_time() -> bool:
    """Ask the system to let this process go first; tell whether it does."""
    if not hasattr(os, "sched_setscheduler"):
        return False
    with suppress(OSError):
        os.sched_setscheduler(0, os.SCHED_FIFO, os.sched_param(PRIORITY))
        return True
    return False


class Timekeeper:
    """Plays at one open port what it is ordered to, until it is stopped or the port goes away."""

    def __init__(
        self,
        output: Output,
        name: str,
        orders: Orders,
        say: Say,
        *,
        refuses: Callable[[dict[str, Any]], Problem | None],
        now: Callable[[], float] = time.perf_counter,
    ) -> None:
        self._output, self._name, self._orders = output, name, orders
        self._say, self._refuses, self._now = say, refuses, now
        self._news: list[dict[str, Any]] = []
        self._schedule = Schedule(self._told)
        self._ending = False
        self._dropped = False
        self._started = False
        self._sent = 0
        self._seen = 0

    @property
    def sent(self) -> int:
        """Messages that were handed over, without the clock."""
        return self._sent

    @property
    def seen(self) -> int:
        """Those of them that went while the port was seen to be there afterwards."""
        return self._seen

    def keep(self) -> Problem | None:
        """Go on until the end of it, or until the port has gone."""
        looked = self._now()
        try:
            while True:
                self._obey()
                now = self._now()
                message = self._schedule.next(now)
                if message is not None:
                    self._hand_over(message)
                # Only now, for the driver may have refused the message of which they tell.
                self._say_news()
                if message is not None:
                    continue
                if self._schedule.idle and self._ending and not self._leave(now):
                    return None if self._is_there() else self._vanished()
                due = self._schedule.due(now)
                unseen = self._seen != self._sent or now - looked >= ROUND
                if unseen and (due is None or due - now > LOOK):
                    looked = now
                    if not self._is_there():
                        return self._vanished()
                    continue
                self._rest(now, looked + ROUND, due)
        except DriverError:
            return self._vanished()

    def _rest(self, now: float, look: float, due: float | None) -> None:
        """Sleep until shortly before something is due, an order comes, or it is time to look."""
        left = (look if due is None else min(look, due - SPIN)) - now
        if left <= 0:
            return
        if sys.platform == "win32":
            # An event is waited for in steps of up to 16 ms there, a sleep is exact (from memory).
            time.sleep(min(left, 0.001))
        else:
            self._orders.wake.wait(left)

    def _obey(self) -> None:
        self._orders.wake.clear()
        if self._orders.stopped and not self._dropped:
            self._dropped = True
            self._schedule.drop()
            self._ending = True
        while (order := self._orders.take()) is not None and not self._ending:
            match order["do"]:
                case "send" if (problem := self._refuses(order)) is not None:
                    self._say({"refused": problem, "number": order["number"]})
                case "send":
                    bundles = [
                        (ms, [bytes.fromhex(message) for message in messages])
                        for ms, messages in order["bundles"]
                    ]
                    self._schedule.deliver(order["number"], bundles, order["settles"])
                case "clock":
                    if order["stop"] and self._started:
                        self._schedule.stop()
                        self._started = False
                    self._schedule.clock(order["bpm"], self._now(), start=order["start"])
                    self._started = self._started or (order["start"] and self._schedule.ticking)
                case "end":
                    self._ending = True
        self._say_news()  # what was skipped

    def _leave(self, now: float) -> bool:
        """Tell whether something is still to be sent before the end, once all is delivered.

        Who was started is stopped, and the clock ends.
        """
        if self._started:
            self._schedule.stop()
            self._started = False
        self._schedule.clock(None, now)
        return self._schedule.due(now) is not None

    def _hand_over(self, message: bytes) -> None:
        self._output.send(message)
        if message[0] < 0xF0:
            self._sent += 1

    def _is_there(self) -> bool:
        there = self._output.there()
        if there:
            self._seen = self._sent
            self._say({"sent": self._sent})
        return there

    def _vanished(self) -> Problem:
        return vanished(self._name, self._seen, self._sent - self._seen)

    def _told(self, news: Begun | Done | Skipped) -> None:
        match news:
            case Begun(number, at):
                self._news.append({"begun": number, "at": at})
            case Done(number, messages, at):
                self._news.append({"done": number, "messages": messages, "at": at})
            case Skipped(number):
                self._news.append({"skipped": number})

    def _say_news(self) -> None:
        for one in self._news:
            self._say(one)
        self._news.clear()
