"""How high letters have to be, so that they are read from where the eyes are.

A letter that is seen at the angle α from the distance D is 2·D·tan(α/2) high. On a sheet that
lies flat it is foreshortened by the height of the eyes ÷ D, and has to be so much higher.

Angles, in minutes of arc, for the height of capitals and figures: 16′ at the least, 20′ to 22′
preferred (ISO 9241-3:1992, 5.4, withdrawn; NUREG-0700, 1.3.1-4). DIN 1450:2013 sizes by the height
of x, which is 0.74 of that of capitals in the letters that are printed here: it would have 22′ for
what has 20′ here. So it was weighed: at 22′ fewer songs share a page, and more is turned on stage.
"""

from __future__ import annotations

from math import pi, sqrt, tan

from setwright.scenes.sight import Sight

CUE = 20
"""Minutes of arc of what is read while playing: bank, switch, scene and cue."""

TITLE = 20
"""Minutes of arc of a bank, and of a song that follows straight on."""

REST = 16
"""Minutes of arc of everything else; nothing is smaller."""

HIGHEST_MM = 26.0
"""Capitals of cues that a sheet of A4 still has room for: eight lines of some fifteen letters."""


def capitals_mm(minutes: float, sight: Sight) -> float:
    """Return how high capitals have to be, in mm, so that they are seen at an angle from there."""
    distance = sqrt(sight.squared) * 10
    return 2 * distance * tan(minutes / 60 * pi / 180 / 2) / sight.slant
