"""A plug whose polarity is not that of the socket."""

from __future__ import annotations

from collections.abc import Iterator

from setwright.compiler.checks.check import POWER_CAUTION, Also, Check, Explained, Fault
from setwright.compiler.checks.common.supply import fed
from setwright.compiler.compiled import Compiled
from setwright.scenes.finding import Severity
from setwright.scenes.quantities import quoted

EXPLAINED = Explained(
    code="supply-polarity",
    severity=Severity.ERROR,
    brief="A plug whose polarity is not that of the socket.",
    finds="The plug of an output and the socket of a unit on it have different polarity: the "
    "centre is negative in the one and positive in the other. AC has no polarity.",
    hurts="Wrong polarity can destroy a box in the moment in which it is plugged in.",
    do="give it an output of its own that has the polarity on its label; never turn one box round "
    "on an output that it shares",
    example="""\
        squeezer:
          power: {draws: 12 mA, volts: 9 V, polarity: centre positive}
    """,
    caution=POWER_CAUTION,
    can_pass=False,
)


def run(compiled: Compiled) -> Iterator[Fault]:
    """Yield one fault for each unit on DC whose polarity its output does not have."""
    for one in fed(compiled):
        both_dc = one.power.current == one.supply.current == "dc"
        if both_dc and one.power.polarity != one.supply.polarity:
            yield Fault(
                one.path,
                f"{quoted(one.unit)} is {one.power.polarity}, and the plug of output "
                f"{quoted(one.output)}{one.also_through()} is {one.supply.polarity}",
                also=(
                    Also("its power", ("rig", "units", one.unit, "power"), at_key=True),
                    Also("the output", ("rig", "supply", one.output), at_key=True),
                ),
            )


CHECK = Check(EXPLAINED, run)
