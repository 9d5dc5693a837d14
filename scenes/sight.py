"""From where the cue sheet is read: how far away the eyes are, and at which slant."""

# Annotations are evaluated at once here: the records make their validators from them.

import re
from fractions import Fraction
from math import sqrt
from typing import Annotated, ClassVar

from setwright.scenes.fields import field
from setwright.scenes.quantities import Slip, parse_number, quoted, tidy
from setwright.scenes.records import Reads, Record
from setwright.scenes.texts import YesNo, one_text

_METRES = re.compile(r"([\d.]+)\s*(cm|m)", re.ASCII | re.IGNORECASE)
_NEAREST, _FARTHEST = 20, 500


def parse_centimetres(text: str) -> Fraction:
    """Return a distance in cm from ``1.6 m`` or ``80 cm``; from 20 cm to 5 m."""
    match = _METRES.fullmatch(tidy(text))
    if match is None:
        raise Slip(
            "not-a-distance",
            f"{quoted(text)} is not a distance",
            "write for example 1.6 m or 80 cm",
        )
    value = parse_number(match.group(1)) * (100 if match.group(2).lower() == "m" else 1)
    if not _NEAREST <= value <= _FARTHEST:
        raise Slip("out-of-range", f"{quoted(text)} is not from 20 cm to 5 m", "measure it")
    return value


Centimetres = Annotated[
    Fraction,
    Reads(
        parse_centimetres,
        one_text(r"[\d.]+\s*(?i:m|cm)", "write a distance: 1.6 m or 80 cm", "1.6 m", "80 cm"),
    ),
]


class Sight(Record):
    """Where the cue sheet lies, seen from the eyes; without more, from one who stands above it."""

    noun: ClassVar[str] = "place of the cue sheet"

    eyes_above: Centimetres = field(
        default=Fraction(160), description="How high the eyes are above the sheet: 1.6 m."
    )
    ahead: Centimetres = field(
        default=Fraction(80), description="How far in front of the feet it lies: 0.8 m."
    )
    faces_you: YesNo = field(
        default=False,
        description="Whether it is turned to the eyes, as on a stand; otherwise it lies flat, is "
        "seen at a slant, and has larger letters.",
    )

    @property
    def squared(self) -> Fraction:
        """The square of the distance from eye to sheet, in cm²."""
        return self.eyes_above**2 + self.ahead**2

    @property
    def slant(self) -> float:
        """By how much letters are foreshortened: 1 where the sheet faces the eyes."""
        return 1.0 if self.faces_you else float(self.eyes_above) / sqrt(self.squared)
