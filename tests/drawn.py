"""A drawing read from its SVG alone: what is written where, and what the lines run through.

Knows nothing of how drawings are made: widths and places are those that the file says.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from itertools import combinations, pairwise
from typing import NamedTuple
from xml.etree import ElementTree

SVG = "{http://www.w3.org/2000/svg}"
LEAST_LETTERS = 8 * 25.4 / 72
"""Eight points in mm; a point is a 72nd of an inch."""
ASCENT, DESCENT = 0.984, 0.273
"""Source Sans Pro's lines from top to bottom, in letter sizes (its ``hhea`` table)."""

Point = tuple[float, float]


class Area(NamedTuple):
    """A rectangle in mm; ``what`` is its text or its class."""

    what: str
    left: float
    top: float
    right: float
    bottom: float

    def overlaps(self, other: Area, by: float = 0.05) -> bool:
        """Tell whether two rectangles have more than a line of ``by`` mm in common."""
        return (
            self.left < other.right - by
            and other.left < self.right - by
            and self.top < other.bottom - by
            and other.top < self.bottom - by
        )

    def lies_in(self, other: Area, by: float = 0.05) -> bool:
        """Tell whether it lies within ``other``."""
        return (
            self.left >= other.left - by
            and self.right <= other.right + by
            and self.top >= other.top - by
            and self.bottom <= other.bottom + by
        )


class Label(NamedTuple):
    """A text, where it stands, and whether its letters are strong."""

    area: Area
    size: float
    strong: bool


class Look(NamedTuple):
    """How a frame is drawn: the width of its stroke, whether it is dotted, and its corners."""

    stroke: float
    dotted: bool
    radius: float


class Picture(NamedTuple):
    """What an SVG shows; ``looks`` are those of its frames, in the same order."""

    title: str
    description: str
    whole: Area
    labels: list[Label]
    frames: list[Area]
    lines: list[list[Point]]
    heads: list[list[Point]]
    looks: list[Look]

    def look(self, name: str) -> Look:
        """Return how the box of a name is drawn."""
        (found,) = {
            look
            for frame, look in zip(self.frames, self.looks, strict=True)
            if frame.what == "box"
            and " ".join(one.area.what for one in self.inside(frame) if one.strong) == name
        }
        return found

    def boxes(self, kind: str = "box") -> list[Area]:
        """Return the frames of a kind: box, cell, strip."""
        return [frame for frame in self.frames if frame.what == kind]

    def inside(self, frame: Area) -> list[Label]:
        """Return what is written in a frame, from top to bottom."""
        found = [one for one in self.labels if one.area.overlaps(frame)]
        return sorted(found, key=lambda one: one.area.top)

    def names(self, kind: str = "box") -> list[str]:
        """Return the names in the frames of a kind; lines of a name are joined by a blank."""
        return [
            " ".join(one.area.what for one in self.inside(frame) if one.strong)
            for frame in self.boxes(kind)
        ]

    def words(self, name: str) -> list[str]:
        """Return what stands below a name in its box."""
        (frame,) = [
            frame for frame, one in zip(self.boxes(), self.names(), strict=True) if one == name
        ]
        return [one.area.what for one in self.inside(frame) if not one.strong]


def read(svg: str) -> Picture:
    """Return the picture in an SVG file; everything in it must be of a known kind."""
    root = ElementTree.fromstring(svg)
    assert root.tag == f"{SVG}svg"
    assert root.attrib["role"] == "img"
    left, top, wide, high = map(float, root.attrib["viewBox"].split())
    assert (root.attrib["width"], root.attrib["height"]) == (f"{wide:g}mm", f"{high:g}mm")
    picture = Picture("", "", Area("", left, top, left + wide, top + high), [], [], [], [], [])
    said: dict[str, str] = {}
    assert root.attrib["fill"] == "currentColor"
    for one in root:
        assert one.attrib.get("fill", "none") == "none"
        assert one.attrib.get("stroke", "currentColor") == "currentColor"
        match one.tag.removeprefix(SVG), one.attrib.get("class"):
            case ("title" | "desc") as tag, None:
                said[one.attrib["id"]] = one.text or ""
                assert tag in {"title", "desc"}
            case "text", None:
                picture.labels.append(_label(one))
            case "rect", ("box" | "cell" | "strip" | "scale" | "bar") as kind:
                picture.frames.append(_area(one, kind))
                picture.looks.append(_look(one))
            case "path", "cable":
                picture.lines.append(list(_points(one.attrib["d"])))
            case "path", "head":
                picture.heads.append(list(_points(one.attrib["d"])))
            case other:
                raise AssertionError(other)
    title = said[root.attrib["aria-labelledby"]]
    return picture._replace(title=title, description=said[root.attrib["aria-describedby"]])


def _label(one: ElementTree.Element) -> Label:
    x, y, size, wide = (float(one.attrib[key]) for key in ("x", "y", "font-size", "textLength"))
    area = Area(one.text or "", x, y - ASCENT * size, x + wide, y + DESCENT * size)
    return Label(area, size, one.attrib.get("font-weight") == "600")


def _area(one: ElementTree.Element, kind: str) -> Area:
    x, y, wide, high = (float(one.attrib[key]) for key in ("x", "y", "width", "height"))
    return Area(kind, x, y, x + wide, y + high)


def _look(one: ElementTree.Element) -> Look:
    dotted = "stroke-dasharray" in one.attrib
    return Look(float(one.attrib.get("stroke-width", 0)), dotted, float(one.attrib.get("rx", 0)))


def _points(path: str) -> Iterator[Point]:
    """Yield points along a path, close together in its curves (SVG 1.1, 8.3)."""
    here = (0.0, 0.0)
    for command, rest in re.findall(r"([MLCZ])([^MLCZ]*)", path):
        numbers = [float(number) for number in rest.split()]
        points = list(zip(numbers[::2], numbers[1::2], strict=True))
        match command, points:
            case (("M" | "L"), [point]):
                here = point
                yield here
            case "C", [one, two, end]:
                for step in range(1, 17):
                    yield _on_curve(here, one, two, end, step / 16)
                here = end
            case "Z", []:
                pass
            case other:
                raise AssertionError(other)


def _on_curve(a: Point, b: Point, c: Point, d: Point, t: float) -> Point:
    """Return a point of a cubic Bézier curve."""
    weights = ((1 - t) ** 3, 3 * t * (1 - t) ** 2, 3 * t**2 * (1 - t), t**3)
    return (
        sum(w * p[0] for w, p in zip(weights, (a, b, c, d), strict=True)),
        sum(w * p[1] for w, p in zip(weights, (a, b, c, d), strict=True)),
    )


def cuts(line: list[Point], area: Area, by: float = 0.1) -> bool:
    """Tell whether a line of points comes into a rectangle, but for ``by`` mm at its edge."""
    for (x, y), (u, v) in pairwise(line):
        count = max(1, round(max(abs(u - x), abs(v - y)) / 0.4))
        for step in range(count + 1):
            p, q = x + (u - x) * step / count, y + (v - y) * step / count
            if area.left + by < p < area.right - by and area.top + by < q < area.bottom - by:
                return True
    return False


def faults(picture: Picture) -> list[str]:
    """Return what is wrong with the geometry of a picture, in words."""
    found = []
    whole = picture.whole
    if whole.right - whole.left > 186:
        found.append(f"it is {whole.right - whole.left} mm wide")
    for label in picture.labels:
        said = label.area.what
        if label.size < LEAST_LETTERS - 0.01:
            found.append(f"{said!r} is {label.size} mm high")
        if not label.area.lies_in(whole):
            found.append(f"{said!r} leaves the drawing")
        for frame in picture.frames:
            if label.area.overlaps(frame) and not label.area.lies_in(frame):
                found.append(f"{said!r} leaves its {frame.what}")
        if any(cuts(line, label.area) for line in picture.lines):
            found.append(f"a line runs through {said!r}")
    for one, other in combinations(picture.labels, 2):
        if one.area.overlaps(other.area):
            found.append(f"{one.area.what!r} lies on {other.area.what!r}")
    boxes = picture.boxes()
    for frame in picture.frames:
        if not frame.lies_in(whole):
            found.append(f"a {frame.what} leaves the drawing")
    for one_box, other_box in combinations(boxes, 2):
        if one_box.overlaps(other_box):
            found.append("a box lies on another")
    for line in (*picture.lines, *picture.heads):
        if any(cuts(line, box) for box in boxes):
            found.append("a line runs through a box")
        if not all(
            whole.left <= x <= whole.right and whole.top <= y <= whole.bottom for x, y in line
        ):
            found.append("a line leaves the drawing")
    if len(picture.heads) != len(picture.lines):
        found.append("a line has no head")
    for line, head in zip(picture.lines, picture.heads, strict=False):
        if head[0] not in (line[0], line[-1]):
            found.append("a head is not at the end of its line")
    for strip in picture.boxes("strip"):
        for box in boxes:
            if box.overlaps(strip) and not box.lies_in(strip):
                found.append("a box lies half in a strip")
    return found
