"""A unit that listens to MIDI and that no sender can reach."""

from __future__ import annotations

from collections.abc import Iterator

from setwright.compiler.binding.target import COMPUTER, SWITCHER
from setwright.compiler.checks.check import Check, Explained, Fault
from setwright.compiler.compiled import Compiled
from setwright.scenes.finding import Severity
from setwright.scenes.quantities import quoted

EXPLAINED = Explained(
    code="unreached-unit",
    severity=Severity.WARNING,
    brief="A unit that listens to MIDI and that no sender can reach.",
    finds="A unit has a MIDI channel, but none of the cables brings it anything from the switcher, "
    "the computer or another sender. No scene sends it anything tonight.",
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
    book, lines = compiled.book, compiled.lines
    senders = [
        SWITCHER,
        COMPUTER,
        *(name for name, unit in book.rig.units.items() if unit.sends or unit.is_ == "sender"),
    ]
    reached = {name for sender in senders for name in lines.reach(sender)}
    meant = {sent.command.unit for sent in compiled.traffic}
    for name, unit in book.rig.units.items():
        if unit.channel is not None and name not in reached | meant | lines.gone:
            yield Fault(
                ("rig", "units", name, "channel"),
                f"{quoted(name)} listens to MIDI, but no cable brings it any",
            )


CHECK = Check(EXPLAINED, run)
