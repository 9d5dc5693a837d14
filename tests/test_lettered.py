"""The table of letters that can be printed, against the library that prints them."""

from __future__ import annotations

import random

import pytest

from setwright.compiler.lettered import RANGES, lacking
from tests.covered import is_shown, printed_letters, ranges, shown_of


def covered() -> list[str]:
    pairs = [word.partition("-") for word in RANGES.split()]
    return [
        chr(number)
        for first, _, last in pairs
        for number in range(int(first, 16), int(last or first, 16) + 1)
    ]


def test_all_letters_of_the_table_are_printed() -> None:
    letters = covered()
    assert letters == sorted(set(letters))
    for at in range(0, len(letters), 256):
        part = letters[at : at + 256]
        assert list(shown_of(part)) == part


def test_its_neighbours_and_others_are_not() -> None:
    """Just outside of each range, and here and there in all of Unicode."""
    known = set(covered())
    others = [one for one in printed_letters() if one not in known]
    edges = {chr(end) for first, last in ranges(known) for end in (first - 1, last + 1)}
    drawn = random.Random(1903).sample(others, 200)
    for letter in sorted((edges & set(others)) | set(drawn)):
        assert lacking(letter) == (letter,)
        assert not is_shown([letter]), hex(ord(letter))


@pytest.mark.parametrize(
    ("text", "wanted"),
    [
        ("Haste to the Wedding", ""),
        ("¡Ríl an Ghleanna! ♭ ♯ → Ő ß ½ “é”", ""),
        ("Τραγούδι Песня אבג أغنية", ""),
        ("眠い眠い", "眠い"),
        ("🔥 loud", "🔥"),
        ("e\u0301 a\u0327", ""),
        ("\u202e \u200d \u00a0 \u3000 \t \x07", ""),
        ("", ""),
    ],
)
def test_what_is_lacking(text: str, wanted: str) -> None:
    assert lacking(text) == tuple(wanted)
