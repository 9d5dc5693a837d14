"""One control number with two meanings in one unit, fine parts among them."""

from __future__ import annotations

from collections.abc import Iterator

from setwright.compiler.checks.check import Also, Check, Explained, Fault
from setwright.compiler.compiled import Compiled
from setwright.compiler.proving.routing import declared_controls
from setwright.scenes.finding import Severity
from setwright.scenes.places import KeyPath
from setwright.scenes.quantities import quoted

EXPLAINED = Explained(
    code="control-twice",
    severity=Severity.ERROR,
    brief="One control number with two meanings in one unit, fine parts among them.",
    finds="One control number has two meanings in one unit: two controls, a control and the fine "
    "part of another (14 bits go over two numbers, coarse 0 to 31 and fine 32 to 63: MIDI 1.0 "
    "Detailed Specification 4.2.1, Table III), or a control and the switch.",
    hurts="What sets the one moves the other: the echo's time jumps when its mix is set.",
    do="look the numbers up in the unit's manual, and write each once",
    example="""\
        time: {cc: 20, fine cc: 52, linear: 20 ms to 1800 ms, at rest: 400 ms}
        controls: {mix: {cc: 52, at rest: 30}}
    """,
    changes_sound=True,
)


def run(compiled: Compiled) -> Iterator[Fault]:
    """Yield one fault for each number that is written a second time in its unit."""
    book = compiled.book
    for name, unit in book.rig.units.items():
        seen: dict[int, tuple[str, KeyPath]] = {}
        for number, meaning, path in declared_controls(unit):
            if number in seen:
                first, where = seen[number]
                yield Fault(
                    ("rig", "units", name, *path),
                    f"control {number} of {quoted(name)} is its {meaning} and its {first} too",
                    also=(Also(f"its {first}", ("rig", "units", name, *where)),),
                )
            else:
                seen[number] = (meaning, path)


CHECK = Check(EXPLAINED, run)
