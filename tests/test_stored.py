"""What a preset sends in vain."""

from __future__ import annotations

from pathlib import Path

import pytest

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
