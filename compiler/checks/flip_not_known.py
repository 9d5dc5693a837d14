"""A control or relay that flips its unit, so that nobody can know whether it is on."""

from __future__ import annotations

from collections.abc import Iterator

from setwright.compiler.binding.described import describe
from setwright.compiler.binding.states import Cause
from setwright.compiler.checks.check import Also, Check, Explained, Fault
from setwright.compiler.checks.common.unknowns import more, unknowns
from setwright.compiler.compiled import Compiled
from setwright.scenes.finding import Severity
from setwright.scenes.places import KeyPath
from setwright.scenes.quantities import quoted

EXPLAINED = Explained(
    code="flip-not-known",
    severity=Severity.WARNING,
    brief="A control or relay that flips, so that nobody knows whether the unit is on.",
    finds="A unit is switched by a control that flips it from off to on and from on to off, or by "
    "a relay that only gives a pulse; or a setting is asked for of a control whose presses go from "
    "one to the next. No message can tell which of the two it is then. The tool "
    "sends nothing rather than guess.",
    hurts="After one press too many it is on where it should be off, and stays the wrong way round "
    "for the rest of the night.",
    do="put it into a loop of the switcher, use a control that has one value for on and one for "
    "off, or a program that has it on or off built in",
    example="""\
        echo:
          switched by: {cc: 28, any value flips: yes}
    """,
)


def run(compiled: Compiled) -> Iterator[Fault]:
    """Yield one fault for each unit that is flipped."""
    for one in unknowns(compiled, Cause.FLIPS, Cause.PULSE, Cause.PRESSES):
        path: KeyPath = ("rig", "units", one.unit, "switched by")
        if one.cause is Cause.PULSE:
            group = one.quantity.partition(" ")[2]
            path = ("rig", "units", one.unit, *(("relays", group) if group else ("relay",)))
        if one.cause is Cause.PRESSES:
            own = ("time",) if one.quantity == "time" else ("controls", one.quantity)
            path = ("rig", "units", one.unit, *own)
        wanted = describe(one.first.value, one.quantity)
        loop = compiled.target.units[one.unit].loop
        yield Fault(
            path,
            f"{quoted(one.unit)} should be {wanted} in {one.scene.called}"
            f"{more(one.scenes)}, and nobody can know it: {one.cause}",
            _way_out(one.cause, loop),
            also=(Also("that scene", one.scene.bound.path, at_key=True),),
            at_key=True,
        )


def _way_out(cause: Cause, loop: int | None) -> str:
    """Return what to do in this case; an empty text for what is always advised."""
    if cause is Cause.PRESSES:
        return (
            "ask for one setting all night and set it by hand before, or use a program that has it "
            "built in"
        )
    if cause is Cause.PULSE:
        return "use a relay output that holds its contact, if the box takes one"
    if loop is not None:
        return (
            f"loop {loop} takes it in and out already, so all it needs is a program that has it on "
            "built in; the programs that it loads switch it off"
        )
    return ""


CHECK = Check(EXPLAINED, run)
