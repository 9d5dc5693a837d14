"""Facts on a full screen: what stands in which row, however large the screen is.

Pure: a screen's width and height in, rows out. Nothing is said by colour. Names are cut with an
ellipsis, sentences go on in the next row; where there are too few rows, what matters least goes.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import NamedTuple

from prompt_toolkit.utils import get_cwidth

from setwright.compiler.sending.rehearsing.live import Fact, Key
from setwright.scenes.finding import visible

LABEL = 10
"""Columns of the labels, with the space behind them."""
FEWER = ((4, 2), (4, 1), (2, 1), (1, 1))
"""Rows that a sentence may take, and a message, of which the bytes come first."""


class Row(NamedTuple):
    """One row of the screen; ``strong`` is what one looks for."""

    text: str
    strong: bool = False


def frame(
    title: str, facts: Sequence[Fact], keys: Sequence[str], width: int, height: int
) -> list[Row]:
    """Return the rows of a screen, exactly ``height`` of them, none wider than ``width``."""
    bottom = [Row(row) for row in _packed(keys, width)]
    bottom = bottom[: max(1, height // 3)]
    room = height - len(bottom) - 1
    body = _body(facts, width, room)
    rows = [Row(cut(title, width), strong=True), *body]
    rows += [Row("")] * (height - len(bottom) - len(rows))
    return [row._replace(text=cut(row.text, width)) for row in [*rows, *bottom][:height]]


def _body(facts: Sequence[Fact], width: int, room: int) -> list[Row]:
    """Return the facts in at most ``room`` rows: long ones in fewer rows before one goes."""
    left = list(facts)
    for most in FEWER:
        left = list(facts)
        count = sum(len(_rows(one, width, most)) for one in left)
        while count > room and (worst := _least(left)) is not None:
            if most is FEWER[0] or (worst.rank <= 1 and most is not FEWER[-1]):
                break  # what matters is better all there, and cut
            left.remove(worst)
            count -= len(_rows(worst, width, most))
        if count <= room:
            return _laid_out(left, width, most, room - count)
    return _laid_out(left, width, FEWER[-1], 0)[: max(0, room)]


def _least(facts: Sequence[Fact]) -> Fact | None:
    """Return what goes first: the highest rank, and of that the last; None if all has to stay."""
    rank = max((one.rank for one in facts), default=0)
    if rank == 0:
        return None
    return next(one for one in reversed(facts) if one.rank == rank)


def _laid_out(facts: Sequence[Fact], width: int, most: tuple[int, int], spare: int) -> list[Row]:
    """Lay facts out; of ``spare`` rows, one stands free before what one looks for."""
    rows: list[Row] = []
    before = ""
    for one in facts:
        if (one.strong or before == "next") and spare > 0:
            rows.append(Row(""))
            spare -= 1
        rows += _rows(one, width, most, again=one.label == before)
        before = one.label
    return rows


def _rows(fact: Fact, width: int, most: tuple[int, int], *, again: bool = False) -> list[Row]:
    label = "" if again else fact.label
    head = label + " " * (LABEL - get_cwidth(label))
    # A name stays in one row.
    few = 1 if fact.strong else most[fact.label == "message"]
    texts = wrapped(fact.text, width - LABEL, few)
    return [
        Row((head if index == 0 else " " * LABEL) + text, fact.strong)
        for index, text in enumerate(texts)
    ]


def wrapped(text: str, width: int, most: int) -> list[str]:
    """Return ``text`` in at most ``most`` rows of ``width`` columns; the last is cut."""
    rows: list[str] = []
    rest = visible(text)
    while rest and len(rows) < most - 1 and get_cwidth(rest) > width:
        at = _fitting(rest, width)
        space = rest.rfind(" ", 1, at + 1)
        end = space if space > 0 else max(1, at)
        rows.append(rest[:end].rstrip())
        rest = rest[end:].lstrip()
    return [*rows, cut(rest, width)]


def cut(text: str, width: int) -> str:
    """Return as much of ``text`` as ``width`` columns hold, with an ellipsis where some is lost."""
    shown = visible(text)
    if get_cwidth(shown) <= width:
        return shown
    return shown[: _fitting(shown, max(0, width - 1))].rstrip() + "…" if width > 0 else ""


def _fitting(text: str, width: int) -> int:
    """Return how many of the first characters fit into ``width`` columns."""
    columns = 0
    for at, character in enumerate(text):
        columns += get_cwidth(character)
        if columns > width:
            return at
    return len(text)


def _packed(words: Sequence[str], width: int) -> Iterator[str]:
    """Yield rows that hold as many of ``words`` as fit, two spaces between them."""
    row = ""
    for word in words:
        longer = f"{row}  {word}" if row else word
        if row and get_cwidth(longer) > width:
            yield cut(row, width)
            longer = word
        row = longer
    if row:
        yield cut(row, width)


def bottom_of(keys: Sequence[Key]) -> list[str]:
    """Return what stands at the bottom of the screen."""
    return [key.says for key in keys]
