"""A moment of a song that comes before the moment above it."""

from __future__ import annotations

from collections.abc import Iterator

from setwright.compiler.checks.check import Also, Check, Explained, Fault
from setwright.compiler.compiled import Compiled
from setwright.scenes.finding import Severity
from setwright.scenes.quantities import quoted
from setwright.scenes.resolve import Moment

EXPLAINED = Explained(
    code="order-out-of-time",
    severity=Severity.WARNING,
    brief="A moment of a song that comes before the moment above it.",
    finds="The order of a song is not in order: a scene is to be pressed earlier than the one "
    "written before it, or at the same moment.",
    hurts="The cue sheet leads you back in the song, and you press the wrong scene.",
    do="put the lines in the order in which they are played, or mend the place",
    example="""\
        - Shake: round 3 A
        - Far: round 2 A
    """,
)


def run(compiled: Compiled) -> Iterator[Fault]:
    """Yield one fault for each place without which the others are in order."""
    for song in compiled.songs:
        moments = [one for one in song.moments if not one.assumed]
        kept = _in_order(moments)
        for index, moment in enumerate(moments):
            if index in kept:
                continue
            other = next(one for one in kept if not _one_after_the_other(moments, one, index))
            way = "after" if other < index else "before"
            yield Fault(
                (*moment.path, "at"),
                f"{quoted(moment.scene)} at {song.place_in_words(moment)} is written {way} "
                f"{quoted(moments[other].scene)} at {song.place_in_words(moments[other])}",
                also=(Also("that one", (*moments[other].path, "at")),),
            )


def _in_order(moments: list[Moment]) -> list[int]:
    """Return the longest list of moments that is in order; of equal ones, the earliest."""
    longest: list[list[int]] = [[] for _ in moments]
    for index in range(len(moments) - 1, -1, -1):
        following = [
            longest[later]
            for later in range(index + 1, len(moments))
            if _one_after_the_other(moments, index, later)
        ]
        longest[index] = [index, *max(following, key=len, default=[])]
    return max(longest, key=len, default=[])


def _one_after_the_other(moments: list[Moment], first: int, second: int) -> bool:
    """Tell whether two moments are in order, or cannot be compared."""
    one, other = moments[min(first, second)], moments[max(first, second)]
    if one.bars is not None and other.bars is not None:
        return one.bars < other.bars
    if one.seconds is not None and other.seconds is not None:
        return one.seconds < other.seconds
    return True


CHECK = Check(EXPLAINED, run)
