"""A third book: twenty songs with words, on a rig of twelve boxes and on one with four switches."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from setwright.compiler.binding.states import Verdict
from setwright.compiler.compiled import Compiled
from setwright.compiler.outputs.build import output_files
from setwright.compiler.outputs.collect import night_data
from setwright.compiler.outputs.cues import sheet_of
from setwright.compiler.reports.explain import explain
from setwright.compiler.reports.find import Found
from setwright.compiler.reports.summary import proof
from setwright.compiler.reports.trace import trace
from setwright.scenes.forms import Vamp
from setwright.scenes.musical_time import Free
from tests.conftest import ROOT
from tests.nights import whole
from tests.test_cli import setwright

FOLDER = ROOT / "tests" / "boathouse"
NIGHTS = ("boathouse-night.yaml", "rowboat-night.yaml")


@pytest.fixture(scope="module", params=NIGHTS)
def compiled(request: pytest.FixtureRequest) -> Compiled:
    return whole(FOLDER / request.param)


@pytest.fixture(scope="module")
def big() -> Compiled:
    return whole(FOLDER / NIGHTS[0])


@pytest.fixture(scope="module")
def small() -> Compiled:
    return whole(FOLDER / NIGHTS[1])


def test_the_book_is_what_it_is_to_be(big: Compiled) -> None:
    book = big.book
    assert len(book.songs) == 20
    assert len(book.rig.units) == 12
    oak = book.rig.units["oak amplifier"]
    assert len(oak.relays["channel"].states) == 3
    assert any("oak amplifier send" in run for run in book.rig.signal_path)
    assert any(unit.foot_sends for unit in book.rig.units.values())
    assert any(unit.tempo_from == "tap" and unit.tap is None for unit in book.rig.units.values())
    assert [one.name for one in big.target.combined] == ["dark echo + hall"]
    songs = book.songs
    assert any(song.pickup for song in songs)
    assert any(isinstance(song.tempi and song.tempi.first, Free) for song in songs)
    assert any(song.tempi and song.tempi.later for song in songs)
    assert any(isinstance(one, Vamp) for song in songs for one in song.bars.values())
    assert any(step.guitar for song in songs for item in song.order for step in item.values())
    assert any(song.over_two_banks for song in songs)


def test_it_is_clean(big: Compiled, small: Compiled) -> None:
    assert big.findings == []
    # A small rig has one sound where the big one has two: that is said once a song.
    assert {one.code for one in small.findings} == {"scenes-become-one"}
    places = [one.place for one in small.findings]
    assert len(places) == len(set(places))


def test_everything_is_proven(compiled: Compiled) -> None:
    summary = proof(compiled)
    assert summary is not None
    assert summary.not_known == 0
    assert all(
        one.verdict is not Verdict.UNKNOWN
        for scene in compiled.scenes.values()
        for one in scene.proved
    )


def test_every_scene_is_explained(compiled: Compiled) -> None:
    for song in compiled.songs:
        for name in song.scenes:
            found = Found(song, compiled.scene(song, name))
            lines = list(explain(compiled, found))
            assert lines[0].startswith(f"{song.called.removeprefix('if asked ')} / {name} on") or (
                f"/ {name} on" in lines[0]
            )
            assert any(line.startswith("  signal: guitar → ") for line in lines)
            assert list(trace(compiled, found, direct=False))


# Bars by hand from the forms, beats by the meters, seconds by the tempos: 60 ÷ BPM a beat.
TIMES = [
    ("The Wild Rover", "Last", "chorus 4", 1 / 3 + 100, (1 / 3 + 100) * 3 * 60 / 144),
    ("The House of the Rising Sun", "Out", "outro bar 5", 8 + 64 + 16 + 4, 92 * 2 * 60 / 76),
    ("Loch Lomond", "Fast", "chorus 3", 4 + 5 * 8, 44 * 4 * 60 / 84),
    ("Loch Lomond", "Solo", "chorus 4", 52, 44 * 4 * 60 / 84 + 8 * 4 * 60 / 168),
    ("Drunken Sailor", "Faster", "round 5 A", 64, 64 * 2 * 60 / 112),
    ("Greensleeves", "Lady", "round 1 B", 1 / 6 + 16, (1 / 6 + 16) * 2 * 60 / 54),
    ("Barbara Allen", "Rose", "verse 7 bar 5 beat 3", 1 / 3 + 52 + 2 / 3, 53 * 3 * 60 / 88),
    ("Molly Malone", "Alive", "chorus", 16, 16 * 3 * 60 / 100),
    ("Shenandoah", "Close", "verse 2", 1 / 4 + 12, None),
    ("Swing Low", "Band", "verse", 8, None),
    ("John Barleycorn", "Scythe", "verse", None, None),
    ("Wayfaring Stranger", "Storm", "verse 2 bar 9", 32, 32 * 4 * 60 / 76),
]


@pytest.mark.parametrize(("title", "scene", "place", "bars", "seconds"), TIMES)
def test_when_scenes_are_pressed(
    title: str, scene: str, place: str, bars: float | None, seconds: float | None, big: Compiled
) -> None:
    (song,) = [one for one in night_data(big).songs if one.title == title]
    moment = next(one for one in song.moments if one.scene == scene and one.place == place)
    assert moment.bars == (None if bars is None else pytest.approx(bars, abs=1e-5))
    assert moment.seconds == (None if seconds is None else pytest.approx(seconds, abs=1e-5))


def test_the_cue_sheet(big: Compiled) -> None:
    data = night_data(big)
    cards = {card.title: card for one in sheet_of(data).sets for card in one.songs}
    barley = cards["John Barleycorn"]
    assert [(press.where, press.cue, press.guitar) for press in barley.presses] == [
        ("beginning", "", ""),
        ("verse", "the singer begins; three men", ""),
        ("verse 5", "the singer begins", "steel, open D"),
        ("verse 6", "", ""),
    ]
    assert "half = 126 from round 5 A" in cards["Drunken Sailor"].facts
    assert "free" in cards["Shenandoah"].facts
    assert [feet for press in cards["The Water Is Wide"].presses for feet in press.feet] == [
        "tapper tap quarter = 66"
    ]
    # Wherever a scene is called Solo, it lies on the switch that the rig says.
    for song in data.songs:
        for name in song.scenes:
            place = data.scene(song.owner, name).place
            assert place is not None
            assert (name == "Solo") <= (place.switch == 7)
    html = output_files(big).files["cue-sheet.html"].decode()
    for song in data.songs:
        if song.form and "round" not in song.form:
            assert all("round" not in (one.place or "") for one in song.moments)
    assert "everybody claps" in html


def test_names_stand_as_the_display_shows_them(big: Compiled) -> None:
    names = [preset.name for preset in night_data(big).presets]
    assert names
    assert all(name == name.upper() and len(name) <= 10 for name in names)


def test_a_song_over_two_banks_where_there_are_four_switches(small: Compiled) -> None:
    data = night_data(small)
    (song,) = [one for one in data.songs if one.title == "Wayfaring Stranger"]
    banks = {
        place.bank
        for name in song.scenes
        if (place := data.scene(song.owner, name).place) is not None
    }
    assert len(banks) == 2
    cards = {card.title: card for one in sheet_of(data).sets for card in one.songs}
    moved = [press.new_bank for press in cards["Wayfaring Stranger"].presses if press.new_bank]
    assert moved, "the move stands where the foot moves"


def test_both_nights_are_built(compiled: Compiled) -> None:
    files = output_files(compiled).files
    assert {"cue-sheet.html", "preset-sheet.html", "night.json"} <= files.keys()
    songs = json.loads(files["night.json"])["songs"]
    assert len(songs) == 20
    titles = files["cue-sheet.html"].decode()
    assert all(song["title"].replace("'", "&#39;") in titles for song in songs)


def test_the_command_says_so(tmp_path: Path) -> None:
    ended = setwright("check", NIGHTS[0], cwd=FOLDER)
    assert ended.returncode == 0
    assert ended.stdout.splitlines()[0] == "20 songs, 66 scenes on Boathouse: nothing found"
    ended = setwright("build", NIGHTS[1], "--out", str(tmp_path / "out"), cwd=FOLDER)
    assert ended.returncode == 0
