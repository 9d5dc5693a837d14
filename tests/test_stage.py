"""Whole nights, played on a stage that knows nothing of the compiler: what is promised holds.

``SETWRIGHT_STAGE`` sets how many nights are drawn, ``SETWRIGHT_STAGE_SEED`` the seed of the first.
"""

from __future__ import annotations

import os
from collections import Counter

import pytest

from tests.stage.draw import draw
from tests.stage.judge import Judge, Wrong

BOOKS = int(os.environ.get("SETWRIGHT_STAGE", "80"))
SEED = int(os.environ.get("SETWRIGHT_STAGE_SEED", "101"))
PLAYS = 6
TENTHS = 8
"""Nights are played in so many portions."""

figures: Counter[str] = Counter()


@pytest.mark.parametrize("portion", range(TENTHS))
def test_what_is_promised_holds(portion: int) -> None:
    wrong: list[Wrong] = []
    for seed in range(SEED + portion, SEED + BOOKS, TENTHS):
        judge = Judge(draw(seed), seed)
        if judge.compile():
            judge.play(PLAYS)
        figures.update(judge.figures)
        wrong += judge.wrong
    assert not wrong, "\n".join(map(str, wrong[:10]))


def test_so_much_was_played() -> None:
    books = figures["books"] - figures["skipped"]
    assert figures["books"] == BOOKS
    assert books > 0.7 * BOOKS, "too many books are thrown away"
    assert figures["sequences in any order"] == books * PLAYS
    assert figures["sequences in time"] > 0.8 * books * PLAYS
    assert figures["presses in time"] > 8 * figures["sequences in time"]
    assert figures["checked proven"] > 40 * figures["sequences in time"]
    assert figures["checked printed"] > figures["sequences in time"]
    assert figures["lost by busy boxes"] > figures["sequences in time"]
    for what, share in {
        "with branches": 0.3,
        "with shared channels": 0.08,
        "with a computer": 0.1,
        "with a press while busy": 0.08,
        "with a segue": 0.2,
        "with two ways to a box": 0.03,
        "with units that a foot works": 0.3,
    }.items():
        assert figures[what] > share * books, (what, figures)
