"""Slips of a list of songs that a new book is made of, in words."""

from __future__ import annotations

from setwright.scenes.explained import Explained, slip
from setwright.scenes.finding import Severity

EXPLAINED: tuple[Explained, ...] = (
    slip(
        "list-without-titles",
        brief="A list without a column of titles.",
        finds="The list of songs that setwright new is given has no column headed title, song, "
        "tune or name.",
        hurts="Which words are the titles cannot be known.",
        do="write above each column what stands in it: title, key, tempo, meter, capo, length",
        example="""\
            # the list songs.csv
            Swallowtail Jig,E dorian
            Harvest Home,D major
        """,
    ),
    slip(
        "list-without-songs",
        brief="A list in which no song stands.",
        finds="The list of songs that setwright new is given is empty, or has nothing but "
        "headings; or its tunes have no titles.",
        hurts="There is nothing to make a book of.",
        do="write one song a line below the headings, or name the right file",
        example="""\
            # the list songs.csv
            title,key
        """,
    ),
    slip(
        "list-quotes-open",
        brief="Quotation marks that do not match, in a list.",
        finds="A cell of the list begins with a quotation mark, and there is none at its end, or "
        "text follows behind it.",
        hurts="Where the cell ends cannot be known, and all songs behind it might be lost.",
        do='put one " on each side of the cell, and two where the text itself has one',
        example="""\
            # the list songs.csv
            title,key
            "Swallowtail Jig,E dorian
        """,
    ),
    slip(
        "list-row-without-title",
        severity=Severity.NOTE,
        brief="A song of a list that has no title.",
        finds="A row or tune of the list says something, and has no title.",
        hurts="It cannot be called or played; it is only a comment in the songs' file.",
        do="write its title, or delete it",
        example="""\
            # the list songs.csv
            title,key
            Swallowtail Jig,E dorian
            ,D major
        """,
    ),
    slip(
        "list-value-not-read",
        severity=Severity.NOTE,
        brief="A value of a list that cannot be read as what its heading says.",
        finds="A tempo, meter, capo or length of the list is written in a way that says too "
        "little, or something else.",
        hurts="To guess would put a wrong tempo into every delay; so it is only a comment beside "
        "the song.",
        do="write it in the songs' file, for example tempo: quarter = 120",
        example="""\
            # the list songs.csv
            title,tempo
            Swallowtail Jig,120
        """,
    ),
)
