"""A run of the path at whose end nothing is heard."""

from __future__ import annotations

from collections.abc import Iterator

from setwright.compiler.checks.check import Check, Explained, Fault
from setwright.compiler.checks.common.ways import named, the_unit
from setwright.compiler.compiled import Compiled
from setwright.compiler.signal.faults import DeadEnd
from setwright.scenes.finding import Severity
from setwright.scenes.quantities import quoted

EXPLAINED = Explained(
    code="ends-in-no-amplifier",
    severity=Severity.WARNING,
    sometimes=(Severity.NOTE,),
    brief="A run of the path at whose end nothing is heard.",
    finds="The signal comes to a unit from which nothing leads on, and it is no amplifier; or the "
    "amplifier is not there tonight (--without). It is a note where nothing that songs ask for is "
    "lost, as with a tuner at a socket of its own.",
    hurts="What lies before that end is not heard.",
    do="let the run end in a unit that is: amplifier; a mixing desk that leads to the loudspeakers "
    "of the hall counts as one",
    example="""\
        path:
          - [guitar, squeezer, wobbler, echo]
    """,
)


def run(compiled: Compiled) -> Iterator[Fault]:
    """Yield one fault for each end."""
    for end in compiled.path_faults.ends:
        yield Fault(
            end.word.path,
            _sentence(end),
            _way_out(end),
            also=the_unit(compiled, end.word.unit),
            severity=None if end.serious else Severity.NOTE,
        )


def _sentence(end: DeadEnd) -> str:
    said, unit = quoted(end.word.said), quoted(end.word.unit)
    others = [name for name in end.unheard if name != end.word.unit]
    if end.into_a_send:
        return f"a cable leads into {said}, but a send only gives: nothing goes in there"
    if end.gone:
        lost = f"{named(others)} cannot be heard" if others else "no amplifier is left in the path"
        return f"without {unit}, {lost}"
    lost = f", so {named(others)} cannot be heard" if others else ""
    return f"the signal ends in {said}, which is no amplifier{lost}"


def _way_out(end: DeadEnd) -> str:
    if end.into_a_send:
        return f"write ‘{end.word.unit} return’ where the cable comes back to the amplifier"
    if end.gone:
        return "let path: lead to an amplifier that is there tonight, or bring this one"
    return ""


CHECK = Check(EXPLAINED, run)
