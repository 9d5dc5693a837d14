"""A list as a table: CSV with a heading above each column, in any order.

Cells are split by Python's csv module (RFC 4180). Spreadsheets of countries that write decimal
commas put semicolons between cells, others tabs (common practice, no source), and may begin the
file with a line ``sep=;``. No cell is ever computed: a formula is text like any other.
"""

from __future__ import annotations

import csv
import io
import re
from collections.abc import Iterator, Mapping
from typing import Final, NamedTuple

from setwright.compiler.lists.decoding import start_of, too_large
from setwright.compiler.lists.listed_song import Cell, ListedSong, SongList, clean, song_of
from setwright.scenes.finding import Finding, Place, Severity, Source

WORDS: Final[Mapping[str, tuple[str, ...]]] = {
    "title": ("title", "song title", "tune title", "song", "tune", "song name", "name", "piece"),
    "key": ("key", "song key", "key signature"),
    "tempo": ("tempo", "bpm", "metronome", "speed"),
    "meter": ("meter", "metre", "time signature", "time sig", "signature"),
    "lasts": ("lasts", "length", "duration", "playing time", "running time"),
    "guitar": ("guitar",),
    "capo": ("capo", "capo fret"),
    "note": ("note", "notes"),
}
"""The headings that are understood, in small letters, the best first; brackets do not count."""

MOST_SONGS: Final = 50_000
"""Songs that are taken; a book with more would be larger than a file of a book may be."""

_SEPARATORS: Final = ",;\t"


class _Row(NamedTuple):
    """The cells of one row; ``line`` and ``last`` are its first and last line in the file."""

    cells: list[str]
    line: int
    last: int


def read_table(source: Source) -> SongList:
    """Read a table of songs. Total: whatever is wrong is a finding."""
    if not source.text.strip():
        return _nothing(_no_songs("this file is empty", start_of(source.name)))
    separator, skipped = _separator(source)
    try:
        rows = list(_rows(source, separator, skipped))
    except _OpenQuote as slip:
        return _nothing(_open_quote(source, slip.line))
    if not rows:
        return _nothing(_no_songs("this file is empty", start_of(source.name)))
    headings, *songs = rows
    if len(songs) > MOST_SONGS:
        return _nothing(too_large(source.name, f"this file has more than {MOST_SONGS:,} rows"))
    columns = _columns(headings.cells)
    where = _line(source, headings.line)
    if "title" not in columns:
        return _nothing(
            Finding(
                "list-without-titles",
                Severity.ERROR,
                "no column of this list is headed ‘title’",
                where,
                "write above each column what stands in it: title, key, tempo, meter, capo, length",
            )
        )
    by_column = {column: key for key, column in columns.items()}
    made = [_song(source, headings.cells, by_column, row) for row in songs]
    findings = [finding for _, found in made for finding in found]
    kept = tuple(song for song, _ in made if song.title or song.comments)
    if not any(song.title for song in kept):
        return _nothing(_no_songs("this list has headings, and no songs below them", where))
    return SongList(kept, tuple(findings))


def _song(
    source: Source, headings: list[str], by_column: Mapping[int, str], row: _Row
) -> tuple[ListedSong, list[Finding]]:
    values: dict[str, Cell] = {}
    others: list[Cell] = []
    for column, (text, place) in enumerate(_placed(source, row)):
        heading = clean(headings[column]) if column < len(headings) else ""
        cell = Cell(heading or f"column {column + 1}", text, place)
        if column in by_column:
            values[by_column[column]] = cell
        else:
            others.append(cell)
    return song_of(values.pop("title", None), values, others, _line(source, row.line))


def _separator(source: Source) -> tuple[str, int]:
    """Return what stands between cells, and how many lines to pass over before the headings."""
    if match := re.match(r"sep=([,;\t])(\r\n|\r|\n)", source.text, re.IGNORECASE):
        return match.group(1), 1

    def understood(separator: str) -> tuple[int, int]:
        try:
            first = next(_rows(source, separator, 0), None)
        except _OpenQuote:
            first = None
        cells = first.cells if first else []
        return len(_columns(cells)), len(cells)

    best = max(_SEPARATORS, key=understood)
    if understood(best)[1] > 1:
        return best, 0
    # Where there is one column alone, commas belong to its titles: nothing stands between cells.
    return next((sign for sign in map(chr, _PRIVATE) if sign not in source.text), "\t"), 0


_PRIVATE: Final = range(0xF0000, 0xFFFFE)
"""Characters without a meaning (The Unicode Standard, section 23.5, private use)."""


class _OpenQuote(Exception):  # noqa: N818 (no error: it carries a place out of the loop)
    """The quotation marks of the row that begins on ``line`` cannot be made out."""

    def __init__(self, line: int) -> None:
        super().__init__(line)
        self.line = line


def _rows(source: Source, separator: str, skipped: int) -> Iterator[_Row]:
    """Yield the rows in which anything stands."""
    lines = io.StringIO(source.text, newline="")
    for _ in range(skipped):
        lines.readline()
    reader = csv.reader(lines, delimiter=separator, strict=True)
    begin = skipped + 1
    while True:
        try:
            cells = next(reader, None)
        except csv.Error:
            raise _OpenQuote(begin) from None
        if cells is None:
            return
        last = skipped + reader.line_num
        if any(clean(cell) for cell in cells):
            yield _Row(cells, begin, last)
        begin = last + 1


def _columns(headings: list[str]) -> dict[str, int]:
    """Return the column of each key that a heading stands for; the best word wins."""
    said = [
        " ".join(re.findall(r"\w+", re.sub(r"[(\[].*", "", one.casefold()))) for one in headings
    ]
    columns: dict[str, int] = {}
    for key, words in WORDS.items():
        best = next((word for word in words if word in said), None)
        if best is not None:
            columns[key] = said.index(best)
    return columns


def _placed(source: Source, row: _Row) -> Iterator[tuple[str, Place]]:
    """Yield each cell with its place: looked for from the end of the one before it."""
    line, column = row.line, 0
    for text in row.cells:
        written = text.replace('"', '""')
        at = -1
        if text and "\n" not in text and "\r" not in text:
            at = source.line(line).find(written, column)
            if at < 0:
                at = source.line(line).find(text, column)
        if at < 0:
            # An empty cell, or one of several lines; what follows it stands behind them.
            line += len(Source("", text).lines) - 1
            column = column if line == row.line else 0
            yield text, _line(source, row.line)
            continue
        shown = written if source.line(line).startswith(written, at) else text
        column = at + len(shown)
        yield text, Place.at(source, line, at + 1, line, column + 1)


def _line(source: Source, number: int) -> Place:
    return Place.at(source, number, 1, number, len(source.line(number)) + 1)


def _nothing(finding: Finding) -> SongList:
    return SongList((), (finding,))


def _no_songs(message: str, place: Place) -> Finding:
    return Finding(
        "list-without-songs",
        Severity.ERROR,
        message,
        place,
        "write one song a line below the headings, or name the right file",
    )


def _open_quote(source: Source, line: int) -> Finding:
    return Finding(
        "list-quotes-open",
        Severity.ERROR,
        "the quotation marks of this row do not match, so its cells cannot be told apart",
        _line(source, line),
        'put one " on each side of the cell, and two where the text itself has one',
    )
