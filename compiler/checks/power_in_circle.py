"""Units that pass their power on in a circle."""

from __future__ import annotations

from collections.abc import Iterator

from setwright.compiler.checks.check import POWER_CAUTION, Check, Explained, Fault
from setwright.compiler.checks.common.supply import circles
from setwright.compiler.compiled import Compiled
from setwright.scenes.finding import Severity
from setwright.scenes.quantities import quoted

EXPLAINED = Explained(
    code="power-in-circle",
    severity=Severity.ERROR,
    brief="Units that pass their power on in a circle.",
    finds="Units pass their power on to one another in a circle, so that none of them is fed from"
    " anywhere.",
    hurts="A circle of boxes has no power, or was typed wrongly and hides how they are really fed.",
    do="write how the boxes are really fed: from an output of the supply, and from there on",
    example="""\
        wobbler:
          power: {draws: 180 mA, volts: 9 V, passes on to: squeezer}
        squeezer:
          power: {draws: 12 mA, volts: 9 V, passes on to: wobbler}
    """,
    caution=POWER_CAUTION,
)


def run(compiled: Compiled) -> Iterator[Fault]:
    """Yield one fault for each circle, at the cable that closes it."""
    for name, path in circles(compiled.book.rig, compiled.lines.gone):
        yield Fault(path, f"the power of {quoted(name)} comes back to it from here")


CHECK = Check(EXPLAINED, run)
