"""Scene × rig → the state that every unit should be in, or "don't care".

Runs after the songs are resolved and the rig is aimed at. Every quantity of every unit gets a
value, a reason in plain words, and a verdict: can the tool promise that it is so, whichever
scene came before? Scenes with a finding are left out downstream.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field
from fractions import Fraction

from setwright.compiler.binding.bound import (
    GENERAL,
    BoundScene,
    BoundSong,
    guitar_tonight,
    is_straight,
)
from setwright.compiler.binding.foot import Feet
from setwright.compiler.binding.lacking import Lacking
from setwright.compiler.binding.paced import any_used, paced, paced_units
from setwright.compiler.binding.played import Player, the_same
from setwright.compiler.binding.settings import value_on
from setwright.compiler.binding.states import (
    ANY,
    Cause,
    SetSomewhere,
    UnitState,
    Wanted,
    foot_stands,
)
from setwright.compiler.binding.target import Demand, Program, Setting, Target
from setwright.scenes.finding import Finding, Place, Related, Severity
from setwright.scenes.musical_time import NoteValue, Tempo
from setwright.scenes.names import suggestion
from setwright.scenes.night import Playing
from setwright.scenes.places import KeyPath
from setwright.scenes.quantities import Amount, quoted
from setwright.scenes.resolve import AskedEffect, ResolvedScene, Resolver
from setwright.scenes.songs import Song


@dataclass(slots=True)
class Binder:
    """Binds the songs of one night to one rig and collects findings on the way."""

    target: Target
    resolver: Resolver
    findings: list[Finding] = field(default_factory=list)
    lacking: Lacking = field(init=False)
    player: Player = field(init=False)
    _clashes: set[tuple[KeyPath, KeyPath]] = field(default_factory=set)
    _cache: dict[tuple[object, ...], tuple[Wanted, ...] | None] = field(default_factory=dict)
    _played: dict[tuple[str, ...], tuple[dict[str, AskedEffect], tuple[tuple[str, str], ...]]] = (
        field(default_factory=dict)
    )
    _general: dict[str, ResolvedScene] | None = None
    _set_somewhere: frozenset[SetSomewhere] = frozenset()
    _paced: frozenset[str] = frozenset()
    feet: Feet = field(init=False)

    def __post_init__(self) -> None:
        """Note which quantities any effect sets, for those have to be known everywhere."""
        self.feet = Feet(self.target)
        self.lacking = Lacking(self.target)
        self.player = Player(self.target, self.lacking)
        self._set_somewhere = frozenset(self._settings())
        self._paced = paced_units(self.target)

    def _settings(self) -> Iterator[SetSomewhere]:
        for demands in self.target.makes.values():
            loaded = {
                one.unit: one.value.on_wire for one in demands if isinstance(one.value, Program)
            }
            for demand in demands:
                if isinstance(demand.value, Setting):
                    yield demand.unit, demand.quantity, loaded.get(demand.unit, ANY)
                    yield demand.unit, demand.quantity, None
        for name, unit in self.target.units.items():
            if unit.time is not None:  # a scene's echo: sets it, with any program
                yield name, "time", ANY
                yield name, "time", None

    def song(
        self,
        song: Song,
        playing: Playing | None = None,
        number: int = 0,
        *,
        crowded: bool = False,
    ) -> BoundSong:
        """Bind one song, with what is different tonight if it is played.

        One that is ``crowded`` out of the banks has the rig's general scenes.
        """
        tempo = playing.tempo if playing and playing.tempo else song.tempo
        resolved = self.resolver.song(song, tempo)
        asked_for = playing is not None and number == 0
        general = crowded or not song.scenes
        scenes = self._general_scenes() if general else resolved.scenes
        left_out = self._left_out(song, playing, general)
        bound = {}
        for name, scene in scenes.items():
            if name in left_out:
                continue
            one = self._scene(song, scene, resolved.tempo_in(name), playing)
            if one is not None:
                bound[name] = one
        moments = () if general else resolved.moments
        walk = self.feet.walk(
            moments,
            {name: one.effects for name, one in bound.items()},
            left_out,
            straight=is_straight(playing),
            request=asked_for,
        )
        moments = tuple(moment for moment in moments if moment.scene not in left_out)
        if self.feet.home:
            bound = {
                name: self._with_feet(one, walk.stands.get(name, {})) for name, one in bound.items()
            }
        return BoundSong(
            resolved,
            tempo,
            guitar_tonight(song.guitar or "", playing.capo if playing else None),
            bound,
            moments,
            walk.moves,
            walk,
            general,
            number,
            playing,
            left_out,
            GENERAL if general else song.identity,
            song.identity,
        )

    def scene(self, song: Song, scene: ResolvedScene) -> BoundScene | None:
        """Bind one scene that is pressed at no moment of a song, at no tempo."""
        return self._scene(song, scene, None, None)

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
        return self.findings + self.lacking.findings() + self.feet.done()

    # Songs.

    def _general_scenes(self) -> dict[str, ResolvedScene]:
        if self._general is None:
            self._general = self.resolver.general()
        return self._general

    def _left_out(self, song: Song, playing: Playing | None, general: bool) -> frozenset[str]:
        if playing is None or not playing.leave_out:
            return frozenset()
        known = self._general_scenes() if general else song.scenes
        left_out = set()
        for index, name in enumerate(playing.leave_out):
            left_out.add(name)
            if name not in known:
                self.findings.append(
                    Finding(
                        "unknown-scene",
                        Severity.ERROR,
                        f"{quoted(song.title)} has no scene {quoted(name)} to leave out",
                        self.target.book.place((*playing.path, "leave out", index)),
                        suggestion(name, known, "delete it"),
                    )
                )
        if known and left_out.issuperset(known):
            self.findings.append(
                Finding(
                    "song-without-scenes",
                    Severity.WARNING,
                    f"all scenes of {quoted(song.title)} are left out: there is nothing to press",
                    self.target.book.place_of_key((*playing.path, "leave out")),
                    "leave one of them in, or the whole song out of the night",
                )
            )
        return frozenset(left_out)

    # Effects.

    def _scene(
        self, song: Song, scene: ResolvedScene, tempo: Tempo | None, playing: Playing | None
    ) -> BoundScene | None:
        asked = scene.effect_names
        if asked not in self._played:
            found = self.player.play(song, scene)
            if found is None:
                return None
            self._played[asked] = found
        elif any(map(self.lacking.is_loss, asked)):
            self.player.play(song, scene)  # each song that suffers is to be named
        played, replaced = self._played[asked]
        milliseconds = self._echo(scene, tempo)
        # Built of text, which hashes much faster than fractions do.
        pace_of = (
            tempo if tempo is not None and any_used(self._paced, self.target, played) else None
        )
        pace = "" if pace_of is None else str(pace_of)
        key = (asked, str(milliseconds), str(scene.echo), scene.echo_of_song, pace)
        if key not in self._cache:
            self._cache[key] = self._states(played, scene, milliseconds, pace_of)
        elif self._cache[key] is None and (again := self.player.play(song, scene)):
            # The same effects clash in another place, which has to be mended too.
            self._states(again[0], scene, milliseconds, pace_of)
        wanted = self._cache[key]
        if wanted is None:
            return None
        if any(one.cause is Cause.TIME for one in wanted):
            self._unreached_times(song, scene, wanted, playing)
        echo_path = scene.echo_path if scene.echo is not None else ()
        return BoundScene(scene.name, tuple(played), replaced, wanted, scene.path, key, echo_path)

    def _echo(self, scene: ResolvedScene, tempo: Tempo | None) -> Fraction | None:
        """Return the delay's time in ms, None where none is asked for or can be told."""
        if isinstance(scene.echo, NoteValue):
            return tempo.milliseconds(scene.echo) if tempo is not None else None
        return scene.echo

    def _states(
        self,
        played: dict[str, AskedEffect],
        scene: ResolvedScene,
        milliseconds: Fraction | None,
        tempo: Tempo | None,
    ) -> tuple[Wanted, ...] | None:
        demands: dict[tuple[str, str], tuple[Demand, AskedEffect]] = {}
        users: dict[str, list[str]] = {}
        clash = False
        for name, effect in played.items():
            for demand in self.player.demands(name):
                if demand.quantity == "use":
                    users.setdefault(demand.unit, []).append(name)
                    continue
                key = (demand.unit, demand.quantity)
                named = AskedEffect(name, effect.path)
                first = demands.setdefault(key, (demand, named))
                if not the_same(first[0].value, demand.value):
                    clash = True
                    if demand.unit not in self.target.doubted:
                        self._clash(first, (demand, named))
        if clash:
            return None
        wanted: list[Wanted] = []
        for name, unit in self.target.units.items():
            if name in self.target.gone:
                continue
            own = {key[1]: (d, e.name) for key, (d, e) in demands.items() if key[0] == name}
            state = UnitState(
                self.target,
                self._set_somewhere,
                name,
                unit,
                own,
                users.get(name, []),
                [
                    one
                    for mate in self.target.loop_mates.get(name, ())
                    for one in users.get(mate, [])
                ],
                scene,
                milliseconds,
            )
            switcher, used = self.target.book.switcher, name in users
            wanted += paced(switcher, name, unit, state.wanted(), tempo, used=used)
        return tuple(wanted)

    def _unreached_times(
        self,
        song: Song,
        scene: ResolvedScene,
        wanted: tuple[Wanted, ...],
        playing: Playing | None,
    ) -> None:
        """Warn of a delay's time that was asked for and that this rig cannot make.

        Where the song's own tempo would do, tonight's is to blame, and not the echo.
        """
        book = self.target.book
        for one in wanted:
            if one.cause is not Cause.TIME:
                continue
            place, help_ = book.place(scene.echo_path), one.reason
            also: tuple[Related, ...] = ()
            if playing is not None and playing.tempo and self._reached(one.unit, scene, song.tempo):
                also = (Related("the echo that is asked for", place),)
                place = book.place((*playing.path, "tempo"))
                help_ = (
                    "play it nearer to its own tempo, or leave out tonight the scenes with "
                    "this echo; another note in the song would change its other playings, too"
                )
            self.findings.append(
                Finding(
                    "time-not-reached",
                    Severity.WARNING,
                    f"in {quoted(scene.name)} of {quoted(song.title)} the time of "
                    f"{quoted(one.unit)} is not set: {one.why}",
                    place,
                    help_,
                    also,
                )
            )

    def _reached(self, unit: str, scene: ResolvedScene, tempo: Tempo | None) -> bool:
        """Tell whether ``unit`` can make the echo of ``scene`` at this tempo."""
        control, milliseconds = self.target.units[unit].time, self._echo(scene, tempo)
        if control is None or milliseconds is None or not control.curve:
            return False
        return value_on(control, Amount(milliseconds, "ms")) is not None

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

    def _error(self, code: str, message: str, place: Place, way_out: str) -> None:
        self.findings.append(Finding(code, Severity.ERROR, message, place, way_out))


def _plain(value: object) -> str:
    if isinstance(value, Program):
        return value.name
    if isinstance(value, Setting):
        return str(value.asked)
    return str(value)
