"""Scene × rig → the state that every unit should be in, or "don't care".

Runs after the songs are resolved and the rig is aimed at. Every quantity of every unit gets a
value, a reason in plain words, and a verdict: can the tool promise that it is so, whichever
scene came before? Scenes with a finding are left out downstream.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass, field
from fractions import Fraction
from typing import NamedTuple

from setwright.compiler.feet import Feet, FootMove
from setwright.compiler.states import ANY, Cause, SetSomewhere, UnitState, Wanted, foot_stands
from setwright.compiler.target import NOTHING, Demand, Program, Setting, Target
from setwright.scenes.finding import Finding, Place, Related, Severity
from setwright.scenes.moments import Moment
from setwright.scenes.musical_time import AtTime, NoteValue, Tempo
from setwright.scenes.names import Names, suggestion
from setwright.scenes.night import Playing
from setwright.scenes.places import KeyPath, end_of
from setwright.scenes.quantities import quoted
from setwright.scenes.resolve import AskedEffect, ResolvedScene, ResolvedSong, Resolver
from setwright.scenes.songs import Song

MANY = 3
"""So many effects that a rig lacks are one slip: its list is not whole."""


class BoundScene(NamedTuple):
    """A scene as this rig plays it.

    ``effects`` are those that sound, after fallbacks; ``replaced`` the fallbacks taken:
    (asked for, played instead or `NOTHING`). Scenes of one night with equal ``recipe`` have
    the same ``wanted``.
    """

    name: str
    effects: tuple[str, ...]
    replaced: tuple[tuple[str, str], ...]
    wanted: tuple[Wanted, ...]
    path: KeyPath
    recipe: tuple[object, ...]

    def of(self, unit: str) -> tuple[Wanted, ...]:
        """Return the quantities of one unit."""
        return tuple(wanted for wanted in self.wanted if wanted.unit == unit)


class BoundSong(NamedTuple):
    """A song as it is played tonight on this rig.

    ``number`` counts the songs of the night from 1, 0 for songs kept for requests and songs
    that are not played; ``general`` tells that the rig's general scenes are used. ``feet``
    holds the moves of the foot at each of the ``moments``. ``owner`` is the name under which
    its scenes are placed: its identity, marked where it is played again in another way.
    """

    resolved: ResolvedSong
    tempo: Tempo | None
    guitar: str
    scenes: dict[str, BoundScene]
    moments: tuple[Moment, ...]
    feet: tuple[tuple[FootMove, ...], ...]
    general: bool
    number: int
    playing: Playing | None
    left_out: frozenset[str]
    owner: str

    @property
    def song(self) -> Song:
        """The song as written."""
        return self.resolved.song

    def place_in_words(self, moment: Moment) -> str | None:
        """Return where a moment lies, as a player would say it; None where nobody knows."""
        if moment.position is not None:
            return str(moment.position)
        if moment.bars == 0 or moment.seconds == 0:
            return "the beginning"
        if moment.bars is not None:
            return str(self.resolved.shape.position_at(moment.bars))
        return str(AtTime(moment.seconds)) if moment.seconds is not None else None


@dataclass(slots=True)
class Binder:
    """Binds the songs of one night to one rig and collects findings on the way."""

    target: Target
    resolver: Resolver
    findings: list[Finding] = field(default_factory=list)
    suffering: dict[str, dict[str, list[str]]] = field(default_factory=dict)
    _effects: Names = field(init=False)
    _clashes: set[tuple[KeyPath, KeyPath]] = field(default_factory=set)
    _cache: dict[tuple[object, ...], tuple[Wanted, ...] | None] = field(default_factory=dict)
    _played: dict[tuple[str, ...], tuple[dict[str, AskedEffect], tuple[tuple[str, str], ...]]] = (
        field(default_factory=dict)
    )
    _general: dict[str, ResolvedScene] | None = None
    _set_somewhere: frozenset[SetSomewhere] = frozenset()
    feet: Feet = field(init=False)

    def __post_init__(self) -> None:
        """Note which quantities any effect sets, for those have to be known everywhere."""
        book = self.target.book
        self.feet = Feet(self.target)
        self._effects = Names("effect", "unknown-effect", "write it under effects:", book.spot)
        for name in (*self.target.makes, *self.target.lost):
            self._effects.define(name, book.place_of_key(("rig", "effects", name)))
        self._set_somewhere = frozenset(self._settings())

    def _settings(self) -> Iterator[SetSomewhere]:
        for demands in self.target.makes.values():
            loaded = {
                one.unit: one.value.place for one in demands if isinstance(one.value, Program)
            }
            for demand in demands:
                if isinstance(demand.value, Setting):
                    yield demand.unit, demand.quantity, loaded.get(demand.unit, ANY)
                    yield demand.unit, demand.quantity, None
        for name, unit in self.target.units.items():
            if unit.time is not None:  # a scene's echo: sets it, with any program
                yield name, "time", ANY
                yield name, "time", None

    def song(self, song: Song, playing: Playing | None = None, number: int = 0) -> BoundSong:
        """Bind one song, with what is different tonight if it is played."""
        tempo = playing.tempo if playing and playing.tempo else song.tempo
        resolved = self.resolver.song(song, tempo)
        asked_for = playing is not None and number == 0
        general = asked_for or not song.scenes
        scenes = self._general_scenes() if general else resolved.scenes
        left_out = self._left_out(song, playing, general)
        bound = {}
        for name, scene in scenes.items():
            if name in left_out:
                continue
            one = self._scene(song, scene, tempo)
            if one is not None:
                bound[name] = one
        moments = () if general else resolved.moments
        moments = tuple(moment for moment in moments if moment.scene not in left_out)
        feet, stands = self.feet.walk(moments, {name: one.effects for name, one in bound.items()})
        if self.feet.at_rest:
            bound = {
                name: self._with_feet(one, stands.get(name, {})) for name, one in bound.items()
            }
        return BoundSong(
            resolved,
            tempo,
            _guitar_tonight(song.guitar or "", playing.capo if playing else None),
            bound,
            moments,
            feet,
            general,
            number,
            playing,
            left_out,
            song.identity,
        )

    def _with_feet(self, scene: BoundScene, stands: dict[str, list[str]]) -> BoundScene:
        """Return ``scene`` with the positions that the walk through the song found."""
        key = (scene.recipe, str(stands))
        if key not in self._cache:
            self._cache[key] = tuple(
                foot_stands(one, stands.get(one.unit, [])) if one.quantity == "foot" else one
                for one in scene.wanted
            )
        wanted = self._cache[key]
        assert wanted is not None
        return scene._replace(wanted=wanted, recipe=key)

    def done(self) -> list[Finding]:
        """Return everything found, once all songs have been bound."""
        self.findings += self._unknown_effects()
        self.findings += self._suffering_findings()
        return self.findings + self.feet.findings

    # Songs.

    def _general_scenes(self) -> dict[str, ResolvedScene]:
        if self._general is None:
            self._general = self.resolver.general()
        return self._general

    def _left_out(self, song: Song, playing: Playing | None, general: bool) -> frozenset[str]:
        left_out = set()
        for index, name in enumerate(playing.leave_out if playing else ()):
            known = self._general_scenes() if general else song.scenes
            left_out.add(name)
            if name not in known and playing is not None:
                self.findings.append(
                    Finding(
                        "unknown-scene",
                        Severity.ERROR,
                        f"{quoted(song.title)} has no scene {quoted(name)} to leave out",
                        self.target.book.place((*playing.path, "leave out", index)),
                        suggestion(name, known, "delete it"),
                    )
                )
        return frozenset(left_out)

    # Effects.

    def _scene(self, song: Song, scene: ResolvedScene, tempo: Tempo | None) -> BoundScene | None:
        asked = scene.effect_names
        if asked not in self._played:
            found = self._play(song, scene)
            if found is None:
                return None
            self._played[asked] = found
        elif any(map(self._is_loss, asked)):
            self._play(song, scene)  # each song that suffers is to be named
        played, replaced = self._played[asked]
        milliseconds = self._echo(scene, tempo)
        # Built of text, which hashes much faster than fractions do.
        key = (asked, str(milliseconds), str(scene.echo), scene.echo_of_song)
        if key not in self._cache:
            self._cache[key] = self._states(played, scene, milliseconds)
        elif self._cache[key] is None and (again := self._play(song, scene)):
            # The same effects clash in another place, which has to be mended too.
            self._states(again[0], scene, milliseconds)
        wanted = self._cache[key]
        if wanted is None:
            return None
        if any(one.cause is Cause.TIME for one in wanted):
            self._unreached_times(scene, wanted)
        return BoundScene(scene.name, tuple(played), replaced, wanted, scene.path, key)

    def _play(
        self, song: Song, scene: ResolvedScene
    ) -> tuple[dict[str, AskedEffect], tuple[tuple[str, str], ...]] | None:
        """Find what this rig plays for a scene's effects: the effects, and what was replaced.

        Returns None, with a finding noted, where one of them cannot be played at all.
        """
        played: dict[str, AskedEffect] = {}
        replaced: list[tuple[str, str]] = []
        playable = True
        for effect in scene.effects:
            stand_in = self.target.stand_in(effect.name)
            if stand_in is None and effect.name not in self.target.lost:
                if effect.name not in self.target.broken_effects:
                    self._effects.find(effect.name, effect.path)
                playable = False
                continue
            self._effects.used.add(effect.name)
            if self._is_loss(effect.name):
                self._suffer(song, scene, effect.name, stand_in or "")
            if stand_in != effect.name:
                replaced.append((effect.name, stand_in or NOTHING))
            if stand_in is not None and stand_in != NOTHING:
                played.setdefault(stand_in, effect)
        return (played, tuple(replaced)) if playable else None

    def _is_loss(self, effect: str) -> bool:
        """Tell whether ``effect`` is replaced only because a unit is left out tonight."""
        return bool(self.target.gone) and effect in self.target.lost

    def _suffer(self, song: Song, scene: ResolvedScene, effect: str, stand_in: str) -> None:
        line = f"{scene.name}: {effect}" + (f" → {stand_in}" if stand_in else " is lost")
        self.suffering.setdefault(song.identity, {}).setdefault(stand_in, []).append(line)

    def _echo(self, scene: ResolvedScene, tempo: Tempo | None) -> Fraction | None:
        """Return the delay's time in ms, None where none is asked for or can be told."""
        if isinstance(scene.echo, NoteValue):
            return tempo.milliseconds(scene.echo) if tempo is not None else None
        return scene.echo

    def _states(
        self, played: dict[str, AskedEffect], scene: ResolvedScene, milliseconds: Fraction | None
    ) -> tuple[Wanted, ...] | None:
        demands: dict[tuple[str, str], tuple[Demand, AskedEffect]] = {}
        users: dict[str, list[str]] = {}
        clash = False
        for name, effect in played.items():
            for demand in self.target.makes[name]:
                if demand.quantity == "use":
                    users.setdefault(demand.unit, []).append(name)
                    continue
                key = (demand.unit, demand.quantity)
                named = AskedEffect(name, effect.path)
                first = demands.setdefault(key, (demand, named))
                if not _the_same(first[0].value, demand.value):
                    self._clash(first, (demand, named))
                    clash = True
        if clash:
            return None
        wanted: list[Wanted] = []
        for name, unit in self.target.units.items():
            if name in self.target.gone:
                continue
            own = {key[1]: (d, e.name) for key, (d, e) in demands.items() if key[0] == name}
            wanted += UnitState(
                self.target,
                self._set_somewhere,
                name,
                unit,
                own,
                users.get(name, []),
                scene,
                milliseconds,
            ).wanted()
        return tuple(wanted)

    def _unreached_times(self, scene: ResolvedScene, wanted: tuple[Wanted, ...]) -> None:
        """Warn of a delay's time that was asked for and that this rig cannot make."""
        for one in wanted:
            if one.cause is Cause.TIME:
                place = self.target.book.place(scene.echo_path)
                self.findings.append(
                    Finding(
                        "time-not-reached",
                        Severity.WARNING,
                        f"the time of {quoted(one.unit)} is not set: {one.why}",
                        place,
                        one.reason,
                    )
                )

    def _clash(
        self,
        first: tuple[Demand, AskedEffect],
        second: tuple[Demand, AskedEffect],
    ) -> None:
        # The same two places clash in every scene of the same sound: that is one slip.
        pair = (first[1].path, second[1].path)
        if pair in self._clashes:
            return
        self._clashes.add(pair)
        book = self.target.book
        one, other = _plain(first[0].value), _plain(second[0].value)
        self.findings.append(
            Finding(
                "effects-clash",
                Severity.ERROR,
                f"{quoted(first[1].name)} and {quoted(second[1].name)} need "
                f"{quoted(first[0].unit)} in two states at once: {one} and {other}",
                book.place(second[1].path),
                "leave one of them out of this scene, or let the rig make it with another unit",
                (
                    Related(f"{first[1].name} is asked for here", book.place(first[1].path)),
                    Related(f"how {first[1].name} is made", book.place(first[0].path)),
                    Related(f"how {second[1].name} is made", book.place(second[0].path)),
                ),
            )
        )

    def _unknown_effects(self) -> list[Finding]:
        """Return what songs ask for and this rig cannot make.

        Where the rig has slips of its own, or makes nothing at all, that is one finding.
        """
        book, names, target = self.target.book, self._effects, self.target
        if book.is_broken(("rig", "effects")):
            return []
        for choice, path in target.choices:
            names.find(choice, path)
        for path in book.broken:
            names.missing.pop(str(path[-1]), None)
        if len(names.missing) >= MANY:
            return [] if "rig" in book.faulty else [self._many_unknown(names)]
        sounds = [name for name in names.missing if name in book.song_book.sounds]
        misplaced = [
            Finding(
                names.code,
                Severity.ERROR,
                f"{quoted(name)} is a sound, and effects are listed here",
                place,
                f"begin the scene with sound: {name}, and put what comes besides under add:",
            )
            for name in sounds
            for place in dict.fromkeys(names.missing.pop(name))
        ]
        found = names.findings(" on this rig", hold_back="rig" in book.faulty)
        return misplaced + [
            one._replace(help=f"{one.help}; or let the rig say instead of:, and what may stand in")
            for one in found
        ]

    def _many_unknown(self, names: Names) -> Finding:
        book = self.target.book
        # What is missing would stand below the last effect, or at the end of the file.
        last = next(reversed(book.rig.effects), None)
        place = (
            end_of(book.place(("rig",)).source)
            if last is None
            else book.place_of_key(("rig", "effects", last))
        )
        return Finding(
            names.code,
            Severity.ERROR,
            f"this rig lacks {len(names.missing)} effects that the songs ask for: "
            f"{', '.join(map(quoted, list(names.missing)[:8]))}",
            place,
            "write here how it makes them, or what may stand in, under instead of:",
            tuple(
                Related(f"{quoted(name)} is asked for here", places[0])
                for name, places in list(names.missing.items())[:4]
            ),
        )

    def _suffering_findings(self) -> list[Finding]:
        result = []
        book = self.target.book
        gone = ", ".join(sorted(self.target.gone))
        for identity, kinds in self.suffering.items():
            song = book.by_name[identity]
            lost = kinds.get("", [])
            lines = [line for some in kinds.values() for line in some]
            shown = "; ".join(lines[:8]) + (f" and {len(lines) - 8} more" if lines[8:] else "")
            result.append(
                Finding(
                    "song-suffers",
                    Severity.WARNING if lost else Severity.NOTE,
                    f"without {gone}, {quoted(song.title)} changes: {shown}",
                    book.place((*song.path, "title")),
                    "let the rig say what may stand in, with instead of:"
                    if lost
                    else "nothing, if that will do tonight",
                )
            )
        return result

    def _error(self, code: str, message: str, place: Place, way_out: str) -> None:
        self.findings.append(Finding(code, Severity.ERROR, message, place, way_out))


_CAPO = re.compile(r"\bcapo\s+\d+", re.IGNORECASE)


def _guitar_tonight(guitar: str, capo: int | None) -> str:
    """Return the guitar as written, with tonight's capo in place of the usual one."""
    if capo is None:
        return guitar
    tonight = f"capo {capo} tonight" if capo else "no capo tonight"
    if _CAPO.search(guitar):
        return _CAPO.sub(tonight, guitar, count=1)
    return f"{guitar}, {tonight}" if guitar else tonight


def _the_same(first: object, second: object) -> bool:
    """Tell whether two demands are one; one program may have two names."""
    if isinstance(first, Program) and isinstance(second, Program):
        return first.place == second.place
    return first == second


def _plain(value: object) -> str:
    if isinstance(value, Program):
        return value.name
    if isinstance(value, Setting):
        return str(value.asked)
    return str(value)
