"""A unit on the power supply of which it is not said what it draws."""

from __future__ import annotations

from collections.abc import Iterator

from setwright.compiler.checks.check import POWER_CAUTION, Check, Explained, Fault
from setwright.compiler.checks.common.supply import on_supply
from setwright.compiler.compiled import Compiled
from setwright.scenes.finding import Severity
from setwright.scenes.quantities import quoted

EXPLAINED = Explained(
    code="draw-not-said",
    severity=Severity.WARNING,
    brief="A unit on the power supply of which it is not said what it draws.",
    finds="An output of the power supply, or another unit, feeds a unit that has no power:. So "
    "nobody can tell whether the output gives enough for all that hangs on it, nor whether "
    "voltage, kind of current and polarity are right.",
    hurts="The output may be overloaded, and the box may get what destroys it.",
    do="write power: with what is printed on the box: {draws: 45 mA, volts: 9 V}",
    example="""\
        echo: {loop: 3}
        supply:
          one: {gives: 500 mA, volts: 9 V, feeds: [squeezer, wobbler, echo]}
    """,
    caution=POWER_CAUTION,
)


def run(compiled: Compiled) -> Iterator[Fault]:
    """Yield one fault for each cable to a unit that does not say what it draws."""
    for cable in on_supply(compiled.book.rig, compiled.lines.gone, amplifiers=False):
        from_there = f"from {quoted(cable.giver)} " if cable.giver else ""
        yield Fault(
            cable.path,
            f"{quoted(cable.unit)} gets its power {from_there}here, and it is not said what it "
            "draws",
        )


CHECK = Check(EXPLAINED, run)
