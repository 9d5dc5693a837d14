"""A scene as it is heard: what the signal comes through, worked out by hand for each wiring."""

from __future__ import annotations

from pathlib import Path
from typing import NamedTuple

import pytest

from setwright.compiler.reports.explain import explain, explain_json
from setwright.compiler.reports.find import Found, find_scene
from tests.mini import write_night
from tests.nights import whole

UNITS = """
swell: {is: volume, by foot: [closed, open], at start: open}
squeezer: {loop: 1}
fuzz: {loop: 2}
many:
  loop: 3
  channel: 3
  display: 0 to 9
  programs: {lead: 1, choir: 2}
  effects loop: yes
  acts only on: what is declared
echo: {channel: 9, switched by: {cc: 28, on: 127, off: 0}, acts only on: what is declared}
barn:
  channel: 11
  display: 0 to 9
  programs: {through: 0, great hall: 2}
  at rest: through
  inputs: 2
  outputs: 2
  acts only on: what is declared
doubler: {loop: 4, outputs: 2}
wye: {is: splitter}
joint: {is: mixer}
combo: {is: amplifier, effects loop: yes, relay: {number: 1, open: clean, closed: crunch}}
ash amplifier: {is: amplifier}
"""
EFFECTS = """
compression: squeezer
dirt: fuzz
choir: {many: choir}
repeats: echo
hall: {barn: great hall}
wide: doubler
crunch: {combo: crunch}
"""


class Wiring(NamedTuple):
    """A path, the effects of a scene, and every way of its signal."""

    path: str
    effects: str
    ways: list[str]


WIRINGS = {
    "in front of one amplifier": Wiring(
        "[[guitar, swell, squeezer, fuzz, echo, combo]]",
        "compression, repeats",
        ["guitar → swell (open) → squeezer → echo → combo (clean)"],
    ),
    "nothing in": Wiring(
        "[[guitar, squeezer, fuzz, echo, combo]]", "crunch", ["guitar → combo (crunch)"]
    ),
    "an effects loop": Wiring(
        "[[guitar, squeezer, combo], [combo send, echo, barn, combo return]]",
        "compression, hall, crunch",
        [
            "guitar → squeezer → preamplifier of combo (crunch) → barn (great hall) → "
            "power amplifier of combo"
        ],
    ),
    "an effects loop with nothing in it": Wiring(
        "[[guitar, squeezer, combo], [combo send, echo, combo return]]",
        "compression",
        ["guitar → squeezer → combo (clean)"],
    ),
    "four cables": Wiring(
        "[[guitar, fuzz, many], [many send, combo], [combo send, many return], "
        "[many, barn, combo return]]",
        "dirt, choir, hall",
        [
            "guitar → fuzz → many (choir) up to its send → preamplifier of combo (clean) → "
            "many from its return on → barn (great hall) → power amplifier of combo"
        ],
    ),
    "four cables, the box out": Wiring(
        "[[guitar, fuzz, many], [many send, combo], [combo send, many return], "
        "[many, combo return]]",
        "dirt",
        ["guitar → fuzz → combo (clean)"],
    ),
    "a stereo pair": Wiring(
        "[[guitar, squeezer, doubler], [doubler, barn], [doubler, barn], [barn, combo], "
        "[barn, ash amplifier]]",
        "wide",
        [
            "guitar → doubler → barn (through) → combo (clean)",
            "guitar → doubler → barn (through) → ash amplifier",
        ],
    ),
    "a Y cable": Wiring(
        "[[guitar, squeezer, wye], [wye, combo], [wye, echo, ash amplifier]]",
        "compression, repeats",
        ["guitar → squeezer → combo (clean)", "guitar → squeezer → echo → ash amplifier"],
    ),
    "side by side into one": Wiring(
        "[[guitar, wye], [wye, fuzz, joint], [wye, echo, joint], [joint, combo]]",
        "dirt",
        ["guitar → fuzz → combo (clean)", "guitar → combo (clean)"],
    ),
    "a send to another amplifier": Wiring(
        "[[guitar, combo], [combo send, barn, ash amplifier]]",
        "hall",
        ["guitar → combo (clean)", "guitar → preamplifier of combo (clean) → barn (great hall) → ash amplifier"],
    ),
}  # fmt: skip


@pytest.mark.parametrize("wiring", WIRINGS.values(), ids=WIRINGS)
def test_what_the_signal_comes_through(tmp_path: Path, wiring: Wiring) -> None:
    night = write_night(
        tmp_path,
        units=UNITS,
        effects=EFFECTS,
        scenes=f"Now: [{wiring.effects}]\nThen: {{effects: []}}",
        rig=f"path: {wiring.path}\nmidi:\n- [switcher, many, echo, barn]\n",
    )
    compiled = whole(night)
    found = find_scene(compiled, "Tune/Now")
    assert isinstance(found, Found)
    lines = [line.strip() for line in explain(compiled, found)]
    ways = [line.removeprefix("signal: ") for line in lines if line.startswith("signal: ")]
    assert sorted(ways) == sorted(wiring.ways)
    data = explain_json(compiled, found)["signal"]
    assert isinstance(data, list)
    names = [" → ".join(stop["unit"] for stop in way) for way in data]
    bare = [_names_only(way) for way in wiring.ways]
    assert sorted(names) == sorted(bare)


def _names_only(way: str) -> str:
    for words in (
        "preamplifier of ",
        "power amplifier of ",
        " up to its send",
        " from its return on",
    ):
        way = way.replace(words, "")
    return " → ".join(stop.partition(" (")[0] for stop in way.split(" → "))


def test_a_rig_without_a_path_says_nothing_of_it(tmp_path: Path) -> None:
    night = write_night(
        tmp_path,
        units="fuzz: {loop: 1}",
        effects="dirt: fuzz",
        scenes="Now: [dirt]",
        rig="path: []",
    )
    compiled = whole(night)
    found = find_scene(compiled, "Tune/Now")
    assert isinstance(found, Found)
    assert not [line for line in explain(compiled, found) if "signal" in line]
    assert [one.code for one in compiled.findings] == ["no-path"]


def test_a_signal_that_comes_nowhere_says_so(tmp_path: Path) -> None:
    night = write_night(
        tmp_path,
        units="fuzz: {loop: 1}\ncombo: {is: amplifier}",
        effects="dirt: fuzz",
        scenes="Now: [dirt]",
        rig="path: [[guitar, fuzz, combo]]",
    )
    compiled = whole(night, frozenset({"combo"}))
    found = find_scene(compiled, "Tune/Now")
    assert isinstance(found, Found)
    assert "  signal: it comes to no amplifier" in list(explain(compiled, found))
    assert [one.code for one in compiled.findings] == ["ends-in-no-amplifier"]
