"""An expression pedal whose control no unit takes."""

from __future__ import annotations

from collections.abc import Iterator

from setwright.compiler.checks.check import Check, Explained, Fault
from setwright.compiler.compiled import Compiled
from setwright.compiler.midi import control
from setwright.compiler.proving.routing import reaction
from setwright.scenes.finding import Severity
from setwright.scenes.quantities import quoted

EXPLAINED = Explained(
    code="pedal-in-vain",
    severity=Severity.WARNING,
    brief="An expression pedal whose control no unit takes.",
    finds="A pedal sends a control of its own, and no unit that a cable brings it to listens on "
    "that channel and has a control of that number.",
    hurts="The foot moves it, and nothing changes.",
    do="lead a cable from the pedal to the unit (a line in midi:), or mend channel or cc at one of "
    "the two",
    example="""\
        pedal:
          is: sender
          by foot: [heel, toe]
          foot sends: {channel: 9, cc: 12, values: {heel: 0, toe: 127}}
    """,
)


def run(compiled: Compiled) -> Iterator[Fault]:
    """Yield one fault for each pedal."""
    lines, units = compiled.lines, compiled.book.rig.units
    for name, unit in units.items():
        sends = unit.foot_sends
        if sends is None or name in lines.gone:
            continue
        heard = lines.reach(name)
        meant = [
            one
            for one, other in units.items()
            if one != name and other.channel in ("omni", sends.channel)
            if any(declared.cc == sends.cc for _, declared in other.every_control)
        ]
        acting = [
            one
            for one in heard
            if one in units
            and units[one].channel in ("omni", sends.channel)
            and reaction(units[one], control(sends.channel, sends.cc, 0))[0].acting
        ]
        # Who acts on it without being meant has been found for that.
        if not acting and not any(one in heard for one in meant):
            why = (
                f"no cable brings it to {quoted(meant[0])}"
                if meant
                else f"no unit has a control {sends.cc} on channel {sends.channel}"
            )
            yield Fault(
                ("rig", "units", name, "foot sends"),
                f"what {quoted(name)} sends moves nothing: {why}",
                at_key=True,
            )


CHECK = Check(EXPLAINED, run)
