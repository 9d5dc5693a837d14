"""How long a song is: the form against what the clock says. Lengths are worked out by hand."""

from __future__ import annotations

from fractions import Fraction
from pathlib import Path

import pytest

from setwright.compiler.compiled import Compiled
from setwright.compiler.outputs.collect import night_data
from setwright.compiler.pipeline import compile_night
from setwright.scenes.forms import Tempi, parse_form
from setwright.scenes.length import length_of
from setwright.scenes.musical_time import Tempo, parse_meter, parse_tempo
from setwright.scenes.quantities import parse_duration
from setwright.scenes.songs import Song
from tests.books import HEAD, small_book, write_files

# A bar of 4/4 at quarter = 120 lasts 2 s, so a part of eight bars lasts 16 s, a round of AB 32 s.
# One row: form, tempo, lasts, tempo tonight; bars, seconds, what they rest on, assumed?, and the
# seconds that contradict what is said.
LENGTHS = [
    ("AB, 3 rounds", 120, None, None, 48, 96, "form", False, None),
    ("AB, 3 rounds", 120, None, 60, 48, 192, "form", False, None),
    ("AB, 3 rounds", 120, "1:40", None, 48, 96, "form", False, None),
    ("AB, 3 rounds", 120, "1:40", 60, 48, 192, "form", False, None),
    ("AB, 3 rounds", 120, "3:12", 60, 48, 192, "form", False, 96),
    ("AB, 3 rounds", 120, "1:51", None, 48, 96, "form", False, None),
    ("AB, 3 rounds", 120, "1:52", None, 48, 96, "form", False, 96),
    ("AB, 3 rounds", 120, "1:21", None, 48, 96, "form", False, None),
    ("AB, 3 rounds", 120, "1:20", None, 48, 96, "form", False, 96),
    ("AB, 10 rounds", 120, "5:52", None, 160, 320, "form", False, None),
    ("AB, 10 rounds", 120, "5:53", None, 160, 320, "form", False, 320),
    ("AB, 3 rounds", None, "1:40", None, 48, 100, "form", False, None),
    ("AB, 3 rounds", None, None, None, 48, None, "form", False, None),
    ("AB", 120, None, None, 16, 32, "form", True, None),
    ("AB", 120, "3:00", None, 96, 180, "lasts", False, None),
    ("AB", 120, "3:00", 60, 96, 180, "lasts", False, None),
    ("AB", 120, "0:10", None, 16, 10, "lasts", False, 32),
    ("AB", 120, "0:17", None, 16, 17, "lasts", False, None),
    ("AB", None, "3:00", None, None, 180, "lasts", False, None),
    (None, 120, "3:00", None, None, 180, "lasts", False, None),
    (None, 120, None, None, None, None, "", False, None),
]


def _tempo(bpm: int | None) -> Tempo | None:
    return parse_tempo(f"quarter = {bpm}") if bpm is not None else None


def _tempi(bpm: int | None) -> Tempi | None:
    return Tempi(parse_tempo(f"quarter = {bpm}")) if bpm is not None else None


@pytest.mark.parametrize("row", LENGTHS, ids=str)
def test_length(row: tuple[object, ...]) -> None:
    form, tempo, lasts, tonight, bars, seconds, key, assumed, by_form = row
    song = Song(
        title="Tune",
        meter=parse_meter("4/4"),
        tempi=_tempi(tempo),  # type: ignore[arg-type]
        form=parse_form(str(form)) if form else None,
        lasts=parse_duration(str(lasts)) if lasts else None,
    )
    shape = song.shape
    if tonight is not None:
        shape = type(shape)(shape.meter, _tempo(tonight), shape.form, shape.bars)  # type: ignore[arg-type]
    length = length_of(song, shape)
    assert (length.bars, length.seconds, length.key) == (bars, seconds, key)
    assert (length.assumed, length.by_form) == (assumed, by_form)


@pytest.mark.parametrize(
    ("form", "lasts", "bars", "seconds", "over"),
    [
        ("AB, 3 rounds", None, 47, None, False),
        ("AB, 3 rounds", None, 48, None, True),
        ("AB, 3 rounds", "1:40", None, 95, False),
        ("AB, 3 rounds", "1:40", None, 96, True),
        ("AB, 3 rounds", "5:00", 48, 96, False),  # it contradicts itself: nobody knows
        ("AB", None, 48, 96, False),  # how many rounds are played is a guess
        ("AB", "1:40", 49, 99, False),
        ("AB", "1:40", 50, 100, True),
        (None, "1:40", None, 100, True),
        (None, "1:40", 50, None, False),
        (None, None, 5000, 5000, False),
    ],
)
def test_is_over(
    form: str | None, lasts: str | None, bars: int | None, seconds: int | None, over: bool
) -> None:
    song = Song(
        title="Tune",
        meter=parse_meter("4/4"),
        tempi=_tempi(120),
        form=parse_form(form) if form else None,
        lasts=parse_duration(lasts) if lasts else None,
    )
    found = length_of(song, song.shape).is_over(
        None if bars is None else Fraction(bars), None if seconds is None else Fraction(seconds)
    )
    assert found is over


@pytest.mark.parametrize(
    ("form", "lasts", "bars", "seconds", "beyond"),
    [
        ("AB, 3 rounds", None, 48, None, False),  # the final bar line
        ("AB, 3 rounds", None, 49, None, True),
        ("AB, 3 rounds", "1:40", None, 96, False),
        ("AB, 3 rounds", "1:40", None, 97, True),
        (None, "1:40", None, 100, False),
        (None, "1:40", None, 101, True),
        ("AB, 3 rounds", "5:00", 49, 98, False),  # it contradicts itself: nobody knows
        ("AB", None, 48, 96, False),  # how many rounds are played is a guess
        (None, None, 5000, 5000, False),
    ],
)
def test_is_beyond(
    form: str | None, lasts: str | None, bars: int | None, seconds: int | None, beyond: bool
) -> None:
    song = Song(
        title="Tune",
        meter=parse_meter("4/4"),
        tempi=_tempi(120),
        form=parse_form(form) if form else None,
        lasts=parse_duration(lasts) if lasts else None,
    )
    found = length_of(song, song.shape).is_beyond(
        None if bars is None else Fraction(bars), None if seconds is None else Fraction(seconds)
    )
    assert found is beyond


def test_every_room_says_the_same_length(tmp_path: Path) -> None:
    """One round of AABBCC in 6/8 at 92 takes 62.6 s; what lasts 3:10 is played three times.

    Twelve seconds of music are 0.063 of 3:10, and so are assumed places spread over all of it.
    """
    songs = small_book()["songs.yaml"].replace("form: AABBCC\n", "form: AABBCC\n    lasts: 3:10\n")
    songs = songs.replace("- Near: round 1 B", "- Near").replace("- Here: round 1 C", "- Here")
    night = HEAD + "sets: [{at most: 3 min, play: [Brian Boru's March]}]\n"
    write_files(tmp_path, small_book() | {"songs.yaml": songs, "night.yaml": night})
    compiled = compile_night(tmp_path / "night.yaml")
    (finding,) = compiled.findings
    assert finding.code == "set-too-long"
    assert "take 3:10" in finding.message
    assert isinstance(compiled, Compiled)
    (song,) = night_data(compiled).songs
    assert (song.bars, song.seconds) == (144, 190)
    # A third and two thirds of 144 bars, at the beginning of a part each.
    assert [moment.place for moment in song.moments] == ["the beginning", "round 2 A", "round 3 A"]
