"""A control that somebody on the line takes for a bank select."""

from __future__ import annotations

from collections.abc import Iterator

from setwright.compiler.checks.check import Also, Check, Explained, Fault
from setwright.compiler.compiled import Compiled
from setwright.compiler.proving.routing import declared_controls, takes_bank_select
from setwright.compiler.proving.traffic import Sent
from setwright.scenes.book import Book
from setwright.scenes.finding import Severity
from setwright.scenes.places import KeyPath
from setwright.scenes.quantities import quoted

EXPLAINED = Explained(
    code="control-is-bank-select",
    severity=Severity.ERROR,
    brief="A control that somebody on the line takes for a bank select.",
    finds="Control 0 or 32 is used for something else where a unit that hears it takes it for a "
    "bank select (MIDI 1.0 Detailed Specification 4.2.1, bank select and Table III). Numbers from "
    "120 on, the channel mode messages, are no controls and cannot be written at all. Where "
    "nobody takes bank selects these numbers are as good as any.",
    hurts="The next program comes from another bank: the right number, the wrong sound.",
    do="use another control number, if the unit lets you choose; or give the two units different "
    "channels",
    example="""\
        barn:
          bank select: {by: msb}
          controls: {mix: {cc: 0, at rest: 30}}
    """,
    changes_sound=True,
)


def run(compiled: Compiled) -> Iterator[Fault]:
    """Yield one fault for each control that a unit, its own or another, takes for a bank select."""
    book = compiled.book
    for name, unit in book.rig.units.items():
        for number, meaning, path in declared_controls(unit):
            if name not in compiled.lines.gone and takes_bank_select(unit, number):
                yield Fault(
                    ("rig", "units", name, *path),
                    f"control {number} is to be the {meaning} of {quoted(name)}, which "
                    "takes it for a bank select",
                    also=(Also("declared here", ("rig", "units", name, "bank select"), True),),
                )
    yield from _taken_by_others(compiled, book)


def _taken_by_others(compiled: Compiled, book: Book) -> Iterator[Fault]:
    seen: set[KeyPath] = set()
    for sent in compiled.traffic:
        if sent.command.quantity == "bank" or sent.command.message.kind != "control":
            continue
        number = sent.command.message.data[0]
        for hearing in sent.unmeant:
            other = book.rig.units.get(hearing.unit)
            if other is None or other.channel == "omni" or not takes_bank_select(other, number):
                continue
            if _share_more(compiled, sent, hearing.unit):
                continue  # two units on one channel: all of it is one collision
            unit = book.rig.units[sent.command.unit]
            place = next(path for used, _, path in declared_controls(unit) if used == number)
            path = ("rig", "units", sent.command.unit, *place)
            if path not in seen:
                seen.add(path)
                yield Fault(
                    path,
                    f"control {number} is the {sent.command.quantity} of "
                    f"{quoted(sent.command.unit)}, but {quoted(hearing.unit)} on the same channel "
                    "takes it for a bank select",
                    also=(
                        Also("that unit", ("rig", "units", hearing.unit, "bank select"), True),
                        Also("its channel", ("rig", "units", hearing.unit, "channel")),
                    ),
                )


def _share_more(compiled: Compiled, sent: Sent, other: str) -> bool:
    """Tell whether the two units act on more of each other's messages than this control."""
    pair = {sent.command.unit, other}
    number = sent.command.message.data[0]
    return any(
        {one.command.unit, hearing.unit} == pair
        for one in compiled.traffic
        for hearing in one.unmeant
        if (one.command.message.kind, one.command.message.data[0]) != ("control", number)
    )


CHECK = Check(EXPLAINED, run)
