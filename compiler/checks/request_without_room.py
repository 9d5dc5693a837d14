"""Requests for whose own scenes this rig's banks have no room."""

from __future__ import annotations

from collections.abc import Iterator

from setwright.compiler.checks.check import Also, Check, Explained, Fault
from setwright.compiler.compiled import Compiled
from setwright.scenes.finding import Severity
from setwright.scenes.quantities import quoted

EXPLAINED = Explained(
    code="request-without-room",
    severity=Severity.NOTE,
    brief="A request that has the general scenes, for the banks are full.",
    finds="The scenes of the sets are placed first, then those of the songs under if asked:, in "
    "their order. These find no room any more, so they have the rig's general scenes.",
    hurts="Somebody asks for it, and it has not the sounds that it should have.",
    do="give this rig more banks, or write first the requests that matter most",
    example="""\
        if asked: [The Harvest Home]
        switcher: {file: board.yaml, banks: 1 to 1}
          Plain: [compression]
    """,
)


def run(compiled: Compiled) -> Iterator[Fault]:
    """Yield one fault for the night, at the first of these requests."""
    found = [
        (song, song.playing)
        for song in compiled.songs
        if song.general and song.song.scenes and song.playing is not None
    ]
    if not found:
        return
    titles = [quoted(song.song.title) for song, _ in found]
    shown = ", ".join(titles[:8]) + (f" and {len(titles) - 8} more" if titles[8:] else "")
    has = "it has" if len(found) == 1 else "they have"
    yield Fault(
        found[0][1].name_path,
        f"the banks of this rig have no room for the scenes of {shown}: {has} the general scenes",
        also=tuple(Also("this one, too", playing.name_path) for _, playing in found[1:4]),
    )


CHECK = Check(EXPLAINED, run)
