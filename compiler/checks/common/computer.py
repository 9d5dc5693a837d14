"""What a computer's own MIDI line is good for: units told directly, presets called, a clock."""

from __future__ import annotations

from setwright.compiler.binding.target import COMPUTER, SWITCHER
from setwright.compiler.compiled import Compiled
from setwright.scenes.places import KeyPath


def told(compiled: Compiled) -> set[str]:
    """Return the units that scenes send messages to tonight."""
    sender = compiled.lines.sender
    return {sent.command.unit for sent in compiled.traffic if sent.sender == sender}


def someone_is_deaf(compiled: Compiled) -> bool:
    """Tell whether what scenes send does not get to its units, which is a fault of its own."""
    sender = compiled.lines.sender
    return any(not sent.reached for sent in compiled.traffic if sent.sender == sender)


def is_of_use(compiled: Compiled) -> bool:
    """Tell whether anything that a computer sends gets to a unit that may obey it."""
    lines, units = compiled.lines, compiled.book.rig.units
    if COMPUTER not in lines.first:
        return False
    own = units.get(COMPUTER)
    clock = own is not None and any(one.kind == "clock" for one in own.sends)
    return bool(lines.listening(COMPUTER)) or any(
        clock and name in units and units[name].tempo_from == "clock"
        for name in lines.reach(COMPUTER)
    )


def cannot_recall(compiled: Compiled) -> list[str] | None:
    """Return the units that a computer misses which would have to call presets, and cannot.

    None where it can, or need not: where no preset can be called, where it tells every unit of the
    scenes itself, or none of them, for then it has other things to do.
    """
    lines, switcher = compiled.lines, compiled.book.switcher
    if switcher.recalled_on_channel is None or lines.recalls or lines.sender != SWITCHER:
        return None
    if COMPUTER not in lines.first or someone_is_deaf(compiled):
        return None
    needed, hear = told(compiled), set(lines.listening(COMPUTER))
    missed = [name for name in compiled.book.rig.units if name in needed - hear]
    leads_there = lines.stopped(COMPUTER, SWITCHER) is not None
    if missed and (needed & hear or leads_there):
        return missed
    return None if is_of_use(compiled) else missed


def where(compiled: Compiled) -> KeyPath | None:
    """Return where the computer stands on a line that begins with it, or should lead from it."""
    for row, line in enumerate(compiled.book.rig.midi):
        for index, item in enumerate(line):
            if COMPUTER in item and (index + 1 < len(line) or len(line) == 1):
                return ("rig", "midi", row, index, COMPUTER)
    return None


def meets_the_switcher(compiled: Compiled) -> bool:
    """Tell whether a cable of the computer leads to the switcher."""
    return COMPUTER in compiled.lines.first and SWITCHER in compiled.lines.reach(COMPUTER)
