"""Names within songs: sounds, like, add and drop become lists of effects; order becomes time.

Knows nothing of a rig. Runs on the songs of a book, one at a time; what cannot be resolved is
a finding, and the scene is left out (`ResolvedSong.scenes` does not hold it).
"""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from collections import Counter
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field, replace
from fractions import Fraction
from typing import NamedTuple

from setwright.scenes.book import Book
from setwright.scenes.finding import Finding, Place, Related, Severity
from setwright.scenes.musical_time import AtPart, AtTime, NoteValue, Position, Shape, Tempo
from setwright.scenes.names import Names, suggestion
from setwright.scenes.places import KeyPath
from setwright.scenes.quantities import quoted
from setwright.scenes.records import place_for
from setwright.scenes.songs import Scene, Song, Step


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


class Moment(NamedTuple):
    """A press of a switch within a song.

    ``bars`` have passed since the first note, or ``clock`` seconds where the song says so;
    None where that cannot be said. ``shape`` turns the one into the other;
    ``assumed`` tells that the song does not say when, so that this is a guess.
    """

    scene: str
    position: Position | None
    bars: Fraction | None
    clock: Fraction | None
    assumed: bool
    cue: str
    foot: str
    path: KeyPath
    shape: Shape

    @property
    def seconds(self) -> Fraction | None:
        """Seconds since the first note, from the clock or from the bars; None if unknown."""
        if self.clock is not None or self.bars is None:
            return self.clock
        return self.shape.seconds_of_bars(self.bars)


class ResolvedSong(NamedTuple):
    """A song with its scenes as effects and its order as moments."""

    song: Song
    shape: Shape
    scenes: dict[str, ResolvedScene]
    moments: tuple[Moment, ...]


@dataclass(slots=True)
class Resolver:
    """Resolves songs of one book and collects findings on the way."""

    book: Book
    findings: list[Finding] = field(default_factory=list)
    sounds: Names = field(init=False)
    _spellings: Counter[str] = field(default_factory=Counter)
    _formless: dict[KeyPath, list[KeyPath]] = field(default_factory=dict)
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
        for path, asked in self._formless.items():
            places = [self.book.place(one) for one in asked]
            self._error(
                "place-without-form",
                "this song has no form, but a place in it is said by round and part",
                path,
                "add form: here, for example form: AABB, 3 rounds; or say bars or times",
                *(Related("said here", place) for place in places[:4]),
                at=place_for(self.book.spot, path, Song, "form"),
            )
        if self.book.is_broken(("songs", "sounds")):
            return self.findings
        return self.findings + self.sounds.findings(hold_back="songs" in self.book.faulty)

    def song(self, song: Song, tempo: Tempo | None = None) -> ResolvedSong:
        """Resolve one song, at another tempo than its own if one is given."""
        shape = song.shape if tempo is None else replace(song.shape, tempo=tempo)
        scenes = {}
        names = self._scene_names(song)
        for name in song.scenes:
            resolved = self._scene(song, name, names, ())
            if resolved is not None:
                scenes[name] = resolved
        moments = self._moments(song, shape, names)
        self.findings += names.findings(
            f" in {quoted(song.title)}", hold_back=self._has_broken(song.path)
        )
        return ResolvedSong(song, shape, scenes, moments)

    def general(self) -> dict[str, ResolvedScene]:
        """Resolve the rig's general scenes, for songs that have none of their own."""
        rig = self.book.rig
        return dict(
            self._all(
                rig.general,
                ("rig", "general"),
                self.names_of(rig.general, ("rig", "general")),
                " among general",
            )
        )

    def names_of(self, scenes: Iterable[str], base: KeyPath) -> Names:
        """Return the names of ``scenes``, which stand under ``base``, ready to be looked up."""
        names = Names("scene", "unknown-scene", "write it under scenes:", self.book.spot)
        for name in scenes:
            names.define(name, self.book.place_of_key((*base, name)))
        names.usual = self._spellings
        return names

    def _all(
        self, scenes: dict[str, Scene], base: KeyPath, names: Names, where: str
    ) -> Iterator[tuple[str, ResolvedScene]]:
        for name in scenes:
            resolved = self._resolve(scenes, base, None, (), name, names, ())
            if resolved is not None:
                yield name, resolved
        self.findings += names.findings(where)

    def _scene_names(self, song: Song) -> Names:
        base = (*song.path, "scenes")
        names = self.names_of(song.scenes, base)
        for name in self.book.broken_below(base):
            names.define(str(name))
        return names

    def _scene(
        self, song: Song, name: str, names: Names, above: tuple[str, ...]
    ) -> ResolvedScene | None:
        base = (*song.path, "scenes")
        return self._resolve(song.scenes, base, song.echo, (*song.path, "echo"), name, names, above)

    def _resolve(
        self,
        scenes: dict[str, Scene],
        base: KeyPath,
        echo: NoteValue | Fraction | None,
        echo_path: KeyPath,
        name: str,
        names: Names,
        above: tuple[str, ...],
    ) -> ResolvedScene | None:
        scene = scenes[name]
        path = (*base, name)
        start = self._start(scenes, base, echo, echo_path, name, names, above)
        if start is None:
            return None
        if not scene.add and not scene.drop and scene.echo is None and start.path == path:
            return start
        effects = list(start.effects)
        present = {effect.name for effect in effects}
        for index, effect in enumerate(scene.drop):
            at = (*path, "drop", index)
            if effect not in present and not above:
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
            if effect in present and effect not in dropped and not above:
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

    def _start(
        self,
        scenes: dict[str, Scene],
        base: KeyPath,
        echo: NoteValue | Fraction | None,
        echo_path: KeyPath,
        name: str,
        names: Names,
        above: tuple[str, ...],
    ) -> ResolvedScene | None:
        """Return what a scene begins from: a sound, a list of effects, or another scene."""
        scene, path = scenes[name], (*base, name)
        starts = [
            key
            for key, value in (
                ("sound", scene.sound),
                ("effects", scene.effects),
                ("like", scene.like),
            )
            if value is not None
        ]
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
            return self._sound(scene.sound, name, echo, echo_path, path)
        if scene.like is not None:
            return self._like(scenes, base, echo, echo_path, name, names, above)
        if scene.effects is None and not scene.add and not self._has_broken(path):
            self._error(
                "scene-without-sound",
                f"{quoted(name)} does not say how it sounds",
                path,
                "add sound:, effects: or like:; for no effect at all write effects: []",
            )
            return None
        asked = tuple(
            AskedEffect(effect, (*path, "effects", index))
            for index, effect in enumerate(scene.effects or ())
        )
        return ResolvedScene(name, asked, echo, echo_path, path)

    def _sound(
        self,
        sound: str,
        name: str,
        echo: NoteValue | Fraction | None,
        echo_path: KeyPath,
        path: KeyPath,
    ) -> ResolvedScene | None:
        if not self.sounds.find(sound, (*path, "sound")):
            return None
        if sound not in self.book.song_book.sounds:
            return None  # it stands there with a slip in it, which has been found
        if sound not in self._effects_of_sound:
            self._effects_of_sound[sound] = tuple(
                AskedEffect(effect, ("songs", "sounds", sound, index))
                for index, effect in enumerate(self.book.song_book.sounds[sound].effects)
            )
        return ResolvedScene(name, self._effects_of_sound[sound], echo, echo_path, path)

    def _like(
        self,
        scenes: dict[str, Scene],
        base: KeyPath,
        echo: NoteValue | Fraction | None,
        echo_path: KeyPath,
        name: str,
        names: Names,
        above: tuple[str, ...],
    ) -> ResolvedScene | None:
        path, like = (*base, name), scenes[name].like
        assert like is not None
        if not names.find(like, (*path, "like")) or like not in scenes:
            return None
        circle = _circle(scenes, name)
        if circle:
            # Every scene of the circle meets it; it is reported at the first of them alone.
            if not above and name == next(scene for scene in scenes if scene in circle):
                self._error(
                    "like-in-circle",
                    f"these scenes begin from one another: {' → '.join((*circle, circle[0]))}",
                    (*path, "like"),
                    "let one of them name a sound",
                )
            return None
        return self._resolve(scenes, base, echo, echo_path, like, names, (*above, name))

    def _moments(self, song: Song, shape: Shape, names: Names) -> tuple[Moment, ...]:
        steps = [
            (scene, step, (*song.path, "order", index, scene))
            for index, item in enumerate(song.order)
            for scene, step in item.items()
        ] or [(scene, Step(), (*song.path, "scenes", scene)) for scene in song.scenes]
        placed: list[Moment] = []
        for scene, step, path in steps:
            names.find(scene, path, key=True)
            position = step.at
            bars = shape.bar_of(position) if position is not None else None
            if isinstance(position, AtPart) and bars is None:
                self._no_such_part(song, position, path)
                position = None
            clock = position.seconds if isinstance(position, AtTime) else None
            placed.append(
                Moment(
                    scene,
                    position,
                    bars,
                    clock,
                    position is None,
                    step.cue or "",
                    step.foot or "",
                    path,
                    shape,
                )
            )
        return _assume(placed, shape, song)

    def _no_such_part(self, song: Song, position: AtPart, path: KeyPath) -> None:
        if song.form is None:
            if not self.book.is_broken((*song.path, "form")):
                self._formless.setdefault(song.path, []).append((*path, "at"))
            return
        self._error(
            "no-such-part",
            f"the form {song.form.parts} has no "
            + (f"{position.part} number {position.nth}" if position.nth > 1 else position.part),
            (*path, "at"),
            f"write one of {', '.join(dict.fromkeys(song.form.parts))}",
        )

    def _has_broken(self, path: KeyPath) -> bool:
        return self.book.has_broken(path)

    def _error(
        self,
        code: str,
        message: str,
        path: KeyPath,
        way_out: str,
        *also: Related,
        at: Place | None = None,
    ) -> None:
        place = at or self.book.place(path)
        self.findings.append(Finding(code, Severity.ERROR, message, place, way_out, also))

    def _warn(self, code: str, message: str, path: KeyPath, way_out: str) -> None:
        self.findings.append(
            Finding(code, Severity.WARNING, message, self.book.place(path), way_out)
        )


def _circle(scenes: dict[str, Scene], name: str) -> list[str]:
    """Return the scenes of the circle that ``like`` leads into from ``name``; empty if none."""
    way: list[str] = []
    current: str | None = name
    while current in scenes and current not in way:
        way.append(current)
        current = scenes[current].like
    return way[way.index(current) :] if current in way else []


def _assume(moments: list[Moment], shape: Shape, song: Song) -> tuple[Moment, ...]:
    """Give a place to each moment that has none: evenly between its neighbours.

    The first stands at the beginning. Where the song has a form, places are moved to the
    nearest beginning of a part; without form and length nothing can be assumed.
    """
    total = shape.bars_in_all
    if total is None and song.lasts is not None:
        return tuple(_assume_seconds(moments, song.lasts))
    if total is None:
        if moments and moments[0].assumed:
            moments[0] = moments[0]._replace(bars=Fraction(0), clock=Fraction(0))
        return tuple(moments)
    if not any(moment.assumed for moment in moments):
        return tuple(moments)
    starts = shape.part_starts
    gaps, following = _ahead(moments, [moment.bars for moment in moments], Fraction(total))
    result: list[Moment] = []
    for index, moment in enumerate(moments):
        if not moment.assumed:
            result.append(moment)
            continue
        if index == 0:
            bars = Fraction(0)
        else:
            before = result[-1].bars or Fraction(0)
            gap, after = gaps[index], following[index]
            bars = before + (after - before) / (gap + 1)
            first, behind = bisect_right(starts, before), bisect_left(starts, after)
            if behind - first >= gap:
                at = bisect_left(starts, bars, first, behind)
                near = starts[max(first, at - 1) : min(at + 1, behind)]
                bars = min(near, key=lambda start: (abs(start - bars), start))
        result.append(moment._replace(bars=bars))
    return tuple(result)


def _ahead(
    moments: list[Moment], known: list[Fraction | None], end: Fraction
) -> tuple[list[int], list[Fraction]]:
    """Return two lists with an entry for each moment.

    How many assumed ones follow in a row, itself counted; and the next place that is ``known``
    of one that is not assumed, or ``end``.
    """
    gaps, following = [0] * len(moments), [end] * len(moments)
    gap = 0
    for index in range(len(moments) - 1, -1, -1):
        assumed = moments[index].assumed
        gap = gap + 1 if assumed else 0
        place = known[index]
        if not assumed and place is not None:
            end = place
        gaps[index], following[index] = gap, end
    return gaps, following


def _assume_seconds(moments: list[Moment], lasts: Fraction) -> Iterator[Moment]:
    before = Fraction(0)
    gaps, following = _ahead(moments, [moment.seconds for moment in moments], lasts)
    for index, moment in enumerate(moments):
        if not moment.assumed:
            before = moment.seconds if moment.seconds is not None else before
            yield moment
            continue
        if index:
            before += (following[index] - before) / (gaps[index] + 1)
        yield moment._replace(clock=before)
