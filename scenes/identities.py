"""Who is who: songs are known by their id, else by their title; nights name them so.

Runs right after the book is opened. Fills `Book.by_name` and finds what clashes, and what a
night asks for that is not there, or does not ask for at all (`setwright.scenes.nothing`).
"""

from __future__ import annotations

from setwright.scenes.book import Book
from setwright.scenes.finding import Finding, Place, Related, Severity
from setwright.scenes.names import Names
from setwright.scenes.night import Playing
from setwright.scenes.nothing import nothing_to_play
from setwright.scenes.places import end_of, is_cut
from setwright.scenes.quantities import quoted
from setwright.scenes.songs import Song
from setwright.scenes.wording import number_of


def identify(book: Book) -> list[Finding]:
    """Fill ``book.by_name``; return what clashes or is missing."""
    findings: list[Finding] = []
    names = Names("song", "unknown-song", "write the song in the songs' file", book.spot)
    for song in book.songs:
        first = book.by_name.setdefault(song.identity, song)
        if first is not song:
            findings.append(_twice(book, song, first))
        names.define(song.identity, _place_of(book, song))
    by_title: dict[str, list[Song]] = {}
    for song in book.songs:
        by_title.setdefault(song.title, []).append(song)
    for title, same in by_title.items():
        # A title is as good as an id wherever it can mean only one song.
        if title not in book.by_name and len(same) == 1:
            book.by_name[title] = same[0]
            names.define(title)
        elif title not in book.by_name:
            book.of_title[title] = same
    for _, data in book.removed:
        # A song with a slip in it was left out; that it is missing is no second finding.
        if isinstance(data, dict):
            for key in ("id", "title"):
                if isinstance(data.get(key), str):
                    names.define(data[key])
    if book.is_broken(("songs", "songs")):
        return findings
    for one in (*book.played(), *book.night.if_asked):
        if one.name in book.of_title:
            findings.append(_ambiguous(book, one))
            names.used.update(song.identity for song in book.of_title[one.name])
        elif names.find(one.name, one.name_path) and one.name in book.by_name:
            names.used.add(book.by_name[one.name].identity)
    empty = nothing_to_play(book)
    return findings + (_unknown(book, names) if book.songs else []) + empty


def which(songs: list[Song]) -> str:
    """Return what to write instead of a title that several songs have."""
    return (
        f"write the id of the one that is meant: {', '.join(quoted(one.identity) for one in songs)}"
    )


def _ambiguous(book: Book, one: Playing) -> Finding:
    songs = book.of_title[one.name]
    return Finding(
        "title-of-several",
        Severity.ERROR,
        f"{len(songs)} songs have the title {quoted(one.name)}",
        book.place(one.name_path),
        which(songs),
        tuple(
            Related(f"{quoted(song.identity)} is one of them", _place_of(book, song))
            for song in songs[:4]
        ),
    )


def _twice(book: Book, song: Song, first: Song) -> Finding:
    return Finding(
        "song-twice",
        Severity.ERROR,
        f"two songs are known as {quoted(song.identity)}",
        _place_of(book, song),
        "give one of them an id: of its own, or delete it",
        (Related("the first one", _place_of(book, first)),),
    )


def _place_of(book: Book, song: Song) -> Place:
    return book.place((*song.path, "id" if song.id else "title"))


MANY = 4
"""So many unknown songs at once are one slip: a wrong or a cut-off file of songs."""


def _unknown(book: Book, names: Names) -> list[Finding]:
    end = _end_of_songs(book)
    lost = [name for name in names.missing if names.nearest(name) is None]
    if len(names.missing) < MANY and not (lost and is_cut(end.source)):
        return names.findings(" in the book", hold_back="songs" in book.faulty)
    if "songs" in book.faulty:
        return []
    first, count = next(iter(names.missing)), len(names.missing)
    others = number_of(count - 1, "more song")
    return [
        Finding(
            names.code,
            Severity.ERROR,
            f"the book ends here without {quoted(first)}"
            + (f" and {others} of this night" if count > 1 else ", to be played"),
            end,
            "is this the right file of songs, and is it whole? Otherwise write the songs in it",
            tuple(
                Related(f"{quoted(name)} is to be played", places[0])
                for name, places in names.missing.items()
            )[:4],
        )
    ]


def _end_of_songs(book: Book) -> Place:
    """Return the last written line of the last file of songs."""
    path = book.songs[-1].path if book.songs else ("songs",)
    return end_of(book.place(path).source)
