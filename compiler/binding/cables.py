"""Names on the cables: the signal path, the MIDI lines, the power supply."""

from __future__ import annotations

from setwright.compiler.binding.rig_findings import RigFindings
from setwright.compiler.binding.target import ALWAYS_THERE, COMPUTER, SWITCHER


def look_up_cables(found: RigFindings) -> None:
    """Look up every unit that a cable of the rig is plugged into."""
    loops = {name for name, unit in found.rig.units.items() if unit.effects_loop}
    for row, run in enumerate(found.rig.signal_path):
        for index, name in enumerate(run):
            base = name.removesuffix(" send").removesuffix(" return")
            if name in ALWAYS_THERE or (base != name and base in loops):
                continue
            found.units.find(
                name if name in found.units.defined else base,
                ("rig", "path", row, index),
            )
    for row, line in enumerate(found.rig.midi):
        for index, item in enumerate(line):
            for name in item:
                if name not in {SWITCHER, COMPUTER}:
                    found.units.find(name, ("rig", "midi", row, index, name))
    for output, supply in found.rig.supply.items():
        for index, name in enumerate(supply.feeds):
            found.units.find(name, ("rig", "supply", output, "feeds", index))
    for name, unit in found.rig.units.items():
        for index, other in enumerate(unit.power.passes_on_to if unit.power else ()):
            path = ("rig", "units", name, "power", "passes on to", index)
            found.units.find(other, path)
