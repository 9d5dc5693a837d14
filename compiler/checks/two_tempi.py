"""A preset of which two units want two tempi."""

from __future__ import annotations

from collections.abc import Iterator

from setwright.compiler.binding.states import Cause
from setwright.compiler.binding.target import Pace
from setwright.compiler.checks.check import Check, Explained, Fault
from setwright.compiler.checks.common.unknowns import more, unknowns
from setwright.compiler.compiled import Compiled
from setwright.scenes.finding import Severity
from setwright.scenes.quantities import quoted

EXPLAINED = Explained(
    code="two-tempi",
    severity=Severity.WARNING,
    brief="A preset of which two units want two tempi.",
    finds="Two units in one scene take their time from the tempo of the switcher's preset, by its "
    "clock or its tap outputs, and want two of them: a clock counts quarter notes, a tap the "
    "repeats.",
    hurts="A preset has one tempo, so one of the two runs beside the beat.",
    do="ask for the same note of both, or let a control, a program or a foot set the time of one",
    example="""\
        tap output: 1
        swirl: {loop: 3, tempo from: clock}
        Far: {effects: [long echo, swirling], echo: dotted eighth}
    """,
)


def run(compiled: Compiled) -> Iterator[Fault]:
    """Yield one fault for each unit that does not get its tempo, in the first such scene."""
    for one in unknowns(compiled, Cause.TWO_TEMPI):
        tempo = one.scene.content.tempo
        other = next(
            wanted.unit
            for wanted in one.scene.proved
            if isinstance(wanted.value, Pace) and wanted.value == tempo
        )
        yield Fault(
            one.scene.bound.path,
            f"in {one.scene.called}{more(one.scenes)} {quoted(other)} wants the tempo {tempo} of "
            f"the preset, and {quoted(one.unit)} {one.first.value}",
            at_key=True,
        )


CHECK = Check(EXPLAINED, run)
