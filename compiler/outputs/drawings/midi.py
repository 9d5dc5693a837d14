"""The MIDI lines: who sends, who passes on, and which channel each box listens to."""

from __future__ import annotations

from setwright.compiler.outputs.data import NightData
from setwright.compiler.outputs.drawings.figure import Card, Said, Wire, figure
from setwright.compiler.outputs.drawings.svg import Drawing
from setwright.compiler.outputs.wiring import MidiBoxData
from setwright.scenes.wording import joined

WIDTH = 29.0
"""Width of a box in mm: four to a line, with a label at each cable."""
HEAVY = {"switcher", "computer"}


def midi_drawings(data: NightData) -> list[Drawing]:
    """Return the drawing of the MIDI lines; none where the rig says nothing of them."""
    wiring = data.wiring
    if not wiring.midi:
        return []
    fed = {cable.target for cable in wiring.midi_cables}
    through = {cable.source for cable in wiring.midi_cables if cable.source in fed}
    words = {one.box: _words(one, one.box in fed, one.box in through) for one in wiring.midi}
    cards = [Card(one.box, one.box, words[one.box], one.kind in HEAVY) for one in wiring.midi]
    wires = [Wire(one.source, one.target, one.socket) for one in wiring.midi_cables]
    cables = "; ".join(
        f"{one.source} {one.socket} to {one.target} IN" for one in wiring.midi_cables
    )
    boxes = "; ".join(f"{name}: {joined(said)}" if said else name for name, said in words.items())
    description = f"Boxes: {boxes}. Cables: {cables or 'none'}."
    note = (
        "Each arrow is a cable, into a MIDI IN. An OUT sends what its own box says, and what a "
        "merge joins; a THRU passes on what comes in."
    )
    heavy = "A heavy frame is a switcher or a computer."
    said = Said("midi", f"MIDI lines of {data.rig}", description, (f"{note} {heavy}",))
    return figure(said, cards, wires, WIDTH)


def _words(one: MidiBoxData, fed: bool, through: bool) -> tuple[str, ...]:
    words = []
    if one.kind == "switcher":
        if fed and one.channel is not None:
            words.append(f"recall: channel {one.channel}")
    elif one.omni:
        words.append("all channels (omni)")
    elif one.channel is not None:
        words.append(f"channel {one.channel}")
    elif one.kind == "sender":
        words.append("sends only")
    elif one.kind == "merge":
        words.append("merge")
    elif one.kind != "computer":
        words.append("no channel")
    if through and not one.passes_on:
        words.append("passes nothing on")
    return tuple(words)
