"""What the YAML parsers say when they give up, in our words and at the place of the slip."""

from __future__ import annotations

import re
from collections import Counter
from typing import NamedTuple

from setwright.scenes.finding import Finding, Place, Severity, Source


class Point(NamedTuple):
    """A point in a text, 0-based, as the parsers give it."""

    line: int
    column: int


# What the parsers say, as a piece of their sentence → what a musician can do about it:
# (piece, sentence, way out, whether the slip is where the parser began and not where it gave up).
_SYNTAX = (
    (
        "mapping values are not allowed",
        "a colon stands where no name can begin",
        "check the line above: is its colon missing, or its quotes? If the colon belongs to "
        "the text, put quotes around it",
        False,
    ),
    (
        "could not find expected ':'",
        "this line has no colon after its name",
        "write name: value",
        True,
    ),
    (
        "unexpected end of stream",
        "a quotation mark is opened here and never closed",
        "close it, or double an apostrophe inside single quotes",
        True,
    ),
    (
        "unexpected document indicator",
        "a quotation mark is opened here and never closed",
        "close it",
        True,
    ),
    (
        "expected ',' or ']'",
        "the list that opens with [ is not closed",
        "close it with ], and put commas between its items",
        True,
    ),
    (
        "expected ',' or '}'",
        "the braces that open with { are not closed",
        "close them with }, and put commas between the entries",
        True,
    ),
    (
        "cannot start any token",
        "this character cannot begin a value",
        "put quotes around the text; indent with spaces, never with tabs",
        False,
    ),
    (
        "did not find expected key",
        "this line does not fit under the lines above it",
        "indent it exactly as its neighbours; text that begins with a quotation mark must "
        "end with it",
        False,
    ),
    (
        "expected <block end>",
        "this line does not fit under the lines above it",
        "indent it exactly as its neighbours; text that begins with a quotation mark must "
        "end with it",
        False,
    ),
    (
        "did not find expected '-' indicator",
        "this line does not fit into the list above it",
        "begin it with - at the same indentation as the other items, or indent it further",
        False,
    ),
    (
        "block sequence entries are not allowed",
        "a list item cannot begin here",
        "begin the list on a line of its own",
        False,
    ),
    (
        "unexpected ':'",
        "a colon stands where none can",
        "put a space after it if a value follows; put quotes around text with a colon in it",
        False,
    ),
    (
        "unknown escape character",
        "a backslash within double quotes means something else here",
        "use single quotes around text with backslashes",
        False,
    ),
    (
        "found duplicate anchor",
        "two values are marked with the same &name",
        "give each its own",
        False,
    ),
)


def is_colon_in_braces(source: Source, error: Exception) -> bool:
    """Tell whether a parser stopped at a colon within braces, which the C parser refuses."""
    problem, at = str(getattr(error, "problem", "")), getattr(error, "problem_mark", None)
    if "unexpected ':'" in problem:
        return True
    return (
        "expected ',' or" in problem
        and at is not None
        and source.line(at.line + 1)[at.column : at.column + 1] == "?"
    )


def syntax_finding(source: Source, error: Exception) -> Finding:
    """Turn a parser's exception into a finding in our own words."""
    problem = " ".join(
        str(part)
        for part in (getattr(error, "context", None), getattr(error, "problem", None))
        if part
    )
    begun, given_up = getattr(error, "context_mark", None), getattr(error, "problem_mark", None)
    sentence, way_out, at_begin = (
        "this is not YAML" + (f" ({problem})" if problem else ""),
        "check brackets, quotes, colons and indentation here",
        False,
    )
    for piece, said, out, begin in _SYNTAX:
        if piece in problem:
            sentence, way_out, at_begin = said, out, begin
            break
    mark = (begun if at_begin and begun is not None else given_up) or begun or Point(0, 0)
    line, column = mark.line, mark.column
    lines = source.lines
    # The end of the file is an empty line that nobody can see: point at the last one written.
    while line > 0 and (line >= len(lines) or not lines[line].strip()):
        line -= 1
        column = len(lines[line].rstrip()) if line < len(lines) else 0
    if "mapping values are not allowed" in problem:
        line, column = _run_on(source, line, column)
    if "did not find expected key" in problem:
        line, column, sentence, way_out = _dash_missing(source, line, column) or (
            line,
            column,
            sentence,
            way_out,
        )
        line, column = _slid(source, line, column)
    if "<document start>" in problem:
        line = next(n for n, text in enumerate(lines) if text.split("#")[0].strip())
        column = _indent(lines[line])
        sentence = f"this line does not fit with what begins further down (line {mark.line + 1})"
        way_out = (
            "begin a comment with #, and the outermost names at the left margin; is one of them "
            "missing above?"
        )
    text = source.line(line + 1)
    if not at_begin and "\t" in text[: column + 1]:
        column = text.index("\t")
        sentence, way_out = (
            "a tab stands where only spaces may",
            "indent with spaces",
        )
        code = "tab"
    else:
        code = "yaml-syntax"
    length = max(1, len(text.rstrip()) - column) if at_begin else 1
    return Finding(
        code,
        Severity.ERROR,
        sentence,
        Place.at(source, line + 1, column + 1, line + 1, column + 1 + length),
        way_out,
    )


_KEY_WITH_VALUE = re.compile(r"\s*(- )*[^\s#'\"\[{-][^:#]*:(\s|$)")


def _indent(text: str) -> int:
    return len(text) - len(text.lstrip())


def _run_on(source: Source, line: int, column: int) -> tuple[int, int]:
    """Return where a value begins to run on over the lines below it.

    A value without quotes goes on over lines that have no colon, until one has: the slip is
    where it began to. Lines and columns are 0-based.
    """
    lines = source.lines
    if _KEY_WITH_VALUE.match(lines[line][:column]):
        return line, column  # a second colon on the line of a value
    for above in range(line - 1, -1, -1):
        text = lines[above]
        if not text.strip() or text.lstrip().startswith("#"):
            continue
        begins_item = text.lstrip().startswith("- ") and _indent(text) < _indent(lines[line])
        if _KEY_WITH_VALUE.match(text) or begins_item:
            break
        line, column = above, _indent(text)
    return line, column


def _slid(source: Source, line: int, column: int) -> tuple[int, int]:
    """Return the line that slid sideways above ``line``, or ``line`` itself.

    A line that slid to the left takes those that follow out of their block, so that the parser
    gives up only at the next line that is well indented. A line is well indented if other lines
    of the file are indented like it. Lines and columns are 0-based.
    """
    lines = source.lines
    written = [n for n, text in enumerate(lines) if text.split("#")[0].strip()]
    usual = Counter(_indent(lines[n]) for n in written)
    above = [n for n in written if n < line]
    parent = next((n for n in reversed(above) if _indent(lines[n]) < column), None)
    if parent is None or usual[column] < 3 or _indent(lines[line]) != column:
        return line, column
    stands = _indent(lines[parent])
    if stands and usual[stands] == 1:
        return parent, stands
    before = next((n for n in reversed(above) if n < parent and _indent(lines[n]) <= column), None)
    if before is not None and _indent(lines[before]) == column:
        around = next((n for n in reversed(above) if n < before and _indent(lines[n]) < column), 0)
        alike = lines[before][column:].startswith("- ") == lines[line][column:].startswith("- ")
        if alike and _indent(lines[around]) != stands:
            return parent, stands
    child = next(n for n in written if n > parent)
    if _indent(lines[child]) > column and not lines[child].lstrip().startswith("- "):
        return child, _indent(lines[child])
    return line, column


def _dash_missing(source: Source, line: int, column: int) -> tuple[int, int, str, str] | None:
    """Return the place, sentence and way out where a list's first entry lacks its dash.

    An item with a dash cannot follow lines that are indented as an entry is, two columns
    further, but began without one. Lines and columns are 0-based.
    """
    lines = source.lines
    if not lines[line][column:].startswith("- ") or _indent(lines[line]) != column:
        return None
    top = line
    for above in range(line - 1, -1, -1):
        text = lines[above]
        if text.strip() and not text.lstrip().startswith("#"):
            if _indent(text) <= column:
                break
            top = above
    if top == line or _indent(lines[top]) != column + 2 or lines[top].lstrip().startswith("- "):
        return None
    return (
        top,
        column + 2,
        "an entry of a list begins here without its dash",
        f"is a line missing above? The next entry, on line {line + 1}, begins with -",
    )
