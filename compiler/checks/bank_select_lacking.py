"""A unit with more programs than program changes alone can reach."""

from __future__ import annotations

from collections.abc import Iterator

from setwright.compiler.binding.target import reached
from setwright.compiler.checks.check import Also, Check, Explained, Fault
from setwright.compiler.compiled import Compiled
from setwright.scenes.finding import Severity
from setwright.scenes.quantities import quoted
from setwright.scenes.wording import number_of

EXPLAINED = Explained(
    code="bank-select-lacking",
    severity=Severity.WARNING,
    brief="A unit with more programs than program changes alone can reach.",
    finds="A unit's display shows more programs than what is declared can reach: a program change "
    "reaches 128, one half of a bank select 128 banks, both halves 16,384 (MIDI 1.0 Detailed "
    "Specification 4.2.1, bank select). If the unit does take bank selects and they are not "
    "declared, none is sent, and it stays in whatever bank it is in.",
    hurts="After somebody has tried a sound in the second bank, every scene calls its programs "
    "there: the right numbers, the wrong sounds.",
    do="declare bank select: as its manual says, or write the display that it has in one bank",
    example="""\
        wobbler:
          display: 0 to 299
    """,
)


def run(compiled: Compiled) -> Iterator[Fault]:
    """Yield one fault for each unit whose display goes beyond what is declared."""
    book = compiled.book
    for name, unit in book.rig.units.items():
        if unit.display is None or unit.reached_by is not None or not unit.programs:
            continue
        if unit.display.count > reached(unit):
            declared = (
                (Also("as declared", ("rig", "units", name, "bank select"), at_key=True),)
                if unit.bank_select is not None
                else ()
            )
            yield Fault(
                ("rig", "units", name, "display"),
                f"the display of {quoted(name)} shows {number_of(unit.display.count, 'program')}, "
                f"and only {reached(unit)} of them can be reached",
                also=declared,
            )


CHECK = Check(EXPLAINED, run)
