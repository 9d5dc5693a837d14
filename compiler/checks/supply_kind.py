"""A unit that wants AC and gets DC, or the other way round."""

from __future__ import annotations

from collections.abc import Iterator

from setwright.compiler.checks.check import POWER_CAUTION, Also, Check, Explained, Fault
from setwright.compiler.checks.common.supply import fed
from setwright.compiler.compiled import Compiled
from setwright.scenes.finding import Severity
from setwright.scenes.quantities import quoted

EXPLAINED = Explained(
    code="supply-kind",
    severity=Severity.ERROR,
    brief="A unit that wants AC and gets DC, or the other way round.",
    finds="An output gives alternating current to a unit that wants direct current, or direct "
    "current where alternating is wanted.",
    hurts="AC destroys a box that is made for DC; DC leaves one that is made for AC dead, or hot.",
    do="feed it from an output of the kind on its label",
    example="""\
        three: {gives: 500 mA, volts: 9 V, current: ac, feeds: squeezer}
    """,
    caution=POWER_CAUTION,
    can_pass=False,
)


def run(compiled: Compiled) -> Iterator[Fault]:
    """Yield one fault for each unit whose kind of current its output does not give."""
    for one in fed(compiled):
        if one.power.current != one.supply.current:
            wants, gives = one.power.current.upper(), one.supply.current.upper()
            yield Fault(
                one.path,
                f"{quoted(one.unit)} wants {wants}, and output {quoted(one.output)}"
                f"{one.also_through()} gives {gives}",
                also=(
                    Also("its power", ("rig", "units", one.unit, "power"), at_key=True),
                    Also("the output", ("rig", "supply", one.output), at_key=True),
                ),
            )


CHECK = Check(EXPLAINED, run)
