"""Which message stands in which slot of a preset: the same unit in the same slot, where it can.

A preset sends its slots in their order, so a slot for each unit is possible only if all presets
want the units in orders that agree, and if there are slots enough. Then whoever types finds each
unit where it was in the preset before.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from typing import NamedTuple

from setwright.compiler.lowering.commands import Command


class Sent(NamedTuple):
    """What a slot is for: a unit, what it sets of it, and the control's number, 0 for programs."""

    unit: str
    quantity: str
    number: int


def sent_by(command: Command) -> Sent:
    """Return what a command's slot is for."""
    program = command.message.kind == "program"
    return Sent(command.unit, command.quantity, 0 if program else command.message.data[0])


def fixed_slots(presets: Iterable[Iterable[Command]], holds: int) -> Mapping[Sent, int]:
    """Return the slot of each thing that is sent, counted from 1; empty if none can be for all.

    ``presets`` are the commands of one kind in each preset, in the order of sending.
    """
    rows = [[sent_by(command) for command in commands] for commands in presets]
    if any(len(set(row)) < len(row) for row in rows):
        return {}
    order = list(_in_order(rows))
    if len(order) > holds or len(order) < len({one for row in rows for one in row}):
        return {}
    return {one: slot for slot, one in enumerate(order, 1)}


def _in_order(rows: list[list[Sent]]) -> Iterator[Sent]:
    """Yield everything in an order that all rows keep, as far as there is one."""
    left = [row for row in rows if row]
    while left:
        heads = {row[0] for row in left}
        behind = {one for row in left for one in row[1:]}
        free = sorted(heads - behind)
        if not free:
            return
        yield free[0]
        left = [rest for row in left if (rest := [one for one in row if one != free[0]])]
