"""A silence that begins within a song, or before it, and that no later moment ends."""

from __future__ import annotations

from collections.abc import Iterator

from setwright.compiler.binding.bound import BoundSong
from setwright.compiler.checks.check import Also, Check, Explained, Fault
from setwright.compiler.compiled import Compiled
from setwright.compiler.signal.silence import Blocking, Silence
from setwright.scenes.finding import Severity
from setwright.scenes.places import KeyPath
from setwright.scenes.quantities import quoted
from setwright.scenes.wording import number_of

EXPLAINED = Explained(
    code="silence-not-ended",
    severity=Severity.WARNING,
    brief="A silence that no later moment of the song ends.",
    finds="From some moment on the guitar comes to no amplifier: a volume is closed, a tuner or a "
    "mute is in. Nothing in the rest of the song ends that, and it begins before the final bar "
    "line.",
    hurts="You play on and nobody hears it.",
    do="end it at a later moment, or write silent: yes where silence is meant",
    example="""\
        - Shake: {at: round 2 A, foot: swell closed}
        - Far: round 4 A
    """,
)


def run(compiled: Compiled) -> Iterator[Fault]:
    """Yield one fault for the words behind each silence, however many songs it lasts."""
    found: dict[KeyPath, list[Silence]] = {}
    for one in compiled.listener.not_ended(compiled.songs):
        # A move that a scene left out tonight would have made has been found there.
        if one.by.unit not in {lost.unit for lost in one.song.walk.lost}:
            found.setdefault(one.by.path, []).append(one)
    for path, silences in found.items():
        first = silences[0]
        songs = {silence.song.song.identity for silence in silences}
        more = f" (so it is in {number_of(len(songs), 'song')})" if len(songs) > 1 else ""
        yield Fault(
            path,
            f"nothing is heard in {quoted(first.song.song.title)}{_from(first)}: {first.by}, and "
            f"no later moment ends that{more}",
            _way_out(compiled, first.by),
            also=_also(first),
            at_key=first.by.at_key,
        )


def _from(silence: Silence) -> str:
    moment = silence.begins.moment
    if moment is None:
        return ""
    return f" from {silence.song.position_in_words(moment) or 'there'} on"


def _way_out(compiled: Compiled, by: Blocking) -> str:
    unit = compiled.target.units[by.unit]
    open_ = [position for position in unit.by_foot if position not in unit.silences]
    if by.at_key or not open_:
        return f"press a scene without {quoted(by.unit)} later, or write silent: yes if it is meant"
    return f"write foot: {by.unit} {open_[0]} at a later moment, or silent: yes if silence is meant"


def _also(silence: Silence) -> tuple[Also, ...]:
    """Return the song as a second place, where the words stand elsewhere."""
    path = silence.song.song.path
    if silence.by.path[: len(path)] == path:
        return ()
    return (Also("not heard", _title(silence.song)),)


def _title(song: BoundSong) -> KeyPath:
    return (*song.song.path, "title")


CHECK = Check(EXPLAINED, run)
