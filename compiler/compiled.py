"""What compiling a night gives: one record for the checks, the outputs and the commands.

A night is either unopened, and then there is nothing but findings, or it is whole: the pipeline
fills every field before anybody reads one.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import NamedTuple

from setwright.compiler.binding.bound import BoundSong
from setwright.compiler.binding.target import Target
from setwright.compiler.lowering.commands import Command
from setwright.compiler.lowering.recall import recall
from setwright.compiler.placement.banks import Placement, SceneKey, key_of
from setwright.compiler.proving.by_hand import ByHand
from setwright.compiler.proving.passed import Passed
from setwright.compiler.proving.presses import TooSoon
from setwright.compiler.proving.proved import LoweredScene
from setwright.compiler.proving.routing import Lines
from setwright.compiler.proving.traffic import Sent
from setwright.scenes.book import Book
from setwright.scenes.finding import Finding


class Unopened(NamedTuple):
    """A night whose files could not be read, and why.

    ``unreadable`` tells that it was the night's own file that could not be opened.
    """

    findings: list[Finding]
    unreadable: bool = False


@dataclass(slots=True)
class Compiled:
    """A night, bound to its rig, and everything that was found on the way.

    ``songs`` are those of the sets in playing order, then those kept for requests; ``scenes``
    what each of their scenes becomes, by its key; ``at_rest`` where each foot-operated unit
    stands before a song, None where that is not said; ``lines`` the MIDI cables; ``too_soon``
    the presses that come before the rig is done with the one before. While there are errors
    nothing is placed and no message followed: ``placement``, ``traffic`` and ``too_soon`` are
    empty. ``set_by_hand`` is what is set before the night because no message can, ``passed`` what
    the book lets pass although it may change a sound.
    """

    book: Book
    target: Target
    lines: Lines
    songs: list[BoundSong]
    at_rest: dict[str, str | None]
    scenes: dict[SceneKey, LoweredScene]
    placement: Placement
    traffic: tuple[Sent, ...]
    findings: list[Finding]
    set_by_hand: tuple[ByHand, ...] = ()
    passed: tuple[Passed, ...] = ()
    too_soon: tuple[TooSoon, ...] = ()

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

    def scene(self, song: BoundSong, name: str) -> LoweredScene:
        """Return a scene of one of tonight's songs."""
        return self.scenes[key_of(song, name)]

    def recall_of(self, key: SceneKey) -> tuple[Command, ...] | None:
        """Return the commands that make the switcher load a scene; None where none can.

        None can where a computer has a line of its own, and none of its cables leads there.
        """
        slot = self.placement.of_scene.get(key)
        return None if slot is None or not self.lines.recalls else recall(self.book.switcher, slot)
