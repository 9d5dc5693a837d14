"""A rig that says nothing of its signal path."""

from __future__ import annotations

from collections.abc import Iterator

from setwright.compiler.checks.check import Check, Explained, Fault
from setwright.compiler.compiled import Compiled
from setwright.scenes.finding import Severity
from setwright.scenes.records import place_for
from setwright.scenes.rig import Rig

EXPLAINED = Explained(
    code="no-path",
    severity=Severity.NOTE,
    brief="A rig that says nothing of its signal path.",
    finds="A rig has no path:, so nothing is known of the way from the guitar to the amplifiers.",
    hurts="Nobody looks for a cable that leads nowhere, a closed volume pedal or an amplifier "
    "that nothing reaches.",
    do="write path: with one list for each cable run, from guitar to amplifier",
    example="""\
        rig: Shed
        units:
          squeezer: {loop: 1}
          combo: {is: amplifier}
    """,
)


def run(compiled: Compiled) -> Iterator[Fault]:
    """Yield one fault where there is no path."""
    if not compiled.signal.known:
        book = compiled.book
        written = book.spot.holds(("rig", "path"))
        yield Fault(
            ("rig", "path"),
            "this rig has no path:, so nothing is known of the way of its signal",
            place=None if written else place_for(book.spot, ("rig",), Rig, "path"),
            at_key=written,
        )


CHECK = Check(EXPLAINED, run)
