"""A scene whose echo follows the tempo, and that is heard at two of them."""

from __future__ import annotations

from collections.abc import Iterator

from setwright.compiler.binding.states import Verdict
from setwright.compiler.checks.check import Check, Explained, Fault
from setwright.compiler.compiled import Compiled
from setwright.scenes.finding import Severity
from setwright.scenes.musical_time import NoteValue, Tempo
from setwright.scenes.quantities import plain_number, quoted

EXPLAINED = Explained(
    code="echo-at-two-tempos",
    severity=Severity.WARNING,
    brief="An echo that follows the tempo, in a scene that is heard at two.",
    finds="A scene asks for an echo in notes, its delay takes the time from the preset or a foot, "
    "and the song changes its tempo while the scene sounds, or between two of its moments.",
    hurts="The delay has one time, so from there on its repeats are out of time.",
    do="write a second scene that begins from this one (like:), and press it where the tempo "
    "changes",
    example="""\
        tempo: quarter = 50, quarter = 70 from round 3 A
    """,
)


def run(compiled: Compiled) -> Iterator[Fault]:
    """Yield one fault for each scene of each song."""
    seen = set()
    for song in compiled.songs:
        for name, scene in song.scenes.items():
            tempi = song.resolved.tempi.get(name, ())
            asked = song.resolved.scenes.get(name)
            if len(tempi) < 2 or asked is None or not isinstance(asked.echo, NoteValue):
                continue
            follows = any(
                one.quantity == "time" and one.value is not None and one.verdict is not Verdict.FREE
                for one in scene.wanted
            )
            if follows and (song.song.identity, name) not in seen:
                seen.add((song.song.identity, name))
                first, other = (_shown(one) for one in tempi[:2])
                yield Fault(
                    asked.echo_path,
                    f"{quoted(name)} of {quoted(song.song.title)} sounds at {first} and {other}, "
                    f"and its echo ({asked.echo}) keeps the time of the first",
                )


def _shown(tempo: Tempo | None) -> str:
    return "free" if tempo is None else f"{tempo.beat} = {plain_number(round(tempo.bpm, 1))}"


CHECK = Check(EXPLAINED, run)
