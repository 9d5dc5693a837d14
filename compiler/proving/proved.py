"""A scene that was bound, lowered and proved: what the checks, reports and outputs read."""

from __future__ import annotations

from typing import NamedTuple

from setwright.compiler.binding.bound import BoundScene
from setwright.compiler.binding.states import Wanted
from setwright.compiler.lowering.lower import Lowered
from setwright.compiler.lowering.preset import Content
from setwright.compiler.placement.banks import SceneKey
from setwright.scenes.quantities import quoted


class LoweredScene(NamedTuple):
    """A scene of the night as messages and as a preset's content.

    ``proved`` holds its quantities with the verdicts that the messages bear out.
    """

    key: SceneKey
    bound: BoundScene
    lowered: Lowered
    content: Content
    proved: tuple[Wanted, ...]

    @property
    def called(self) -> str:
        """The scene in a sentence: its name in quotes, and of which song it is."""
        song, name = self.key
        return f"{quoted(name)} of {song}" if song else f"the general {quoted(name)}"
