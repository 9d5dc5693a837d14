"""Units that act on what is meant for another, and whether that does any harm.

Two units on one channel are no fault by themselves. What is meant for one does no harm to the
other where that cannot be heard then (its loop is out, or it is switched off) and what it holds is
set anew whenever it is heard; or where it ends as its scene wants it, with what was meant for it
alone. Receivers tell, message by message. Only what a unit declares counts: one that may act on
more is harmed. Where a unit is busy after a program and a message comes within that time, nobody
should rely on whether it is lost: every way has to come out right.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field
from fractions import Fraction
from itertools import product
from typing import NamedTuple

from setwright.compiler.binding.bound import BoundScene
from setwright.compiler.binding.states import Verdict, Wanted
from setwright.compiler.lowering.commands import Command
from setwright.compiler.lowering.wire import Transmission
from setwright.compiler.midi import BANK_LSB, BANK_MSB, MILLISECONDS_A_BYTE, Message, encode
from setwright.compiler.proving.receiver import UNKNOWN, Receiver
from setwright.compiler.proving.routing import Lines, Reaction, reaction, takes_bank_select
from setwright.compiler.proving.stands import is_by_preset, stands
from setwright.scenes.unit import Unit

PROGRAM, ON = "program", "on"

Item = str | int
"""Something that a unit holds: its program, whether it is on, or a control by its number."""

MOST_DOUBTS = 8
"""Messages that may be lost, of which every choice is tried; more than these are not relied on."""


class Arrival(NamedTuple):
    """A message that a unit takes, when it begins in ms, and whether it is meant for another."""

    message: Message
    starts: Fraction
    foreign: bool

    @property
    def stream(self) -> bytes:
        """Its bytes."""
        return encode(self.message)


class Moved(NamedTuple):
    """What others' messages do to a unit in one scene.

    ``harmed`` tells that it does not end there as the scene wants it. ``silent`` tells that it
    cannot be heard there, and ``items`` what then has to be set anew wherever it can.
    """

    harmed: bool
    silent: bool = False
    items: frozenset[Item] = frozenset()


@dataclass(slots=True)
class Bystanders:
    """Tells for the units of one rig what others' messages do to them."""

    lines: Lines
    units: dict[str, Unit]
    _sharing: dict[str, frozenset[str]] = field(default_factory=dict)
    _known: dict[tuple[object, ...], Moved] = field(default_factory=dict)

    def sharing(self, sender: str) -> frozenset[str]:
        """Return the units that hear ``sender`` and listen where another unit does."""
        if sender not in self._sharing:
            listening = {
                name: unit.channel
                for name, unit in self.units.items()
                if unit.channel is not None and name not in self.lines.gone
            }
            self._sharing[sender] = frozenset(
                name
                for name in self.lines.listening(sender)
                if any(
                    # Where a unit listens on all channels, it is told things on the first.
                    other != name and (listening[name] in ("omni", on) or on == "omni")
                    for other, on in listening.items()
                )
            )
        return self._sharing[sender]

    def moved(self, scene: BoundScene, sent: Transmission, sender: str) -> dict[str, Moved]:
        """Return every unit that acts on what ``scene`` sends to others, and what that does."""
        found: dict[str, Moved] = {}
        for name in self.sharing(sender):
            unit = self.units[name]
            arrivals = tuple(_arrivals(name, unit, sent))
            if not any(one.foreign for one in arrivals):
                continue
            wanted = scene.of(name)
            key = (name, wanted, arrivals)
            if key not in self._known:
                self._known[key] = _moved(unit, wanted, arrivals)
            found[name] = self._known[key]
        return found

    def harmed(
        self, scenes: list[tuple[BoundScene, Transmission]], sender: str
    ) -> list[frozenset[str]]:
        """Return for each of the night's ``scenes`` the units that others' messages harm there."""
        if not self.sharing(sender):
            return [frozenset()] * len(scenes)
        all_moved = [self.moved(*scene, sender) for scene in scenes]
        left: dict[str, set[Item]] = {}
        for moved in all_moved:
            for name, one in moved.items():
                if one.silent and not one.harmed:
                    left.setdefault(name, set()).update(one.items)
        stays = {name for name, items in left.items() if not self._set_anew(name, items, scenes)}
        return [
            frozenset(
                name for name, one in moved.items() if one.harmed or (one.silent and name in stays)
            )
            for moved in all_moved
        ]

    def _set_anew(
        self, name: str, items: set[Item], scenes: list[tuple[BoundScene, Transmission]]
    ) -> bool:
        """Tell whether every scene in which the unit is heard sets ``items``."""
        unit = self.units[name]
        for bound, sent in scenes:
            if _is_silent(bound.of(name)):
                continue
            ends = list(_outcomes(unit, tuple(_arrivals(name, unit, sent))))
            if not ends or any(
                _of(end, item) == UNKNOWN for end in ends for item in items - _idle(end)
            ):
                return False
        return True


def _arrivals(name: str, unit: Unit, sent: Transmission) -> Iterator[Arrival]:
    """Yield what ``unit`` acts on, or may act on."""
    for timed, starts in zip(sent.commands, sent.earliest, strict=True):
        command: Command = timed.command
        if reaction(unit, command.message)[0].acting:
            yield Arrival(command.message, starts, command.unit != name)


def _is_silent(wanted: tuple[Wanted, ...]) -> bool:
    """Tell whether the unit cannot be heard: out of the way, or switched off by a message.

    One that is off by hand may be engaged by a program that is not meant for it.
    """
    return any(
        one.quantity in {"loop", "switch"} and one.value is False and one.verdict is Verdict.PROVEN
        for one in wanted
    )


def _moved(unit: Unit, wanted: tuple[Wanted, ...], arrivals: tuple[Arrival, ...]) -> Moved:
    items: set[Item] = set()
    for one in arrivals:
        if one.foreign:
            touched = _touched(unit, one.message)
            if touched is None:
                return Moved(harmed=True)
            items |= touched
    (alone,) = _outcomes(unit, tuple(one for one in arrivals if not one.foreign), sure=True)
    ends = list(_outcomes(unit, arrivals))
    right = [
        one
        for one in wanted
        if one.verdict is Verdict.PROVEN and not is_by_preset(one.quantity) and stands(one, alone)
    ]
    if not ends or not all(stands(one, end) for end in ends for one in right):
        return Moved(harmed=True)
    if _is_silent(wanted):
        return Moved(harmed=False, silent=True, items=frozenset(items))
    # What a program brings needs no look: settings follow programs, and they stand.
    unsure = any(_of(end, one) == UNKNOWN for end in ends for one in items)
    other = any(_of(end, one) != _of(alone, one) for end in ends for one in items)
    return Moved(harmed=unsure or other)


def _touched(unit: Unit, message: Message) -> set[Item] | None:
    """Return what a message may change of ``unit``; None where nobody can tell."""
    if reaction(unit, message)[0] is not Reaction.ACTS:
        return None
    if message.kind == "program":
        # Where nothing switches it and loading only ever engages it, that changes nothing.
        switched = unit.switched_by is not None or unit.loading == "bypasses"
        return {PROGRAM, ON} if switched and unit.loading != "keeps bypass" else {PROGRAM}
    number = message.data[0]
    steps, tap = unit.reached_by, unit.tap
    if (steps is not None and number in (steps.up, steps.down)) or (tap and tap.cc == number):
        return None
    touched: set[Item] = set()
    if unit.switched_by is not None and unit.switched_by.cc == number:
        touched.add(ON)
    if number in (BANK_MSB, BANK_LSB) and takes_bank_select(unit, number):
        touched.add(PROGRAM)
    for control in (unit.time, *unit.controls.values()):
        if control is not None and number in (control.cc, control.fine_cc):
            touched |= {control.cc} if control.fine_cc is None else {control.cc, control.fine_cc}
    return touched


def _outcomes(
    unit: Unit, arrivals: tuple[Arrival, ...], *, sure: bool = False
) -> Iterator[Receiver]:
    """Yield the unit as it is after ``arrivals``, for each choice of what is lost while it is busy.

    Yields nothing where there are too many choices; with ``sure`` nothing is lost.
    """
    doubtful = [] if sure else list(_losable(unit, arrivals))
    if len(doubtful) > MOST_DOUBTS:
        return
    for choice in product((False, True), repeat=len(doubtful)):
        lost = {index for index, one in zip(doubtful, choice, strict=True) if one}
        receiver = Receiver(unit)
        for index, one in enumerate(arrivals):
            if index not in lost:
                receiver.take(one.stream)
                receiver.rest()
        yield receiver


def _losable(unit: Unit, arrivals: tuple[Arrival, ...]) -> Iterator[int]:
    """Yield which arrivals begin while a program before them may keep the unit busy."""
    busy = Fraction(-1)
    for index, one in enumerate(arrivals):
        if one.starts < busy:
            yield index
        if one.message.kind == "program" and unit.busy_after_program:
            ends = one.starts + len(one.stream) * MILLISECONDS_A_BYTE
            busy = max(busy, ends + unit.busy_after_program)


def _of(receiver: Receiver, item: Item) -> object:
    if item == PROGRAM:
        return receiver.program
    return receiver.on if item == ON else receiver.value(int(item))


def _idle(receiver: Receiver) -> set[Item]:
    """Return the controls that do nothing in the program that the receiver has."""
    idle: set[Item] = set()
    for control in (receiver.unit.time, *receiver.unit.controls.values()):
        if control is None or not control.only_with or receiver.program == UNKNOWN:
            continue
        if receiver.program not in [receiver.number(name) for name in control.only_with]:
            idle |= {control.cc} if control.fine_cc is None else {control.cc, control.fine_cc}
    return idle
