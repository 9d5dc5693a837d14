"""A moment of a song that comes before the moment above it."""

from __future__ import annotations

from collections.abc import Iterator
from fractions import Fraction

from setwright.compiler.binding.bound import BoundSong
from setwright.compiler.checks.check import Also, Check, Explained, Fault
from setwright.compiler.compiled import Compiled
from setwright.scenes.finding import Severity
from setwright.scenes.moments import Moment
from setwright.scenes.quantities import quoted

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
        ends = song.resolved.end_before
        said = [one for one in song.moments if not one.assumed and ends(one) is None]
        # Without a tempo, bars and clock times cannot be compared: each kind has its own order.
        for comparable in (
            [(one, one.bars) for one in said if one.bars is not None],
            [(one, one.seconds) for one in said if one.bars is None and one.seconds is not None],
        ):
            yield from _misplaced(song, comparable)


def _misplaced(song: BoundSong, moments: list[tuple[Moment, Fraction]]) -> Iterator[Fault]:
    kept = _in_order(moments)
    for index, (moment, _) in enumerate(moments):
        if index in kept:
            continue
        other = next(
            one for one in kept if not _follows(moments[min(one, index)], moments[max(one, index)])
        )
        way = "after" if other < index else "before"
        against = moments[other][0]
        if moments[other][1] == moments[index][1]:
            way = "for the same moment as"
        yield Fault(
            (*moment.path, "at"),
            f"{quoted(moment.scene)} at {song.position_in_words(moment)} is written {way} "
            f"{quoted(against.scene)} at {song.position_in_words(against)}",
            also=(Also("that one", (*against.path, "at")),),
        )


def _in_order(moments: list[tuple[Moment, Fraction]]) -> list[int]:
    """Return the longest list of moments that is in order; of equal ones, the earliest."""
    longest: list[list[int]] = [[] for _ in moments]
    for index in range(len(moments) - 1, -1, -1):
        following = [
            longest[later]
            for later in range(index + 1, len(moments))
            if _follows(moments[index], moments[later])
        ]
        longest[index] = [index, *max(following, key=len, default=[])]
    return max(longest, key=len, default=[])


def _follows(one: tuple[Moment, Fraction], other: tuple[Moment, Fraction]) -> bool:
    """Tell whether the other comes later; the same scene twice at one moment does no harm."""
    return one[1] < other[1] or (one[1] == other[1] and one[0].scene == other[0].scene)


CHECK = Check(EXPLAINED, run)
