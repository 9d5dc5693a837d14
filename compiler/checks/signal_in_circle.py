"""A cable that brings the signal back to where it has been."""

from __future__ import annotations

from collections.abc import Iterator

from setwright.compiler.checks.check import Check, Explained, Fault
from setwright.compiler.checks.common.ways import the_unit
from setwright.compiler.compiled import Compiled
from setwright.scenes.finding import Severity
from setwright.scenes.quantities import quoted

EXPLAINED = Explained(
    code="signal-in-circle",
    severity=Severity.WARNING,
    brief="A cable that brings the signal back to where it has been.",
    finds="The runs of the path lead from a unit back to itself.",
    hurts="What goes round in a circle grows louder until it howls, which can hurt ears and "
    "loudspeakers; or the run that leads on is missing.",
    do="lead this cable to the unit that comes next; turn the amplifier down before you plug "
    "anything in",
    example="""\
        path:
          - [guitar, squeezer, wobbler]
          - [wobbler, echo, squeezer]
    """,
)


def run(compiled: Compiled) -> Iterator[Fault]:
    """Yield one fault for each cable that closes a circle."""
    for one in compiled.path_faults.circles:
        way = " → ".join((*one.units, one.word.unit))
        yield Fault(
            one.word.path,
            f"here the signal comes back to {quoted(one.word.said)}, and goes round: {way}",
            also=the_unit(compiled, one.word.unit),
        )


CHECK = Check(EXPLAINED, run)
