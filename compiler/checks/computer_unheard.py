"""A computer whose messages nobody obeys."""

from __future__ import annotations

from collections.abc import Iterator

from setwright.compiler.binding.target import COMPUTER
from setwright.compiler.checks.check import Check, Explained, Fault
from setwright.compiler.checks.common.computer import (
    is_of_use,
    meets_the_switcher,
    someone_is_deaf,
    where,
)
from setwright.compiler.compiled import Compiled
from setwright.scenes.finding import Severity

EXPLAINED = Explained(
    code="computer-unheard",
    severity=Severity.WARNING,
    brief="A computer whose messages nobody obeys.",
    finds="A computer stands on a MIDI line or among the units, and nothing that it sends gets to "
    "a box that obeys: no cable leads out of it; or to none that listens; or into a switcher that "
    "obeys no programs and passes on nothing.",
    hurts="The computer plays the song, and the rig stays as it is.",
    do="write the line that leads from the computer to the units, through a merge where another "
    "line ends; or to the switcher, if that obeys programs (recalled on channel:)",
    example="""\
        midi:
          - [computer, switcher]
          - [switcher, wobbler, echo]
    """,
)


def run(compiled: Compiled) -> Iterator[Fault]:
    """Yield one fault for a computer that talks to nobody."""
    book = compiled.book
    path = where(compiled)
    declared = COMPUTER in book.rig.units
    if (path is None and not declared) or COMPUTER in compiled.lines.gone:
        return
    if is_of_use(compiled) or someone_is_deaf(compiled):
        return
    if book.switcher.recalled_on_channel is not None and COMPUTER in compiled.lines.first:
        return  # its programs are what is missed, and another check says so
    if COMPUTER not in compiled.lines.first:
        why = "no cable leads out of the computer"
    elif meets_the_switcher(compiled):
        why = (
            "the computer is plugged into the switcher, which obeys no programs and passes nothing "
            "on"
        )
    else:
        why = "no cable of the computer leads to a box that listens"
    yield Fault(
        path or ("rig", "units", COMPUTER),
        f"{why}, so nobody hears what it sends",
        "if it obeys programs, write recalled on channel: with its channel into the switcher's "
        "file; if it passes on what comes in, passes on MIDI: yes; else let both lines meet in a "
        "merge"
        if meets_the_switcher(compiled)
        else "",
        at_key=True,
    )


CHECK = Check(EXPLAINED, run)
