"""A preset that sends something in vain: to a unit that is busy, or before its program."""

from __future__ import annotations

from collections.abc import Iterator

from setwright.compiler.binding.states import Cause
from setwright.compiler.binding.target import Program
from setwright.compiler.checks.check import Also, Check, Explained, Fault
from setwright.compiler.checks.common.unknowns import Unknown, more, unknowns
from setwright.compiler.compiled import Compiled
from setwright.compiler.proving.tonight import program_of
from setwright.scenes.finding import Severity
from setwright.scenes.quantities import quoted

EXPLAINED = Explained(
    code="sent-in-vain",
    severity=Severity.WARNING,
    brief="A preset that sends something to a busy unit, or before its program.",
    finds="The switcher sends the messages of a preset one after the other and cannot wait. A "
    "control then reaches its unit while that is busy loading a program and loses what it is sent, "
    "or reaches it before the program, which brings its own setting.",
    hurts="The setting is in the preset, on the sheet and on the wire, and is not heard.",
    do="use a program that has the setting built in; or, if the switcher can pause between its "
    "messages, let it, and write gap between messages:",
    example="""\
        wobbler:
          busy after program: 30 ms
          controls:
            depth: {cc: 40, linear: 0 % to 100 %, at rest: 50 %}
    """,
)


def run(compiled: Compiled) -> Iterator[Fault]:
    """Yield one fault for each quantity that some presets send in vain."""
    for one in unknowns(compiled, Cause.BUSY, Cause.UNDONE):
        why = (
            f"to {quoted(one.unit)} while that is busy loading its program, and it is lost"
            if one.cause is Cause.BUSY
            else f"to {quoted(one.unit)} before its program, which brings its own"
        )
        yield Fault(
            one.scene.bound.path,
            f"the preset of {one.scene.called}{more(one.scenes)} sends the {one.quantity} {why}",
            _way_out(compiled, one),
            also=(
                Also("the unit", ("rig", "units", one.unit), at_key=True),
                *(Also("this scene too", other.bound.path, True) for other in one.scenes[1:4]),
            ),
            at_key=True,
        )


def _way_out(compiled: Compiled, one: Unknown) -> str:
    """Return what to do in this case; an empty text for what is always advised."""
    resting = compiled.target.rest.get(one.unit, {}).get("program")
    loaded = program_of(one.scene.proved, one.unit)
    if isinstance(resting, Program) and resting.on_wire == loaded and one.quantity != "switch":
        return (
            f"{quoted(resting.name)} is what {quoted(one.unit)} has at rest, where nobody hears "
            f"its {one.quantity}: write only with: and the programs in which it is heard, under "
            "the control; then it is not sent here"
        )
    if one.cause is Cause.UNDONE:
        return (
            "use a program that has the setting built in; or, if the switcher can send programs "
            "first, let it, and write sends: programs first"
        )
    return ""


CHECK = Check(EXPLAINED, run)
