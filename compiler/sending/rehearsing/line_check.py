"""The line check: every loop, program, relay, switch, tap and pedal of a rig, one after the other.

Pure: which checks there are, what is sent for each, what to listen for, what only hands can do.
What a message of ours can set is sent to the unit itself, where a cable leads from the computer to
it; else a preset of tonight that has it is called, the one with the least besides; else the player
does it by hand. One thing at a time, along the signal's path.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from functools import partial
from typing import NamedTuple

from setwright.compiler import midi
from setwright.compiler.binding.states import Wanted
from setwright.compiler.binding.target import COMPUTER, Program
from setwright.compiler.compiled import Compiled
from setwright.compiler.lowering.commands import Command
from setwright.compiler.lowering.preset import Address, Content
from setwright.compiler.lowering.recall import recall
from setwright.compiler.placement.banks import Preset
from setwright.compiler.sending.rehearsing.silencing import quieting, resting, state
from setwright.scenes.control import SwitchedBy
from setwright.scenes.unit import ON, Switched, Unit
from setwright.scenes.wording import joined

THROUGH = "guitar"
"""The kind of check in which nothing is asked of a unit but that the guitar comes through."""


ANY_VALUE = 127
"""What a unit is sent that flips on any value; the highest serves pedals, too (common practice)."""
TWO_TIMES = ((32, "a shorter time"), (96, "a longer time"))
"""Values of a control of time that lie well apart; our own choice."""


class Check(NamedTuple):
    """One thing to be heard.

    ``kind`` is guitar, loop, switch, program, step, time, relay, tap or foot. ``sent`` goes to the
    unit itself, or calls a preset where ``called`` says which; ``by_hand`` is left to the player;
    ``relays`` are those that work it.
    """

    unit: str
    kind: str
    what: str
    listen: str
    sent: tuple[Command, ...] = ()
    called: str = ""
    by_hand: tuple[str, ...] = ()
    relays: tuple[int, ...] = ()

    @property
    def name(self) -> str:
        """Unit and what of it, as it stands in the report."""
        return f"{self.unit}: {self.what}"


QUIET = "nothing comes through (if so: heard)"
"""What is listened for where a unit is to silence the guitar."""


@dataclass
class _Maker:
    """Makes the checks of one rig, by one route."""

    compiled: Compiled
    direct: bool
    _hear: frozenset[str] = field(init=False)
    _loops: set[int] = field(default_factory=set)

    def __post_init__(self) -> None:
        """Look up who hears the computer."""
        self._hear = frozenset(self.compiled.lines.reach(COMPUTER))

    def checks(self) -> Iterator[Check]:
        """Yield every check: first the guitar alone, then the units along the path."""
        target, signal = self.compiled.target, self.compiled.signal
        there = {name: unit for name, unit in target.units.items() if name not in target.gone}
        bare = tuple(resting(self.compiled, direct=self.direct))
        out = ("put all loops out",) if self.compiled.book.switcher.loops else ()
        for name, unit in there.items():
            if unit.is_ == "amplifier" and (not signal.known or name in signal.in_path):
                hands = (*out, f"play, with {name} turned low")
                what = f"the guitar comes to {name}"
                yield Check(name, THROUGH, "the guitar alone", what, bare, "", hands)
        along = dict.fromkeys(word.unit for word in signal.words if word.unit in there)
        for name in (*along, *(one for one in there if one not in along)):
            yield from self._of_unit(name, there[name])

    def _of_unit(self, name: str, unit: Unit) -> Iterator[Check]:
        comes_in = QUIET if ON in unit.silences else f"{name} comes in"
        yield from self._loop(name, unit, comes_in)
        switch = unit.switched_by
        if switch is not None and switch.sets:
            check = Check(name, "switch", "on", comes_in)
            yield self._told(check, state(name, "switch", True), unit)
        elif switch is not None:
            yield from self._flipped(name, unit, switch)
        yield from self._programs(name, unit)
        if switch is not None and switch.sets:
            check = Check(name, "switch", "off", f"{name} goes out")
            yield self._told(check, state(name, "switch", False), unit)
        elif switch is None and not unit.programs:
            yield from self._times(name, unit)
        if unit.tempo_from == "tap" or unit.tap is not None or unit.tap_output is not None:
            how = "tap four beats with your foot"
            if unit.tap_output is not None:
                how = (
                    f"load a preset that has a tempo: output {unit.tap_output} of the switcher taps"
                )
            yield Check(name, "tap", "tap", f"the repeats of {name} follow", by_hand=(how,))
        for quantity, one in unit.switched.items():
            yield from self._relays(name, quantity, one, unit.silences)
        for position in unit.by_foot:
            heard = f"the guitar, with {name} {position}"
            if unit.foot_sends is not None:
                heard = f"what {name} moves is as at {position}"
            listen = QUIET if position in unit.silences else heard
            yield Check(name, "foot", position, listen, by_hand=(f"foot: {name} {position}",))

    def _loop(self, name: str, unit: Unit, comes_in: str) -> Iterator[Check]:
        """Yield the check of a loop, once for all units that share it."""
        number = unit.loop
        if number is None or number in self._loops:
            return
        self._loops.add(number)
        mates = [one for one in self.compiled.target.loop_mates.get(name, ()) if one != name]
        what = f"loop {number}" + (f" (with {joined(mates)})" if mates else "")
        yield self._called(
            Check(name, "loop", what, comes_in),
            lambda content: number in content.loops,
            f"put loop {number} in, all others out",
        )

    def _programs(self, name: str, unit: Unit) -> Iterator[Check]:
        """Yield each program once, whatever names it has; stepped ones only one on and back."""
        steps, channel = unit.reached_by, _channel(unit)
        if steps is not None:
            for control, what in ((steps.up, "one program on"), (steps.down, "one program back")):
                if control is not None and channel is not None:
                    message = midi.control(channel, control, steps.value)
                    check = Check(name, "step", what, f"the display of {name} goes {what}")
                    yield self._to_unit(check, (Command(name, "program", message, what),), unit)
            return
        rest = self.compiled.target.rest.get(name, {}).get("program")
        programs = {
            program.on_wire: program
            for program in reversed(self.compiled.target.programs.get(name, {}).values())
        }
        for program in sorted(programs.values(), key=lambda one: one.on_wire):
            listen = f"{name} sounds as {program.name}"
            if program.name in unit.silences:
                listen = QUIET
            elif isinstance(rest, Program) and rest.on_wire == program.on_wire:
                listen = f"{name} is at rest"
            what = f"program {program.name} (display {program.shown})"
            check = Check(name, "program", what, f"{listen}; its display shows {program.shown}")
            yield self._told(check, state(name, "program", program), unit)

    def _flipped(self, name: str, unit: Unit, switch: SwitchedBy) -> Iterator[Check]:
        """Yield the two turns of a unit of which no message says how it then is."""
        channel = _channel(unit)
        if channel is None:
            return
        values = [ANY_VALUE] if switch.any_value_flips else [switch.press, switch.release]
        commands = tuple(
            Command(name, "switch", midi.control(channel, switch.cc, value), "turn over")
            for value in values
            if value is not None
        )
        for what in ("turned over", "turned back"):
            check = Check(name, "switch", what, f"{name} comes in or goes out")
            yield self._to_unit(check, commands, unit)

    def _times(self, name: str, unit: Unit) -> Iterator[Check]:
        """Yield two times of a unit that nothing else than its time can be told."""
        channel = _channel(unit)
        if unit.time is None or channel is None or not unit.time.curve:
            return
        for value, what in TWO_TIMES:
            command = Command(name, "time", midi.control(channel, unit.time.cc, value), what)
            check = Check(name, "time", what, f"the repeats of {name} change")
            yield self._to_unit(check, (command,), unit)

    def _relays(
        self, name: str, quantity: str, one: Switched, silent: tuple[str, ...]
    ) -> Iterator[Check]:
        kinds = self.compiled.book.switcher.relays
        pulses = any(kinds[number - 1 : number] == ["pulse"] for number in one.numbers)
        relays = joined([f"relay {number}" for number in one.numbers])
        for which, contacts in one.states.items():
            what = f"{quantity.removeprefix('relay').strip()} {which}".strip()
            listen = QUIET if which in silent else f"{name} is {which}"
            check = Check(name, "relay", what, listen, relays=one.numbers)
            pairs = tuple(zip(one.numbers, contacts, strict=False))
            if pulses:
                yield check._replace(by_hand=(f"press what gives a pulse at {relays}",))
                continue
            stand = [
                f"relay {number} {'closed' if closed else 'open'}"
                for number, closed in pairs
                if closed is not None
            ]
            yield self._called(check, partial(_has_relays, pairs), f"set {joined(stand)}")

    # By which way it is sent.

    def _told(self, check: Check, wanted: Wanted, unit: Unit) -> Check:
        """Return ``check`` with what brings a state: messages to the unit, a preset, or hands."""
        commands = tuple(quieting(self.compiled.target, [wanted]))
        if commands and self._reaches(check.unit):
            return self._to_unit(check, commands, unit)
        messages = {one.message for one in commands if one.quantity != "bank"}

        def has(content: Content) -> bool:
            held = {one.message for one in content.commands if one.unit == check.unit}
            inside = unit.loop is None or unit.loop in content.loops
            return bool(messages) and messages <= held and inside

        return self._called(check, has, f"set {check.unit} by its own buttons: {check.what}")

    def _to_unit(self, check: Check, commands: tuple[Command, ...], unit: Unit) -> Check:
        """Return ``check`` with messages to the unit itself, where a cable leads to it."""
        if not self._reaches(check.unit):
            return check._replace(by_hand=(f"set {check.unit} by its own buttons: {check.what}",))
        inside = (f"leave loop {unit.loop} in",) if unit.loop is not None else ()
        return check._replace(sent=commands, by_hand=inside)

    def _reaches(self, unit: str) -> bool:
        return self.direct or unit in self._hear

    def _called(self, check: Check, has: Callable[[Content], bool], by_hand: str) -> Check:
        """Return ``check`` with the preset that has least besides, or else what hands do."""
        compiled, switcher = self.compiled, self.compiled.book.switcher
        if not self.direct and compiled.lines.recalls:
            fitting = [one for one in compiled.placement.presets if has(one.content)]
            for preset in sorted(fitting, key=_least):
                commands = recall(switcher, preset.slot)
                if commands is not None:
                    return check._replace(sent=commands, called=self._place(preset))
        return check._replace(by_hand=(by_hand,))

    def _place(self, preset: Preset) -> str:
        switcher, (bank, switch) = self.compiled.book.switcher, preset.slot
        loops = joined([str(number) for number in preset.content.loops]) or "none"
        return (
            f"bank {switcher.banks.show(bank)}, switch {switcher.switches.show(switch)} "
            f"({preset.name}), with loops in: {loops}"
        )


def _least(preset: Preset) -> tuple[int, int, Address]:
    return len(preset.content.loops), len(preset.content.commands), preset.slot


def _has_relays(pairs: tuple[tuple[int, bool | None], ...], content: Content) -> bool:
    return all(closed is None or (number in content.relays) is closed for number, closed in pairs)


def _channel(unit: Unit) -> int | None:
    """Return the channel that the unit is told on; one that hears all is told on the first."""
    return 1 if unit.channel == "omni" else unit.channel if isinstance(unit.channel, int) else None


def checks_of(compiled: Compiled, *, direct: bool) -> tuple[Check, ...]:
    """Return the checks of the rig, in the order in which they are gone through."""
    return tuple(_Maker(compiled, direct).checks())


@dataclass
class LineCheck:
    """How far one is, and what was heard: True, False, None where nobody has said yet."""

    compiled: Compiled
    direct: bool = False
    checks: tuple[Check, ...] = field(init=False)
    heard: list[bool | None] = field(init=False)
    at: int = 0

    def __post_init__(self) -> None:
        """Find out what there is to check."""
        self.checks = checks_of(self.compiled, direct=self.direct)
        self.heard = [None] * len(self.checks)

    @property
    def check(self) -> Check | None:
        """What is being checked; None behind the last."""
        return self.checks[self.at] if self.at < len(self.checks) else None

    def tick(self, heard: bool) -> Check | None:
        """Note whether it was heard, and return what comes next."""
        if self.at < len(self.checks):
            self.heard[self.at] = heard
            self.at += 1
        return self.check

    def back(self) -> Check | None:
        """Go back to the check before; what was said of it waits to be said again."""
        if self.at:
            self.at -= 1
            self.heard[self.at] = None
        return self.check
