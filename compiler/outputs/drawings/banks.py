"""The switcher's banks of tonight: a grid, one row a bank, one column a switch."""

from __future__ import annotations

from setwright.compiler.outputs.data import NightData
from setwright.compiler.outputs.drawings.figure import ROOM, TALLEST, Said, finished
from setwright.compiler.outputs.drawings.lettering import ASCENT, LEADING, name_in
from setwright.compiler.outputs.drawings.svg import DOTTED, Canvas, Drawing
from setwright.scenes.displays import parse_display
from setwright.scenes.wording import joined

MOST = 10
"""So many switches stand side by side; more go on in a grid below."""
HEAD = 17.0
"""Width of the column that names banks."""
HIGH, APART, WIDEST = 11.0, 1.2, 30.0
"""Height of a cell, the air between cells, and the most that a cell is wide."""
FULL, EMPTY = 0.5, 0.15
"""Strokes of the frames of presets, and of switches that are not used."""
TOP = 8.6
"""Height of the row that names switches."""


def banks_drawings(data: NightData) -> list[Drawing]:
    """Return the drawing of the banks in use; none where nothing is stored."""
    switcher = data.switcher
    banks = {one.place.bank: one.place.bank_shown for one in data.presets}
    if not banks:
        return []
    display = parse_display(switcher.switches)
    switches = [display.show(number) for number in range(switcher.switch_count)]
    kept = {mark.casefold(): name for mark, name in switcher.kept.items()}
    names = {(one.place.bank, one.place.switch): one.name for one in data.presets}
    groups = [range(at, min(at + MOST, len(switches))) for at in range(0, len(switches), MOST)]
    wide = min((ROOM - 0.8 - HEAD) / len(groups[0]), WIDEST)
    rows = [(bank, group) for group in groups for bank in sorted(banks)]
    pages: list[tuple[Canvas, float, float]] = []
    canvas, top, before = Canvas(), 0.4, range(0)
    for bank, group in rows:
        need = HIGH + APART + (TOP + APART if group != before else 0)
        if top + need > TALLEST:
            pages.append((canvas, HEAD + len(groups[0]) * wide + 0.8, top))
            canvas, top, before = Canvas(), 0.4, range(0)
        if group != before:
            for column, switch in enumerate(group):
                x = 0.4 + HEAD + column * wide
                _write(canvas, (x, top), (wide - APART, TOP), f"switch {switches[switch]}", False)
            top += TOP + APART
            before = group
        _write(canvas, (0.4, top), (HEAD - APART, HIGH), f"bank {banks[bank]}", True)
        for column, switch in enumerate(group):
            corner = (0.4 + HEAD + column * wide, top)
            size = (wide - APART, HIGH)
            name = names.get((bank, switch + 1))
            keeps = kept.get(switches[switch].casefold())
            if name is not None:
                canvas.frame(corner, size, stroke=FULL, kind="cell")
                _write(canvas, corner, size, name, True)
            elif keeps is not None:
                canvas.frame(corner, size, stroke=0.4, dots=DOTTED, kind="cell")
                _write(canvas, corner, size, keeps, False)
            else:
                canvas.frame(corner, size, stroke=EMPTY, kind="cell")
        top += HIGH + APART
    pages.append((canvas, HEAD + len(groups[0]) * wide + 0.8, top))
    notes = ["A heavy frame is a preset of tonight. An empty frame is not used tonight."]
    if kept:
        notes.append("A dotted frame is kept the same in every bank.")
    said = Said("banks", f"Banks of {switcher.name}", _in_words(data), (" ".join(notes),))
    return finished(said, pages)


def _write(
    canvas: Canvas, corner: tuple[float, float], size: tuple[float, float], text: str, strong: bool
) -> None:
    """Write a text into the middle of a cell, over two lines if it is long."""
    lines, letters, _ = name_in(text, size[0] - 1.4, strong=strong)
    top = corner[1] + (size[1] - len(lines) * letters * LEADING) / 2
    for number, line in enumerate(lines):
        base = top + letters * (ASCENT + number * LEADING)
        canvas.text((corner[0] + size[0] / 2, base), line, letters, strong=strong, middle=True)


def _in_words(data: NightData) -> str:
    by_bank: dict[str, list[str]] = {}
    for one in sorted(data.presets, key=lambda one: (one.place.bank, one.place.switch)):
        said = f"switch {one.place.switch_shown} {one.name}"
        by_bank.setdefault(one.place.bank_shown, []).append(said)
    sentences = [f"Bank {bank}: {', '.join(presets)}." for bank, presets in by_bank.items()]
    kept = [f"switch {mark} {name}" for mark, name in data.switcher.kept.items()]
    if kept:
        sentences.append(f"Kept in every bank: {joined(kept)}.")
    return " ".join(sentences)
