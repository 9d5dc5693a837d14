"""An amount that a control's steps miss by more than an ear forgives."""

from __future__ import annotations

from collections.abc import Iterator
from fractions import Fraction

from setwright.compiler.binding.bound import BoundSong
from setwright.compiler.binding.states import Wanted
from setwright.compiler.binding.target import Setting
from setwright.compiler.checks.check import Also, Check, Explained, Fault
from setwright.compiler.compiled import Compiled
from setwright.scenes.book import Book
from setwright.scenes.finding import Severity
from setwright.scenes.places import KeyPath
from setwright.scenes.quantities import Amount, plain_number, quoted

MOST = Fraction(3, 100)
"""How far a time may be off without being a fault: common practice, no source."""

EXPLAINED = Explained(
    code="time-rounded",
    severity=Severity.NOTE,
    brief="A delay time, or a speed, that its control misses by more than 3 %.",
    finds="A control has 128 values, and none of them is within 3 % of the delay time, or "
    "the speed in Hz, that is asked for (3 % is common practice, no source).",
    hurts="Long repeats drift away from the beat.",
    do="ask for a time on one of its steps, or let a program bring the time",
    example="""\
        time: {cc: 20, linear: 20 ms to 1800 ms, at rest: 400 ms}
        Far: {effects: [compression, long echo], echo: 67 ms}
    """,
)


def run(compiled: Compiled) -> Iterator[Fault]:
    """Yield one fault for each time that is missed, where it is written."""
    book = compiled.book
    seen: set[tuple[KeyPath, str]] = set()
    # Scenes that are made in the same way miss the same times.
    found: dict[int, list[tuple[Wanted, Amount, Amount]]] = {}
    for song in compiled.songs:
        for name in song.scenes:
            scene = compiled.scene(song, name)
            if id(scene.proved) not in found:
                found[id(scene.proved)] = [
                    (one, *missed) for one in scene.proved if (missed := _missed(one))
                ]
            for one, asked, given in found[id(scene.proved)]:
                path = _written(book, song, scene.bound.path, one)
                if (path, one.unit) not in seen:
                    seen.add((path, one.unit))
                    yield Fault(
                        path,
                        f"{_shown(asked)} becomes {_shown(given)} on {quoted(one.unit)}, which "
                        f"is {_percent(asked, given)} % off",
                        also=(Also("its control", _control(one), at_key=True),),
                    )


def _missed(one: Wanted) -> tuple[Amount, Amount] | None:
    """Return what was asked of a time or a speed and what it becomes, if that is too far off."""
    if not isinstance(one.value, Setting):
        return None
    asked, given = one.value.asked, one.value.given
    if not isinstance(asked, Amount) or not isinstance(given, Amount) or not asked.value:
        return None
    if asked.unit not in {"ms", "Hz"}:
        return None  # a mix of 1 % that becomes 0.8 % is heard by nobody
    return (asked, given) if abs(given.value - asked.value) > MOST * asked.value else None


def _percent(asked: Amount, given: Amount) -> str:
    return plain_number(round(100 * abs(given.value / asked.value - 1), 1))


def _control(one: Wanted) -> KeyPath:
    own = ("time",) if one.quantity == "time" else ("controls", one.quantity)
    return ("rig", "units", one.unit, *own)


def _shown(amount: Amount) -> str:
    return f"{plain_number(round(amount.value, 1))} {amount.unit}".strip()


def _written(book: Book, song: BoundSong, scene: KeyPath, one: Wanted) -> KeyPath:
    """Return where the time was asked for: in the rig, the scene it comes from, or the song."""
    if one.written:
        return one.written
    scenes = book.rig.general if song.general else song.song.scenes
    from_name = str(scene[-1])
    while (start := scenes[from_name]).echo is None and start.like is not None:
        from_name = start.like
    whose = song.song.path if start.echo is None else (*scene[:-1], from_name)
    return (*whose, "echo")


CHECK = Check(EXPLAINED, run)
