"""What does not fit into a preset: what would stay, after which scene, and the cheapest way out."""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.mini import compile_mini

BOX = """
box:
  channel: 3
  switched by: {cc: 1, on: 127, off: 0}
  controls:
    mix: {cc: 21, linear: 0 % to 127 %, at rest: 30 %}
    depth: {cc: 22, linear: 0 % to 127 %, at rest: 20 %}
"""
PROGRAMS = """
box:
  loop: 1
  channel: 3
  display: 0 to 9
  programs: {warm: 1}
  controls: {mix: {cc: 21, linear: 0 % to 127 %}, depth: {cc: 22, linear: 0 % to 127 %}}
"""


def board(stores: str) -> str:
    return f"switcher: board\nbanks: 9\nswitches: 5\nloops: 4\neach preset stores: {stores}\n"


@pytest.mark.parametrize(
    ("units", "effects", "scenes", "stores", "stays", "help_"),
    [
        pytest.param(
            BOX,
            "a: box\nb: {box: {set: {depth: 90 %}}}",
            "A: [a]\nB: [b]",
            "{controls: 2}",
            "if ‘A’ did not send the depth of ‘box’, it would stay as here: depth 90 % (value 90)",
            "every scene sends the same mix to ‘box’ (mix 30 % (value 30)): set it there by hand",
            id="a value that every scene shares",
        ),
        pytest.param(
            PROGRAMS,
            "a: {box: {state: warm, set: {mix: 40 %, depth: 50 %}}}\n"
            "b: {box: {state: warm, set: {mix: 60 %, depth: 70 %}}}",
            "A: [a]\nB: [b]",
            "{programs: 1, controls: 1}",
            "if ‘A’ did not send the mix of ‘box’, it would stay as here: mix 60 % (value 60)",
            "store a program on ‘box’ that has its mix built in (mix 40 % (value 40))",
            id="a program that has it built in",
        ),
        pytest.param(
            BOX,
            "a: {box: {set: {mix: 10 %, depth: 11 %}}}\nb: {box: {set: {mix: 12 %, depth: 13 %}}}",
            "A: [a]\nB: [b]\nC: {effects: []}",
            "{controls: 2}",
            "if ‘A’ did not send the mix of ‘box’, it would stay as here: mix 12 % (value 12)",
            "leave an effect out, put a unit into a loop",
            id="one control fewer",
        ),
    ],
)
def test_the_way_out(
    tmp_path: Path,
    units: str,
    effects: str,
    scenes: str,
    stores: str,
    stays: str,
    help_: str,
) -> None:
    compiled = compile_mini(
        tmp_path, units=units, effects=effects, scenes=scenes, switcher=board(stores)
    )
    (finding,) = compiled.findings
    assert finding.code == "preset-full"
    assert finding.help.startswith(help_)
    said = [other.message for other in finding.related if other.message.startswith("if ")]
    assert said == [stays]
