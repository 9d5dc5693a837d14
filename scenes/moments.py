"""When scenes are pressed: the order of a song becomes moments, each with its place in time.

What the song does not say is assumed: evenly between its neighbours, at the beginning of a part
where the song has a form. Runs on one song at a time, after its scenes have been named.
"""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from collections.abc import Iterator
from fractions import Fraction
from typing import NamedTuple

from setwright.scenes.book import Book
from setwright.scenes.finding import Finding, Place, Related, Severity
from setwright.scenes.length import Length
from setwright.scenes.musical_time import AtPart, AtTime, Position, Shape
from setwright.scenes.names import Names
from setwright.scenes.places import KeyPath
from setwright.scenes.quantities import quoted
from setwright.scenes.records import place_for
from setwright.scenes.songs import Song, Step


class Moment(NamedTuple):
    """A press of a switch within a song.

    ``bars`` have passed since the first note, or ``clock`` seconds where the song says so;
    None where that cannot be said. ``shape`` turns the one into the other;
    ``assumed`` tells that the song does not say when, so that this is a guess; ``silent`` that
    silence is meant.
    """

    scene: str
    position: Position | None
    bars: Fraction | None
    clock: Fraction | None
    assumed: bool
    cue: str
    foot: str
    path: KeyPath
    shape: Shape
    silent: bool = False

    @property
    def seconds(self) -> Fraction | None:
        """Seconds since the first note, from the clock or from the bars; None if unknown."""
        if self.clock is not None or self.bars is None:
            return self.clock
        return self.shape.seconds_of_bars(self.bars)

    @property
    def is_late(self) -> bool:
        """Whether it is known to lie behind the first note of the song."""
        return bool(self.bars) or bool(self.clock)


def moments_of(
    book: Book, song: Song, shape: Shape, length: Length, names: Names
) -> tuple[tuple[Moment, ...], list[Finding]]:
    """Return the moments of ``song``, and what is wrong with its form, bars and places.

    ``names`` are its scenes; those that the order asks for are noted there.
    """
    findings = list(_bars(book, song))
    formless: list[KeyPath] = []
    placed: list[Moment] = []
    for scene, step, path in _steps(song):
        names.find(scene, path, key=True)
        position = step.at
        bars = shape.bar_of(position) if position is not None else None
        if isinstance(position, AtPart) and bars is None:
            if song.form is not None:
                findings.append(_no_such_part(book, song.form.parts, position, (*path, "at")))
            elif not book.is_broken((*song.path, "form")):
                formless.append((*path, "at"))
            position = None
        clock = position.seconds if isinstance(position, AtTime) else None
        cue, foot = step.cue or "", step.foot or ""
        placed.append(
            Moment(
                scene, position, bars, clock, position is None, cue, foot, path, shape, step.silent
            )
        )
    if formless:
        findings.append(_no_form(book, song, formless))
    return _assume(placed, length), findings


def _steps(song: Song) -> Iterator[tuple[str, Step, KeyPath]]:
    """Yield scene, step and key path of every line of the order; without one, every scene."""
    for index, item in enumerate(song.order):
        for scene, step in item.items():
            yield scene, step, (*song.path, "order", index, scene)
    if not any(song.order):
        for scene in song.scenes:
            yield scene, Step(), (*song.path, "scenes", scene)


# What is wrong with parts and bars.


def _bars(book: Book, song: Song) -> Iterator[Finding]:
    """Find bars of parts that the form lacks, and parts that differ in capitals alone."""
    if book.has_broken((*song.path, "form")):
        return
    seen: dict[str, str] = {}
    parts = song.form.parts if song.form is not None else ""
    for part in song.bars:
        path = (*song.path, "bars", part)
        first = seen.setdefault(part.upper(), part)
        if first != part:
            yield _error(
                "key-twice",
                f"{quoted(part)} is the part {quoted(first)} again: capitals do not matter",
                book.place_of_key(path),
                "delete one of them, or give the parts two letters",
                Related("the first one", book.place_of_key((*path[:-1], first))),
            )
        elif part and not parts:
            yield _error(
                "no-such-part",
                f"this song has no form, so nothing in it is called {part}",
                book.place_of_key(path),
                "add form:, for example form: AABB, 3 rounds; or delete bars:",
            )
        elif part and part.upper() not in set(parts):
            yield _error(
                "no-such-part",
                f"the form {parts} has no {part}",
                book.place_of_key(path),
                f"write one of {', '.join(dict.fromkeys(parts))}",
            )


def _no_such_part(book: Book, parts: str, position: AtPart, path: KeyPath) -> Finding:
    part = f"{position.part} number {position.nth}" if position.nth > 1 else position.part
    return _error(
        "no-such-part",
        f"the form {parts} has no {part}",
        book.place(path),
        f"write one of {', '.join(dict.fromkeys(parts))}",
    )


def _no_form(book: Book, song: Song, asked: list[KeyPath]) -> Finding:
    return _error(
        "place-without-form",
        "this song has no form, but a place in it is said by round and part",
        place_for(book.spot, song.path, Song, "form"),
        "add form: here, for example form: AABB, 3 rounds; or say bars or times",
        *(Related("said here", book.place(path)) for path in asked[:4]),
    )


def _error(code: str, message: str, place: Place, way_out: str, *also: Related) -> Finding:
    return Finding(code, Severity.ERROR, message, place, way_out, also)


# Places that the song does not say.


def _assume(moments: list[Moment], length: Length) -> tuple[Moment, ...]:
    """Give a place to each moment that has none: evenly between its neighbours.

    The first stands at the beginning. Where the song has a form, places are moved to the
    nearest beginning of a part; without form and length nothing can be assumed.
    """
    if not any(moment.assumed for moment in moments):
        return tuple(moments)
    if length.bars is not None:
        starts = length.shape.part_starts
        known = [None if moment.assumed else moment.bars for moment in moments]
        found = _spread(known, Fraction(length.bars), starts)
        return tuple(
            one._replace(bars=bars) if one.assumed else one
            for one, bars in zip(moments, found, strict=True)
        )
    if length.seconds is not None:
        known = [None if moment.assumed else moment.seconds for moment in moments]
        found = _spread(known, length.seconds, [])
        return tuple(
            one._replace(clock=clock) if one.assumed else one
            for one, clock in zip(moments, found, strict=True)
        )
    if moments[0].assumed:
        moments[0] = moments[0]._replace(bars=Fraction(0), clock=Fraction(0))
    return tuple(moments)


def _spread(known: list[Fraction | None], end: Fraction, starts: list[Fraction]) -> list[Fraction]:
    """Return a place for each of ``known``, which are None where nobody says.

    ``starts``, by rising place, are better than others, as long as there are enough of them.
    """
    before = Fraction(0)
    result: list[Fraction] = []
    # From the end: how many follow in a row that nobody says, and what comes after them.
    ahead: list[tuple[int, Fraction]] = []
    gap, after = 1, end
    for one in reversed(known):
        gap, after = (1, one) if one is not None else (gap + 1, after)
        ahead.append((gap, after))
    for index, (one, (gap, after)) in enumerate(zip(known, reversed(ahead), strict=True)):
        if one is not None:
            before = one
        elif index:
            place = before + (after - before) / gap
            low, high = bisect_right(starts, before), bisect_left(starts, after)
            if high - low >= max(gap - 1, 1):
                near = bisect_left(starts, place, low, high)
                place = min(
                    starts[max(near - 1, low) : min(near + 1, high)],
                    key=lambda start, at=place: abs(start - at),  # type: ignore[misc]
                )
            before = place
        result.append(before)
    return result
