"""What is empty: a night that plays nothing, a set without songs, songs without scenes.

Runs once the book is open, before anything is said of a rig: with nothing to play there is
nothing to prove, and silence would look like success.
"""

from __future__ import annotations

from collections.abc import Iterator

from setwright.scenes.book import Book
from setwright.scenes.finding import Finding, Place, Related, Severity
from setwright.scenes.night import Night
from setwright.scenes.places import KeyPath
from setwright.scenes.quantities import quoted
from setwright.scenes.records import place_for
from setwright.scenes.rig import Rig
from setwright.scenes.songs import Song

NOTHING_TO_PLAY = "nothing-to-play"


def nothing_to_play(book: Book) -> list[Finding]:
    """Return what is empty in the night and the rig; at most one finding for each slip.

    A rig without units is left out of what follows: nothing that songs ask of it is there.
    """
    units = list(_no_units(book))
    if units:
        book.leave_out(("rig", "units"), ("rig", "effects"))
    return [*units, *_in_the_night(book)]


def _no_units(book: Book) -> Iterator[Finding]:
    path: KeyPath = ("rig", "units")
    if book.rig.units or any(broken[:2] == path for broken in book.broken):
        return
    yield Finding(
        "rig-without-units",
        Severity.ERROR,
        "this rig has no units, so it can make no effect",
        book.place_of_key(path)
        if book.spot.holds(path)
        else place_for(book.spot, ("rig",), Rig, "units"),
        "write the boxes under units:, and under effects: what each of them is for",
    )


def _in_the_night(book: Book) -> list[Finding]:
    if not book.songs:
        return _no_songs(book)
    if any(path[:2] in {("night", "sets"), ("night", "if asked")} for path in book.broken):
        return []
    if not any(one.play for one in book.night.sets) and not book.night.if_asked:
        return [_no_play(book)]
    return [*_empty_sets(book), *_no_scenes(book)]


def _no_songs(book: Book) -> list[Finding]:
    if book.is_broken(("songs", "songs")) or "songs" in book.faulty:
        return []
    spot = book.spot.child("songs") or book.spot
    written = spot.holds(("songs",))
    return [
        Finding(
            NOTHING_TO_PLAY,
            Severity.ERROR,
            "this file holds no songs",
            spot.find_key(("songs",)) if written else spot.place,
            "write them under songs:, or name the right file after songs: in the night",
        )
    ]


def _no_play(book: Book) -> Finding:
    empty = next((one for one in book.night.sets), None)
    path: KeyPath = ("night", "sets") if empty is None else (*empty.path, "play")
    if empty is not None:
        place: Place = book.place_of_key(path)
    elif book.spot.holds(path):
        place = book.place_of_key(path)
    else:
        place = place_for(book.spot, ("night",), Night, "sets")
    return Finding(
        NOTHING_TO_PLAY,
        Severity.ERROR,
        "this night plays nothing",
        place,
        "write the titles of the songs under play:"
        if empty is not None
        else "write under sets: a set with play: and the titles of its songs",
    )


def _empty_sets(book: Book) -> Iterator[Finding]:
    for one in book.night.sets:
        if not one.play:
            yield Finding(
                "set-empty",
                Severity.WARNING,
                f"{quoted(one.name) if one.name else 'this set'} has no songs",
                book.place_of_key((*one.path, "play")),
                "write the titles of its songs under play:, or delete the set",
            )


def _no_scenes(book: Book) -> Iterator[Finding]:
    """Find songs of tonight with nothing to press, for the rig has no general scenes either."""
    if book.rig.general or book.is_broken(("rig", "general")):
        return
    found: dict[int, tuple[Song, KeyPath]] = {}
    for one in (*book.played(), *book.night.if_asked):
        song = book.by_name.get(one.name)
        if song is not None and not song.scenes and not book.is_broken((*song.path, "scenes")):
            found.setdefault(id(song), (song, (*song.path, "title")))
    if not found:
        return
    songs = [song for song, _ in found.values()]
    named = ", ".join(quoted(song.title) for song in songs[:8])
    more = f" and {len(songs) - 8} more" if len(songs) > 8 else ""
    yield Finding(
        "song-without-scenes",
        Severity.WARNING,
        f"this rig has no general scenes, so there is nothing to press in {named}{more}",
        place_for(book.spot, ("rig",), Rig, "general"),
        "write general: in the rig, with a scene or more; or give the songs scenes of their own",
        tuple(
            Related(f"{quoted(song.title)} stands here", book.place(path))
            for song, path in list(found.values())[:4]
        ),
    )
