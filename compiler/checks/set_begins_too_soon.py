"""A set that begins while the one before it still plays."""

from __future__ import annotations

from collections.abc import Iterator
from fractions import Fraction
from itertools import pairwise

from setwright.compiler.checks.check import Also, Check, Explained, Fault
from setwright.compiler.checks.common.sets import clock, lasting
from setwright.compiler.compiled import Compiled
from setwright.scenes.finding import Severity
from setwright.scenes.night import Set
from setwright.scenes.quantities import quoted

EXPLAINED = Explained(
    code="set-begins-too-soon",
    severity=Severity.WARNING,
    brief="A set that begins while the one before it still plays.",
    finds="A set begins before the songs of the set before it can be over, by their lengths at "
    "tonight's tempos and the pauses that between songs: says. Songs whose length is not known, "
    "and pauses of which nothing is said, count for nothing. A time up to six hours earlier by the "
    "clock is earlier; with more, midnight lies between.",
    hurts="The times on the cue sheet cannot be kept: the second set is late before it begins.",
    do="let it begin later, or play fewer songs before it",
    example="""\
        begins: 20:32
    """,
)
_DAY, _EARLIER = 24 * 60, 6 * 60
"""Minutes. What begins no more than so many earlier by the clock begins before; else midnight lies
between."""


def run(compiled: Compiled) -> Iterator[Fault]:
    """Yield one fault for each set that begins before what is played until then can be over."""
    sets = compiled.book.night.sets
    timed = [number for number, one in enumerate(sets) if one.begins is not None]
    for first, second in pairwise(timed):
        before, one = sets[first], sets[second]
        after = ((one.begins or 0) - (before.begins or 0) + _EARLIER) % _DAY - _EARLIER
        took = sum((lasting(compiled, part).seconds for part in sets[first:second]), Fraction(0))
        if after * 60 >= took and after >= 0:
            continue
        called, other = _called(one, second), _called(before, first)
        yield Fault(
            ("night", "sets", second, "begins"),
            f"{called} begins {after} min after {other}, and the songs until then take "
            f"{clock(took)}"
            if after >= 0
            else f"{called} comes after {other}, and begins {-after} min before it",
            also=(Also(f"{other} begins here", ("night", "sets", first, "begins")),),
        )


def _called(one: Set, number: int) -> str:
    return quoted(one.name) if one.name else f"set {number + 1}"


CHECK = Check(EXPLAINED, run)
