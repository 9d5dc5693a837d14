"""The maps: against the bytes that are sent, against what the demo's boxes show, in a spreadsheet."""

from __future__ import annotations

import csv
import io
import json
from pathlib import Path
from typing import Any
from unicodedata import category

import pytest
from hypothesis import given
from hypothesis import strategies as st

from setwright.compiler.outputs.collect import night_data
from setwright.compiler.outputs.data import NightData
from setwright.compiler.outputs.maps import cell, map_files
from setwright.scenes.finding import Severity, worst
from tests.conftest import DEMO
from tests.mini import compile_mini, write_night
from tests.nights import whole

RIGS = ("granary", "parlour")
DATA = {rig: night_data(whole(DEMO / f"{rig}-night.yaml")) for rig in RIGS}


def table(files: dict[str, bytes], name: str) -> list[dict[str, str]]:
    """Read a map as a spreadsheet does."""
    return list(csv.DictReader(io.StringIO(files[f"maps/{name}.csv"].decode("utf-8"), newline="")))


def listed(files: dict[str, bytes], name: str) -> list[dict[str, Any]]:
    found: list[dict[str, Any]] = json.loads(files[f"maps/{name}.json"])[name]
    return found


def mini_data(folder: Path, **parts: str) -> NightData:
    compiled = compile_mini(folder, **parts)
    assert worst(compiled.findings) is not Severity.ERROR, compiled.findings
    return night_data(compiled)


# -- the whole maps of a small night --------------------------------------------------------------

UNITS = """
    echo:
      channel: 9
      switched by: {cc: 28, on: 127, off: 0}
      time: {cc: 20, linear: 0 ms to 1270 ms, at rest: 400 ms}
      acts only on: what is declared
    deep box:
      channel: 2
      display: 001 to 300
      programs: {hall: 300, "=room": 5}
      bank select: {by: msb and lsb}
      acts only on: what is declared
    lamp: {channel: omni, acts only on: what is declared}
"""
EFFECTS = """
    hall: {deep box: hall}
    room: {deep box: "=room"}
    long: echo
"""
SCENES = """
    Big: [hall, long]
    Small: [room]
    "+Wide": [hall]
"""
SWITCHER = """\
switcher: board
banks: 10
switches: A to E
loops: 4
recalled on channel: 16
each preset stores: {programs: 4, controls: 4, bank select: yes}
"""

PROGRAMS = """\
unit,channel,display,program on the wire,bank select MSB,bank select LSB,meaning,song,scene,bank,switch
deep box,2,'005,4,0,0,load =room (display 005),Tune,Small,1,B
deep box,2,300,43,0,2,load hall (display 300),Tune,Big,1,A
deep box,2,300,43,0,2,load hall (display 300),Tune,'+Wide,1,C
switcher,16,"bank 1, switch A",0,,,"load bank 1, switch A",Tune,Big,1,A
switcher,16,"bank 1, switch B",1,,,"load bank 1, switch B",Tune,Small,1,B
switcher,16,"bank 1, switch C",2,,,"load bank 1, switch C",Tune,'+Wide,1,C
"""
CONTROLS = """\
unit,channel,sets,control,value,meaning,song,scene,bank,switch
echo,9,time,20,40,time 400 ms (value 40),Tune,Big,1,A
echo,9,switch,28,0,switch off,Tune,Small,1,B
echo,9,switch,28,0,switch off,Tune,'+Wide,1,C
echo,9,switch,28,127,switch on,Tune,Big,1,A
"""
CHANNELS = """\
channel,unit,display,different programs,different controls
omni,lamp,,0,0
2,deep box,001 to 300,2,0
9,echo,,0,2
16,switcher,"bank 1 to 10, switch A to E",3,0
"""


@pytest.fixture
def small(tmp_path: Path) -> dict[str, bytes]:
    # The deep box counts from 001: 300 is number 299, which is bank 2, program 43.
    data = mini_data(tmp_path, units=UNITS, effects=EFFECTS, scenes=SCENES, switcher=SWITCHER)
    return map_files(data)


@pytest.mark.parametrize(
    ("name", "text"), [("programs", PROGRAMS), ("controls", CONTROLS), ("channels", CHANNELS)]
)
def test_a_small_map(small: dict[str, bytes], name: str, text: str) -> None:
    assert small[f"maps/{name}.csv"].decode("utf-8") == text


def test_a_small_map_as_json(small: dict[str, bytes]) -> None:
    assert listed(small, "programs")[1] == {
        "unit": "deep box",
        "channel": 2,
        "shown": "300",
        "number": 43,
        "bank_msb": 0,
        "bank_lsb": 2,
        "meaning": "load hall (display 300)",
        "scenes": [
            {"song": "Tune", "scene": "Big", "bank": "1", "switch": "A"},
            {"song": "Tune", "scene": "+Wide", "bank": "1", "switch": "C"},
        ],
    }
    assert listed(small, "controls")[0]["scenes"] == [
        {"song": "Tune", "scene": "Big", "bank": "1", "switch": "A"}
    ]
    assert listed(small, "channels")[:2] == [
        {"channel": None, "unit": "lamp", "display": None, "programs": [], "controls": []},
        {
            "channel": 2,
            "unit": "deep box",
            "display": "001 to 300",
            "programs": [
                {"bank_msb": 0, "bank_lsb": 0, "number": 4},
                {"bank_msb": 0, "bank_lsb": 2, "number": 43},
            ],
            "controls": [],
        },
    ]
    assert json.loads(small["maps/channels.json"]).keys() == {"night", "rig", "channels"}


# -- the demo -------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("rig", "unit", "channel", "display", "wire", "name"),
    # As examples/winter-dance/granary.yaml and parlour.yaml say it, counted by hand: a display
    # from 1 is one more than the wire; B3 on A1 to H8 is the third of the second eight.
    [
        ("granary", "wobbler", "6", "42", "42", "tremolo"),
        ("granary", "barn", "11", "3", "2", "small room"),
        ("granary", "barn", "11", "12", "11", "great hall"),
        ("parlour", "pocket box", "2", "B3", "10", "tremolo"),
        ("parlour", "pocket box", "2", "B4", "11", "vibrato"),
        ("parlour", "repeater", "10", "7", "6", "long repeats"),
        ("parlour", "repeater", "10", "22", "21", "great hall"),
    ],
)
def test_programs_as_displayed_and_on_the_wire(
    rig: str, unit: str, channel: str, display: str, wire: str, name: str
) -> None:
    rows = [
        row
        for row in table(map_files(DATA[rig]), "programs")
        if row["unit"] == unit and row["display"] == display
    ]
    assert {(row["channel"], row["program on the wire"], row["meaning"]) for row in rows} == {
        (channel, wire, f"load {name} (display {display})")
    }


@pytest.mark.parametrize("rig", RIGS)
def test_the_maps_hold_what_the_bytes_say(rig: str) -> None:
    """Decoded here from the bytes themselves.

    Status Cn is a program change, Bn a control change, n the channel less one (MIDI 1.0 Detailed
    Specification 4.2.1, table II); controls 0 and 32 select a bank.
    """
    programs, controls = set(), set()
    for scene in DATA[rig].scenes:
        for route in (scene.stored, scene.direct, scene.recall):
            for message in route.messages if route is not None else ():
                status, *values = bytes.fromhex(message.hex)
                who = (scene.song, scene.scene, status % 16 + 1, values[0])
                if status // 16 == 0xC:
                    programs.add(who)
                elif values[0] not in {0, 32}:
                    assert status // 16 == 0xB
                    controls.add((*who, values[1]))
    files = map_files(DATA[rig])
    assert programs == {
        (use["song"], use["scene"], one["channel"], one["number"])
        for one in listed(files, "programs")
        for use in one["scenes"]
    }
    assert controls == {
        (use["song"], use["scene"], one["channel"], one["number"], one["value"])
        for one in listed(files, "controls")
        for use in one["scenes"]
    }
    assert len(programs) > 100
    assert len(controls) > 30


@pytest.mark.parametrize("rig", RIGS)
@pytest.mark.parametrize("name", ["programs", "controls"])
def test_csv_and_json_say_the_same(rig: str, name: str) -> None:
    files = map_files(DATA[rig])
    rows, things = table(files, name), listed(files, name)
    assert len(rows) == sum(len(thing["scenes"]) for thing in things)
    uses = [(thing, use) for thing in things for use in thing["scenes"]]
    for row, (thing, use) in zip(rows, uses, strict=True):
        assert row["unit"] == thing["unit"]
        assert row["channel"] == str(thing["channel"])
        assert row["meaning"] == thing["meaning"]
        assert row["song"] == (use["song"] or "(general)")
        assert (row["scene"], row["bank"], row["switch"]) == (
            use["scene"],
            use["bank"],
            use["switch"],
        )


@pytest.mark.parametrize(
    ("rig", "listeners"),
    [
        ("granary", [("6", "wobbler"), ("9", "echo"), ("11", "barn"), ("16", "switcher")]),
        ("parlour", [("2", "pocket box"), ("10", "repeater"), ("16", "switcher")]),
    ],
)
def test_who_listens_where(rig: str, listeners: list[tuple[str, str]]) -> None:
    rows = table(map_files(DATA[rig]), "channels")
    assert [(row["channel"], row["unit"]) for row in rows] == listeners


def test_a_switcher_that_no_message_reaches_listens_nowhere(tmp_path: Path) -> None:
    data = mini_data(tmp_path, units="fuzz: {loop: 1}", effects="lead: fuzz", scenes="Loud: [lead]")
    files = map_files(data)
    for name in ("programs", "controls", "channels"):
        assert table(files, name) == []
        assert listed(files, name) == []
    assert files["maps/channels.csv"].startswith(b"channel,unit,display,")


def test_scenes_that_share_a_switch_are_all_named(tmp_path: Path) -> None:
    units = "box: {channel: 3, display: 0 to 9, programs: {a: 1}, acts only on: what is declared}"
    scenes = "One: [wide]\nTwo: [wide]"
    data = mini_data(tmp_path, units=units, effects="wide: {box: a}", scenes=scenes)
    (program,) = listed(map_files(data), "programs")
    assert [(use["scene"], use["switch"]) for use in program["scenes"]] == [
        ("One", "1"),
        ("Two", "1"),
    ]


# -- in a spreadsheet -----------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("value", "shown"),
    [
        (None, ""),
        (0, "0"),
        (127, "127"),
        ("", ""),
        ("The Kid on the Mountain", "The Kid on the Mountain"),
        ("=1+1", "'=1+1"),
        ("+1", "'+1"),
        ("-2", "'-2"),
        ("@sum(a1)", "'@sum(a1)"),
        ("\t=1", "'\\x09=1"),
        ("\r=1", "'\\x0d=1"),
        ("\n=1", "'\\x0a=1"),
        ("＝1", "'＝1"),
        ("a=1", "a=1"),
        ("A-1", "A-1"),
        ("42", "42"),
        ("0", "0"),
        ("007", "'007"),
        ("01-1", "'01-1"),
        ("1-2", "'1-2"),
        ("12:30", "'12:30"),
        ("6/8", "'6/8"),
        ("1.10", "'1.10"),
        ("1E5", "'1E5"),
        (".5", "'.5"),
        ("1234567890123456", "'1234567890123456"),
        ("123456789012345", "123456789012345"),
        ("1st Reel", "1st Reel"),
        ("\x1b[31mred", "\\x1b[31mred"),
        ("\x9b31m", "\\x9b31m"),
        ("\u202eabc", "\\u202eabc"),
        ("می\u200cروم", "می\u200cروم"),
        ('a "b", c', 'a "b", c'),
        ("<b>🎸</b>", "<b>🎸</b>"),
    ],
)
def test_cells(value: str | int | None, shown: str) -> None:
    assert cell(value) == shown


@given(st.text())
def test_no_text_becomes_a_formula_or_acts_on_a_terminal(text: str) -> None:
    shown = cell(text)
    assert not shown.startswith(tuple("=+-@\t\r\n"))
    assert all(category(sign)[0] != "C" for sign in shown if sign not in "\u200c\u200d")
    assert not {"\u2028", "\u2029"} & set(shown)
    written = io.StringIO()
    csv.writer(written, lineterminator="\n").writerow([shown, "x"])
    assert next(csv.reader([written.getvalue()])) == [shown, "x"]
    assert written.getvalue().count("\n") == 1


@given(st.integers(0, 10**15 - 1))
def test_whole_numbers_stay_as_they_are(number: int) -> None:
    assert cell(str(number)) == str(number) == cell(number)


def test_how_the_files_are_written(small: dict[str, bytes]) -> None:
    assert sorted(small) == [
        "maps/channels.csv",
        "maps/channels.json",
        "maps/controls.csv",
        "maps/controls.json",
        "maps/programs.csv",
        "maps/programs.json",
    ]
    for name, content in small.items():
        assert not content.startswith(b"\xef\xbb\xbf")
        assert b"\r" not in content
        assert content.endswith(b"\n")
        if name.endswith(".json"):
            assert content.isascii()


TITLES = [
    ('"=1+1"', "=1+1", "'=1+1"),
    ('"a,b"', "a,b", "a,b"),
    ("'c \"d\"'", 'c "d"', 'c "d"'),
    ('"\\e[31mred"', "\x1b[31mred", "\\x1b[31mred"),
    ("007", "007", "'007"),
    ("夜 🎸", "夜 🎸", "夜 🎸"),
]


def test_titles_of_every_kind(tmp_path: Path) -> None:
    songs = "".join(f"- title: {typed}\n  scenes: {{A: [wide]}}\n" for typed, _, _ in TITLES)
    units = "box: {channel: 3, display: 0 to 9, programs: {a: 1}, acts only on: what is declared}"
    night = write_night(tmp_path, units=units, effects="wide: {box: a}", songs=f"songs:\n{songs}")
    play = "".join(f"  - {typed}\n" for typed, _, _ in TITLES)
    night.write_text(
        f"night: Test\nrig: rig.yaml\nsongs: songs.yaml\nsets:\n- play:\n{play}", encoding="utf-8"
    )
    compiled = whole(night)
    assert worst(compiled.findings) is not Severity.ERROR, compiled.findings
    files = map_files(night_data(compiled))
    assert [row["song"] for row in table(files, "programs")] == [shown for _, _, shown in TITLES]
    assert [use["song"] for use in listed(files, "programs")[0]["scenes"]] == [
        title for _, title, _ in TITLES
    ]
