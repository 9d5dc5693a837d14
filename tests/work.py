"""How much work a piece of code does, counted and not timed, so that every machine agrees.

Work is the number of bytecode instructions that Python runs in the rooms of Setwright; what
the libraries and C functions do within one instruction is not seen.
"""

from __future__ import annotations

import sys
from collections.abc import Callable
from types import FrameType
from typing import Any


def work(function: Callable[[], object]) -> int:
    """Return how many bytecode instructions of Setwright run while ``function`` does."""
    count = 0

    def within(frame: FrameType, event: str, argument: Any) -> Any:
        nonlocal count
        count += event == "opcode"
        return within

    def entered(frame: FrameType, event: str, argument: Any) -> Any:
        if not _ours(frame):
            return None
        frame.f_trace_opcodes = True
        frame.f_trace_lines = False
        return within

    before = sys.gettrace()
    sys.settrace(entered)
    try:
        function()
    finally:
        sys.settrace(before)
    return count


def _ours(frame: FrameType) -> bool:
    name = str(frame.f_globals.get("__name__", ""))
    return name.startswith(("setwright.scenes", "difflib"))


def growth(make: Callable[[int], Callable[[], object]], size: int) -> float:
    """Return how many times as much work each entry costs where there are twice as many.

    ``make`` returns what is to be measured for so many entries. 1 where cost grows in
    proportion, 2 where it grows with the square; what costs the same for any size is left out.
    """
    for once in (make(size), make(size)):  # the first run fills what is kept for all of them
        small = work(once)
    middle, large = work(make(2 * size)), work(make(4 * size))
    return (large - middle) / 2 / (middle - small)
