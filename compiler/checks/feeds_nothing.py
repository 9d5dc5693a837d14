"""An output of the power supply that feeds nothing."""

from __future__ import annotations

from collections.abc import Iterator

from setwright.compiler.checks.check import POWER_CAUTION, Check, Explained, Fault
from setwright.compiler.checks.common.supply import not_fed, unused
from setwright.compiler.compiled import Compiled
from setwright.scenes.finding import Severity
from setwright.scenes.quantities import quoted

EXPLAINED = Explained(
    code="feeds-nothing",
    severity=Severity.NOTE,
    brief="An output of the power supply that feeds nothing.",
    finds="An output of the power supply says what it gives, and not what hangs on it.",
    hurts="A unit that hangs on it is left out of everything that is reckoned: draw, voltage, kind "
    "of current and polarity.",
    do="write feeds: with what hangs on it; for a spare output write feeds: []",
    example="""\
        two: {gives: 100 mA, volts: 9 V}
    """,
    caution=POWER_CAUTION,
)


def run(compiled: Compiled) -> Iterator[Fault]:
    """Yield one fault for each output that feeds nothing, unless a unit is known to lack it."""
    book = compiled.book
    if not not_fed(book.rig, compiled.lines.gone):
        for name in unused(book):
            yield Fault(
                ("rig", "supply", name), f"output {quoted(name)} feeds nothing", at_key=True
            )


CHECK = Check(EXPLAINED, run)
