"""Cards and wires → drawings: what is written in each box, and on which page it comes."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import NamedTuple

from setwright.compiler.outputs.drawings.layout import (
    BESIDE_STRIP,
    Box,
    Edge,
    End,
    Layout,
    laid_out,
)
from setwright.compiler.outputs.drawings.lettering import (
    ASCENT,
    LEADING,
    WORD_MM,
    broken,
    name_in,
    width_of,
)
from setwright.compiler.outputs.drawings.svg import (
    DOTTED,
    HEAD,
    HEAVY,
    THIN,
    Canvas,
    Drawing,
    Point,
)

ROOM = 186.0
"""Width of a drawing at most: A4 upright (ISO 216: 210 mm) without margins of 12 mm."""
TALLEST = 240.0
"""Height of a drawing at most, if its parts can stand on several pages."""
INSIDE = 1.4
"""From a box's frame to what is written in it."""
BESIDE, BELOW = 9.0, 5.0
"""Between parts that no wire joins."""
BAR = 1.8
LEAST_HEIGHT = 9.0


class Card(NamedTuple):
    """A box: its ``name``, and ``words`` below it, each on a line of its own.

    ``heavy`` and ``rounded`` are its frame; ``full`` how much of a bar in it is filled, from 0 on,
    None without one; ``band`` the name of the dotted frame in which it lies, empty for none.
    """

    key: str
    name: str
    words: tuple[str, ...] = ()
    heavy: bool = False
    rounded: bool = False
    full: float | None = None
    band: str = ""


class Wire(NamedTuple):
    """A cable from card to card, by their keys, with labels at its ends."""

    source: str
    target: str
    at_start: str = ""
    at_end: str = ""


class Text(NamedTuple):
    """A line of writing in a box."""

    text: str
    size: float
    strong: bool


class Said(NamedTuple):
    """What is said of a drawing: its name, title and description, and notes printed below it."""

    name: str
    title: str
    description: str
    notes: tuple[str, ...] = ()


@dataclass(slots=True)
class _Part:
    """Cards that wires join, where they are, and the lines written in each."""

    cards: list[Card]
    wires: list[Wire]
    layout: Layout
    written: list[list[Text]]


def figure(said: Said, cards: Sequence[Card], wires: Sequence[Wire], width: float) -> list[Drawing]:
    """Return what ``cards``, each ``width`` mm wide, and ``wires`` look like, page by page."""
    parts = [_part(*part, width) for part in _apart(cards, wires)]
    pages: list[list[list[_Part]]] = [[]]
    height = 0.0
    for row in _rows(parts):
        high = max(part.layout.height for part in row) + BELOW
        if pages[-1] and height + high > TALLEST:
            pages.append([])
            height = 0
        pages[-1].append(row)
        height += high
    canvases = []
    for page in pages:
        canvas, top, right = Canvas(), 0.0, 0.0
        for row in page:
            left = 0.0
            for part in row:
                _draw(canvas, part, (left, top), width)
                left += part.layout.width + BESIDE
            right = max(right, left - BESIDE)
            top += max(part.layout.height for part in row) + BELOW
        canvases.append((canvas, right, top - BELOW))
    return finished(said, canvases)


def finished(said: Said, pages: Sequence[tuple[Canvas, float, float]]) -> list[Drawing]:
    """Return canvases with their widths and heights as drawings, with the notes below each."""
    drawings = []
    for number, (canvas, width, height) in enumerate(pages, 1):
        name = said.name if number == 1 else f"{said.name}-{number}"
        title = said.title if len(pages) == 1 else f"{said.title}, {number} of {len(pages)}"
        top = height + 3.0
        for note in said.notes:
            for line in broken(note, ROOM - 1, WORD_MM, most=9).lines:
                canvas.text((0.4, top + WORD_MM * ASCENT), line, WORD_MM)
                width = max(width, width_of(line, WORD_MM) + 0.8)
                top += WORD_MM * LEADING
        size = (width, top if said.notes else height)
        drawings.append(canvas.drawing(name, title, said.description, size))
    return drawings


def _apart(cards: Sequence[Card], wires: Sequence[Wire]) -> Iterator[tuple[list[Card], list[Wire]]]:
    """Yield cards that wires join, with these, in the order of the cards."""
    near: dict[str, list[str]] = {card.key: [] for card in cards}
    for wire in wires:
        near[wire.source].append(wire.target)
        near[wire.target].append(wire.source)
    part_of: dict[str, int] = {}
    for card in cards:
        if card.key in part_of:
            continue
        number, waiting = len(set(part_of.values())), [card.key]
        while waiting:
            key = waiting.pop()
            if key not in part_of:
                part_of[key] = number
                waiting += near[key]
    for number in range(len(set(part_of.values()))):
        yield (
            [card for card in cards if part_of[card.key] == number],
            [wire for wire in wires if part_of[wire.source] == number],
        )


def _part(cards: list[Card], wires: list[Wire], width: float) -> _Part:
    bands = list(dict.fromkeys(card.band for card in cards if card.band))
    written = [_lines(card, width - 2 * INSIDE) for card in cards]
    boxes = [
        Box(
            max(_filled(card, lines) + 2 * INSIDE, LEAST_HEIGHT),
            bands.index(card.band) + 1 if card.band else 0,
        )
        for card, lines in zip(cards, written, strict=True)
    ]
    numbers = {card.key: at for at, card in enumerate(cards)}
    edges = [
        Edge(
            numbers[wire.source],
            numbers[wire.target],
            _label(wire.at_start)
            + (_past_strip(cards[numbers[wire.source]]) if wire.at_start else 0),
            _label(wire.at_end),
        )
        for wire in wires
    ]
    return _Part(cards, wires, laid_out(boxes, edges, width, ROOM), written)


def _lines(card: Card, room: float) -> list[Text]:
    """Return what is written in a card, line by line."""
    name = name_in(card.name, room)
    words = [line for one in card.words for line in broken(one, room, WORD_MM).lines]
    return [
        *(Text(line, name.size, True) for line in name.lines),
        *(Text(line, WORD_MM, False) for line in words),
    ]


def _filled(card: Card, lines: Sequence[Text]) -> float:
    """Return the height of what is in a card."""
    bar = BAR + 1 if card.full is not None else 0
    return sum(line.size * LEADING for line in lines) + bar


def _past_strip(card: Card) -> float:
    """Return how much farther from a card a label stands, so that no dotted frame cuts it."""
    return BESIDE_STRIP if card.band else 0.0


def _label(text: str) -> float:
    return width_of(text, WORD_MM) if text else 0.0


def _rows(parts: Sequence[_Part]) -> Iterator[list[_Part]]:
    """Yield the parts of a drawing in rows, as many beside one another as there is room for."""
    row: list[_Part] = []
    for part in parts:
        taken = sum(one.layout.width + BESIDE for one in row)
        if row and taken + part.layout.width > ROOM:
            yield row
            row = []
        row.append(part)
    if row:
        yield row


def _draw(canvas: Canvas, part: _Part, corner: Point, width: float) -> None:
    left, top = corner
    layout = part.layout

    def at(point: Sequence[float]) -> tuple[float, ...]:
        return tuple(one + (top if place % 2 else left) for place, one in enumerate(point))

    bands = list(dict.fromkeys(card.band for card in part.cards if card.band))
    by_key = {card.key: card for card in part.cards}
    for strip in layout.strips:
        x, y = left + strip.corner[0], top + strip.corner[1]
        canvas.frame((x, y), strip.size, dots=DOTTED, stroke=0.4, kind="strip")
        owner = broken(bands[strip.band - 1], width, WORD_MM, most=1).lines
        for number, line in enumerate(("effects loop of", *owner)):
            base = y + 1 + WORD_MM * (ASCENT + number * LEADING)
            canvas.text((x + BESIDE_STRIP, base), line, WORD_MM)
    for wire, way in zip(part.wires, layout.ways, strict=True):
        begin = (left + way.begin[0], top + way.begin[1])
        canvas.line(begin, [at(move) for move in way.moves], kind="cable")
        canvas.head((left + way.end.at[0], top + way.end.at[1]), -way.end.side)
        if wire.source != wire.target:
            off = 0.6 + _past_strip(by_key[wire.source])
            _write(canvas, wire.at_start, way.start, (left, top), off)
            _write(canvas, wire.at_end, way.end, (left, top), HEAD + 0.6)
    for card, (x, y), height, lines in zip(
        part.cards, layout.corners, layout.heights, part.written, strict=True
    ):
        _draw_card(canvas, card, (left + x, top + y), (width, height), lines)


def _write(canvas: Canvas, text: str, end: End, corner: Point, off: float) -> None:
    """Write a label above an end of a wire, ``off`` mm from the box."""
    if text:
        x = corner[0] + end.at[0] + (off if end.side > 0 else -off - _label(text))
        canvas.text((x, corner[1] + end.at[1] - 0.8), text, WORD_MM)


def _draw_card(
    canvas: Canvas, card: Card, corner: Point, size: Point, lines: Sequence[Text]
) -> None:
    (x, y), (wide, high) = corner, size
    canvas.frame(
        corner,
        size,
        stroke=HEAVY if card.heavy else THIN,
        radius=3 if card.rounded else 0.8,
    )
    top = y + (high - _filled(card, lines)) / 2
    for line in lines:
        base = (x + wide / 2, top + line.size * ASCENT)
        canvas.text(base, line.text, line.size, strong=line.strong, middle=True)
        top += line.size * LEADING
    if card.full is not None:
        bar, room = (x + INSIDE, top + 0.6), wide - 2 * INSIDE
        canvas.frame(bar, (room, BAR), radius=0, kind="scale")
        canvas.bar(bar, (room * min(card.full, 1), BAR))
