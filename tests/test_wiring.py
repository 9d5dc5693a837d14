"""The cables of a rig as data: written by hand what each rig has to give."""

from __future__ import annotations

from pathlib import Path

import pytest

from setwright.compiler.outputs.collect import night_data
from setwright.compiler.outputs.wiring import WiringData
from tests.mini import write_night
from tests.nights import whole

UNITS = """\
swell: {is: volume, own power: yes}
fuzz: {loop: 1, own power: yes}
choir: {loop: 2, channel: 3, programs: {wide: 4}, inputs: 2, outputs: 2, own power: yes}
echo: {loop: 3, channel: 9, programs: {long: 5}, own power: yes}
hall: {loop: 4, channel: omni, own power: yes}
splitter: {is: splitter}
oak: {is: amplifier, effects loop: yes}
ash: {is: amplifier}
"""
EFFECTS = "fuzz: fuzz\nwide: {choir: wide}\nlong: {echo: long}\nhall: hall"


def wiring(folder: Path, rig: str, units: str = UNITS, without: str = "") -> WiringData:
    """Return the cables of a rig, whatever is found that is no error."""
    path = write_night(
        folder, units=units, effects=EFFECTS, rig=rig, scenes="On: {effects: [fuzz]}"
    )
    return night_data(whole(path, frozenset(filter(None, without.split(", "))))).wiring


def cables(found: WiringData) -> list[str]:
    """Return the cables of the path as a player says them, sides but in and out with a stroke."""

    def side(unit: str, name: str) -> str:
        return unit if name in {"in", "out"} else f"{unit}/{name}"

    return [
        f"{side(one.source, one.source_side)} > {side(one.target, one.target_side)}"
        for one in found.path_cables
    ]


@pytest.mark.parametrize(
    ("path", "without", "expected", "within"),
    [
        pytest.param(
            "- [guitar, swell, fuzz, choir, echo, hall, oak]",
            "",
            "guitar > swell, swell > fuzz, fuzz > choir, choir > echo, echo > hall, hall > oak",
            {},
            id="one after the other",
        ),
        pytest.param(
            "- [guitar, swell, fuzz, oak]\n- [oak send, choir, echo, hall, oak return]",
            "",
            "guitar > swell, swell > fuzz, fuzz > oak, oak/send > choir, choir > echo, "
            "echo > hall, hall > oak/return",
            {"choir": "oak", "echo": "oak", "hall": "oak"},
            id="an effects loop",
        ),
        pytest.param(
            "- [guitar, swell, fuzz, oak]\n- [oak send, choir, echo, hall, oak return]",
            "echo, swell",
            "guitar > fuzz, fuzz > oak, oak/send > choir, choir > hall, hall > oak/return",
            {"choir": "oak", "hall": "oak"},
            id="neighbours of what is left out are joined",
        ),
        pytest.param(
            # What leads out of the loop to the other amplifier lies in nothing.
            "- [guitar, swell, fuzz, oak]\n- [oak send, choir, splitter, echo, oak return]\n"
            "- [splitter, hall, ash]",
            "",
            "guitar > swell, swell > fuzz, fuzz > oak, oak/send > choir, choir > splitter, "
            "splitter > echo, echo > oak/return, splitter > hall, hall > ash",
            {"choir": "oak", "splitter": "oak", "echo": "oak"},
            id="a branch out of an effects loop",
        ),
        pytest.param(
            "- [guitar, swell, splitter, fuzz, echo, hall, ash]\n- [splitter, choir, oak]",
            "oak",
            "guitar > swell, swell > splitter, splitter > fuzz, fuzz > echo, echo > hall, "
            "hall > ash, splitter > choir",
            {},
            id="an amplifier that is left out ends its way",
        ),
    ],
)
def test_the_cables_of_the_path(
    tmp_path: Path, path: str, without: str, expected: str, within: dict[str, str]
) -> None:
    found = wiring(tmp_path, f"path:\n{path}\n", without=without)
    assert ", ".join(cables(found)) == expected
    assert {one.unit: one.within for one in found.path if one.within} == within
    assert {one.unit for one in found.path}.isdisjoint(filter(None, without.split(", ")))


def test_two_cables_in_stereo_are_two(tmp_path: Path) -> None:
    found = wiring(
        tmp_path,
        "path:\n- [guitar, swell, fuzz, echo, hall, choir, oak]\n- [choir, oak]\n",
    )
    assert cables(found).count("choir > oak") == 2


def test_a_unit_of_the_path_says_where_it_sits(tmp_path: Path) -> None:
    found = wiring(tmp_path, "path:\n- [guitar, swell, fuzz, choir, echo, hall, splitter, oak]\n")
    assert [(one.unit, one.kind, one.loop, one.effects_loop) for one in found.path] == [
        ("guitar", "guitar", None, False),
        ("swell", "volume", None, False),
        ("fuzz", "effect", 1, False),
        ("choir", "effect", 2, False),
        ("echo", "effect", 3, False),
        ("hall", "effect", 4, False),
        ("splitter", "splitter", None, False),
        ("oak", "amplifier", None, False),
    ]


@pytest.mark.parametrize(
    ("lines", "without", "expected"),
    [
        pytest.param(
            "[[switcher, choir, echo]]",
            "",
            "switcher OUT choir, choir THRU echo",
            id="a chain",
        ),
        pytest.param(
            "[[switcher, choir], [choir, echo], [choir, hall]]",
            "",
            "switcher OUT choir, choir THRU echo, choir THRU hall",
            id="a line that begins with a box on another",
        ),
        pytest.param(
            "[[switcher, joiner], [pedal, joiner], [joiner, choir, echo]]",
            "",
            "switcher OUT joiner, pedal OUT joiner, joiner OUT choir, choir THRU echo",
            id="a merge",
        ),
        pytest.param(
            "[[switcher, choir, echo, hall]]",
            "echo",
            "switcher OUT choir, choir THRU hall",
            id="neighbours of what is left out are joined",
        ),
        pytest.param(
            "[[computer, switcher, choir]]",
            "",
            "computer OUT switcher, switcher OUT choir",
            id="a computer",
        ),
    ],
)
def test_the_cables_of_midi(tmp_path: Path, lines: str, without: str, expected: str) -> None:
    more = "joiner: {is: merge, own power: yes}\npedal: {is: sender, own power: yes}\n"
    found = wiring(tmp_path, f"midi: {lines}\n", UNITS + more, without)
    said = [f"{one.source} {one.socket} {one.target}" for one in found.midi_cables]
    assert ", ".join(said) == expected


def test_the_boxes_of_midi(tmp_path: Path) -> None:
    found = wiring(tmp_path, "midi:\n- [switcher, {choir: {thru: no}}]\n- [switcher, hall, fuzz]\n")
    assert [(one.box, one.kind, one.channel, one.omni, one.passes_on) for one in found.midi] == [
        ("switcher", "switcher", None, False, False),
        ("choir", "effect", 3, False, False),
        ("hall", "effect", None, True, True),
        ("fuzz", "effect", None, False, True),
    ]


POWERED = """\
fuzz: {loop: 1, power: {draws: 5 mA, volts: 9 V, passes on to: [echo, choir]}}
choir: {loop: 2, channel: 3, programs: {wide: 4}, power: {draws: 0.1 A, volts: 9 to 18 V}}
echo: {loop: 3, channel: 9, programs: {long: 5}, power: {draws: 40 mA, volts: 9 V}}
hall: {loop: 4, channel: omni, power: {draws: 300 mA, volts: 12 V, current: ac}}
bare: {}
oak: {is: amplifier}
"""
SUPPLY = """\
supply:
  "1": {gives: 200 mA, volts: 9 V, feeds: [fuzz, bare]}
  "2": {gives: 500 mA, volts: 9 to 12 V, current: ac, feeds: hall}
  "3": {gives: 100 mA, volts: 18 V, feeds: []}
"""


def test_the_outputs_of_the_supply(tmp_path: Path) -> None:
    path = write_night(
        tmp_path,
        units=POWERED,
        effects=EFFECTS,
        rig=SUPPLY,
        scenes="On: {effects: [fuzz]}",
    )
    one, two, three = night_data(whole(path)).wiring.supply
    assert (one.output, one.gives_ma, one.volts, one.current, one.polarity, one.draws_ma) == (
        *("1", 200, "9 V", "dc", "centre negative"),
        145,  # 5 + 40 + 100; of the bare one nothing is known
    )
    assert [(fed.unit, fed.through, fed.draws_ma, fed.volts) for fed in one.feeds] == [
        ("fuzz", None, 5, "9 V"),
        ("bare", None, None, None),
        ("echo", "fuzz", 40, "9 V"),
        ("choir", "fuzz", 100, "9 to 18 V"),
    ]
    assert (two.volts, two.current, two.polarity, two.draws_ma) == ("9 to 12 V", "ac", None, 300)
    (hall,) = two.feeds
    assert (hall.unit, hall.current, hall.polarity) == ("hall", "ac", None)
    assert (three.feeds, three.draws_ma) == ((), 0)


def test_what_is_left_out_draws_nothing_and_passes_nothing_on(tmp_path: Path) -> None:
    path = write_night(
        tmp_path,
        units=POWERED,
        effects=EFFECTS,
        rig=SUPPLY,
        scenes="On: {effects: [hall]}",
    )
    one, _, _ = night_data(whole(path, frozenset({"fuzz"}))).wiring.supply
    assert [fed.unit for fed in one.feeds] == ["bare"]
    assert one.draws_ma == 0


def test_a_circle_of_power_ends(tmp_path: Path) -> None:
    units = POWERED.replace("40 mA, volts: 9 V", "40 mA, volts: 9 V, passes on to: fuzz")
    path = write_night(
        tmp_path, units=units, effects=EFFECTS, rig=SUPPLY, scenes="On: {effects: [fuzz]}"
    )
    one, _, _ = night_data(whole(path)).wiring.supply
    assert [(fed.unit, fed.through) for fed in one.feeds] == [
        ("fuzz", None),
        ("bare", None),
        ("echo", "fuzz"),
        ("choir", "fuzz"),
        ("fuzz", "echo"),
    ]
    assert one.draws_ma == 145
