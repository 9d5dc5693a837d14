"""Time in music: tempo with its beat, note values and meters.

One type for each; text is parsed once. Durations of notes are fractions of a whole note. Forms and
places in a song stand in `forms`, what makes seconds of bars in `shapes`.
"""

from __future__ import annotations

import re
from fractions import Fraction
from typing import NamedTuple

from setwright.scenes.quantities import (
    Slip,
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


class Free(NamedTuple):
    """No tempo: rubato. No time is known while it lasts."""

    def __str__(self) -> str:
        return "free"


FREE = Free()


def parse_pace(text: str) -> Tempo | Free:
    """Return a tempo, or `FREE` for ``free``."""
    return FREE if text.strip().lower() == "free" else parse_tempo(text)


def parse_notes(text: str) -> NoteValue:
    """Return one or several notes as one length: ``quarter``, ``3 eighths``."""
    words = text.strip().lower().split()
    if len(words) > 1 and words[0].isdecimal() and len(words[0]) < 3 and int(words[0]):
        count = int(words[0])
        note = parse_note_value(" ".join(words[1:]).removesuffix("s"))
        plural = "s" if count > 1 and not note.name[-1].isdecimal() else ""
        return NoteValue(note.of_whole * count, f"{count} {note.name}{plural}")
    return parse_note_value(text)
