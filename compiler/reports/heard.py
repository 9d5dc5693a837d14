"""A scene as the guitarist hears it: what the signal comes through, one line for each branch.

Shown is what is in use: boxes whose loop is in, that are switched on, or that are always in the
way. What lies before the preamplifier of an amplifier and what lies in its effects loop is told
apart: the one stands before ‘preamplifier of combo’, the other between it and ‘power amplifier
of combo’. Splitters and mixers are not shown, for each of their ways has a line of its own.
"""

from __future__ import annotations

from typing import NamedTuple

from setwright.compiler.binding.states import Wanted
from setwright.compiler.binding.target import Program, is_relay
from setwright.compiler.compiled import Compiled
from setwright.compiler.proving.proved import LoweredScene
from setwright.compiler.signal.graph import Chain, Side
from setwright.scenes.unit import ON, Unit

JOINT = frozenset({"splitter", "mixer"})
STATES = ("program", "foot")
FRONT, BACK = "front", "back"
"""The two parts of a unit whose effects loop is in use."""


class Stop(NamedTuple):
    """A unit on the signal's way: what it does, and which part of it this is.

    ``part`` is `FRONT`, `BACK`, or empty where the signal comes through all of the unit at once;
    ``states`` its program, its position by foot and its channel, where these are known.
    """

    unit: str
    is_amplifier: bool
    part: str
    states: tuple[str, ...]

    def __str__(self) -> str:
        states = f" ({', '.join(self.states)})" if self.states else ""
        match self.part, self.is_amplifier:
            case "front", True:
                return f"preamplifier of {self.unit}{states}"
            case "back", True:
                return f"power amplifier of {self.unit}"
            case "front", False:
                return f"{self.unit}{states} up to its send"
            case "back", False:
                return f"{self.unit} from its return on"
            case _:
                return f"{self.unit}{states}"


def heard(compiled: Compiled, scene: LoweredScene) -> list[tuple[Stop, ...]]:
    """Return what the guitar's signal comes through in ``scene``: one row for each branch."""
    by_unit: dict[str, dict[str, Wanted]] = {}
    for wanted in scene.proved:
        by_unit.setdefault(wanted.unit, {})[wanted.quantity] = wanted
    rows = (_row(compiled, chain, by_unit) for chain in compiled.signal.chains())
    return list(dict.fromkeys(rows))


def _row(
    compiled: Compiled, chain: Chain, by_unit: dict[str, dict[str, Wanted]]
) -> tuple[Stop, ...]:
    signal, row = compiled.signal, list[Stop]()
    for at, (unit, side) in enumerate(chain):
        if side is Side.SEND or (side is Side.OUT and at) or unit in signal.gone:
            continue
        if unit in signal.units and signal.units[unit].is_ in JOINT:
            continue
        quantities = by_unit.get(unit, {})
        if any(_is_out(quantities.get(one)) for one in ("loop", "switch")):
            continue
        part = BACK if side is Side.RETURN else ""
        if side is Side.IN and chain[at + 1].side is Side.SEND:
            part = FRONT
        said = [*STATES, *filter(is_relay, quantities)]
        states = tuple(
            state for one in said if one in quantities and (state := _state(quantities[one]))
        )
        if muted := _is_muted(signal.units.get(unit), states, quantities):
            states = (*states, "lets nothing through")
        stop = Stop(unit, signal.is_amplifier(unit), part, states)
        if row and row[-1] == stop._replace(part=FRONT) and part == BACK:
            row[-1] = stop._replace(part="")  # nothing in its effects loop is in use
        else:
            row.append(stop)
        if muted:
            break
    return tuple(row)


def _is_muted(unit: Unit | None, states: tuple[str, ...], quantities: dict[str, Wanted]) -> bool:
    """Tell whether nothing comes through a unit in this scene."""
    if unit is None or not unit.silences:
        return False
    is_on = any(quantities[one].value is True for one in ("loop", "switch") if one in quantities)
    on = is_on and ON in unit.silences and ON not in unit.states
    return on or not set(states).isdisjoint(unit.silences)


def _is_out(wanted: Wanted | None) -> bool:
    return wanted is not None and wanted.value is False


def _state(wanted: Wanted) -> str:
    """Return a state in a word; empty where nobody cares, or where the foot decides."""
    if isinstance(wanted.value, Program):
        return wanted.value.name
    return wanted.value if isinstance(wanted.value, str) else ""
