"""What a switcher does by itself is said on the preset sheet, one sentence for each."""

from __future__ import annotations

from pathlib import Path

import pytest

from setwright.compiler.outputs.behaviour import behaviour
from setwright.compiler.outputs.collect import night_data
from setwright.compiler.outputs.preset_sheet import preset_sheet_files
from tests.mini import SWITCHER, write_night
from tests.nights import whole

MOVES = "Banks are changed by up and down; a preset is loaded when its switch is pressed."
AGAIN = "A switch that is pressed again sends its preset again."


@pytest.mark.parametrize(
    ("said", "sentences"),
    [
        ("", [MOVES, AGAIN]),
        ("bank moves: {by: number}", [MOVES.replace("up and down", "a number"), AGAIN]),
        (
            "bank moves: {by: both, loads at once: yes}",
            [
                "Banks are changed by up and down or a number, and the move itself loads a "
                "preset, that of the switch that was pressed last: every bank on the way sends its "
                "own, and what banks of other rigs hold is not known here.",
                AGAIN,
            ],
        ),
        (
            "bank moves: {loads at once: yes, loads: first switch}",
            [
                "Banks are changed by up and down, and the move itself loads a preset, that of the "
                "bank's first switch: every bank on the way sends its own, and what banks of other "
                "rigs hold is not known here.",
                AGAIN,
            ],
        ),
        (
            "same switch again: does nothing",
            [MOVES, "A switch that is pressed again does nothing."],
        ),
        (
            "same switch again: goes back",
            [
                MOVES,
                "A switch that is pressed again goes back to the preset before: where the cue "
                "sheet says stay, keep your foot off it; where it says unless it is on, look "
                "first.",
            ],
        ),
        (
            "at power up: first preset",
            [
                MOVES,
                AGAIN,
                "When the power comes on, the first preset of its first bank is loaded.",
            ],
        ),
        (
            "at power up: last used",
            [MOVES, AGAIN, "When the power comes on, the preset that was used last is loaded."],
        ),
        ("at power up: unknown", [MOVES, AGAIN]),
        (
            "loop order: per preset",
            [
                MOVES,
                AGAIN,
                "Each preset can put the loops in an order of its own: keep one order in all of "
                "them.",
            ],
        ),
        ("loop order: fixed", [MOVES, AGAIN]),
        (
            "volume loop: 3",
            [MOVES, AGAIN, "It has a loop of its own for a volume pedal, behind loop 3."],
        ),
        (
            "volume loop: {after loop: 0}",
            [MOVES, AGAIN, "It has a loop of its own for a volume pedal, before the first loop."],
        ),
    ],
)
def test_what_is_said(tmp_path: Path, said: str, sentences: list[str]) -> None:
    check(tmp_path, f"{SWITCHER}{said}\n", sentences)


@pytest.mark.parametrize(("count", "words"), [(1, "1 message"), (4, "4 messages")])
def test_messages_on_leaving_are_to_be_left_empty(tmp_path: Path, count: int, words: str) -> None:
    switcher = SWITCHER.replace("programs: 4,", f"programs: 4, messages on leaving: {count},")
    leave = (
        f"Leave empty what a preset can send when it is left ({words}): it would undo what the "
        "next sets."
    )
    check(tmp_path, switcher, [MOVES, AGAIN, leave])


def check(folder: Path, switcher: str, sentences: list[str]) -> None:
    night = write_night(
        folder, units="one: {loop: 1}", effects="near: one", scenes="A: [near]", switcher=switcher
    )
    data = night_data(whole(night))
    assert list(behaviour(data.switcher)) == sentences
    page = preset_sheet_files(data)["preset-sheet.html"].decode("utf-8")
    printed = " ".join(sentences).replace("'", "&#39;")
    assert f"<p>What this switcher does: {printed}</p>" in page
