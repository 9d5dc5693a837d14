"""Echoes that nobody follows, and those of which nobody can say it: replaced, missing, left out."""

from __future__ import annotations

from pathlib import Path

import pytest

from setwright.compiler.pipeline import compile_night
from tests.mini import told, write_night

UNITS = """
squeezer: {loop: 1}
wobbler: {loop: 2}
echo: {loop: 3, tempo from: tap}
"""
EFFECTS = "compression: squeezer\ntremolo: wobbler\nlong echo: echo"
WITHOUT = {"song-suffers", "nothing-to-let-pass", "spare-unit"}


def codes(path: Path, without: frozenset[str] = frozenset()) -> list[str]:
    found = told(compile_night(path, without))
    return [one.code for one in found if one.code not in WITHOUT]


@pytest.mark.parametrize(
    ("scenes", "rig", "without", "expected"),
    [
        pytest.param("Far: {effects: [long echo], echo: quarter}", "", "", [], id="followed"),
        pytest.param(
            "Far: {effects: [tremolo], echo: quarter}", "", "", ["echo-not-followed"], id="not"
        ),
        pytest.param(
            "Far: {effects: [long echo], echo: quarter}",
            "instead of: {long echo: tremolo}\n",
            "echo",
            [],
            id="the delay is missing tonight",
        ),
        pytest.param(
            "Far: {effects: [long echo, tremolo], echo: quarter}",
            "instead of: {long echo: tremolo}\n",
            "echo",
            [],
            id="missing, and its stand-in sounds already",
        ),
        pytest.param(
            "Far: {effects: [great echo], echo: quarter}",
            "instead of: {great echo: tremolo}\n",
            "",
            [],
            id="this rig plays it otherwise",
        ),
        pytest.param(
            "Far: {effects: [great echo], echo: quarter}",
            "instead of: {great echo: nothing}\n",
            "",
            [],
            id="this rig does without",
        ),
        pytest.param(
            "Far: {effects: [compression, tremolo], echo: quarter}",
            "instead of: {compression: nothing}\n",
            "squeezer",
            ["echo-not-followed"],
            id="what is missing was no delay",
        ),
        pytest.param(
            "Far: {effects: [long echo], echo: quarter}\nDry: {like: Far, drop: long echo}",
            "",
            "",
            [],
            id="another scene takes it over without a delay",
        ),
        pytest.param(
            "Far: {effects: [tremolo], echo: quarter}\nOn: {like: Far, add: compression}",
            "",
            "",
            ["echo-not-followed"],
            id="two scenes, one echo",
        ),
        pytest.param(
            "Far: {effects: [tremolo], echo: quarter}\nOn: {effects: [tremolo], echo: eighth}",
            "",
            "",
            ["echo-not-followed", "echo-not-followed"],
            id="two echoes",
        ),
        pytest.param(
            "Far: {effects: [tremolo], echo: quarter, let pass: {echo-not-followed: for later}}",
            "",
            "",
            ["echo-not-followed"],
            id="let pass, as a note",
        ),
    ],
)
def test_what_is_found(
    tmp_path: Path, scenes: str, rig: str, without: str, expected: list[str]
) -> None:
    path = write_night(tmp_path, units=UNITS, effects=EFFECTS, scenes=scenes, rig=rig)
    assert codes(path, frozenset(without.split())) == expected


@pytest.mark.parametrize("leave_out", ["", "Far"])
def test_scenes_that_are_left_out_tonight(tmp_path: Path, leave_out: str) -> None:
    """That the scene which follows the echo is not played tonight is no fault of the song's."""
    songs = (
        "songs:\n- title: Tune\n  tempo: quarter = 90\n  echo: quarter\n"
        "  scenes: {Dry: [tremolo], Far: [long echo]}\n"
    )
    path = write_night(tmp_path, units=UNITS, effects=EFFECTS, songs=songs)
    out = f"[{{song: Tune, leave out: [{leave_out}]}}]"
    path.write_text(path.read_text(encoding="utf-8").replace("[Tune]", out), encoding="utf-8")
    assert codes(path) == []


def test_one_unit_is_to_blame_once(tmp_path: Path) -> None:
    units = UNITS.replace("tempo from: tap", "tempo from: global")
    scenes = "A: {effects: [long echo], echo: quarter}\nB: {effects: [long echo], echo: eighth}"
    path = write_night(tmp_path, units=units, effects=EFFECTS, scenes=scenes)
    (finding,) = told(compile_night(path))
    assert finding.message == (
        "in ‘A’ of ‘Tune’ (and 1 more scene) no delay can follow this echo: ‘echo’ has one tempo "
        "for all, set on the unit"
    )
    text = (path.parent / "rig.yaml").read_text(encoding="utf-8")
    passing = text.replace("global", "global, let pass: {echo-not-followed: set for the night}")
    (path.parent / "rig.yaml").write_text(passing, encoding="utf-8")
    (finding,) = told(compile_night(path))
    assert finding.message.endswith("(let pass: set for the night)")


SOUNDS = "sounds:\n  frost: [compression, tremolo]\n"


@pytest.mark.parametrize(
    ("scenes", "said"),
    [
        pytest.param(
            ["A: {sound: frost, echo: quarter}", "B: {sound: frost, echo: eighth}"],
            ["in ‘A’ of ‘Tune’ (and 1 more scene)"],
            id="one sound",
        ),
        pytest.param(
            ["A: {sound: frost, echo: quarter}", "B: {like: A, add: long echo, echo: eighth}"],
            ["in ‘A’ of ‘Tune’"],
            id="added to it",
        ),
        pytest.param(
            ["A: {sound: frost, echo: quarter}", "B: {effects: [tremolo], echo: eighth}"],
            ["in ‘A’ of ‘Tune’", "in ‘B’ of ‘Tune’"],
            id="a sound and a scene",
        ),
        pytest.param(
            [
                f"{name}: {{effects: [tremolo], echo: {ms} ms}}"
                for name, ms in zip("ABCD", (90, 120, 350, 444), strict=True)
            ],
            ["in ‘A’ of ‘Tune’ (and 3 more scenes)"],
            id="so many are one",
        ),
    ],
)
def test_one_cause_is_one_finding(tmp_path: Path, scenes: list[str], said: list[str]) -> None:
    songs = (
        f"{SOUNDS}songs:\n- {{title: Tune, tempo: quarter = 90, scenes: {{{', '.join(scenes)}}}}}\n"
    )
    path = write_night(tmp_path, units=UNITS, effects=EFFECTS, songs=songs)
    found = [one.message.partition(" no delay")[0] for one in told(compile_night(path))]
    assert found == said


def test_a_song_that_is_asked_for_plays_the_general_scenes(tmp_path: Path) -> None:
    """Its own echo is for its own scenes, which are not played then."""
    songs = "songs:\n- title: Tune\n  tempo: quarter = 90\n  echo: quarter\n  scenes: {Far: [long echo]}\n"
    path = write_night(
        tmp_path, units=UNITS, effects=EFFECTS, songs=songs, rig="general: {Plain: [compression]}\n"
    )
    path.write_text(path.read_text(encoding="utf-8") + "if asked: [Tune]\n", encoding="utf-8")
    assert codes(path) == []
