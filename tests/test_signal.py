"""The signal path as a graph: small rigs worked out by hand with pencil and paper."""

from __future__ import annotations

from typing import NamedTuple

import pytest
from ruamel.yaml import YAML

from setwright.compiler.signal.graph import Signal, signal_of
from setwright.scenes.rig import Rig

UNITS = """
swell: {is: volume, by foot: [closed, open]}
fuzz: {}
wobbler: {}
echo: {}
barn: {}
splitter: {is: splitter}
mixer: {is: mixer}
oak: {is: amplifier, effects loop: yes}
ash: {is: amplifier, effects loop: yes}
many: {effects loop: yes}
nylon: {is: guitar}
"""


def signal(path: str, gone: str = "", units: str = UNITS) -> Signal:
    """Return the signal's ways along ``path``, runs written one a line with > between names."""
    rows = [[name.strip() for name in run.split(">")] for run in path.strip().splitlines()]
    rig = Rig.model_validate({"units": _text(units), "path": rows})
    return signal_of(rig, frozenset(gone.split()))


def _text(units: str) -> object:
    """Return the units with every scalar left as text, as the reader of books leaves them."""
    yaml = YAML(typ="base", pure=True)
    return yaml.load(units)


class Way(NamedTuple):
    """A path, what lets nothing through, and the amplifiers that are still heard."""

    path: str
    heard: str
    blocked: str = ""
    gone: str = ""


CHAIN = "guitar > swell > fuzz > oak"
TWO = "guitar > swell > splitter\nsplitter > oak\nsplitter > echo > ash"
LOOP = "guitar > fuzz > oak\noak send > barn > oak return"
FOUR = "guitar > many\nmany send > oak\noak send > many return\nmany > oak return"
PAIR = "guitar > wobbler\nwobbler > echo\nwobbler > echo\necho > oak\necho > ash"
WET = "guitar > splitter\nsplitter > fuzz > mixer\nsplitter > echo > mixer\nmixer > oak"

WAYS = {
    "one chain": Way(CHAIN, "oak"),
    "a box in the chain lets nothing through": Way(CHAIN, "", blocked="swell"),
    "a box that is not in the path": Way(CHAIN, "oak", blocked="echo"),
    "the amplifier itself": Way(CHAIN, "", blocked="oak"),
    "a box that is gone is bridged": Way(CHAIN, "oak", gone="fuzz"),
    "and does not block": Way(CHAIN, "oak", blocked="fuzz", gone="fuzz"),
    "an amplifier that is gone": Way(CHAIN, "", gone="oak"),
    "two amplifiers": Way(TWO, "oak ash"),
    "one of two branches": Way(TWO, "oak", blocked="echo"),
    "before the split": Way(TWO, "", blocked="swell"),
    "one of two amplifiers gone": Way(TWO, "ash", gone="oak"),
    "a split within a run": Way("guitar > splitter > oak\nsplitter > ash", "oak ash"),
    "an effects loop": Way(LOOP, "oak"),
    "a box in the effects loop": Way(LOOP, "", blocked="barn"),
    "a box in it that is gone": Way(LOOP, "oak", gone="barn"),
    "in front of an effects loop": Way(LOOP, "", blocked="fuzz"),
    "a send that feeds the other amplifier": Way("guitar > oak\noak send > barn > ash", "oak ash"),
    "its preamplifier is gone": Way("guitar > oak\noak send > barn > ash", "", gone="oak"),
    "its power amplifier is gone": Way("guitar > fuzz > oak return", "", gone="oak"),
    "nothing comes back from there": Way("guitar > oak\noak send > barn > ash", "oak", "barn"),
    "the other's preamplifier": Way("guitar > oak\noak send > ash return", "ash oak"),
    "into the return alone": Way("guitar > fuzz > oak return", "oak"),
    "a return that nothing feeds": Way("guitar > oak\nbarn > oak return", ""),
    "sides of one unit in a row": Way("guitar > oak > oak send > barn > oak return > oak", "oak"),
    "four cables": Way(FOUR, "oak"),
    "four cables, the box lets nothing through": Way(FOUR, "", blocked="many"),
    "four cables without the box": Way(FOUR, "oak", gone="many"),
    "a stereo pair": Way(PAIR, "oak ash"),
    "a joint": Way(WET, "oak", blocked="echo"),
    "both ways into a joint": Way(WET, "", blocked="echo fuzz"),
    "the joint itself": Way(WET, "", blocked="mixer"),
    "two guitars": Way("guitar > fuzz > oak\nnylon > ash", "oak ash"),
    "one guitar left at home": Way("guitar > fuzz > oak\nnylon > ash", "oak", gone="nylon"),
    "no guitar": Way("fuzz > oak", ""),
    "a circle": Way("guitar > fuzz > wobbler > fuzz\nwobbler > oak", "oak"),
}


@pytest.mark.parametrize("way", WAYS.values(), ids=WAYS)
def test_amplifiers_that_are_heard(way: Way) -> None:
    ways = signal(way.path, way.gone)
    assert ways.known
    assert ways.amplifiers_reached(way.blocked.split()) == set(way.heard.split())


@pytest.mark.parametrize("path", [None, [], [[]], [["guitar", "oak"]]])
def test_without_a_path_or_with_a_slip_in_it_nothing_is_known(path: list[list[str]] | None) -> None:
    written = {} if path is None else {"path": path}
    ways = signal_of(Rig.model_validate({"units": _text(UNITS), **written}), broken=bool(path))
    assert not ways.known
    assert ways.amplifiers_reached() == set()
    assert ways.chains() == []


CHAINS = {
    CHAIN: ["guitar > swell > fuzz > oak"],
    TWO: ["guitar > swell > splitter > oak", "guitar > swell > splitter > echo > ash"],
    LOOP: ["guitar > fuzz > oak in > oak send > barn > oak return > oak"],
    FOUR: [
        "guitar > many in > many send > oak in > oak send > many return > many > "
        "oak return > oak"
    ],
    PAIR: ["guitar > wobbler > echo > oak", "guitar > wobbler > echo > ash"],
    WET: [
        "guitar > splitter > fuzz > mixer > oak",
        "guitar > splitter > echo > mixer > oak",
    ],
}  # fmt: skip


@pytest.mark.parametrize("path", CHAINS)
def test_every_way_to_a_loudspeaker(path: str) -> None:
    ways = signal(path)
    shown = []
    for chain in ways.chains():
        names = [
            node.unit if node.side == "out" else f"{node.unit} {node.side}"
            for node in chain
            if node.side != "in" or ways.has_loop_in_use(node.unit)
        ]
        shown.append(" > ".join(names))
    assert sorted(shown) == sorted(CHAINS[path])


def test_ways_are_counted_only_as_far_as_anybody_reads() -> None:
    rows = ["guitar > s0"]
    units = "oak: {is: amplifier}\n"
    for n in range(8):
        rows += [f"s{n} > a{n} > s{n + 1}", f"s{n} > b{n} > s{n + 1}"]
        units += f"s{n}: {{is: splitter}}\na{n}: {{}}\nb{n}: {{}}\n"
    rows.append("s8 > oak")
    units += "s8: {is: mixer}\n"
    ways = signal("\n".join(rows), units=units)
    assert len(ways.chains()) == 64
    assert ways.amplifiers_reached() == {"oak"}
