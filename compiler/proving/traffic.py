"""Everything that is sent on a night, once for each kind of message, and who hears it.

Runs after lowering. Values of controls do not matter here: who acts on control 20 on channel 9
does so whatever its value is. Whether that does harm is told scene by scene (`bystanders`).
"""

from __future__ import annotations

from collections.abc import Iterable
from typing import NamedTuple

from setwright.compiler.binding.target import SWITCHER
from setwright.compiler.lowering.commands import Command
from setwright.compiler.proving.routing import Hearing, Lines
from setwright.scenes.places import KeyPath


class Sending(NamedTuple):
    """What one sender sends for one scene, which stands at ``path``.

    ``harmed`` are the units that do not end as they should for what others are told; None stands
    for all that act on it, and the switcher is always harmed.
    """

    sender: str
    scene: str
    path: KeyPath
    commands: tuple[Command, ...]
    harmed: frozenset[str] | None = frozenset()


class Sent(NamedTuple):
    """One kind of message: a command, the first scene with it, who sends it, who hears it.

    ``harmed`` are the boxes that act on it, are not meant, and come to harm by it in that scene.
    """

    command: Command
    scene: str
    path: KeyPath
    sender: str
    heard: tuple[Hearing, ...]
    harmed: frozenset[str] = frozenset()

    @property
    def reached(self) -> bool:
        """Whether the unit hears it for which it is meant."""
        return any(hearing.unit == self.command.unit for hearing in self.heard)

    @property
    def unmeant(self) -> tuple[Hearing, ...]:
        """The other boxes that act on it, to their harm."""
        return tuple(hearing for hearing in self.heard if hearing.unit in self.harmed)


def traffic(lines: Lines, sendings: Iterable[Sending]) -> tuple[Sent, ...]:
    """Follow every kind of message along the cables: once, and once more where it does harm."""
    heard: dict[tuple[str, str, str, int, int], tuple[Hearing, ...]] = {}
    acting: dict[tuple[str, str, str, int, int], frozenset[str]] = {}
    result: dict[tuple[object, frozenset[str]], Sent] = {}
    for one in sendings:
        for command in one.commands:
            message = command.message
            key = (one.sender, command.unit, message.kind, message.channel, message.data[0])
            if key not in heard:
                heard[key] = tuple(lines.hear(one.sender, message))
                acting[key] = frozenset(
                    hearing.unit
                    for hearing in heard[key]
                    if hearing.reaction.acting and hearing.unit != command.unit
                )
            harmed = acting[key]
            if harmed and one.harmed is not None:
                harmed &= one.harmed | {SWITCHER}
            if (key, harmed) not in result:
                result[key, harmed] = Sent(
                    command, one.scene, one.path, one.sender, heard[key], harmed
                )
    return tuple(result.values())
