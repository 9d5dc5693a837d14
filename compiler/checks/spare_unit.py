"""A box that nothing asks for and that is connected to nothing."""

from __future__ import annotations

from collections.abc import Iterator

from setwright.compiler.checks.check import Check, Explained, Fault
from setwright.compiler.checks.common.unreached import unreached
from setwright.compiler.compiled import Compiled
from setwright.scenes.finding import Severity
from setwright.scenes.quantities import quoted

EXPLAINED = Explained(
    code="spare-unit",
    severity=Severity.NOTE,
    brief="A box that nothing asks for, and that is not connected.",
    finds="No effect is made with a unit and no foot moves it; and it stands in no run of the "
    "path, or has a channel and no cable that brings it MIDI.",
    hurts="Nothing, if it is a spare. If it should be heard, something is missing.",
    do="nothing if it is a spare; otherwise write it into path: and midi:, and what it is for "
    "under effects:",
    example="""\
        units:
          old echo: {loop: 3}
        path:
          - [guitar, squeezer, wobbler, echo, combo]
    """,
)


def run(compiled: Compiled) -> Iterator[Fault]:
    """Yield one fault for each spare unit."""
    listeners = unreached(compiled) - compiled.asked
    for name in compiled.book.rig.units:
        lacks = []
        if name in compiled.path_faults.spare:
            lacks.append("it stands in no run of the path")
        if name in listeners:
            lacks.append("no cable brings it MIDI")
        if lacks:
            yield Fault(
                ("rig", "units", name),
                f"no effect asks for {quoted(name)}, and {' and '.join(lacks)}",
                at_key=True,
            )


CHECK = Check(EXPLAINED, run)
