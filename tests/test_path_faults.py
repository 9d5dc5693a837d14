"""What is wrong with a path: small graphs worked by hand, and the demo broken in many ways."""

from __future__ import annotations

import shutil
from collections.abc import Iterator
from pathlib import Path
from typing import NamedTuple

import pytest

from setwright.compiler.pipeline import compile_night
from setwright.compiler.signal.faults import PathFaults, faults_of
from setwright.compiler.signal.graph import Signal
from setwright.compiler.signal.order import OutOfOrder, out_of_order
from setwright.scenes.finding import Severity, render
from tests.conftest import DEMO
from tests.corpus import underlined
from tests.test_signal import FOUR, LOOP, PAIR, TWO, WET, signal

ASKED = {"fuzz", "wobbler", "echo", "barn"}
UNITS = """
swell: {is: volume}
fuzz: {}
wobbler: {outputs: 2}
echo: {inputs: 2, outputs: 2}
barn: {}
splitter: {is: splitter}
mixer: {is: mixer}
oak: {is: amplifier, effects loop: yes}
ash: {is: amplifier, effects loop: yes}
many: {effects loop: yes}
nylon: {is: guitar}
keys: {is: sender}
tuner: {}
small: {is: amplifier}
"""


class Case(NamedTuple):
    """A path, and what is wrong with it: kind, unit, and row.place of the word, both from 0."""

    path: str
    found: str = ""
    gone: str = ""


CASES = {
    "one chain": Case("guitar > swell > fuzz > oak"),
    "two amplifiers": Case(TWO),
    "an effects loop": Case(LOOP),
    "four cables": Case(FOUR),
    "a stereo pair": Case(PAIR),
    "side by side": Case(WET),
    "two guitars": Case("guitar > fuzz > oak\nnylon > ash"),
    "a keyboard": Case("guitar > fuzz > oak\nkeys > ash"),
    "a splitter in the midst of a run": Case("guitar > splitter > oak\nsplitter > ash"),
    "straight into a power amplifier": Case("guitar > fuzz > oak return"),
    "an amplifier's line on to another": Case("guitar > oak > ash"),
    "a tuner beside the way": Case(
        "guitar > splitter > oak\nsplitter > tuner", "note tuner 1.1"
    ),
    "no guitar": Case("swell > fuzz > oak", "nowhere swell 0.0"),
    "a guitar that is not called one": Case("guitar > fuzz > oak\ntuner > ash", "nowhere tuner 1.0"),
    "no amplifier": Case("guitar > fuzz", "end fuzz 0.1"),
    "nothing but a guitar": Case("guitar", "end guitar 0.0"),
    "one name alone adds nothing": Case("guitar > oak\noak"),
    "a branch without an amplifier": Case(
        "guitar > splitter > oak\nsplitter > echo", "end echo 1.1"
    ),
    "cut in two": Case("guitar > fuzz\nwobbler > oak", "nowhere wobbler 1.0 after fuzz"),
    "a send of an amplifier that nothing feeds": Case(
        "guitar > ash\noak send > echo > oak return", "nowhere oak 1.0"
    ),
    "from return to send": Case(
        "guitar > oak\noak return > barn > oak send", "nowhere oak 1.0"
    ),
    "into a send": Case("guitar > fuzz > oak\nash send > oak send", "end oak 1.1"),
    "no effects loop": Case(
        "guitar > fuzz > small\nsmall send > barn > small return", "undeclared small 1.0"
    ),
    "twice in a run": Case("guitar > fuzz > wobbler > fuzz > oak", "twice fuzz 0.3"),
    "twice in a row": Case("guitar > fuzz > fuzz > oak", "twice fuzz 0.2"),
    "in the midst of two runs": Case(
        "guitar > splitter > fuzz > oak\nsplitter > fuzz > ash", "twice fuzz 1.1"
    ),
    "one output, two cables": Case("guitar > fuzz > oak\nfuzz > ash", "output fuzz 1.0"),
    "two outputs, three cables": Case(
        "guitar > wobbler > oak\nwobbler > ash\nwobbler > tuner > ash", "output wobbler 2.0"
    ),
    "a guitar with two cables": Case("guitar > oak\nguitar > ash", "output guitar 1.0"),
    "a send with two cables": Case(
        "guitar > oak\noak send > fuzz > oak return\noak send > ash", "output oak 2.0"
    ),
    "one input, two cables": Case(
        "guitar > splitter\nsplitter > wobbler > fuzz\nsplitter > fuzz\nfuzz > oak",
        "input fuzz 2.1",
    ),
    "two inputs, three cables": Case(
        "guitar > splitter\nsplitter > fuzz > echo\nsplitter > barn > echo\n"
        "splitter > swell > echo\necho > oak",
        "input echo 3.2",
    ),
    "one cable written twice": Case("guitar > fuzz\nfuzz > barn\nfuzz > barn\nbarn > oak",
                                    "output fuzz 2.0"),
    "a circle": Case("guitar > fuzz > wobbler\nwobbler > fuzz", "circle fuzz 1.1"),
    "a circle that is meant": Case(
        "guitar > mixer > fuzz > splitter > oak\nsplitter > mixer", "circle mixer 1.1"
    ),
    "a gone box is bridged": Case(TWO, gone="echo"),
    "a gone splitter": Case(TWO, "output splitter 1.0", gone="splitter"),
    "a gone splitter with one way on": Case("guitar > splitter > oak", gone="splitter"),
    "a gone splitter behind another": Case(
        "guitar > splitter > oak\nsplitter > mixer\nmixer > ash", gone="mixer"
    ),
    "a gone mixer": Case(
        "guitar > splitter\nsplitter > fuzz > mixer\nsplitter > echo > mixer\nmixer > barn > oak",
        "input mixer 1.2",
        gone="mixer",
    ),
    "a gone mixer before an amplifier": Case(WET, gone="mixer"),
    "the only amplifier is gone": Case("guitar > fuzz > oak", "gone oak 0.2", gone="oak"),
    "both amplifiers are gone": Case(TWO, "gone oak 1.1", gone="oak ash"),
    "one amplifier gone, nothing lost": Case(TWO, gone="oak"),
    "one amplifier gone, and the echo with it": Case(TWO, "gone ash 2.2", gone="ash"),
    "one amplifier gone, and what is in its loop": Case(
        "guitar > splitter > oak\nsplitter > ash\nash send > barn > ash return",
        "gone ash 1.1",
        gone="ash",
    ),
}  # fmt: skip


def shown(found: PathFaults) -> Iterator[str]:
    """Yield each fault as the table writes it, units that are in no run left aside."""
    for one in found.undeclared:
        yield f"undeclared {one.unit} {one.words[0].row}.{one.words[0].at}"
    for two in found.twice:
        yield f"twice {two.word.unit} {two.word.row}.{two.word.at}"
    for circle in found.circles:
        yield f"circle {circle.word.unit} {circle.word.row}.{circle.word.at}"
    for crowd in found.crowded:
        kind = "output" if crowd.is_output else "input"
        yield f"{kind} {crowd.word.unit} {crowd.word.row}.{crowd.word.at}"
    for start in found.nowhere:
        after = "".join(f" after {word.unit}" for word in start.ends)
        yield f"nowhere {start.word.unit} {start.word.row}.{start.word.at}{after}"
    for end in found.ends:
        kind = "gone" if end.gone else "end" if end.serious else "note"
        yield f"{kind} {end.word.unit} {end.word.row}.{end.word.at}"


@pytest.mark.parametrize("case", CASES.values(), ids=CASES)
def test_one_slip_is_one_fault(case: Case) -> None:
    ways = signal(case.path, case.gone, units=UNITS)
    assert list(shown(faults_of(ways, ASKED))) == ([case.found] if case.found else [])


MISSING = [
    ("guitar > fuzz > oak", "wobbler echo barn ash small", ""),
    ("guitar > fuzz > wobbler > echo > barn > oak > ash > small", "",
     "swell splitter mixer many tuner"),
    # What is missing may only follow from a run that is cut.
    ("fuzz > oak", "", ""),
    ("guitar > fuzz > fuzz > oak", "", ""),
    # A tuner beside the way is no cut.
    ("guitar > splitter > oak > ash > small\nsplitter > tuner", "fuzz wobbler echo barn", ""),
]  # fmt: skip


@pytest.mark.parametrize(("path", "missing", "spare"), MISSING)
def test_units_in_no_run(path: str, missing: str, spare: str) -> None:
    found = faults_of(signal(path, units=UNITS), ASKED)
    assert found.missing == tuple(missing.split())
    assert found.spare == tuple(spare.split())


def test_a_unit_that_is_not_there_is_not_missed() -> None:
    found = faults_of(signal("guitar > fuzz > oak", "echo barn ash", units=UNITS), ASKED)
    assert found.missing == ("wobbler", "small")


class Order(NamedTuple):
    """A path through numbered loops, and where it contradicts their order."""

    path: str
    found: str = ""
    volume_after: int | None = None


LOOPS = {"fuzz": 1, "wobbler": 2, "echo": 3, "barn": 4}
ORDERS = [
    Order("guitar > fuzz > wobbler > echo > barn > oak"),
    Order("guitar > fuzz > tuner > echo > oak"),
    Order("guitar > wobbler > fuzz > echo > oak", "fuzz after wobbler"),
    Order("guitar > wobbler > tuner > fuzz > oak", "fuzz after wobbler"),
    Order("guitar > barn > fuzz > wobbler > echo > oak", "fuzz after barn"),
    Order("guitar > wobbler > echo > barn > fuzz > oak", "fuzz after barn"),
    Order("guitar > splitter > echo > oak\nsplitter > fuzz > ash"),
    Order("guitar > echo > splitter > barn > oak\nsplitter > fuzz > ash", "fuzz after echo"),
    # In front of a preamplifier and in its effects loop: either way round.
    Order("guitar > fuzz > wobbler > oak\noak send > echo > barn > oak return"),
    Order("guitar > echo > barn > oak\noak send > fuzz > wobbler > oak return"),
    Order("guitar > fuzz > echo > oak\noak send > wobbler > barn > oak return",
          "wobbler after echo"),
    Order("guitar > wobbler > oak\noak send > fuzz > echo > oak return", "fuzz after wobbler"),
    Order("guitar > wobbler > oak\noak send > barn > echo > oak return", "echo after barn"),
    Order("guitar > fuzz > swell > wobbler > oak"),
    Order("guitar > fuzz > swell > wobbler > oak", volume_after=1),
    Order("guitar > fuzz > swell > barn > oak", volume_after=3),
    Order("guitar > fuzz > swell > wobbler > oak", "swell", 2),
    Order("guitar > wobbler > swell > echo > oak", "swell", 1),
    Order("guitar > swell > wobbler > echo > oak", volume_after=2),
    Order("guitar > wobbler > echo > swell > oak", volume_after=1),
    Order("guitar > fuzz > oak\noak send > swell > barn > oak return", volume_after=0),
]  # fmt: skip


@pytest.mark.parametrize("order", ORDERS)
def test_the_order_of_loops(order: Order) -> None:
    ways: Signal = signal(order.path, units=UNITS)
    found = [
        f"{one.word.unit} after {one.before.unit}" if isinstance(one, OutOfOrder) else one.word.unit
        for one in out_of_order(ways, LOOPS, order.volume_after)
    ]
    assert found == ([order.found] if order.found else [])


# The demo with one line changed: what is found, and at which text.

FIRST = "[guitar, swell, fuzz, wobbler, booster, squeezer, barn, splitter]"
PATH = f"path:\n  - {FIRST}\n  - [splitter, oak amplifier]\n  - [splitter, echo, ash amplifier]\n"
OAK = "    is: amplifier\n    relay: {number: 1, open: clean, closed: crunch}\n"

BROKEN = [
    (PATH, "", "no-path", "general"),
    (f"  - {FIRST}\n", "", "starts-from-nowhere", "splitter"),
    ("  - [splitter, oak amplifier]\n", "", "not-in-path", "oak amplifier"),
    ("  - [splitter, echo, ash amplifier]\n", "", "not-in-path", "echo"),
    ("[splitter, oak amplifier]", "[splitter]", "not-in-path", "oak amplifier"),
    ("echo, ash amplifier]", "echo]", "ends-in-no-amplifier", "echo"),
    ("[splitter, echo, ash", "[echo, ash", "starts-from-nowhere", "echo"),
    ("[splitter, echo, ash", "[barn, echo, ash", "one-output-two-cables", "barn"),
    ("barn, splitter]", "barn]", "starts-from-nowhere", "splitter"),
    ("[guitar, swell", "[swell", "starts-from-nowhere", "swell"),
    ("swell, fuzz,", "fuzz,", "not-in-path", "swell"),
    ("swell, fuzz,", "swell,", "not-in-path", "fuzz"),
    ("fuzz, wobbler,", "fuzz,", "not-in-path", "wobbler"),
    ("wobbler, booster,", "wobbler,", "not-in-path", "booster"),
    ("booster, squeezer,", "booster,", "not-in-path", "squeezer"),
    ("squeezer, barn,", "squeezer,", "not-in-path", "barn"),
    ("splitter, echo, ash", "splitter, ash", "not-in-path", "echo"),
    ("  ash amplifier: {is: amplifier}\n", "", "unknown-unit", "ash amplifier"),
    ("  oak amplifier:\n" + OAK, "", "unknown-unit", "oak amplifier"),
    ("  ash amplifier: {is: amplifier}", "  ash amplifier: {}", "ends-in-no-amplifier",
     "ash amplifier"),
    ("  oak amplifier:\n    is: amplifier\n", "  oak amplifier:\n", "ends-in-no-amplifier",
     "oak amplifier"),
    ("  splitter: {is: splitter}\n", "", "unknown-unit", "splitter"),
    ("  splitter: {is: splitter}", "  splitter: {}", "one-output-two-cables", "splitter"),
    ("    loop: 1\n", "", "nothing-switches-it", "fuzz"),
    ("    loop: 2\n", "", "never-silent", "wobbler"),
    ("    loop: 3\n", "", "nothing-switches-it", "booster"),
    ("    loop: 4\n", "", "nothing-switches-it", "squeezer"),
    ("    loop: 6\n", "", "never-silent", "barn"),
    ("    switched by: {cc: 28, on: 127, off: 0}\n", "", "nothing-switches-it", "echo"),
    ("crunch: {oak amplifier: crunch}", "crunch: oak amplifier", "nothing-switches-it",
     "oak amplifier"),
    ("boost: booster", "boost: {}", "made-of-nothing", "boost"),
    ("fuzz, wobbler, booster", "wobbler, fuzz, booster", "against-loop-order", "fuzz"),
    ("swell, fuzz, wobbler", "fuzz, swell, wobbler", "against-loop-order", "swell"),
    ("squeezer, barn,", "squeezer, fuzz, barn,", "twice-in-path", "fuzz"),
    ("[splitter, oak amplifier]", "[splitter, wobbler]", "signal-in-circle", "wobbler"),
    ("ash amplifier]", "ash amplifier]\n  - [ash amplifier send, ash amplifier return]",
     "no-effects-loop", "ash amplifier send"),
    ("loop: 3", "loop: 4", "loop-twice", "4"),
]  # fmt: skip


@pytest.mark.parametrize(("old", "new", "code", "at"), BROKEN)
def test_the_demo_with_one_thing_wrong(
    tmp_path: Path, old: str, new: str, code: str, at: str
) -> None:
    for path in DEMO.iterdir():
        shutil.copy(path, tmp_path)
    rig = tmp_path / "granary.yaml"
    text = rig.read_text(encoding="utf-8")
    assert old in text
    rig.write_text(text.replace(old, new, 1), encoding="utf-8")
    found = compile_night(tmp_path / "granary-night.yaml").findings
    assert [(one.code, underlined(one)) for one in found] == [(code, at)], "\n".join(
        map(render, found)
    )


GONE = [
    ("granary", "swell", [("foot-without-unit", "swell")]),
    ("granary", "splitter", [("one-output-two-cables", "splitter")]),
    ("parlour", "small combo", [("ends-in-no-amplifier", "small combo")]),
]


@pytest.mark.parametrize(("night", "gone", "codes"), GONE)
def test_the_demo_without_a_unit(night: str, gone: str, codes: list[tuple[str, str]]) -> None:
    found = compile_night(DEMO / f"{night}-night.yaml", frozenset({gone})).findings
    assert [(one.code, underlined(one)) for one in found] == codes


@pytest.mark.parametrize("gone", ["oak amplifier", "ash amplifier"])
def test_the_demo_with_one_amplifier(gone: str) -> None:
    """Only the ash amplifier has something of its own: the echo stands before it alone."""
    found = compile_night(DEMO / "granary-night.yaml", frozenset({gone})).findings
    of_path = [one for one in found if one.code != "song-suffers"]
    lost = [("ends-in-no-amplifier", "ash amplifier", Severity.WARNING)]
    assert [(one.code, underlined(one), one.severity) for one in of_path] == (
        lost if gone == "ash amplifier" else []
    )
    if of_path:
        assert of_path[0].message == "without ‘ash amplifier’, ‘echo’ cannot be heard"
