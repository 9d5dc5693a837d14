"""Where in a file a key or a value stands."""

from __future__ import annotations

import pytest

from setwright.scenes.finding import Source
from setwright.scenes.places import KeyPath, end_of, is_cut
from setwright.scenes.text import read_document

TEXT = """\
night: Test
note: over
  two lines   # and a comment
long: "over
  more"
sets:
  - name: One
    play: [Tune, {song: Other, capo: 2}]
  # between
  - {name: Two}
empty:
"""


@pytest.mark.parametrize(
    ("path", "value", "key"),
    [
        # Line and the columns from the first to the one behind the last, counted from 1.
        (("night",), (1, 8, 12), (1, 1, 6)),
        (("note",), (2, 7, 11), (2, 1, 5)),
        (("long",), (4, 7, 12), (4, 1, 5)),
        # A list or a mapping is shown at its key.
        (("sets",), (6, 1, 5), (6, 1, 5)),
        (("sets", 0), (7, 5, 9), (7, 5, 9)),
        (("sets", 0, "name"), (7, 11, 14), (7, 5, 9)),
        (("sets", 0, "play"), (8, 5, 9), (8, 5, 9)),
        (("sets", 0, "play", 0), (8, 12, 16), (8, 12, 16)),
        (("sets", 0, "play", "Tune"), (8, 12, 16), (8, 12, 16)),
        (("sets", 0, "play", 1), (8, 19, 23), (8, 19, 23)),
        (("sets", 0, "play", 1, "capo"), (8, 38, 39), (8, 32, 36)),
        (("sets", 1, "name"), (10, 12, 15), (10, 6, 10)),
        # What is not there is shown at the longest part of its path that is.
        (("night", "x"), (1, 8, 12), (1, 8, 12)),
        (("sets", 0, "play", 0, "song"), (8, 12, 16), (8, 12, 16)),
        (("empty",), (11, 1, 6), (11, 1, 6)),
    ],
)
def test_places_of_values_and_keys(
    path: KeyPath, value: tuple[int, int, int], key: tuple[int, int, int]
) -> None:
    spot = read_document(Source("x.yaml", TEXT)).spot
    found = [
        (one.line, one.column, one.end_column) for one in (spot.find(path), spot.find_key(path))
    ]
    assert found == [value, key]


@pytest.mark.parametrize(
    ("path", "holds"),
    [(("night",), True), (("sets", 1), True), (("sets", 2), False), (("night", "x"), False)],
)
def test_what_a_text_holds(path: KeyPath, holds: bool) -> None:
    assert read_document(Source("x.yaml", TEXT)).spot.holds(path) is holds


@pytest.mark.parametrize(
    ("text", "end", "cut"),
    [
        ("a: b\n", (1, 1, 5), False),
        ("a: b\n  c: d  \n\n", (2, 3, 7), False),
        ("a: b\nc", (2, 1, 2), True),
        ("", (1, 1, 1), False),
    ],
)
def test_the_end_of_a_file(text: str, end: tuple[int, int, int], cut: bool) -> None:
    place = end_of(Source("x.yaml", text))
    assert (place.line, place.column, place.end_column) == end
    assert is_cut(Source("x.yaml", text)) is cut
