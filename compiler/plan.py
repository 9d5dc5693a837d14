"""What has to be typed tonight, and stored on the units: a compiled night against what is held."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import NamedTuple

from setwright.compiler.binding.described import in_words
from setwright.compiler.compiled import Compiled
from setwright.compiler.lowering.commands import Command
from setwright.compiler.lowering.preset import Address
from setwright.compiler.mark import mark_of, presets_of
from setwright.compiler.midi import encode
from setwright.compiler.placement.banks import Placement
from setwright.compiler.placement.entries import EMPTY, Sheet, distance
from setwright.compiler.placement.hurry import Hurried, Pace, hurried
from setwright.compiler.placement.typing_order import Step, typing_order


class UnitProgram(NamedTuple):
    """A program that a unit has to hold: its number as the display shows it, and its name."""

    unit: str
    shown: str
    name: str


class Plan(NamedTuple):
    """What is to be done before the night.

    ``names`` are the names in full; ``wanted`` what every preset of tonight has to be;
    ``alone`` the entries that it would take to type each of ``steps`` from nothing; ``mark``
    stands for all that the switcher must hold.
    """

    programs: tuple[UnitProgram, ...]
    steps: tuple[Step, ...]
    wanted: Mapping[Address, Sheet]
    names: Mapping[Address, str]
    alone: int
    mark: str

    @property
    def entries(self) -> int:
        """How many entries there are to type."""
        return sum(len(step.entries) for step in self.steps)


def plan_of(compiled: Compiled) -> Plan:
    """Return what to type in, so that the switcher holds tonight's presets."""
    names = {address: name for address, name, _ in presets_of(compiled)}
    wanted, there = _sheets(compiled)
    copies = compiled.book.switcher.copies_presets
    steps = tuple(typing_order(wanted, there, copies=copies))
    alone = sum(distance(EMPTY, step.wanted) for step in steps)
    return Plan(tuple(_programs(compiled)), steps, wanted, names, alone, mark_of(compiled))


def _sheets(
    compiled: Compiled, placement: Placement | None = None
) -> tuple[dict[Address, Sheet], dict[Address, Sheet]]:
    """Return what tonight's presets have to be, and what the switcher holds, as they are typed."""
    show = compiled.book.switcher.each_preset_stores.names.show
    presets = presets_of(compiled, placement)
    wanted = {address: Sheet(typed, show(name)) for address, name, typed in presets}
    there = {
        address: Sheet(held.typed, show(held.name or "")) for address, held in compiled.held.items()
    }
    return wanted, there


class Count(NamedTuple):
    """Presets in all with what is kept in every bank, and those of them that are to be typed."""

    presets: int
    to_type: int


def count_of(compiled: Compiled, placement: Placement) -> Count:
    """Return how many presets another placement of the night has, and how many are to be typed."""
    wanted, there = _sheets(compiled, placement)
    return Count(len(wanted), sum(there.get(at) != one for at, one in wanted.items()))


def plan_within(compiled: Compiled, seconds: int, pace: Pace) -> Hurried:
    """Return what to type in so many seconds, so that most presses of the night are right."""
    wanted, there = _sheets(compiled)
    presses: dict[Address, int] = {}
    for song in compiled.songs:
        if song.number:
            for moment in song.moments:
                slot = compiled.placement.of_scene.get((song.owner, moment.scene))
                if slot is not None:
                    presses[slot] = presses.get(slot, 0) + 1
    copies = compiled.book.switcher.copies_presets
    return hurried(wanted, there, presses, seconds, pace, copies=copies)


def _programs(compiled: Compiled) -> Iterator[UnitProgram]:
    """Yield the programs that tonight's presets load and that are not known to be on the units."""
    stored = compiled.book.stored.programs if compiled.book.stored is not None else {}
    for one in all_programs(compiled):
        if stored.get(one.unit, {}).get(one.shown) != one.name:
            yield one


def all_programs(compiled: Compiled) -> Iterator[UnitProgram]:
    """Yield the programs that tonight's presets load, each once."""
    seen: set[tuple[str, str]] = set()
    for command in _commands(compiled):
        if command.quantity != "program" or command.shown is None or command.name is None:
            continue
        one = UnitProgram(command.unit, command.shown, command.name)
        if one[:2] in seen:
            continue
        seen.add(one[:2])
        yield one


def _commands(compiled: Compiled) -> Iterator[Command]:
    for preset in compiled.placement.presets:
        yield from preset.content.commands
    if compiled.kept is not None:
        for name in compiled.kept.scenes:
            yield from compiled.scene(compiled.kept, name).content.commands


def meanings(compiled: Compiled) -> dict[bytes, str]:
    """Return what tonight's messages mean, by their bytes."""
    found: dict[bytes, str] = {}
    for command in _commands(compiled):
        found.setdefault(encode(command.message), _meaning(command))
    return found


def _meaning(command: Command) -> str:
    if command.quantity == "program" and command.name is not None:
        return f"{command.unit} {command.name} (display {command.shown})"
    if command.asked is not None:
        fine = ", fine part" if command.fine else ""
        return f"{command.unit} {command.quantity} {in_words(command.asked)}{fine}"
    return f"{command.unit} {command.meaning}"
