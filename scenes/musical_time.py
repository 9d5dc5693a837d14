"""Time in music: tempo with its beat, note values, meters, forms and places in a song.

One type for each; text is parsed once. Lengths in bars and beats become seconds only through
a tempo and a meter. Durations of notes are fractions of a whole note.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from fractions import Fraction
from functools import cached_property, lru_cache
from typing import NamedTuple

from setwright.scenes.quantities import (
    Slip,
    parse_clock,
    parse_number,
    plain_number,
    quoted,
    tidy,
)

_NOTES = {
    "whole": Fraction(1),
    "half": Fraction(1, 2),
    "quarter": Fraction(1, 4),
    "eighth": Fraction(1, 8),
    "sixteenth": Fraction(1, 16),
    "thirty-second": Fraction(1, 32),
    "1/1": Fraction(1),
    "1/2": Fraction(1, 2),
    "1/4": Fraction(1, 4),
    "1/8": Fraction(1, 8),
    "1/16": Fraction(1, 16),
    "1/32": Fraction(1, 32),
}
_NOTE_EXAMPLES = "quarter, dotted eighth, triplet quarter or half"


class NoteValue(NamedTuple):
    """A note's length as a fraction of a whole note: a dotted quarter is 3/8."""

    of_whole: Fraction
    name: str

    def __str__(self) -> str:
        return self.name


def parse_note_value(text: str) -> NoteValue:
    """Return a note value: ``quarter``, ``dotted eighth``, ``triplet quarter``, ``1/8``.

    A dot adds half; a triplet takes two thirds.
    """
    words = text.strip().lower().removesuffix(" note").split()
    factor = Fraction(1)
    for word in words[:-1]:
        if word == "dotted":
            factor *= Fraction(3, 2)
        elif word == "triplet":
            factor *= Fraction(2, 3)
        else:
            factor = Fraction(0)
    if not words or words[-1] not in _NOTES or not factor or len(words) > 2:
        raise Slip(
            "not-a-note-value", f"{quoted(text)} is not a note value", f"write {_NOTE_EXAMPLES}"
        )
    return NoteValue(_NOTES[words[-1]] * factor, " ".join(words))


SLOWEST, FASTEST = Fraction(10), Fraction(500)
"""Beats per minute between which a tempo is believed; our own limits, wider than any metronome."""


class Tempo(NamedTuple):
    """``bpm`` beats per minute, each beat a ``beat`` long."""

    beat: NoteValue
    bpm: Fraction

    @property
    def seconds_per_whole(self) -> Fraction:
        """Seconds that a whole note lasts."""
        return 60 / self.bpm / self.beat.of_whole

    @property
    def quarters_per_minute(self) -> Fraction:
        """The same speed counted in quarter notes, as MIDI files count it (RP-001)."""
        return self.bpm * self.beat.of_whole * 4

    def milliseconds(self, note: NoteValue) -> Fraction:
        """Return how long ``note`` lasts in ms at this tempo: 60000 ÷ BPM for one beat."""
        return self.seconds_per_whole * note.of_whole * 1000

    def __str__(self) -> str:
        return f"{self.beat} = {plain_number(self.bpm)}"


def parse_tempo(text: str) -> Tempo:
    """Return a tempo that names its beat: ``dotted quarter = 112``."""
    beat, equals, number = text.partition("=")
    if not equals:
        shown = text.strip()
        bare = shown.replace(".", "", 1).isdecimal() and len(shown) < 8
        raise Slip(
            "tempo-without-beat",
            f"the tempo {quoted(shown)} does not say which note it counts",
            f"write quarter = {shown} (a jig counts dotted quarters: dotted quarter = {shown})"
            if bare
            else "write for example quarter = 120, or dotted quarter = 112 for a jig",
        )
    bpm = parse_number(number, "a tempo in beats per minute")
    if not SLOWEST <= bpm <= FASTEST:
        raise Slip(
            "tempo-out-of-range",
            f"{quoted(number.strip())} beats per minute is no tempo",
            f"write {SLOWEST} to {FASTEST}",
        )
    return Tempo(parse_note_value(beat), bpm)


class Meter(NamedTuple):
    """A time signature: ``beats`` notes of 1/``unit`` in a bar."""

    beats: int
    unit: int

    @property
    def bar(self) -> Fraction:
        """The length of a bar as a fraction of a whole note."""
        return Fraction(self.beats, self.unit)

    def __str__(self) -> str:
        return f"{self.beats}/{self.unit}"


_METER = re.compile(r"(\d{1,2})\s*/\s*(\d{1,2})", re.ASCII)


def parse_meter(text: str) -> Meter:
    """Return a meter such as ``6/8``: 1 to 32 notes of a power of two up to 32."""
    match = _METER.fullmatch(tidy(text))
    if match is None:
        raise Slip("not-a-meter", f"{quoted(text)} is not a meter", "write for example 6/8 or 4/4")
    beats, unit = int(match.group(1)), int(match.group(2))
    if not 1 <= beats <= 32 or unit not in {1, 2, 4, 8, 16, 32}:
        raise Slip(
            "not-a-meter",
            f"{quoted(text)} is not a meter",
            "write 1 to 32 notes of 1, 2, 4, 8, 16 or 32",
        )
    return Meter(beats, unit)


BARS_IN_A_PART = 8
"""Bars of a part where a song does not say: common practice for dance tunes, no source."""


class Form(NamedTuple):
    """The parts of one round in playing order (``AABB``) and how many rounds are played.

    ``rounds_said`` is False where the number of rounds was assumed to be one.
    """

    parts: str
    rounds: int
    rounds_said: bool = True

    def __str__(self) -> str:
        return f"{self.parts}, {self.rounds} round{'' if self.rounds == 1 else 's'}"


_FORM = re.compile(r"([A-Za-z]{1,64})(?:\s*,\s*(\d{1,3})\s*rounds?)?", re.ASCII)


def parse_form(text: str) -> Form:
    """Return a form: part letters in playing order, then the number of rounds."""
    match = _FORM.fullmatch(tidy(text))
    if match is None or (match.group(2) and not 1 <= int(match.group(2)) <= 200):
        raise Slip(
            "not-a-form", f"{quoted(text)} is not a form", "write for example AABB, 3 rounds"
        )
    return Form(match.group(1).upper(), int(match.group(2) or 1), match.group(2) is not None)


class AtPart(NamedTuple):
    """The ``nth`` time (from 1) that ``part`` comes within round ``round``."""

    round: int
    part: str
    nth: int = 1

    def __str__(self) -> str:
        return f"round {self.round} {self.part}{self.nth if self.nth > 1 else ''}"


class AtBar(NamedTuple):
    """The beginning of a bar, counted from 1, or of a note of the meter within it."""

    bar: int
    beat: int = 1

    def __str__(self) -> str:
        return f"bar {self.bar}" + (f" beat {self.beat}" if self.beat > 1 else "")


class AtTime(NamedTuple):
    """Seconds after the song's first note."""

    seconds: Fraction

    def __str__(self) -> str:
        minutes, seconds = divmod(self.seconds, 60)
        whole, rest = divmod(seconds, 1)
        return f"{int(minutes)}:{int(whole):02d}" + (plain_number(rest)[1:] if rest else "")


Position = AtPart | AtBar | AtTime

_AT_PART = re.compile(r"round\s+(\d{1,3})(?:\s+([A-Za-z])\s?(\d{0,2}))?", re.ASCII | re.IGNORECASE)
_AT_BAR = re.compile(r"bar\s+(\d{1,4})(?:\s+beat\s+(\d{1,2}))?", re.ASCII | re.IGNORECASE)


def parse_position(text: str) -> Position:
    """Return a place in a song: ``round 2 A``, ``round 2 A2``, ``bar 17``, ``1:05``."""
    stripped = tidy(text)
    if match := _AT_PART.fullmatch(stripped):
        number, part, nth = match.groups()
        if int(number) and nth != "0":
            return AtPart(int(number), (part or "").upper(), int(nth or 1))
    elif match := _AT_BAR.fullmatch(stripped):
        bar, beat = int(match.group(1)), int(match.group(2) or 1)
        if bar and beat:
            return AtBar(bar, beat)
    else:
        try:
            return AtTime(parse_clock(stripped))
        except Slip:
            pass
    raise Slip(
        "not-a-place",
        f"{quoted(text)} is not a place in a song",
        "write for example round 2 A, round 2 A2 (its second A), bar 17 or 1:05",
    )


@dataclass(frozen=True)
class Shape:
    """What is needed to turn places into bars and seconds; None where a song does not say.

    ``bars`` pairs part letters with their bars; parts that are not in it have eight.
    """

    meter: Meter | None
    tempo: Tempo | None
    form: Form | None
    bars: tuple[tuple[str, int], ...] = ()

    @property
    def round(self) -> tuple[tuple[str, int, int], ...]:
        """The parts of one round: (letter, how often it has come, bars before it)."""
        return _round(self.form.parts, self.bars)[0] if self.form is not None else ()

    @property
    def bars_in_round(self) -> int:
        """Bars of one round; 0 without a form."""
        return _round(self.form.parts, self.bars)[1] if self.form is not None else 0

    @property
    def bars_in_all(self) -> int | None:
        """Bars from the first note to the last, or None without a form."""
        return self.form.rounds * self.bars_in_round if self.form is not None else None

    @property
    def seconds_in_all(self) -> Fraction | None:
        """Seconds from the first note to the last, or None where form or tempo is missing."""
        bars = self.bars_in_all
        return None if bars is None else self.seconds_of_bars(Fraction(bars))

    @property
    def part_starts(self) -> list[Fraction]:
        """The bars that have passed at the beginning of every part of every round."""
        rounds = self.form.rounds if self.form is not None else 0
        size = self.bars_in_round
        return [Fraction(n * size + before) for n in range(rounds) for _, _, before in self.round]

    def bar_of(self, position: Position) -> Fraction | None:
        """Return how many bars have passed at ``position``; None where that cannot be said."""
        match position:
            case AtBar(bar, beat):
                if self.meter is None:
                    return Fraction(bar - 1) if beat == 1 else None
                return bar - 1 + Fraction(beat - 1, self.meter.beats)
            case AtPart(number, part, nth):
                before = (number - 1) * self.bars_in_round
                for letter, count, bars in self.round:
                    if not part or (letter == part and count == nth):
                        return Fraction(before + bars)
                return None
            case AtTime(seconds):
                if self.meter is None or self.tempo is None:
                    return None
                return seconds / self.tempo.seconds_per_whole / self.meter.bar

    def position_at(self, bars: Fraction) -> Position:
        """Return how a player would name the place where ``bars`` bars have passed."""
        if self.form is not None and self.bars_in_round:
            number, rest = divmod(bars, self.bars_in_round)
            for part, nth, before in self.round:
                if rest == before:
                    return AtPart(int(number) + 1, part, nth)
        return AtBar(int(bars) + 1)

    def seconds_of_bars(self, bars: Fraction) -> Fraction | None:
        """Return how many seconds ``bars`` bars last; None where meter or tempo is missing."""
        if self.meter is None or self.tempo is None:
            return None
        return bars * self.seconds_of_a_bar

    @cached_property
    def seconds_of_a_bar(self) -> Fraction:
        """Seconds that one bar lasts; 0 where meter or tempo is missing."""
        if self.meter is None or self.tempo is None:
            return Fraction(0)
        return self.meter.bar * self.tempo.seconds_per_whole


@lru_cache(maxsize=256)
def _round(
    parts: str, bars: tuple[tuple[str, int], ...]
) -> tuple[tuple[tuple[str, int, int], ...], int]:
    """Return the parts of a round as `Shape.round` gives them, and the bars of the round."""
    said, seen, before = dict(bars), dict.fromkeys(parts, 0), 0
    result = []
    for part in parts:
        seen[part] += 1
        result.append((part, seen[part], before))
        before += said.get(part, BARS_IN_A_PART)
    return tuple(result), before
