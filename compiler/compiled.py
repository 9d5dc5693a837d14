"""What compiling a night gives: one record for the checks, the outputs and the commands.

A night is either unopened, and then there is nothing but findings, or it is whole: the pipeline
fills every field before anybody reads one.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from fractions import Fraction
from pathlib import Path
from typing import NamedTuple

from setwright.compiler.binding.bound import BoundSong
from setwright.compiler.binding.foot import Feet
from setwright.compiler.binding.target import Target
from setwright.compiler.lowering.commands import Command
from setwright.compiler.lowering.preset import Address
from setwright.compiler.lowering.recall import recall
from setwright.compiler.placement.banks import Placement
from setwright.compiler.placement.held import Held
from setwright.compiler.placement.wanted import SceneKey, key_of
from setwright.compiler.proving.by_hand import ByHand
from setwright.compiler.proving.passed import Passed
from setwright.compiler.proving.presses import TooSoon
from setwright.compiler.proving.proved import LoweredScene
from setwright.compiler.proving.routing import Lines
from setwright.compiler.proving.traffic import Sent
from setwright.compiler.signal.faults import PathFaults
from setwright.compiler.signal.graph import Signal
from setwright.compiler.signal.silence import Listener
from setwright.scenes.book import Book
from setwright.scenes.finding import Finding


class Unopened(NamedTuple):
    """A night whose files could not be read, and why.

    ``unreadable`` tells that it was the night's own file that could not be opened; ``sought`` are
    the files that were looked for (`Book`).
    """

    findings: list[Finding]
    unreadable: bool = False
    sought: tuple[Path, ...] = ()


@dataclass(slots=True)
class Compiled:
    """A night, bound to its rig, and everything that was found on the way.

    ``songs`` are those of the sets in playing order, then those kept for requests; ``scenes``
    what each of their scenes becomes, by its key; ``feet`` where foot-operated units stand when
    the night begins and between songs; ``lines`` the MIDI cables; ``signal`` the ways of the
    signal, ``path_faults`` what is wrong with them, ``listener`` who hears the night through
    them; ``kept`` what is kept on its switch in every bank, as scenes that no song presses,
    where the rig says it; ``held`` what the switcher holds already, as far as its file says,
    ``fresh`` whether songs were placed as if it held nothing; ``too_soon`` the presses that come
    before the rig is done with the one before;
    ``set_by_hand`` what is set before the night because no message can; ``wait_at_banks`` the
    ms that the foot waits at each bank that it passes, where it has to; ``passed`` what the
    book lets pass although it may change a sound. While there are errors nothing is placed,
    followed or judged in time, and all of these are empty but for ``feet``, ``lines`` and
    ``signal``; the verdicts of ``scenes`` are not tonight's yet.
    """

    book: Book
    target: Target
    lines: Lines
    signal: Signal
    path_faults: PathFaults
    listener: Listener
    songs: list[BoundSong]
    feet: Feet
    scenes: dict[SceneKey, LoweredScene]
    placement: Placement
    traffic: tuple[Sent, ...]
    findings: list[Finding]
    too_soon: tuple[TooSoon, ...] = ()
    wait_at_banks: Fraction | None = None
    set_by_hand: tuple[ByHand, ...] = ()
    passed: tuple[Passed, ...] = ()
    kept: BoundSong | None = None
    held: dict[Address, Held] = field(default_factory=dict)
    fresh: bool = False

    @property
    def scene_count(self) -> int:
        """How many scenes are bound."""
        return sum(len(song.scenes) for song in self.songs)

    @property
    def with_kept(self) -> list[BoundSong]:
        """Tonight's songs, and behind them what is kept on its switch in every bank."""
        return self.songs if self.kept is None else [*self.songs, self.kept]

    @property
    def asked(self) -> set[str]:
        """The units that an effect of the rig is made with, or that a foot moves tonight."""
        effects = {unit for parts in self.book.rig.effects.values() for unit in parts}
        return effects | {move.unit for song in self.songs for one in song.feet for move in one}

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
