"""Two accounts of how one unit's display counts."""

from __future__ import annotations

from collections.abc import Iterator

from setwright.compiler.checks.check import Check, Explained, Fault
from setwright.compiler.compiled import Compiled
from setwright.scenes.displays import parse_display
from setwright.scenes.finding import Severity
from setwright.scenes.quantities import Slip, quoted

EXPLAINED = Explained(
    code="display-disagrees",
    severity=Severity.WARNING,
    brief="Two accounts of how one unit's display counts.",
    finds="The rig says of a unit's display that it counts in one way, an included file of units "
    "in another, so that one reading means two programs on the wire.",
    hurts="A display that counts from 1 where the file says 0 puts every program one off.",
    do="look at the box: what does its first program read? Say it once",
    example="""\
        wobbler:
          display: 0 to 99
    """,
)


def run(compiled: Compiled) -> Iterator[Fault]:
    """Yield one fault for each unit whose display is said in two ways that disagree."""
    book = compiled.book
    for path, spot in book.overruled:
        match path:
            case ("rig", "units", str(unit), "display"):
                declared = book.rig.units[unit]
                try:
                    other = parse_display(spot.text or "")
                except Slip:
                    continue  # it was never right, and the rig has mended it
                if declared.display is None or other.wheels == declared.display.wheels:
                    continue
                yield Fault(
                    path,
                    f"the display of {quoted(unit)} shows {declared.display.text} here, and "
                    f"{other.text} in {spot.source.name}",
                )


CHECK = Check(EXPLAINED, run)
