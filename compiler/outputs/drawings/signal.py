"""The signal's path, from the guitar to the amplifiers.

A unit whose effects loop is in use is drawn as two boxes: what lies before its input leads to the
first, what is plugged in between send and return lies in a dotted frame between the two.
"""

from __future__ import annotations

from setwright.compiler.outputs.data import NightData
from setwright.compiler.outputs.drawings.figure import Card, Said, Wire, figure
from setwright.compiler.outputs.drawings.svg import Drawing
from setwright.compiler.outputs.wiring import PathCableData, PathUnitData
from setwright.scenes.wording import joined

WIDTH = 22.0
"""Width of a box in mm: six to a line."""


def signal_drawings(data: NightData) -> list[Drawing]:
    """Return the drawing of the signal's path; none where the rig says nothing of it."""
    wiring = data.wiring
    if not wiring.path:
        return []
    split = {one.unit for one in wiring.path if one.effects_loop}
    cards = [card for one in wiring.path for card in _cards(one)]
    notes = ["Arrows lead the way of the signal."]
    if any(one.kind == "amplifier" for one in wiring.path):
        notes.append("A heavy frame is an amplifier.")
    if split:
        notes.append("What lies in a dotted frame is plugged in between send and return.")
    said = Said("signal", f"Signal path of {data.rig}", _in_words(data), (" ".join(notes),))
    return figure(said, cards, [_wire(one, split) for one in wiring.path_cables], WIDTH)


def _cards(one: PathUnitData) -> list[Card]:
    amplifier = one.kind == "amplifier"
    loop = () if one.loop is None else (f"loop {one.loop}",)
    band = one.within or ""
    if not one.effects_loop:
        said = one.kind not in {"guitar", "effect"} and one.kind not in one.unit.casefold()
        words = (*((one.kind,) if said else ()), *loop)
        card = Card(one.unit, one.unit, words, amplifier, one.kind == "guitar", None, band)
        return [card]
    front, back = (
        ("preamplifier", "power amplifier")
        if amplifier
        else ("up to its send", "from its return on")
    )
    return [
        Card(_front(one.unit), one.unit, (front, *loop), amplifier, band=band),
        Card(_back(one.unit), one.unit, (back, *loop), amplifier, band=band),
    ]


def _front(unit: str) -> str:
    return f"{unit}\nfront"


def _back(unit: str) -> str:
    return f"{unit}\nback"


def _wire(cable: PathCableData, split: set[str]) -> Wire:
    sends, returns = cable.source_side == "send", cable.target_side == "return"
    source, target = cable.source, cable.target
    if source in split:
        source = _front(source) if sends else _back(source)
    if target in split:
        target = _back(target) if returns else _front(target)
    return Wire(source, target, "send" if sends else "", "return" if returns else "")


def _in_words(data: NightData) -> str:
    wiring = data.wiring
    cables = "; ".join(
        f"{one.source}{' send' if one.source_side == 'send' else ''} to "
        f"{one.target}{' return' if one.target_side == 'return' else ''}"
        for one in wiring.path_cables
    )
    sentences = [f"Cables: {cables}." if cables else f"{joined([u.unit for u in wiring.path])}."]
    loops = [f"{one.unit} in loop {one.loop}" for one in wiring.path if one.loop is not None]
    if loops:
        sentences.append(f"In the switcher: {joined(loops)}.")
    for owner in [one.unit for one in wiring.path if one.effects_loop]:
        inside = [one.unit for one in wiring.path if one.within == owner]
        if inside:
            lies = "lies" if len(inside) == 1 else "lie"
            sentences.append(f"Between send and return of {owner} {lies} {joined(inside)}.")
    amplifiers = [one.unit for one in wiring.path if one.kind == "amplifier"]
    if amplifiers:
        sentences.append(f"It is heard from {joined(amplifiers)}.")
    return " ".join(sentences)
