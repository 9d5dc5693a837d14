"""The way out that a finding shows is one that would help in that very case."""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.mini import SWITCHER, compile_mini, told

FLIPS = "switched by: {cc: 28, any value flips: yes}"
BUSY = """
box:
  loop: 1
  channel: 3
  display: 0 to 9
  programs: {warm: 1}
  busy after program: 30 ms
  controls: {mix: {cc: 21, linear: 0 % to 127 %, at rest: 30 %}}
"""
AT_REST = """
box:
  channel: 3
  display: 0 to 9
  programs: {warm: 1, through: 0}
  at rest: through
  busy after program: 30 ms
  controls: {mix: {cc: 21, linear: 0 % to 127 %, at rest: 30 %ONLY}}
"""
KEPT_LATER = """
box:
  loop: 1
  channel: 3
  display: 0 to 9
  programs: {warm: 1}
  controls: {mix: {cc: 21, linear: 0 % to 127 %, at rest: 30 %}}
"""
ONE_BANK = """
box:
  loop: 1
  channel: 3
  display: 1 to 512
  programs: {warm: 100}
  bank select: {by: msb}
"""
TWO_BANKS = ONE_BANK.replace("{warm: 100}", "{warm: 100, far: 300}")
CONTROLS_FIRST = SWITCHER.replace("bank select: yes", "bank select: yes, sends: controls first")
NO_SELECT = SWITCHER.replace(", bank select: yes", "")


@pytest.mark.parametrize(
    ("units", "effects", "scenes", "switcher", "code", "help_"),
    [
        pytest.param(
            f"box: {{channel: 3, {FLIPS}}}",
            "a: box",
            "A: [a]\nB: {effects: []}",
            SWITCHER,
            "flip-not-known",
            "put it into a loop of the switcher, use a control that has one value for on and one "
            "for off, or a program that has it on or off built in",
            id="a box that flips",
        ),
        pytest.param(
            f"box: {{loop: 1, channel: 3, {FLIPS}, display: 0 to 9, programs: {{warm: 1}}, "
            "loading: bypasses}",
            "a: {box: warm}",
            "A: [a]",
            SWITCHER,
            "flip-not-known",
            "loop 1 takes it in and out already, so all it needs is a program that has it on built "
            "in; the programs that it loads switch it off",
            id="a box that flips, in a loop",
        ),
        pytest.param(
            BUSY,
            "a: {box: {state: warm, set: {mix: 40 %}}}",
            "A: [a]",
            SWITCHER,
            "sent-in-vain",
            "use a program that has the setting built in; or, if the switcher can pause between "
            "its messages, let it, and write gap between messages:",
            id="a busy box",
        ),
        pytest.param(
            AT_REST.replace("ONLY", ""),
            "a: {box: warm}",
            "A: {effects: []}",
            SWITCHER,
            "sent-in-vain",
            "‘through’ is what ‘box’ has at rest, where nobody hears its mix: write only with: and "
            "the programs in which it is heard, under the control; then it is not sent here",
            id="a program at rest, in which the setting is not heard",
        ),
        pytest.param(
            KEPT_LATER,
            "a: {box: {state: warm, set: {mix: 40 %}}}",
            "A: [a]",
            CONTROLS_FIRST,
            "sent-in-vain",
            "use a program that has the setting built in; or, if the switcher can send programs "
            "first, let it, and write sends: programs first",
            id="controls that go first, where no pause helps",
        ),
        pytest.param(
            TWO_BANKS,
            "a: {box: far}",
            "A: [a]",
            NO_SELECT,
            "preset-full",
            "use a program of the first bank, where a program change alone reaches it; or a "
            "switcher that sends bank select",
            id="a program of another bank",
        ),
        pytest.param(
            ONE_BANK,
            "a: {box: warm}",
            "A: [a]",
            NO_SELECT,
            "preset-full",
            "all programs of ‘box’ lie in its first bank: take bank select: out of the rig, "
            "write its display: as far as one bank goes, and leave the box in that bank",
            id="bank select that no program needs",
        ),
    ],
)
def test_it_would_help(
    tmp_path: Path,
    units: str,
    effects: str,
    scenes: str,
    switcher: str,
    code: str,
    help_: str,
) -> None:
    compiled = compile_mini(
        tmp_path, units=units, effects=effects, scenes=scenes, switcher=switcher
    )
    assert [(one.code, one.help) for one in told(compiled)] == [(code, help_)]


@pytest.mark.parametrize(
    ("units", "effects", "scenes", "switcher"),
    [
        pytest.param("box: {loop: 1}", "a: box", "A: [a]", SWITCHER, id="left on, in its loop"),
        pytest.param(
            AT_REST.replace("ONLY", ", only with: warm"),
            "a: {box: warm}",
            "A: {effects: []}",
            SWITCHER,
            id="only with the program in which it is heard",
        ),
        pytest.param(
            KEPT_LATER,
            "a: {box: {state: warm, set: {mix: 40 %}}}",
            "A: [a]",
            SWITCHER,
            id="programs first",
        ),
        pytest.param(
            ONE_BANK.replace("  bank select: {by: msb}\n", "").replace("512", "128"),
            "a: {box: warm}",
            "A: [a]",
            NO_SELECT,
            id="without bank select",
        ),
    ],
)
def test_it_helps(tmp_path: Path, units: str, effects: str, scenes: str, switcher: str) -> None:
    compiled = compile_mini(
        tmp_path, units=units, effects=effects, scenes=scenes, switcher=switcher
    )
    assert told(compiled) == []
