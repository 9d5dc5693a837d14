"""How wide a text is in print, and where it is broken so that it stays in its room.

Widths are those of Source Sans Pro, in thousandths of the letter's size, as the table of advance
widths (``hmtx``) of its font files has them; ``tests/test_drawings.py`` reads the files again.
What that font has not is reckoned by the Unicode property East Asian Width (UAX #11): wide signs
fill a square. A text is drawn with just the width that is reckoned here (``textLength``, SVG 1.1,
10.5), so that it stays in its room whatever font there is.
"""

from __future__ import annotations

import unicodedata
from collections.abc import Sequence
from typing import NamedTuple

from setwright.scenes.finding import visible

POINT_MM = 25.4 / 72
"""A point is a 72nd of an inch (common practice, no source)."""
NAME_MM = 9 * POINT_MM
"""Size of the letters of names; all others are `WORD_MM`."""
WORD_MM = 8 * POINT_MM
LEADING = 1.3
"""From one line to the next, in letter sizes; Source Sans Pro is 1.257 from top to bottom."""
ASCENT = 0.984
"""From the top of a line to its base, in letter sizes (``hhea`` of the font)."""

_PLAIN = (
    *(200, 289, 426, 497, 497, 824, 609, 249, 303, 303, 418, 497, 249, 311, 249, 350),
    *(497, 497, 497, 497, 497, 497, 497, 497, 497, 497, 249, 249, 497, 497, 497, 425),
    *(847, 544, 588, 571, 615, 527, 494, 617, 652, 263, 480, 579, 486, 727, 647, 664),
    *(566, 664, 569, 534, 536, 645, 515, 786, 513, 476, 539, 303, 350, 303, 497, 500),
    *(542, 504, 553, 456, 555, 496, 292, 504, 544, 246, 247, 495, 255, 829, 547, 542),
    *(555, 555, 347, 419, 338, 544, 467, 718, 446, 467, 425, 303, 241, 303, 497),
)
_STRONG = (
    *(200, 315, 482, 513, 513, 841, 639, 275, 324, 324, 438, 513, 275, 322, 275, 344),
    *(513, 513, 513, 513, 513, 513, 513, 513, 513, 513, 275, 275, 513, 513, 513, 444),
    *(875, 558, 597, 576, 625, 538, 510, 628, 663, 282, 494, 597, 502, 745, 656, 674),
    *(582, 674, 592, 545, 546, 655, 536, 800, 541, 501, 540, 324, 344, 324, 513, 500),
    *(549, 516, 563, 462, 564, 507, 317, 520, 558, 262, 263, 522, 271, 843, 560, 549),
    *(564, 564, 373, 431, 361, 556, 495, 748, 481, 495, 443, 324, 255, 324, 513),
)
FIRST = 32
"""The first sign of both tables, the blank; they go on to the tilde, without a gap."""
_WIDE, _OTHER, _ELLIPSIS, _LEAST = 1000, 600, 965, 300
_MARKS = 2
"""So many accents over one letter are drawn; more would run into the line above."""


class Lines(NamedTuple):
    """A text broken into lines, in letters of ``size`` mm.

    ``whole`` tells that every word stands unbroken on one line.
    """

    lines: tuple[str, ...]
    size: float
    whole: bool


def clean(text: str) -> str:
    """Return ``text`` on one line, with signs that cannot be seen, or be in XML, spelt out."""
    shown = visible(" ".join(text.split()))
    return "".join(one if _is_xml(one) else "\N{REPLACEMENT CHARACTER}" for one in shown)


def _is_xml(sign: str) -> bool:
    """Tell whether XML may hold ``sign`` (XML 1.0, fifth edition, production 2)."""
    code = ord(sign)
    return code >= 32 and not 0xD800 <= code <= 0xDFFF and code not in (0xFFFE, 0xFFFF)


def width_of(text: str, size: float, *, strong: bool = False) -> float:
    """Return the width of ``text`` in mm with letters of ``size`` mm."""
    return max(sum(_width(one, strong) for one in _clusters(text)), _LEAST) * size / 1000


def broken(text: str, room: float, size: float, *, most: int = 2, strong: bool = False) -> Lines:
    """Return ``text`` in at most ``most`` lines, none wider than ``room`` mm.

    It is broken between words where that is possible, and cut with … where nothing else is.
    """
    space = room * 1000 / size
    lines: list[list[str]] = [[]]
    whole = True
    for word in clean(text).split():
        for at, part in enumerate(_in_parts(_clusters(word), space, strong)):
            whole = whole and not at
            blank = [" "] if lines[-1] and not at else []
            if at or _sum([*lines[-1], *blank, *part], strong) > space:
                lines.append(part) if lines[-1] else lines[-1].extend(part)
            else:
                lines[-1] += [*blank, *part]
    if len(lines) <= most:
        return Lines(tuple("".join(line) for line in lines if line), size, whole)
    last = lines[most - 1]
    while last and _sum(last, strong) + _ELLIPSIS > space:
        last.pop()
    shown = [*lines[: most - 1], [*last, "…"]]
    return Lines(tuple("".join(line) for line in shown), size, False)


def name_in(text: str, room: float, *, strong: bool = True) -> Lines:
    """Return a name in at most two lines: in smaller letters, if that saves its words."""
    large = broken(text, room, NAME_MM, strong=strong)
    small = broken(text, room, WORD_MM, strong=strong)
    return large if large.whole or not small.whole else small


def _in_parts(word: list[str], space: float, strong: bool) -> list[list[str]]:
    """Return a word in parts that are no wider than ``space``."""
    parts: list[list[str]] = [[]]
    wide = 0.0
    for cluster in word:
        own = _width(cluster, strong)
        if parts[-1] and wide + own > space:
            parts.append([])
            wide = 0
        parts[-1].append(cluster)
        wide += own
    return parts


def _sum(clusters: Sequence[str], strong: bool) -> float:
    return sum(_width(one, strong) for one in clusters)


def _width(cluster: str, strong: bool) -> int:
    table = _STRONG if strong else _PLAIN
    # A letter with an accent is as wide as the letter alone.
    letter = unicodedata.normalize("NFD", cluster[0])[0]
    at = ord(letter) - FIRST
    if 0 <= at < len(table):
        return table[at]
    if letter == "…":
        return _ELLIPSIS
    return _WIDE if unicodedata.east_asian_width(letter) in "WF" else _OTHER


def _clusters(text: str) -> list[str]:
    """Return the letters of ``text``, each with what belongs to it: accents, joined signs."""
    found: list[str] = []
    for sign in text:
        joins = unicodedata.category(sign) in ("Mn", "Me", "Mc", "Cf") or "\U0001f3fb" <= sign <= (
            "\U0001f3ff"
        )
        if found and joins:
            if len(found[-1]) <= _MARKS or found[-1][-1] == "\u200d" or sign == "\u200d":
                found[-1] += sign
        elif found and found[-1].endswith("\u200d"):
            found[-1] += sign
        else:
            found.append(sign)
    return found
