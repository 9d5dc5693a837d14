"""Names within songs: sounds, like, add and drop become lists of effects.

Knows nothing of a rig. Runs on the songs of a book, one at a time; what cannot be resolved is
a finding, and the scene is left out (`ResolvedSong.scenes` does not hold it). Scenes that begin
from one another are resolved one after the other, however long the chain is.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable
from dataclasses import dataclass, field
from fractions import Fraction
from typing import NamedTuple

from setwright.scenes.book import Book
from setwright.scenes.finding import Finding, Related, Severity
from setwright.scenes.forms import AtPart
from setwright.scenes.length import Length, length_of
from setwright.scenes.moments import NO_SUCH_PART, Moment, moments_of
from setwright.scenes.musical_time import NoteValue, Tempo
from setwright.scenes.names import Names, suggestion
from setwright.scenes.places import KeyPath
from setwright.scenes.quantities import quoted
from setwright.scenes.shapes import Shape
from setwright.scenes.songs import Scene, Song
from setwright.scenes.tempi import at_tempo, in_tempo, wrong_tempi

MANY = 8
"""Scenes of a circle that are shown; a longer one is cut short."""


class AskedEffect(NamedTuple):
    """An effect that a scene asks for, and where it was written."""

    name: str
    path: KeyPath


class ResolvedScene(NamedTuple):
    """A scene as a list of effects, in the order in which they were written.

    ``echo`` is the delay's time, None where neither scene nor song gives one;
    ``echo_of_song`` tells that it is the song's, which an effect's own time overrules.
    """

    name: str
    effects: tuple[AskedEffect, ...]
    echo: NoteValue | Fraction | None
    echo_path: KeyPath
    path: KeyPath
    echo_of_song: bool = True

    @property
    def effect_names(self) -> tuple[str, ...]:
        """The effects' names alone."""
        return tuple(effect.name for effect in self.effects)


class ResolvedSong(NamedTuple):
    """A song with its scenes as effects and its order as moments.

    ``shape`` and ``length`` are those at tonight's tempo; ``tempi`` are the tempos that each
    scene is heard at, where the song has more than one: None stands for a free one.
    """

    song: Song
    shape: Shape
    scenes: dict[str, ResolvedScene]
    moments: tuple[Moment, ...]
    length: Length
    tempi: dict[str, tuple[Tempo | None, ...]] = {}  # noqa: RUF012 - nobody writes into it

    def tempo_in(self, scene: str) -> Tempo | None:
        """Return the tempo at which a scene is heard first; None if it is free or not known."""
        return self.tempi[scene][0] if scene in self.tempi else self.shape.tempo

    def end_before(self, moment: Moment) -> tuple[str, KeyPath] | None:
        """Return how the song ends, in words, and where that is written, if that is too early.

        An assumed moment is never too late, and the final bar line is a place to end on; but a
        round that is not played is none.
        """
        if moment.assumed:
            return None
        length = self.length
        is_late = length.is_over if isinstance(moment.position, AtPart) else length.is_beyond
        if not is_late(moment.bars, self._seconds_needed(moment)):
            return None
        if self.length.key == "form" and moment.bars is not None:
            return f"has {self.shape.form}", (*self.song.path, "form")
        return "does not last so long", (*self.song.path, "lasts")

    def is_over(self, moment: Moment) -> bool:
        """Tell whether the song has ended at ``moment``, as `Length.is_over` does."""
        return self.length.is_over(moment.bars, self._seconds_needed(moment))

    def _seconds_needed(self, moment: Moment) -> Fraction | None:
        # Where bars decide, what they are in seconds need not be worked out.
        by_bars = self.length.in_bars and moment.bars is not None
        return None if by_bars else moment.seconds


class _Scenes(NamedTuple):
    """Scenes that may begin from one another: those of a song, or the general ones.

    ``base`` is the key path that they stand under, ``echo`` the delay's time where a scene
    does not say one. ``done`` holds those that are resolved, None where that is not possible.
    """

    scenes: dict[str, Scene]
    base: KeyPath
    echo: NoteValue | Fraction | None
    echo_path: KeyPath
    names: Names
    done: dict[str, ResolvedScene | None]
    takes_like: bool = True

    def path(self, name: str) -> KeyPath:
        return (*self.base, name)

    def before(self, name: str) -> str | None:
        """Return the scene that ``name`` begins from, if it is one and nothing else besides."""
        scene = self.scenes[name]
        if scene.like in self.scenes and scene.sound is None and scene.effects is None:
            return scene.like
        return None


@dataclass(slots=True)
class Resolver:
    """Resolves songs of one book and collects findings on the way."""

    book: Book
    findings: list[Finding] = field(default_factory=list)
    sounds: Names = field(init=False)
    _spellings: Counter[str] = field(default_factory=Counter)
    _effects_of_sound: dict[str, tuple[AskedEffect, ...]] = field(default_factory=dict)

    def __post_init__(self) -> None:
        """Note which sounds there are."""
        # Scenes of different songs often have the same names, which tells slips from names.
        self._spellings.update(name for song in self.book.songs for name in song.scenes)
        self.sounds = Names("sound", "unknown-sound", "write it under sounds:", self.book.spot)
        for name in self.book.song_book.sounds:
            self.sounds.define(name, self.book.place_of_key(("songs", "sounds", name)))
        for path in self.book.broken:
            if path[:2] == ("songs", "sounds") and len(path) > 2:
                self.sounds.define(str(path[2]))

    def done(self) -> list[Finding]:
        """Return everything found, once all songs have been resolved."""
        if self.book.is_broken(("songs", "sounds")):
            return self.findings
        misplaced = self._effects_for_sounds()
        return [
            *self.findings,
            *misplaced,
            *self.sounds.findings(hold_back="songs" in self.book.faulty),
        ]

    def _effects_for_sounds(self) -> list[Finding]:
        """Take effects that are named where a sound is out of what is missing; say so of each."""
        found = []
        for name in [name for name in self.sounds.missing if name in self.book.rig.effects]:
            places = list(dict.fromkeys(self.sounds.missing.pop(name)))
            found.append(
                Finding(
                    self.sounds.code,
                    Severity.ERROR,
                    f"{quoted(name)} is an effect, and a sound is named here",
                    places[0],
                    f"list it: effects: [{name}]; or put it under add:, beside the sound",
                    tuple(Related("and here", place) for place in places[1:4]),
                )
            )
        return found

    def song(self, song: Song, tempo: Tempo | None = None) -> ResolvedSong:
        """Resolve one song, at another tempo than its own if one is given."""
        shape = song.shape if tempo is None else at_tempo(song.shape, tempo)
        length = length_of(song, shape)
        names = self._scene_names(song)
        base = (*song.path, "scenes")
        scenes = self._all(_Scenes(song.scenes, base, song.echo, (*song.path, "echo"), names, {}))
        moments, found = moments_of(self.book, song, shape, length, names)
        self.findings += found
        lacking = any(one.code == NO_SUCH_PART for one in found)
        self.findings += [
            one
            for one in wrong_tempi(self.book, song)
            if not (lacking and one.code == NO_SUCH_PART)  # one slip in the form may be both
        ]
        shape, moments, tempi = in_tempo(song, shape, moments)
        if tempi:
            length = length_of(song, shape)
        self.findings += names.findings(
            f" in {quoted(song.title)}", hold_back=self._has_broken(song.path)
        )
        return ResolvedSong(song, shape, scenes, moments, length, tempi)

    def general(self) -> dict[str, ResolvedScene]:
        """Resolve the rig's general scenes, for songs that have none of their own."""
        base: KeyPath = ("rig", "general")
        names = self.names_of(self.book.rig.general, base)
        scenes = self._all(_Scenes(self.book.rig.general, base, None, (), names, {}))
        self.findings += names.findings(" among general")
        return scenes

    def kept(self) -> dict[str, ResolvedScene]:
        """Resolve what the switches hold that are kept in every bank, by their keys there."""
        use = self.book.rig.switcher
        base: KeyPath = ("rig", "switcher", "every bank")
        said = {key: one.scene for key, one in (use.every_bank if use else {}).items()}
        scenes = {key: scene for key, scene in said.items() if scene is not None}
        return self._all(_Scenes(scenes, base, None, (), self.names_of(scenes, base), {}, False))

    def names_of(self, scenes: Iterable[str], base: KeyPath) -> Names:
        """Return the names of ``scenes``, which stand under ``base``, ready to be looked up."""
        names = Names("scene", "unknown-scene", "write it under scenes:", self.book.spot)
        for name in scenes:
            names.define(name, self.book.place_of_key((*base, name)))
        names.usual = self._spellings
        return names

    def _scene_names(self, song: Song) -> Names:
        base = (*song.path, "scenes")
        names = self.names_of(song.scenes, base)
        for name in self.book.broken_below(base):
            names.define(str(name))
        return names

    def _all(self, among: _Scenes) -> dict[str, ResolvedScene]:
        """Resolve scenes, each after the one that it begins from."""
        for name in among.scenes:
            way: dict[str, None] = {}
            current: str | None = name
            while current is not None and current not in among.done and current not in way:
                way[current] = None
                current = among.before(current)
            if current in way:
                circle = list(way)[list(way).index(current) :]
                self._circle(among, circle)
                among.done.update(dict.fromkeys(circle))
            for one in reversed(way):
                if one not in among.done:
                    among.done[one] = self._scene(among, one)
        return {name: scene for name in among.scenes if (scene := among.done[name]) is not None}

    def _circle(self, among: _Scenes, circle: list[str]) -> None:
        """Note scenes that begin from one another, at the first of them."""
        for name in circle:
            among.names.find(name, among.path(name))
        members = set(circle)
        first = next(name for name in among.scenes if name in members)
        at = circle.index(first)
        way = [*circle[at:], *circle[: at + 1]]
        shown = way if len(way) <= MANY else [*way[:MANY], f"… ({len(circle)} scenes)", first]
        self._error(
            "like-in-circle",
            f"these scenes begin from one another: {' → '.join(shown)}",
            (*among.path(first), "like"),
            "let one of them name a sound",
        )

    def _scene(self, among: _Scenes, name: str) -> ResolvedScene | None:
        scene, path = among.scenes[name], among.path(name)
        start = self._start(among, name)
        if start is None:
            return None
        if not scene.add and not scene.drop and scene.echo is None and start.path == path:
            return start
        effects = list(start.effects)
        present = {effect.name for effect in effects}
        for index, effect in enumerate(scene.drop):
            at = (*path, "drop", index)
            if effect not in present:
                self._warn(
                    "drops-nothing",
                    f"{quoted(name)} drops {quoted(effect)}, which is not in it",
                    at,
                    suggestion(effect, sorted(present), "delete it"),
                )
        dropped = set(scene.drop)
        effects = [one for one in effects if one.name not in dropped]
        for index, effect in enumerate(scene.add):
            at = (*path, "add", index)
            if effect in present and effect not in dropped:
                self._warn(
                    "adds-twice",
                    f"{quoted(effect)} is in {quoted(name)} already",
                    at,
                    "delete it here",
                )
                continue
            effects.append(AskedEffect(effect, at))
        if scene.echo is not None:
            return ResolvedScene(name, tuple(effects), scene.echo, (*path, "echo"), path, False)
        return start._replace(name=name, effects=tuple(effects), path=path)

    def _start(self, among: _Scenes, name: str) -> ResolvedScene | None:
        """Return what a scene begins from: a sound, a list of effects, or another scene."""
        scene, path = among.scenes[name], among.path(name)
        starts = [key for key in Scene.alternatives if getattr(scene, key) is not None]
        if len(starts) > 1:
            self._error(
                "two-starts",
                f"{quoted(name)} begins from two things at once: {' and '.join(starts)}",
                (*path, starts[1]),
                "keep one; what is to sound besides belongs under add:",
                Related("the other", self.book.place((*path, starts[0]))),
            )
            return None
        if scene.sound is not None:
            effects = self._sound(scene.sound, path)
            if effects is None:
                return None
            return ResolvedScene(name, effects, among.echo, among.echo_path, path)
        if scene.like is not None:
            known = among.names.find(scene.like, (*path, "like"))
            return among.done.get(scene.like) if known else None
        if scene.effects is None and not scene.add and not self._has_broken(path):
            self._error(
                "scene-without-sound",
                f"{quoted(name)} does not say how it sounds",
                path,
                f"add sound:{', effects: or like:' if among.takes_like else ' or effects:'}; "
                "for no effect at all write effects: []",
            )
            return None
        asked = tuple(
            AskedEffect(effect, (*path, "effects", index))
            for index, effect in enumerate(scene.effects or ())
        )
        return ResolvedScene(name, asked, among.echo, among.echo_path, path)

    def _sound(self, sound: str, path: KeyPath) -> tuple[AskedEffect, ...] | None:
        if not self.sounds.find(sound, (*path, "sound")):
            return None
        if sound not in self.book.song_book.sounds:
            return None  # it stands there with a slip in it, which has been found
        if sound not in self._effects_of_sound:
            self._effects_of_sound[sound] = tuple(
                AskedEffect(effect, ("songs", "sounds", sound, index))
                for index, effect in enumerate(self.book.song_book.sounds[sound].effects)
            )
        return self._effects_of_sound[sound]

    def _has_broken(self, path: KeyPath) -> bool:
        return self.book.has_broken(path)

    def _error(self, code: str, message: str, path: KeyPath, way_out: str, *also: Related) -> None:
        place = self.book.place(path)
        self.findings.append(Finding(code, Severity.ERROR, message, place, way_out, also))

    def _warn(self, code: str, message: str, path: KeyPath, way_out: str) -> None:
        self.findings.append(
            Finding(code, Severity.WARNING, message, self.book.place(path), way_out)
        )
