"""Expression pedals, and controls whose presses go from one setting to the next."""

from __future__ import annotations

from pathlib import Path

import pytest

from setwright.compiler.binding.described import in_words
from setwright.compiler.binding.settings import setting_at
from setwright.compiler.binding.states import Verdict
from setwright.compiler.compiled import Compiled
from setwright.compiler.outputs.collect import night_data
from setwright.compiler.outputs.cues import sheet_of
from setwright.compiler.pipeline import compile_night
from setwright.compiler.proving.by_hand import ByHand
from setwright.compiler.reports.explain import explain
from setwright.compiler.reports.find import Found, find_scene
from setwright.scenes.control import Control
from tests.mini import compile_mini, quantity, told, write_night

UNITS = """
squeezer: {loop: 1}
echo:
  channel: 9
  switched by: {cc: 28, on: 127, off: 0}
  controls: {mix: {cc: 21, linear: 0 % to 100 %}}
  acts only on: what is declared
rotor:
  loop: 2
  channel: 7
  controls: {speed: {cc: 40, presses: [slow, fast], after a program: kept}}
  acts only on: what is declared
pedal:
  is: sender
  by foot: [heel, middle, toe]
  at start: heel
  foot sends: {channel: 9, cc: 21, values: {heel: 0, middle: 64, toe: 127}}
joiner: {is: merge}
"""
EFFECTS = """
compression: squeezer
long echo: echo
spin: rotor
fast spin: {rotor: {set: {speed: fast}}}
slow spin: {rotor: {set: {speed: slow}}}
"""
LINES = "midi:\n- [switcher, joiner]\n- [pedal, joiner]\n- [joiner, echo, rotor]\n"
SONG = """
songs:
- title: Tune
  meter: 4/4
  tempo: quarter = 120
  form: AB, 2 rounds
  scenes:
    Near: [compression]
    Far: [long echo]
    Round: [SPIN]
  order:
  - Near
  - Far: {at: round 1 B, foot: pedal middle}
  - Far: {at: round 2 A, foot: pedal toe}
  - Round: {at: round 2 B, foot: pedal heel}
"""


def night(folder: Path, spin: str = "spin", old: str = "", new: str = "") -> Path:
    text = UNITS + EFFECTS + LINES
    assert not old or text.count(old) == 1
    return write_night(
        folder,
        units=UNITS.replace(old, new) if old else UNITS,
        effects=EFFECTS.replace(old, new) if old else EFFECTS,
        rig=LINES.replace(old, new) if old else LINES,
        songs=SONG.replace("SPIN", spin),
    )


def compiled_of(folder: Path, spin: str = "spin") -> Compiled:
    found = compile_night(night(folder, spin))
    assert isinstance(found, Compiled)
    return found


def test_the_foot_moves_what_no_preset_sets(tmp_path: Path) -> None:
    compiled = compiled_of(tmp_path)
    assert told(compiled) == []
    scene = compiled.scene(compiled.songs[0], "Far")
    mix = next(one for one in scene.proved if (one.unit, one.quantity) == ("echo", "mix"))
    assert (mix.verdict, mix.why) == (Verdict.FREE, "the foot moves it with pedal")
    assert not any(one.command.quantity == "mix" for one in scene.lowered.stored.commands)
    (card,) = sheet_of(night_data(compiled)).sets[0].songs
    assert [press.feet for press in card.presses] == [
        (),
        ("pedal middle",),
        ("pedal toe",),
        ("pedal heel",),
    ]


def test_a_press_that_goes_on_is_never_sent(tmp_path: Path) -> None:
    compiled = compiled_of(tmp_path, "fast spin")
    scene = compiled.scene(compiled.songs[0], "Round")
    assert not any(one.command.unit == "rotor" for one in scene.lowered.stored.commands)
    # Every scene that asks wants it fast, so it is set by hand before the night.
    assert compiled.set_by_hand == (ByHand("rotor", "speed", "fast"),)
    speed = next(one for one in scene.proved if one.quantity == "speed")
    assert speed.verdict is Verdict.FEET
    assert told(compiled) == []


def test_two_settings_of_one_press_cannot_be_known(tmp_path: Path) -> None:
    path = night(tmp_path, "fast spin")
    songs = path.with_name("songs.yaml")
    text = songs.read_text(encoding="utf-8").replace("Near: [compression]", "Near: [slow spin]")
    songs.write_text(text, encoding="utf-8")
    found = told(compile_night(path))
    assert [one.code for one in found] == ["flip-not-known"]
    assert "each press goes on to the next setting" in found[0].message
    place = found[0].place
    assert place.source.line(place.line)[place.column - 1 : place.end_column - 1] == "speed"


def test_a_program_brings_another_setting(tmp_path: Path) -> None:
    """What a press has set is not kept where the program that is loaded brings its own."""
    compiled = compile_mini(
        tmp_path,
        units="""
        rotor:
          channel: 7
          display: 0 to 9
          programs: {slow room: 1}
          controls: {speed: {cc: 40, presses: [slow, fast]}}
          acts only on: what is declared
        """,
        effects="spin: {rotor: {state: slow room, set: {speed: fast}}}",
        scenes="On: [spin]",
    )
    assert [one.code for one in told(compiled)] == ["flip-not-known"]
    assert quantity(compiled.songs[0].scenes["On"], "rotor", "speed").verdict is Verdict.UNKNOWN


def test_explain_says_what_the_foot_does(tmp_path: Path) -> None:
    """64 of 127 is 50.4 % of a straight line from 0 % to 100 %: 64 ÷ 127, by hand."""
    compiled = compiled_of(tmp_path)
    found = find_scene(compiled, "Tune/Far")
    assert isinstance(found, Found)
    lines = list(explain(compiled, found))
    assert [line.strip() for line in lines if "pressed at" in line] == [
        "pressed at round 1 B (0:16); foot: pedal middle (mix of echo at 50.4 %)",
        "pressed at round 2 A (0:32); foot: pedal toe (mix of echo at 100 %)",
    ]


def test_a_pedal_moves_only_what_it_has_a_cable_to(tmp_path: Path) -> None:
    """Both echoes listen on one channel, each on a line of its own."""
    rig = LINES.replace("echo, rotor]", "echo, rotor]\n- [switcher, second]")
    units = UNITS + (
        "second:\n  channel: 9\n  switched by: {cc: 29, on: 127, off: 0}\n"
        "  controls: {mix: {cc: 21, linear: 0 % to 100 %}}\n  acts only on: what is declared\n"
    )
    path = write_night(
        tmp_path, units=units, effects=EFFECTS, rig=rig, songs=SONG.replace("SPIN", "spin")
    )
    compiled = compile_night(path)
    assert isinstance(compiled, Compiled)
    assert compiled.target.pedals == {("echo", "mix"): "pedal"}


SETTINGS = [
    # what the control is declared with, a value, and what it does by hand
    ({"positions": {"none": "0", "half": "64"}}, 64, "half"),
    ({"positions": {"none": "0", "half": "64"}}, 65, "value 65"),
    ({"points": {"0": "20 ms", "64": "300 ms", "127": "1800 ms"}}, 32, "160 ms"),
    ({"points": {"0": "20 ms", "64": "300 ms", "127": "1800 ms"}}, 127, "1800 ms"),
    ({"points": {"10": "20 ms", "64": "300 ms"}}, 9, "value 9"),
    ({"linear": "100 % to 0 %"}, 127, "0 %"),
    ({}, 7, "value 7"),
]


@pytest.mark.parametrize(("declared", "value", "words"), SETTINGS)
def test_what_a_value_does(declared: dict[str, object], value: int, words: str) -> None:
    assert in_words(setting_at(Control.model_validate({"cc": "12", **declared}), value)) == words


SLIPS = [
    # what is exchanged, what is found, and the text that it points at
    ("values: {heel: 0, middle: 64, toe: 127}", "values: {heel: 0, toe: 127}",
     "foot-sends-disagree", "values"),
    ("heel: 0, middle: 64", "heal: 0, middle: 64", "foot-sends-disagree", "heal"),
    ("  by foot: [heel, middle, toe]\n  at start: heel\n", "", "foot-sends-disagree", "foot sends"),
    ("toe: 127}}", "toe: 128}}", "out-of-range", "128"),
    ("foot sends: {channel: 9", "foot sends: {channel: 17", "channel-out-of-range", "17"),
    ("foot sends: {channel: 9, cc: 21", "foot sends: {channel: 9, cc: 22", "pedal-in-vain",
     "foot sends"),
    ("- [pedal, joiner]\n", "", "pedal-in-vain", "foot sends"),
    ("long echo: echo", "long echo: {echo: {set: {mix: 40 %}}}", "set-and-moved", "40 %"),
    ("presses: [slow, fast]", "presses: [slow, fast], positions: {slow: 0}", "curve-twice",
     "speed"),
    ("by foot: [heel, middle, toe]", "by foot: [heel, middle, tip]", "foot-sends-disagree", "toe"),
    ("{speed: slow}", "{speed: slo}", "unknown-state", "slo"),
    ("foot sends: {channel: 9, cc: 21", "foot sends: {channel: 9, cc: 28", "other-sender",
     "foot sends"),
]  # fmt: skip


@pytest.mark.parametrize(("old", "new", "code", "text"), SLIPS)
def test_slips(old: str, new: str, code: str, text: str, tmp_path: Path) -> None:
    found = told(compile_night(night(tmp_path, "spin", old, new)))
    assert [one.code for one in found] == [code], [(one.code, one.message) for one in found]
    place = found[0].place
    assert place.source.line(place.line)[place.column - 1 : place.end_column - 1] == text
