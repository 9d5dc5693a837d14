"""Reads `headers.tsv`: one record for each tune, in the order of the book.

Source: F. O'Neill, O'Neill's Music of Ireland, Chicago 1903; ABC transcription as shipped in the
music21 package, folder corpus/oneills1850. `extract.py` says how each column was made.
"""

from dataclasses import dataclass
from pathlib import Path

TABLE = Path(__file__).with_name("headers.tsv")
COLUMNS = ("number", "title", "also", "meter", "key", "kind", "kind_source")
BETWEEN_TITLES = " | "


@dataclass(frozen=True, slots=True)
class Header:
    """One tune; what the transcription leaves out or gets wrong is empty."""

    number: int
    title: str
    also: tuple[str, ...]
    meter: str
    key: str
    kind: str
    kind_source: str


def read_headers() -> tuple[Header, ...]:
    """All headers, by number; a tune that was transcribed twice stands here twice."""
    # Not the csv module: titles hold quotation marks, which are plain text in this table.
    names, *rows = TABLE.read_text(encoding="utf-8").splitlines()
    if tuple(names.split("\t")) != COLUMNS:
        raise ValueError(f"{TABLE.name}: the columns are not {', '.join(COLUMNS)}")
    return tuple(_header(row) for row in rows)


def _header(row: str) -> Header:
    number, title, also, meter, key, kind, kind_source = row.split("\t")
    others = tuple(also.split(BETWEEN_TITLES)) if also else ()
    return Header(int(number), title, others, meter, key, kind, kind_source)
