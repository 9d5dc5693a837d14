"""What the YAML parsers refuse, in our words: each row at its place, with its way out.

The expected sentences stand here in full: a row that is lost or altered is seen.
"""

from __future__ import annotations

import re

import pytest

from setwright.scenes.finding import Finding, Source
from setwright.scenes.syntax import _SYNTAX
from setwright.scenes.text import _Reader, read_document
from tests.books import small_book

FIT = (
    "this line does not fit under the lines above it",
    "indent it exactly as its neighbours; text that begins with a quotation mark must end with it",
)
BACKSLASH = (
    "a backslash within double quotes means something else here",
    "use single quotes around text with backslashes",
)
NO_NAME = (
    "a colon stands where no name can begin",
    "check the line above: is its colon missing, or its quotes? If the colon belongs to the text, "
    "put quotes around it",
)
COLON = "a colon with a blank behind it stands within a text"
QUOTE = "put quotes around the whole text"
SIGN = ("this sign cannot begin a value", f"{QUOTE}, or delete the sign")
BELOW = (
    "behind | or > the text begins on the next line",
    f"write the text below, indented; or {QUOTE}",
)
AND_OR_STAR = ("text cannot begin with & or *", QUOTE)
PERCENT = (
    "a line that begins with % is none of a book",
    "begin a comment with #, or put quotes around the text",
)
SECOND = (
    COLON,
    f"{QUOTE}, from behind the first colon on; or should the second name begin a line of its own?",
)

# The text with ▸ where the finding stands, its sentence and its way out.
ROWS: dict[str, tuple[str, str, str]] = {
    "a colon below a value": ("a: b\n  c▸: d\n", *NO_NAME),
    "a name without its colon": ("▸a\nb: c\n", *NO_NAME),
    "a line without its colon": (
        "a: b\n▸c\nd: e\n",
        "this line has no colon after its name",
        "write name: value",
    ),
    "double quotes to the end": (
        'a: ▸"b\nc: d\n',
        "a quotation mark is opened here and never closed",
        "close it, or double an apostrophe inside single quotes",
    ),
    "single quotes to the end": (
        "a: ▸'b\nc: d\n",
        "a quotation mark is opened here and never closed",
        "close it, or double an apostrophe inside single quotes",
    ),
    "quotes to a line of dashes": (
        'a: ▸"b\n--- c\n',
        "a quotation mark is opened here and not closed before the text ends",
        "close it",
    ),
    "a list left open": (
        "a: ▸[b, c\nd: e\n",
        "the list that opens with [ is not closed",
        "close it with ], and put commas between its items",
    ),
    "braces left open": (
        "a: ▸{b: c\nd: e\n",
        "the braces that open with { are not closed",
        "close them with }, and put commas between the entries",
    ),
    "a sign of no meaning": (
        "a: ▸@b\n",
        "this character cannot begin a value",
        "put quotes around the text; indent with spaces, never with tabs",
    ),
    "a line of another block": ("a:\n  b: c\n ▸d: e\n", *FIT),
    "a line below a list": (
        "a:\n  - b: c\n   ▸d: e\n",
        "this line does not fit into the list above it",
        "begin it with - at the same indentation as the other items, or indent it further",
    ),
    "a list behind a name": (
        "a: ▸- b\n",
        "a list item cannot begin here",
        "begin the list on a line of its own",
    ),
    "a backslash": (r'a: "b▸\q"' + "\n", *BACKSLASH),
    "a backslash with half a number": (r'a: "\x▸ZZ"' + "\n", *BACKSLASH),
    "half of a sign": (r'a: "\u▸d800"' + "\n", *BACKSLASH),
    "another version": (
        "▸%YAML 9.9\n---\na: b\n",
        "a book is written in YAML 1.2",
        "delete this line",
    ),
    "a comma that begins a value": ("a: ▸, b\n", *SIGN),
    "a dash that begins a cue": ("{a: ▸- b, c: d}\n", *SIGN),
    "two commas": ("{a: b,▸, c: d}\n", *SIGN),
    "text behind a bar": ("a: | ▸b\n", *BELOW),
    "text behind an angle": ("a: > ▸b\n", *BELOW),
    "a star alone": ("a: *▸ b\n", *AND_OR_STAR),
    "an and sign alone": ("a: &▸ b\n", *AND_OR_STAR),
    "a percent sign": ("%▸ a\n---\nb: c\n", *PERCENT),
    "an exclamation mark": ("a: ▸!b!c d\n", "text cannot begin with !", QUOTE),
    # A sign that ends a text in the middle of it.
    "a colon within braces": ("- {a: b, cue: caller says▸: now, c: d}\n", COLON, QUOTE),
    "a colon within braces over lines": ("- {a: b,\n   cue: caller says▸: now}\n", COLON, QUOTE),
    "a colon within a list": ("- [a, b: c▸: d]\n", COLON, QUOTE),
    "a second colon": ("a: slow▸: with the door open\n", *SECOND),
    "a second colon in a list": ("- a: Harvest▸: Home\n", *SECOND),
    "text behind double quotes": (
        'a:\n  b: "slow" ▸with the door open\n',
        "text goes on behind the quotation mark that has ended it",
        QUOTE,
    ),
    "an apostrophe in single quotes": (
        "a:\n  b: 'it'▸s slow'\n",
        "text goes on behind the quotation mark that has ended it",
        f"{QUOTE}, and double an apostrophe inside single quotes",
    ),
    "text behind a bracket": (
        "a:\n  b: [slow]▸, with the door open\n",
        "text goes on behind the bracket that has ended it",
        QUOTE,
    ),
    "text behind braces": (
        "a: {b: {lamp} ▸up, c: d}\n",
        "text goes on behind the brace that has ended it",
        QUOTE,
    ),
    "a bracket in a text": (
        "a: {b: lamp ▸[red] up, c: d}\n",
        "a bracket or brace stands within a text",
        QUOTE,
    ),
    "a bracket too many": (
        "a:\n  b: [c]▸]\n",
        "there is a bracket here that closes nothing",
        "delete it, or open it before; if it belongs to a text, put quotes around that text",
    ),
    "a brace too many": (
        "a:\n  b: {c: d}▸}\n",
        "there is a brace here that closes nothing",
        "delete it, or open it before; if it belongs to a text, put quotes around that text",
    ),
    # Far above the line at which the parser gives up.
    "a quotation mark that an apostrophe closes": (
        "a:\n  b: ▸'c\n" + "  d: e\n" * 250 + "  f: Soldier's Joy\n",
        "a quotation mark is opened here and not closed on this line; the next one, on line 253, "
        "closes it",
        "close it here, or delete it; double an apostrophe inside single quotes",
    ),
    "a quotation mark within braces that another closes": (
        'a: {b: ▸"c}\n' + "d: e\n" * 250 + 'f: "g"\n',
        "a quotation mark is opened here and not closed on this line; the next one, on line 252, "
        "closes it",
        "close it here, or delete it; double an apostrophe inside single quotes",
    ),
}  # fmt: skip
OTHERWISE = {"a line below a list": FIT}
"""What only the slower parser, which knows less, says of a case."""
FAST_ALONE = {"half of a sign", "another version"}
"""What the slower parser does not refuse, or not in words."""


def only(findings: list[Finding]) -> Finding:
    (finding,) = findings
    return finding


@pytest.mark.parametrize("name", ROWS)
@pytest.mark.parametrize("pure", [False, True])
def test_in_our_words(name: str, pure: bool) -> None:
    marked, sentence, way_out = ROWS[name]
    if pure and name in FAST_ALONE:
        return
    if pure and name in OTHERWISE:
        sentence, way_out = OTHERWISE[name]
    before, _, after = marked.partition("▸")
    found = only(_Reader(Source("x.yaml", before + after), pure=pure).read().findings)
    line, column = before.count("\n") + 1, len(before.rpartition("\n")[2]) + 1
    assert (found.message, found.help) == (sentence, way_out)
    assert (found.code, found.place.line) == ("yaml-syntax", line)
    # One of the parsers points at the backslash, the other behind it.
    assert found.place.column == column + (pure and name == "a backslash")


@pytest.mark.parametrize("row", range(len(_SYNTAX)))
def test_every_row_has_a_case(row: int, monkeypatch: pytest.MonkeyPatch) -> None:
    """Without the row, some case above comes out otherwise."""
    rest = _SYNTAX[:row] + _SYNTAX[row + 1 :]
    monkeypatch.setattr("setwright.scenes.syntax._SYNTAX", rest)
    changed = []
    for name, (marked, sentence, way_out) in ROWS.items():
        text = marked.replace("▸", "")
        for pure in (False,) if name in FAST_ALONE else (False, True):
            found = only(_Reader(Source("x.yaml", text), pure=pure).read().findings)
            expected = OTHERWISE.get(name, (sentence, way_out)) if pure else (sentence, way_out)
            if (found.message, found.help) != expected:
                changed.append(name)
    assert changed, _SYNTAX[row]


@pytest.mark.parametrize(
    "text", ["%YAML 9.9\n---\na: b\n", "%YAML 1.2\n---\na: {b: 1:05}\n", 'a: {b: 1:05, c: "\\UFFFFFFFF"}\n']
)  # fmt: skip
def test_a_fault_within_a_parser_is_no_traceback(text: str) -> None:
    for pure in (False, True):
        found = only(_Reader(Source("x.yaml", text), pure=pure).read().findings)
        assert found.help
    assert only(read_document(Source("x.yaml", text)).findings).place.line <= 3


@pytest.mark.parametrize("file", ["songs.yaml", "rig.yaml"])
@pytest.mark.parametrize("sign", ["'", '"', "[", "{"])
def test_what_is_opened_and_not_closed_is_found_where_it_is_opened(file: str, sign: str) -> None:
    """On every line of a book; before, an apostrophe 250 lines below took the blame."""
    lines = small_book()[file].split("\n")
    missed = []
    for number, line in enumerate(lines):
        value = re.match(r"\s*(?:- )?[^#:]+: +(?=[A-Za-z0-9])", line)
        if value is None:
            continue
        slip = line[: value.end()] + sign + line[value.end() :]
        text = "\n".join([*lines[:number], slip, *lines[number + 1 :]])
        found = read_document(Source(file, text)).findings[0]
        if found.place.line != number + 1:
            missed.append((number + 1, found.place.line, found.message))
    assert missed == []
