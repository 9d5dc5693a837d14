"""Reading a PDF with tools that had no part in making it: words and where they stand, and ink."""

from __future__ import annotations

import re
import shutil
import subprocess
from dataclasses import dataclass
from pathlib import Path
from xml.etree import ElementTree

import pytest

needs_poppler = pytest.mark.skipif(
    not (shutil.which("pdftotext") and shutil.which("pdftoppm")),
    reason="poppler-utils (pdftotext, pdftoppm) are not installed",
)
STEM = re.compile(r"[BDEFHIKLMNPRTU1]")
"""Letters with a stem that is as high as capitals are."""
POINT = 25.4 / 72
A4 = (210.0, 297.0)
DPI = 200


@dataclass(frozen=True)
class Word:
    """A word on a page and the box in which it was set, in mm from the top left corner."""

    text: str
    left: float
    top: float
    right: float
    bottom: float


@dataclass
class Printed:
    """A PDF as a browser made it."""

    path: Path

    def __post_init__(self) -> None:
        xml = self._run("pdftotext", "-bbox", str(self.path), "-").decode("utf-8")
        pages = [one for one in ElementTree.fromstring(xml).iter() if one.tag.endswith("}page")]
        self.sizes = [(mm(one, "width"), mm(one, "height")) for one in pages]
        self.words = [
            [
                Word(word.text or "", *(mm(word, key) for key in ("xMin", "yMin", "xMax", "yMax")))
                for word in one
            ]
            for one in pages
        ]
        text = self._run("pdftotext", "-raw", str(self.path), "-").decode("utf-8")
        # In the order of the page's source, without white space: what follows what.
        self.texts = [bare(one) for one in text.split("\f")[: len(pages)]]
        self._pictures: dict[int, Picture] = {}

    def picture(self, number: int) -> Picture:
        """Return a page, counted from 0, as ink."""
        if number not in self._pictures:
            at = str(number + 1)
            command = ("pdftoppm", "-gray", "-r", str(DPI), "-f", at, "-l", at, str(self.path))
            self._pictures[number] = Picture.read(self._run(*command))
        return self._pictures[number]

    def find(self, text: str) -> list[tuple[int, Word]]:
        """Return every word that reads ``text``, with its page, counted from 0."""
        return [
            (n, word) for n, words in enumerate(self.words) for word in words if word.text == text
        ]

    def height(self, number: int, word: Word) -> float:
        """Return how high the first letter of a word is in ink, in mm."""
        return self.picture(number).height_of_first_letter(word)

    @staticmethod
    def _run(*command: str) -> bytes:
        return subprocess.run(command, capture_output=True, check=True, timeout=60).stdout


def mm(element: ElementTree.Element, key: str) -> float:
    return float(element.attrib[key]) * POINT


def bare(text: str) -> str:
    return "".join(text.split())


@dataclass(frozen=True)
class Picture:
    """A page in shades of grey, a byte for each point, 0 is black."""

    width: int
    height: int
    rows: bytes

    @classmethod
    def read(cls, pgm: bytes) -> Picture:
        """Read a binary PGM (P5), as pdftoppm writes it."""
        kind, width, height, deepest, rows = re.split(rb"\s", pgm, maxsplit=4)
        assert (kind, deepest) == (b"P5", b"255")
        assert len(rows) == int(width) * int(height)
        return cls(int(width), int(height), rows)

    def row(self, y: int, left: int, right: int) -> bytes:
        return self.rows[y * self.width + left : y * self.width + right]

    def has_ink(self, left: int, top: int, right: int, bottom: int) -> bool:
        return any(min(self.row(y, left, right), default=255) < 128 for y in range(top, bottom))

    def column_has_ink(self, x: int, top: int, bottom: int) -> bool:
        return min(self.rows[top * self.width + x : bottom * self.width : self.width]) < 128

    def height_of_first_letter(self, word: Word) -> float:
        """Follow the letter's stem up and down from its middle, where no line or frame is."""
        left, top, right, bottom = in_points(word)
        band = (top + round((bottom - top) * 0.45), top + round((bottom - top) * 0.55))
        columns = [self.column_has_ink(x, *band) for x in range(left, right)]
        start = columns.index(True)
        width = next((n for n, ink in enumerate(columns[start:]) if not ink), right - left - start)
        stem = (left + start, left + start + width)
        up, down = band[0], band[1]
        while self.has_ink(stem[0], up - 1, stem[1], up):
            up -= 1
        while self.has_ink(stem[0], down, stem[1], down + 1):
            down += 1
        return (down - up) * 25.4 / DPI

    def margin_is_blank(self, wide: float) -> bool:
        """Tell whether there is no ink within ``wide`` mm of the page's edges."""
        band = round(wide * DPI / 25.4)
        width, height = self.width, self.height
        return not (
            self.has_ink(0, 0, width, band)
            or self.has_ink(0, height - band, width, height)
            or self.has_ink(0, 0, band, height)
            or self.has_ink(width - band, 0, width, height)
        )


def in_points(word: Word) -> tuple[int, int, int, int]:
    left, top, right, bottom = (
        round(value * DPI / 25.4) for value in (word.left, word.top, word.right, word.bottom)
    )
    return left, top, right, bottom


def assert_within_page(pdf: Printed, name: str) -> None:
    """Assert that every word lies on its page, and its margins are those that printers need."""
    for words, (width, height) in zip(pdf.words, pdf.sizes, strict=True):
        for word in words:
            assert 6 < word.left < word.right < width - 6, (name, word)
            assert 4 < word.top < word.bottom < height - 4, (name, word)
