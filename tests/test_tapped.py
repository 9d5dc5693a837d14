"""A delay that the switcher taps, at the tempo of each preset: nothing is left to the foot."""

from __future__ import annotations

from fractions import Fraction
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from setwright.compiler.binding.states import Verdict
from setwright.compiler.compiled import Compiled
from setwright.compiler.outputs.behaviour import behaviour
from setwright.compiler.outputs.collect import night_data
from setwright.compiler.outputs.preset_sheet import preset_sheet_files
from setwright.compiler.pipeline import compile_night
from tests.corpus import underlined
from tests.mini import SWITCHER, told, write_night
from tests.nights import whole

UNITS = """
fuzz: {loop: 1}
echo: {loop: 2, tempo from: tap, tap output: 1}
"""
EFFECTS = "lead: fuzz\nlong echo: echo\n"
OF_WHOLE = {
    "quarter": Fraction(1, 4),
    "half": Fraction(1, 2),
    "eighth": Fraction(1, 8),
    "dotted eighth": Fraction(3, 16),
    "dotted quarter": Fraction(3, 8),
    "triplet quarter": Fraction(1, 6),
}
"""What part of a whole note a note is: theory of music, as every primer has it."""


def night(
    folder: Path,
    scene: str,
    *,
    tempo: str = "quarter = 120",
    units: str = UNITS,
    outputs: str = "tap outputs: 1\n",
) -> Path:
    """Write a night of one song with a dry scene and ``scene``."""
    said = f"  tempo: {tempo}\n" if tempo else ""
    songs = (
        f"songs:\n- title: Tune\n  meter: 4/4\n{said}  form: AB, 2 rounds\n"
        f"  scenes:\n    Dry: [lead]\n    Wet: {scene}\n  order:\n  - Dry\n  - Wet: round 2 A\n"
    )
    return write_night(
        folder, units=units, effects=EFFECTS, songs=songs, switcher=SWITCHER + outputs
    )


def wet(compiled: Compiled) -> tuple[str, str, Verdict]:
    """Return what is typed, what the delay's time is, and whether that is certain."""
    scene = compiled.scenes["Tune", "Wet"]
    (time,) = [one for one in scene.proved if (one.unit, one.quantity) == ("echo", "time")]
    (preset,) = [one for one in night_data(compiled).presets if one.scenes == (("Tune", "Wet"),)]
    return "" if preset.tempo is None else preset.tempo.words, str(time.value), time.verdict


@pytest.mark.parametrize(
    ("scene", "typed"),
    [
        ("[long echo]", "quarter = 120"),
        ("{effects: [long echo], echo: dotted eighth}", "dotted eighth = 160"),
        ("{effects: [long echo], echo: half}", "half = 60"),
        ("{effects: [long echo], echo: 250 ms}", "repeat = 240"),
    ],
)
def test_the_preset_has_the_time_and_the_foot_has_nothing_to_tap(
    tmp_path: Path, scene: str, typed: str
) -> None:
    compiled = whole(night(tmp_path, scene))
    assert told(compiled) == []
    assert wet(compiled) == (typed, typed, Verdict.PROVEN)
    (song,) = night_data(compiled).songs
    assert [moment.feet for moment in song.moments] == [(), ()]
    assert song.taps == {}


def test_a_foot_taps_what_no_output_does(tmp_path: Path) -> None:
    units = UNITS.replace(", tap output: 1", "")
    compiled = whole(night(tmp_path, "[long echo]", units=units))
    (song,) = night_data(compiled).songs
    assert [str(foot) for foot in song.moments[1].feet] == ["echo tap quarter = 120"]
    assert wet(compiled)[0] == ""


def test_without_a_tempo_there_is_nothing_to_tap(tmp_path: Path) -> None:
    compiled = whole(night(tmp_path, "[long echo]", tempo=""))
    assert wet(compiled) == ("", "None", Verdict.FREE)


def test_the_sheet_says_it(tmp_path: Path) -> None:
    data = night_data(whole(night(tmp_path, "{effects: [long echo], echo: dotted eighth}")))
    html = preset_sheet_files(data)["preset-sheet.html"].decode()
    assert "Tempo: <b>160</b> (dotted eighth = 160)" in html
    assert data.switcher.tapped == {"1": ("echo",)}
    assert "Its tap output 1 taps echo at the tempo of the preset." in list(
        behaviour(data.switcher)
    )


SLIPS = [
    (UNITS, "", "tap-output-out-of-range", "1", "tap outputs:"),
    (UNITS.replace("output: 1", "output: 3"), "tap outputs: 2\n", "tap-output-out-of-range", "3",
     "1 to 2"),
    (UNITS.replace("output: 1", "output: 0"), "tap outputs: 1\n", "tap-output-out-of-range", "0", "1 to 64"),
    (UNITS.replace("tempo from: tap, ", ""), "tap outputs: 1\n", "tapped-in-vain", "1",
     "tempo from: tap"),
    (UNITS.replace("from: tap", "from: global"), "tap outputs: 1\n", "tapped-in-vain", "1",
     "elsewhere"),
    (UNITS, "tap outputs: one\n", "not-a-number", "one", "0 to 64"),
    (UNITS, "tap output: 1\n", "unknown-key", "tap output", "tap outputs"),
]  # fmt: skip


@pytest.mark.parametrize(("units", "outputs", "code", "text", "help_"), SLIPS)
def test_a_slip_is_one_finding(
    tmp_path: Path, units: str, outputs: str, code: str, text: str, help_: str
) -> None:
    path = night(tmp_path, "[long echo]", units=units, outputs=outputs)
    (found,) = told(compile_night(path))
    assert (found.code, underlined(found)) == (code, text)
    assert help_ in found.help


@settings(
    max_examples=50, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture]
)
@given(
    st.sampled_from(sorted(OF_WHOLE)),
    st.sampled_from(["quarter", "half", "dotted quarter"]),
    st.integers(40, 200),
)
def test_a_tap_comes_as_often_as_its_note_goes_into_a_minute(
    tmp_path: Path, note: str, beat: str, bpm: int
) -> None:
    scene = f"{{effects: [long echo], echo: {note}}}"
    compiled = whole(night(tmp_path, scene, tempo=f"{beat} = {bpm}"))
    assert told(compiled) == []
    tempo = compiled.scenes["Tune", "Wet"].content.tempo
    assert tempo is not None
    assert tempo.often == bpm * OF_WHOLE[beat] / OF_WHOLE[note]
