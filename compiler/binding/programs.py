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
    result: dict[str, Program] = {}
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
        read = _read(found, (*base, "programs", program), text, unit)
        if read is not None:
            result[program] = read._replace(name=program)
    return result


def free_programs(
    found: RigFindings, name: str, unit: Unit, programs: dict[str, Program]
) -> tuple[Program, ...]:
    """Return the programs of ``unit`` on which something may be stored; slips are left out."""
    base: KeyPath = ("rig", "units", name, "free programs")
    used = {program.on_wire: program for program in programs.values()}
    result: dict[tuple[int, int], Program] = {}
    if unit.display is None:
        return ()
    for at, text in enumerate(unit.free_programs):
        read = _read(found, (*base, at), text, unit)
        if read is None:
            continue
        if read.on_wire in used or read.on_wire in result:
            other = used.get(read.on_wire)
            found.error(
                "program-not-free",
                f"{quoted(text)} is {quoted(other.name)}"
                if other is not None
                else f"{quoted(text)} stands here twice",
                (*base, at),
                "write programs on which nothing is stored that you need",
            )
            continue
        result[read.on_wire] = read
    return tuple(result.values())


def _read(found: RigFindings, path: KeyPath, text: str, unit: Unit) -> Program | None:
    """Return the program that the unit's display shows so; None for a slip, which is found."""
    display, select = unit.display or counted(128), unit.bank_select
    try:
        index = display.read(text)
    except Slip as slip:
        found.error(slip.code, slip.message, path, slip.way_out)
        return None
    if index >= reached(unit):
        found.error(
            "program-out-of-range",
            f"{quoted(text)} is program {index} on the wire, and what is declared "
            f"reaches 0 to {reached(unit) - 1}",
            path,
            "declare bank select: as the unit takes it",
        )
        return None
    size = select.programs_in_a_bank if select else 128
    return Program("", display.show(index), index % size, index // size if select else None)
