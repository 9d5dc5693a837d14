"""A live command on a full screen: facts above, keys at the bottom, nothing in colour.

Everything that is drawn comes from `setwright.compiler.sending.rehearsing.frame`. What comes from
ports and signals is handed to the loop of the screen, so that only one thing happens at a time.
"""

from __future__ import annotations

import asyncio
import os
import sys
import time
from collections.abc import Callable, Sequence
from contextlib import suppress

from prompt_toolkit.application import Application
from prompt_toolkit.buffer import Buffer
from prompt_toolkit.filters import Condition
from prompt_toolkit.formatted_text import StyleAndTextTuples
from prompt_toolkit.key_binding import KeyBindings, KeyPressEvent
from prompt_toolkit.layout import (
    BufferControl,
    ConditionalContainer,
    FormattedTextControl,
    HSplit,
    Layout,
    VSplit,
    Window,
)
from prompt_toolkit.output import ColorDepth, DummyOutput

from setwright.compiler.sending.port.ear import Dropped, Ear, Heard
from setwright.compiler.sending.port.line import News
from setwright.compiler.sending.port.problem import Problem
from setwright.compiler.sending.rehearsing.deliveries import Output
from setwright.compiler.sending.rehearsing.frame import bottom_of, frame
from setwright.compiler.sending.rehearsing.live import Fact, Key, Live
from setwright.compiler.sending.rehearsing.pump import Pump, code_of, signals

ROUND = 0.05
"""Seconds between two looks at what is due."""
HANGUP, INTERRUPT = 1, 2
"""Numbers of the signals SIGHUP and SIGINT (POSIX.1-2017, XCU kill)."""


class Screen:
    """Something live on a full screen."""

    def __init__(self, live: Live) -> None:
        self._live = live
        self._asking: Key | None = None
        self._drawn: list[Fact] = []
        self._typed = Buffer(multiline=False, accept_handler=self._answered)
        self._view = Window(FormattedTextControl(self._rows, focusable=True, show_cursor=False))
        asks = VSplit(
            [
                Window(FormattedTextControl(self._question), height=1, dont_extend_width=True),
                Window(BufferControl(self._typed), height=1),
            ]
        )
        is_asking = Condition(lambda: self._asking is not None)
        self._app: Application[int] = Application(
            Layout(
                HSplit([self._view, ConditionalContainer(asks, is_asking)]),
                focused_element=self._view,
            ),
            key_bindings=self._bindings(is_asking),
            full_screen=True,
            color_depth=ColorDepth.DEPTH_1_BIT,
        )
        # An escape is a key of its own as soon as nothing follows it at once.
        self._app.ttimeoutlen = 0.05

    def run(self, line: Output, ear: Ear | None) -> int:
        """Show it until it ends; return the exit code."""
        try:
            return asyncio.run(self._run(line, ear))
        except EOFError:  # the terminal has gone
            return code_of(HANGUP)
        except OSError:
            if _is_there():
                raise
            return code_of(HANGUP)

    async def _run(self, line: Output, ear: Ear | None) -> int:
        loop = asyncio.get_running_loop()

        def later(what: Callable[..., object], *words: object) -> None:
            with suppress(RuntimeError):  # the loop has ended
                loop.call_soon_threadsafe(what, *words)

        pump = Pump(
            line, ear, lambda one: later(self._told, one), lambda one: later(self._heard, one)
        )
        with signals(lambda number: later(self._signalled, number)), pump:
            ticking = asyncio.create_task(self._tick())
            try:
                return await self._app.run_async(handle_sigint=False)
            finally:
                ticking.cancel()

    def _told(self, one: News) -> None:
        self._live.hear(one)
        self._look()

    def _heard(self, one: Heard | Dropped | Problem) -> None:
        self._live.step_by_foot(one)
        self._look()

    async def _tick(self) -> None:
        while True:
            self._live.tick(time.perf_counter())
            self._look()
            await asyncio.sleep(ROUND)

    def _look(self) -> None:
        """Draw anew if there is anything new, and end if it is over."""
        if self._live.over:
            self._end(self._live.code)
        elif self._live.facts() != self._drawn:
            self._app.invalidate()

    def _end(self, code: int) -> None:
        if self._app.is_running and not self._app.is_done:
            self._app.exit(result=code)

    def _signalled(self, number: int) -> None:
        if number == HANGUP and not _is_there():
            # Nobody sees it any more, and to write would fail.
            self._app.output = self._app.renderer.output = DummyOutput()
        self._end(code_of(number))

    # Keys.

    def _bindings(self, is_asking: Condition) -> KeyBindings:
        bindings = KeyBindings()
        for key in self._live.keys:
            for name in key.keys:
                bindings.add(name, filter=~is_asking)(self._presses(key))

        @bindings.add("<any>", filter=~is_asking)
        def _(event: KeyPressEvent) -> None:
            self._live.press("", time.perf_counter())
            self._look()

        @bindings.add("c-c")
        def _(event: KeyPressEvent) -> None:
            self._end(code_of(INTERRUPT))

        @bindings.add("escape", filter=is_asking, eager=True)
        def _(event: KeyPressEvent) -> None:
            self._answered(None)

        return bindings

    def _presses(self, key: Key) -> Callable[[KeyPressEvent], None]:
        def press(event: KeyPressEvent) -> None:
            at, live = time.perf_counter(), self._live
            if key.name == "end":
                live.press(key.name, at)
            elif not live.begun:
                if key is live.keys[0]:
                    live.begin(at)
            elif key.asks and not live.by_itself:
                self._asking = key
                self._typed.reset()
                self._app.layout.focus(self._typed)
            else:
                live.press(key.name, at)
            self._look()

        return press

    def _answered(self, buffer: Buffer | None) -> bool:
        """Do what was asked for with what was typed, or leave it; the buffer is not kept."""
        key, self._asking = self._asking, None
        self._app.layout.focus(self._view)
        if key is not None and buffer is not None and buffer.text.strip():
            self._live.press(key.name, time.perf_counter(), buffer.text)
        self._look()
        return False

    # What is seen.

    def _question(self) -> str:
        return f"{self._asking.asks}: " if self._asking is not None else ""

    def _rows(self) -> StyleAndTextTuples:
        size = self._app.output.get_size()
        height = size.rows - (self._asking is not None)
        live = self._live
        self._drawn = live.facts()
        if live.begun:
            facts, keys = self._drawn, bottom_of(live.keys)
        else:
            facts, keys = _before(live), [f"{live.keys[0].says.split()[0]} begin", "q end"]
        if self._asking is not None:
            keys = ["Enter go", "Esc leave it"]
        return _styled(frame(live.title, facts, keys, size.columns, height))


def _is_there() -> bool:
    """Tell whether there is still a terminal behind the output."""
    try:
        return os.get_terminal_size(sys.stdout.fileno()).columns >= 0
    except OSError:
        return False


def _before(live: Live) -> list[Fact]:
    """Return what is to be read before anything is sent."""
    facts = [Fact("CAUTION", one, strong=False) for one in live.cautions]
    first = Fact("then", f"{live.keys[0].says.split()[0]}: begin; q: end", strong=True)
    port = [one for one in live.facts() if one.label == "port"]
    return [*facts, first, *port]


def _styled(rows: Sequence[tuple[str, bool]]) -> StyleAndTextTuples:
    styled: StyleAndTextTuples = []
    for at, (text, strong) in enumerate(rows):
        styled.append(("bold" if strong else "", text))
        if at < len(rows) - 1:
            styled.append(("", "\n"))
    return styled


def run(live: Live, line: Output, ear: Ear | None) -> int:
    """Run something live on a full screen; return its exit code."""
    return Screen(live).run(line, ear)
