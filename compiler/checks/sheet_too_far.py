"""A cue sheet that lies where no letters on a page can be read."""

from __future__ import annotations

from collections.abc import Iterator

from setwright.compiler.checks.check import Check, Explained, Fault
from setwright.compiler.compiled import Compiled
from setwright.compiler.legible import CUE, HIGHEST_MM, capitals_mm
from setwright.scenes.finding import Severity

EXPLAINED = Explained(
    code="sheet-too-far",
    severity=Severity.ERROR,
    brief="A cue sheet that lies where no letters on a page can be read.",
    finds="From the place that cue sheet: says, capitals would have to be higher than 26 mm to be "
    "seen at an angle of 20 minutes of arc; a page has no room for lines of such letters. A sheet "
    "that lies flat and far ahead is seen at a slant, which makes it worse.",
    hurts="Letters that are smaller would be printed, and nobody could read them on stage.",
    do="lay the sheet nearer, or turn it to the eyes (faces you: yes)",
    example="""\
        cue sheet: {eyes above: 50 cm, ahead: 3 m}
    """,
)


def run(compiled: Compiled) -> Iterator[Fault]:
    """Yield one fault where tonight's cue sheet cannot be read from where it lies."""
    book = compiled.book
    sight, whose = book.night.cue_sheet, "night"
    if sight is None:
        sight, whose = book.rig.cue_sheet, "rig"
    if sight is None:
        return
    height = capitals_mm(CUE, sight)
    if height > HIGHEST_MM:
        yield Fault(
            (whose, "cue sheet"),
            f"to be read from there, letters would have to be {height:.0f} mm high, and a page has "
            f"room for {HIGHEST_MM:.0f} mm",
            at_key=True,
        )


CHECK = Check(EXPLAINED, run)
