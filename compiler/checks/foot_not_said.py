"""A pedal that may let nothing through, and nobody says where it stands."""

from __future__ import annotations

from collections.abc import Iterator

from setwright.compiler.binding.bound import BoundSong
from setwright.compiler.checks.check import Also, Check, Explained, Fault
from setwright.compiler.compiled import Compiled
from setwright.scenes.finding import Severity
from setwright.scenes.quantities import quoted
from setwright.scenes.wording import number_of

EXPLAINED = Explained(
    code="foot-not-said",
    severity=Severity.WARNING,
    brief="A pedal that may let nothing through, and nobody says where it stands.",
    finds="A unit that a foot works can let nothing through, such as a volume that is closed, and "
    "at some moment nothing says where it stands: the rig has no at start: or at rest: for it, and "
    "no moment before has moved it.",
    hurts="Somebody trod on it in the break, and the song begins in silence.",
    do="say at start: or at rest: in the rig, or foot: at the moment",
    example="""\
        swell: {is: volume, by foot: [closed, open]}
    """,
)


def run(compiled: Compiled) -> Iterator[Fault]:
    """Yield one fault for each unit, at its name."""
    found: dict[str, list[BoundSong]] = {}
    for song, unit, _ in compiled.listener.not_said(compiled.songs):
        found.setdefault(unit, []).append(song)
    for unit, songs in found.items():
        first, others = songs[0].song, len({one.song.identity for one in songs}) - 1
        more = f" (and {number_of(others, 'more song')})" if others else ""
        yield Fault(
            ("rig", "units", unit),
            f"nobody says where {quoted(unit)} stands in {quoted(first.title)}{more}, and it may "
            "let nothing through",
            also=(Also("the song", (*first.path, "title")),),
            at_key=True,
        )


CHECK = Check(EXPLAINED, run)
