"""Where the night is: which of the moments that press a preset is meant when it is pressed.

One preset may lie under several moments of a song, under several songs, or under none. What is
meant is looked for from where the night is, in this order; the first that presses it is it:

1. the press that comes next in playing order: the next in this song or, behind its last one, the
   first of the next song;
2. the moment where the night is: it was pressed again, or gone back to, and nothing moves;
3. this song's moments, from here on, then from its beginning;
4. this song's other scenes, which no moment presses;
5. the next song in the sets, then the nearest others, the later of two that are as near: in each
   its moments, then its other scenes;
6. songs that are kept for requests.

That the next press comes before the one where the night is makes a song that begins on the last
preset of the one before it begin; that what is pressed again otherwise stays keeps a foot that
presses twice from skipping half a song. (Both common practice, no source.)

The place in the sets moves to moments alone, and to a next song that has none; a request, another
scene, and what lies under no song are shown, and it stays. A page that is turned by hand sets it,
to the beginning of that song. Where one of the last two songs in which something was pressed is
turned back to, it is where it was left, so that a wrong guess costs one turn of the page.

Pure: every function returns a new `Cursor`.
"""

from __future__ import annotations

from collections.abc import Collection, Iterator
from typing import NamedTuple

from setwright.compiler.lowering.preset import Address

BEFORE = -1
"""The line of a song in which nothing has been pressed yet."""
_REMEMBERED = 2  # songs: the one of the last press, and the one before a guess that was wrong


class Song(NamedTuple):
    """A song's page: its lines, the moments in playing order and then its other scenes.

    A line is the switch that is pressed there; None where none is, for the scene lies on none or is
    on already, or where nobody hears it. ``moments`` is how many of them are moments. ``asked``
    tells that it is kept for requests.
    """

    lines: tuple[Address | None, ...]
    moments: int
    asked: bool = False


class Spot(NamedTuple):
    """A line of a song, both counted from 0."""

    song: int
    line: int


class Cursor(NamedTuple):
    """Where the night is.

    ``songs`` are those of the sets in playing order, then those kept for requests. ``place`` is the
    moment of the sets that was pressed last (`BEFORE` the first, perhaps), ``shown`` the song on
    the page, and its moment that was pressed last; they differ while a request is shown. ``sounds``
    is the line that was pressed last of all; None for one of no song. ``left`` are the moments in
    which songs were left, the latest first; ``first`` is pressed before the first song.
    """

    songs: tuple[Song, ...]
    place: Spot
    shown: Spot
    sounds: Spot | None = None
    left: tuple[Spot, ...] = ()
    first: Address | None = None


def begin(songs: tuple[Song, ...], first: Address | None = None) -> Cursor:
    """Return the beginning of a night, which has at least one song.

    ``first`` is pressed before the first song, if anything has to be, and belongs to no song then.
    """
    start = Spot(0, BEFORE)
    return Cursor(songs, start, start, first=first)


def heard(cursor: Cursor, presets: Collection[Address]) -> Cursor:
    """Return where the night is once one of ``presets`` was pressed, nobody knows which."""
    waking = cursor.first in presets
    cursor = cursor._replace(first=None)
    found = None if waking else _meant(cursor, presets)
    return cursor._replace(sounds=None) if found is None else _moved(cursor, found)


def turned(cursor: Cursor, song: int) -> Cursor:
    """Return where the night is once the page was turned to ``song`` by hand."""
    if song == cursor.shown.song:
        return cursor
    shown = _left_at(cursor, song)
    place = cursor.place if cursor.songs[song].asked else shown
    return cursor._replace(place=place, shown=shown, first=None)


def put(cursor: Cursor, spot: Spot) -> Cursor:
    """Return where the night is once somebody has said that it is at this line."""
    return _moved(turned(cursor, spot.song), spot)


def following(cursor: Cursor) -> Spot | None:
    """Return the moment that comes next in playing order.

    Behind the last one of a song it is the first of the next song, or the beginning of that where
    it has no moments; behind a request it is what comes next in the sets. None behind the last.
    """
    return _after(cursor, cursor.shown) or (
        _after(cursor, cursor.place) if cursor.songs[cursor.shown.song].asked else None
    )


def _after(cursor: Cursor, spot: Spot) -> Spot | None:
    songs = cursor.songs
    if spot.line + 1 < songs[spot.song].moments:
        return Spot(spot.song, spot.line + 1)
    coming = spot.song + 1
    if songs[spot.song].asked or coming == len(songs) or songs[coming].asked:
        return None
    return Spot(coming, 0 if songs[coming].moments else BEFORE)


def _moved(cursor: Cursor, to: Spot) -> Cursor:
    """Return where the night is once ``to`` was pressed."""
    song = cursor.songs[to.song]
    if to.line < song.moments:
        shown = to
        left = (to, *(one for one in cursor.left if one.song != to.song))[:_REMEMBERED]
    else:
        shown = cursor.shown if to.song == cursor.shown.song else _left_at(cursor, to.song)
        left = cursor.left
    moves = not song.asked and (
        to.line < song.moments or (not song.moments and to.song == cursor.place.song + 1)
    )
    return cursor._replace(
        place=shown if moves else cursor.place, shown=shown, sounds=to, left=left, first=None
    )


def _left_at(cursor: Cursor, song: int) -> Spot:
    """Return where a song was left, or its beginning."""
    # Without sets the place is where the night began, and says nothing.
    places = () if cursor.songs[cursor.place.song].asked else (cursor.place,)
    known = (cursor.shown, *places, *cursor.left)
    return next((one for one in known if one.song == song), Spot(song, BEFORE))


def _meant(cursor: Cursor, presets: Collection[Address]) -> Spot | None:
    for spot in _candidates(cursor):
        if cursor.songs[spot.song].lines[spot.line] in presets:
            return spot
    return None


def _candidates(cursor: Cursor) -> Iterator[Spot]:
    """Yield lines in the order in which they are looked through; some of them twice."""
    shown, place = cursor.shown, cursor.place
    for here in (shown,) if place.song == shown.song else (shown, place):
        if here.line != BEFORE:
            yield from _next_press(cursor, here)
            yield here
        yield from _lines(cursor, here.song)
    number = place.song
    others = [one for one in range(len(cursor.songs)) if one not in {shown.song, number}]
    in_sets = (one for one in others if not cursor.songs[one].asked)
    asked = (one for one in others if cursor.songs[one].asked)
    by_nearness = sorted(
        in_sets, key=lambda one: (one != number + 1, abs(one - number), number - one)
    )
    for song in (*by_nearness, *asked):
        yield from _lines(cursor, song)


def _next_press(cursor: Cursor, spot: Spot) -> Iterator[Spot]:
    """Yield the press that comes next in playing order, if it is in this song or the next."""
    after = _after(cursor, spot)
    while after is not None and after.line != BEFORE and after.song <= spot.song + 1:
        if cursor.songs[after.song].lines[after.line] is not None:
            yield after
            return
        after = _after(cursor, after)


def _lines(cursor: Cursor, number: int) -> Iterator[Spot]:
    """Yield the lines of a song: moments from where it was left, those before, other scenes."""
    song, here = cursor.songs[number], _left_at(cursor, number).line
    moments = range(song.moments)
    for line in (*moments[here + 1 :], *moments[: here + 1], *range(song.moments, len(song.lines))):
        yield Spot(number, line)
