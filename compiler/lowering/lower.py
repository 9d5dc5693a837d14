"""States → ordered messages: the shortest list that brings every unit there from anywhere.

One message for each quantity that a message can set, none where a behaviour that is declared
brings it anyway. Order: what silences first, then programs, slowest to settle first and each
with its bank select before it, then settings, and after its settings what switches a unit on;
those of units that are slow to load come last. Loops and relays are no messages: only the
switcher's preset sets them.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import NamedTuple

from setwright.compiler import midi
from setwright.compiler.binding.bound import BoundScene
from setwright.compiler.binding.described import describe, in_words
from setwright.compiler.binding.states import Verdict, Wanted
from setwright.compiler.binding.target import Program, Setting, Target
from setwright.compiler.lowering.commands import Command
from setwright.compiler.lowering.fine_parts import without_room
from setwright.compiler.lowering.slot_order import in_order_of_preset
from setwright.compiler.lowering.wire import Transmission, transmit
from setwright.scenes.unit import Unit


class Lowered(NamedTuple):
    """One scene as messages: what the switcher's preset sends, and what a computer sends.

    Both hold the same messages; they differ in their order, which a switcher dictates, and in
    time, for only a computer can wait for a unit that is busy. A fine part for which the preset
    has no slot is sent by the computer alone. Where a computer alone sends, the preset sends
    nothing.
    """

    stored: Transmission
    direct: Transmission
    by_computer: bool = False

    @property
    def sent(self) -> Transmission:
        """What is sent on the night, and so what is proven: by the preset, or by the computer."""
        return self.direct if self.by_computer else self.stored


def lower(target: Target, scene: BoundScene, *, by_computer: bool = False) -> Lowered:
    """Lower one bound scene for both routes; ``by_computer`` where no preset sends anything."""
    commands = in_best_order(list(commands_of(target, scene)))
    switcher = target.book.switcher
    storage = switcher.each_preset_stores
    held = commands
    if coarse := without_room(commands, storage):
        held = in_best_order(list(commands_of(target, scene, coarse)))
    return Lowered(
        transmit(
            in_order_of_preset([] if by_computer else held, storage),
            gap=switcher.gap_between_messages,
            wait=False,
        ),
        transmit(commands, wait=True),
        by_computer,
    )


def commands_of(
    target: Target, scene: BoundScene, coarse: frozenset[tuple[str, str]] = frozenset()
) -> Iterator[Command]:
    """Yield the commands of a scene, unit by unit, in no particular order.

    Of the controls in ``coarse`` (unit and name) only the coarse part is sent.
    """
    for name, unit in target.units.items():
        if isinstance(unit.channel, int) or unit.channel == "omni":
            channel = unit.channel if isinstance(unit.channel, int) else 1
            wanted = tuple(
                coarse_only(one) if (name, one.quantity) in coarse else one
                for one in scene.of(name)
            )
            yield from _commands_of_unit(target, name, unit, channel, wanted)


def _commands_of_unit(
    target: Target, name: str, unit: Unit, channel: int, wanted: tuple[Wanted, ...]
) -> Iterator[Command]:
    loaded = None
    for one in wanted:
        if one.quantity == "program" and isinstance(one.value, Program) and _reachable(one):
            loaded = one.value
            resting = target.rest.get(name, {}).get("program")
            silences = isinstance(resting, Program) and resting.on_wire == loaded.on_wire
            yield from _program(name, unit, channel, loaded, silences=silences)
    for one in wanted:
        if not _reachable(one):
            continue
        if one.quantity == "switch" and isinstance(one.value, bool):
            yield from _switch(name, unit, channel, on=one.value, loaded=loaded is not None)
        elif isinstance(one.value, Setting):
            control = unit.control(one.quantity)
            assert control is not None
            yield Command(
                name,
                one.quantity,
                midi.control(channel, control.cc, one.value.value),
                f"{one.quantity} {describe(one.value, one.quantity)}",
                unit.settles_in,
                asked=one.value.asked,
                given=one.value.given,
            )
            if control.fine_cc is not None and one.value.alone is not None:
                yield Command(
                    name,
                    one.quantity,
                    midi.control(channel, control.fine_cc, one.value.fine or 0),
                    f"fine part of {one.quantity} {in_words(one.value.asked)}",
                    unit.settles_in,
                    fine=True,
                )


def coarse_only(wanted: Wanted) -> Wanted:
    """Return ``wanted`` as it is where only the coarse part of a control can be sent."""
    if isinstance(wanted.value, Setting) and wanted.value.alone is not None:
        return wanted._replace(value=wanted.value.alone)
    return wanted


def _reachable(wanted: Wanted) -> bool:
    return wanted.verdict is Verdict.PROVEN


def _program(
    name: str, unit: Unit, channel: int, program: Program, *, silences: bool
) -> Iterator[Command]:
    if program.bank is not None and unit.bank_select is not None:
        for message in midi.bank(channel, program.bank, unit.bank_select.by):
            yield Command(
                name,
                "bank",
                message,
                f"bank for {program.name}",
                silences=silences,
                joined=True,
            )
    yield Command(
        name,
        "program",
        midi.program(channel, program.number),
        f"load {program.name} (display {program.shown})",
        unit.settles_in,
        unit.busy_after_program,
        silences=silences,
        shown=program.shown,
        name=program.name,
    )


def _switch(name: str, unit: Unit, channel: int, *, on: bool, loaded: bool) -> Iterator[Command]:
    switch = unit.switched_by
    # Loading switches it on, unless the program may have been there before and a repeat is
    # ignored. (What is off loads no program, so none can be switched off by loading.)
    if on and loaded and unit.loading == "engages" and unit.same_program_again == "reloads":
        return
    if switch is None or switch.on is None or switch.off is None:
        return
    yield Command(
        name,
        "switch",
        midi.control(channel, switch.cc, switch.on if on else switch.off),
        f"switch {'on' if on else 'off'}",
        unit.settles_in,
        silences=not on,
    )


def in_best_order(commands: list[Command]) -> list[Command]:
    """Return ``commands`` in the order in which they disturb least; bank select stays joined."""
    slowness = {
        command.unit: (command.busy, command.settles)
        for command in commands
        if command.quantity == "program"
    }
    zero = (0, 0)

    def rank(command: Command) -> tuple[object, ...]:
        busy, settles = slowness.get(command.unit, zero)
        if command.silences:
            return (0, busy, settles)
        if command.quantity in {"bank", "program"}:
            return (1, -busy - settles, 0)
        return (2, busy, settles, command.quantity == "switch")

    # Sorting is stable: a unit's bank select stays right before its program.
    return sorted(commands, key=rank)
