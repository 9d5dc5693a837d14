"""Scenes that always lie on one switch: where they come to lie, and the others around them."""

from __future__ import annotations

from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from setwright.compiler.pipeline import compile_night
from setwright.compiler.proving.proved import LoweredScene
from tests.corpus import underlined
from tests.mini import told, write_night
from tests.test_place import EFFECTS, UNITS, compile_songs, places


def use(pins: str, more: str = "") -> str:
    """Return the switcher's place in the rig, with these pins."""
    return f"{{file: board.yaml, always on: {{{pins}}}{more}}}"


def test_a_pinned_scene_lies_on_its_switch_and_the_others_fill_the_rest(tmp_path: Path) -> None:
    songs = {
        "One": {"Start": "[e1]", "Solo": "[e2]", "End": "[e3]"},
        "Two": {"Solo": "[e2]", "Calm": "[e4]"},
    }
    compiled = compile_songs(tmp_path, songs, use=use("Solo: switch 5"))
    assert told(compiled) == []
    assert places(compiled) == {
        "One/Start": (0, 0),
        "One/Solo": (0, 4),
        "One/End": (0, 1),
        "Two/Solo": (0, 4),
        "Two/Calm": (0, 2),
    }


def test_two_songs_whose_pinned_scenes_differ_lie_in_two_banks(tmp_path: Path) -> None:
    songs = {"One": {"Solo": "[e1]"}, "Two": {"Solo": "[e2]", "Calm": "[e1]"}}
    compiled = compile_songs(tmp_path, songs, use=use("Solo: 2"))
    assert places(compiled) == {"One/Solo": (0, 1), "Two/Solo": (1, 1), "Two/Calm": (1, 0)}


def test_what_sounds_the_same_as_a_pinned_scene_lies_with_it(tmp_path: Path) -> None:
    songs = {"One": {"Start": "[e1]", "Solo": "[e1]"}, "Two": {"Calm": "[e1]"}}
    compiled = compile_songs(tmp_path, songs, use=use("Solo: switch 3"))
    assert set(places(compiled).values()) == {(0, 2)}
    assert [preset.name for preset in compiled.placement.presets] == ["Solo"]


def test_a_scene_that_came_first_moves_to_the_switch_of_a_later_song(tmp_path: Path) -> None:
    songs = {"One": {"Calm": "[e1]", "High": "[e2]"}, "Two": {"Solo": "[e1]"}}
    compiled = compile_songs(tmp_path, songs, use=use("Solo: switch 4"))
    assert places(compiled) == {"One/Calm": (0, 3), "One/High": (0, 0), "Two/Solo": (0, 3)}
    assert [preset.name for preset in compiled.placement.presets] == ["High", "Solo"]


def test_two_names_of_one_sound_lie_on_both_their_switches(tmp_path: Path) -> None:
    songs = {"One": {"Solo": "[e1]", "Lead": "[e1]", "Calm": "[e1]"}}
    compiled = compile_songs(tmp_path, songs, use=use("Solo: switch 4, Lead: switch 1"))
    assert places(compiled) == {"One/Solo": (0, 3), "One/Lead": (0, 0), "One/Calm": (0, 3)}


def test_a_switch_that_a_pin_does_not_need_is_filled(tmp_path: Path) -> None:
    songs = {"One": {name: f"[e{n}]" for n, name in enumerate("ABCD", 1)} | {"E": "[e1, e2]"}}
    compiled = compile_songs(tmp_path, songs | {"Two": {"Solo": "[e3]"}}, use=use("Solo: switch 2"))
    lies = {f"One/{name}": (0, switch) for name, switch in zip("ACBDE", range(5), strict=True)}
    assert places(compiled) == lies | {"Two/Solo": (0, 1)}, "which sounds as C does"


def test_general_scenes_are_pinned_too(tmp_path: Path) -> None:
    compiled = compile_songs(
        tmp_path,
        {"One": {}},
        rig="general: {Plain: [e1], Loud: [e2]}\n",
        use=use("Plain: switch 5", ", every bank: {switch 1: Tuner}"),
    )
    assert places(compiled) == {"/Plain": (0, 4), "/Loud": (0, 1)}


SOUNDS = """\
sounds: {bright: [e1], dark: [e2]}
songs:
- title: Tune
  meter: 4/4
  tempo: quarter = 120
  scenes:
    Calm: dark
    Start: bright
    More: {sound: bright, add: e3}
    Again: {effects: [e4]}
"""


def test_a_sound_is_pinned_where_a_scene_is_that_and_no_more(tmp_path: Path) -> None:
    night = write_night(tmp_path, units=UNITS, effects=EFFECTS, songs=SOUNDS)
    rig = tmp_path / "rig.yaml"
    text = rig.read_text(encoding="utf-8")
    rig.write_text(text.replace("board.yaml", use("bright: switch 4")), encoding="utf-8")
    compiled = compile_night(night)
    assert told(compiled) == []
    assert places(compiled) == {  # type: ignore[arg-type]
        "Tune/Calm": (0, 0),
        "Tune/Start": (0, 3),
        "Tune/More": (0, 1),
        "Tune/Again": (0, 2),
    }


SLIPS = [
    (use("A: switch 6"), "switch-out-of-range", "switch 6"),
    (use("A: six"), "switch-out-of-range", "six"),
    (use("A: switch 2, B: switch 2"), "switch-twice", "switch 2"),
    (use("A: switch 2", ", every bank: {2: Tuner}"), "switch-twice", "switch 2"),
    (use("Ah: switch 2"), "unused-pin", "Ah"),
    (use("A: [1, 2]"), "wrong-shape", "A"),
    ("{file: board.yaml, always on: A}", "wrong-shape", "A"),
    ("{file: board.yaml, allways on: {A: switch 2}}", "unknown-key", "allways on"),
]


@pytest.mark.parametrize(("written", "code", "text"), SLIPS)
def test_a_slip_is_one_finding(tmp_path: Path, written: str, code: str, text: str) -> None:
    compile_songs(tmp_path, {"One": {"A": "[e1]", "B": "[e2]"}}, use="board.yaml")
    rig = tmp_path / "rig.yaml"
    said = rig.read_text(encoding="utf-8")
    rig.write_text(said.replace("board.yaml", written), encoding="utf-8")
    (found,) = told(compile_night(tmp_path / "night.yaml"))
    assert (found.code, underlined(found)) == (code, text)


NAMES = st.dictionaries(
    st.sampled_from("ABCDE"),
    st.lists(st.sampled_from(["e1", "e2", "e3"]), unique=True, max_size=3).map(
        lambda effects: f"[{', '.join(effects)}]"
    ),
    min_size=1,
)
PINS = st.dictionaries(st.sampled_from("ABC"), st.integers(2, 5), min_size=1).filter(
    lambda pins: len(set(pins.values())) == len(pins)
)


@settings(
    max_examples=60, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture]
)
@given(st.lists(NAMES, min_size=1, max_size=6), PINS)
def test_every_pin_is_kept(
    tmp_path: Path, songs: list[dict[str, str]], pins: dict[str, int]
) -> None:
    """A pinned scene on its switch, one bank a song, one content a switch, none left out."""
    written = ", ".join(f"{name}: switch {number}" for name, number in pins.items())
    compiled = compile_songs(
        tmp_path,
        {f"Tune {n}": scenes for n, scenes in enumerate(songs)},
        use=use(written, ", every bank: {switch 1: Tuner}"),
    )
    codes = {one.code for one in told(compiled)}
    if "bank-too-small" in codes:
        # The same sound on two switches at most, and four of them are free.
        assert any(len(scenes) == 5 for scenes in songs)
        return
    assert codes <= {"unused-pin"}
    banks: dict[str, set[int]] = {}
    held: dict[object, LoweredScene] = {}
    for (song, scene), slot in compiled.placement.of_scene.items():
        banks.setdefault(song, set()).add(slot.bank)
        assert slot.switch == pins[scene] - 1 if scene in pins else slot.switch > 0
        one = compiled.scenes[song, scene]
        assert held.setdefault(slot, one).content == one.content
    assert all(len(used) == 1 for used in banks.values())
    assert set(compiled.placement.of_scene) == set(compiled.scenes)
    assert len(held) == len(compiled.placement.presets)
