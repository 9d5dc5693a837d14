"""One program's name with two numbers."""

from __future__ import annotations

from collections.abc import Iterator

from setwright.compiler.checks.check import Also, Check, Explained, Fault
from setwright.compiler.compiled import Compiled
from setwright.scenes.finding import Severity
from setwright.scenes.quantities import Slip, quoted
from setwright.scenes.unit import Unit

EXPLAINED = Explained(
    code="program-two-numbers",
    severity=Severity.WARNING,
    brief="One program's name with two numbers.",
    finds="One program of a unit has two numbers: its name is written twice in one unit, in "
    "capitals here and small there; or an included file of units gives it another number than "
    "the rig does. Two names for one number are no fault.",
    hurts="One of the two is what the box holds, the other is what the preset calls.",
    do="look at the box, and write the name and its number once",
    example="""\
        wobbler:
          programs: {tremolo: 42, Tremolo: 43}
    """,
)


def run(compiled: Compiled) -> Iterator[Fault]:
    """Yield one fault for each name with a second number."""
    book = compiled.book
    for unit, declared in book.rig.units.items():
        seen: dict[str, str] = {}
        for name, number in declared.programs.items():
            plain = " ".join(name.casefold().split())
            first = seen.setdefault(plain, name)
            if not _same(declared, declared.programs[first], number):
                yield Fault(
                    ("rig", "units", unit, "programs", name),
                    f"{quoted(first)} of {quoted(unit)} has two numbers: "
                    f"{declared.programs[first]}, and {number} as {quoted(name)}",
                    also=(Also("the other", ("rig", "units", unit, "programs", first)),),
                )
    for path, spot in book.overruled:
        match path:
            case ("rig", "units", str(unit), "programs", str(name)):
                here = book.rig.units[unit].programs[name]
                if _same(book.rig.units[unit], here, spot.text or ""):
                    continue
                yield Fault(
                    path,
                    f"{quoted(name)} of {quoted(unit)} has two numbers: {here} here, and "
                    f"{spot.text} in {spot.source.name}",
                    "the rig's number is taken; where both are meant, give one of them another "
                    "name",
                )


def _same(unit: Unit, one: str, other: str) -> bool:
    """Tell whether two readings of the display are one: 7 and 07."""
    try:
        return unit.display is not None and unit.display.read(one) == unit.display.read(other)
    except Slip:
        return one == other


CHECK = Check(EXPLAINED, run)
