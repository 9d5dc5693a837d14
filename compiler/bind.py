"""Scene × rig → the state that every unit should be in, or "don't care".

Runs after the songs are resolved and the rig is aimed at. Every quantity of every unit gets a
value, a reason in plain words, and a verdict: can the tool promise that it is so, whichever
scene came before? Scenes with a finding are left out downstream.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from enum import StrEnum
from fractions import Fraction

from setwright.compiler.target import NOTHING, Demand, Program, Setting, Target, value_on
from setwright.scenes.finding import Finding, Place, Related, Severity
from setwright.scenes.musical_time import NoteValue, Tempo
from setwright.scenes.names import nearest, suggestion
from setwright.scenes.night import Playing
from setwright.scenes.quantities import Amount, plain_number, quoted
from setwright.scenes.resolve import AskedEffect, ResolvedScene, ResolvedSong, Resolver
from setwright.scenes.rig import Unit
from setwright.scenes.songs import Song
from setwright.scenes.text import KeyPath


class Verdict(StrEnum):
    """What can be promised of one quantity in one scene."""

    PROVEN = "proven"
    FEET = "proven if feet and start are as printed"
    UNKNOWN = "cannot be known"
    FREE = "don't care"


@dataclass(frozen=True, slots=True)
class Wanted:
    """One quantity of one unit in one scene.

    ``quantity`` is ``loop``, ``switch``, ``program``, ``foot``, ``relay``, ``time`` or a
    control's name. ``value`` is True or False for loop (in, out) and switch (on, off), a
    `Program`, a `Setting`, a position's name, or None where nobody cares. ``why`` says what
    asks for it; ``reason`` why the verdict is what it is, and the way out where there is one.
    """

    unit: str
    quantity: str
    value: bool | Program | Setting | str | None
    why: str
    verdict: Verdict
    reason: str = ""


@dataclass(frozen=True, slots=True)
class BoundScene:
    """A scene as this rig plays it.

    ``effects`` are those that sound, after fallbacks; ``replaced`` the fallbacks taken:
    (asked for, played instead or `NOTHING`).
    """

    name: str
    effects: tuple[str, ...]
    replaced: tuple[tuple[str, str], ...]
    wanted: tuple[Wanted, ...]
    path: KeyPath

    def of(self, unit: str) -> tuple[Wanted, ...]:
        """Return the quantities of one unit."""
        return tuple(wanted for wanted in self.wanted if wanted.unit == unit)


@dataclass(frozen=True, slots=True)
class FootMove:
    """What the foot does at a moment of a song, beside pressing the switch."""

    unit: str
    position: str


@dataclass(frozen=True, slots=True)
class BoundSong:
    """A song as it is played tonight on this rig.

    ``number`` counts the songs of the night from 1, 0 for songs kept for requests and songs
    that are not played; ``general`` tells that the rig's general scenes are used. ``feet``
    holds what the foot does at each moment, None where it does nothing.
    """

    resolved: ResolvedSong
    tempo: Tempo | None
    capo: str
    scenes: dict[str, BoundScene]
    feet: tuple[FootMove | None, ...]
    general: bool
    number: int
    playing: Playing | None

    @property
    def song(self) -> Song:
        """The song as written."""
        return self.resolved.song


@dataclass(slots=True)
class Binder:
    """Binds the songs of one night to one rig and collects findings on the way."""

    target: Target
    resolver: Resolver
    findings: list[Finding] = field(default_factory=list)
    suffering: dict[str, dict[str, list[str]]] = field(default_factory=dict)
    _unknown: dict[str, list[Place]] = field(default_factory=dict)
    _clashes: set[tuple[KeyPath, KeyPath]] = field(default_factory=set)
    _cache: dict[tuple[object, ...], tuple[Wanted, ...] | None] = field(default_factory=dict)
    _general: dict[str, ResolvedScene] | None = None
    _set_somewhere: frozenset[tuple[str, str]] = frozenset()

    def __post_init__(self) -> None:
        """Note which quantities any effect sets, for those have to be known everywhere."""
        self._set_somewhere = frozenset(
            (demand.unit, demand.quantity)
            for demands in self.target.makes.values()
            for demand in demands
        )

    def song(self, song: Song, playing: Playing | None = None, number: int = 0) -> BoundSong:
        """Bind one song, with what is different tonight if it is played."""
        resolved = self.resolver.song(song)
        asked_for = playing is not None and number == 0
        tempo = playing.tempo if playing and playing.tempo else song.tempo
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
        feet = tuple(self._foot(moment.foot, moment.path) for moment in moments)
        capo = song.guitar or ""
        if playing is not None and playing.capo is not None:
            capo = f"capo {playing.capo} tonight" if playing.capo else "no capo tonight"
        return BoundSong(resolved, tempo, capo, bound, feet, general, number, playing)

    def done(self) -> list[Finding]:
        """Return everything found, once all songs have been bound."""
        for name, places in self._unknown.items():
            self.findings.append(self._unknown_effect(name, places))
        self.findings += self._suffering_findings()
        return self.findings

    # Songs.

    def _general_scenes(self) -> dict[str, ResolvedScene]:
        if self._general is None:
            self._general = self.resolver.general()
        return self._general

    def _left_out(self, song: Song, playing: Playing | None, general: bool) -> set[str]:
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
        return left_out

    def _foot(self, text: str, path: KeyPath) -> FootMove | None:
        """Read ``swell open``: a foot-operated unit of this rig and one of its positions."""
        if not text:
            return None
        book = self.target.book
        units = {name: unit for name, unit in self.target.units.items() if unit.by_foot}
        place = book.place((*path, "foot"))
        for name in sorted(units, key=len, reverse=True):
            if text == name or text.startswith(f"{name} "):
                position = text[len(name) :].strip()
                if position in units[name].by_foot:
                    return FootMove(name, position)
                self._error(
                    "unknown-state",
                    f"{quoted(name)} has no position {quoted(position)}",
                    place,
                    suggestion(position, units[name].by_foot, ""),
                )
                return None
        first = text.split()[0]
        excused = [
            name
            for name, choices in book.rig.instead_of.items()
            if NOTHING in choices and (text == name or text.startswith(f"{name} "))
        ]
        if not excused:
            near = nearest(first, units)
            self._error(
                "unknown-unit",
                f"this rig has nothing that a foot works called {quoted((near and first) or text)}",
                place,
                suggestion(
                    first,
                    units,
                    f"declare it with by foot:, or write instead of: {{{first}: nothing}} in "
                    "the rig",
                ),
            )
        return None

    # Effects.

    def _scene(self, song: Song, scene: ResolvedScene, tempo: Tempo | None) -> BoundScene | None:
        played: list[AskedEffect] = []
        replaced: list[tuple[str, str]] = []
        for effect in scene.effects:
            stand_in = self.target.stand_in(effect.name)
            if stand_in is None:
                if effect.name in self.target.lost:
                    self._suffer(song, scene, effect.name, "")
                    replaced.append((effect.name, NOTHING))
                    continue
                if effect.name not in self.target.broken_effects:
                    self._unknown.setdefault(effect.name, []).append(
                        self.target.book.place(effect.path)
                    )
                return None
            if stand_in != effect.name:
                replaced.append((effect.name, stand_in))
                if self._is_loss(effect.name):
                    self._suffer(song, scene, effect.name, stand_in)
            if stand_in != NOTHING and all(one.name != stand_in for one in played):
                played.append(AskedEffect(stand_in, effect.path))
        milliseconds = self._echo(scene, tempo)
        key = (tuple(effect.name for effect in played), milliseconds, scene.echo)
        if key not in self._cache or self._cache[key] is None:
            self._cache[key] = self._states(played, scene, milliseconds)
        wanted = self._cache[key]
        if wanted is None:
            return None
        names = tuple(effect.name for effect in played)
        return BoundScene(scene.name, names, tuple(replaced), wanted, scene.path)

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
        self, played: list[AskedEffect], scene: ResolvedScene, milliseconds: Fraction | None
    ) -> tuple[Wanted, ...] | None:
        demands: dict[tuple[str, str], tuple[Demand, AskedEffect]] = {}
        users: dict[str, list[str]] = {}
        clash = False
        for effect in played:
            for demand in self.target.makes[effect.name]:
                if demand.quantity == "use":
                    users.setdefault(demand.unit, []).append(effect.name)
                    continue
                key = (demand.unit, demand.quantity)
                first = demands.setdefault(key, (demand, effect))
                if first[0].value != demand.value:
                    self._clash(scene, first, (demand, effect))
                    clash = True
        if clash:
            return None
        wanted: list[Wanted] = []
        for name, unit in self.target.units.items():
            if name in self.target.gone:
                continue
            own = {key[1]: (d.value, e.name) for key, (d, e) in demands.items() if key[0] == name}
            state = _UnitState(self, name, unit, own, users.get(name, []), scene, milliseconds)
            wanted += state.wanted()
        return tuple(wanted)

    def _clash(
        self,
        scene: ResolvedScene,
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

    def _unknown_effect(self, name: str, places: list[Place]) -> Finding:
        makes = [*self.target.makes, *self.target.lost]
        times = f" ({len(places)} times)" if len(places) > 1 else ""
        different = list(dict.fromkeys(places))
        sounds = self.target.book.song_book.sounds
        way_out = (
            f"{quoted(name)} is a sound: begin the scene with sound: {name}"
            if name in sounds
            else suggestion(name, makes, "write effects: in the rig")
            + f"; or let the rig say instead of: {{{name}: …}}"
        )
        return Finding(
            "unknown-effect",
            Severity.ERROR,
            f"this rig cannot make the effect {quoted(name)}{times}",
            different[0],
            way_out,
            tuple(Related("asked for here too", place) for place in different[1:4]),
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


def _plain(value: object) -> str:
    if isinstance(value, Program):
        return value.name
    if isinstance(value, Setting):
        return str(value.asked)
    return str(value)


@dataclass(slots=True)
class _UnitState:
    """Works out the quantities of one unit in one scene."""

    binder: Binder
    name: str
    unit: Unit
    demands: dict[str, tuple[Program | Setting | str | None, str]]
    users: list[str]
    scene: ResolvedScene
    milliseconds: Fraction | None

    @property
    def used(self) -> bool:
        return bool(self.users)

    @property
    def rest(self) -> dict[str, Program | Setting | str]:
        return self.binder.target.rest.get(self.name, {})

    def wanted(self) -> list[Wanted]:
        unit = self.unit
        result: list[Wanted] = []
        out = unit.loop is not None and not self.used
        if unit.loop is not None:
            result.append(self._loop())
        if unit.relay is not None:
            result.append(self._relay())
        if unit.by_foot:
            result.append(self._foot())
        off = False
        if unit.switched_by is not None:
            result.append(self._free("switch", "its loop is out") if out else self._switch())
            off = not out and not self.used
        silent = "its loop is out" if out else "it is switched off" if off else ""
        if unit.programs:
            result.append(self._free("program", silent) if silent else self._program())
        if unit.time is not None:
            result.append(self._free("time", silent) if silent else self._time())
        for control in unit.controls:
            result.append(self._free(control, silent) if silent else self._control(control))
        return result

    def _free(self, quantity: str, why: str) -> Wanted:
        return Wanted(self.name, quantity, None, why, Verdict.FREE)

    def _for(self) -> str:
        return f"for {' and '.join(dict.fromkeys(self.users))}"

    def _loop(self) -> Wanted:
        why = self._for() if self.used else "nothing asks for it"
        return Wanted(
            self.name, "loop", self.used, why, Verdict.PROVEN, "the switcher's preset sets it"
        )

    def _relay(self) -> Wanted:
        relay = self.unit.relay
        assert relay is not None
        value, why = self._value("relay", relay.open)
        kinds = self.binder.target.book.switcher.relays
        if relay.number <= len(kinds) and kinds[relay.number - 1] == "pulse":
            return Wanted(
                self.name,
                "relay",
                value,
                why,
                Verdict.UNKNOWN,
                "the relay only gives a pulse, which flips it; use an output that holds",
            )
        return Wanted(
            self.name, "relay", value, why, Verdict.PROVEN, "the switcher's preset holds it"
        )

    def _value(self, quantity: str, otherwise: str) -> tuple[Program | Setting | str, str]:
        if quantity in self.demands:
            value, effect = self.demands[quantity]
            assert isinstance(value, Program | Setting | str)
            return value, f"for {effect}"
        if quantity in self.rest:
            return self.rest[quantity], "nothing asks for another"
        return otherwise, "nothing asks for another"

    def _foot(self) -> Wanted:
        if "foot" not in self.demands and "foot" not in self.rest:
            return self._free("foot", "the foot decides")
        value, why = self._value("foot", "")
        return Wanted(
            self.name, "foot", value, why, Verdict.FEET, "only a foot works it, so watch the cue"
        )

    def _switch(self) -> Wanted:
        switch = self.unit.switched_by
        assert switch is not None
        why = self._for() if self.used else "nothing asks for it"
        verdict, reason = Verdict.PROVEN, f"control {switch.cc} sets it"
        loads = self.used and "program" in self.demands and self.unit.reached_by is None
        reloads = self.unit.same_program_again == "reloads"
        if not switch.sets:
            how = "any value flips it" if switch.any_value_flips else "a press flips it"
            if loads and reloads and self.unit.loading == "engages":
                reason = "loading its program switches it on"
            else:
                verdict = Verdict.UNKNOWN
                reason = (
                    f"control {switch.cc} cannot set it, {how}; put it into a loop of the "
                    "switcher, or use a program that has it on or off built in"
                )
        return Wanted(self.name, "switch", self.used, why, verdict, reason)

    def _program(self) -> Wanted:
        if "program" not in self.demands and "program" not in self.rest:
            return self._free("program", "any program will do")
        value, why = self._value("program", "")
        assert isinstance(value, Program)
        if self.unit.reached_by is not None:
            return Wanted(
                self.name,
                "program",
                value,
                why,
                Verdict.UNKNOWN,
                "its programs can only be stepped through, so the tool cannot know where it "
                "stands; keep it on one program, or set it by hand before the song",
            )
        return Wanted(self.name, "program", value, why, Verdict.PROVEN, "a program change sets it")

    def _time(self) -> Wanted:
        control = self.unit.time
        assert control is not None
        source = self.unit.tempo_from or "control"
        if source != "control":
            where = {
                "program": "its program brings its own",
                "global": "it has one tempo for all programs, set on the unit",
                "clock": "it follows the clock",
                "tap": "it is tapped",
            }[source]
            return self._free("time", where)
        if self.scene.echo is not None and self.used:
            if self.milliseconds is None:
                return Wanted(
                    self.name,
                    "time",
                    None,
                    f"{self.scene.echo} needs a tempo, and the song has none",
                    Verdict.UNKNOWN,
                    "give the song a tempo:, or write the echo in ms",
                )
            amount = Amount(self.milliseconds, "ms")
            setting = value_on(control, amount) if control.curve else None
            asked = f"{self.scene.echo}" if isinstance(self.scene.echo, NoteValue) else ""
            why = f"{asked} = {amount}" if asked else f"{amount} asked for"
            if setting is None:
                return Wanted(
                    self.name,
                    "time",
                    None,
                    f"{why} is beyond what it can do",
                    Verdict.UNKNOWN,
                    "ask for a shorter or longer note, or declare its curve",
                )
            return Wanted(
                self.name, "time", setting, why, Verdict.PROVEN, f"control {control.cc} sets it"
            )
        return self._control("time")

    def _control(self, name: str) -> Wanted:
        control = self.unit.time if name == "time" else self.unit.controls[name]
        assert control is not None
        if name in self.demands or name in self.rest:
            value, why = self._value(name, "")
            return Wanted(
                self.name, name, value, why, Verdict.PROVEN, f"control {control.cc} sets it"
            )
        loads = "program" in self.demands or "program" in self.rest
        if loads and control.after_a_program == "from the program":
            return self._free(name, "its program brings its own")
        if (self.name, name) in self.binder._set_somewhere or name == "time":
            return Wanted(
                self.name,
                name,
                None,
                "no effect of this scene sets it",
                Verdict.UNKNOWN,
                f"it stays as the last scene left it; give {name} an at rest: in the rig",
            )
        return self._free(name, "no effect ever sets it")


def describe(value: bool | Program | Setting | str | None, quantity: str) -> str:
    """Return a value in the words of a player: in, out, on, off, a program, an amount."""
    match value:
        case None:
            return "don't care"
        case bool():
            words = {"loop": ("out", "in")}.get(quantity, ("off", "on"))
            return words[value]
        case Program():
            return f"{value.name} ({value.shown})"
        case Setting():
            given = ""
            if isinstance(value.given, Amount) and value.given != value.asked:
                near = round(value.given.value, 1)
                given = f", gives {plain_number(near)} {value.given.unit}".rstrip()
            asked = value.asked
            if isinstance(asked, Amount):
                asked_text = f"{plain_number(round(asked.value, 1))} {asked.unit}".strip()
            else:
                asked_text = asked
            return f"{asked_text} (value {value.value}{given})"
        case _:
            return value
