"""What one preset of the switcher holds, and whether it can.

A preset holds loops, relays and messages. How many messages of which kind, and on which
channels, is the switcher's to say; what does not fit is a finding with the numbers.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import NamedTuple

from setwright.compiler.binding.bound import BoundScene
from setwright.compiler.binding.states import Verdict
from setwright.compiler.binding.target import Pace, Target
from setwright.compiler.lowering.commands import Command
from setwright.compiler.lowering.lower import Lowered
from setwright.scenes.switcher import Storage
from setwright.scenes.wording import number_of


class Content(NamedTuple):
    """What is typed into one preset, apart from its name.

    ``loops`` are the numbers of the loops that are in; ``relays`` those whose contact is
    closed; ``commands`` the messages in the order of sending; ``tempo`` that of the preset, where
    each has one and a unit follows it. Two presets with equal content
    sound the same.
    """

    loops: tuple[int, ...]
    relays: tuple[int, ...]
    commands: tuple[Command, ...]
    tempo: Pace | None = None

    @property
    def programs(self) -> tuple[Command, ...]:
        """The program changes, in the order of sending."""
        return tuple(command for command in self.commands if command.message.kind == "program")

    @property
    def controls(self) -> tuple[Command, ...]:
        """The control changes, in the order of sending; bank selects are not among them."""
        return tuple(
            command
            for command in self.commands
            if command.message.kind == "control" and command.quantity != "bank"
        )

    @property
    def coarse(self) -> tuple[Command, ...]:
        """The control changes that nobody can do without: all but fine parts."""
        return tuple(command for command in self.controls if not command.fine)

    @property
    def banks(self) -> tuple[Command, ...]:
        """The bank selects, each sent right before its program."""
        return tuple(command for command in self.commands if command.quantity == "bank")


class Address(NamedTuple):
    """A switch of a bank; both counted from 0, as they lie in the switcher's memory."""

    bank: int
    switch: int


def content(
    target: Target, scene: BoundScene, lowered: Lowered, tempo: Pace | None = None
) -> Content:
    """Return what the switcher's preset holds for one scene."""
    loops: set[int] = set()  # two units may share one
    relays: set[int] = set()
    for wanted in scene.wanted:
        unit = target.units[wanted.unit]
        if wanted.quantity == "loop" and wanted.value is True and unit.loop is not None:
            loops.add(unit.loop)
        # A relay that only gives a pulse is left alone: each preset with it would flip it.
        switched = unit.switched.get(wanted.quantity)
        if switched is not None and wanted.verdict is Verdict.PROVEN:
            contacts = switched.states[str(wanted.value)]
            # A table that does not come out has been found.
            pairs = zip(switched.numbers, contacts, strict=False)
            relays.update(number for number, closed in pairs if closed)
    commands = tuple(timed.command for timed in lowered.stored.commands)
    return Content(tuple(sorted(loops)), tuple(sorted(relays)), commands, tempo)


class Shortage(NamedTuple):
    """What a preset has too little room for: ``program`` or ``control``, and a sentence.

    ``select_for`` is the unit whose bank select the switcher cannot send, where that is all.
    """

    kind: str
    sentence: str
    select_for: str = ""


def does_not_fit(content: Content, storage: Storage) -> Shortage | None:
    """Return what of ``content`` is too much for a preset, with the numbers; None if it fits."""
    return next(_shortages(content, storage), None)


def _shortages(content: Content, storage: Storage) -> Iterator[Shortage]:
    programs, controls = content.programs, content.controls
    if content.banks and not storage.bank_select:
        # Without bank select in its program slots, a bank select takes a control slot, and
        # stays before its program only where messages are sent as listed.
        controls = tuple(one for one in content.commands if one.message.kind == "control")
        if storage.sends != "as listed":
            unit = content.banks[0].unit
            yield Shortage(
                "program",
                f"it needs a bank select for {unit}, and the switcher cannot send one right "
                "before its program",
                unit,
            )
    if len(programs) > storage.programs:
        needed = _sentence(len(programs), "program change", storage.programs)
        yield Shortage("program", needed)
    if len(controls) > storage.controls:
        yield Shortage("control", _sentence(len(controls), "control", storage.controls))
    if not storage.on_any_channel:
        yield from _channels(programs, storage.program_channels, "program")
        yield from _channels(controls, storage.control_channels, "control")


def _sentence(needed: int, what: str, held: int) -> str:
    return f"it needs {number_of(needed, what)}, and a preset holds {held}"


def _channels(commands: tuple[Command, ...], channels: list[int], kind: str) -> Iterator[Shortage]:
    free = list(channels)
    for command in commands:
        if command.message.channel in free:
            free.remove(command.message.channel)
        else:
            yield Shortage(
                kind,
                f"it needs a {kind} on channel {command.message.channel} for {command.unit}, and "
                f"the {kind} slots are on channels {', '.join(map(str, channels)) or 'none'}",
            )
