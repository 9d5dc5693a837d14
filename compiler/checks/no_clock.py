"""A unit that follows the clock, and nobody on its line sends one."""

from __future__ import annotations

from collections.abc import Iterator

from setwright.compiler.binding.target import SWITCHER
from setwright.compiler.checks.check import Check, Explained, Fault
from setwright.compiler.compiled import Compiled
from setwright.scenes.finding import Severity
from setwright.scenes.quantities import quoted

EXPLAINED = Explained(
    code="no-clock",
    severity=Severity.WARNING,
    brief="A unit that follows the clock, and nobody on its line sends one.",
    finds="A unit takes its tempo from the MIDI clock, and no box that a cable leads from to it "
    "says that it sends one.",
    hurts="Its repeats keep the tempo of whatever was last, whichever tempo the song has.",
    do="write sends: clock at the box that sends it, or clock: in the switcher's file; or let a "
    "control set the time (time:)",
    example="""\
        echo:
          tempo from: clock
    """,
)


def run(compiled: Compiled) -> Iterator[Fault]:
    """Yield one fault for each unit that waits for a clock in vain."""
    book, lines = compiled.book, compiled.lines
    senders = [
        name
        for name, unit in book.rig.units.items()
        if name not in lines.gone and any(one.kind == "clock" for one in unit.sends)
    ]
    if book.switcher.clock is not None:
        senders.append(SWITCHER)
    for name, unit in book.rig.units.items():
        if unit.tempo_from != "clock" or name in lines.gone:
            continue
        if not any(sender == name or name in lines.reach(sender) for sender in senders):
            yield Fault(
                ("rig", "units", name, "tempo from"),
                f"{quoted(name)} follows the clock, and nobody on its line sends one",
            )


CHECK = Check(EXPLAINED, run)
