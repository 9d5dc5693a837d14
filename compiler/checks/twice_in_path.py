"""A unit that the signal is said to come through at two places."""

from __future__ import annotations

from collections.abc import Iterator

from setwright.compiler.checks.check import Also, Check, Explained, Fault
from setwright.compiler.checks.common.ways import the_unit
from setwright.compiler.compiled import Compiled
from setwright.scenes.finding import Severity
from setwright.scenes.quantities import quoted

EXPLAINED = Explained(
    code="twice-in-path",
    severity=Severity.WARNING,
    brief="A unit that the signal is said to come through at two places.",
    finds="A unit stands twice in one run, or in the midst of two runs, and has not as many inputs "
    "and outputs.",
    hurts="A box stands at one place: what is behind the other is not as it is written.",
    do="leave one of them out; where two boxes are alike, give each a name of its own; a stereo "
    "box has inputs: 2 and outputs: 2",
    example="""\
        path:
          - [guitar, squeezer, wobbler, squeezer, echo, combo]
    """,
)


def run(compiled: Compiled) -> Iterator[Fault]:
    """Yield one fault for each place too many."""
    for one in compiled.path_faults.twice:
        first = Also("it stands here already", one.first.path)
        yield Fault(
            one.word.path,
            f"the signal comes through {quoted(one.word.unit)} twice",
            also=(first, *the_unit(compiled, one.word.unit)),
        )


CHECK = Check(EXPLAINED, run)
