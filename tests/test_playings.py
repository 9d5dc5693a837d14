"""A song that is played more than once on a night: every playing sounds as it is played.

Delay times by hand: ms = 60,000 ÷ BPM × beats (arithmetic), and the echo's control is that ÷ 10,
for it reaches 0 ms to 1270 ms in 127 equal steps.
"""

from __future__ import annotations

import csv
import io
import json
import tempfile
from functools import cache
from pathlib import Path
from textwrap import dedent
from typing import Any, NamedTuple

import mido
import pytest

from setwright.compiler.binding.bound import BoundSong
from setwright.compiler.compiled import Compiled
from setwright.compiler.outputs.build import output_files
from setwright.compiler.outputs.collect import night_data
from setwright.compiler.outputs.cues import sheet_of
from setwright.compiler.reports.explain import explain
from setwright.compiler.reports.find import Found
from setwright.compiler.reports.trace import trace
from setwright.compiler.sending.send import Plan, plan
from tests.mini import write_night
from tests.nights import whole

SWITCHES, RECALL_CHANNEL, ECHO_CHANNEL, TIME_CONTROL, SWITCH_CONTROL = 5, 16, 9, 20, 28

BOOK = {
    "board.yaml": """\
        switcher: board
        banks: 20
        switches: 5
        loops: 2
        each preset stores: {programs: 2, controls: 3, on any channel: yes}
        recalled on channel: 16
        """,
    "rig.yaml": """\
        rig: Attic
        switcher: board.yaml
        units:
          swell: {by foot: [closed, open], at start: open}
          squeezer: {loop: 1}
          echo:
            channel: 9
            switched by: {cc: 28, on: 127, off: 0}
            time: {cc: 20, linear: 0 ms to 1270 ms, at rest: 100 ms}
            acts only on: what is declared
          amplifier: {is: amplifier}
        effects:
          press: squeezer
          long echo: echo
        general:
          Plain: [press]
          Wash: {effects: [long echo], echo: quarter}
        path:
        - [guitar, swell, squeezer, echo, amplifier]
        midi:
        - [switcher, echo]
        """,
    "songs.yaml": """\
        songs:
        - title: Reel
          meter: 4/4
          tempo: quarter = 120
          form: AB, 3 rounds
          scenes:
            Start: [press]
            Lift: {effects: [press, long echo], echo: quarter}
            Turn: {effects: [long echo], echo: eighth}
          order:
          - Start
          - Lift: round 1 B
          - Turn: {at: round 2 A, foot: swell closed}
          - Start: {at: round 3 A, foot: swell open}
        - title: 2 Reel
          meter: 4/4
          tempo: quarter = 75
          form: AB, 2 rounds
          scenes: {Lift: {effects: [long echo], echo: quarter}}
          order: [Lift]
        - title: March
          id: slow march
          meter: 4/4
          tempo: quarter = 60
          form: AB, 2 rounds
          scenes: {Lift: {effects: [long echo], echo: quarter}, Out: [press]}
          order: [Lift, {Out: round 2 A}]
        - title: March
          id: quick march
          meter: 4/4
          tempo: quarter = 200
          form: AB, 2 rounds
          scenes: {Lift: {effects: [long echo], echo: quarter}}
          order: [Lift]
        - title: Air
          meter: 4/4
          tempo: quarter = 80
          form: AB, 2 rounds
        - title: Hymn
          tempo: quarter = 60
        """,
}

Times = dict[str, int | None]
"""Scene → ms of the echo; None where it does not sound."""

REEL: Times = {"Start": None, "Lift": 500, "Turn": 250}
REEL_AT_100: Times = {"Start": None, "Lift": 600, "Turn": 300}
REEL_AT_150: Times = {"Start": None, "Lift": 400, "Turn": 200}
LEFT_OUT: Times = {"Start": None, "Turn": 250}


class Case(NamedTuple):
    """A night: what is played, what is kept for requests, and what each of them sounds like."""

    play: str
    playings: list[Times]
    if_asked: str = "[]"


CASES = {
    "once": Case("[Reel]", [REEL]),
    "other tempo": Case("[Reel, {song: Reel, tempo: quarter = 100}]", [REEL, REEL_AT_100]),
    "other tempo first": Case("[{song: Reel, tempo: quarter = 100}, Reel]", [REEL_AT_100, REEL]),
    "the same again": Case("[Reel, Air, Reel]", [REEL, {"Plain": None, "Wash": 750}, REEL]),
    "left out first": Case("[{song: Reel, leave out: Lift}, Reel]", [LEFT_OUT, REEL]),
    "left out second": Case("[Reel, {song: Reel, leave out: Lift}]", [REEL, LEFT_OUT]),
    "left out first, at another tempo": Case(
        "[{song: Reel, tempo: quarter = 100, leave out: Lift}, Reel]",
        [{"Start": None, "Turn": 300}, REEL],
    ),
    "without the foot": Case(
        "[{song: Reel, leave out: Turn}, Reel]", [{"Start": None, "Lift": 500}, REEL]
    ),
    "three times": Case(
        "[Reel, {song: Reel, tempo: quarter = 100}, {song: Reel, tempo: quarter = 150}]",
        [REEL, REEL_AT_100, REEL_AT_150],
    ),
    "three times, the last as the first": Case(
        "[Reel, {song: Reel, tempo: quarter = 100, leave out: Lift}, Reel]",
        [REEL, {"Start": None, "Turn": 300}, REEL],
    ),
    "two sets": Case(
        "[Reel]\n- play: [{straight into: Reel, tempo: quarter = 100}]", [REEL, REEL_AT_100]
    ),
    "asked for too": Case("[Reel]", [REEL, REEL], "[Reel]"),
    "asked for at another tempo": Case(
        "[Air]",
        [{"Plain": None, "Wash": 750}, {"Plain": None, "Wash": 600}],
        "[{song: Air, tempo: quarter = 100}]",
    ),
    "general twice": Case(
        "[Air, {song: Air, tempo: quarter = 100}, {song: Air, leave out: Plain}]",
        [{"Plain": None, "Wash": 750}, {"Plain": None, "Wash": 600}, {"Wash": 750}],
    ),
    "one title": Case(
        "[slow march, quick march, {song: slow march, tempo: quarter = 120}]",
        [{"Lift": 1000, "Out": None}, {"Lift": 300}, {"Lift": 500, "Out": None}],
    ),
    "a title that begins with a number": Case(
        "[2 Reel, Reel, {song: Reel, tempo: quarter = 100}, {song: 2 Reel, tempo: quarter = 120}]",
        [{"Lift": 800}, REEL, REEL_AT_100, {"Lift": 500}],
    ),
    "a title like another's second playing": Case(
        "[Reel, {song: Reel, tempo: quarter = 100}, 2 Reel]", [REEL, REEL_AT_100, {"Lift": 800}]
    ),
}


def write(folder: Path, case: Case) -> Path:
    night = (
        "night: Twice\nrig: rig.yaml\nsongs: songs.yaml\nsets:\n"
        f"- play: {case.play}\nif asked: {case.if_asked}\n"
    )
    for name, text in {**BOOK, "night.yaml": night}.items():
        (folder / name).write_text(dedent(text), encoding="utf-8")
    return folder / "night.yaml"


@cache
def compiled_case(name: str) -> tuple[Compiled, dict[str, bytes]]:
    """Return a night, which is without findings, and all its outputs by file name."""
    with tempfile.TemporaryDirectory() as folder:
        compiled = whole(write(Path(folder), CASES[name]))
    assert [finding.message for finding in compiled.findings] == []
    return compiled, output_files(compiled).files


def on_the_wire(milliseconds: int | None) -> list[str]:
    """Return what the echo is told, by hand: its time and on, or off alone."""
    channel = 0xB0 + ECHO_CHANNEL - 1
    if milliseconds is None:
        return [f"{channel:02x} {SWITCH_CONTROL:02x} 00"]
    return [
        f"{channel:02x} {TIME_CONTROL:02x} {milliseconds // 10:02x}",
        f"{channel:02x} {SWITCH_CONTROL:02x} 7f",
    ]


def messages_in(file: bytes) -> list[list[str]]:
    """Return the channel messages of a MIDI file, read by mido, press by press."""
    presses: list[list[str]] = []
    for event in mido.merge_tracks(mido.MidiFile(file=io.BytesIO(file)).tracks):
        if event.type == "marker":
            presses.append([])
        elif not event.is_meta:
            presses[-1].append(event.hex(" ").lower())
    return [press for press in presses if press]


def pressed(song: BoundSong, case_times: Times) -> list[str]:
    """Return the scenes that a playing's MIDI file goes through; none is pressed twice running."""
    if song.general:
        return list(case_times)[:1]
    return [moment.scene for moment in song.moments]


def paper(table: bytes) -> dict[tuple[str, str], list[tuple[str, str]]]:
    """Return the control slots on the preset sheet: (bank, switch) → (control, value)."""
    rows: dict[tuple[str, str], list[tuple[str, str]]] = {}
    for row in csv.DictReader(io.StringIO(table.decode("utf-8"))):
        if row["what"] == "control" and row["meaning"] != "empty":
            rows.setdefault((row["bank"], row["switch"]), []).append(
                (row["on the wire"], row["value"])
            )
    return rows


def recalled(message: str) -> tuple[str, str]:
    """Return bank and switch, as shown, that a program change on the switcher's channel loads."""
    status, program = (int(byte, 16) for byte in message.split())
    assert status == 0xC0 + RECALL_CHANNEL - 1
    return str(program // SWITCHES + 1), str(program % SWITCHES + 1)


@pytest.mark.parametrize("name", CASES)
def test_every_output_says_of_every_playing_what_it_sounds_like(name: str) -> None:
    case = CASES[name]
    compiled, files = compiled_case(name)
    night: dict[str, Any] = json.loads(files["night.json"])
    on_paper = paper(files["preset-sheet.csv"])
    listed = {(one["song"], one["scene"]): one for one in night["scenes"]}
    direct = sorted(one for one in files if one.startswith("direct/") and one[7].isdigit())
    # Requests are counted as set 0, and sort before the rest.
    asked = sum(not song["number"] for song in night["songs"])
    direct = [one for one in direct if "set-" not in one]
    direct = direct[asked:] + direct[:asked]
    assert len(direct) == len(compiled.songs) == len(case.playings)
    for song, data, times, file in zip(
        compiled.songs, night["songs"], case.playings, direct, strict=True
    ):
        assert data["scenes"] == list(song.scenes) == list(times)
        for scene, milliseconds in times.items():
            found = Found(song, compiled.scene(song, scene))
            wire = on_the_wire(milliseconds)
            # explain, trace and send, by both routes
            said = "\n".join(explain(compiled, found))
            assert all(f"\n  {one}  echo: " in said for one in wire), said
            traced = "\n".join(trace(compiled, found))
            assert all(f": {one}, channel" in traced for one in wire), traced
            sent = plan(compiled, found, direct=True)
            assert isinstance(sent, Plan)
            assert sorted(line.split("  ")[0] for line in sent.lines()) == wire
            recall = plan(compiled, found, direct=False)
            assert isinstance(recall, Plan)
            (load,) = (line.split("  ")[0] for line in recall.lines())
            # night.json and the preset sheet: what is recalled is what was typed in there
            one = listed[data["owner"], scene]
            assert sorted(message["hex"] for message in one["direct"]["messages"]) == wire
            assert sorted(message["hex"] for message in one["stored"]["messages"]) == wire
            assert [message["hex"] for message in one["recall"]["messages"]] == [load]
            place = (one["place"]["bank_shown"], one["place"]["switch_shown"])
            assert recalled(load) == place
            assert sorted(on_paper[place]) == sorted(
                (str(int(message.split()[1], 16)), str(int(message.split()[2], 16)))
                for message in wire
            )
        # the MIDI files
        scenes = pressed(song, times)
        by_computer = messages_in(files[file])
        assert [sorted(some) for some in by_computer] == [on_the_wire(times[one]) for one in scenes]
        by_switcher = messages_in(files[file.replace("direct/", "stored/")])
        assert by_switcher == [
            [message["hex"] for message in listed[data["owner"], one]["recall"]["messages"]]
            for one in scenes
        ]


@pytest.mark.parametrize("name", CASES)
def test_the_maps_name_every_use_of_every_delay_time(name: str) -> None:
    _, files = compiled_case(name)
    owners = [song["owner"] for song in json.loads(files["night.json"])["songs"]]
    found = {
        (use["song"], use["scene"], one["value"])
        for one in json.loads(files["maps/controls.json"])["controls"]
        if one["number"] == TIME_CONTROL
        for use in one["scenes"]
    }
    assert found == {
        (owner, scene, milliseconds // 10)
        for owner, times in zip(owners, CASES[name].playings, strict=True)
        for scene, milliseconds in times.items()
        if milliseconds is not None
    }


@pytest.mark.parametrize(
    ("name", "owners", "called"),
    [
        ("the same again", ["Reel", "", "Reel"], ["1 Reel", "2 Air", "3 Reel"]),
        (
            "three times, the last as the first",
            ["Reel", "2 2 Reel", "Reel"],
            ["1 Reel", "2 Reel", "3 Reel"],
        ),
        (
            "one title",
            ["slow march", "quick march", "3 slow march"],
            ["1 slow march", "2 quick march", "3 slow march"],
        ),
        (
            "a title like another's second playing",
            ["Reel", "2 2 Reel", "2 Reel"],
            ["1 Reel", "2 Reel", "3 2 Reel"],
        ),
        ("asked for too", ["Reel", "Reel"], ["1 Reel", "if asked Reel"]),
        ("asked for at another tempo", ["", "if asked Air"], ["1 Air", "if asked Air"]),
        ("general twice", ["", "2 Air", ""], ["1 Air", "2 Air", "3 Air"]),
    ],
)
def test_who_owns_the_scenes_of_a_playing(name: str, owners: list[str], called: list[str]) -> None:
    songs = compiled_case(name)[0].songs
    assert ([song.owner for song in songs], [song.called for song in songs]) == (owners, called)


def test_the_preset_sheet_says_for_which_playing_a_preset_is() -> None:
    _, files = compiled_case("three times, the last as the first")
    rows = csv.DictReader(io.StringIO(files["preset-sheet.csv"].decode("utf-8")))
    used = [row["meaning"] for row in rows if row["what"] == "used by"]
    assert used == [
        "1, 3 Reel: Start",
        "2 Reel: Start",  # made in the same way, so it is the same preset
        "1, 3 Reel: Lift",
        "1, 3 Reel: Turn",
        "2 Reel: Turn",
    ]


def test_a_set_takes_as_long_as_its_playings_take(tmp_path: Path) -> None:
    """AB with 8 bars a part, 3 rounds, 4 beats a bar: 192 beats; 96 s at 120, 115 s at 100."""
    night = write(tmp_path, Case("[Reel, {song: Reel, tempo: quarter = 100}]\n  at most: 3:20", []))
    (finding,) = whole(night).findings
    assert finding.code == "set-too-long"
    assert finding.message.endswith("take 3:31 without the pauses, and there are 3:20")


def test_what_a_song_suffers_is_said_once_however_often_it_is_played(tmp_path: Path) -> None:
    night = write(tmp_path, Case("[Reel, {song: Reel, tempo: quarter = 100}, Reel]", []))
    (finding,) = whole(night, frozenset({"echo"})).findings
    assert finding.message == (
        "without echo, ‘Reel’ changes: Lift: long echo is lost; Turn: long echo is lost"
    )


def test_cue_sheet_and_midi_files_say_which_playing_they_are_for() -> None:
    compiled, files = compiled_case("three times")
    (one,) = sheet_of(night_data(compiled)).sets
    assert [(card.number, card.facts[0], card.facts[-1]) for card in one.songs] == [
        (1, "4/4", "quarter = 120"),
        (2, "second time", "quarter = 100"),
        (3, "third time", "quarter = 150"),
    ]
    titles = {
        name: mido.MidiFile(file=io.BytesIO(files[f"direct/{name}.mid"])).tracks[0][0].name
        for name in ("1-01-reel", "1-02-reel", "1-03-reel")
    }
    assert list(titles.values()) == ["1. Reel", "2. Reel", "3. Reel"]


def test_a_time_that_only_tonights_tempo_puts_out_of_reach(tmp_path: Path) -> None:
    """A quarter at 120 is 500 ms; at 30 it is 2 s, and the unit reaches 1.27 s."""
    night = write_night(
        tmp_path,
        units="echo: {loop: 1, channel: 9, time: {cc: 20, linear: 0 ms to 1270 ms, at rest: 100 ms}}",
        effects="far: echo",
        songs="""
        songs:
        - {title: Tune, meter: 4/4, tempo: quarter = 120, scenes: {Wide: {effects: [far], echo: quarter}}}
        """,
    )
    slow = "- play: [Tune, {song: Tune, tempo: quarter = 30}]"
    night.write_text(night.read_text("utf-8").replace("- play: [Tune]", slow), "utf-8")
    (finding,) = whole(night).findings
    assert finding.code == "time-not-reached"
    assert Path(finding.place.file).name == "night.yaml"
    assert finding.place.source.line(finding.place.line)[finding.place.column - 1 :].startswith(
        "quarter = 30"
    )
    assert finding.message.startswith("in ‘Wide’ of ‘Tune’ the time of ‘echo’ is not set: 2000 ms")
    assert [Path(one.place.file).name for one in finding.related] == ["songs.yaml"]
    # At a tempo that is too slow in the song itself, the echo is to blame.
    songs = tmp_path / "songs.yaml"
    songs.write_text(songs.read_text("utf-8").replace("quarter = 120", "quarter = 31"), "utf-8")
    places = {Path(one.place.file).name for one in whole(night).findings}
    assert places == {"songs.yaml"}


@pytest.mark.parametrize(
    ("left_out", "codes"),
    [("[A, B]", ["song-without-scenes"]), ("B", []), ("[B]", [])],
)
def test_a_song_of_which_everything_is_left_out(
    tmp_path: Path, left_out: str, codes: list[str]
) -> None:
    night = write_night(
        tmp_path, units="one: {loop: 1}", effects="near: one", scenes="A: [near]\nB: {effects: []}"
    )
    played = f"- play: [Tune, {{song: Tune, leave out: {left_out}}}]"
    night.write_text(night.read_text("utf-8").replace("- play: [Tune]", played), "utf-8")
    found = whole(night).findings
    assert [one.code for one in found] == codes
    assert [one.place.source.line(one.place.line)[one.place.column - 1 :][:9] for one in found] == [
        "leave out" for _ in codes
    ]


def test_requests_of_one_song_in_two_ways_have_names_of_their_own(tmp_path: Path) -> None:
    """The general scene's echo follows each tempo, so that each request has its own."""
    night = write_night(
        tmp_path,
        units="echo: {loop: 1, channel: 9, time: {cc: 20, linear: 0 ms to 1270 ms, at rest: 100 ms}}",
        effects="far: echo",
        songs="songs: [{title: Tune, meter: 4/4, tempo: quarter = 120}]",
        rig="general: {Wide: {effects: [far], echo: quarter}}",
    )
    asked = "if asked: [Tune, {song: Tune, tempo: quarter = 60}, {song: Tune, tempo: quarter = 80}]"
    night.write_text(night.read_text("utf-8") + f"{asked}\n", "utf-8")
    compiled = whole(night)
    assert compiled.findings == []
    assert [song.called for song in compiled.songs] == [
        "1 Tune",
        "if asked Tune",
        "if asked 2 Tune",
        "if asked 3 Tune",
    ]
    times = {
        song.called: next(
            one.command.message.data[1]
            for one in compiled.scene(song, "Wide").lowered.direct.commands
            if one.command.quantity == "time"
        )
        for song in compiled.songs
    }
    # Ten ms a step: 500, 1000 and 750 ms.
    assert times == {
        "1 Tune": 50,
        "if asked Tune": 50,
        "if asked 2 Tune": 100,
        "if asked 3 Tune": 75,
    }
