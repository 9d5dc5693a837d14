"""When scenes are pressed: the order of a song becomes moments, each with its place in time.

What the song does not say is assumed: evenly between its neighbours, at the beginning of a part
where the song has a form. Runs on one song at a time, after its scenes have been named.
"""

from __future__ import annotations

import re
from bisect import bisect_left, bisect_right
from collections.abc import Callable, Iterator
from fractions import Fraction
from functools import partial
from typing import NamedTuple

from setwright.scenes.book import Book
from setwright.scenes.finding import Finding, Place, Related, Severity
from setwright.scenes.forms import PARTS, AtPart, AtPickup, AtTime, Position, Vamp, key_of_part
from setwright.scenes.length import Length
from setwright.scenes.musical_time import NoteValue
from setwright.scenes.names import Names, nearest
from setwright.scenes.places import KeyPath
from setwright.scenes.quantities import quoted
from setwright.scenes.records import place_for
from setwright.scenes.shapes import Shape
from setwright.scenes.songs import Song, Step
from setwright.scenes.wording import number_of


class Moment(NamedTuple):
    """A press of a switch within a song.

    ``bars`` have passed since the first note, or ``clock`` seconds where the song says so;
    None where that cannot be said. ``shape`` turns the one into the other;
    ``assumed`` tells that the song does not say when, so that this is a guess; ``silent`` that
    silence is meant. ``order`` tells what comes before what where no bars are known (`Shape`);
    ``guitar`` is taken up here.
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
    order: Fraction | None = None
    guitar: str = ""

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
    missing: list[tuple[str, Place]] = []
    findings = list(_bars(book, song, missing))
    formless: list[KeyPath] = []
    placed: list[Moment] = []
    for scene, step, path in _steps(song):
        names.find(scene, path, key=True)
        position = step.at
        wrong = wrong_place(book, song, shape, position, partial(book.place, (*path, "at")))
        if wrong is not None and wrong.code == NO_SUCH_PART and isinstance(position, AtPart):
            missing.append((_called(position), wrong.place))
            position = None
        elif wrong is not None:
            findings.append(wrong)
            position = None
        elif isinstance(position, AtPart) and song.form is None:
            if not book.is_broken((*song.path, "form")):
                formless.append((*path, "at"))
            position = None
        bars = shape.bar_of(position) if position is not None else None
        order = shape.order_of(position) if position is not None else None
        clock = position.seconds if isinstance(position, AtTime) else None
        placed.append(
            Moment(
                scene,
                position,
                bars,
                clock,
                position is None,
                "; ".join(filter(None, (_awaited(song, shape, position), step.cue))),
                step.foot or "",
                path,
                shape,
                step.silent,
                order,
                step.guitar or "",
            )
        )
    findings += _missing_parts(book, song, missing)
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


def _awaited(song: Song, shape: Shape, position: Position | None) -> str:
    """Return what ends the vamp right before ``position``, for that is the cue there."""
    if shape.known_until is None:  # no vamps
        return ""
    if not isinstance(position, AtPart) or (position.bar, position.beat) != (1, 1):
        return ""
    found = shape.part_at(position)
    if found is None:
        return ""
    parts = shape.round
    at = parts.index(found[1])
    if at == 0 and found[0] == 0:
        return ""
    before = key_of_part(parts[at - 1].name)
    until = next((one for name, one in song.bars.items() if key_of_part(name) == before), None)
    return until.until if isinstance(until, Vamp) else ""


# What is wrong with parts and bars.


NO_SUCH_PART = "no-such-part"


def _bars(book: Book, song: Song, missing: list[tuple[str, Place]]) -> Iterator[Finding]:
    """Find parts that differ in capitals alone; note in ``missing`` what the form lacks."""
    if song.pickup is not None:
        yield from _pickup(book, song, song.pickup)
    if book.has_broken((*song.path, "form")):
        return
    seen: dict[str, str] = {}
    names = song.form.names if song.form is not None else ()
    for part in song.bars:
        path = (*song.path, "bars", part)
        first = seen.setdefault(key_of_part(part), part)
        if first != part:
            yield _error(
                "key-twice",
                f"{quoted(part)} is the part {quoted(first)} again: capitals do not matter",
                book.place_of_key(path),
                "delete one of them, or give the parts two letters",
                Related("the first one", book.place_of_key((*path[:-1], first))),
            )
        elif part and not names:
            yield _error(
                NO_SUCH_PART,
                f"this song has no form, so nothing in it is called {part}",
                book.place_of_key(path),
                "add form:, for example form: AABB, 3 rounds; or delete bars:",
            )
        elif part and key_of_part(part) not in map(key_of_part, names):
            missing.append((part, book.place_of_key(path)))


def _missing_parts(book: Book, song: Song, missing: list[tuple[str, Place]]) -> Iterator[Finding]:
    """Yield what is found of parts that are named and that the form does not have.

    Where a part of the form is nearly called like one of these, and nothing is called like it, the
    slip is in the form; where the form has names, several that it lacks are one slip.
    """
    form = song.form
    if not missing or form is None:
        return
    slip = _misspelt(song, [name for name, _ in missing])
    if slip is not None:
        written, meant = slip
        yield _error(
            NO_SUCH_PART,
            f"a part is called {quoted(written)} here, and {quoted(meant)} where it is named",
            book.place((*song.path, "form")).within(written),
            f"did you mean {quoted(meant)}?",
            *(Related("named here", place) for _, place in missing[:3]),
        )
        return
    if form.in_letters or len(missing) == 1:
        for name, place in missing:
            yield _no_such_part(song, name, place)
        return
    (name, place), *others = missing
    first = _no_such_part(song, name, place)
    yield first._replace(
        related=tuple(Related(f"nor a {other}", where) for other, where in others[:3])
    )


def _misspelt(song: Song, names: list[str]) -> tuple[str, str] | None:
    """Return a part of the form that is misspelt there, and what it is called elsewhere."""
    form = song.form
    if form is None or form.in_letters:
        return None
    named = {key_of_part(re.sub(r"\s*\d+$", "", name)): name for name in names}
    used = {key_of_part(name) for name in song.bars}
    for item in song.order:
        for step in item.values():
            if isinstance(step.at, AtPart):
                used.add(key_of_part(re.sub(r"\s*\d+$", "", step.at.part)))
    for key in named:
        once = [
            one
            for one in form.names
            if key_of_part(one) not in used and key_of_part(one) not in PARTS
        ]
        written = nearest(key, once)
        if written is not None:
            return written, re.sub(r"\s*\d+$", "", named[key])
    return None


def _pickup(book: Book, song: Song, pickup: NoteValue) -> Iterator[Finding]:
    path = (*song.path, "pickup")
    if song.meter is None:
        if not book.is_broken((*song.path, "meter")):
            yield _error(
                "pickup-without-meter",
                "this song has a pickup and no meter, so nobody knows what a full bar is",
                book.place(path),
                "add meter:, for example meter: 4/4",
            )
    elif pickup.of_whole >= song.meter.bar:
        yield _error(
            "pickup-too-long",
            f"a pickup of {pickup} is a whole bar of {song.meter} or more",
            book.place(path),
            "write the notes that stand before the first full bar; whole bars are a part of the "
            "form: intro",
        )


def wrong_place(
    book: Book,
    song: Song,
    shape: Shape,
    position: Position | None,
    written: Callable[[], Place],
) -> Finding | None:
    """Return what is wrong with a place that the song cannot have; None if nothing is.

    ``written`` tells where it stands; hardly a place is wrong, so it is not asked before.
    """
    if isinstance(position, AtPickup) and song.pickup is None:
        if book.is_broken((*song.path, "pickup")):
            return None
        return _error(
            "place-without-pickup",
            "this song has no pickup",
            written(),
            "add pickup:, for example pickup: quarter; or write bar 1",
        )
    if not isinstance(position, AtPart) or song.form is None:
        return None
    found = shape.part_at(position)
    if found is None:
        return _no_such_part(song, _called(position), written())
    long = found[1].long
    if long is not None and position.bar > long:
        return _error(
            "beyond-part",
            f"{found[1].name} has {number_of(long, 'bar')}, and this is bar {position.bar} of it",
            written(),
            "write a bar that it has, or say under bars: how long it is",
        )
    return None


def _called(position: AtPart) -> str:
    """Return the part that a place names, in the words of a sentence."""
    if position.nth > 1:
        return f"{position.part} number {position.nth}"
    return position.part


def _no_such_part(song: Song, part: str, place: Place) -> Finding:
    form = song.form
    assert form is not None
    known = form.names
    near = nearest(part, known) if len(part) > 1 else None
    others = f"write one of {', '.join(known)}"
    return _error(
        NO_SUCH_PART,
        f"the form {form.one_round} has no {part}",
        place,
        f"did you mean {quoted(near)}? Otherwise {others}" if near else others,
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
    if length.shape.known_until is not None:
        if moments[0].assumed:
            moments[0] = _at_beginning(moments[0])
        return tuple(moments)
    if length.bars is not None:
        starts = length.shape.part_starts
        known = [None if moment.assumed else moment.bars for moment in moments]
        found = _spread(known, length.bars, starts)
        return tuple(
            one._replace(bars=bars, order=bars) if one.assumed else one
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
        moments[0] = _at_beginning(moments[0])
    return tuple(moments)


def _at_beginning(moment: Moment) -> Moment:
    return moment._replace(bars=Fraction(0), clock=Fraction(0), order=Fraction(0))


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
