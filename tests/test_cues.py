"""The one account of what the player does: what comes next, when, from where it is read."""

from __future__ import annotations

from itertools import pairwise
from math import atan, degrees, hypot
from pathlib import Path
from textwrap import dedent

import pytest

from setwright.compiler.legible import REST, TITLE, capitals_mm
from setwright.compiler.outputs.collect import night_data
from setwright.compiler.outputs.cued import Card, Sheet
from setwright.compiler.outputs.cues import sheet_of
from setwright.scenes.sight import Sight
from tests.books import write_files
from tests.conftest import ROOT
from tests.mini import write_night
from tests.nights import whole

BOOK = {
    "board.yaml": """\
        switcher: board
        banks: 20
        switches: 4
        loops: 3
        bank moves: {by: up and down, loads at once: no}
        each preset stores: {programs: 2, controls: 2}
    """,
    "rig.yaml": """\
        rig: Shed
        switcher: {file: board.yaml, banks: 3 to 20}
        units:
          squeezer: {loop: 1}
          fuzz: {loop: 2}
          shaker: {loop: 3}
          combo: {is: amplifier}
        effects: {press: squeezer, lead: fuzz, shake: shaker}
        general: {Plain: [press], Loud: [press, lead]}
        path: [[guitar, squeezer, fuzz, shaker, combo]]
    """,
    "songs.yaml": """\
        songs:
          - title: The Boat
            guitar: steel
            lasts: 3:00
            scenes: {Low: [press], High: [lead], Shake: [shake], All: [press, lead]}
            order: [Low, High: "1:00", Shake: "1:30", All: {at: "2:00", guitar: nylon}]
          - title: A Shell
            guitar: nylon
            lasts: 2:30
            scenes: {Low: [shake, press], High: [press, lead, shake]}
            order: [Low, High: "1:00"]
          - title: Sand
            guitar: nylon
            scenes: {Low: [lead, shake], High: []}
            order: [Low, High: "1:00"]
          - title: An Oar
            guitar: steel, capo 2
            lasts: 4:00
            scenes: {Low: [press], High: [lead]}
            order: [Low, High: "1:00"]
          - title: The Tide
    """,
    "night.yaml": """\
        night: Shed dance
        rig: rig.yaml
        songs: songs.yaml
        sets:
          - name: One
            BEGINS
            play: [The Boat, straight into: A Shell, An Oar, Sand, The Boat]
        BETWEEN
    """,
}


def sheet(folder: Path, begins: str = "", between: str = "", **files: tuple[str, str]) -> Sheet:
    """Return the cue sheet of the book, with one text of a file exchanged for another."""
    book = {name: dedent(text) for name, text in BOOK.items()}
    night = book["night.yaml"].replace("BEGINS", begins or "note: no lights")
    book["night.yaml"] = night.replace("BETWEEN", between)
    for name, (old, new) in files.items():
        assert old in book[f"{name}.yaml"]
        book[f"{name}.yaml"] = book[f"{name}.yaml"].replace(old, new)
    write_files(folder, book)
    compiled = whole(folder / "night.yaml")
    assert [one.message for one in compiled.findings if one.severity.value == "error"] == []
    return sheet_of(night_data(compiled))


def songs(found: Sheet) -> tuple[Card, ...]:
    return found.sets[0].songs


def test_when_each_song_is_due(tmp_path: Path) -> None:
    """Added up by hand: 3:00, 2:30, 4:00, and nobody knows how long ‘Sand’ lasts."""
    running = sheet(tmp_path)
    assert [song.starts for song in songs(running)] == ["0:00", "3:00", "5:30", "9:30", ""]
    assert (running.sets[0].lasts, running.sets[0].begins, running.pauses) == ("", "", False)
    # 20:30, 20:33 without a pause, 20:35:30 and 40 s, 20:40:10 and 40 s.
    timed = sheet(tmp_path, "begins: 8:30 pm", "between songs: 40 s")
    assert [song.starts for song in songs(timed)] == ["20:30", "20:33", "20:36", "20:41", ""]
    assert (timed.sets[0].begins, timed.pauses) == ("20:30", True)
    # Past midnight.
    late = sheet(tmp_path, "begins: 23:58")
    assert [song.starts for song in songs(late)][:3] == ["23:58", "0:01", "0:04"]


def test_how_long_a_set_lasts(tmp_path: Path) -> None:
    known = sheet(tmp_path, between="between songs: 30 s", night=(", Sand, The Boat", ""))
    # 3:00 + 2:30 + 0:30 + 4:00; the second follows straight on.
    assert known.sets[0].lasts == "10:00"


def test_the_guitar_is_told_where_it_changes(tmp_path: Path) -> None:
    found = songs(sheet(tmp_path))
    # The first of a set always; nylon is taken up within the first song, and stays for the next.
    assert [song.gear for song in found] == ["steel", "", "steel, capo 2", "nylon", "steel"]
    assert [song.onward.gear for song in found if song.onward] == [
        "", "steel, capo 2", "nylon", "steel",
    ]  # fmt: skip


def test_what_comes_next(tmp_path: Path) -> None:
    found = songs(sheet(tmp_path))
    assert [song.onward and (song.onward.number, song.onward.title) for song in found] == [
        (2, "A Shell"), (3, "An Oar"), (4, "Sand"), (5, "The Boat"), None,
    ]  # fmt: skip
    assert [song.onward.straight for song in found if song.onward] == [True, False, False, False]
    for song, onward in pairwise(found):
        assert song.onward is not None
        assert (song.onward.bank, song.onward.switch) == (onward.bank, onward.switch)
        assert onward.switch == onward.presses[0].switch


def test_how_many_banks_up_or_down(tmp_path: Path) -> None:
    """The foot is followed through the set, bank by bank, from the numbers on the sheet."""
    found = songs(sheet(tmp_path))
    at = None
    moved = []
    for song in found:
        for bank in (song.bank, *(press.bank for press in song.presses if press.bank)):
            assert bank.number is not None
            assert bank.moves is (at != bank.number)
            assert bank.by == (0 if at is None else bank.number - at)
            moved.append(bank.presses)
            at = bank.number
    assert moved[0] == ""  # nobody knows where it stands after the break
    assert {text.partition(" ")[0] for text in moved} >= {"up"}
    by_number = sheet(tmp_path, board=("by: up and down", "by: number"))
    assert {song.bank.presses for song in songs(by_number)} == {""}


def test_a_to_z_has_every_title(tmp_path: Path) -> None:
    found = sheet(tmp_path, night=("Sand, The Boat]", "Sand]"))
    assert [one.title for one in found.titles] == ["Boat, The", "Oar, An", "Sand", "Shell, A"]
    twice = sheet(tmp_path)
    boats = [one for one in twice.titles if one.title == "Boat, The"]
    assert len(boats) == len({(one.bank, one.switch) for one in boats})
    for one in found.titles:
        song = next(song for song in songs(found) if song.number == one.number)
        assert (one.bank, one.switch) == (song.bank.shown, song.switch)
    # With a song of the general scenes in the book, whoever asks for another gets these.
    asked = sheet(tmp_path, night=("Sand, The Boat]", "Sand]\nif asked: [The Tide]"))
    by_title = {one.title: one for one in asked.titles}
    assert list(by_title) == ["Boat, The", "Oar, An", "Sand", "Shell, A", "Tide, The"]
    assert by_title["Tide, The"].bank


def test_a_song_that_is_not_on_the_list_gets_the_general_bank(tmp_path: Path) -> None:
    found = sheet(
        tmp_path,
        night=("Sand, The Boat]", "Sand, The Tide]"),
        songs=("An Oar", "An Oar\n    id: oar"),
    )
    more = sheet(
        tmp_path,
        night=("An Oar, Sand, The Boat]", "An Oar, The Tide]"),
    )
    sand = next(one for one in more.titles if one.title == "Sand")
    tide = next(one for one in more.titles if one.title == "Tide, The")
    assert (sand.bank, sand.switch, sand.number) == (tide.bank, tide.switch, 0)
    assert "Sand" in [one.title for one in found.titles]


def test_loops_for_playing_by_hand(tmp_path: Path) -> None:
    found = sheet(tmp_path)
    assert found.by_hand == ("loop 1 squeezer", "loop 2 fuzz", "loop 3 shaker")


def test_switches_in_their_order(tmp_path: Path) -> None:
    found = songs(sheet(tmp_path))
    for song in found:
        pressed = [press.switch for press in song.presses]
        assert list(song.order) == [
            one for at, one in enumerate(pressed) if at == 0 or pressed[at - 1] != one
        ]


def test_a_switch_in_another_bank_says_which() -> None:
    """The song over two banks of the rig with four switches, its sheet read by hand."""
    data = night_data(whole(ROOT / "tests" / "boathouse" / "rowboat-night.yaml"))
    stranger = sheet_of(data).sets[1].songs[4]
    assert (stranger.title, stranger.bank.shown, stranger.more_banks) == (
        "Wayfaring Stranger", "4", ("5",),
    )  # fmt: skip
    assert stranger.order == ("1", "4", "1", "3", "2", "3", "5–1")


def test_places_in_brief(tmp_path: Path) -> None:
    form = sheet(
        tmp_path,
        songs=(
            "lasts: 2:30\n    scenes: {Low: [shake, press], High: [press, lead, shake]}\n"
            '    order: [Low, High: "1:00"]',
            "meter: 4/4\n    tempo: quarter = 120\n    form: AABB, 3 rounds\n"
            "    scenes: {Low: [shake, press], High: [press, lead, shake]}\n"
            "    order: [Low, High: round 2 A2, Low: bar 70]",
        ),
    )
    presses = songs(form)[1].presses
    assert [(one.where, one.brief) for one in presses] == [
        ("beginning", ""), ("round 2 A2", "2 A2"), ("bar 70", "bar 70"),
    ]  # fmt: skip


SIGHTS = {
    # The worked example: eyes at 1.6 m, the sheet 0.8 m ahead, 20′ needs 11.6 mm.
    "standing, on the floor": ("", 160.0, 80.0, False),
    "sitting": ("cue sheet: {eyes above: 1.2 m, ahead: 60 cm}", 120.0, 60.0, False),
    "on a stand": (
        "cue sheet: {eyes above: 40 cm, ahead: 60 cm, faces you: yes}",
        40.0,
        60.0,
        True,
    ),
}


@pytest.mark.parametrize(("said", "above", "ahead", "faces"), SIGHTS.values(), ids=SIGHTS)
def test_letters_are_as_high_as_the_place_needs(
    tmp_path: Path, said: str, above: float, ahead: float, faces: bool
) -> None:
    """The angle is computed back from the height: ISO 9241-3:1992, 5.4; NUREG-0700, 1.3.1-4."""
    book = {name: dedent(text) for name, text in BOOK.items()}
    night = book["night.yaml"].replace("BEGINS", "note: quiet").replace("BETWEEN", said)
    write_files(tmp_path, book | {"night.yaml": night})
    sight = night_data(whole(tmp_path / "night.yaml")).sight
    assert (sight.eyes_above_cm, sight.ahead_cm, sight.faces_you) == (above, ahead, faces)
    distance = hypot(above, ahead) * 10
    for height, least in ((sight.cue_mm, 20), (sight.title_mm, 20), (sight.rest_mm, 16)):
        seen = height * (1 if faces else above * 10 / distance)
        minutes = 2 * degrees(atan(seen / 2 / distance)) * 60
        assert least - 0.01 <= minutes <= least + 2.5


def test_the_worked_example_of_a_sheet_on_the_floor() -> None:
    """At 1.7 m, 16′ is 7.9 mm and 20′ is 9.9 mm; flat, from 1.6 m up and 0.8 m ahead, 11.6 mm."""
    facing = Sight.model_validate({"eyes above": "1.5 m", "ahead": "0.8 m", "faces you": "yes"})
    assert round(capitals_mm(REST, facing), 1) == 7.9
    assert round(capitals_mm(TITLE, facing), 1) == 9.9
    assert round(capitals_mm(TITLE, Sight.model_validate({})), 1) == 11.6


def test_the_night_wins_over_the_rig(tmp_path: Path) -> None:
    book = {name: dedent(text) for name, text in BOOK.items()}
    night = book["night.yaml"].replace("BEGINS", "note: quiet")
    rig = book["rig.yaml"] + "cue sheet: {eyes above: 1.1 m}\n"
    for said, above in (("", 110.0), ("cue sheet: {eyes above: 90 cm}", 90.0)):
        files = {"night.yaml": night.replace("BETWEEN", said), "rig.yaml": rig}
        write_files(tmp_path, book | files)
        assert night_data(whole(tmp_path / "night.yaml")).sight.eyes_above_cm == above


def test_pedals_that_every_scene_needs_are_said(tmp_path: Path) -> None:
    """Where scenes are pressed as one likes, nobody else says what all of them need."""
    night = write_night(
        tmp_path,
        units="""
        one: {loop: 1}
        booster: {by foot: [resting, boosting], at start: resting, at rest: resting}
        """,
        effects="near: one\nloud: {booster: boosting}",
        songs="songs:\n- title: Tune\n",
        rig="general: {Plain: [near, loud], Loud: [loud]}\n",
    )
    (song,) = sheet_of(night_data(whole(night))).sets[0].songs
    assert [(one.scene, one.feet) for one in song.choices] == [
        ("Plain", ("booster boosting",)),
        ("Loud", ("booster boosting",)),
    ]
    assert song.afterwards == ("booster resting",)
