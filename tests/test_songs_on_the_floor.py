"""Songs on the floor: what a missing box changes, what is printed, and where scenes come to lie."""

from __future__ import annotations

import json
import re
from pathlib import Path

import pytest
from click.testing import CliRunner
from hypothesis import given
from hypothesis import strategies as st

from setwright.compiler.cli import main
from setwright.compiler.compiled import Compiled
from setwright.compiler.outputs.collect import night_data
from setwright.compiler.outputs.cued import Sheet
from setwright.compiler.outputs.cues import sheet_of
from setwright.compiler.outputs.filled import render
from setwright.compiler.outputs.tunes import tune_of
from setwright.compiler.pipeline import compile_night
from setwright.compiler.placement.parting import over_two_banks
from setwright.compiler.placement.wanted import key_of
from setwright.compiler.reports.explain import explain
from setwright.compiler.reports.find import find_scene
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


# Requests keep their own scenes.

ASKED = """\
songs:
- title: Tune
  scenes: {Start: [near], Far: [far]}
- title: Long Tune
  scenes: {A: [near, far], B: [far, odd], C: [near, odd], D: [odd]}
- title: Slow Tune
  form: AB, 2 rounds
  tempo: quarter = 60
  scenes: {Start: [wide], Last: [near, wide]}
  order: [Start, Last: {at: round 2 A, cue: he nods}]
- title: Air
  scenes: {Start: [far, wide], Last: [odd, wide]}
- title: Reel
"""


def with_requests(folder: Path, banks: int, asked: str, general: str = "Plain: [odd]") -> Compiled:
    night = write_night(
        folder, units=UNITS, effects=EFFECTS, songs=ASKED, rig=f"general:\n  {general}\n"
    )
    rig = folder / "rig.yaml"
    text = rig.read_text(encoding="utf-8")
    use = f"switcher: {{file: board.yaml, banks: 1 to {banks}}}"
    rig.write_text(text.replace("switcher: board.yaml", use), encoding="utf-8")
    night.write_text(
        "night: Test\nrig: rig.yaml\nsongs: songs.yaml\nsets:\n- play: [Tune, Long Tune]\n"
        f"if asked: [{asked}]\n",
        encoding="utf-8",
    )
    compiled = compile_night(night)
    assert isinstance(compiled, Compiled)
    return compiled


# Tune takes 2 of 5 switches in bank 1, Long Tune 4 in bank 2. What the banks are, which requests
# there are, and for each the bank of its scenes (counted from 1), or that they are general ones.
REQUESTS = [
    (2, "Slow Tune", {"Slow Tune": 1}),
    (2, "Slow Tune, Air", {"Slow Tune": 1, "Air": "general"}),
    (2, "Air, Slow Tune", {"Air": 1, "Slow Tune": "general"}),
    (3, "Slow Tune, Air", {"Slow Tune": 1, "Air": 3}),
    (2, "Reel, Slow Tune", {"Reel": "general", "Slow Tune": 1}),
    (2, "Tune", {"Tune": 1}),
    (2, "Long Tune, Slow Tune", {"Long Tune": 2, "Slow Tune": 1}),
]


@pytest.mark.parametrize(("banks", "asked", "expected"), REQUESTS)
def test_requests_keep_their_scenes_while_there_is_room(
    tmp_path: Path, banks: int, asked: str, expected: dict[str, int | str]
) -> None:
    compiled = with_requests(tmp_path, banks, asked)
    slots = compiled.placement.of_scene
    found: dict[str, int | str] = {}
    for song in compiled.songs[2:]:
        (bank,) = {slots[key_of(song, name)].bank + 1 for name in song.scenes}
        found[song.song.title] = "general" if song.general else bank
    assert found == expected
    notes = [one.message for one in compiled.findings if one.code == "request-without-room"]
    crowded = [name for name, where in expected.items() if where == "general" and name != "Reel"]
    assert [name for note in notes for name in crowded if name in note] == crowded
    for name in crowded:
        reason = find_scene(compiled, f"{name}/Start")
        assert isinstance(reason, str)
        assert "the banks have no room for its scenes" in reason
    # What is played in the sets lies where it lies without requests.
    assert slots["Tune", "Start"] == (0, 0)
    assert slots["Long Tune", "A"] == (1, 0)


def test_general_scenes_that_find_no_room_take_it_from_the_last_request(tmp_path: Path) -> None:
    general = "Plain: [near, far, odd]\n  Loud: [far, odd, wide]"
    compiled = with_requests(tmp_path, 2, "Slow Tune, Air", general)
    assert [song.general for song in compiled.songs] == [False, False, True, True]
    (note,) = [one for one in compiled.findings if one.code == "request-without-room"]
    assert "‘Slow Tune’, ‘Air’: they have" in note.message


def test_without_general_scenes_a_request_needs_more_banks(tmp_path: Path) -> None:
    night = write_night(tmp_path, units=UNITS, effects=EFFECTS, songs=ASKED)
    rig = tmp_path / "rig.yaml"
    use = "switcher: {file: board.yaml, banks: 1 to 1}"
    text = rig.read_text(encoding="utf-8").replace("switcher: board.yaml", use)
    rig.write_text(text, encoding="utf-8")
    asked = night.read_text(encoding="utf-8") + "if asked: Long Tune\n"
    night.write_text(asked, encoding="utf-8")
    assert "banks-too-few" in {one.code for one in compile_night(night).findings}


def test_a_request_has_its_moments_on_the_cue_sheet_and_in_the_midi_file(tmp_path: Path) -> None:
    data = night_data(with_requests(tmp_path, 3, "Slow Tune"))
    (asked,) = sheet_of(data).asked
    assert [(one.where, one.scene, one.cue) for one in asked.presses] == [
        ("beginning", "Start", ""),
        ("round 2 A", "Last", "he nods"),
    ]
    song = data.songs[-1]
    tune = tune_of(song, {name: data.scene(song.owner, name) for name in song.scenes})
    # Sixteen bars of four quarters, 480 ticks each: MIDI 1.0, Standard MIDI Files, MTrk chunks.
    assert [(one.tick, one.scene.scene) for one in tune.presses] == [
        (0, "Start"),
        (16 * 4 * 480, "Last"),
    ]


# A song over two banks.

BOARD = """\
switcher: board
banks: 10
switches: 3
loops: 4
relays: [hold, pulse]
each preset stores: {programs: 4, controls: 4, bank select: yes}
"""
LONG = """\
songs:
- title: Tune
  form: AABB, 3 rounds
  tempo: quarter = 120
  over two banks: yes
  scenes:
    A: [near]
    B: [far]
    C: [odd]
    D: [wide]
    E: [near, far]
  order:
    - A
    - D: round 1 B
    - C: round 2 A
    - D: round 2 B
    - B: {at: round 3 A, cue: pipes in}
- title: After
  scenes: {A: [near, odd]}
"""


def long_song(folder: Path, songs: str = LONG, board: str = BOARD) -> Compiled:
    night = write_night(folder, units=UNITS, effects=EFFECTS, songs=songs, switcher=board)
    text = night.read_text(encoding="utf-8").replace("[Tune]", "[Tune, After]")
    night.write_text(text, encoding="utf-8")
    compiled = compile_night(night)
    assert isinstance(compiled, Compiled)
    return compiled


def test_a_song_over_two_banks_is_parted_where_the_foot_moves_least(tmp_path: Path) -> None:
    compiled = long_song(tmp_path)
    assert compiled.findings == []
    # By hand: A D C D | B E takes one move; A D | C B E takes three.
    assert dict(compiled.placement.of_scene) == {
        ("Tune", "A"): (0, 0),
        ("Tune", "D"): (0, 1),
        ("Tune", "C"): (0, 2),
        ("Tune", "B"): (1, 0),
        ("Tune", "E"): (1, 1),
        ("After", "A"): (1, 2),  # in what is left of the second bank
    }


def test_the_move_is_marked_where_the_foot_moves(tmp_path: Path) -> None:
    compiled = long_song(tmp_path)
    sheet = sheet_of(night_data(compiled))
    song, after = sheet.sets[0].songs
    assert (song.bank.shown, song.more_banks) == ("1", ("2",))
    assert [(one.scene, one.switch, one.new_bank) for one in song.presses] == [
        ("A", "1", ""),
        ("D", "2", ""),
        ("C", "3", ""),
        ("D", "2", ""),
        ("B", "1", "2"),
    ]
    assert [(one.scene, one.bank) for one in song.choices] == [("E", "2")]
    assert (after.bank.shown, after.bank.moves, after.more_banks) == ("2", False, ())
    page = " ".join(
        re.sub(r"<[^>]+>", " ", render("cue-sheet.html.j2", sheet=sheet).decode("utf-8")).split()
    )
    assert "now bank 2 round 3 A switch 1 B pipes in" in page
    assert "Tune bank 1, 2" in page


def test_explain_says_the_bank_of_each_scene(tmp_path: Path) -> None:
    compiled = long_song(tmp_path)
    for name, line in (("C", "  bank 1, switch 3"), ("B", "  bank 2, switch 1")):
        found = find_scene(compiled, f"Tune/{name}")
        assert not isinstance(found, str)
        assert any(one.startswith(line) for one in explain(compiled, found))


def test_a_song_that_fits_stays_in_one_bank(tmp_path: Path) -> None:
    compiled = long_song(tmp_path, board=BOARD.replace("switches: 3", "switches: 5"))
    assert {slot.bank for key, slot in compiled.placement.of_scene.items() if key[0] == "Tune"} == {
        0
    }


@given(
    st.integers(1, 5).flatmap(
        lambda held: st.tuples(
            st.just(held), st.lists(st.integers(0, 2 * held - 1), max_size=12), st.integers(1, 12)
        )
    )
)
def test_no_way_to_part_takes_fewer_moves(drawn: tuple[int, list[int], int]) -> None:
    """Against every prefix of the order of first presses, tried one by one."""
    held, pressed, count = drawn
    presets = {scene: scene for scene in [*pressed, *range(min(count, 2 * held))]}
    parts = over_two_banks(pressed, presets, held)
    order = list(dict.fromkeys([*pressed, *presets]))
    assert [key for part in parts for key in part] == order
    assert all(len(part) <= held for part in parts)

    def moves(first: list[int]) -> int:
        sides = [scene in first for scene in pressed]
        return sum(sides[n] != sides[n + 1] for n in range(len(sides) - 1))

    ways = [order[:n] for n in range(len(order) + 1) if n <= held and len(order) - n <= held]
    assert moves(parts[0]) == min(map(moves, ways))


def test_more_than_two_banks_hold_is_too_much() -> None:
    assert over_two_banks([], dict(zip("abcde", range(5), strict=True)), 2) == []


# A move to a bank that loads a preset at once takes time: 300 ms for the box to come back, and the
# messages on the wire. Quarters at 240 a minute leave 250 ms.
BUSY = """
box: {channel: 3, display: 0 to 9, programs: {a: 1, b: 2, c: 3}, busy after program: 300 ms}
one: {loop: 1}
"""


@pytest.mark.parametrize(("tempo", "soon"), [("quarter = 240", True), ("quarter = 20", False)])
def test_a_move_in_mid_song_takes_its_time(tmp_path: Path, tempo: str, soon: bool) -> None:
    songs = f"""\
songs:
- title: Tune
  meter: 1/4
  form: AB, 2 rounds
  bars: 1
  tempo: {tempo}
  over two banks: yes
  scenes: {{A: [pa], B: [pb], C: [pc]}}
  order: [A, B: bar 2, C: bar 3]
"""
    board = BOARD.replace("switches: 3", "switches: 2") + (
        "bank moves: {by: up and down, loads at once: yes}\n"
    )
    night = write_night(
        tmp_path,
        units=BUSY,
        effects="pa: {box: a}\npb: {box: b}\npc: {box: c}\nnear: one",
        songs=songs,
        switcher=board,
    )
    compiled = compile_night(night)
    assert isinstance(compiled, Compiled)
    found = [one for one in compiled.findings if one.code == "pressed-too-soon"]
    late = [one for one in found if "1 bank on the way" in one.message]
    assert bool(late) is soon
    for one in late:
        assert "‘C’ is pressed 250 ms after ‘B’" in one.message
        assert (
            one.help
            == "press it later, or give this song fewer scenes, so that one bank holds them"
        )
    assert "bank-move-heard" in {one.code for one in compiled.findings}


def test_what_is_pinned_lies_on_its_switch_in_either_bank(tmp_path: Path) -> None:
    night = write_night(tmp_path, units=UNITS, effects=EFFECTS, songs=LONG, switcher=BOARD)
    rig = tmp_path / "rig.yaml"
    use = "switcher: {file: board.yaml, always on: {B: switch 3, A: switch 2}}"
    text = rig.read_text(encoding="utf-8").replace("switcher: board.yaml", use)
    rig.write_text(text, encoding="utf-8")
    compiled = compile_night(night)
    assert isinstance(compiled, Compiled)
    assert dict(compiled.placement.of_scene) == {
        ("Tune", "A"): (0, 1),
        ("Tune", "D"): (0, 0),
        ("Tune", "C"): (0, 2),
        ("Tune", "B"): (1, 2),
        ("Tune", "E"): (1, 0),
    }
