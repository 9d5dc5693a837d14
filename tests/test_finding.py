"""Findings as people and programs read them."""

from __future__ import annotations

import json
import unicodedata
from collections.abc import Callable

import pytest
from hypothesis import given
from hypothesis import strategies as st

from setwright.scenes.finding import (
    Finding,
    Place,
    Related,
    Severity,
    Source,
    Table,
    in_order,
    render,
    summary,
    visible,
    worst,
)
from setwright.scenes.wording import number_of, with_article

TEXT = "songs:\n- title: Tune\n  key:\tF #minor\n\n- title: \x1b[31mRed\u202e\n"


def finding(line: int, column: int, end: int, code: str = "some-code") -> Finding:
    source = Source("songs.yaml", TEXT)
    place = Place.at(source, line, column, line, end)
    return Finding(code, Severity.ERROR, "something is wrong", place, "mend it")


def test_as_text(golden: Callable[[str, str], None]) -> None:
    plain = finding(2, 10, 14)
    related = Related("the other one", Place.at(plain.place.source, 1, 1, 1, 6))
    two = Finding("two-places", Severity.WARNING, "two clash", plain.place, "keep one", (related,))
    long = Source("long.yaml", "x" * 500 + "HERE" + "y" * 500)
    far = Finding("far", Severity.NOTE, "far to the right", Place.at(long, 1, 501, 1, 505), "")
    wide = Source("wide.yaml", "題: 灯 é bad")
    accents = Finding("wide", Severity.ERROR, "wide", Place.at(wide, 1, 8, 1, 11), "see above")
    shown = [plain, two, finding(3, 8, 16), finding(5, 11, 16), finding(4, 1, 1), far, accents]
    golden("findings.txt", "\n\n".join(map(render, shown)) + "\n")


def test_a_long_line_is_cut_round_the_place() -> None:
    """At most 160 columns, 80 of them before the place where the line has so many."""
    text = "".join(chr(ord("a") + index // 10 % 26) for index in range(500))
    for column, end, before, carets in ((5, 9, 4, 4), (301, 305, 80, 4), (499, 501, 80, 2)):
        place = Place.at(Source("x", text), 1, column, 1, end)
        _, shown, under = render(Finding("c", Severity.NOTE, "m", place, "")).splitlines()
        cut = text[column - 1 - before :][:160]
        assert shown == f"  1 | {cut}"
        assert under == f"    | {' ' * before}{'^' * carets}"
    # What goes on beyond the cut, or in the next line, is underlined as far as can be seen.
    place = Place.at(Source("x", text), 1, 301, 1, 490)
    assert render(Finding("c", Severity.NOTE, "m", place, "")).count("^") == 80
    place = Place.at(Source("x", "abc\nde"), 1, 2, 2, 2)
    assert render(Finding("c", Severity.NOTE, "m", place, "")).endswith("\n    |  ^^")


def test_colour_only_where_asked() -> None:
    assert "\x1b" not in render(finding(5, 11, 20))
    assert "\x1b[1;31merror:\x1b[0m" in render(finding(2, 10, 14), colour=True)


def test_as_json() -> None:
    data = json.loads(json.dumps(finding(5, 11, 20).to_json()))
    assert data == {
        "code": "some-code",
        "severity": "error",
        "message": "something is wrong",
        "file": "songs.yaml",
        "line": 5,
        "column": 11,
        "end_line": 5,
        "end_column": 20,
        "help": "mend it",
        "related": [],
        "more": 0,
        "table": [],
    }


def test_a_table_in_columns_and_as_json() -> None:
    rows = (
        ("far", "near", "A", ("Start", "Last")),
        ("far", "near", "Long", ("Start",)),
        ("odd", "near", "A", ("St\x07art",)),
    )
    listed = finding(5, 11, 20)._replace(table=Table(("effect", "instead", "song", "scenes"), rows))
    assert render(listed).split("\n")[3:-1] == [
        "    effect  instead  song  scenes",
        "    far     near     A     Start, Last",
        "                     Long  Start",
        "    odd     near     A     St\\x07art",
    ]
    data = json.loads(json.dumps(listed.to_json()))
    assert data["table"] == [
        {"effect": "far", "instead": "near", "song": "A", "scenes": ["Start", "Last"]},
        {"effect": "far", "instead": "near", "song": "Long", "scenes": ["Start"]},
        {"effect": "odd", "instead": "near", "song": "A", "scenes": ["St\\x07art"]},
    ]


def test_order_and_counts() -> None:
    first, second, third = finding(1, 1, 2), finding(2, 1, 2, "a"), finding(2, 1, 2, "b")
    assert in_order([third, first, second, first]) == [first, second, third]
    assert summary([]) == "nothing found"
    assert summary([first, second]) == "2 errors"
    assert worst([]) is None
    note = Finding("n", Severity.NOTE, "", first.place, "")
    assert worst([note, first]) is Severity.ERROR
    warning = Finding("w", Severity.WARNING, "", first.place, "")
    assert worst([note, warning]) is worst([warning, note]) is Severity.WARNING
    assert summary([note, first, warning, first]) == "2 errors, 1 warning, 1 note"
    assert summary([note, first]) == "1 error, 1 note"


@given(st.text())
def test_nothing_hidden_reaches_the_terminal(text: str) -> None:
    shown = visible(text)
    # Spaces of other widths than one are no danger and stay.
    assert all(c.isprintable() or unicodedata.category(c) == "Zs" for c in shown)
    if text.isprintable():
        assert shown == text


@given(st.text(st.characters(codec="utf-8"), max_size=200), st.integers(1, 9), st.integers(1, 80))
def test_any_place_in_any_text_can_be_shown(text: str, line: int, column: int) -> None:
    place = Place.at(Source("x", text), line, column, line, column + 3)
    shown = render(Finding("c", Severity.NOTE, text, place, text))
    assert shown.startswith(f"x:{line}:{column}: note: ")


@pytest.mark.parametrize(
    ("noun", "said"),
    [
        ("scene", "a scene"),
        ("entry", "an entry"),
        ("effect", "an effect"),
        ("supply output", "a supply output"),
        ("eighth", "an eighth"),
        ("dotted eighth", "a dotted eighth"),
        ("1/8", "a 1/8"),
        ("unit", "a unit"),
        ("Amplifier", "an Amplifier"),
        ("hour", "an hour"),
        ("use", "a use"),
        ("one-shot", "a one-shot"),
        ("euphonium", "a euphonium"),
        ("instrument", "an instrument"),
        ("order", "an order"),
        ("up", "an up"),
        ("8 ms", "an 8 ms"),
        ("11/8", "an 11/8"),
        ("18 V", "an 18 V"),
        ("1 V", "a 1 V"),
    ],
)
def test_articles(noun: str, said: str) -> None:
    assert with_article(noun) == said


def test_one_and_many() -> None:
    assert [number_of(n, "bank") for n in (0, 1, 2, 12_000)] == [
        "0 banks",
        "1 bank",
        "2 banks",
        "12,000 banks",
    ]
    assert number_of(1, "switch", "switches") == "1 switch"
    assert number_of(3, "switch", "switches") == "3 switches"
