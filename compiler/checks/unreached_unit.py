"""A unit that listens to MIDI and that no sender can reach."""

from __future__ import annotations

from collections.abc import Iterator

from setwright.compiler.checks.check import Check, Explained, Fault
from setwright.compiler.checks.common.unreached import unreached
from setwright.compiler.compiled import Compiled
from setwright.scenes.finding import Severity
from setwright.scenes.quantities import quoted

EXPLAINED = Explained(
    code="unreached-unit",
    severity=Severity.WARNING,
    brief="A unit that listens to MIDI and that no sender can reach.",
    finds="A unit has a MIDI channel, but none of the cables brings it anything from the switcher, "
    "the computer or another sender. An effect is made with it, and no scene of tonight asks for "
    "that effect.",
    hurts="It will not obey on the day when a song asks for it.",
    do="write it into a line below midi:, or take its channel: out if no cable is plugged into it",
    example="""\
        barn:
          channel: 11
        midi:
          - [switcher, wobbler, echo]
    """,
)


def run(compiled: Compiled) -> Iterator[Fault]:
    """Yield one fault for each unit that nothing reaches and nothing is meant for."""
    without_cable = unreached(compiled) & compiled.asked
    for name in compiled.book.rig.units:
        if name in without_cable:
            yield Fault(
                ("rig", "units", name, "channel"),
                f"{quoted(name)} listens to MIDI, but no cable brings it any",
            )


CHECK = Check(EXPLAINED, run)
