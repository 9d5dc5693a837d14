"""Numbers with units: what is read, what is refused, and with which words."""

from __future__ import annotations

from collections.abc import Callable
from fractions import Fraction
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from setwright.scenes import quantities as q
from setwright.scenes.quantities import Amount, Slip, Span
from setwright.scenes.sight import parse_centimetres

READ: list[tuple[Callable[[str], Any], str, Any]] = [
    (q.parse_number, "1.10", Fraction(11, 10)),
    # YAML 1.2.2, section 10.3.2: 010 is the integer ten.
    (q.parse_number, "010", Fraction(10)),
    (q.parse_number, " 7. ", Fraction(7)),
    (q.parse_number, ".5", Fraction(1, 2)),
    (q.parse_channel, "16", 16),
    (q.parse_listening, "Omni", "omni"),
    (q.parse_control_number, "119", 119),
    (q.parse_yes, "on", True),
    (q.parse_yes, "No", False),
    (q.parse_amount, "1.8 s", Amount(Fraction(1800), "ms")),
    (q.parse_amount, "20ms", Amount(Fraction(20), "ms")),
    (q.parse_amount, "-6 dB", Amount(Fraction(-6), "dB")),
    (q.parse_amount, "64", Amount(Fraction(64))),
    (q.parse_milliseconds, "0 ms", Fraction(0)),
    (q.parse_duration, "45 min", Fraction(2700)),
    (q.parse_duration, "3:10", Fraction(190)),
    (q.parse_duration, "1:02:03", Fraction(3723)),
    (q.parse_duration, "1 min 5 s", Fraction(65)),
    (q.parse_duration, "1 h 10 min", Fraction(4200)),
    (q.parse_clock, "0:00", Fraction(0)),
    (q.parse_clock, "12:30", Fraction(750)),
    (q.parse_linear, "20 to 1800 ms", (Amount(Fraction(20), "ms"), Amount(Fraction(1800), "ms"))),
    (q.parse_linear, "0.1 to 2 s", (Amount(Fraction(100), "ms"), Amount(Fraction(2000), "ms"))),
    (q.parse_linear, "10 Hz to 1 Hz", (Amount(Fraction(10), "Hz"), Amount(Fraction(1), "Hz"))),
    (q.parse_time_of_day, "20:30", 1230),
    (q.parse_time_of_day, "8:05", 485),
    (q.parse_time_of_day, "12:00 am", 0),
    (q.parse_time_of_day, "12:15 PM", 735),
    (q.parse_time_of_day, "11:59pm", 1439),
    (parse_centimetres, "1.6 m", Fraction(160)),
    (parse_centimetres, "80cm", Fraction(80)),
    (q.parse_current, "0.3 A", Fraction(300)),
    (q.parse_current, "45 mA", Fraction(45)),
    (q.parse_voltage, "9 to 18 V", Span(Fraction(9), Fraction(18), "V")),
    (q.parse_voltage, "9V", Span(Fraction(9), Fraction(9), "V")),
    (q.parse_name, "  two   words ", "two words"),
]


@pytest.mark.parametrize(("parse", "text", "value"), READ)
def test_is_read(parse: Callable[[str], Any], text: str, value: Any) -> None:
    assert parse(text) == value


REFUSED: list[tuple[Callable[[str], Any], str, str, str]] = [
    (q.parse_number, "1_000", "not-a-number", "write 1000"),
    (q.parse_number, "1e999", "not-a-number", "write a number"),
    (q.parse_number, "9" * 5000, "not-a-number", "write a number"),
    (q.parse_number, "0x10", "not-a-number", "write a number"),
    (q.parse_channel, "0", "channel-out-of-range", "write 1 to 16"),
    (q.parse_channel, "17", "channel-out-of-range", "write 1 to 16"),
    (q.parse_channel, "3.5", "not-a-number", "write 1 to 16"),
    # MIDI 1.0 Detailed Specification 4.2.1, channel mode messages: 120 to 127.
    (q.parse_control_number, "120", "control-is-mode-message", "0 to 119"),
    (q.parse_control_number, "128", "control-out-of-range", "write 0 to 127"),
    (q.parse_data_byte, "-1", "out-of-range", "write 0 to 127"),
    (q.parse_yes, "maybe", "not-yes-or-no", "write yes or no"),
    (q.parse_amount, "20 furlongs", "not-an-amount", "20 ms"),
    (q.parse_milliseconds, "20 %", "not-a-time", "120 ms"),
    (q.parse_milliseconds, "61 s", "out-of-range", "60 s"),
    (q.parse_duration, "0 s", "not-a-duration", "45 min"),
    (q.parse_duration, "3:75", "not-a-duration", "3:10"),
    (q.parse_linear, "20 ms", "not-a-range", "20 ms to 1800 ms"),
    (q.parse_linear, "20 ms to 30 %", "units-differ", "one unit"),
    (q.parse_linear, "20 ms to 20 ms", "range-empty", "two values"),
    (q.parse_current, "45", "not-a-current", "45 mA"),
    (q.parse_time_of_day, "24:00", "not-a-time-of-day", "20:30"),
    (q.parse_time_of_day, "13:00 pm", "not-a-time-of-day", "20:30"),
    (q.parse_time_of_day, "20", "not-a-time-of-day", "20:30"),
    (q.parse_time_of_day, "20.30", "not-a-time-of-day", "20:30"),
    (parse_centimetres, "1.6", "not-a-distance", "1.6 m"),
    (parse_centimetres, "6 m", "out-of-range", "measure"),
    (parse_centimetres, "19 cm", "out-of-range", "measure"),
    (q.parse_current, "11 A", "out-of-range", "label"),
    (q.parse_voltage, "230 V", "out-of-range", "licensed technician"),
    (q.parse_voltage, "18 to 9 V", "out-of-range", "technician"),
    (q.parse_voltage, "9 V V", "not-a-voltage", "9 V"),
    (q.parse_channel, "\u0664", "not-a-number", "1 to 16"),
    (q.parse_name, "  ", "empty-value", "write a name"),
    (q.parse_name, "x" * 201, "name-too-long", "shorten"),
]


@pytest.mark.parametrize(("parse", "text", "code", "way_out"), REFUSED)
def test_is_refused(parse: Callable[[str], Any], text: str, code: str, way_out: str) -> None:
    with pytest.raises(Slip) as caught:
        parse(text)
    assert caught.value.code == code
    assert way_out in caught.value.way_out
    assert len(caught.value.message) < 200


def test_a_span_of_whole_numbers() -> None:
    assert q.parse_whole_span("1 to 12", 1, 1000, "bank") == (1, 12)
    assert q.parse_whole_span("7", 1, 1000, "bank") == (7, 7)
    with pytest.raises(Slip, match="not a whole number"):
        q.parse_whole_span("1 to ", 1, 1000, "bank")
    with pytest.raises(Slip, match="runs backwards"):
        q.parse_whole_span("12 to 1", 1, 1000, "bank")


PARSERS = sorted({case[0] for case in READ}, key=lambda parse: parse.__name__)


@given(st.sampled_from(PARSERS), st.text(max_size=40))
def test_any_text_is_read_or_slips(parse: Callable[[str], Any], text: str) -> None:
    try:
        value = parse(text)
    except Slip as slip:
        assert slip.code
        assert slip.way_out
    else:
        assert value is not None


@given(st.fractions(min_value=-10_000, max_value=10_000, max_denominator=1000))
def test_plain_numbers_read_back(value: Fraction) -> None:
    shown = q.plain_number(value)
    assert "e" not in shown
    assert abs(Fraction(shown) - value) <= Fraction(1, 2000)
