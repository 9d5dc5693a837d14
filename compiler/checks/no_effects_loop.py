"""A send or return of a unit that has no effects loop."""

from __future__ import annotations

from collections.abc import Iterator

from setwright.compiler.checks.check import Also, Check, Explained, Fault
from setwright.compiler.checks.common.ways import the_unit
from setwright.compiler.compiled import Compiled
from setwright.scenes.finding import Severity
from setwright.scenes.quantities import quoted

EXPLAINED = Explained(
    code="no-effects-loop",
    severity=Severity.WARNING,
    brief="A send or return of a unit that has no effects loop.",
    finds="The path names the send or the return of a unit that does not say effects loop: yes.",
    hurts="If the box has no such sockets, there is nothing to plug these cables into.",
    do="say effects loop: yes in the unit if it has send and return, or put what is in that run "
    "before it",
    example="""\
        combo: {is: amplifier}
        path:
          - [guitar, squeezer, wobbler, combo]
          - [combo send, echo, combo return]
    """,
)


def run(compiled: Compiled) -> Iterator[Fault]:
    """Yield one fault for each unit, at the first place that names a socket of its loop."""
    for one in compiled.path_faults.undeclared:
        first, *others = one.words
        yield Fault(
            first.path,
            f"{quoted(first.said)} is a socket of an effects loop, and {quoted(one.unit)} is not "
            "said to have one",
            also=(
                *the_unit(compiled, one.unit),
                *(Also("and here", word.path) for word in others[:2]),
            ),
        )


CHECK = Check(EXPLAINED, run)
