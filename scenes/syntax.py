"""What the YAML parsers say when they give up, in our words and at the place of the slip."""

from __future__ import annotations

import re
from collections import Counter
from typing import Any, NamedTuple

from setwright.scenes.finding import Finding, Place, Severity, Source


class Point(NamedTuple):
    """A point in a text, 0-based, as the parsers give it."""

    line: int
    column: int


QUOTE = "put quotes around the whole text"

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
        "unexpected document",
        "a quotation mark is opened here and not closed before the text ends",
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
        "sequence entries are not allowed",
        "a list item cannot begin here",
        "begin the list on a line of its own",
        False,
    ),
    (
        "escape code",
        "a backslash within double quotes means something else here",
        "use single quotes around text with backslashes",
        False,
    ),
    (
        "unknown escape character",
        "a backslash within double quotes means something else here",
        "use single quotes around text with backslashes",
        False,
    ),
    (
        "node content",
        "this sign cannot begin a value",
        f"{QUOTE}, or delete the sign",
        False,
    ),
    (
        "directive",
        "a line that begins with % is none of a book",
        "begin a comment with #, or put quotes around the text",
        False,
    ),
    (
        "comment or",
        "behind | or > the text begins on the next line",
        "write the text below, indented; or put quotes around the whole text",
        False,
    ),
    (
        "alphabetic or numeric character",
        "text cannot begin with & or *",
        QUOTE,
        False,
    ),
    (
        "incompatible YAML document",
        "a book is written in YAML 1.2",
        "delete this line",
        False,
    ),
    (
        "hexdecimal",
        "a backslash within double quotes means something else here",
        "use single quotes around text with backslashes",
        False,
    ),
    (
        " tag ",
        "text cannot begin with !",
        QUOTE,
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


def syntax_finding(source: Source, error: Exception, last: Any = None) -> Finding:
    """Turn a parser's exception into a finding in our own words.

    ``last`` is the event of the last text that the parser has read, if any.
    """
    problem = " ".join(
        str(part)
        for part in (getattr(error, "context", None), getattr(error, "problem", None))
        if part
    )
    begun, given_up = getattr(error, "context_mark", None), getattr(error, "problem_mark", None)
    within = given_up and (
        _swallowed(source, given_up, last) or _within_text(source, problem, begun, given_up)
    )
    if within:
        return within
    sentence, way_out, at_begin = (
        "this is not YAML" + (f" ({problem})" if problem else ""),
        "check brackets, quotes, colons and indentation here",
        False,
    )
    for piece, said, out, begin in _SYNTAX:
        if piece in f"{problem} ":
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


def _swallowed(source: Source, given_up: Point, last: Any) -> Finding | None:
    """Return the finding about a quotation mark that took the lines below it for its text.

    Nothing is wrong until another quotation mark, often an apostrophe far below, ends that text
    and something follows: the slip is where it began.
    """
    if last is None or not last.style or last.style not in "'\"":
        return None
    start, end = last.start_mark, last.end_mark
    inner = source.lines[start.line + 1 : end.line + 1]
    if end.line != given_up.line or not any(map(_KEY_WITH_VALUE.match, inner)):
        return None
    return _at(
        source,
        Point(start.line, start.column),
        "a quotation mark is opened here and not closed on this line; the next one, on line "
        f"{end.line + 1}, closes it",
        "close it here, or delete it; double an apostrophe inside single quotes",
        max(1, len(source.lines[start.line].rstrip()) - start.column),
    )


_CLOSING = {"'": "quotation mark", '"': "quotation mark", "]": "bracket", "}": "brace"}


def _within_text(
    source: Source, problem: str, begun: Point | None, given_up: Point
) -> Finding | None:
    """Return the finding about a sign that ends a text in the middle of it, on the same line."""
    text = source.line(given_up.line + 1)
    before, sign = text[: given_up.column].rstrip(), text[given_up.column : given_up.column + 1]
    if not before or not sign.strip():
        return None
    if "mapping values are not allowed" in problem and _KEY_WITH_VALUE.match(before):
        return _at(
            source,
            given_up,
            "a colon with a blank behind it stands within a text",
            f"{QUOTE}, from behind the first colon on; or should the second name begin a line "
            "of its own?",
        )
    if "expected ',' or" in problem and begun is not None:
        around = source.line(begun.line + 1)
        if given_up.line != begun.line and _indent(text) <= _indent(around):
            return None  # the line after a bracket that was never closed
        if sign == ":" and given_up.line != begun.line and not re.search(r"[:,]", before):
            return None
        if sign == ":":
            return _at(
                source, given_up, "a colon with a blank behind it stands within a text", QUOTE
            )
    elif "expected key" not in problem and "<block end>" not in problem:
        return None
    if sign in "]}":
        return _at(
            source,
            given_up,
            f"there is a {_CLOSING[sign]} here that closes nothing",
            "delete it, or open it before; if it belongs to a text, put quotes around that text",
        )
    if sign in "[{":
        return _at(source, given_up, "a bracket or brace stands within a text", QUOTE)
    if before[-1] in _CLOSING:
        double = ", and double an apostrophe inside single quotes" if before[-1] == "'" else ""
        return _at(
            source,
            given_up,
            f"text goes on behind the {_CLOSING[before[-1]]} that has ended it",
            QUOTE + double,
        )
    return None


def _at(source: Source, point: Point, sentence: str, way_out: str, length: int = 1) -> Finding:
    line, column = point.line + 1, point.column + 1
    place = Place.at(source, line, column, line, column + length)
    return Finding("yaml-syntax", Severity.ERROR, sentence, place, way_out)


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
