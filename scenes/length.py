"""How long a song is: the one account, for checks, outputs and assumed places.

A song may say it twice, by its form and by the clock (``lasts:``). Which of the two counts:

* A form that says its rounds (``AABB, 3 rounds``) counts more than ``lasts``: it is what is
  played, and another tempo tonight makes it shorter or longer. Where tempo or meter is missing
  it gives bars alone, and ``lasts`` the seconds.
* Otherwise ``lasts`` counts, by the clock, at whatever tempo. A form without its rounds is then
  played as often as comes nearest to it at the song's own tempo.
* A form of parts with names that are no letters is played once, unless it says its rounds: who
  writes intro and chorus writes the whole song.
* Where nobody knows how long a part is (``until the singer nods``), ``lasts`` alone counts.
* A form without its rounds and without ``lasts`` is taken to be played once; that is a guess,
  and nothing is found wrong because of it.
"""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction
from typing import NamedTuple

from setwright.scenes.shapes import Shape
from setwright.scenes.songs import Song

TOLERANCE = Fraction(1, 10)
LEAST_TOLERANCE = Fraction(15)
"""How far ``lasts`` may be from what form and tempo make: a tenth, and 15 s in any case.

A band drifts by some percent, ``lasts`` is typed to the nearest ten seconds, and may count an
introduction or a last note that is held; a round too many of nine still shows (common practice,
no source).
"""


class Length(NamedTuple):
    """The length of a song as it is played tonight.

    ``shape`` is that of the song with as many rounds as are played, ``bars`` and ``seconds``
    reach from the first note to the last, None where nobody knows. ``key`` is what the length
    rests on: ``form`` or ``lasts``, empty if there is none. ``assumed`` tells that the number
    of rounds is a guess. ``by_form`` are the seconds that form and the song's own tempo make
    where that contradicts ``lasts``, else None.
    """

    shape: Shape
    bars: Fraction | None
    seconds: Fraction | None
    key: str
    assumed: bool = False
    by_form: Fraction | None = None

    @property
    def in_bars(self) -> bool:
        """Whether it is the bars that say when the song has ended."""
        return self.key == "form" and self.bars is not None

    def is_over(self, bars: Fraction | None, seconds: Fraction | None) -> bool:
        """Tell whether the song has ended when so many bars and seconds have passed.

        On the final bar line it has. False where that cannot be said: the length is not known,
        is a guess, or contradicts itself.
        """
        left = self._left(bars, seconds)
        return left is not None and left <= 0

    def is_beyond(self, bars: Fraction | None, seconds: Fraction | None) -> bool:
        """Tell whether the final bar line is passed by then; False as for `is_over`."""
        left = self._left(bars, seconds)
        return left is not None and left < 0

    def _left(self, bars: Fraction | None, seconds: Fraction | None) -> Fraction | None:
        """Return the bars or seconds that are left; None where that cannot be said."""
        if self.assumed or self.by_form is not None:
            return None
        if self.key == "form" and self.bars is not None and bars is not None:
            return self.bars - bars
        if self.seconds is None or seconds is None:
            return None
        return self.seconds - seconds


def length_of(song: Song, shape: Shape) -> Length:
    """Return the length of ``song``; ``shape`` is its own, at tonight's tempo."""
    form, lasts = shape.form, song.lasts
    own = shape if shape.tempo == song.tempo else song.shape
    by_form = _contradiction(own, lasts) if lasts is not None else None
    known = shape.full_bars is not None
    if form is not None and known and not form.rounds_said and lasts is not None:
        one = own.seconds_in_all
        if one is None:
            return Length(shape, None, lasts, "lasts")
        rounds = max(1, round(lasts / one))
        shape = replace(shape, form=form._replace(rounds=rounds))
        return Length(shape, shape.bars_in_all, lasts, "lasts", by_form=by_form)
    if form is None or not known:
        return Length(shape, None, lasts, "lasts" if lasts is not None else "")
    seconds = shape.seconds_in_all
    if seconds is None:
        seconds = lasts
    assumed = not form.rounds_said
    return Length(shape, shape.bars_in_all, seconds, "form", assumed, by_form)


def _contradiction(own: Shape, lasts: Fraction) -> Fraction | None:
    """Return the seconds that ``own`` makes, if ``lasts`` says something else."""
    made = own.seconds_in_all
    if made is None or own.form is None:
        return None
    # A form that does not say its rounds is played once or more often.
    beyond = abs(lasts - made) if own.form.rounds_said else made - lasts
    return made if beyond > max(LEAST_TOLERANCE, made * TOLERANCE) else None
