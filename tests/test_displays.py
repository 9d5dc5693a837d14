"""How boxes show their numbers."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from setwright.scenes.displays import counted, parse_display
from setwright.scenes.quantities import Slip


@pytest.mark.parametrize(
    ("display", "count", "readings"),
    [
        ("0 to 99", 100, {0: "0", 42: "42", 99: "99"}),
        ("1 to 128", 128, {0: "1", 127: "128"}),
        ("001 to 128", 128, {0: "001", 127: "128"}),
        ("A1 to H8", 64, {0: "A1", 8: "B1", 63: "H8"}),
        ("1A to 32D", 128, {0: "1A", 3: "1D", 4: "2A", 127: "32D"}),
        ("01-1 to 32-4", 128, {0: "01-1", 5: "02-2", 127: "32-4"}),
        ("A to E", 5, {0: "A", 4: "E"}),
        ("1 to 16384", 16384, {16383: "16384"}),
    ],
)
def test_readings(display: str, count: int, readings: dict[int, str]) -> None:
    shown = parse_display(display)
    assert shown.count == count
    for number, reading in readings.items():
        assert shown.show(number) == reading
        assert shown.read(reading) == number


@pytest.mark.parametrize(
    "text",
    [
        "",
        "99",
        "0-99",
        "9 to 0",
        "A1 to 8H",
        "A1 to H",
        "1 to 20000",
        "# to 9",
        "to 9",
        "- to -9",
        "A to 9",
        "1-1 to 9+9",
        "1 to 16385",
        "2 to 1",
        "B to A",
        "1 to",
    ],
)
def test_no_display(text: str) -> None:
    with pytest.raises(Slip) as caught:
        parse_display(text)
    assert caught.value.code == "not-a-display"


@pytest.mark.parametrize("text", ["0", "129", "A", "", "1 2", "1.5", "-1", "9" * 100])
def test_readings_refused(text: str) -> None:
    with pytest.raises(Slip) as caught:
        counted(128).read(text)
    assert caught.value.code == "program-out-of-range"
    assert "1 to 128" in caught.value.message


@pytest.mark.parametrize(
    ("display", "text"),
    [
        ("01-1 to 32-4", "01.1"),
        ("01-1 to 32-4", "01-5"),
        ("01-1 to 32-4", "33-1"),
        ("01-1 to 32-4", "00-1"),
        ("01-1 to 32-4", "01-"),
        ("01-1 to 32-4", "01-1-1"),
        ("01-1 to 32-4", "A-1"),
        ("A1 to H8", "11"),
        ("A1 to H8", "65 1"),
        ("A1 to H8", "AA"),
        ("A1 to H8", "I1"),
        ("A1 to H8", "A9"),
        ("A1 to H8", "A0"),
        ("B1 to H8", "A1"),
        ("A1 to H8", "A 1"),
        ("A1 to H8", "A1 1"),
        ("A1 to H8", "A"),
    ],
)
def test_readings_of_another_display_are_refused(display: str, text: str) -> None:
    with pytest.raises(Slip) as caught:
        parse_display(display).read(text)
    assert caught.value.code == "program-out-of-range"


@pytest.mark.parametrize("number", [-1, 5, 6])
def test_numbers_beyond_the_display(number: int) -> None:
    with pytest.raises(IndexError):
        counted(5).show(number)


@pytest.mark.parametrize(
    ("display", "number", "reading"),
    [
        ("9 to 12", 0, "9"),
        ("9 to 12", 3, "12"),
        ("09 to 12", 0, "09"),
        ("a1 to b2", 3, "B2"),
        ("A-1 to B-2", 2, "B-1"),
        ("1 to 1", 0, "1"),
    ],
)
def test_a_width_is_kept_only_where_zeros_show_it(display: str, number: int, reading: str) -> None:
    assert parse_display(display).show(number) == reading
    assert parse_display(display).read(reading) == number


DISPLAYS = ["0 to 99", "1 to 128", "A1 to H8", "1A to 32D", "01-1 to 32-4", "A-0-1 to C-9-2"]


@given(st.sampled_from(DISPLAYS), st.data())
def test_every_number_reads_back(text: str, data: st.DataObject) -> None:
    display = parse_display(text)
    number = data.draw(st.integers(0, display.count - 1))
    assert display.read(display.show(number)) == number
    assert display.read(display.show(number).lower()) == number
