"""Two MIDI cables into one socket."""

from __future__ import annotations

from collections.abc import Iterator

from setwright.compiler.checks.check import Also, Check, Explained, Fault
from setwright.compiler.compiled import Compiled
from setwright.compiler.proving.routing import Cable
from setwright.scenes.finding import Severity
from setwright.scenes.quantities import quoted

EXPLAINED = Explained(
    code="two-into-one",
    severity=Severity.ERROR,
    brief="Two MIDI cables into one socket.",
    finds="Two cables lead into one box, which has one MIDI IN, unless it is a merge. Two senders "
    "must not be joined by a simple cable either (MIDI 1.0 Detailed Specification 4.2.1, hardware: "
    "one transmitter to one receiver).",
    hurts="There is no socket for the second cable; and with a cable that joins the two, what "
    "both send at once comes out as neither.",
    do="put a merge before it: a box with is: merge, to which both lines lead",
    example="""\
        midi:
          - [switcher, wobbler, echo]
          - [keyboard, echo]
    """,
    changes_sound=True,
)


def run(compiled: Compiled) -> Iterator[Fault]:
    """Yield one fault for each cable that leads into a box that has one already."""
    book = compiled.book
    first: dict[str, Cable] = {}
    closing = compiled.lines.loops()
    for cable in compiled.lines.cables:
        unit = book.rig.units.get(cable.end)
        if (unit is not None and unit.is_ == "merge") or cable in closing:
            continue
        if cable.end in first:
            yield Fault(
                cable.path,
                f"two cables lead into {quoted(cable.end)}: from {quoted(first[cable.end].start)}, "
                f"and from {quoted(cable.start)}",
                also=(Also("the first", first[cable.end].path, at_key=True),),
                at_key=True,
                units=(cable.end, *compiled.lines.behind(cable.end)),
            )
        else:
            first[cable.end] = cable


CHECK = Check(EXPLAINED, run)
