"""A move of the foot that falls away with a scene that is left out tonight."""

from __future__ import annotations

from collections.abc import Iterator

from setwright.compiler.checks.check import Also, Check, Explained, Fault
from setwright.compiler.compiled import Compiled
from setwright.scenes.finding import Severity
from setwright.scenes.quantities import quoted

EXPLAINED = Explained(
    code="foot-move-lost",
    severity=Severity.NOTE,
    brief="A move of the foot that falls away with a scene that is left out.",
    finds="A scene is left out tonight, and with it a move of the foot that no later moment of the "
    "song can make. Where there is a later moment, the move is made there.",
    hurts="The unit stays as it is to the end of the song: a swell that is never opened again.",
    do="leave the scene in, or write the move at a moment before it",
    example="""\
        - {song: The Rakes Of Mallow, leave out: Far}
        - Far: {at: round 4 A, foot: swell open}
    """,
)


def run(compiled: Compiled) -> Iterator[Fault]:
    """Yield one fault for each scene left out that takes moves with it."""
    for song in compiled.songs:
        if song.playing is None:
            continue
        lost: dict[str, list[str]] = {}
        for one in song.walk.lost:
            lost.setdefault(one.scene, []).append(f"{one.unit} {one.position}")
        for scene, moves in lost.items():
            at = next(one for one in song.walk.lost if one.scene == scene)
            yield Fault(
                (*song.playing.path, "leave out", song.playing.leave_out.index(scene)),
                f"without {quoted(scene)} nothing in {quoted(song.song.title)} tells the foot "
                f"{' and '.join(map(quoted, moves))}",
                also=(Also("told here", at.path),),
            )


CHECK = Check(EXPLAINED, run)
