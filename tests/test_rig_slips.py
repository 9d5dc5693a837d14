"""What can be wrong with a rig: one slip, one finding, at the exact words."""

from __future__ import annotations

from pathlib import Path

import pytest

from setwright.compiler.pipeline import compile_night
from tests.books import small_book, write_files
from tests.mini import compile_mini

UNITS = """
box:
  loop: 2
  channel: 3
  display: 1 to 128
  programs: {warm: 7, cold: 8}
  switched by: {cc: 28, on: 127, off: 0}
  controls:
    mix: {cc: 21, linear: 0 % to 100 %}
    speed: {cc: 22, positions: {slow: 0, fast: 127}}
    raw: {cc: 23}
  power: {draws: 100 mA, volts: 9 to 12 V}
pedal: {by foot: [closed, open], at start: open}
amp: {is: amplifier, effects loop: yes, relay: {number: 1, open: clean, closed: dirty}}
"""
EFFECTS = """
warmth: {box: {state: warm, set: {mix: 40 %, speed: slow, raw: 64}}}
dirt: {amp: dirty}
open: {pedal: open}
"""
REST = """
path:
- [guitar, pedal, box, amp]
- [amp send, amp return]
midi:
- [switcher, box]
supply:
  one: {gives: 300 mA, volts: 9 V, feeds: [box]}
"""

SLIPS = [
    ("loop: 2", "loop: 5", "loop-out-of-range", "5", "1 to 4"),
    ("loop: 2", "loop: 0", "loop-out-of-range", "0", "1 to 64"),
    ("loop: 2", "lop: 2", "unknown-key", "lop", "‘loop’"),
    ("    raw: {cc: 23}", "    raw: {cc: 23}\n    time: {cc: 24}", "control-name-taken", "time", "beside controls"),
    ("    raw: {cc: 23}", "    raw: {cc: 23}\n    use: {cc: 24}", "control-name-taken", "use", "another name"),
    ("{cc: 23}", "{cc: 23, only with: worm}", "unknown-state", "worm", "‘warm’"),
    ("{cc: 23}", "{cc: 23, only with: cold}", "setting-does-nothing", "raw", "cold"),
    ("off: 0}", "off: 127}", "switch-unclear", "127", "two values"),
    ("pedal: {by", "switcher: {is: splitter}\npedal: {by", "unit-name-taken", "switcher", "another name"),
    ("channel: 3", "channel: 17", "channel-out-of-range", "17", "1 to 16"),
    ("  channel: 3\n", "", "channel-missing", "programs", "channel: 1 to 16"),
    ("  display: 1 to 128\n", "", "display-not-said", "programs", "1 to 128"),
    ("display: 1 to 128", "display: 1-128", "not-a-display", "1-128", "1 to 128"),
    ("warm: 7", "warm: 129", "program-out-of-range", "129", "1 up to 128"),
    ("warm: 7", "warm: 0", "program-out-of-range", "0", "1 up to 128"),
    ("1 to 128\n  programs: {warm: 7", "1 to 300\n  programs: {warm: 200", "program-out-of-range",
     "200", "bank select"),
    ("state: warm", "state: warn", "unknown-state", "warn", "‘warm’"),
    ("{box: {state", "{bax: {state", "unknown-unit", "bax", "‘box’"),
    ("set: {mix: 40 %", "set: {mox: 40 %", "unknown-control", "mox", "‘mix’"),
    ("mix: 40 %", "mix: 140 %", "out-of-range", "140 %", "0 % to 100 %"),
    ("mix: 40 %", "mix: 40 ms", "units-differ", "40 ms", "%"),
    ("speed: slow", "speed: slwo", "unknown-state", "slwo", "‘slow’"),
    ("raw: 64", "raw: 128", "out-of-range", "128", "0 to 127"),
    ("cc: 28, on: 127, off: 0", "cc: 28, on: 127", "switch-unclear", "switched by", "off:"),
    ("cc: 28, on: 127, off: 0", "cc: 28, on: 127, off: 0, any value flips: yes",
     "switch-unclear", "switched by", "flips"),
    ("cc: 28", "cc: 120", "control-is-mode-message", "120", "0 to 119"),
    ("linear: 0 % to 100 %", "linear: 0 % to 100 %, points: {0: 0 %, 127: 100 %}", "curve-twice",
     "mix", "keep one"),
    ("linear: 0 % to 100 %", "points: {0: 0 %}", "curve-unclear", "points", "300 ms"),
    ("at start: open", "at start: opne", "unknown-state", "opne", "‘open’"),
    ("number: 1", "number: 3", "relay-out-of-range", "3", "1 to 2"),
    ("amp: dirty", "amp: drity", "unknown-state", "drity", "‘dirty’"),
    ("[guitar, pedal, box, amp]", "[guitar, pedal, bx, amp]", "unknown-unit", "bx", "‘box’"),
    ("[switcher, box]", "[switcher, box, ecko]", "unknown-unit", "ecko", "known here"),
    ("feeds: [box]", "feeds: [bix]", "unknown-unit", "bix", "‘box’"),
    ("closed: dirty", "closed: clean", "state-twice", "clean", "own name"),
    ("gives: 300 mA", "gives: 300", "not-a-current", "300", "45 mA"),
    ("volts: 9 V", "volts: 230 V", "out-of-range", "230 V", "technician"),
    ("is: amplifier", "is: amplifire", "unknown-choice", "amplifire", "‘amplifier’"),
]  # fmt: skip


@pytest.mark.parametrize(("right", "wrong", "code", "under", "way_out"), SLIPS)
def test_one_slip_is_one_finding(
    tmp_path: Path, right: str, wrong: str, code: str | None, under: str, way_out: str
) -> None:
    parts = [UNITS, EFFECTS, REST]
    assert sum(part.count(right) for part in parts) == 1, "the slip must be in one place"
    units, effects, rest = (part.replace(right, wrong) for part in parts)
    compiled = compile_mini(
        tmp_path,
        units=units,
        effects=effects,
        rig=rest,
        scenes="A: {effects: [warmth, dirt, open]}\nB: {effects: warmth}",
    )
    if code is None:
        assert compiled.findings == []
        return
    assert [(finding.code, finding.message) for finding in compiled.findings][1:] == []
    (finding,) = compiled.findings
    assert finding.code == code
    place = finding.place
    assert place.file.endswith("rig.yaml")
    assert place.source.line(place.line)[place.column - 1 : place.end_column - 1] == under
    assert way_out in finding.help


@pytest.mark.parametrize(
    ("units", "effects", "code", "under"),
    [
        ("one: {loop: 1}\ntwo: {loop: 1}", "a: one", "loop-twice", "1"),
        (
            "one: {relay: {number: 1, open: a, closed: b}}\n"
            "two: {relay: {number: 1, open: c, closed: d}}",
            "a: {one: a}",
            "relay-twice",
            "1",
        ),
        (
            "one: {channel: 3, display: 0 to 9, programs: {x: 1}}",
            "a: {one: x}",
            "never-silent",
            "one",
        ),
    ],
)
def test_units_that_get_in_each_others_way(
    tmp_path: Path, units: str, effects: str, code: str, under: str
) -> None:
    compiled = compile_mini(tmp_path, units=units, effects=effects, scenes="S: {effects: a}\nT: []")
    (finding,) = compiled.findings
    assert finding.code == code
    place = finding.place
    assert place.source.line(place.line)[place.column - 1 : place.end_column - 1] == under
    assert finding.related


def test_two_effects_that_need_one_unit_in_two_states(tmp_path: Path) -> None:
    compiled = compile_mini(
        tmp_path,
        units=UNITS,
        effects="hot: {box: warm}\nchill: {box: cold}",
        scenes="A: {effects: [hot, chill]}\nB: {effects: [hot, chill]}\nC: {effects: hot}",
    )
    assert [finding.code for finding in compiled.findings] == ["effects-clash", "effects-clash"]
    first = compiled.findings[0]
    assert "‘hot’ and ‘chill’ need ‘box’ in two states at once: warm and cold" in first.message
    assert [other.place.line for other in first.related] == [7, 18, 19]
    assert list(compiled.songs[0].scenes) == ["C"]


@pytest.mark.parametrize(
    ("every_bank", "banks", "code"),
    [
        ("{switch 5: Tuner}", "1 to 10", None),
        ("{5: Tuner}", "3", None),
        ("{switch 6: Tuner}", "1 to 10", "switch-out-of-range"),
        ("{switch 5: Tuner}", "1 to 11", "bank-out-of-range"),
        ("{switch 5: Tuner}", "4 to 3", "span-backwards"),
        ("{switch 5: Tuner}", "0 to 3", "out-of-range"),
    ],
)
def test_the_switchers_place_in_the_rig(
    tmp_path: Path, every_bank: str, banks: str, code: str | None
) -> None:
    from setwright.compiler.pipeline import compile_night
    from tests.mini import write_night

    night = write_night(tmp_path, units="one: {loop: 1}", effects="a: one", scenes="A: [a]")
    rig = tmp_path / "rig.yaml"
    rig.write_text(
        rig.read_text(encoding="utf-8").replace(
            "switcher: board.yaml",
            f"switcher: {{file: board.yaml, banks: {banks}, every bank: {every_bank}}}",
        ),
        encoding="utf-8",
    )
    assert [finding.code for finding in compile_night(night).findings] == ([code] if code else [])


def test_sentences_agree_with_their_numbers(tmp_path: Path) -> None:
    """A switcher of one bank, one switch and one loop, and songs that need two of each."""
    desk = (
        small_book()["desk.yaml"].replace("banks: 32", "banks: 1").replace("loops: 8", "loops: 1")
    )
    files = small_book() | {"desk.yaml": desk}
    write_files(tmp_path, files)
    messages = {f.code: f.message for f in compile_night(tmp_path / "night.yaml").findings}
    assert messages["bank-out-of-range"] == "the switcher has 1 bank"
    assert messages["loop-out-of-range"].startswith("the switcher has 1 loop, so there is no loop ")
    desk = small_book()["desk.yaml"].replace("switches: 8", "switches: 2")
    files["desk.yaml"] = desk
    files["night.yaml"] = small_book()["night.yaml"]
    write_files(tmp_path, files)
    said = [f.message for f in compile_night(tmp_path / "night.yaml").findings]
    assert "the switcher has no switch ‘8’ in a bank" in said
    files["rig.yaml"] = small_book()["rig.yaml"].replace(", every bank: {switch 8: Tuner}", "")
    write_files(tmp_path, files)
    said = [f.message for f in compile_night(tmp_path / "night.yaml").findings]
    assert "the general scenes need 4 switches in one bank, and a bank has 2 free" in said
    assert "‘Drowsy Maggie’ needs 3 switches in one bank, and a bank has 2 free" in said
