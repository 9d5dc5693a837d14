"""What a preset sends in vain."""

from __future__ import annotations

from pathlib import Path

import pytest

from setwright.compiler.outputs.collect import night_data
from tests.mini import compile_mini

UNIT = """
box:
  loop: 1
  channel: 3
  display: 0 to 9
  programs: {warm: 1}
  busy after program: BUSY
  controls: {mix: {cc: 21, linear: 0 % to 100 %, after a program: AFTER}}
"""


@pytest.mark.parametrize(
    ("busy", "after", "sends", "sentence"),
    [
        ("0 ms", "kept", "programs first", None),
        ("0 ms", "from the program", "programs first", None),
        ("50 ms", "kept", "programs first", "while that is busy loading its program"),
        ("50 ms", "kept", "controls first", None),
        ("0 ms", "from the program", "controls first", "before its program, which brings its own"),
        ("0 ms", "kept", "controls first", None),
    ],
)
def test_what_is_sent_in_vain(
    tmp_path: Path, busy: str, after: str, sends: str, sentence: str | None
) -> None:
    compiled = compile_mini(
        tmp_path,
        units=UNIT.replace("BUSY", busy).replace("AFTER", after),
        effects="warmth: {box: {state: warm, set: {mix: 40 %}}}",
        scenes="A: [warmth]\nB: [warmth]",
        switcher="switcher: board\nbanks: 4\nswitches: 5\nloops: 2\n"
        f"each preset stores: {{programs: 2, controls: 2, sends: {sends}}}\n",
    )
    assert [finding.code for finding in compiled.findings] == (["sent-in-vain"] if sentence else [])
    if sentence is not None:
        (finding,) = compiled.findings
        assert sentence in finding.message
        assert finding.severity == "warning"


BANKED = """
box: {loop: 1, channel: 3, display: 1 to 512, bank select: {by: lsb}, programs: {far: 300}}
near: {loop: 2, channel: 6, display: 0 to 9, programs: {warm: 1}}
"""


@pytest.mark.parametrize(
    ("storage", "programs", "controls"),
    [
        (
            "{programs: 2, controls: 2, bank select: yes}",
            [(1, "box", 43, 2), (2, "near", 1, None)],
            [],
        ),
        (
            "{programs: 2, controls: 2, sends: as listed}",
            [(1, "box", 43, None), (2, "near", 1, None)],
            [(1, "box", 32, 2)],
        ),
        (
            "{programs: 3, controls: 2, bank select: yes, on any channel: no, "
            "program channels: [6, 1, 3], control channels: [3, 6]}",
            [(1, "near", 1, None), (3, "box", 43, 2)],
            [],
        ),
    ],
)
def test_which_slot_holds_what(
    tmp_path: Path,
    storage: str,
    programs: list[tuple[int, str, int, int | None]],
    controls: list[tuple[int, str, int, int]],
) -> None:
    """Fixed channels decide the slot; without bank select in programs it is a control."""
    compiled = compile_mini(
        tmp_path,
        units=BANKED,
        effects="a: {box: far}\nb: {near: warm}",
        scenes="A: [a, b]",
        switcher="switcher: board\nbanks: 4\nswitches: 5\nloops: 2\n"
        f"each preset stores: {storage}\n",
    )
    assert compiled.findings == []
    (preset,) = night_data(compiled).presets
    assert [(s.slot, s.unit, s.number, s.bank_lsb) for s in preset.programs] == programs
    assert [(s.slot, s.unit, s.number, s.value) for s in preset.controls] == controls
