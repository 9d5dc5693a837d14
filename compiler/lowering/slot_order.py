"""The order in which a preset sends what it holds: by kind; where channels are fixed, by slot."""

from __future__ import annotations

from collections.abc import Sequence

from setwright.compiler.lowering.commands import Command
from setwright.scenes.switcher import Storage

_PROGRAMS = frozenset({"bank", "program"})


def in_order_of_preset(commands: Sequence[Command], storage: Storage) -> list[Command]:
    """Return ``commands`` as a preset sends them: programs first, controls first, or as listed.

    A bank select that is joined to a program goes with it. Where slots have fixed channels, each
    message has to take one of its channel, whatever the order that was asked for; it takes the
    first that is free, as the preset sheet has it.
    """
    if storage.sends == "as listed":
        return list(commands)
    programs: list[tuple[Command, ...]] = []
    joined: list[Command] = []
    for command in commands:
        if command.quantity == "bank":
            joined.append(command)
        elif command.quantity == "program":
            programs.append((*joined, command))
            joined = []
    if joined:
        programs.append(tuple(joined))
    controls: list[tuple[Command, ...]] = [
        (command,) for command in commands if command.quantity not in _PROGRAMS
    ]
    if not storage.on_any_channel:
        programs = _by_slot(programs, storage.program_channels)
        controls = _by_slot(controls, storage.control_channels)
    first, then = programs, controls
    if storage.sends == "controls first":
        first, then = then, first
    return [command for bundle in (*first, *then) for command in bundle]


def _by_slot(
    bundles: Sequence[tuple[Command, ...]], channels: Sequence[int]
) -> list[tuple[Command, ...]]:
    """Return ``bundles`` in the order of the slots that they take; what has none comes last."""
    free = list(enumerate(channels))
    placed: list[tuple[int, tuple[Command, ...]]] = []
    for bundle in bundles:
        fits = [one for one in free if one[1] == bundle[-1].message.channel]
        if fits:
            free.remove(fits[0])
        placed.append((fits[0][0] if fits else len(channels), bundle))
    return [bundle for _, bundle in sorted(placed, key=lambda one: one[0])]
