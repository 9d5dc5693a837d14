"""A tempo that the switcher's clock cannot have."""

from __future__ import annotations

from collections.abc import Iterator

from setwright.compiler.binding.states import Cause
from setwright.compiler.checks.check import Also, Check, Explained, Fault
from setwright.compiler.checks.common.clocked import clocked
from setwright.compiler.compiled import Compiled
from setwright.scenes.finding import Severity
from setwright.scenes.places import KeyPath
from setwright.scenes.quantities import quoted

EXPLAINED = Explained(
    code="beyond-clock",
    severity=Severity.WARNING,
    brief="A tempo that the switcher's clock cannot have.",
    finds="A song's tempo, counted in quarter notes as a clock counts it, is slower or faster than "
    "the switcher's clock can be (BPM: under clock:), and a unit follows that clock.",
    hurts="The repeats run beside the beat.",
    do="let a control or a program set the time of that unit in this song; or halve or double the "
    "clock by hand, and the note on the unit with it",
    example="""\
        clock: {tempo: per preset, BPM: 60 to 240}
        tempo: quarter = 50
    """,
)


def run(compiled: Compiled) -> Iterator[Fault]:
    """Yield one fault for each tempo that is written and cannot be had."""
    found: set[KeyPath] = set()
    clock = compiled.book.switcher.clock
    for one in clocked(compiled, Cause.BEYOND_CLOCK):
        if one.path in found or clock is None or clock.bpm is None:
            continue
        found.add(one.path)
        yield Fault(
            one.path,
            f"{quoted(one.song.song.title)} wants {one.wanted.value} of the switcher's clock, "
            f"which goes from {clock.bpm[0]} to {clock.bpm[1]}, and "
            f"{quoted(one.wanted.unit)} follows it",
            also=(Also("what it can have", ("switcher", "clock", "BPM")),),
        )


CHECK = Check(EXPLAINED, run)
