"""A moment that lies behind the end of its song."""

from __future__ import annotations

from collections.abc import Iterator

from setwright.compiler.checks.check import Also, Check, Explained, Fault
from setwright.compiler.compiled import Compiled
from setwright.scenes.finding import Severity
from setwright.scenes.quantities import quoted

EXPLAINED = Explained(
    code="beyond-end",
    severity=Severity.WARNING,
    brief="A moment that lies behind the end of its song.",
    finds="A scene is to be pressed after the final bar line: in a round that is not played, at a "
    "bar that the form does not have, or after the time that the song lasts. On the final bar line "
    "itself a song may well end with a press, or with the swell closed.",
    hurts="You wait for a place that never comes, and the scene is not played.",
    do="mend the place, or the form: with its rounds, or lasts:",
    example="""\
        form: AABB, 5 rounds
        - Far: round 6 A
    """,
)


def run(compiled: Compiled) -> Iterator[Fault]:
    """Yield one fault for each moment that comes too late."""
    for song in compiled.songs:
        for moment in song.moments:
            end = song.resolved.end_before(moment)
            if end is not None:
                words, path = end
                yield Fault(
                    (*moment.path, "at"),
                    f"{quoted(moment.scene)} is pressed at {song.position_in_words(moment)}, and "
                    f"{quoted(song.song.title)} {words}",
                    also=(Also("where it ends", path),),
                )


CHECK = Check(EXPLAINED, run)
