"""A control that presets set and that a pedal moves as well."""

from __future__ import annotations

from collections.abc import Iterator

from setwright.compiler.checks.check import Also, Check, Explained, Fault
from setwright.compiler.compiled import Compiled
from setwright.scenes.finding import Severity
from setwright.scenes.places import KeyPath
from setwright.scenes.quantities import quoted

EXPLAINED = Explained(
    code="set-and-moved",
    severity=Severity.WARNING,
    brief="A control that presets set and that a pedal moves as well.",
    finds="An effect sets a control, or gives it a rest, and an expression pedal sends the same "
    "control to the same unit.",
    hurts="A press puts it where the preset says, wherever the foot stands; the next touch of the "
    "pedal makes it jump. A sudden jump in level can hurt ears and loudspeakers.",
    do="leave it to one of the two: take the setting out, or give the pedal another control; if "
    "the jump is meant, let it pass",
    example="""\
        pedal:
          is: sender
          by foot: [heel, toe]
          foot sends: {channel: 9, cc: 20, values: {heel: 0, toe: 127}}
    """,
    changes_sound=True,
)


def run(compiled: Compiled) -> Iterator[Fault]:
    """Yield one fault for each control, where it is set first."""
    for (unit, control), pedal in compiled.target.pedals.items():
        if unit in compiled.lines.gone or unit not in compiled.lines.reach(pedal):
            continue
        place = _set(compiled, unit, control)
        if place is not None:
            yield Fault(
                place,
                f"{quoted(control)} of {quoted(unit)} is set here, and the foot moves it with "
                f"{quoted(pedal)}",
                also=(Also("the pedal", ("rig", "units", pedal, "foot sends"), at_key=True),),
                units=(unit,),
            )


def _set(compiled: Compiled, unit: str, control: str) -> KeyPath | None:
    """Return where the rig first says a setting of a control; None if it does not."""
    target = compiled.target
    for demands in target.makes.values():
        for demand in demands:
            if (demand.unit, demand.quantity) == (unit, control):
                return demand.path
    own = ("time",) if control == "time" else ("controls", control)
    if control in target.rest.get(unit, {}):
        return ("rig", "units", unit, *own, "at rest")
    return ("rig", "units", unit, *own) if control == "time" else None


CHECK = Check(EXPLAINED, run)
