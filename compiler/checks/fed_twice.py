"""A unit with power from two sides."""

from __future__ import annotations

from collections.abc import Iterator

from setwright.compiler.checks.check import POWER_CAUTION, Also, Check, Explained, Fault
from setwright.compiler.checks.common.supply import cables, circles
from setwright.compiler.compiled import Compiled
from setwright.scenes.finding import Severity
from setwright.scenes.places import KeyPath
from setwright.scenes.quantities import quoted

EXPLAINED = Explained(
    code="fed-twice",
    severity=Severity.ERROR,
    brief="A unit with power from two sides.",
    finds="A unit gets its power twice: from two outputs of the supply, from an output and from "
    "another unit that passes its power on, or from one of these beside a power of its own.",
    hurts="Two supplies feed into one another through the box, which can destroy both; and their "
    "earths joined in this way hum.",
    do="leave only one of the two cables",
    example="""\
        one: {gives: 300 mA, volts: 9 V, feeds: squeezer}
        two: {gives: 300 mA, volts: 9 V, feeds: [wobbler, squeezer]}
    """,
    caution=POWER_CAUTION,
)


def run(compiled: Compiled) -> Iterator[Fault]:
    """Yield one fault for each cable that brings a unit power a second time."""
    rig, gone = compiled.book.rig, compiled.lines.gone
    first: dict[str, KeyPath] = {
        name: ("rig", "units", name, "own power")
        for name, unit in rig.units.items()
        if unit.own_power and not (unit.is_ == "amplifier" and unit.power is None)
    }
    closing = {path for _, path in circles(rig, gone)}
    for name, path, _ in cables(rig, gone):
        if path in closing:
            continue
        if name in first:
            yield Fault(
                path,
                f"{quoted(name)} has power already, and gets it here once more",
                also=(Also("the first time", first[name]),),
            )
        else:
            first[name] = path


CHECK = Check(EXPLAINED, run)
