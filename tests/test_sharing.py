"""Two boxes in one loop, and two on one relay contact: what each scene makes of both."""

from __future__ import annotations

import csv
import io
from pathlib import Path

import pytest

from setwright.compiler.compiled import Compiled
from setwright.compiler.outputs.collect import night_data
from setwright.compiler.outputs.preset_sheet import preset_sheet_files
from setwright.scenes.finding import Finding
from tests.mini import bound, compile_mini, quantity, write_night
from tests.nights import whole

UNITS = """
fuzz: {loop: 1}
doubler:
  shares with: fuzz
  channel: 3
  display: 0 to 9
  programs: {thin: 1, thick: 2}
  at rest: thin
  acts only on: what is declared
head: {is: amplifier, relay: {number: 1, open: clean, closed: dirty}}
cabinet: {is: amplifier, shares with: head, relay: {number: 1, open: wide, closed: narrow}}
"""
EFFECTS = """
lead: fuzz
double: {doubler: thick}
dirt: {head: dirty}
close: {cabinet: narrow}
far: {cabinet: wide}
"""
SCENES = """
Bare: {effects: []}
Lead: [lead]
Double: [double]
Both: [lead, double]
Dirt: [dirt]
Same: [dirt, close]
"""

# Scene → loop 1, the doubler's program, what head and cabinet do; by hand from the rig above.
TABLE = {
    "Bare": (False, None, "clean", "wide"),
    "Lead": (True, "thin", "clean", "wide"),
    "Double": (True, "thick", "clean", "wide"),
    "Both": (True, "thick", "clean", "wide"),
    "Dirt": (False, None, "dirty", "narrow"),
    "Same": (False, None, "dirty", "narrow"),
}


def compiled(tmp_path: Path, *, units: str = UNITS, scenes: str = SCENES) -> Compiled:
    return compile_mini(tmp_path, units=units, effects=EFFECTS, scenes=scenes)


@pytest.mark.parametrize("own_number", [False, True])
@pytest.mark.parametrize("scene", TABLE)
def test_what_a_scene_makes_of_both(tmp_path: Path, scene: str, own_number: bool) -> None:
    units = UNITS.replace("with: fuzz", "with: fuzz\n  loop: 1") if own_number else UNITS
    night = compiled(tmp_path, units=units)
    one = bound(night, scene)
    inside, program, head, cabinet = TABLE[scene]
    assert quantity(one, "fuzz", "loop").value is inside
    assert quantity(one, "doubler", "loop").value is inside
    loaded = quantity(one, "doubler", "program").value
    assert getattr(loaded, "name", None) == program
    assert quantity(one, "head", "relay").value == head
    assert quantity(one, "cabinet", "relay").value == cabinet
    content = night.scene(night.songs[0], scene).content
    assert content.loops == ((1,) if inside else ())
    assert content.relays == ((1,) if head == "dirty" else ())


def test_said_on_the_other_unit_it_counts_for_both(tmp_path: Path) -> None:
    units = (
        UNITS.replace("  shares with: fuzz\n", "  loop: 1\n")
        .replace("fuzz: {loop: 1}", "fuzz: {loop: 1, shares with: doubler}")
        .replace("shares with: head, ", "")
        .replace("head: {is: amplifier,", "head: {is: amplifier, shares with: [cabinet],")
    )
    night = compiled(tmp_path, units=units)
    assert bound(night, "Lead").of("doubler")[0].value is True
    assert quantity(bound(night, "Dirt"), "cabinet", "relay").value == "narrow"


def test_two_states_of_one_contact_clash(tmp_path: Path) -> None:
    night = compiled(tmp_path, scenes="Bare: [lead]\nClash: [dirt, far]")
    (found,) = night.findings
    assert found.code == "effects-clash"
    assert "‘dirt’ and ‘far’ need ‘cabinet’ in two states at once: narrow and wide" in found.message
    assert word(found) == "far"


def test_one_contact_cannot_rest_in_two_states(tmp_path: Path) -> None:
    units = UNITS.replace("head: {", "head: {at rest: dirty, ").replace(
        "cabinet: {", "cabinet: {at rest: wide, "
    )
    (found,) = compiled(tmp_path, units=units).findings
    assert (found.code, word(found)) == ("relay-twice", "wide")
    assert "cannot rest in dirty and wide" in found.message


def test_where_one_rests_the_other_rests(tmp_path: Path) -> None:
    units = UNITS.replace("cabinet: {", "cabinet: {at rest: narrow, ")
    one = bound(compiled(tmp_path, units=units), "Bare")
    assert quantity(one, "head", "relay").value == "dirty"


@pytest.mark.parametrize(
    ("old", "new", "code", "at"),
    [
        ("shares with: fuzz", "shares with: fuz", "unknown-unit", "fuz"),
        ("shares with: fuzz", "loop: 1", "loop-twice", "1"),
        ("shares with: fuzz", "shares with: head", "shares-nothing", "head"),
        ("shares with: fuzz", "shares with: fuzz\n  loop: 2", "shares-nothing", "fuzz"),
        ("shares with: head, ", "", "relay-twice", "1"),
    ],
)
def test_slips(tmp_path: Path, old: str, new: str, code: str, at: str) -> None:
    assert old in UNITS
    night = compiled(tmp_path, units=UNITS.replace(old, new))
    found = [one for one in night.findings if one.code == code]
    assert [word(one) for one in found] == [at]
    assert len(night.findings) == 1


def test_without_one_of_them_the_other_stays_in_its_loop(tmp_path: Path) -> None:
    path = write_night(tmp_path, units=UNITS, effects=EFFECTS, scenes=SCENES)
    night = whole(path, frozenset({"fuzz"}))
    content = {name: night.scene(night.songs[0], name).content.loops for name in ("Lead", "Double")}
    assert content == {"Lead": (), "Double": (1,)}
    (sheet,) = {one.loop_units for one in night_data(night).presets if one.loops}
    assert sheet == ("doubler",)


def test_the_preset_sheet_names_all_of_them(tmp_path: Path) -> None:
    data = night_data(compiled(tmp_path))
    assert data.switcher.loop_units == {"1": "fuzz"}
    assert data.switcher.loop_shared == {"1": ("doubler",)}
    assert data.switcher.relay_shared == {"1": ("cabinet",)}
    text = preset_sheet_files(data)["preset-sheet.csv"].decode("utf-8-sig")
    rows = {
        (row["what"], row["number"], row["unit"], row["meaning"])
        for row in csv.DictReader(io.StringIO(text))
    }
    assert ("loop", "1", "fuzz + doubler", "in") in rows
    assert ("relay", "1", "head + cabinet", "closed: dirty") in rows


def word(finding: Finding) -> str:
    """Return the text that a finding points at."""
    place = finding.place
    return place.source.line(place.line)[place.column - 1 : place.end_column - 1]
