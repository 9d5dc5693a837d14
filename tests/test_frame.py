"""Facts on a full screen: whatever is to be shown, on screens of any size."""

from __future__ import annotations

import unicodedata

import pytest
from hypothesis import given
from hypothesis import strategies as st

pytest.importorskip("prompt_toolkit", reason="needs prompt_toolkit")

from wcwidth import wcswidth

from setwright.compiler.sending.rehearsing.frame import Row, cut, frame, wrapped
from setwright.compiler.sending.rehearsing.live import Fact

TEXTS = st.text(max_size=60) | st.sampled_from(
    ["The Swallow's Tail", "長い曲", "e\u0301tude", "\x1b[2J", "\u202eabc", "a\nb", "tab\there", ""]
)
FACTS = st.lists(
    st.builds(
        Fact,
        st.sampled_from(["now", "where", "by hand", "next", "sent", "message"]),
        TEXTS,
        st.integers(0, 6),
        st.just(0),
        st.booleans(),
    ),
    max_size=20,
)


@given(
    TEXTS,
    FACTS,
    st.lists(st.sampled_from(["space next", "q end", "← back"]), max_size=8),
    st.integers(1, 120),
    st.integers(1, 40),
)
def test_any_facts_on_a_screen_of_any_size(
    title: str, facts: list[Fact], keys: list[str], width: int, height: int
) -> None:
    rows = frame(title, facts, keys, width, height)
    assert len(rows) == height
    for row in rows:
        # Nothing moves the cursor: no control, format or line separator (Unicode, categories).
        assert not {unicodedata.category(one) for one in row.text} & {"Cc", "Cf", "Zl", "Zp"}
        # Widths by another library: Unicode Standard Annex 11, East Asian Width.
        assert wcswidth(row.text) <= width


TYPICAL = [
    Fact("now", "2. The Swallow's Tail / Lift", strong=True),
    Fact("where", "round 1 B, bank 2, switch 2, half = 104, Before soup", 2),
    Fact("cue", "concertina comes in", 4),
    Fact("by hand", "foot: swell open", 1),
    Fact("next", "2. The Swallow's Tail / Turn (round 2 A2)", strong=True),
    Fact("sent", "2 messages at 20:15:00.120, 0.3 ms after the key; sound 5 ms later", 1),
    Fact("message", "bf 00 00  switcher: bank select for bank 2, switch 2", 5),
    Fact("message", "cf 09  switcher: load bank 2, switch 2 (channel 16 program 9)", 5),
    Fact("port", "‘box’ is there", 1),
]
KEYS = ["space next", "← back", "r again", "s silence", "g go to", "d route", "c clock", "q end"]

SMALL = """\
Winter dance on Granary
now       2. The Swallow's Tail / Lift
where     round 1 B, bank 2, switch 2,
          half = 104, Before soup
by hand   foot: swell open
next      2. The Swallow's Tail / Turn…
sent      2 messages at 20:15:00.120,
          0.3 ms after the key; sound 5
          ms later
port      ‘box’ is there
space next  ← back  r again  s silence
g go to  d route  c clock  q end"""

TINY = """\
Winter dance on Gra…
now       2. The Sw…
by hand   foot: swe…
next      2. The Sw…
space next  ← back
r again  s silence"""


@pytest.mark.parametrize(("width", "height", "expected"), [(40, 12, SMALL), (20, 6, TINY)])
def test_what_matters_least_goes_first(width: int, height: int, expected: str) -> None:
    rows = frame("Winter dance on Granary", TYPICAL, KEYS, width, height)
    assert "\n".join(row.text.rstrip() for row in rows) == expected


def test_a_usual_screen_has_everything() -> None:
    rows = [row.text for row in frame("Winter dance on Granary", TYPICAL, KEYS, 80, 24)]
    for fact in TYPICAL:
        assert any(fact.text[:40] in row for row in rows), fact
    assert rows[-1] == "  ".join(KEYS)
    assert frame("x", [], [], 80, 2) == [Row("x", strong=True), Row("")]


@pytest.mark.parametrize(
    ("text", "width", "shown"),
    [
        ("Tune", 4, "Tune"),
        ("Tunes", 4, "Tun…"),
        ("長い曲", 6, "長い曲"),
        ("長い曲", 5, "長い…"),
        ("長い曲", 4, "長…"),
        ("a\x1bb", 6, "a\\x1bb"),
        ("abc", 1, "…"),
        ("abc", 0, ""),
    ],
)
def test_a_name_is_cut(text: str, width: int, shown: str) -> None:
    assert cut(text, width) == shown


@pytest.mark.parametrize(
    ("text", "width", "most", "rows"),
    [
        ("one two three", 7, 3, ["one two", "three"]),
        ("one two three", 7, 1, ["one tw…"]),
        ("one two three four", 7, 2, ["one two", "three…"]),
        ("abcdefghij", 4, 3, ["abcd", "efgh", "ij"]),
        ("", 4, 3, [""]),
    ],
)
def test_a_sentence_goes_on_in_the_next_row(
    text: str, width: int, most: int, rows: list[str]
) -> None:
    assert wrapped(text, width, most) == rows
