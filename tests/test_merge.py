"""Several files read as one."""

from __future__ import annotations

from pathlib import Path

import pytest

from setwright.compiler.pipeline import compile_night
from setwright.scenes.finding import Severity
from tests.mini import SWITCHER


def write(folder: Path, **files: str) -> Path:
    night = "night: Test\nrig: rig.yaml\nsongs: songs.yaml\nsets: [{play: [Tune]}]\n"
    for name, text in {"night": night, "board": SWITCHER, **files}.items():
        (folder / f"{name}.yaml").write_text(text, encoding="utf-8")
    return folder / "night.yaml"


RIG = "switcher: board.yaml\nunits: {one: {loop: 1}, two: {loop: 2}}\neffects: {a: one, b: two}\n"
TUNE = "songs: [{title: Tune, scenes: {S: plain}}]\n"


@pytest.mark.parametrize(
    ("first", "second", "code"),
    [
        ("sounds: {plain: [a]}\n", "sounds: {loud: [b]}\n", None),
        ("sounds: {plain: [a]}\n", "sounds: {plain: [b]}\n", "name-twice"),
        ("sounds: {plain: []}\n", "sounds: {plain: [b]}\n", "name-twice"),
        ("sounds: {plain: a}\n", "sounds: {plain: a}\n", "name-twice"),
        ("sounds: {plain: a}\n", "songs: [{title: Tune}]\n", "song-twice"),
        ("sounds: {plain: a}\n", "songs: [{title: Other}]\n", None),
    ],
)
def test_songs_of_two_files(tmp_path: Path, first: str, second: str, code: str | None) -> None:
    night = write(tmp_path, rig=RIG, songs="include: more.yaml\n" + first + TUNE, more=second)
    compiled = compile_night(night)
    assert [finding.code for finding in compiled.findings] == ([code] if code else [])
    if code is not None:
        (finding,) = compiled.findings
        assert finding.place.file.endswith("more.yaml")
        assert finding.related[0].place.file.endswith("songs.yaml")


def test_the_including_rig_wins_key_by_key(tmp_path: Path) -> None:
    gear = "units: {one: {loop: 3, channel: 5}, two: {loop: 2}}\neffects: {a: one, b: two}\n"
    rig = "include: gear.yaml\nswitcher: board.yaml\nunits: {one: {loop: 1}}\nmidi: [[switcher, one]]\n"
    songs = "sounds: {plain: [a]}\n" + TUNE
    compiled = compile_night(write(tmp_path, rig=rig, gear=gear, songs=songs))
    assert compiled.findings == []
    assert compiled.book is not None
    one = compiled.book.rig.units["one"]
    assert (one.loop, one.channel) == (1, 5)
    assert compiled.book.place(("rig", "units", "one", "channel")).file.endswith("gear.yaml")


def test_a_short_form_below_a_long_one(tmp_path: Path) -> None:
    gear = "switcher: board.yaml\n" + RIG.partition("\n")[2]
    rig = "include: gear.yaml\nswitcher: {banks: 1 to 4}\n"
    songs = "sounds: {plain: [a]}\n" + TUNE
    compiled = compile_night(write(tmp_path, rig=rig, gear=gear, songs=songs))
    assert compiled.findings == []
    assert compiled.book is not None
    assert compiled.book.rig.switcher is not None
    assert compiled.book.rig.switcher.banks == (1, 4)


@pytest.mark.parametrize(
    ("above", "below", "banks", "file", "loop"),
    [
        pytest.param(
            "switcher: board.yaml", "switcher: other.yaml", 10, "board.yaml", 1, id="text"
        ),
        pytest.param(
            "switcher: {file: board.yaml, banks: 1 to 4}",
            "switcher: other.yaml",
            10,
            "board.yaml",
            1,
            id="long over short",
        ),
        pytest.param(
            "switcher: {file: board.yaml}",
            "switcher: {file: other.yaml, banks: 2 to 3}",
            10,
            "board.yaml",
            1,
            id="long over long",
        ),
        pytest.param(
            "switcher: {banks: 1 to 4}\nunits: {one: {loop: 3}}",
            "switcher: other.yaml",
            7,
            "other.yaml",
            3,
            id="what only the included file says",
        ),
    ],
)
def test_whatever_the_form_the_including_rig_wins(
    tmp_path: Path, above: str, below: str, banks: int, file: str, loop: int
) -> None:
    night = write(
        tmp_path,
        rig=f"include: gear.yaml\n{above}\n",
        gear=f"{below}\n" + RIG.partition("\n")[2],
        other=SWITCHER.replace("banks: 10", "banks: 7"),
        songs="sounds: {plain: [a]}\n" + TUNE,
    )
    compiled = compile_night(night)
    assert compiled.findings == []
    assert compiled.book is not None
    assert compiled.book.rig.switcher is not None
    assert compiled.book.rig.switcher.file == file
    assert compiled.book.switcher.banks.count == banks
    assert compiled.book.rig.units["one"].loop == loop


def test_a_list_of_the_including_rig_wins_whole(tmp_path: Path) -> None:
    cables = "midi: [[switcher, one, two]]\n"
    units = "units: {one: {loop: 1, channel: 3}, two: {loop: 2}}\neffects: {a: one, b: two}\n"
    night = write(
        tmp_path,
        rig="include: gear.yaml\nswitcher: board.yaml\nmidi: [[switcher, one]]\n",
        gear=units + cables,
        songs="sounds: {plain: [a]}\n" + TUNE,
    )
    compiled = compile_night(night)
    assert compiled.book is not None
    assert [next(iter(link)) for line in compiled.book.rig.midi for link in line] == [
        "switcher",
        "one",
    ]


@pytest.mark.parametrize(
    ("play", "known"), [("Tune", False), ("first", True), ("second", True), ("Other", True)]
)
def test_a_title_that_two_songs_have_means_neither(tmp_path: Path, play: str, known: bool) -> None:
    songs = """\
songs:
- {title: Tune, id: first, scenes: {S: [a]}}
- {title: Tune, id: second, scenes: {S: [b]}}
- {title: Other, id: third, scenes: {S: [b]}}
"""
    write(tmp_path, rig=RIG, songs=songs)
    night = tmp_path / "night.yaml"
    night.write_text(
        f"night: Test\nrig: rig.yaml\nsongs: songs.yaml\nsets:\n- at most: 45 min\n  play:\n  - {play}\n",
        encoding="utf-8",
    )
    errors = [one for one in compile_night(night).findings if one.severity is Severity.ERROR]
    if known:
        assert errors == []
    else:
        (error,) = errors
        assert (Path(error.place.file).name, error.place.line) == ("night.yaml", 7)
