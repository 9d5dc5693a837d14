"""The cue sheet: what the player reads standing, on a dark stage, from floor or stand.

One HTML file that loads nothing and runs nothing. It is printed on A4, landscape; a screen gets
sizes of its own, light or dark as its owner likes it.

Sizes. A letter is as high as 2·D·tan(α/2), D the distance from eye to paper, α the angle at
which it is seen. At 1.7 m, 16′ is 7.9 mm, 20′ is 9.9 mm, 22′ is 10.9 mm.

* Switches and scenes: capitals `MAIN_MM` high, 22′. 16′ is the least and 20′ to 22′ are
  preferred: ISO 9241-3:1992, 5.4 (withdrawn); NUREG-0700, 1.3.1-4. Lower case keeps 16′ as well,
  since DIN 1450:2013 sizes by the x-height. A sheet that lies on the floor is seen at a slant:
  from 1.6 m above and 0.8 m behind, 20′ would take 11.6 mm and these are 19′.
* Titles and banks: `TITLE_MM`, 20′. All the rest: `SECOND_MM`, 16′. Nothing is smaller.
* Lines lie 135 to 170 % of the height of capitals apart: 2010 ADA Standards, 703.5.9.
* Black on white, 21:1, and near-white on black, more than 18:1: WCAG 2.2, SC 1.4.3 and 1.4.6.
  Shape and words alone carry meaning, since stage light is coloured.
* What does not fit goes on another page, nothing shrinks. A song is parted only where it is
  longer than a page, and then its title and bank are repeated.

Text stands in whatever sans face the system has, so its size follows from the height of its
capitals: 0.7 of the font size. Two usual faces were measured in a browser, 0.688 and 0.729
(`tests/test_sheets.py`); others lie between them (from memory). ``font-size-adjust`` (CSS Fonts
Module Level 5) brings them to 0.7 by what each says of its own capitals, within 2 % as measured.
"""

from __future__ import annotations

from setwright.compiler.outputs.cues import sheet_of
from setwright.compiler.outputs.data import NightData
from setwright.compiler.outputs.filled import render

MAIN_MM = 11.1
"""Height of capitals of switches and scenes, in mm, as `cue-sheet.css.j2` has it."""

TITLE_MM = 10.1
"""Height of capitals of titles and banks, in mm."""

SECOND_MM = 8.1
"""Height of capitals of everything else, in mm."""


def cue_sheet_files(data: NightData) -> dict[str, bytes]:
    """Return the cue sheet of ``data``: file name → UTF-8 text. The same data, the same bytes."""
    return {"cue-sheet.html": render("cue-sheet.html.j2", sheet=sheet_of(data))}
