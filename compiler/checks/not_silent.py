"""Silence that a song says is meant, and in which the guitar is heard."""

from __future__ import annotations

from collections.abc import Iterator

from setwright.compiler.checks.check import Check, Explained, Fault
from setwright.compiler.compiled import Compiled
from setwright.scenes.finding import Severity
from setwright.scenes.places import KeyPath
from setwright.scenes.quantities import quoted

EXPLAINED = Explained(
    code="not-silent",
    severity=Severity.WARNING,
    brief="A scene or a moment that is said to be silent, and is heard.",
    finds="A scene or a moment says silent: yes, and on this rig the guitar comes through to an "
    "amplifier all the same.",
    hurts="You tune, or change the guitar, and everybody hears it.",
    do="close the volume there, or ask for an effect that mutes; or delete silent:",
    example="""\
        - Far: {at: round 4 A, silent: yes}
    """,
)


def run(compiled: Compiled) -> Iterator[Fault]:
    """Yield one fault for each ``silent: yes`` that is not so."""
    listener = compiled.listener
    found: dict[KeyPath, Fault] = {}
    for song, stretches in listener.songs(compiled.songs):
        title = quoted(song.song.title)
        for one in stretches:
            if one.moment is not None and one.heard:
                where = song.position_in_words(one.moment) or "this moment"
                scene = song.song.scenes[one.moment.scene]
                sentence = f"at {where} of {title} the guitar is heard: nothing mutes it"
                if one.moment.silent:
                    path: KeyPath = (*one.moment.path, "silent")
                    found.setdefault(path, Fault(path, sentence))
                elif scene.silent:
                    path = (*scene.path, "silent")
                    found.setdefault(path, Fault(path, sentence))
        written = compiled.book.rig.general if song.general else song.song.scenes
        for bound, heard in listener.free(song):
            path = (*bound.path, "silent")
            if heard and written[bound.name].silent:
                sentence = f"in {quoted(bound.name)} the guitar is heard: nothing mutes it"
                found.setdefault(path, Fault(path, sentence))
    for bound, heard in listener.free(compiled.kept) if compiled.kept is not None else ():
        if heard and compiled.kept is not None and compiled.kept.song.scenes[bound.name].silent:
            sentence = f"with {quoted(bound.name)}, in every bank, the guitar is heard: nothing "
            path = (*bound.path, "silent")
            found.setdefault(path, Fault(path, f"{sentence}mutes it"))
    yield from found.values()


CHECK = Check(EXPLAINED, run)
