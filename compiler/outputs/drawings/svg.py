"""Writing SVG: texts, lines and frames on a canvas measured in mm, one colour and no other.

The colour is that of the text around (``currentColor``), which is black on paper; shape and words
alone carry what is meant. Written is SVG 1.1 (Second Edition) with the roles of WAI-ARIA.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple
from xml.sax.saxutils import escape, quoteattr

from setwright.compiler.outputs.drawings.lettering import clean, width_of

FONT = "'Source Sans Pro', 'DejaVu Sans Mono', sans-serif"
THIN, HEAVY = 0.25, 0.7
DOTTED = "0.1 1"
"""Round dots, and their distance."""
DASHED = "1.6 1"
HEAD = 2.0
"""Length of an arrow head."""

Point = tuple[float, float]
Move = tuple[float, ...]
"""Where a line goes on to: straight (x, y), or bent (x1, y1, x2, y2, x, y)."""


class Drawing(NamedTuple):
    """A drawing: ``title`` and ``description`` say in words what ``svg`` shows."""

    name: str
    title: str
    description: str
    svg: str
    width_mm: float
    height_mm: float


class Canvas:
    """What is drawn, piece by piece."""

    def __init__(self) -> None:
        self._pieces: list[str] = []

    def frame(
        self,
        corner: Point,
        size: Point,
        *,
        stroke: float = THIN,
        dots: str = "",
        radius: float = 0.8,
        kind: str = "box",
    ) -> None:
        """Draw a rectangle from its upper left corner."""
        (x, y), (wide, high) = corner, size
        dotted = f' stroke-dasharray="{dots}" stroke-linecap="round"' if dots else ""
        self._pieces.append(
            f'<rect class="{kind}" x="{number(x)}" y="{number(y)}" width="{number(wide)}" '
            f'height="{number(high)}" rx="{number(radius)}" fill="none" stroke="currentColor" '
            f'stroke-width="{number(stroke)}"{dotted}/>'
        )

    def bar(self, corner: Point, size: Point) -> None:
        """Draw a rectangle that is filled."""
        (x, y), (wide, high) = corner, size
        self._pieces.append(
            f'<rect class="bar" x="{number(x)}" y="{number(y)}" width="{number(wide)}" '
            f'height="{number(high)}"/>'
        )

    def text(
        self, at: Point, text: str, size: float, *, strong: bool = False, middle: bool = False
    ) -> None:
        """Write ``text`` with its base at ``at``, from there on or around it."""
        wide = width_of(text, size, strong=strong)
        x = at[0] - wide / 2 if middle else at[0]
        weight = ' font-weight="600"' if strong else ""
        self._pieces.append(
            f'<text x="{number(x)}" y="{number(at[1])}" font-size="{number(size)}"{weight} '
            f'textLength="{number(wide)}" lengthAdjust="spacingAndGlyphs">'
            f"{escape(clean(text))}</text>"
        )

    def line(self, start: Point, moves: Sequence[Move], *, dots: str = "", kind: str) -> None:
        """Draw a line of straight and bent pieces."""
        path = [f"M{_pair(start)}"]
        path += [
            f"L{_pair(move)}"
            if len(move) == 2
            else "C" + " ".join(_pair(move[at : at + 2]) for at in (0, 2, 4))
            for move in moves
        ]
        dotted = f' stroke-dasharray="{dots}"' if dots else ""
        self._pieces.append(
            f'<path class="{kind}" d="{" ".join(path)}" fill="none" stroke="currentColor" '
            f'stroke-width="{number(THIN)}"{dotted}/>'
        )

    def head(self, tip: Point, towards: int) -> None:
        """Draw an arrow head that points to the right (1) or to the left (-1)."""
        x, y = tip
        back = x - towards * HEAD
        self._pieces.append(
            f'<path class="head" d="M{_pair(tip)} L{_pair((back, y - HEAD * 0.4))} '
            f'L{_pair((back, y + HEAD * 0.4))} Z"/>'
        )

    def drawing(self, name: str, title: str, description: str, size: Point) -> Drawing:
        """Return all of it as a drawing of ``size`` mm."""
        wide, high = size
        title, description = clean(title), clean(description)
        ids = f"drawing-{name}-title", f"drawing-{name}-description"
        svg = "\n".join(
            (
                f'<svg xmlns="http://www.w3.org/2000/svg" width="{number(wide)}mm" '
                f'height="{number(high)}mm" viewBox="0 0 {number(wide)} {number(high)}" '
                f'role="img" aria-labelledby="{ids[0]}" aria-describedby="{ids[1]}" '
                f'fill="currentColor" font-family={quoteattr(FONT)}>',
                f'<title id="{ids[0]}">{escape(title)}</title>',
                f'<desc id="{ids[1]}">{escape(description)}</desc>',
                *self._pieces,
                "</svg>\n",
            )
        )
        return Drawing(name, title, description, svg, round(wide, 2), round(high, 2))


def number(value: float) -> str:
    """Return ``value`` to a hundredth of a mm, without idle zeros."""
    text = f"{value:.2f}".rstrip("0").rstrip(".")
    return "0" if text == "-0" else text


def _pair(point: Sequence[float]) -> str:
    return f"{number(point[0])} {number(point[1])}"
