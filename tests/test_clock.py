"""A clock that the switcher sends by itself: what follows it, what is typed, what cannot be had.

A MIDI clock counts 24 to a quarter note (MIDI 1.0 Detailed Specification 4.2.1, system real time,
timing clock), so the tempo to type is the song's counted in quarter notes.
"""

from __future__ import annotations

import csv
import io
from fractions import Fraction
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from setwright.compiler.binding.states import Verdict
from setwright.compiler.compiled import Compiled
from setwright.compiler.outputs.behaviour import behaviour
from setwright.compiler.outputs.collect import night_data
from setwright.compiler.outputs.cue_sheet import cue_sheet_files
from setwright.compiler.outputs.preset_sheet import preset_sheet_files
from setwright.compiler.pipeline import compile_night
from setwright.compiler.reports.explain import explain
from setwright.compiler.reports.find import Found, find_scene
from tests.corpus import underlined
from tests.mini import SWITCHER, told, write_night
from tests.nights import whole

UNITS = """
fuzz: {loop: 1}
echo: {loop: 2, channel: 9, tempo from: clock, acts only on: what is declared}
hall: {loop: 3, channel: 10, tempo from: clock, acts only on: what is declared}
"""
EFFECTS = "lead: fuzz\nlong echo: echo\nroom: hall\n"
QUARTERS = {
    "quarter": Fraction(1),
    "half": Fraction(2),
    "eighth": Fraction(1, 2),
    "dotted quarter": Fraction(3, 2),
}
"""How many quarter notes a beat lasts: theory of music, as every primer has it."""


def night(
    folder: Path,
    clock: str,
    tempi: list[str],
    *,
    scene: str = "[lead, long echo]",
    rig: str = "",
    units: str = UNITS,
) -> Path:
    """Write a night with a song for each of ``tempi``, called Tune 1 and so on."""
    songs = ["songs:"]
    for number, tempo in enumerate(tempi, 1):
        said = f"  tempo: {tempo}\n" if tempo else ""
        songs.append(f"- title: Tune {number}\n{said}  scenes:\n    Dry: [lead]\n    Wet: {scene}")
    path = write_night(
        folder,
        units=units,
        effects=EFFECTS,
        songs="\n".join(songs) + "\n",
        rig=rig,
        switcher=SWITCHER + (f"clock: {clock}\n" if clock else ""),
    )
    play = ", ".join(f"Tune {number}" for number in range(1, len(tempi) + 1))
    path.write_text(
        f"night: Test\nrig: rig.yaml\nsongs: songs.yaml\nsets:\n- play: [{play}]\n",
        encoding="utf-8",
    )
    return path


def typed(compiled: Compiled) -> dict[tuple[str | None, str], str | None]:
    """Return the tempo that is typed for each scene."""
    return {
        scene: None if preset.tempo is None else preset.tempo.words
        for preset in night_data(compiled).presets
        for scene in preset.scenes
    }


def test_each_preset_has_the_tempo_of_its_song(tmp_path: Path) -> None:
    compiled = whole(night(tmp_path, "per preset", ["quarter = 120", "dotted quarter = 112"]))
    assert told(compiled) == []
    assert typed(compiled) == {
        ("Tune 1", "Dry"): None,
        ("Tune 2", "Dry"): None,
        ("Tune 1", "Wet"): "quarter = 120",
        ("Tune 2", "Wet"): "quarter = 168",
    }
    (clock,) = [
        one
        for one in compiled.scenes["Tune 2", "Wet"].proved
        if (one.unit, one.quantity) == ("echo", "clock")
    ]
    assert (clock.verdict, str(clock.value)) == (Verdict.PROVEN, "quarter = 168")


def test_songs_of_one_tempo_share_a_preset_and_dry_ones_always_do(tmp_path: Path) -> None:
    compiled = whole(night(tmp_path, "per preset", ["quarter = 90", "half = 45", "quarter = 91"]))
    of = compiled.placement.of_scene
    assert of["Tune 1", "Wet"] == of["Tune 2", "Wet"] != of["Tune 3", "Wet"]
    assert of["Tune 1", "Dry"] == of["Tune 2", "Dry"] == of["Tune 3", "Dry"]


def test_a_song_without_a_tempo_wants_none(tmp_path: Path) -> None:
    compiled = whole(night(tmp_path, "per preset", [""]))
    assert told(compiled) == []
    assert set(typed(compiled).values()) == {None}


def test_the_sheet_says_what_to_type(tmp_path: Path) -> None:
    files = preset_sheet_files(
        night_data(whole(night(tmp_path, "per preset", ["dotted quarter = 99"])))
    )
    assert "Tempo: <b>148.5</b> (quarter = 148.5)" in files["preset-sheet.html"].decode()
    rows = list(csv.DictReader(io.StringIO(files["preset-sheet.csv"].decode("utf-8-sig"))))
    assert [
        (row["preset"], row["value"], row["meaning"]) for row in rows if row["what"] == "tempo"
    ] == [("Wet", "'148.5", "quarter = 148.5")], "no spreadsheet makes a date of it"


def test_a_global_clock_is_set_before_the_night_where_one_tempo_does(tmp_path: Path) -> None:
    compiled = whole(night(tmp_path, "global", ["quarter = 120", "half = 60", ""]))
    assert told(compiled) == []
    assert [tuple(one) for one in compiled.set_by_hand] == [
        ("switcher", "clock", "clock quarter = 120")
    ]
    verdicts = {
        one.verdict
        for scene in compiled.scenes.values()
        for one in scene.proved
        if one.quantity == "clock" and one.value is not None
    }
    assert verdicts == {Verdict.FEET}
    data = night_data(compiled)
    assert "switcher clock quarter = 120" in cue_sheet_files(data)["cue-sheet.html"].decode()
    assert set(typed(compiled).values()) == {None}


def test_two_units_that_want_two_tempi_share_one_clock(tmp_path: Path) -> None:
    path = night(tmp_path, "global", ["quarter = 120", "quarter = 96"])
    songs = tmp_path / "songs.yaml"
    first, _, second = songs.read_text(encoding="utf-8").partition("- title: Tune 2")
    second = second.replace("long echo", "room")
    songs.write_text(f"{first}- title: Tune 2{second}", encoding="utf-8")
    (found,) = told(compile_night(path))
    assert (found.code, underlined(found)) == ("one-tempo-for-all", "quarter = 96")
    assert "‘hall’ follows" in found.message
    assert "‘Tune 1’ quarter = 120" in found.message


def test_many_tempi_are_one_finding_and_the_scenes_cannot_be_known(tmp_path: Path) -> None:
    compiled = whole(night(tmp_path, "global", [f"quarter = {n}" for n in (90, 90, 100, 110)]))
    (found,) = told(compiled)
    assert (found.severity.value, found.code) == ("warning", "one-tempo-for-all")
    assert "‘Tune 3’ wants quarter = 100" in found.message
    assert "(and 1 more song another)" in found.message
    assert compiled.set_by_hand == ()


def test_beyond_its_range_nothing_is_typed(tmp_path: Path) -> None:
    path = night(tmp_path, "{tempo: per preset, BPM: 40 to 150}", ["quarter = 150", "half = 76"])
    compiled = whole(path)
    (found,) = told(compiled)
    assert (found.code, underlined(found)) == ("beyond-clock", "half = 76")
    assert typed(compiled)["Tune 2", "Wet"] is None
    assert typed(compiled)["Tune 1", "Wet"] == "quarter = 150"


def test_who_does_not_hear_the_switcher_is_not_paced_by_it(tmp_path: Path) -> None:
    path = night(
        tmp_path,
        "per preset",
        ["quarter = 120"],
        units=UNITS + "drums: {is: sender, sends: clock}\njoiner: {is: merge}\n",
        rig="midi:\n- [switcher, hall]\n- [drums, joiner]\n- [joiner, echo]\n",
    )
    compiled = whole(path)
    assert set(typed(compiled).values()) == {None}
    assert {
        one.verdict
        for scene in compiled.scenes.values()
        for one in scene.proved
        if (one.unit, one.quantity) == ("echo", "clock")
    } == {Verdict.FREE}


def test_tonights_tempo_counts(tmp_path: Path) -> None:
    path = night(tmp_path, "per preset", ["quarter = 120"])
    text = path.read_text(encoding="utf-8")
    path.write_text(
        text.replace("[Tune 1]", "[Tune 1, {song: Tune 1, tempo: quarter = 90}]"), encoding="utf-8"
    )
    assert sorted(filter(None, typed(whole(path)).values())) == ["quarter = 120", "quarter = 90"]


def test_a_scene_with_a_tempo_of_its_own_has_it_in_its_preset(tmp_path: Path) -> None:
    path = night(tmp_path, "per preset", ["quarter = 120"])
    songs = tmp_path / "songs.yaml"
    text = songs.read_text(encoding="utf-8")
    slow = (
        "\n    Slow: {effects: [long echo], tempo: quarter = 60}\n  order: [Wet, Slow: round 2 A]\n"
    )
    music = "  meter: 4/4\n  form: AB, 2 rounds\n"
    songs.write_text(text.rstrip() + slow + music, encoding="utf-8")
    compiled = whole(path)
    assert told(compiled) == []
    tempi = {scene: one for (_, scene), one in typed(compiled).items()}
    assert tempi == {"Dry": None, "Wet": "quarter = 120", "Slow": "quarter = 60"}


def test_general_scenes_follow_each_songs_tempo(tmp_path: Path) -> None:
    path = night(
        tmp_path,
        "per preset",
        ["quarter = 120", "quarter = 80"],
        rig="general: {Plain: [lead], Far: [long echo]}\n",
    )
    songs = "songs:\n" + "".join(
        f"- {{title: Tune {n}, tempo: quarter = {bpm}}}\n" for n, bpm in ((1, 120), (2, 80))
    )
    (tmp_path / "songs.yaml").write_text(songs, encoding="utf-8")
    compiled = whole(path)
    assert told(compiled) == []
    assert sorted(filter(None, typed(compiled).values())) == ["quarter = 120", "quarter = 80"]


def test_explain_and_the_sheet_say_how_it_is(tmp_path: Path) -> None:
    compiled = whole(night(tmp_path, "per preset", ["quarter = 120"]))
    found = find_scene(compiled, "Tune 1/Wet")
    assert isinstance(found, Found)
    lines = list(explain(compiled, found))
    assert "  clock: quarter = 120, the song's tempo" in lines
    assert "    proven: the switcher's clock has it, as the preset says" in lines
    assert any("clock with a tempo" in one for one in behaviour(night_data(compiled).switcher))


SLIPS = [
    ("per song", "unknown-choice", "per song"),
    ("{tempo: global, BPM: 240}", "not-a-range", "240"),
    ("{tempo: global, BPM: 240 to 40}", "span-backwards", "240 to 40"),
    ("{tempo: global, BPM: 40 to 1000}", "out-of-range", "40 to 1000"),
    ("{tempo: global, BMP: 40 to 240}", "unknown-key", "BMP"),
    ("{BPM: 40 to 240}", "missing-key", "BPM"),
]


@pytest.mark.parametrize(("clock", "code", "text"), SLIPS)
def test_a_slip_is_one_finding(tmp_path: Path, clock: str, code: str, text: str) -> None:
    (found,) = told(compile_night(night(tmp_path, clock, ["quarter = 120"])))
    assert (found.code, underlined(found)) == (code, text)


TEMPI = st.tuples(st.sampled_from(sorted(QUARTERS)), st.integers(40, 140))


@settings(
    max_examples=40, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture]
)
@given(
    st.lists(TEMPI, min_size=1, max_size=6),
    st.sampled_from(["per preset", "global"]),
    st.integers(30, 60),
    st.integers(150, 260),
)
def test_every_tempo_is_typed_set_or_found(
    tmp_path: Path, tempi: list[tuple[str, int]], tempo: str, slowest: int, fastest: int
) -> None:
    """Of any songs: what is typed is right, and what cannot be had is found and proven nowhere."""
    path = night(
        tmp_path,
        f"{{tempo: {tempo}, BPM: {slowest} to {fastest}}}",
        [f"{beat} = {bpm}" for beat, bpm in tempi],
    )
    compiled = whole(path)
    often = {f"Tune {n}": QUARTERS[beat] * bpm for n, (beat, bpm) in enumerate(tempi, 1)}
    beyond = {name for name, value in often.items() if not slowest <= value <= fastest}
    within = {value for name, value in often.items() if name not in beyond}
    alike = len(set(often.values())) == 1
    codes = [one.code for one in told(compiled)]
    assert codes.count("beyond-clock") == len(beyond)
    assert codes.count("one-tempo-for-all") == (tempo == "global" and len(within) > 1)
    assert set(codes) <= {"beyond-clock", "one-tempo-for-all"}
    for name, value in often.items():
        (one,) = [
            one
            for one in compiled.scenes[name, "Wet"].proved
            if (one.unit, one.quantity) == ("echo", "clock")
        ]
        held = compiled.scenes[name, "Wet"].content.tempo
        if tempo == "per preset" and name not in beyond:
            assert held is not None
            assert (held.often, one.verdict) == (value, Verdict.PROVEN)
        else:
            assert held is None
            by_hand = tempo == "global" and alike and name not in beyond
            assert one.verdict is (Verdict.FEET if by_hand else Verdict.UNKNOWN)
