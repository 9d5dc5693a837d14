"""What a message that came in says to the units of a rig: the other way round of lowering.

A message is looked up by channel and number in what the units declare; cables are not asked, for
nobody knows at which of them the computer listens. What no unit declares is said, with the units
that may act on it. Bank selects and the coarse parts of controls are kept, since what follows on
their channel depends on them (MIDI 1.0 Detailed Specification 4.2.1, bank select; control change,
where the coarse part comes first).
"""

from __future__ import annotations

from collections.abc import Iterator
from fractions import Fraction
from typing import NamedTuple

from setwright.compiler import midi
from setwright.compiler.binding.described import in_words
from setwright.compiler.binding.settings import STEPS, setting_at
from setwright.compiler.binding.target import SWITCHER, Program
from setwright.compiler.compiled import Compiled
from setwright.compiler.lowering import recall
from setwright.compiler.lowering.preset import Address
from setwright.compiler.placement.banks import banks_of
from setwright.compiler.proving.routing import Reaction, reaction, takes_bank_select
from setwright.compiler.reports.find import heading
from setwright.scenes.control import Control, FootSends
from setwright.scenes.displays import counted
from setwright.scenes.rig import kept_names, parse_kept_switch
from setwright.scenes.unit import Unit
from setwright.scenes.wording import joined, number_of


class Told(NamedTuple):
    """What a message says, in words, and whether any unit declares it."""

    words: str
    declared: bool


class Meaning:
    """What messages mean on the rig of one night, as they come one after the other."""

    def __init__(self, compiled: Compiled) -> None:
        self._compiled = compiled
        target = compiled.target
        self._units = {name: unit for name, unit in target.units.items() if name not in target.gone}
        self._value: dict[tuple[int, int], int] = {}
        """The last value of each control of each channel."""
        self._lies = dict(_lying(compiled))

    def of(self, message: midi.Message) -> Told:
        """Return what ``message`` says, and take note of it for those that follow."""
        if message.kind == "control":
            number, value = message.data
            self._value[message.channel, number] = value
        says = list(self._says(message))
        if says:
            return Told("; ".join(says), True)
        return Told(self._undeclared(message), False)

    def forget(self) -> None:
        """Take no more for known what came before: something after it was lost."""
        self._value.clear()

    def _says(self, message: midi.Message) -> Iterator[str]:
        yield from (f"{SWITCHER}: {does}" for does in self._to_switcher(message))
        for name, unit in self._units.items():
            if unit.channel in {"omni", message.channel}:
                yield from (f"{name}: {does}" for does in self._to_unit(name, unit, message))
            sends = unit.foot_sends
            if sends is not None and message.kind == "control":
                of_pedal = (sends.channel, sends.cc)
                if (message.channel, message.data[0]) == of_pedal:
                    yield f"{name} sends it {_stands(sends, message.data[1])}"

    def _undeclared(self, message: midi.Message) -> str:
        does = {name: reaction(unit, message)[0] for name, unit in self._units.items()}
        may = [name for name, one in does.items() if one.acting]
        if may:
            return f"no unit declares it; {joined(may)} may act on it"
        listening = [
            name
            for name, one in does.items()
            if one is not Reaction.OTHER_CHANNEL and self._units[name].channel is not None
        ]
        if listening:
            ignores = "ignores" if len(listening) == 1 else "ignore"
            return f"no unit declares it; {joined(listening)} {ignores} it"
        return f"no unit listens on channel {message.channel}"

    def _to_switcher(self, message: midi.Message) -> Iterator[str]:
        switcher = self._compiled.book.switcher
        by = switcher.recalled_by_bank_select
        if message.channel != switcher.recalled_on_channel:
            return
        if message.kind == "control" and message.data[0] in _selects(by):
            yield f"bank select {message.data[1]} ({_half(message.data[0])})"
        if message.kind != "program":
            return
        bank = self._bank(message.channel, by)
        if bank is None:
            yield f"load program {message.data[0]} of a bank that was not heard"
            return
        slot = recall.recalled_by(switcher, bank * 128 + message.data[0])
        if slot is None:
            yield f"program {message.data[0]}, for which it has no preset"
        else:
            lies = self._lies.get(slot)
            lies = f", {lies}" if lies else ""
            yield f"load {recall.in_words(switcher, slot)}{lies}"

    def _to_unit(self, name: str, unit: Unit, message: midi.Message) -> Iterator[str]:
        if message.kind == "program":
            if (unit.programs or unit.free_programs) and unit.reached_by is None:
                yield self._program(name, unit, message)
        elif message.kind == "control":
            number, value = message.data
            yield from _switched(unit, number, value)
            for called, control in unit.every_control:
                yield from self._set(called, control, message)
            if unit.tap is not None and unit.tap.cc == number:
                yield "tap"
            if unit.reached_by is not None:
                for way, cc in (("up", unit.reached_by.up), ("down", unit.reached_by.down)):
                    if cc == number:
                        wrong = "" if value == unit.reached_by.value else _not(value)
                        yield f"step {way}{wrong}"
            if takes_bank_select(unit, number):
                yield f"bank select {value} ({_half(number)})"

    def _program(self, name: str, unit: Unit, message: midi.Message) -> str:
        number, select = message.data[0], unit.bank_select
        bank = self._bank(message.channel, select.by if select is not None else "no")
        if bank is None:
            return f"load program {number} of a bank that was not heard"
        size = select.programs_in_a_bank if select is not None else 128
        display, index = unit.display or counted(128), bank * size + number
        if number >= size or index >= display.count:
            return f"program {number}, which is beyond its display ({display.text})"
        shown = display.show(index)
        known: list[Program] = list(self._compiled.target.programs.get(name, {}).values())
        names = [one.name for one in known if one.on_wire == (bank, number)]
        if names:
            return f"load {' or '.join(names)} (display {shown})"
        return f"load display {shown}, to which the rig gives no name"

    def _set(self, called: str, control: Control, message: midi.Message) -> Iterator[str]:
        number, value = message.data
        if number == control.cc:
            if control.presses:
                yield f"{called}: one press"
            else:
                yield f"{called} {in_words(setting_at(control, value))}"
        if number == control.fine_cc:
            coarse = self._value.get((message.channel, control.cc))
            if coarse is None:
                yield f"fine part {value} of {called}, and nothing of it before"
            else:
                whole = min(Fraction(127), coarse + Fraction(value, STEPS))
                yield f"fine part of {called}, now {in_words(setting_at(control, whole))}"

    def _bank(self, channel: int, by: str) -> int | None:
        """Return the bank that was selected last on ``channel``; None where it was not heard."""
        halves = [self._value.get((channel, number)) for number in _selects(by)]
        bank = 0
        for half in halves:
            if half is None:
                return None
            bank = bank << 7 | half
        return bank


def _selects(by: str) -> tuple[int, ...]:
    """Return the controls of a bank select, most significant byte first."""
    return {
        "msb": (midi.BANK_MSB,),
        "lsb": (midi.BANK_LSB,),
        "msb and lsb": (midi.BANK_MSB, midi.BANK_LSB),
    }.get(by, ())


def _half(number: int) -> str:
    return "msb" if number == midi.BANK_MSB else "lsb"


def _not(value: int) -> str:
    return f", but with value {value}"


def _switched(unit: Unit, number: int, value: int) -> Iterator[str]:
    """Yield what a control does that switches ``unit``."""
    switch = unit.switched_by
    if switch is None or switch.cc != number:
        return
    if switch.any_value_flips:
        yield "flip between on and off"
        return
    named = {
        switch.release: "release of its switch",
        switch.press: "press of its switch",
        switch.off: "switch off",
        switch.on: "switch on",
    }
    named.pop(None, None)
    known = " or ".join(str(one) for one in sorted(key for key in named if key is not None))
    yield named.get(value, f"its switch{_not(value)} instead of {known}")


def _stands(sends: FootSends, value: int) -> str:
    """Say where the foot stands whose pedal sends ``value``."""
    at = [name for name, own in sends.values.items() if own == value]
    if at:
        return f"at {at[0]}"
    ordered = sorted(sends.values.items(), key=lambda one: one[1])
    below = [name for name, own in ordered if own < value]
    above = [name for name, own in ordered if own > value]
    if below and above:
        return f"between {below[-1]} and {above[0]}"
    return f"beyond {(below or above)[-1 if below else 0]}"


def _lying(compiled: Compiled) -> Iterator[tuple[Address, str]]:
    """Yield what lies on each switch tonight: its first scene as a person names it."""
    songs = {song.owner: song for song in reversed(compiled.with_kept)}
    use = compiled.book.rig.switcher
    if use is not None and compiled.placement.presets:
        switches = compiled.book.switcher.switches
        first, last = banks_of(compiled.target)
        kept = {parse_kept_switch(key).casefold(): name for key, name in kept_names(use).items()}
        for switch in range(switches.count):
            if (name := kept.get(switches.show(switch).casefold())) is not None:
                for bank in range(first, last + 1):
                    yield Address(bank, switch), name
    for preset in compiled.placement.presets:
        owner, scene = preset.scenes[0]
        more = f" and {number_of(len(preset.scenes) - 1, 'other')}" if preset.scenes[1:] else ""
        song = songs.get(owner)
        title = heading(compiled, song) if song is not None else owner
        yield preset.slot, f"{title}/{scene}{more}"
