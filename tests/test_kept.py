"""Switches that are kept the same in every bank and say what they hold: from slip to sheet."""

from __future__ import annotations

import csv
import io
import json
from pathlib import Path

import pytest

from setwright.compiler.binding.bound import KEPT
from setwright.compiler.compiled import Compiled
from setwright.compiler.outputs.collect import night_data
from setwright.compiler.outputs.maps import map_files
from setwright.compiler.outputs.preset_sheet import preset_sheet_files
from setwright.compiler.pipeline import compile_night
from setwright.compiler.reports.explain import explain
from setwright.compiler.reports.find import Found, find_scene, offered
from setwright.compiler.reports.summary import proof
from tests.corpus import underlined
from tests.mini import told, write_night
from tests.nights import whole

UNITS = """
mute: {loop: 1, silent when: on}
wobbler:
  loop: 2
  channel: 6
  display: 1 to 128
  programs: {tremolo: 42, still: 1}
"""
EFFECTS = "quiet: mute\ntremolo: {wobbler: tremolo}\nstill: {wobbler: still}\n"
SONGS = """\
sounds: {shake: [tremolo]}
songs:
- title: Tune
  meter: 4/4
  tempo: quarter = 120
  form: AB, 2 rounds
  scenes:
    Start: {effects: []}
    Shake: shake
"""
TUNER = "switch 5: {name: Tuner, effects: [quiet, still], silent: yes}"


def night(folder: Path, kept: str, banks: str = "3 to 4") -> Path:
    """Write a night whose rig keeps ``kept`` in every bank."""
    path = write_night(folder, units=UNITS, effects=EFFECTS, songs=SONGS)
    rig = folder / "rig.yaml"
    use = f"{{file: board.yaml, banks: {banks}, every bank: {{{kept}}}}}"
    rig.write_text(
        rig.read_text(encoding="utf-8").replace("switcher: board.yaml", f"switcher: {use}"),
        encoding="utf-8",
    )
    return path


def tuned(folder: Path, kept: str = TUNER) -> Compiled:
    compiled = whole(night(folder, kept))
    assert told(compiled) == []
    return compiled


def test_it_is_bound_lowered_and_proven_as_a_scene(tmp_path: Path) -> None:
    compiled = tuned(tmp_path)
    scene = compiled.scenes[KEPT, "Tuner"]
    assert scene.called == "‘Tuner’ in every bank"
    assert scene.content.loops == (1, 2)
    # Channel 6, program 1 as the display shows it: C5 00 (MIDI 1.0, Table II).
    assert [one.message.data for one in scene.content.commands] == [(0,)]
    assert {one.verdict.value for one in scene.proved} == {"proven"}
    proven = proof(compiled)
    assert proven is not None
    assert (proven.scenes, proven.proven) == (3, 3)


def test_no_song_takes_its_switch_and_it_takes_none_of_a_song(tmp_path: Path) -> None:
    placement = tuned(tmp_path).placement
    assert (KEPT, "Tuner") not in placement.of_scene
    assert [tuple(preset.slot) for preset in placement.presets] == [(2, 0), (2, 1)]


def test_a_name_alone_stays_as_it_was(tmp_path: Path) -> None:
    compiled = tuned(tmp_path, "switch 5: Tuner")
    data = night_data(compiled)
    assert compiled.kept is None
    assert data.kept == ()
    assert data.switcher.kept == {"5": "Tuner"}
    html = preset_sheet_files(data)["preset-sheet.html"].decode()
    assert "<b>Switch 5</b>: <bdi>Tuner: leave it as it is</bdi>" in html
    assert "Every bank" not in html


def test_the_preset_sheet_has_it_once(tmp_path: Path) -> None:
    files = preset_sheet_files(night_data(tuned(tmp_path)))
    html = files["preset-sheet.html"].decode()
    assert html.count("<h3>Switch 5: <bdi>Tuner</bdi></h3>") == 1
    assert "<h2>Every bank</h2>" in html
    assert "<b>Switch 5</b>: <bdi>Tuner: as in every bank</bdi>" in html
    rows = list(csv.DictReader(io.StringIO(files["preset-sheet.csv"].decode("utf-8-sig"))))
    assert [
        (row["what"], row["unit"], row["meaning"])
        for row in rows
        if row["bank"] == "every" and row["meaning"] != "empty"
    ] == [
        ("loop", "mute", "in"),
        ("loop", "wobbler", "in"),
        ("loop", "", "out"),
        ("loop", "", "out"),
        ("program", "wobbler", "load still"),
        ("used by", "", "every bank: silent"),
    ]


def test_night_json_and_maps_hold_it(tmp_path: Path) -> None:
    data = night_data(tuned(tmp_path))
    (kept,) = data.kept
    assert kept.silent
    assert (kept.preset.place.bank_shown, kept.preset.place.switch_shown) == ("3", "5")
    assert [message.hex for message in kept.scene.stored.messages] == ["c5 00"]
    assert all(scene.scene != "Tuner" for scene in data.scenes)
    programs = json.loads(map_files(data)["maps/programs.json"])["programs"]
    (still,) = [one for one in programs if one["number"] == 0]
    assert [(use["song"], use["scene"]) for use in still["scenes"]] == [("every bank", "Tuner")]


def test_commands_find_and_explain_it(tmp_path: Path) -> None:
    compiled = tuned(tmp_path, TUNER.replace("silent: yes", "silent: yes, note: the white one"))
    assert "every bank/Tuner" in list(offered(compiled))
    found = find_scene(compiled, "every bank/Tuner")
    assert isinstance(found, Found)
    lines = list(explain(compiled, found))
    assert lines[:2] == ["every bank / Tuner on Test", "  switch 5 in every bank"]
    assert "the white one" in "\n".join(lines)
    missing = find_scene(compiled, "every bank/Tunr")
    assert isinstance(missing, str)
    assert "Tuner" in missing


def test_two_of_one_name_are_told_apart(tmp_path: Path) -> None:
    compiled = tuned(
        tmp_path, "switch 4: {name: Mute, effects: [quiet]}, switch 5: {name: Mute, sound: shake}"
    )
    assert [name for owner, name in compiled.scenes if owner == KEPT] == [
        "Mute (switch 4)",
        "Mute (switch 5)",
    ]
    assert [one.preset.name for one in night_data(compiled).kept] == ["Mute", "Mute"]


SLIPS = [
    ("switch 5: {name: Tuner, effects: [quite]}", "unknown-effect", "quite"),
    ("switch 5: {name: Tuner, sound: shaky}", "unknown-sound", "shaky"),
    ("switch 5: {name: Tuner, sound: shake, effects: [quiet]}", "two-starts", "effects"),
    ("switch 5: {name: Tuner, silent: yes}", "scene-without-sound", "switch 5"),
    ("switch 5: {name: Tuner, effects: [tremolo], silent: yes}", "not-silent", "yes"),
    ("switch 5: {name: Tuner, effects: [tremolo, still]}", "effects-clash", "still"),
    ("switch 6: {name: Tuner, effects: [quiet]}", "switch-out-of-range", "switch 6"),
    ("switch 5: {nam: Tuner, effects: [quiet]}", "unknown-key", "nam"),
    ("switch 5: {effects: [quiet]}", "missing-key", "effects"),
    ("switch 5: {name: Tuner, effects: [quiet], silent: maybe}", "not-yes-or-no", "maybe"),
    ("switch 5: [quiet]", "wrong-shape", "switch 5"),
]


@pytest.mark.parametrize(("kept", "code", "text"), SLIPS)
def test_a_slip_is_one_finding(tmp_path: Path, kept: str, code: str, text: str) -> None:
    (found,) = told(compile_night(night(tmp_path, kept)))
    assert (found.code, underlined(found)) == (code, text)


def test_what_it_sets_songs_have_to_put_back(tmp_path: Path) -> None:
    """A control that nothing but the kept switch moves stays as that left it."""
    depth = "controls: {depth: {cc: 20, after a program: kept}}"
    deep = "deep: {wobbler: {state: still, set: {depth: 90}}}"
    for kept, codes in (("Tuner", []), ("{name: Tuner, effects: [deep]}", ["stays-as-left"])):
        path = night(tmp_path, f"switch 5: {kept}")
        rig = tmp_path / "rig.yaml"
        text = rig.read_text(encoding="utf-8")
        text = text.replace("    programs: {trem", f"    {depth}\n    programs: {{trem")
        text = text.replace("\neffects:\n", f"\neffects:\n  {deep}\n")
        rig.write_text(text, encoding="utf-8")
        assert [one.code for one in told(compile_night(path))] == codes


def test_it_can_let_pass_what_is_found_in_it(tmp_path: Path) -> None:
    kept = "switch 5: {name: T, effects: [tremolo], silent: yes, let pass: {not-silent: a joke}}"
    (found,) = told(compile_night(night(tmp_path, kept)))
    assert (found.severity.value, found.code) == ("note", "not-silent")
    assert found.message.endswith("(let pass: a joke)")


def test_what_a_preset_has_no_room_for(tmp_path: Path) -> None:
    path = night(tmp_path, TUNER)
    board = tmp_path / "board.yaml"
    text = board.read_text(encoding="utf-8").replace("programs: 4", "programs: 0")
    board.write_text(text, encoding="utf-8")
    songs = tmp_path / "songs.yaml"
    songs.write_text(
        songs.read_text(encoding="utf-8").replace("    Shake: shake\n", ""), encoding="utf-8"
    )
    codes = [(one.code, one.place.line, underlined(one)) for one in told(compile_night(path))]
    assert codes == [("preset-full", 2, "switch 5")]
