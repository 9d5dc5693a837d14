"""Units that listen to MIDI and that no sender can reach."""

from __future__ import annotations

from setwright.compiler.binding.target import COMPUTER, SWITCHER
from setwright.compiler.compiled import Compiled


def unreached(compiled: Compiled) -> set[str]:
    """Return the units with a channel that no cable brings anything, and nothing is meant for."""
    units, lines = compiled.book.rig.units, compiled.lines
    senders = [
        SWITCHER,
        COMPUTER,
        *(name for name, unit in units.items() if unit.sends or unit.is_ == "sender"),
    ]
    reached = {name for sender in senders for name in lines.reach(sender)}
    meant = {sent.command.unit for sent in compiled.traffic}
    listening = {name for name, unit in units.items() if unit.channel is not None}
    return listening - reached - meant - lines.gone
