"""A set whose songs take longer than there is time."""

from __future__ import annotations

from collections.abc import Iterator

from setwright.compiler.checks.check import Check, Explained, Fault
from setwright.compiler.checks.common.sets import clock, lasting
from setwright.compiler.compiled import Compiled
from setwright.scenes.finding import Severity
from setwright.scenes.quantities import quoted

EXPLAINED = Explained(
    code="set-too-long",
    severity=Severity.WARNING,
    brief="A set whose songs take longer than there is time.",
    finds="The songs of a set take longer than at most: allows, at tonight's tempos, with the "
    "pauses that between songs: says. Songs whose length is not known, and pauses of which "
    "nothing is said, count for nothing, so the set is longer still.",
    hurts="The last tune falls victim to the soup.",
    do="play fewer songs, or allow more time",
    example="""\
        at most: 3 min
    """,
)


def run(compiled: Compiled) -> Iterator[Fault]:
    """Yield one fault for each set that is too long."""
    book = compiled.book
    for number, one in enumerate(book.night.sets):
        if one.at_most is None:
            continue
        total, unknown = lasting(compiled, one)
        pauses = "without the pauses" if book.night.between_songs is None else "with the pauses"
        if total > one.at_most:
            more = f", and nobody knows how long {unknown} more take" if unknown else ""
            yield Fault(
                ("night", "sets", number, "at most"),
                f"the songs of {quoted(one.name) if one.name else 'this set'} take {clock(total)} "
                f"{pauses}{more}, and there are {clock(one.at_most)}",
            )


CHECK = Check(EXPLAINED, run)
