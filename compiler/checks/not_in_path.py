"""A unit that is needed and that the signal never comes to."""

from __future__ import annotations

from collections.abc import Iterator

from setwright.compiler.checks.check import Also, Check, Explained, Fault
from setwright.compiler.checks.common.ways import named
from setwright.compiler.compiled import Compiled
from setwright.scenes.finding import Severity
from setwright.scenes.quantities import quoted

EXPLAINED = Explained(
    code="not-in-path",
    severity=Severity.WARNING,
    brief="A unit that is needed and that the signal never comes to.",
    finds="A unit that an effect is made with, or that a foot moves, or an amplifier stands in no "
    "run of the path: nothing is plugged into it, and a loop that it sits in holds nothing.",
    hurts="It is switched and set all night, and never heard.",
    do="write it into the run below path: where its cables are, or leave it out of the rig",
    example="""\
        growler: {loop: 3}
        effects:
          drive: growler
        path:
          - [guitar, squeezer, wobbler, echo, combo]
    """,
)


def run(compiled: Compiled) -> Iterator[Fault]:
    """Yield one fault for all units that are missing, but that some may be let pass."""
    units = compiled.book.rig.units
    missing = compiled.path_faults.missing
    passed = [name for name in missing if EXPLAINED.code in units[name].let_pass]
    for name in passed:
        yield _fault(compiled, [name])
    if rest := [name for name in missing if name not in passed]:
        yield _fault(compiled, rest)


def _fault(compiled: Compiled, names: list[str]) -> Fault:
    unit = compiled.book.rig.units[names[0]]
    if len(names) > 1:
        what = f"{named(names)} stand in no run of the path, so no signal comes to them"
    elif unit.is_ == "amplifier":
        what = f"{quoted(names[0])} stands in no run of the path, so nothing is heard from it"
    elif unit.loop is not None:
        what = f"{quoted(names[0])} stands in no run of the path, so loop {unit.loop} holds nothing"
    else:
        what = f"{quoted(names[0])} stands in no run of the path, so no signal comes to it"
    return Fault(
        ("rig", "units", names[0]),
        what,
        "write them into the runs below path: where their cables are, or leave them out of the rig"
        if len(names) > 1
        else "",
        also=tuple(Also(name, ("rig", "units", name), at_key=True) for name in names[1:5]),
        at_key=True,
    )


CHECK = Check(EXPLAINED, run)
