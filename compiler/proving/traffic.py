"""Everything that is sent on a night, once for each kind of message, and who hears it.

Runs after lowering. Values of controls do not matter here: who acts on control 20 on channel 9
does so whatever its value is.
"""

from __future__ import annotations

from collections.abc import Iterable
from typing import NamedTuple

from setwright.compiler.binding.target import COMPUTER, SWITCHER
from setwright.compiler.lowering.commands import Command
from setwright.compiler.proving.routing import Hearing, Lines
from setwright.scenes.places import KeyPath


class Sent(NamedTuple):
    """One kind of message: a command, the first scene with it, who sends it, who hears it."""

    command: Command
    scene: str
    path: KeyPath
    sender: str
    heard: tuple[Hearing, ...]

    @property
    def reached(self) -> bool:
        """Whether the unit hears it for which it is meant."""
        return any(hearing.unit == self.command.unit for hearing in self.heard)

    @property
    def unmeant(self) -> tuple[Hearing, ...]:
        """The other boxes that act on it."""
        return tuple(
            hearing
            for hearing in self.heard
            if hearing.reaction.acting and hearing.unit != self.command.unit
        )


def traffic(
    lines: Lines,
    scenes: Iterable[tuple[str, KeyPath, tuple[Command, ...]]],
    recalls: Iterable[tuple[str, KeyPath, tuple[Command, ...]]],
) -> tuple[Sent, ...]:
    """Follow the messages of ``scenes`` (name, place, commands) from the switcher, and the rest.

    Where the computer has a line of its own, it sends the same messages by the direct route, and
    ``recalls`` to the switcher.
    """
    result: dict[tuple[str, str, str, int, int], Sent] = {}

    def follow(sender: str, name: str, path: KeyPath, commands: tuple[Command, ...]) -> None:
        for command in commands:
            message = command.message
            key = (sender, command.unit, message.kind, message.channel, message.data[0])
            if key not in result:
                heard = tuple(lines.hear(sender, message))
                result[key] = Sent(command, name, path, sender, heard)

    scenes = list(scenes)
    for scene in scenes:
        follow(SWITCHER, *scene)
    if COMPUTER in lines.first:
        for scene in (*scenes, *recalls):
            follow(COMPUTER, *scene)
    return tuple(result.values())
