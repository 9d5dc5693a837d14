"""A scene that is bound, lowered and proved: what the checks, reports and outputs read."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import NamedTuple

from setwright.compiler.binding.bound import KEPT, BoundScene
from setwright.compiler.binding.paced import with_one_tempo
from setwright.compiler.binding.states import Wanted
from setwright.compiler.binding.target import Target
from setwright.compiler.lowering.lower import Lowered, lower
from setwright.compiler.lowering.preset import Content, content
from setwright.compiler.placement.wanted import SceneKey
from setwright.compiler.proving.prove import Prover
from setwright.scenes.quantities import quoted


class LoweredScene(NamedTuple):
    """A scene of the night as messages and as a preset's content.

    ``proved`` holds its quantities with the verdicts that the messages bear out;
    ``whole_messages`` the units of which that is so only if what they lose while they are busy
    are whole messages, and not single bytes.
    """

    key: SceneKey
    bound: BoundScene
    lowered: Lowered
    content: Content
    proved: tuple[Wanted, ...]
    whole_messages: frozenset[str] = frozenset()

    @property
    def called(self) -> str:
        """The scene in a sentence: its name in quotes, and of which song it is."""
        song, name = self.key
        if song == KEPT:
            return f"{quoted(name)} in every bank"
        return f"{quoted(name)} of {song}" if song else f"the general {quoted(name)}"


@dataclass(slots=True)
class Lowering:
    """Lowers and proves the scenes of one rig; scenes of equal recipe are lowered once."""

    target: Target
    prover: Prover
    _known: dict[tuple[object, ...], LoweredScene] = field(default_factory=dict)

    def scene(self, key: SceneKey, bound: BoundScene) -> LoweredScene:
        """Return what ``bound`` becomes."""
        if bound.recipe not in self._known:
            lowered = lower(self.target, bound, by_computer=self.prover.by_computer)
            proved, tempo = with_one_tempo(self.prover.prove(bound, lowered.sent))
            by_whole = self.prover.by_whole_messages
            whole_messages = by_whole(proved, lowered.sent)
            if not lowered.by_computer:  # a computer may send it in place of the switcher
                whole_messages |= by_whole(proved, lowered.direct)
            self._known[bound.recipe] = LoweredScene(
                key,
                bound,
                lowered,
                content(self.target, bound, lowered, tempo),
                proved,
                whole_messages,
            )
        return self._known[bound.recipe]._replace(key=key, bound=bound)
