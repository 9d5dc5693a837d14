"""Where the guitar is not heard: along the night as it is played, moment by moment.

Runs once songs are bound. A unit lets nothing through in a position, program or relay state that
it names under ``silent when:``, or while it is in (`ON`); a volume does when it is closed. There
is silence while the signal comes to no amplifier. Feet stand where the walk through the night
has them; loops, programs and relays where the scene pressed last has them. Of a rig without
``path:`` nothing is said.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field
from typing import NamedTuple

from setwright.compiler.binding.bound import BoundScene, BoundSong
from setwright.compiler.binding.foot import Stand, Standing
from setwright.compiler.binding.states import Wanted
from setwright.compiler.binding.target import Program, Target
from setwright.compiler.signal.graph import Signal
from setwright.scenes.moments import Moment
from setwright.scenes.places import KeyPath
from setwright.scenes.quantities import quoted
from setwright.scenes.unit import ON


class Blocking(NamedTuple):
    """A unit that lets nothing through: the state in which it is, and the words that put it there.

    The words are at their key with ``at_key``.
    """

    unit: str
    state: str
    path: KeyPath
    at_key: bool

    def __str__(self) -> str:
        return f"{quoted(self.unit)} is {self.state}"


class Stretch(NamedTuple):
    """A song from one moment to the next, or from its first note (``moment`` is None).

    ``blocking`` are the units that let nothing through; ``heard`` tells whether the guitar is
    heard all the same, ``meant`` whether the song says that silence is meant here, ``is_end``
    that it begins on the final bar line or later. ``unsaid`` are units that may let nothing
    through, so that it is not heard, for nobody says where they stand.
    """

    moment: Moment | None
    blocking: tuple[Blocking, ...]
    heard: bool
    meant: bool
    is_end: bool = False
    unsaid: tuple[str, ...] = ()


class Silence(NamedTuple):
    """A silence that lasts to the end of a song: from ``begins`` on, because of ``by``.

    ``scenes`` are those of the song that nobody hears from then on.
    """

    song: BoundSong
    begins: Stretch
    by: Blocking
    scenes: frozenset[str]


@dataclass(slots=True)
class Listener:
    """Listens to the songs of a night, in playing order."""

    target: Target
    signal: Signal
    _silencing: dict[str, tuple[str, ...]] = field(init=False)
    _heard: dict[frozenset[str], bool] = field(default_factory=dict)
    _scene: dict[tuple[object, ...], tuple[tuple[str, str], ...]] = field(default_factory=dict)
    _by_program: frozenset[str] = field(init=False)
    _in_loops: frozenset[str] = field(init=False)
    _walked: tuple[list[BoundSong], list[tuple[BoundSong, list[Stretch]]]] | None = None
    _held: dict[str, Program] = field(default_factory=dict)
    """The program that a unit was last told to load; it stays where any will do."""

    def __post_init__(self) -> None:
        """Note which units can silence the guitar."""
        self._silencing = {
            name: unit.silences
            for name, unit in self.target.units.items()
            if unit.silences and name not in self.target.gone
        }
        self._by_program = frozenset(
            name
            for name, silences in self._silencing.items()
            if set(silences) & self.target.programs[name].keys()
        )
        self._in_loops = frozenset(
            name
            for name, unit in self.target.units.items()
            if unit.loop is not None and self.signal.is_amplifier(name)
        )

    @property
    def has_ears(self) -> bool:
        """Whether anything can be said of silence: the path is known, and sound comes through."""
        may_be_silent = bool(self._silencing) or bool(self._in_loops)
        return self.signal.known and may_be_silent and self._is_heard(())

    @property
    def is_deaf(self) -> bool:
        """Whether the path is known, and nothing of it is ever heard."""
        return self.signal.known and not self._is_heard(())

    def songs(self, songs: list[BoundSong]) -> list[tuple[BoundSong, list[Stretch]]]:
        """Return each song with its stretches, one after the other; a night is walked once."""
        if self._walked is None or self._walked[0] is not songs:
            self._walked = songs, list(self._walk(songs))
        return self._walked[1]

    def _walk(self, songs: Iterable[BoundSong]) -> Iterator[tuple[BoundSong, list[Stretch]]]:
        before: tuple[BoundScene, KeyPath] | None = None
        self._held.clear()
        for song in songs:
            stretches = list(self._stretches(song, before)) if self.has_ears else []
            yield song, stretches
            pressed = [one for one in song.moments if one.scene in song.scenes]
            if pressed:
                before = song.scenes[pressed[-1].scene], pressed[-1].path
            elif song.scenes:
                before = None  # pressed as one likes

    def free(self, song: BoundSong) -> Iterator[tuple[BoundScene, bool]]:
        """Yield the scenes that are pressed as one likes, and whether the guitar is heard then."""
        pressed = {moment.scene for moment in song.moments}
        for name, scene in song.scenes.items():
            if name not in pressed and self.has_ears:
                # What was loaded before it nobody knows.
                self._held.clear()
                blocking = self._blocking(song.walk.standing[0], scene, scene.path)
                yield scene, self._is_heard(blocking)

    def _stretches(
        self, song: BoundSong, before: tuple[BoundScene, KeyPath] | None
    ) -> Iterator[Stretch]:
        standing = song.walk.standing
        if song.begins_late or not song.moments:
            kept, path = before if before and song.moments else (None, ())
            blocking = self._blocking(standing[0], kept, path)
            unsaid = self._unsaid(standing[0], kept, blocking)
            heard = self._is_heard(blocking)
            yield Stretch(None, blocking, heard, meant=False, unsaid=unsaid)
        scenes = song.song.scenes
        for moment, feet in zip(song.moments, standing[1:], strict=True):
            scene = song.scenes.get(moment.scene)
            if scene is None:
                continue
            blocking = self._blocking(feet, scene, moment.path)
            yield Stretch(
                moment,
                blocking,
                self._is_heard(blocking),
                meant=moment.silent or scenes[moment.scene].silent,
                is_end=song.resolved.is_over(moment),
                unsaid=self._unsaid(feet, scene, blocking),
            )

    def _blocking(
        self, feet: Standing, scene: BoundScene | None, path: KeyPath
    ) -> tuple[Blocking, ...]:
        """Return the units that let nothing through; ``path`` is where ``scene`` is pressed."""
        out = set() if scene is None else {one.unit for one in scene.wanted if _is_out(one)}
        by_foot = [
            Blocking(unit, stand.position, stand.path, stand.at_key)
            for unit, stand in feet.items()
            if self._by_foot(unit, stand) and unit not in out
        ]
        by_scene = [] if scene is None else [*self._by_scene(scene), *self._kept(scene)]
        by_scene += [(unit, "out of its loop") for unit in self._in_loops & out]
        return (*by_foot, *(Blocking(unit, state, path, True) for unit, state in by_scene))

    def _kept(self, scene: BoundScene) -> Iterator[tuple[str, str]]:
        """Yield the units that still hold a program that silences them, told by another scene."""
        for unit in self._by_program:
            own = {one.quantity: one.value for one in scene.of(unit)}
            program = own.get("program")
            if isinstance(program, Program):
                self._held[unit] = program
            elif unit in self._held and own.get("loop") is not False:
                state = self._held[unit]
                programs = self.target.programs[unit]
                silences = {
                    programs[name].on_wire for name in self._silencing[unit] if name in programs
                }
                if own.get("switch") is not False and state.on_wire in silences:
                    yield unit, state.name

    def _unsaid(
        self, feet: Standing, scene: BoundScene | None, blocking: tuple[Blocking, ...]
    ) -> tuple[str, ...]:
        """Return the units of which nobody says where they stand, and that may silence it all."""
        out = set() if scene is None else {one.unit for one in scene.wanted if _is_out(one)}
        return tuple(
            unit
            for unit, silences in self._silencing.items()
            if unit not in feet and unit not in out
            if set(silences) & set(self.target.units[unit].by_foot)
            if self._is_heard(blocking)
            and not self._is_heard((*blocking, Blocking(unit, silences[0], (), False)))
        )

    def not_said(self, songs: list[BoundSong]) -> Iterator[tuple[BoundSong, str, set[str]]]:
        """Yield each song and unit of which nobody says where it stands, and the scenes so."""
        for song, stretches in self.songs(songs):
            scenes: dict[str, set[str]] = {}
            for one in stretches:
                pressed = set(song.scenes) if one.moment is None else {one.moment.scene}
                for unit in one.unsaid:
                    scenes.setdefault(unit, set()).update(pressed)
            for unit, those in scenes.items():
                yield song, unit, those

    def _by_foot(self, unit: str, stand: Stand) -> bool:
        return stand.position in self._silencing.get(unit, ())

    def _by_scene(self, scene: BoundScene) -> tuple[tuple[str, str], ...]:
        """Return what the loops, programs and relays of a scene silence: unit and state."""
        if scene.recipe not in self._scene:
            self._scene[scene.recipe] = tuple(
                (unit, state)
                for unit, silences in self._silencing.items()
                if (state := self._state(unit, silences, scene))
            )
        return self._scene[scene.recipe]

    def _state(self, unit: str, silences: tuple[str, ...], scene: BoundScene) -> str:
        """Return the state in which a scene has ``unit`` let nothing through; empty if it has not.

        A box that is out of the way, or switched off, lets the guitar through.
        """
        own = {one.quantity: one.value for one in scene.of(unit)}
        if own.get("loop") is False or own.get("switch") is False:
            return ""
        is_on = bool(own.get("loop") or own.get("switch"))
        if is_on and ON in silences and ON not in self.target.units[unit].states:
            return ON
        programs = self.target.programs[unit]
        program = own.get("program")
        if isinstance(program, Program):
            numbers = {programs[name].on_wire for name in silences if name in programs}
            if program.on_wire in numbers:
                return program.name
        switched = (own.get(quantity) for quantity in self.target.units[unit].switched)
        return next((str(state) for state in switched if state in silences), "")

    def _is_heard(self, blocking: tuple[Blocking, ...]) -> bool:
        blocked = frozenset(one.unit for one in blocking)
        if blocked not in self._heard:
            self._heard[blocked] = bool(self.signal.amplifiers_reached(blocked))
        return self._heard[blocked]

    def not_ended(self, songs: list[BoundSong]) -> Iterator[Silence]:
        """Yield the silences that last to the end of their song and that nobody means.

        What begins on the final bar line is an ending, and no fault.
        """
        for song, stretches in self.songs(songs):
            stretches = [one for one in stretches if not one.is_end]
            if not stretches or stretches[-1].heard or stretches[-1].meant:
                continue
            at = len(stretches) - 1
            by = self._to_blame(stretches[at].blocking)
            while at and not stretches[at - 1].heard and _blocks(stretches[at - 1], by):
                at -= 1
                by = next(one for one in stretches[at].blocking if one.unit == by.unit)
            pressed = (one.moment.scene for one in stretches[at:] if one.moment is not None)
            unheard = frozenset(pressed if song.moments else song.scenes)
            yield Silence(song, stretches[at], by, unheard)

    def _to_blame(self, blocking: tuple[Blocking, ...]) -> Blocking:
        """Return the unit that silences the guitar by itself; the first, where none does."""
        alone = (one for one in blocking if not self._is_heard((one,)))
        return next(alone, blocking[0])


def _blocks(stretch: Stretch, by: Blocking) -> bool:
    """Tell whether the unit of ``by`` lets nothing through in ``stretch`` already."""
    return any(one.unit == by.unit for one in stretch.blocking)


def _is_out(wanted: Wanted) -> bool:
    return wanted.quantity == "loop" and wanted.value is False
