"""How a computer tells the switcher which preset to load.

Presets are numbered switch by switch, bank by bank; the program on the wire is that number from
the switcher's first program on. Beyond 127 it takes a bank select, if the switcher obeys one;
one half of it alone (control 0 or 32) reaches 128 banks, both together 16,384 (MIDI 1.0 Detailed
Specification 4.2.1, bank select).
"""

from __future__ import annotations

from setwright.compiler import midi
from setwright.compiler.binding.target import SWITCHER
from setwright.compiler.lowering.commands import Command
from setwright.compiler.lowering.preset import Address
from setwright.scenes.switcher import Switcher


def recall(switcher: Switcher, slot: Address) -> tuple[Command, ...] | None:
    """Return the commands that load the preset in ``slot``; None where no message can."""
    channel = switcher.recalled_on_channel
    if channel is None:
        return None
    number = switcher.first_program + slot.bank * switcher.switches.count + slot.switch
    shown = in_words(switcher, slot)
    by = switcher.recalled_by_bank_select
    if number // 128 >= midi.banks_reached(by):
        return None
    commands: list[Command] = []
    if by != "no":
        for message in midi.bank(channel, number // 128, by):
            commands.append(
                Command(SWITCHER, "bank", message, f"bank select for {shown}", joined=True)
            )
    load = midi.program(channel, number % 128)
    commands.append(Command(SWITCHER, "program", load, f"load {shown}", name=shown))
    return tuple(commands)


def recalled_by(switcher: Switcher, number: int) -> Address | None:
    """Return the slot whose preset program ``number`` loads, bank select reckoned in.

    That is the other way round of what `recall` does; None where there is no such preset.
    """
    preset = number - switcher.first_program
    bank, switch = divmod(preset, switcher.switches.count)
    return Address(bank, switch) if 0 <= bank < switcher.banks.count else None


def in_words(switcher: Switcher, slot: Address) -> str:
    """Return where a preset lies as the switcher shows it: ``bank 2, switch 5``."""
    return f"bank {switcher.banks.show(slot.bank)}, switch {switcher.switches.show(slot.switch)}"
