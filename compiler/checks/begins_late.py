"""A song at whose beginning nothing is pressed."""

from __future__ import annotations

from collections.abc import Iterator

from setwright.compiler.binding.bound import BoundSong
from setwright.compiler.checks.check import Check, Explained, Fault
from setwright.compiler.compiled import Compiled
from setwright.scenes.finding import Severity
from setwright.scenes.places import KeyPath
from setwright.scenes.quantities import quoted

EXPLAINED = Explained(
    code="begins-late",
    severity=Severity.NOTE,
    brief="A song at whose beginning nothing is pressed.",
    finds="The first moment of a song lies behind its first note, or the scene that begins it is "
    "left out tonight. Until then it keeps the sound of the song before. That is well if the "
    "guitar waits so long.",
    hurts="What is called proven begins with the first press: before it, the song sounds as the "
    "one before ended.",
    do="begin the order with the scene that opens the song; if the guitar waits, leave it so",
    example="""\
        order:
          - Lift: round 2 A
    """,
)


def run(compiled: Compiled) -> Iterator[Fault]:
    """Yield one fault for each song that begins with nothing pressed, at what makes it so."""
    said: set[KeyPath] = set()
    before = "what is loaded when the night begins"
    for song in compiled.songs:
        if song.begins_late:
            path = _because_of(song)
            if path not in said:
                said.add(path)
                moment = song.moments[0]
                yield Fault(
                    path,
                    f"nothing is pressed at the beginning of {quoted(song.song.title)}: until "
                    f"{song.position_in_words(moment)} it keeps the sound of before, {before}",
                )
        if song.moments:
            before = f"{quoted(song.moments[-1].scene)} of {quoted(song.song.title)}"
        elif song.scenes:
            before = f"whichever scene {quoted(song.song.title)} ended with"


def _because_of(song: BoundSong) -> KeyPath:
    first = song.resolved.moments[0]
    playing = song.playing
    if playing is not None and first.scene in song.left_out and not first.is_late:
        return (*playing.path, "leave out", playing.leave_out.index(first.scene))
    return (*song.moments[0].path, "at")


CHECK = Check(EXPLAINED, run)
