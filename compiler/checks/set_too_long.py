"""A set whose songs take longer than there is time."""

from __future__ import annotations

from collections.abc import Iterator
from fractions import Fraction

from setwright.compiler.binding.bound import BoundSong, is_straight
from setwright.compiler.checks.check import Check, Explained, Fault
from setwright.compiler.compiled import Compiled
from setwright.scenes.finding import Severity
from setwright.scenes.forms import AtTime
from setwright.scenes.night import Set
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
    playing = {id(song.playing): song for song in compiled.songs if song.playing is not None}
    for number, one in enumerate(book.night.sets):
        if one.at_most is None:
            continue
        lengths = [_seconds(playing[id(item)]) for item in one.play if id(item) in playing]
        total = sum((length for length in lengths if length is not None), Fraction(0))
        unknown = sum(length is None for length in lengths)
        total += (book.night.between_songs or 0) * _pauses(one)
        pauses = "without the pauses" if book.night.between_songs is None else "with the pauses"
        if total > one.at_most:
            more = f", and nobody knows how long {unknown} more take" if unknown else ""
            yield Fault(
                ("night", "sets", number, "at most"),
                f"the songs of {quoted(one.name) if one.name else 'this set'} take {_clock(total)} "
                f"{pauses}{more}, and there are {_clock(one.at_most)}",
            )


def _pauses(one: Set) -> int:
    """Return how many songs of a set do not follow straight on the one before."""
    return sum(not is_straight(item) for item in one.play[1:])


def _seconds(song: BoundSong) -> Fraction | None:
    length = song.resolved.length
    return None if length.assumed else length.seconds


def _clock(seconds: Fraction) -> str:
    return str(AtTime(Fraction(round(seconds))))


CHECK = Check(EXPLAINED, run)
