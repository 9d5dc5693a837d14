"""A unit that gets a voltage it is not made for."""

from __future__ import annotations

from collections.abc import Iterator
from fractions import Fraction

from setwright.compiler.checks.check import POWER_CAUTION, Also, Check, Explained, Fault
from setwright.compiler.checks.common.supply import Fed, fed
from setwright.compiler.compiled import Compiled
from setwright.scenes.finding import Severity
from setwright.scenes.quantities import Amount, Span, quoted

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
    can_pass=False,
)


def run(compiled: Compiled) -> Iterator[Fault]:
    """Yield one fault for each unit for which its output has no voltage."""
    on: dict[str, list[Fed]] = {}
    for one in fed(compiled):
        on.setdefault(one.output, []).append(one)
    for units in on.values():
        given = units[0].supply.volts
        possible = [common for one in units if (common := _common(given, one.power.volts))]
        most = _suits_most(given, possible)
        for one in units:
            if _common(most, one.power.volts) is None:
                alone = _common(given, one.power.volts) is None
                yield _fault(one, given if alone else most, alone=alone)


def _suits_most(given: Span, wanted: list[Span]) -> Span:
    """Return the voltages within ``given`` that suit the most units, so that few are at fault.

    What suits most begins at the lower end of what some unit takes; of equals, the first.
    """

    def suited(low: Fraction) -> list[Span]:
        return [span for span in wanted if span.low <= low <= span.high]

    best = max((suited(span.low) for span in wanted), key=len, default=[])
    low = max((span.low for span in best), default=given.low)
    high = min((span.high for span in best), default=given.high)
    return Span(low, high, given.unit)


def _common(one: Span, other: Span) -> Span | None:
    low, high = max(one.low, other.low), min(one.high, other.high)
    return Span(low, high, one.unit) if low <= high else None


def _fault(one: Fed, offered: Span, *, alone: bool) -> Fault:
    others = "" if alone else ", with the other units on it,"
    return Fault(
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
    return str(Amount(span.high, span.unit)) if span.low == span.high else str(span)


CHECK = Check(EXPLAINED, run)
