"""The power supply: what each output gives, what it feeds, and how much of it that takes."""

from __future__ import annotations

from setwright.compiler.outputs.data import NightData
from setwright.compiler.outputs.drawings.figure import Card, Said, Wire, figure
from setwright.compiler.outputs.drawings.svg import Drawing
from setwright.compiler.outputs.wiring import FedData, OutputData

WIDTH = 36.0
"""Width of a box in mm: two outputs side by side, each with its units."""

CAUTION = (
    "Go by the label of the box: a wrong voltage, kind of current or polarity destroys it. Never "
    "lift an earth. Mains wiring, and the inside of what hangs on the mains, belong to a licensed "
    "technician; local codes come first."
)
"""The usual cautions, as the README has them."""


def power_drawings(data: NightData) -> list[Drawing]:
    """Return the drawing of the supply; none where the rig says nothing of it."""
    supply = data.wiring.supply
    if not supply:
        return []
    cards = [_output(one) for one in supply]
    fed = {one.unit: one for output in reversed(supply) for one in reversed(output.feeds)}
    units = dict.fromkeys(one.unit for output in supply for one in output.feeds)
    cards += [_unit(fed[name]) for name in units]
    wires = dict.fromkeys(
        Wire(one.through or _key(output), one.unit) for output in supply for one in output.feeds
    )
    notes = (
        "Each arrow is a power cable; the bar is how much of what an output gives is drawn.",
        CAUTION,
    )
    description = " ".join(_in_words(one) for one in supply)
    said = Said("power", f"Power of {data.rig}", description, notes)
    return figure(said, cards, list(wires), WIDTH)


def _key(output: OutputData) -> str:
    """Return what no unit can be called."""
    return f"output\n{output.output}"


def _output(one: OutputData) -> Card:
    words = (_gives(one), _drawn(one))
    full = one.draws_ma / one.gives_ma
    return Card(_key(one), f"output {one.output}", words, heavy=True, full=full)


def _gives(one: OutputData) -> str:
    polarity = "" if one.polarity is None else f", {one.polarity}"
    return f"{one.volts} {one.current.upper()}{polarity}"


def _drawn(one: OutputData) -> str:
    share = f"{round(100 * one.draws_ma / one.gives_ma)} %"
    unknown = any(fed.draws_ma is None for fed in one.feeds)
    more = " and what is not said" if unknown else ""
    return f"{one.draws_ma:g} of {one.gives_ma:g} mA, {share}{more}"


def _unit(one: FedData) -> Card:
    if one.draws_ma is None or one.current is None:
        return Card(one.unit, one.unit, ("draw not said",))
    draws = f"{one.draws_ma:g} mA at {one.volts} {one.current.upper()}"
    return Card(one.unit, one.unit, (draws, *((one.polarity,) if one.polarity else ())))


def _in_words(one: OutputData) -> str:
    feeds = "; ".join(
        f"{fed.unit}{f' through {fed.through}' if fed.through else ''}, "
        + (f"{fed.draws_ma:g} mA" if fed.draws_ma is not None else "draw not said")
        for fed in one.feeds
    )
    return f"Output {one.output}: {_gives(one)}, {_drawn(one)}; feeds {feeds or 'nothing'}."
