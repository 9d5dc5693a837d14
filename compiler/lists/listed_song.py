"""One song of a list: what its values say, and what is kept beside it in words.

A value is taken only where the language reads it as it stands; nothing is guessed at. What
cannot be read becomes a comment beside the song, and a note at its place in the list.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping
from typing import Final, NamedTuple

from setwright.scenes.files import UNPRINTABLE
from setwright.scenes.finding import Finding, Place, Severity, visible
from setwright.scenes.musical_time import parse_meter, parse_tempo
from setwright.scenes.quantities import (
    Slip,
    parse_duration,
    parse_name,
    parse_text,
    parse_whole,
    quoted,
)


class Cell(NamedTuple):
    """One value of a list: the heading it stands under, its text, and where it stands."""

    heading: str
    text: str
    place: Place


class ListedSong(NamedTuple):
    """A song as it will be written: values by key, and comments.

    ``title`` is empty where the list has none; then there are only comments.
    """

    title: str
    values: Mapping[str, str]
    comments: tuple[str, ...]


class SongList(NamedTuple):
    """What was read of a list: the songs in its order, and what is said about it."""

    songs: tuple[ListedSong, ...]
    findings: tuple[Finding, ...]


_NOTE_SIGNS: Final = {"♩": "quarter", "♪": "eighth"}
LONGEST_SONG: Final = 3600
"""Seconds; our own limit. A spreadsheet makes 3:10:00 of 3:10, and then means hours."""


def clean(text: str) -> str:
    """Return ``text`` on one line, without the characters that no book may hold."""
    return " ".join(UNPRINTABLE.sub("", " ".join(text.split())).split())


def _tempo(text: str) -> str:
    for sign, note in _NOTE_SIGNS.items():
        if text.startswith(sign):
            rest = text.removeprefix(sign).lstrip()
            dotted = rest.startswith(".")
            text = f"{'dotted ' * dotted}{note} {rest.removeprefix('.').lstrip()}"
    parse_tempo(text)
    return text


def _meter(text: str) -> str:
    parse_meter(text)
    return text


def _length(text: str) -> str:
    if parse_duration(text) > LONGEST_SONG:
        raise Slip(
            "not-a-duration",
            f"{quoted(text)} is more than an hour",
            "if minutes and seconds are meant, write them so: 3:10",
        )
    return text


_CAPO = re.compile(r"(?:capo\s*)?(\d{1,2})(?:st|nd|rd|th)?(?:\s*fret)?", re.ASCII | re.IGNORECASE)
_NO_CAPO = {"none", "no", "no capo", "open", "-", "–"}


def _capo(text: str) -> str:
    match = _CAPO.fullmatch(text)
    if text.lower() in _NO_CAPO:
        return "no capo"
    fret = parse_whole(match.group(1) if match else text, 0, 14, "capo")
    return f"capo {fret}" if fret else "no capo"


READERS: Final[Mapping[str, Callable[[str], str]]] = {
    "key": parse_name,
    "meter": _meter,
    "tempo": _tempo,
    "lasts": _length,
    "guitar": parse_name,
    "capo": _capo,
    "note": parse_text,
}
"""How each value is read: text → what is written, or `Slip`. A capo is written with the guitar."""


LONGEST_TITLE: Final = 200


def song_of(
    title: Cell | None, values: Mapping[str, Cell], others: list[Cell], place: Place
) -> tuple[ListedSong, list[Finding]]:
    """Return the song that these cells make, and notes on what was not read.

    ``place`` is that of the whole row. Empty cells say nothing.
    """
    findings: list[Finding] = []
    comments: list[str] = []
    name = clean(title.text) if title else ""
    if title and (len(name) > LONGEST_TITLE or UNPRINTABLE.search(title.text)):
        name = name[:LONGEST_TITLE].rstrip()
        comments.append(_remark(title))
    read: dict[str, str] = {}
    for key, cell in values.items():
        text = clean(cell.text)
        if not text:
            continue
        try:
            read[key] = READERS[key](text)
            if UNPRINTABLE.search(cell.text):
                comments.append(_remark(cell))
        except Slip as slip:
            comments.append(f"{_remark(cell)}   (not read: {slip.way_out})")
            findings.append(_not_read(slip, cell))
    if "capo" in read:
        capo = read.pop("capo")
        read["guitar"] = f"{read['guitar']}, {capo}" if "guitar" in read else capo
    comments += [_remark(cell) for cell in others if clean(cell.text)]
    if name:
        ordered = {key: read[key] for key in READERS if key in read}
        return ListedSong(name, ordered, tuple(comments)), findings
    comments += [_remark(cell) for cell in values.values() if clean(cell.text)]
    if comments:
        findings = [
            Finding(
                "list-row-without-title",
                Severity.NOTE,
                "this song has no title, so it is only a comment in the songs' file",
                place,
                "write its title, or delete it",
            )
        ]
    return ListedSong("", {}, tuple(comments)), findings


def _remark(cell: Cell) -> str:
    return visible(f"{' '.join(cell.heading.split())}: {' '.join(cell.text.split())}")


def _not_read(slip: Slip, cell: Cell) -> Finding:
    return Finding(
        "list-value-not-read",
        Severity.NOTE,
        f"{slip.message}; it stands as a comment beside the song",
        cell.place,
        slip.way_out,
    )
