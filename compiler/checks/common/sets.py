"""How long the songs of a set take, for the checks that ask whether there is time for them."""

from __future__ import annotations

from fractions import Fraction
from typing import NamedTuple

from setwright.compiler.binding.bound import is_straight
from setwright.compiler.compiled import Compiled
from setwright.scenes.forms import AtTime
from setwright.scenes.night import Set


class Lasting(NamedTuple):
    """The seconds that the songs of a set take at least, pauses within it included.

    ``unknown`` are the songs of which nobody knows how long they take; they count for nothing.
    """

    seconds: Fraction
    unknown: int


def lasting(compiled: Compiled, one: Set) -> Lasting:
    """Return how long a set lasts, at tonight's tempos."""
    playing = {id(song.playing): song for song in compiled.songs if song.playing is not None}
    lengths = [playing[id(item)].resolved.length for item in one.play if id(item) in playing]
    known = [
        length.seconds for length in lengths if not length.assumed and length.seconds is not None
    ]
    pauses = sum(not is_straight(item) for item in one.play[1:])
    pause = compiled.book.night.between_songs or Fraction(0)
    return Lasting(sum(known, Fraction(0)) + pause * pauses, len(lengths) - len(known))


def clock(seconds: Fraction) -> str:
    """Return seconds in minutes and seconds: ``41:12``."""
    return str(AtTime(Fraction(round(seconds))))
