"""An output of the power supply that gives less than its units draw."""

from __future__ import annotations

from collections.abc import Iterator
from fractions import Fraction

from setwright.compiler.checks.check import POWER_CAUTION, Also, Check, Explained, Fault
from setwright.compiler.checks.common.supply import Fed, fed
from setwright.compiler.compiled import Compiled
from setwright.scenes.finding import Severity
from setwright.scenes.quantities import plain_number, quoted

EXPLAINED = Explained(
    code="supply-overloaded",
    severity=Severity.ERROR,
    brief="An output of the power supply that gives less than its units draw.",
    finds="The units on one output of the power supply, with those that get their power through "
    "another unit, draw more current than the output gives.",
    hurts="The voltage sags and the boxes hum, reset or fall silent in the middle of a song; the "
    "supply gets hot.",
    do="spread the units over more outputs, or use one that gives more",
    example="""\
        one: {gives: 200 mA, volts: 9 V, feeds: [squeezer, wobbler]}
    """,
    caution=POWER_CAUTION,
)


def run(compiled: Compiled) -> Iterator[Fault]:
    """Yield one fault for each output on which the draws come to more than it gives."""
    on: dict[str, list[Fed]] = {}
    for one in fed(compiled):
        on.setdefault(one.output, []).append(one)
    for output, units in on.items():
        draws = sum((one.power.draws for one in units), Fraction(0))
        gives = units[0].supply.gives
        if draws > gives:
            yield Fault(
                ("rig", "supply", output, "gives"),
                f"output {quoted(output)} gives {plain_number(gives)} mA, and what hangs on it "
                f"draws {plain_number(draws)} mA: "
                + ", ".join(f"{one.unit} {plain_number(one.power.draws)}" for one in units),
                also=tuple(
                    Also(f"{one.unit} draws", ("rig", "units", one.unit, "power", "draws"))
                    for one in units[:6]
                ),
            )


CHECK = Check(EXPLAINED, run)
