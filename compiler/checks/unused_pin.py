"""A switch that is given to a scene that no song has."""

from __future__ import annotations

from collections.abc import Iterator

from setwright.compiler.checks.check import Check, Explained, Fault
from setwright.compiler.compiled import Compiled
from setwright.compiler.placement.pins import sound_of
from setwright.scenes.finding import Severity
from setwright.scenes.names import suggestion
from setwright.scenes.quantities import quoted

EXPLAINED = Explained(
    code="unused-pin",
    severity=Severity.NOTE,
    brief="A switch that is given to a scene that no song has.",
    finds="The rig says on which switch a scene always lies, and no song and no general scene is "
    "called so, nor is a sound that one of them names.",
    hurts="Nothing lies there for it; perhaps the scene is called otherwise.",
    do="write the name of a scene or sound as the songs have it, or take it out",
    example="""\
        switcher: {file: board.yaml, always on: {Solo: switch 5}}
    """,
)


def run(compiled: Compiled) -> Iterator[Fault]:
    """Yield one fault for each name under ``always on:`` that nothing has."""
    book = compiled.book
    if book.rig.switcher is None or not book.rig.switcher.always_on:
        return
    scenes = [one for song in book.songs for one in song.scenes.items()]
    scenes += book.rig.general.items()
    known = dict.fromkeys(name for name, _ in scenes)
    known |= dict.fromkeys(sound for _, scene in scenes if (sound := sound_of(scene)) is not None)
    for name in book.rig.switcher.always_on:
        if name not in known:
            yield Fault(
                ("rig", "switcher", "always on", name),
                f"no song has a scene {quoted(name)}, and no scene is a sound of that name",
                suggestion(name, known, "write it as the songs have it, or take it out"),
                at_key=True,
            )


CHECK = Check(EXPLAINED, run)
