"""Fine parts in a preset: which of them find a slot.

A control of 14 bits takes two messages, the coarse part and right behind it the fine part (MIDI
1.0 Detailed Specification 4.2.1, control change: MSB, then LSB). What a preset has to hold comes
first; fine parts get the control slots that are left, delay times before anything else, for a
delay beside the beat is heard, and otherwise in the order of sending.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence

from setwright.compiler.lowering.commands import Command
from setwright.scenes.switcher import Storage


def without_room(commands: Sequence[Command], storage: Storage) -> frozenset[tuple[str, str]]:
    """Return the controls, unit and name, for whose fine part a preset has no slot left."""
    fine = [one for one in commands if one.fine]
    if not fine:
        return frozenset()
    coarse = [
        one
        for one in commands
        if one.message.kind == "control"
        and not one.fine
        and (one.quantity != "bank" or not storage.bank_select)
    ]
    free = storage.controls - len(coarse)
    on_channel = Counter(storage.control_channels)
    on_channel.subtract(one.message.channel for one in coarse)
    left_out = set()
    for command in sorted(fine, key=lambda one: one.quantity != "time"):
        channel = command.message.channel
        if free > 0 and (storage.on_any_channel or on_channel[channel] > 0):
            free -= 1
            on_channel[channel] -= 1
        else:
            left_out.add((command.unit, command.quantity))
    return frozenset(left_out)
