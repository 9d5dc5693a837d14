"""The programs of a unit: from what its display shows to what goes over the wire."""

from __future__ import annotations

from setwright.compiler.binding.rig_findings import RigFindings
from setwright.compiler.binding.target import Program, reached
from setwright.scenes.displays import counted
from setwright.scenes.places import KeyPath
from setwright.scenes.quantities import Slip, quoted
from setwright.scenes.unit import Unit


def programs_of(found: RigFindings, name: str, unit: Unit) -> dict[str, Program]:
    """Return the programs of ``unit`` by their names; those with a slip are left out."""
    base: KeyPath = ("rig", "units", name)
    display = unit.display or counted(128)
    select = unit.bank_select
    reach = reached(unit)
    result = {}
    if unit.programs and unit.display is None and not found.book.is_broken((*base, "display")):
        found.error(
            "display-not-said",
            f"{quoted(name)} has programs, but it is not said how its display counts",
            (*base, "programs"),
            "add display: with its first and last program, for example display: 0 to 99 "
            "or display: 1 to 128",
            key=True,
        )
        return {}
    for program, text in unit.programs.items():
        path = (*base, "programs", program)
        try:
            index = display.read(text)
        except Slip as slip:
            found.error(slip.code, slip.message, path, slip.way_out)
            continue
        if index >= reach:
            found.error(
                "program-out-of-range",
                f"{quoted(text)} is program {index} on the wire, and what is declared "
                f"reaches 0 to {reach - 1}",
                path,
                "declare bank select: as the unit takes it",
            )
            continue
        size = select.programs_in_a_bank if select else 128
        bank = index // size if select else None
        result[program] = Program(program, display.show(index), index % size, bank)
    return result
