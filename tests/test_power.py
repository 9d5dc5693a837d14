"""Power and clock where a unit is missing tonight, and what is not said of power."""

from __future__ import annotations

from pathlib import Path

import pytest

from setwright.compiler.pipeline import compile_night
from setwright.scenes.finding import Severity
from tests.mini import write_night

UNITS = """
one: {loop: 1, power: {draws: 60 mA, volts: 9 V, passes on to: two}}
two: {loop: 2, power: {draws: 60 mA, volts: 9 V, polarity: POLARITY}}
three: {loop: 3}
"""
SUPPLY = """
supply:
  a: {gives: 100 mA, volts: 9 V, feeds: FEEDS}
  b: {gives: 100 mA, volts: 18 V, feeds: []}
"""


@pytest.mark.parametrize(
    ("polarity", "feeds", "without", "codes"),
    [
        pytest.param("centre negative", "one", (), ["supply-overloaded"], id="too much"),
        pytest.param("centre negative", "one", ("two",), [], id="the second is missing"),
        pytest.param("centre negative", "one", ("one",), ["not-fed"], id="what it fed is dark"),
        pytest.param("centre positive", "two", ("one",), ["supply-polarity"], id="still there"),
        pytest.param(
            "centre positive", "two", ("two",), ["not-fed"], id="its polarity is gone too"
        ),
        pytest.param(
            "centre negative", "[one, two]", ("one",), [], id="fed once without the other"
        ),
        pytest.param("centre negative", "[one, two]", ("two",), [], id="missing, so not fed twice"),
        pytest.param(
            "centre negative", "[one, nobody]", ("two",), ["unknown-unit"], id="fed and not there"
        ),
        pytest.param(
            "centre negative",
            "[three]",
            (),
            ["not-fed", "draw-not-said"],
            id="nothing said, nothing guessed",
        ),
        pytest.param("centre negative", "[one]", ("one", "two"), [], id="nothing there to feed"),
    ],
)
def test_power_of_what_is_there(
    tmp_path: Path, polarity: str, feeds: str, without: tuple[str, ...], codes: list[str]
) -> None:
    night = write_night(
        tmp_path,
        units=UNITS.replace("POLARITY", polarity),
        effects="x: three",
        scenes="On: [x]\nOff: {effects: []}",
        rig=SUPPLY.replace("FEEDS", feeds),
    )
    compiled = compile_night(night, frozenset(without))
    assert [finding.code for finding in compiled.findings] == codes


def test_every_number_is_said(tmp_path: Path) -> None:
    night = write_night(
        tmp_path,
        units=UNITS.replace("POLARITY", "centre negative"),
        effects="x: three",
        scenes="On: [x]\nOff: {effects: []}",
        rig=SUPPLY.replace("FEEDS", "one"),
    )
    (finding,) = compile_night(night).findings
    assert finding.message == (
        "output ‘a’ gives 100 mA, and what hangs on it draws 120 mA: one 60, two 60"
    )
    assert finding.help.endswith("; compare with the labels before you connect anything")


def test_what_is_dark_because_of_a_missing_unit_is_said(tmp_path: Path) -> None:
    night = write_night(
        tmp_path,
        units=UNITS.replace("POLARITY", "centre negative"),
        effects="x: three",
        scenes="On: [x]\nOff: {effects: []}",
        rig=SUPPLY.replace("FEEDS", "one"),
    )
    (finding,) = compile_night(night, frozenset({"one"})).findings
    assert finding.message == (
        "‘two’ draws 60 mA, and no output of the supply feeds it: ‘one’, which passes its power on "
        "to it, is missing tonight"
    )


def test_a_rig_without_a_supply_says_nothing_of_power(tmp_path: Path) -> None:
    night = write_night(
        tmp_path,
        units=UNITS.replace("POLARITY", "centre negative"),
        effects="x: three",
        scenes="On: [x]\nOff: {effects: []}",
    )
    assert compile_night(night).findings == []


@pytest.mark.parametrize(
    ("without", "codes"),
    [((), ["power-in-circle"]), (("two",), []), (("three",), ["power-in-circle"])],
)
def test_a_circle_is_one_only_while_all_of_it_is_there(
    tmp_path: Path, without: tuple[str, ...], codes: list[str]
) -> None:
    night = write_night(
        tmp_path,
        units=UNITS.replace(", polarity: POLARITY", ", passes on to: one"),
        effects="x: three\ny: one",
        scenes="On: [x]\nOff: {effects: []}",
        rig="instead of: {x: nothing}\n",
    )
    found = compile_night(night, frozenset(without)).findings
    assert [one.code for one in found if one.severity is Severity.ERROR] == codes


@pytest.mark.parametrize(
    ("without", "codes"), [((), []), (("drum box",), ["no-clock"]), (("echo",), [])]
)
def test_a_clock_that_is_missing_tonight(
    tmp_path: Path, without: tuple[str, ...], codes: list[str]
) -> None:
    night = write_night(
        tmp_path,
        units="""
        box: {loop: 1}
        drum box: {is: sender, sends: clock}
        joiner: {is: merge}
        echo: {loop: 2, channel: 3, tempo from: clock}
        """,
        effects="x: box",
        scenes="On: [x]\nOff: {effects: []}",
        rig="midi:\n- [drum box, joiner]\n- [switcher, joiner]\n- [joiner, echo]\n",
    )
    assert [one.code for one in compile_night(night, frozenset(without)).findings] == codes
