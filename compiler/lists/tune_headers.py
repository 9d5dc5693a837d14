r"""A list as tunes in ABC notation: the header of each tune, and never its notes.

Source: *The abc music standard 2.1* (December 2011): 2.2 (a tune begins with X:, its header ends
with the first K:), 3.1.2 (T:), 3.1.6 (M:), 3.1.8 (Q:), 3.1.14 and 4.6 (K:), 3.3 (+: goes on with
the field above), 8.2 (accents in text: ``\'e``, ``&eacute;``, ``\u00e9``); a percent sign begins
a comment. Only what a field says by itself is taken: a tempo without its note is a comment.
"""

from __future__ import annotations

import html
import re
import unicodedata
from collections.abc import Callable, Iterator, Mapping
from fractions import Fraction
from typing import Final, NamedTuple

from setwright.compiler.lists.listed_song import Cell, ListedSong, SongList, clean, song_of
from setwright.scenes.finding import Finding, Place, Severity, Source

_FIELD = re.compile(r"([A-Za-z+]):(.*)")
_BEGIN = re.compile(r"X:\s*\d")
_COMMENT = re.compile(r"(?<!\\)%.*")

_NAMES: Final[Mapping[str, str]] = {
    "A": "area",
    "B": "book",
    "C": "composer",
    "D": "discography",
    "F": "file",
    "G": "group",
    "H": "history",
    "I": "instruction",
    "L": "unit note length",
    "N": "notes",
    "O": "origin",
    "P": "parts",
    "R": "rhythm",
    "S": "source",
    "X": "reference number",
    "Z": "transcription",
}
"""What the fields of a header are called (ABC 2.1, section 3)."""


class _Line(NamedTuple):
    letter: str
    text: str
    place: Place


def is_abc(source: Source) -> bool:
    """Return whether this text is ABC: by the file's name, or by how the text begins."""
    if source.name.lower().endswith(".abc"):
        return True
    first = next((line for line in source.lines if line.strip()), "")
    return first.startswith("%abc") or _BEGIN.match(first) is not None


def read_tunes(source: Source) -> SongList:
    """Read the headers of all tunes. Total: whatever is wrong is a finding."""
    made = [_tune(source, header) for header in _headers(source)]
    songs = tuple(song for song, _ in made if song.title or song.comments)
    if not any(song.title for song in songs):
        empty = Finding(
            "list-without-songs",
            Severity.ERROR,
            "this file has no tune with a title",
            Place.at(source, 1, 1, 1, 1),
            "begin each tune with X: and its number, then T: and its title, and end with K:",
        )
        return SongList((), (empty,))
    return SongList(songs, tuple(finding for _, found in made for finding in found))


def _headers(source: Source) -> Iterator[list[_Line]]:
    """Yield the fields of each header, from X: to the first K:."""
    for_all: list[_Line] = []
    header: list[_Line] | None = None
    seen = False
    for number, line in enumerate(source.lines, 1):
        match = _FIELD.match(line)
        if match is None:
            continue
        letter = match.group(1)
        said = _COMMENT.sub("", match.group(2))
        left = len(said) - len(said.lstrip())
        column = match.start(2) + 1 + left
        text = said.strip()
        one = _Line(letter, text, Place.at(source, number, column, number, column + len(text)))
        if letter == "X":
            if header is not None:
                yield header
            header, seen = [*for_all, one], True
        elif not seen:
            # The header of the file: its meter holds for every tune that has none (2.2.2).
            for_all += [one] if letter == "M" else []
        elif header is not None and letter == "+":
            last = header[-1]
            header[-1] = last._replace(text=f"{last.text} {text}")
        elif header is not None:
            header.append(one)
            if letter == "K":
                yield header
                header = None
    if header is not None:
        yield header


def _tune(source: Source, header: list[_Line]) -> tuple[ListedSong, list[Finding]]:
    title: Cell | None = None
    values: dict[str, Cell] = {}
    others: list[Cell] = []
    begin = next(line.place for line in header if line.letter == "X")
    for line in header:
        text = _plain(line.text)
        if line.letter == "T":
            if title is None and clean(text):
                title = Cell("title", text, line.place)
            else:
                others.append(Cell("also called", text, line.place))
        elif line.letter in _FIELDS:
            key, words = _FIELDS[line.letter]
            said, is_all = words(text)
            values[key] = Cell(key, said, line.place)
            if not is_all:
                others.append(Cell(key, text, line.place))
        else:
            others.append(Cell(_NAMES.get(line.letter, line.letter), text, line.place))
    return song_of(title, values, others, begin)


_MARKS: Final[Mapping[str, str]] = {
    "`": "\u0300",
    "'": "\u0301",
    "^": "\u0302",
    "~": "\u0303",
    '"': "\u0308",
    "c": "\u0327",
    "v": "\u030c",
    "u": "\u0306",
}
"""ABC 2.1, 8.2: the sign of an accent, and the character that Unicode puts behind the letter."""

_ACCENT = re.compile(r"""\\([`'^~"cvu])([A-Za-z])""")
_CODE = re.compile(r"\\u([0-9A-Fa-f]{4})")


def _plain(text: str) -> str:
    """Return text with the accents of ABC as letters."""
    text = _CODE.sub(lambda match: chr(int(match.group(1), 16)), text)

    def accented(match: re.Match[str]) -> str:
        mark, letter = match.groups()
        made = unicodedata.normalize("NFC", letter + _MARKS[mark])
        return made if len(made) == 1 else match.group()

    text = _ACCENT.sub(accented, text)
    return html.unescape(text.replace("\\%", "%").replace("\\&", "&"))


_MODES: Final[Mapping[str, str]] = {
    "": "major",
    "m": "minor",
    "maj": "major",
    "ion": "major",
    "min": "minor",
    "aeo": "minor",
    "mix": "mixolydian",
    "dor": "dorian",
    "phr": "phrygian",
    "lyd": "lydian",
    "loc": "locrian",
}
"""ABC 2.1, 3.1.14: of a mode the first three letters count; m alone is minor."""

_CLEFS: Final = {"treble", "alto", "tenor", "bass", "perc", "none"}
"""ABC 2.1, 4.6."""

_KEY = re.compile(r"([A-G])([#b]?)\s*([A-Za-z]*)(.*)", re.DOTALL)


def _key(text: str) -> tuple[str, bool]:
    """Return a key in words, and whether that is all that the field says."""
    if text.lower() == "none":
        return "", True
    match = _KEY.fullmatch(text)
    if match is None:
        return text, True
    note, sign, mode, rest = match.groups()
    name = _MODES.get(mode.lower()[:3])
    if name is None:
        # A clef or another setting may stand behind a key that is major; else it is no key of ours.
        is_setting = rest.startswith("=") or mode.lower() in _CLEFS
        return (f"{note}{sign} major", False) if is_setting else (text, True)
    return f"{note}{sign} {name}", not rest.strip()


def _meter(text: str) -> tuple[str, bool]:
    """Return a meter; C is 4/4 and C| is 2/2 (3.1.6)."""
    return {"C": "4/4", "C|": "2/2", "none": ""}.get(text, text), True


_TEMPO = re.compile(
    r'(?:"[^"]*")?\s*(\d{1,2})/(\d{1,3})\s*=\s*(\d+(?:\.\d+)?)\s*(?:"[^"]*")?', re.ASCII
)
_NOTE_NAMES: Final = {
    Fraction(1): "whole",
    Fraction(3, 4): "dotted half",
    Fraction(1, 2): "half",
    Fraction(3, 8): "dotted quarter",
    Fraction(1, 4): "quarter",
    Fraction(3, 16): "dotted eighth",
    Fraction(1, 8): "eighth",
    Fraction(1, 16): "sixteenth",
}


def _tempo(text: str) -> tuple[str, bool]:
    """Return a tempo in words: ``3/8=112`` counts dotted quarters (3.1.8).

    Words beside it stay a comment; several notes in a row and a bare number say no one note.
    """
    match = _TEMPO.fullmatch(text)
    if match is None or not int(match.group(2)):
        return text, True
    name = _NOTE_NAMES.get(Fraction(int(match.group(1)), int(match.group(2))))
    return (f"{name} = {match.group(3)}", '"' not in text) if name else (text, True)


_FIELDS: Final[Mapping[str, tuple[str, Callable[[str], tuple[str, bool]]]]] = {
    "K": ("key", _key),
    "M": ("meter", _meter),
    "Q": ("tempo", _tempo),
}
