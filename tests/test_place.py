"""Presets → banks and switches."""

from __future__ import annotations

from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from setwright.compiler.compiled import Compiled
from setwright.compiler.lowering.preset import Address
from tests.conftest import DEMO
from tests.mini import SWITCHER, told, write_night
from tests.nights import whole

UNITS = "\n".join(f"u{n}: {{loop: {n}}}" for n in range(1, 5))
EFFECTS = "\n".join(f"e{n}: u{n}" for n in range(1, 5))


def compile_songs(
    folder: Path, songs: dict[str, dict[str, str]], rig: str = "", use: str = "board.yaml"
) -> Compiled:
    """Compile songs given as title → scene → list of effects, all played in their order."""
    lines = ["songs:"]
    for title, scenes in songs.items():
        lines.append(f"- title: {title}\n  scenes:" + ("" if scenes else " {}"))
        lines += [f"    {name}: {{effects: {effects}}}" for name, effects in scenes.items()]
    night = write_night(
        folder, units=UNITS, effects=EFFECTS, songs="\n".join(lines) + "\n", rig=rig
    )
    rig_file = folder / "rig.yaml"
    text = rig_file.read_text(encoding="utf-8")
    rig_file.write_text(text.replace("switcher: board.yaml", f"switcher: {use}"), encoding="utf-8")
    play = "".join(f"  - {title}\n" for title in songs)
    night.write_text(
        f"night: Test\nrig: rig.yaml\nsongs: songs.yaml\nsets:\n- play:\n{play}",
        encoding="utf-8",
    )
    return whole(night)


def places(compiled: Compiled) -> dict[str, tuple[int, int]]:
    return {
        "/".join(key): (slot.bank, slot.switch) for key, slot in compiled.placement.of_scene.items()
    }


ONE = {"A": "[e1]", "B": "[e2]", "C": "[e1, e2]"}
TWO = {"A": "[e3]", "B": "[e2]", "C": "[e4]"}


def test_scenes_lie_side_by_side_and_equal_ones_share(tmp_path: Path) -> None:
    compiled = compile_songs(tmp_path, {"One": ONE, "Two": TWO})
    assert told(compiled) == []
    assert places(compiled) == {
        "One/A": (0, 0),
        "One/B": (0, 1),
        "One/C": (0, 2),
        "Two/A": (0, 3),
        "Two/B": (0, 1),
        "Two/C": (0, 4),
    }
    assert [preset.name for preset in compiled.placement.presets] == ["A", "B", "C", "A", "C"]


def test_a_song_that_does_not_fit_goes_to_the_next_bank(tmp_path: Path) -> None:
    compiled = compile_songs(
        tmp_path, {"One": ONE, "Two": {"A": "[e3]", "B": "[e4]", "C": "[e3, e4]"}}
    )
    assert {slot.bank for key, slot in compiled.placement.of_scene.items() if key[0] == "Two"} == {
        1
    }


def test_the_rigs_own_banks_and_kept_switches(tmp_path: Path) -> None:
    compiled = compile_songs(
        tmp_path,
        {"One": ONE},
        use="{file: board.yaml, banks: 4 to 6, every bank: {switch 2: Tuner}}",
    )
    assert places(compiled) == {"One/A": (3, 0), "One/B": (3, 2), "One/C": (3, 3)}


def test_general_scenes_are_placed_once(tmp_path: Path) -> None:
    compiled = compile_songs(
        tmp_path, {"One": {}, "Two": {}}, rig="general: {Plain: [e1], Loud: [e2]}\n"
    )
    assert places(compiled) == {"/Plain": (0, 0), "/Loud": (0, 1)}


def test_too_many_scenes_for_a_bank(tmp_path: Path) -> None:
    many = {str(n): f"[{', '.join(f'e{i}' for i in range(1, 5) if n >> (i - 1) & 1)}]"
            for n in range(1, 7)}  # fmt: skip
    compiled = compile_songs(tmp_path, {"Many": many, "One": ONE})
    (finding,) = told(compiled)
    assert finding.code == "bank-too-small"
    assert "‘Many’ needs 6 switches in one bank, and a bank has 5 free" in finding.message
    assert set(places(compiled)) == {"One/A", "One/B", "One/C"}


def test_too_few_banks(tmp_path: Path) -> None:
    songs = {f"Tune {n}": dict(ONE, D="[e3]", E="[e4]") for n in range(1, 4)}
    songs["Tune 2"]["A"] = "[e1, e3]"
    songs["Tune 3"]["A"] = "[e1, e4]"
    compiled = compile_songs(tmp_path, songs, use="{file: board.yaml, banks: 1 to 2}")
    (finding,) = told(compiled)
    assert finding.code == "banks-too-few"
    assert "tonight's scenes need 3 banks, and this rig has 2" in finding.message
    assert finding.place.source.line(finding.place.line).count("1 to 2") == 1


@pytest.mark.parametrize("rig", ["granary", "parlour"])
def test_the_demo_again_and_again_lies_where_it_lay(rig: str) -> None:
    first, second = (whole(DEMO / f"{rig}-night.yaml").placement for _ in range(2))
    assert first == second
    assert len(first.presets) > 70


SCENES = st.dictionaries(
    st.sampled_from("ABCDE"),
    st.lists(st.sampled_from(["e1", "e2", "e3", "e4"]), unique=True, max_size=4).map(
        lambda effects: f"[{', '.join(effects)}]"
    ),
    min_size=1,
)


@settings(
    max_examples=60, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture]
)
@given(st.lists(SCENES, min_size=1, max_size=8))
def test_every_placement_keeps_its_promises(tmp_path: Path, songs: list[dict[str, str]]) -> None:
    """One bank a song, no switch with two contents, kept switches untouched, banks in range."""
    compiled = compile_songs(
        tmp_path,
        {f"Tune {n}": scenes for n, scenes in enumerate(songs)},
        use="{file: board.yaml, banks: 2 to 10, every bank: {switch 1: Tuner}}",
    )
    if any(finding.code == "bank-too-small" for finding in told(compiled)):
        assert any(len({str(sorted(s)) for s in scenes.values()}) > 4 for scenes in songs)
        return
    assert told(compiled) == []
    banks: dict[str, set[int]] = {}
    held: dict[Address, object] = {}
    for key, slot in compiled.placement.of_scene.items():
        banks.setdefault(key[0], set()).add(slot.bank)
        content = compiled.scenes[key].content
        assert held.setdefault(slot, content) == content
        assert slot.switch != 0
        assert 1 <= slot.bank <= 9
    assert all(len(used) == 1 for used in banks.values())
    assert len(held) == len(compiled.placement.presets)
    assert set(compiled.placement.of_scene) == set(compiled.scenes)


def test_the_switcher_of_the_tests_has_five_switches() -> None:
    assert "switches: 5" in SWITCHER
