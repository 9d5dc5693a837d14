"""What compiling a night gives: one record for the checks, the outputs and the commands."""

from __future__ import annotations

from dataclasses import dataclass, field

from setwright.compiler.binding.bind import Binder
from setwright.compiler.binding.bound import BoundScene, BoundSong
from setwright.compiler.binding.target import Target
from setwright.compiler.lowering.lower import lower
from setwright.compiler.lowering.orders import Order
from setwright.compiler.lowering.preset import content
from setwright.compiler.lowering.recall import recall
from setwright.compiler.placement.banks import Placement, SceneKey, key_of
from setwright.compiler.proving.prove import Prover
from setwright.compiler.proving.proved import LoweredScene
from setwright.compiler.proving.routing import Lines
from setwright.compiler.proving.traffic import Sent
from setwright.scenes.book import Book
from setwright.scenes.finding import Finding


@dataclass(slots=True)
class Compiled:
    """A night, bound to its rig, and everything that was found on the way.

    ``songs`` are those of the sets in playing order, then those kept for requests; ``scenes``
    what each of their scenes becomes, by its key; ``placement`` where it lies; ``lines`` the MIDI
    cables and ``traffic`` what goes over them. ``book`` and ``target`` are None where the files
    could not be read; ``unreadable`` tells that it was the night's own file that could not be
    opened. Where ``findings`` hold errors, there may be no scenes.
    """

    book: Book | None
    target: Target | None
    songs: list[BoundSong]
    findings: list[Finding]
    unreadable: bool = False
    binder: Binder | None = None
    scenes: dict[SceneKey, LoweredScene] = field(default_factory=dict)
    placement: Placement = field(default_factory=Placement)
    prover: Prover | None = None
    traffic: tuple[Sent, ...] = ()
    _known: dict[tuple[object, ...], LoweredScene] = field(default_factory=dict)

    @property
    def scene_count(self) -> int:
        """How many scenes are bound."""
        return sum(len(song.scenes) for song in self.songs)

    @property
    def different_scenes(self) -> list[LoweredScene]:
        """Scenes that are made in different ways: the first of each, in the order of the night."""
        different: dict[int, LoweredScene] = {}
        for scene in self.scenes.values():
            different.setdefault(id(scene.lowered), scene)
        return list(different.values())

    @property
    def lines(self) -> Lines:
        """The MIDI cables; there are none before the rig is aimed at."""
        assert self.prover is not None
        return self.prover.lines

    def scene(self, song: BoundSong, name: str) -> LoweredScene:
        """Return a scene of ``song``, lowered; also of a song that is not played tonight."""
        key = key_of(song, name)
        return self.scenes[key] if key in self.scenes else self.lower(key, song.scenes[name])

    def lower(self, key: SceneKey, scene: BoundScene) -> LoweredScene:
        """Lower one scene and prove what it does; scenes of equal recipe are lowered once."""
        if scene.recipe not in self._known:
            assert self.target is not None
            assert self.prover is not None
            lowered = lower(self.target, scene)
            self._known[scene.recipe] = LoweredScene(
                key,
                scene,
                lowered,
                content(self.target, scene, lowered),
                self.prover.prove(scene, lowered.stored),
            )
        return self._known[scene.recipe]._replace(key=key, bound=scene)

    def recall_of(self, key: SceneKey) -> tuple[Order, ...] | None:
        """Return the orders that make the switcher load a scene; None where none can."""
        slot = self.placement.of_scene.get(key)
        if slot is None or self.book is None:
            return None
        return recall(self.book.switcher, slot)
