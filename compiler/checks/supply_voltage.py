"""A unit that gets a voltage it is not made for."""

from __future__ import annotations

from collections.abc import Iterator

from setwright.compiler.checks.check import POWER_CAUTION, Also, Check, Explained, Fault
from setwright.compiler.compiled import Compiled
from setwright.compiler.supply import fed
from setwright.scenes.finding import Severity
from setwright.scenes.quantities import Span, quoted

EXPLAINED = Explained(
    code="supply-voltage",
    severity=Severity.ERROR,
    brief="A unit that gets a voltage it is not made for.",
    finds="An output of the power supply gives no voltage that a unit on it takes, or, where it "
    "can be set and feeds several units, none that suits them all.",
    hurts="Too much voltage can destroy a box at once; too little makes it hum, or play thin and "
    "late.",
    do="feed it from an output with the voltage on its label",
    example="""\
        two: {gives: 300 mA, volts: 18 V, feeds: wobbler}
    """,
    caution=POWER_CAUTION,
)


def run(compiled: Compiled) -> Iterator[Fault]:
    """Yield one fault for each unit for which its output has no voltage."""
    left: dict[str, Span] = {}
    for one in fed(compiled):
        offered = left.get(one.output, one.supply.volts)
        low = max(offered.low, one.power.volts.low)
        high = min(offered.high, one.power.volts.high)
        if low <= high:
            left[one.output] = Span(low, high, offered.unit)
            continue
        others = "" if offered == one.supply.volts else ", with the other units on it,"
        yield Fault(
            one.path,
            f"{quoted(one.unit)} wants {voltage(one.power.volts)}, and output "
            f"{quoted(one.output)}{others}{one.also_through()} gives {voltage(offered)}",
            also=(
                Also("what it wants", ("rig", "units", one.unit, "power", "volts")),
                Also("what the output gives", ("rig", "supply", one.output, "volts")),
            ),
        )


def voltage(span: Span) -> str:
    """Return a voltage in words: one number where it is no range."""
    text = str(span)
    return text if span.low != span.high else text.partition(" to ")[2]


CHECK = Check(EXPLAINED, run)
