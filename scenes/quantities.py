"""Numbers with their units: parsed once, typed ever after.

Every ``parse_*`` function takes the text that was typed and returns a value, or raises
`Slip` with a sentence and a way out; `records` turns slips into findings with their place.
Times are kept in milliseconds, currents in milliamperes, voltages in volts, all as exact
fractions, so that 1.1 is 1.1.
"""

from __future__ import annotations

import re
from fractions import Fraction
from typing import NamedTuple


class Slip(ValueError):  # noqa: N818 (what a musician types is a slip, not our error)
    """What is wrong with one value: a code, a sentence and a way out."""

    def __init__(self, code: str, message: str, way_out: str) -> None:
        super().__init__(message)
        self.code = code
        self.message = message
        self.way_out = way_out


def quoted(text: str) -> str:
    """Return ``text`` in quotation marks, cut to a length that a finding can show."""
    return f"‘{text if len(text) <= 60 else text[:57] + '…'}’"


LONGEST = 100
"""Characters of a quantity, runs of blanks counted as one; all that fit are far shorter."""


def tidy(text: str) -> str:
    """Return ``text`` for a pattern to look at: single blanks, none at the ends, and short.

    A pattern may try every way to share a run of blanks out; so it never sees one, and of a
    text that is longer than any quantity it sees nothing. Takes time in proportion to the text.
    """
    words = " ".join(text.split())
    return words if len(words) <= LONGEST else ""


_NUMBER = re.compile(r"[+-]?(?:\d{1,12}(?:\.\d{0,9})?|\.\d{1,9})", re.ASCII)


def parse_number(text: str, what: str = "a number") -> Fraction:
    """Return the decimal number in ``text``; at most 12 digits before the point, 9 after.

    ``what`` names the expected thing in the sentence. YAML's ``1_000``, ``1e3``, ``0x10`` and
    ``.inf`` are refused; ``010`` is ten, as in YAML 1.2.2 (section 10.3.2, tag resolution).
    """
    text = text.strip()
    if _NUMBER.fullmatch(text):
        return Fraction(text if not text.endswith(".") else text + "0")
    if "_" in text and text.replace("_", "").isdecimal():
        raise Slip(
            "not-a-number",
            f"{quoted(text)} is not {what}",
            f"write {text.replace('_', '')}" if len(text) < 20 else "leave out the underscores",
        )
    raise Slip("not-a-number", f"{quoted(text)} is not {what}", f"write {what}")


def parse_whole(text: str, low: int, high: int, what: str, code: str = "out-of-range") -> int:
    """Return the whole number in ``text`` if it lies from ``low`` to ``high``, both included."""
    number = parse_number(text, f"a whole number from {low} to {high}")
    if number.denominator != 1:
        raise Slip(
            "not-a-number", f"{quoted(text)} is not a whole number", f"write {low} to {high}"
        )
    if not low <= number <= high:
        raise Slip(
            code, f"{what} {quoted(text)} is not from {low} to {high}", f"write {low} to {high}"
        )
    return int(number)


def parse_channel(text: str) -> int:
    """Return a MIDI channel as people count it, 1 to 16.

    Source: MIDI 1.0 Detailed Specification 4.2.1, channel messages (4 bits, shown from 1).
    """
    return parse_whole(text, 1, 16, "channel", "channel-out-of-range")


def parse_listening(text: str) -> int | str:
    """Return the channel on which a unit listens, or ``omni`` for all of them."""
    return "omni" if text.strip().lower() == "omni" else parse_channel(text)


def parse_control_number(text: str) -> int:
    """Return a control number, 0 to 119.

    120 to 127 are channel mode messages and no controls. Source: MIDI 1.0 Detailed
    Specification 4.2.1, Table III and channel mode messages.
    """
    number = parse_whole(text, 0, 127, "control", "control-out-of-range")
    if number > 119:
        raise Slip(
            "control-is-mode-message",
            f"{number} is no control: 120 to 127 are channel mode messages",
            "write the control's number, 0 to 119, as the unit's manual lists it",
        )
    return number


def parse_data_byte(text: str) -> int:
    """Return a control's value, 0 to 127 (7 bits; MIDI 1.0 Detailed Specification 4.2.1)."""
    return parse_whole(text, 0, 127, "value")


def parse_yes(text: str) -> bool:
    """Return a yes or no; ``on``/``off`` and ``true``/``false`` are understood too."""
    known = {"yes": True, "no": False, "on": True, "off": False, "true": True, "false": False}
    try:
        return known[text.strip().lower()]
    except KeyError:
        raise Slip(
            "not-yes-or-no", f"{quoted(text)} is neither yes nor no", "write yes or no"
        ) from None


def parse_name(text: str) -> str:
    """Return a name: some text on one line, at most 200 characters, spaces at its ends cut."""
    name = " ".join(text.split())
    if not name:
        raise Slip("empty-value", "nothing stands here", "write a name")
    if len(name) > 200:
        raise Slip("name-too-long", "this name is longer than 200 characters", "shorten it")
    return name


def parse_text(text: str) -> str:
    """Return free text, spaces at its ends cut; at most 2,000 characters."""
    if len(text) > 2000:
        raise Slip("text-too-long", "this text is longer than 2,000 characters", "shorten it")
    return text.strip()


class Amount(NamedTuple):
    """A number with its unit: ``ms``, ``%``, ``Hz``, ``dB``, or none. Seconds become ms."""

    value: Fraction
    unit: str = ""

    def __str__(self) -> str:
        return f"{plain_number(self.value)} {self.unit}".strip()


_UNITS = {"ms": "ms", "s": "ms", "%": "%", "hz": "Hz", "db": "dB", "": ""}
_AMOUNT = re.compile(r"([+-]?[\d.]+)\s*(\D*)", re.ASCII)


def parse_amount(text: str) -> Amount:
    """Return a number with one of the units ms, s, %, Hz, dB, or without any."""
    match = _AMOUNT.fullmatch(tidy(text))
    unit = match.group(2).strip().lower() if match else "?"
    if match is None or unit not in _UNITS:
        raise Slip(
            "not-an-amount",
            f"{quoted(text)} is not a number with ms, s, %, Hz or dB",
            "write for example 20 ms, 1.8 s, 40 % or 64",
        )
    number = parse_number(match.group(1))
    return Amount(number * 1000 if unit == "s" else number, _UNITS[unit])


def parse_milliseconds(text: str) -> Fraction:
    """Return a time in milliseconds from text such as ``120 ms`` or ``1.8 s``.

    At most 60,000 ms, at least 0: this is for boxes, not for songs.
    """
    amount = parse_amount(text)
    if amount.unit != "ms":
        raise Slip("not-a-time", f"{quoted(text)} is not a time", "write for example 120 ms")
    if not 0 <= amount.value <= 60_000:
        raise Slip("out-of-range", f"{quoted(text)} is not from 0 ms to 60 s", "write 0 to 60 s")
    return amount.value


def parse_duration(text: str) -> Fraction:
    """Return a length in seconds: ``45 min``, ``3:10``, ``65 s``, ``1 min 5 s``, ``1 h 10 min``.

    More than nothing, at most 24 hours.
    """
    seconds = _clock(tidy(text))
    if seconds is None or not 0 < seconds <= 86_400:
        raise Slip(
            "not-a-duration",
            f"{quoted(text)} is not a length of time",
            "write for example 45 min, 3:10 or 1 min 5 s",
        )
    return seconds


_CLOCK = re.compile(r"(\d{1,3}):([0-5]\d)(?::([0-5]\d))?", re.ASCII)
_SPELT = re.compile(
    r"(?:(\d{1,2})\s*h)?\s*(?:(\d{1,4})\s*min)?\s*(?:(\d{1,5}(?:\.\d{1,3})?)\s*s)?", re.ASCII
)


def _clock(text: str) -> Fraction | None:
    if match := _CLOCK.fullmatch(text):
        first, second, third = match.groups()
        if third is not None:
            return Fraction(int(first) * 3600 + int(second) * 60 + int(third))
        return Fraction(int(first) * 60 + int(second))
    match = _SPELT.fullmatch(text)
    if match is None or not any(match.groups()):
        return None
    hours, minutes, seconds = match.groups()
    return int(hours or 0) * 3600 + int(minutes or 0) * 60 + Fraction(seconds or 0)


def parse_clock(text: str) -> Fraction:
    """Return a point within a song in seconds from its start; 0:00 is allowed."""
    seconds = _clock(tidy(text))
    if seconds is None or seconds > 86_400:
        raise Slip(
            "not-a-place", f"{quoted(text)} is not a point in time", "write for example 1:05"
        )
    return seconds


class Span(NamedTuple):
    """A range from ``low`` to ``high``, both included, in one unit."""

    low: Fraction
    high: Fraction
    unit: str = ""

    def __str__(self) -> str:
        return f"{plain_number(self.low)} to {plain_number(self.high)} {self.unit}".strip()


def parse_whole_span(text: str, low: int, high: int, what: str) -> tuple[int, int]:
    """Return the two whole numbers of ``1 to 12`` (or twice the one of ``12``)."""
    first, middle, last = text.partition(" to ")
    begin = parse_whole(first, low, high, what)
    end = parse_whole(last, low, high, what) if middle else begin
    if end < begin:
        raise Slip("span-backwards", f"{quoted(text)} runs backwards", f"write {end} to {begin}")
    return begin, end


def parse_linear(text: str) -> tuple[Amount, Amount]:
    """Return the ends of a control's straight curve: ``20 ms to 1800 ms``; they may fall."""
    first, middle, last = text.partition(" to ")
    if not middle:
        raise Slip(
            "not-a-range", f"{quoted(text)} has no ‘to’", "write for example 20 ms to 1800 ms"
        )
    begin, end = parse_amount(first), parse_amount(last)
    if not begin.unit and end.unit:
        begin = Amount(begin.value * (1000 if _in_seconds(last) else 1), end.unit)
    if begin.unit != end.unit:
        raise Slip(
            "units-differ", f"the two ends of {quoted(text)} have different units", "use one unit"
        )
    if begin.value == end.value:
        raise Slip("range-empty", f"{quoted(text)} begins where it ends", "write two values")
    return begin, end


def _in_seconds(text: str) -> bool:
    return text.strip().lower().endswith("s") and not text.strip().lower().endswith("ms")


_TIME_OF_DAY = re.compile(r"(\d{1,2}):([0-5]\d)(?:\s*([ap])m)?", re.ASCII | re.IGNORECASE)


def parse_time_of_day(text: str) -> int:
    """Return the minutes since midnight of ``20:30`` or ``8:30 pm``."""
    match = _TIME_OF_DAY.fullmatch(tidy(text))
    if match is not None:
        hour, minute, half = int(match.group(1)), int(match.group(2)), match.group(3)
        if half is not None and 1 <= hour <= 12:
            return hour % 12 * 60 + minute + (720 if half.lower() == "p" else 0)
        if half is None and hour < 24:
            return hour * 60 + minute
    raise Slip(
        "not-a-time-of-day",
        f"{quoted(text)} is not a time of day",
        "write for example 20:30 or 8:30 pm",
    )


_CURRENT = re.compile(r"([\d.]+)\s*(mA|A)", re.ASCII | re.IGNORECASE)


def parse_current(text: str) -> Fraction:
    """Return a current in mA from ``45 mA`` or ``0.3 A``; more than 0, at most 10 A."""
    match = _CURRENT.fullmatch(tidy(text))
    if match is None:
        raise Slip("not-a-current", f"{quoted(text)} is not a current", "write for example 45 mA")
    value = parse_number(match.group(1)) * (1 if match.group(2).lower() == "ma" else 1000)
    if not 0 < value <= 10_000:
        raise Slip("out-of-range", f"{quoted(text)} is not from 1 mA to 10 A", "check the label")
    return value


_VOLTAGE = re.compile(r"([\d.]+)(?:\s*V?\s*to\s*([\d.]+))?\s*V", re.ASCII | re.IGNORECASE)


def parse_voltage(text: str) -> Span:
    """Return a voltage or a range of voltages in V: ``9 V``, ``9 to 18 V``; at most 60 V.

    Boxes that run straight from the mains do not belong here.
    """
    match = _VOLTAGE.fullmatch(tidy(text))
    if match is None:
        raise Slip(
            "not-a-voltage",
            f"{quoted(text)} is not a voltage",
            "write for example 9 V or 9 to 18 V",
        )
    low = parse_number(match.group(1))
    high = parse_number(match.group(2)) if match.group(2) else low
    if not 0 < low <= high <= 60:
        raise Slip(
            "out-of-range",
            f"{quoted(text)} is not a low voltage from 1 to 60 V",
            "leave mains-powered units out; a licensed technician looks after those",
        )
    return Span(low, high, "V")


def plain_number(value: Fraction) -> str:
    """Return ``value`` as people write it: no exponent, at most three decimals, no idle zeros."""
    if value.denominator == 1:
        return str(value.numerator)
    return f"{float(value):.3f}".rstrip("0").rstrip(".")
