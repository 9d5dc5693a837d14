"""A program that can only be stepped to, so that nobody can know whether it is there."""

from __future__ import annotations

from collections.abc import Iterator

from setwright.compiler.binding.described import describe
from setwright.compiler.binding.states import Cause
from setwright.compiler.checks.check import Also, Check, Explained, Fault
from setwright.compiler.checks.common.unknowns import more, unknowns
from setwright.compiler.compiled import Compiled
from setwright.scenes.finding import Severity
from setwright.scenes.quantities import quoted

EXPLAINED = Explained(
    code="steps-not-known",
    severity=Severity.WARNING,
    brief="A program that is only stepped to, so that nobody knows whether it is there.",
    finds="A scene wants a program of a unit whose programs are only reached by stepping up and "
    "down. Where the steps begin is not known, so neither is where they end. The tool sends "
    "nothing rather than guess.",
    hurts="One step too many, and every later scene is one program off.",
    do="keep it on one program all night, or set it by hand before the song",
    example="""\
        wobbler:
          reached by: {up: 70, down: 71}
    """,
)


def run(compiled: Compiled) -> Iterator[Fault]:
    """Yield one fault for each unit that is stepped."""
    for one in unknowns(compiled, Cause.STEPS):
        yield Fault(
            ("rig", "units", one.unit, "reached by"),
            f"{quoted(one.unit)} should have {describe(one.first.value, one.quantity)} in "
            f"{one.scene.called}{more(one.scenes)}, and nobody can know it: "
            f"{one.cause}",
            also=(Also("that scene", one.scene.bound.path, at_key=True),),
            at_key=True,
        )


CHECK = Check(EXPLAINED, run)
