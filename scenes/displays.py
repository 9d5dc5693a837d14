"""How a box shows numbers: from 0, from 1, or as bank letters and digits.

A display is written by its first and its last reading, ``0 to 99``, ``A1 to H8``,
``01-1 to 32-4``: each run of digits and each letter is a wheel that turns from its first to
its last sign, the rightmost fastest. The first reading is number 0 on the wire.
"""

from __future__ import annotations

import re
from dataclasses import dataclass

from setwright.scenes.quantities import Slip, quoted

_WHEEL = re.compile(r"\d{1,5}|[A-Za-z]|[^\dA-Za-z\s]", re.ASCII)


@dataclass(frozen=True, slots=True)
class Wheel:
    """One place of a display; ``width`` is the number of digits, 0 for a letter or a sign."""

    first: int
    last: int
    width: int
    sign: str = ""

    @property
    def count(self) -> int:
        """How many readings this place has."""
        return self.last - self.first + 1


@dataclass(frozen=True, slots=True)
class Display:
    """Translates between a reading and the number on the wire, counted from 0."""

    wheels: tuple[Wheel, ...]
    text: str

    @property
    def count(self) -> int:
        """How many numbers can be shown."""
        total = 1
        for wheel in self.wheels:
            total *= wheel.count
        return total

    def show(self, number: int) -> str:
        """Return the reading of ``number`` (0 to count-1); IndexError beyond."""
        if not 0 <= number < self.count:
            raise IndexError(number)
        parts = []
        for wheel in reversed(self.wheels):
            number, turn = divmod(number, wheel.count)
            if wheel.sign:
                parts.append(wheel.sign)
            elif wheel.width:
                parts.append(f"{wheel.first + turn:0{wheel.width}d}")
            else:
                parts.append(chr(wheel.first + turn))
        return "".join(reversed(parts))

    def read(self, text: str) -> int:
        """Return the number on the wire of a reading; raises `Slip` for any other text."""
        pieces = _WHEEL.findall(text.strip())
        number = 0
        fits = len(pieces) == len(self.wheels) and not re.search(r"\s", text.strip())
        for piece, wheel in zip(pieces, self.wheels, strict=False):
            if wheel.sign:
                fits = fits and piece == wheel.sign
                continue
            if wheel.width == 0:
                fits = fits and not piece.isdecimal()
                value = ord(piece.upper()) if len(piece) == 1 and piece.isascii() else -1
            else:
                fits = fits and piece.isdecimal()
                value = int(piece) if piece.isdecimal() else -1
            fits = fits and wheel.first <= value <= wheel.last
            number = number * wheel.count + value - wheel.first
        if not fits:
            raise Slip(
                "program-out-of-range",
                f"{quoted(text)} is not on a display that shows {self.text}",
                f"write {self.text.replace(' to ', ' up to ')}, as the box shows it",
            )
        return number


def parse_display(text: str) -> Display:
    """Return the display written as ``FIRST to LAST``; at most 16,384 readings.

    16,384 banks of 128 is what bank select can reach in all (MIDI 1.0 Detailed Specification
    4.2.1, bank select), and far more than any box shows.
    """
    first, middle, last = text.strip().partition(" to ")
    heads, tails = _WHEEL.findall(first), _WHEEL.findall(last)
    wheels = [_wheel(head, tail) for head, tail in zip(heads, tails, strict=False)]
    if not middle or len(heads) != len(tails) or not heads or None in wheels:
        raise Slip(
            "not-a-display",
            f"{quoted(text)} is not what a display shows",
            "write its first and last reading: 0 to 99, 1 to 128, A1 to H8",
        )
    display = Display(tuple(wheel for wheel in wheels if wheel), text.strip())
    if display.count > 16_384:
        raise Slip(
            "not-a-display", f"{quoted(text)} has more than 16,384 readings", "check the manual"
        )
    return display


def _wheel(first: str, last: str) -> Wheel | None:
    if first.isdecimal() and last.isdecimal():
        low, high = int(first), int(last)
        width = len(first) if len(first) == len(last) and first.startswith("0") else 1
    elif (first + last).isascii() and first.isalpha() and last.isalpha():
        low, high, width = ord(first.upper()), ord(last.upper()), 0
    elif first == last and not first.isdecimal() and not first.isalpha():
        return Wheel(0, 0, 0, first)
    else:
        return None
    return Wheel(low, high, width) if low <= high else None


def counted(count: int) -> Display:
    """Return the display of a box that counts ``count`` things from 1."""
    return parse_display(f"1 to {count}")
