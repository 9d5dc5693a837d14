"""Findings: everything that the tool has to say about a book, as data.

A finding is a value: a code that never changes, a severity, one plain sentence, the place
where it stands, and the way out. Phases return findings beside their result; nothing here
is raised for a musician's mistake. Rendering as text and as JSON lives here too, so that
every command says the same thing in the same words.
"""

from __future__ import annotations

import unicodedata
from collections import Counter
from collections.abc import Iterable, Sequence
from enum import StrEnum
from functools import cached_property
from typing import NamedTuple

from setwright.scenes.wording import number_of


class Severity(StrEnum):
    """How much a finding weighs: errors stop a build, warnings do not, notes only inform."""

    ERROR = "error"
    WARNING = "warning"
    NOTE = "note"


class Source:
    """One text that was read: where it came from, as the user would name it, and its lines.

    ``name`` is shown to people and printed in JSON; ``text`` is the decoded content.
    """

    __slots__ = ("__dict__", "name", "text")

    def __init__(self, name: str, text: str) -> None:
        self.name = name
        self.text = text

    @cached_property
    def lines(self) -> tuple[str, ...]:
        """The lines, split where YAML 1.2 (section 5.4, line break characters) splits them."""
        return tuple(self.text.replace("\r\n", "\n").replace("\r", "\n").split("\n"))

    def line(self, number: int) -> str:
        """Return line ``number`` (1-based); empty when the file is shorter."""
        return self.lines[number - 1] if 0 < number <= len(self.lines) else ""

    def __repr__(self) -> str:
        return f"Source({self.name!r}, {len(self.text)} characters)"


class Place(NamedTuple):
    """A stretch of one file. Lines and columns are 1-based and count characters.

    ``end_line`` and ``end_column`` point just behind the last character, so an empty stretch
    begins and ends at the same column.
    """

    source: Source
    line: int
    column: int
    end_line: int
    end_column: int
    file: str = ""

    @classmethod
    def at(cls, source: Source, line: int, column: int, end_line: int, end_column: int) -> Place:
        """Make a place within ``source``; all numbers are 1-based."""
        return cls(source, line, column, end_line, end_column, source.name)

    def within(self, text: str) -> Place:
        """Return where ``text`` first stands in this place; all of it where it does not."""
        end = self.end_column - 1 if self.line == self.end_line else None
        at = self.source.line(self.line).find(text, self.column - 1, end)
        if at < 0 or not text:
            return self
        return Place.at(self.source, self.line, at + 1, self.line, at + 1 + len(text))

    def to_json(self) -> dict[str, object]:
        """Return the place as the plain fields that ``--format json`` prints."""
        return {
            "file": self.file,
            "line": self.line,
            "column": self.column,
            "end_line": self.end_line,
            "end_column": self.end_column,
        }


class Related(NamedTuple):
    """A second place that belongs to a finding, with a word on what it has to do with it."""

    message: str
    place: Place


class Table(NamedTuple):
    """What a finding lists, where that is long: headings, and rows of cells.

    A cell is a text, or several, which a person reads with commas between them.
    """

    columns: tuple[str, ...]
    rows: tuple[tuple[str | tuple[str, ...], ...], ...]

    def to_json(self) -> list[dict[str, object]]:
        """Return one object a row, by headings; several texts are a list."""
        return [
            {
                name: visible(cell) if isinstance(cell, str) else [visible(text) for text in cell]
                for name, cell in zip(self.columns, row, strict=True)
            }
            for row in self.rows
        ]

    def lines(self) -> list[str]:
        """Return the table in plain text columns.

        What begins a row as it began the one above is not said again.
        """
        texts = [
            [visible(cell if isinstance(cell, str) else ", ".join(cell)) for cell in row]
            for row in (self.columns, *self.rows)
        ]
        widths = [max(map(_columns, column)) for column in zip(*texts, strict=True)]
        result, above = [], [""] * len(self.columns)
        for row in texts:
            same = next(
                (index for index, cell in enumerate(row) if cell != above[index]), len(row) - 1
            )
            shown = [""] * same + row[same:]
            padded = (
                cell + " " * (width - _columns(cell))
                for cell, width in zip(shown, widths, strict=True)
            )
            result.append("  ".join(padded).rstrip())
            above = row
        return result


class Finding(NamedTuple):
    """One diagnostic.

    ``code`` names the fault in kebab case and stays the same for good; ``message`` is one
    plain sentence; ``help`` says what to do. ``more`` counts the findings of the same code
    that `in_order` folded into this one. Sorting is by place, then by code.
    """

    code: str
    severity: Severity
    message: str
    place: Place
    help: str
    related: tuple[Related, ...] = ()
    more: int = 0
    table: Table | None = None

    def sort_key(self) -> tuple[object, ...]:
        """Return the order in which a reader meets findings: file, line, column, code."""
        return (self.place.file, self.place.line, self.place.column, self.code, self.message)

    def to_json(self) -> dict[str, object]:
        """Return the finding as the object that ``--format json`` prints."""
        return {
            "code": self.code,
            "severity": self.severity.value,
            "message": visible(self.message),
            **self.place.to_json(),
            "help": visible(self.help),
            "related": [
                {"message": visible(other.message), **other.place.to_json()}
                for other in self.related
            ],
            "more": self.more,
            "table": self.table.to_json() if self.table else [],
        }


MANY, FEW = 50, 4
"""So many findings of one code and severity are all shown; if there are more, a few are.

The songs of a long night that suffer without a box are no more than that, and each is news.
"""


def in_order(findings: Iterable[Finding]) -> list[Finding]:
    """Return each different finding once, in the order in which a reader meets them.

    Ten thousand equal slips are one piece of news: of more than `MANY` findings of one code
    and severity the first `FEW` stay. The last of these counts the others (``more``) and shows
    where the next ones stand.
    """
    ordered = sorted(dict.fromkeys(findings), key=Finding.sort_key)
    alike = Counter((finding.code, finding.severity) for finding in ordered)
    if not any(count > MANY for count in alike.values()):
        return ordered
    result: list[Finding] = []
    last: dict[tuple[str, Severity], int] = {}
    met: Counter[tuple[str, Severity]] = Counter()
    for finding in ordered:
        kind = finding.code, finding.severity
        met[kind] += 1
        if alike[kind] <= MANY or met[kind] <= FEW:
            last[kind] = len(result)
            result.append(finding)
        elif met[kind] < 2 * FEW:
            there = result[last[kind]]
            also = Related("here too", finding.place)
            result[last[kind]] = there._replace(related=(*there.related, also))
    for kind, index in last.items():
        if alike[kind] > MANY:
            result[index] = result[index]._replace(more=alike[kind] - FEW)
    return result


def worst(findings: Iterable[Finding]) -> Severity | None:
    """Return the gravest severity among ``findings``, or None when there are none."""
    rank = {Severity.ERROR: 0, Severity.WARNING: 1, Severity.NOTE: 2}
    return min((finding.severity for finding in findings), key=rank.__getitem__, default=None)


def visible(text: str) -> str:
    r"""Return ``text`` with control, bidirectional and other invisible characters escaped.

    A file must not be able to move the cursor or turn the reading direction of a terminal, so
    Unicode categories Cc, Cf, Cs, Co, Cn, Zl and Zp become ``\xNN`` or ``\uNNNN``.
    """
    if text.isprintable():
        return text
    return "".join(_escaped(c) if _hidden(c) else c for c in text)


def _hidden(character: str) -> bool:
    return unicodedata.category(character) in {"Cc", "Cf", "Cs", "Co", "Cn", "Zl", "Zp"}


def _escaped(character: str) -> str:
    code = ord(character)
    return f"\\x{code:02x}" if code < 0x100 else f"\\u{code:04x}"


_COLOURS = {Severity.ERROR: "1;31", Severity.WARNING: "1;33", Severity.NOTE: "1;36"}
_WIDEST_EXCERPT = 160


def render(finding: Finding, *, colour: bool = False) -> str:
    """Return ``finding`` as the lines that a person reads on a terminal.

    The first line is ``file:line:column: severity: sentence [code]``; below it the source
    line with carets under the exact stretch, the related places, and the way out.
    """

    def tint(code: str, text: str) -> str:
        return f"\033[{code}m{text}\033[0m" if colour else text

    place = finding.place
    head = tint(_COLOURS[finding.severity], f"{finding.severity.value}:")
    where = f"{visible(place.file)}:{place.line}:{place.column}:"
    lines = [f"{where} {head} {visible(finding.message)} [{finding.code}]"]
    lines += _excerpt(place)
    if finding.table:
        lines += [f"    {line}" for line in finding.table.lines()]
    for other in finding.related:
        at = other.place
        lines.append(f"  {visible(at.file)}:{at.line}:{at.column}: {visible(other.message)}")
        lines += _excerpt(at)
    if finding.more:
        lines.append(f"  and {finding.more:,} more like this")
    if finding.help:
        lines.append(f"  {tint('1', 'help:')} {visible(finding.help)}")
    return "\n".join(lines)


def _excerpt(place: Place) -> list[str]:
    """Return the source line and its carets, cut to what a terminal can show."""
    line = place.source.line(place.line)
    if not line.strip():
        return []
    last = place.end_column if place.end_line == place.line else len(line) + 1
    start, stop = place.column - 1, max(place.column, last - 1)
    offset = max(0, start - _WIDEST_EXCERPT // 2) if len(line) > _WIDEST_EXCERPT else 0
    shown = line[offset : offset + _WIDEST_EXCERPT]
    before = visible(line[offset:start].replace("\t", " "))
    under = visible(line[start : min(stop, offset + _WIDEST_EXCERPT)].replace("\t", " "))
    number = str(place.line)
    margin = " " * len(number)
    pad = " " * _columns(before)
    return [
        f"  {number} | {visible(shown.replace(chr(9), ' '))}",
        f"  {margin} | {pad}{'^' * max(1, _columns(under))}",
    ]


def _columns(text: str) -> int:
    """Return how many terminal columns ``text`` takes (Unicode Standard Annex 11)."""
    return sum(
        0 if unicodedata.combining(c) else 2 if unicodedata.east_asian_width(c) in "WF" else 1
        for c in text
    )


def summary(findings: Sequence[Finding]) -> str:
    """Return one line that counts ``findings`` by severity, or says that there are none."""
    if not findings:
        return "nothing found"
    counts = [(s, how_many(findings, s)) for s in Severity]
    return ", ".join(number_of(n, s.value) for s, n in counts if n)


def how_many(findings: Iterable[Finding], severity: Severity) -> int:
    """Return how many ``findings`` weigh that much, with those that were folded into others."""
    return sum(1 + finding.more for finding in findings if finding.severity is severity)
