"""Songs on the floor: what a missing box changes, what is printed, and where scenes come to lie."""

from __future__ import annotations

import json
import re
from pathlib import Path

from click.testing import CliRunner

from setwright.compiler.cli import main
from setwright.compiler.compiled import Compiled
from setwright.compiler.outputs.collect import night_data
from setwright.compiler.outputs.cue_sheet import Sheet, sheet_of
from setwright.compiler.outputs.preset_sheet import render
from setwright.compiler.pipeline import compile_night
from tests.mini import write_night

UNITS = "one: {loop: 1}\ntwo: {loop: 2}\nthree: {loop: 3}\nfour: {loop: 4}"
EFFECTS = "near: one\nfar: two\nodd: three\nwide: four"

# What is missing tonight.

SONGS = """\
songs:
- title: Tune
  scenes:
    Start: [near]
    Far: [far]
    Wide: [far, wide]
- title: Slow Tune
  scenes:
    Odd: [odd, wide]
    Far: [far, wide]
    Last: [far]
    Near: [near]
"""
INSTEAD = "instead of: {far: near, odd: nothing}\n"


def two_songs(folder: Path, rig: str = INSTEAD) -> Path:
    night = write_night(folder, units=UNITS, effects=EFFECTS, songs=SONGS, rig=rig)
    text = night.read_text(encoding="utf-8").replace("[Tune]", "[Slow Tune, Tune, Slow Tune]")
    night.write_text(text, encoding="utf-8")
    return night


def test_stand_ins_are_one_table_by_effect_and_song(tmp_path: Path) -> None:
    ended = CliRunner().invoke(main, ["check", str(two_songs(tmp_path)), "--without", "two"])
    assert ended.exit_code == 0
    lines = ended.stdout.splitlines()
    at = next(n for n, line in enumerate(lines) if "[song-suffers]" in line)
    assert lines[at].endswith("note: without two, 2 songs play something else [song-suffers]")
    assert lines[at + 3 : at + 6] == [
        "    effect  instead  song       scenes",
        "    far     near     Slow Tune  Far, Last",
        "                     Tune       Far, Wide",
    ]
    assert ended.stdout.count("song-suffers") == 1


def test_json_has_the_list(tmp_path: Path) -> None:
    night = str(two_songs(tmp_path))
    arguments = ["check", night, "--without", "two", "--without", "three", "--format", "json"]
    found = json.loads(CliRunner().invoke(main, arguments).stdout)
    (table,) = [one["table"] for one in found if one["code"] == "song-suffers"]
    assert table == [
        {"effect": "odd", "instead": "nothing", "song": "Slow Tune", "scenes": ["Odd"]},
        {"effect": "far", "instead": "near", "song": "Slow Tune", "scenes": ["Far", "Last"]},
        {"effect": "far", "instead": "near", "song": "Tune", "scenes": ["Far", "Wide"]},
    ]


def test_what_is_lost_is_said_of_its_song_and_not_in_the_table(tmp_path: Path) -> None:
    night = two_songs(tmp_path, "instead of: {odd: near}\n")
    found = compile_night(night, frozenset({"two", "three"})).findings
    suffers = [one for one in found if one.code == "song-suffers"]
    assert sorted((one.severity.value, one.message) for one in suffers) == [
        ("note", "without three, two, 1 song plays something else"),
        (
            "warning",
            "without three, two, ‘Slow Tune’ changes: Far: far is lost; Last: far is lost",
        ),
        ("warning", "without three, two, ‘Tune’ changes: Far: far is lost; Wide: far is lost"),
    ]


def test_scenes_that_became_one_are_told_once_a_song(tmp_path: Path) -> None:
    night = two_songs(tmp_path, "instead of: {far: near, odd: nothing, wide: nothing}\n")
    assert [one.code for one in compile_night(night).findings] == []
    found = compile_night(night, frozenset({"two", "four"})).findings
    assert [one.message for one in found if one.code == "scenes-become-one"] == [
        "with what stands in on this rig, scenes of ‘Tune’ are one preset: ‘Start’ and ‘Far’ and "
        "‘Wide’",
        "with what stands in on this rig, scenes of ‘Slow Tune’ are one preset: ‘Far’ and ‘Last’ "
        "and ‘Near’",
    ]
    # What is lost is said already, so ‘Wide’ is no news.
    night = two_songs(tmp_path, "instead of: {odd: nothing}\n")
    found = compile_night(night, frozenset({"two", "four"})).findings
    assert "scenes-become-one" not in {one.code for one in found}


# Notes stand where they belong.

NOTED = """\
songs:
- title: Tune
  form: AB, 2 rounds
  note: mind the ending
  scenes:
    Start: {effects: [near], note: neck pickup}
    Far: [near, far]
    Spare: {effects: [far], note: only for the long dance}
  order:
    - Start
    - Far: {at: round 1 B, cue: the drum stops}
    - Start: {at: round 2 A, cue: all stop}
- title: Slow Tune
"""


def noted(folder: Path) -> Sheet:
    night = write_night(
        folder,
        units=UNITS,
        effects=EFFECTS,
        songs=NOTED,
        rig="general:\n  Plain: {effects: [near], note: volume down}\n  Loud: [odd, wide]\n",
    )
    night.write_text(
        "night: Test\nrig: rig.yaml\nsongs: songs.yaml\nnote: the small hall\nsets:\n"
        "- note: no break after it\n"
        "  play: [{song: Tune, note: the encore}, Tune]\n"
        "if asked: [{song: Slow Tune, note: in the bride's key}]\n",
        encoding="utf-8",
    )
    compiled = compile_night(night)
    assert isinstance(compiled, Compiled)
    return sheet_of(night_data(compiled))


def test_every_note_is_on_the_cue_sheet_where_it_belongs(tmp_path: Path) -> None:
    sheet = noted(tmp_path)
    assert sheet.note == "the small hall"
    (one,) = sheet.sets
    assert one.note == "no break after it"
    assert [song.note for song in one.songs] == ["mind the ending; the encore", "mind the ending"]
    for song in one.songs:
        assert [(press.scene, press.cue, press.note) for press in song.presses] == [
            ("Start", "", "neck pickup"),
            ("Far", "the drum stops", ""),
            ("Start", "all stop", "neck pickup"),
        ]
        assert [(choice.scene, choice.note) for choice in song.choices] == [
            ("Spare", "only for the long dance")
        ]
    (asked,) = sheet.asked
    assert asked.note == "in the bride's key"
    assert [(one.scene, one.note) for one in asked.choices] == [
        ("Plain", "volume down"),
        ("Loud", ""),
    ]


def test_a_note_of_a_scene_is_printed_beside_its_cue(tmp_path: Path) -> None:
    page = render("cue-sheet.html.j2", sheet=noted(tmp_path)).decode("utf-8")
    text = " ".join(re.sub(r"<[^>]+>", " ", page).split())
    assert "Start all stop neck pickup" in text
    assert "Spare only for the long dance" in text
    assert "Plain volume down" in text
    assert text.count("neck pickup") == 4  # two presses in each of two playings
