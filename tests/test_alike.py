"""What is nearly the same: names that begin alike, equal bytes in other words, one moment twice."""

from __future__ import annotations

import csv
import io
from pathlib import Path

import mido
import pytest

from setwright.compiler.compiled import Compiled
from setwright.compiler.outputs.build import output_files
from setwright.compiler.outputs.collect import night_data
from setwright.compiler.outputs.cues import sheet_of
from setwright.compiler.outputs.data import NightData
from tests.mini import SWITCHER, compile_mini
from tests.nights import whole
from tests.test_playings import Case, messages_in, on_the_wire, write

ECHO = """
echo: {channel: 9, always on: yes, time: {cc: 20, linear: 0 ms to 1270 ms}}
verb: {channel: 5, display: 0 to 127, programs: {hall: 7, church: 7, room: 8}}
"""


def clean(compiled: Compiled) -> NightData:
    assert [finding.message for finding in compiled.findings] == []
    return night_data(compiled)


# Presets


@pytest.mark.parametrize(
    ("names", "shown"),
    [
        (", names: 6", ["Thunde", "Rain", "Clouds"]),
        (", names: 4", ["Thun", "Rain", "Clou"]),
        (", names: 12", ["Thunderstorm", "Rain", "Clouds"]),
        ("", ["Thunderstorm", "Rain", "Clouds"]),
    ],
)
def test_a_presets_name_is_as_long_as_the_display(
    tmp_path: Path, names: str, shown: list[str]
) -> None:
    compiled = compile_mini(
        tmp_path,
        units="one: {loop: 1}\ntwo: {loop: 2}",
        effects="a: one\nb: two",
        scenes="Thunderstorm: [a]\nRain: [b]\nClouds: [a, b]",
        switcher=SWITCHER.replace("bank select: yes", f"bank select: yes{names}")
        + "recalled on channel: 16\n",
    )
    data = clean(compiled)
    assert [preset.name for preset in data.presets] == shown
    files = output_files(compiled).files
    rows = list(csv.DictReader(io.StringIO(files["preset-sheet.csv"].decode("utf-8"))))
    assert list(dict.fromkeys(row["preset"] for row in rows if row["preset"])) == shown
    track = mido.MidiFile(file=io.BytesIO(files["stored/1-01-tune.mid"])).tracks[1]
    told = [bytes(event.data).decode() for event in track if event.type == "unknown_meta"]
    assert told == [f"{name} (bank 1, switch {n})" for n, name in enumerate(shown, 1)]
    # The scene keeps its name wherever there is room for it.
    assert [scene.scene for scene in data.scenes] == ["Thunderstorm", "Rain", "Clouds"]


@pytest.mark.parametrize(
    ("scenes", "presets"),
    [
        # 498 ms and 502 ms are both 50 steps of 10 ms: said otherwise, sent the same.
        ("A: {effects: [long], echo: 498 ms}\nB: {effects: [long], echo: 502 ms}", [{"A", "B"}]),
        ("A: {effects: [long], echo: 498 ms}\nB: {effects: [long], echo: 512 ms}", [{"A"}, {"B"}]),
        # One program under two names.
        ("A: [hall]\nB: [church]", [{"A", "B"}]),
        ("A: [hall]\nB: [church]\nC: [room]", [{"A", "B"}, {"C"}]),
    ],
)
def test_equal_bytes_in_other_words_are_one_preset(
    tmp_path: Path, scenes: str, presets: list[set[str]]
) -> None:
    compiled = compile_mini(
        tmp_path,
        units=ECHO,
        effects="long: echo\nhall: {verb: hall}\nchurch: {verb: church}\nroom: {verb: room}",
        scenes=scenes,
    )
    assert [one.code for one in compiled.findings if one.severity == "error"] == []
    data = night_data(compiled)
    assert [{name for _, name in preset.scenes} for preset in data.presets] == presets


# The foot


FEET = """
swell: {by foot: [closed, two open, two closed], at start: closed}
swell two: {by foot: [open, closed], at start: closed}
box: {loop: 1}
"""


@pytest.mark.parametrize(
    ("effects", "afterwards"),
    [
        # The move of the one reads like a move of the other.
        ("wide: {swell: two open}", ("swell closed",)),
        ("wide: {swell two: open}", ("swell two closed",)),
        ("wide: {swell: two open, swell two: open}", ("swell closed", "swell two closed")),
        ("wide: {swell: two closed}", ("swell closed",)),
        ("wide: {swell two: closed}", ()),
    ],
)
def test_foot_operated_units_whose_names_begin_alike(
    tmp_path: Path, effects: str, afterwards: tuple[str, ...]
) -> None:
    compiled = compile_mini(
        tmp_path,
        units=FEET,
        effects=f"bare: box\n{effects}",
        songs="""
        songs:
        - title: Tune
          meter: 4/4
          tempo: quarter = 120
          form: AB, 2 rounds
          scenes: {A: [bare], B: [wide]}
          order: [A, {B: round 2 B}]
        """,
    )
    data = clean(compiled)
    (one,) = sheet_of(data).sets
    assert one.songs[0].afterwards == afterwards
    # As data, unit and position are told apart.
    moved = {(move.unit, move.position) for move in data.songs[0].moments[1].feet}
    wanted = {
        (unit.unit, unit.value)
        for unit in data.scene("Tune", "B").units
        if unit.quantity == "foot" and unit.value != "closed"
    }
    assert moved == wanted


# Moments


@pytest.mark.parametrize(("second", "found"), [("Turn", 1), ("Lift", 0)])
def test_two_presses_at_one_moment(tmp_path: Path, second: str, found: int) -> None:
    """Part A has 8 bars, so round 1 B begins with bar 9.

    Which of two scenes is meant nobody can know; the same one twice does no harm. All the same
    both stand in the MIDI file, in the order in which they were written.
    """
    night = write(tmp_path, Case("[Reel]", []))
    songs = tmp_path / "songs.yaml"
    text = songs.read_text(encoding="utf-8")
    old = "  - Turn: {at: round 2 A, foot: swell closed}\n"
    assert old in text
    songs.write_text(text.replace(old, f"  - {second}: bar 9\n"), encoding="utf-8")
    compiled = whole(night)
    assert [finding.message for finding in compiled.findings] == [
        "‘Turn’ at bar 9 is written for the same moment as ‘Lift’ at round 1 B"
    ][:found]
    data = night_data(compiled)
    at = [(one.scene, one.bars, one.stay) for one in data.songs[0].moments]
    assert at == [
        ("Start", 0.0, False),
        ("Lift", 8.0, False),
        (second, 8.0, second == "Lift"),
        ("Start", 32.0, False),
    ]
    lift, turn = on_the_wire(500), on_the_wire(250)
    presses = [on_the_wire(None), lift, turn, on_the_wire(None)]
    file = output_files(compiled).files["direct/1-01-reel.mid"]
    sent = [message for press in messages_in(file) for message in press]
    expected = [message for press in presses if press != turn or found for message in press]
    assert sent == expected
