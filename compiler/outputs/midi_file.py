"""Standard MIDI files of the night: one for each song and each set, for both routes.

``stored/`` holds what makes the switcher load its presets, ``direct/`` everything that a
computer sends to the units by itself. Source, unless another is named: RP-001, Standard MIDI
Files 1.0; program and device names (FF 08, FF 09): RP-019. No SysEx is ever written.

Every file has format 1 and 480 ticks in a quarter note. Its first track holds the title (with the
song's number in the night where several have that title), the meter, the tempo and what a player
has to know: a marker for each press, a cue point (FF 07, what happens on the stage) for its cue,
and a text for what the foot does. A track for each box follows, the same ones in every file of a
route.

* A pickup is a bar of its own with a meter as long as it is. Tempos from places on stand at their
  ticks; where the tempo is free, or nobody knows when another begins, a text says so.
* A press lies on the tick nearest to its place. A song without tempo runs at 120 quarter notes a
  minute, one without meter in 4/4 (RP-001's defaults); a text says so. A press whose place
  nobody knows comes one bar after the one before it; such a marker says ``assumed``.
* Messages follow the press as they follow it on the wire: each is as many ticks later as its
  milliseconds make, rounded up. Two messages for two boxes never share a tick, for readers merge
  the tracks of a tick as they please. A program shares its tick, and its track, with its bank
  select. A unit that is busy is waited for, from the tick at which its program was really
  written, whichever press and song loaded it (`_Line`).
* Where the switch of the press before is pressed again, nothing is sent; the marker says
  ``stay``. Where no message reaches a preset, the marker says ``by foot``. A recall is no press:
  whatever the same switch would do again, its program is assumed to load the preset, even where
  a song begins with the one that is loaded. A computer that alone sends what the units need sends
  it at a ``stay`` too, unless it is the same again.
* A song without scenes of its own is played with the rig's general ones, pressed as one likes:
  its file sends the first of them at the beginning, so that nothing is left on from before, and
  names them all. A change that nobody asked for would be heard, so the others are not sent
  there; ``general.mid`` goes through all of them, a bar each.
* In a set's file each song begins on a bar: straight after the one before it where it is played
  so, otherwise two bars (of the song before) later.
* All tracks end with the song, or with its last message if that is later.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from fractions import Fraction
from functools import cache
from io import BytesIO
from typing import Any, NamedTuple

from setwright.compiler.binding.target import COMPUTER, SWITCHER
from setwright.compiler.outputs.data import NightData
from setwright.compiler.outputs.names import ascii_text, stem_of_set, stem_of_song
from setwright.compiler.outputs.sent import MessageData, RouteData, SceneData
from setwright.compiler.outputs.tunes import (
    PPQ,
    Music,
    Press,
    Tune,
    microseconds_of,
    through,
    tune_of,
)

GAP_BARS = 2
"""Bars of rest between two songs of a set that are not played straight on; our own choice."""
PROGRAM_NAME = 0x08
"""The meta event with a program's name (RP-019), for which mido has no name."""
LONGEST = 0x0FFFFFFF
"""The largest delta time: a variable-length quantity has four bytes at most."""


def midi_files(data: NightData, *, utf8: bool = False) -> dict[str, bytes]:
    """Return the MIDI files of a night by name: ``stored/1-02-drowsy-maggie.mid``.

    A route by which nothing can be sent has no files. Texts are ASCII, as RP-001 asks, or with
    ``utf8`` in UTF-8. The same night always gives the same bytes.
    """
    contents = list(_contents(data))
    return {
        f"{route.folder}/{one.stem}.mid": route.file(one)
        for route in _routes(data, "utf-8" if utf8 else "ascii")
        for one in contents
    }


_Waits = tuple[tuple[int, int], ...]
"""Boxes that are busy when a song begins: track and µs."""


class _Content(NamedTuple):
    """What one file of each route holds; ``stem`` is its name without folder and ending."""

    stem: str
    title: str
    tunes: tuple[Tune, ...]
    is_set: bool = False


def _contents(data: NightData) -> Iterator[_Content]:
    played: dict[int, Tune] = {}
    titles = Counter(song.title for song in data.songs)
    for song in data.songs:
        tune = tune_of(song, {name: data.scene(song.owner, name) for name in song.scenes})
        title = tune.title if titles[song.title] > 1 else song.title
        yield _Content(stem_of_song(data, song), title, (tune,))
        if song.number:
            played[song.number] = tune
    for number, one in enumerate(data.sets, 1):
        if one.songs:
            tunes = tuple(played[song] for song in one.songs)
            yield _Content(stem_of_set(number, one.name), one.name, tunes, is_set=True)
    general = [scene for scene in data.scenes if scene.song is None]
    if general:
        yield _Content("general", "general scenes", (through(general),))


class _Step(NamedTuple):
    """What must not be parted: a program with its bank select, or one control.

    ``track`` counts from 1, for the first track holds no messages; ``starts`` is the time from
    the press, ``takes`` that on the wire, ``busy`` how long its unit hears nothing after it, all
    in µs; ``program`` is the program's name, empty for a control.
    """

    track: int
    starts: int
    takes: int
    busy: int
    program: str
    messages: tuple[Any, ...]


@dataclass(slots=True)
class _Line:
    """The one wire of a file, along which all its tracks are sent: times in µs of one song.

    ``ready`` holds when each box that was told to load something hears again: track → time. A
    player puts what comes too fast one behind the other, so ``free`` may be later than the tick.
    """

    music: Music
    ready: dict[int, int]
    free: int = 0
    tick: int = -1
    track: int = 0

    def put(self, step: _Step, press: int) -> int:
        """Return the tick for ``step`` of the press at tick ``press``, and send it then."""
        # Everything comes after what was sent before it, whatever its track.
        self.tick = max(
            self.music.after(press, step.starts),
            self.tick + (step.track != self.track),
            self.music.ticks(self.ready.get(step.track, 0)),
        )
        self.track = step.track
        self.free = max(self.music.time(self.tick), self.free) + step.takes
        if step.busy:
            self.ready[step.track] = self.free + step.busy
        return self.tick

    def left(self, tick: int) -> _Waits:
        """Return what is still busy at ``tick``, counted from there."""
        now = self.music.time(tick)
        return tuple((track, time - now) for track, time in self.ready.items() if time > now)


@dataclass(slots=True)
class _Track:
    """Events one after the other, each with the ticks since the one before; ``now`` in all."""

    mido: Any
    events: list[Any] = field(default_factory=list)
    now: int = 0

    def add(self, tick: int, message: Any) -> None:
        """Append ``message``, which nothing else may hold, at ``tick``."""
        delta = tick - self.now
        while delta > LONGEST:
            self.events.append(self.mido.MetaMessage("text", time=LONGEST))
            delta -= LONGEST
        message.time = delta
        self.events.append(message)
        self.now = tick

    def join(self, start: int, other: _Track) -> None:
        """Append the events of ``other``, whose beginning comes to lie at ``start``."""
        if other.events:
            first, *rest = other.events
            self.add(start + first.time, first.copy())
            self.events += rest
            self.now = start + other.now


def _routes(data: NightData, charset: str) -> Iterator[_Route]:
    if any(scene.recall is not None for scene in data.scenes):
        boxes = {SWITCHER: data.switcher.name}
        yield _Route(data, "stored", boxes, lambda scene: scene.recall, charset)
    told = {message.unit for scene in data.scenes for message in scene.direct.messages}
    boxes = {unit.unit: unit.unit for unit in data.units if unit.unit in told}
    if boxes:
        yield _Route(data, "direct", boxes, lambda scene: scene.direct, charset)


class _Route:
    """One way of sending, and its files.

    ``boxes`` are those that are told something, in the order of their tracks: the name that
    messages have for a box → its own name. ``sent`` returns what a scene sends; None where no
    message reaches its preset.
    """

    def __init__(
        self,
        data: NightData,
        folder: str,
        boxes: dict[str, str],
        sent: Callable[[SceneData], RouteData | None],
        charset: str,
    ) -> None:
        import mido

        self.mido = mido
        self.folder = folder
        self.alone = data.sender == COMPUTER and folder == "direct"
        self.boxes = boxes
        self.sent = sent
        self.charset = charset
        self.text = cache(_ascii if charset == "ascii" else _printable)
        self.tracks = {name: number for number, name in enumerate(boxes, 1)}
        self.presets = {(one.place.bank, one.place.switch): one.name for one in data.presets}
        self.message = cache(lambda text: mido.Message.from_bytes(bytes.fromhex(text)))
        # A song is written once, and stands in its own file and in that of its set.
        self.part = cache(self._part)

    def file(self, content: _Content) -> bytes:
        """Return the bytes of a file."""
        tracks = self._empty()
        for track, name in zip(tracks, (content.title, *self.boxes.values()), strict=True):
            track.add(0, self._named("track_name", name))
            if track is not tracks[0]:
                track.add(0, self._named("device_name", name))
        begun = start = end = 0
        before: _Line | None = None
        for tune in content.tunes:
            if before is not None and not tune.straight_into:
                start += GAP_BARS * before.music.bar
            waits = before.left(start - begun) if before is not None else ()
            if content.is_set:
                tracks[0].add(start, self._said("marker", tune.title))
            parts, before = self.part(tune, waits)
            for track, part in zip(tracks, parts, strict=True):
                track.join(start, part)
            last = max(track.now for track in tracks)
            end = max(start + (tune.length or 0), last)
            # The next song begins on a bar line, and after everything of this one.
            begun = start
            start += -((start - max(end, last + 1)) // tune.music.bar) * tune.music.bar
        return self._bytes(tracks, end)

    def _empty(self) -> list[_Track]:
        return [_Track(self.mido) for _ in range(1 + len(self.boxes))]

    def _bytes(self, tracks: list[_Track], end: int) -> bytes:
        written = self.mido.MidiFile(type=1, ticks_per_beat=PPQ, charset=self.charset)
        for track in tracks:
            track.add(end, self.mido.MetaMessage("end_of_track"))
            written.tracks.append(self.mido.MidiTrack(track.events))
        out = BytesIO()
        written.save(file=out)
        return out.getvalue()

    def _part(self, tune: Tune, waits: _Waits) -> tuple[list[_Track], _Line]:
        """Return the tracks of one song, from its beginning, and what it leaves on the line."""
        tracks, music = self._empty(), tune.music
        first = tracks[0]
        changes = list(self._changes(music))
        _until(first, changes, 0)
        for text in (*music.assumed, tune.text):
            if text:
                first.add(0, self._said("text", text))
        line = _Line(music, dict(waits))
        last = ""
        for press in tune.presses:
            route = self.sent(press.scene)
            _until(first, changes, press.tick)
            self._mark(first, press, by_foot=route is None)
            if route is None or (press.stay and (not self.alone or _hex(route) == last)):
                continue
            last = _hex(route)
            for step in self._steps(press.scene, route):
                self._send(tracks[step.track], line.put(step, press.tick), step, press.scene.scene)
        _until(first, changes, tune.length or LONGEST)
        return tracks, line

    def _changes(self, music: Music) -> Iterator[tuple[int, Any]]:
        """Yield meters and tempos with their ticks; a pickup is a bar of its own, and short."""
        if music.pickup and (short := _meter_of(music.pickup)):
            yield 0, self._meter(*short, music.click)
        else:
            yield 0, self._meter(music.numerator, music.denominator, music.click)
        yield 0, self.mido.MetaMessage("set_tempo", tempo=music.microseconds)
        later = [
            (tick, self.mido.MetaMessage("set_tempo", tempo=microseconds_of(speed)))
            for tick, speed in music.turns
        ]
        if music.pickup and _meter_of(music.pickup):
            meter = self._meter(music.numerator, music.denominator, music.click)
            later.append((music.pickup, meter))
        yield from sorted(later, key=lambda one: one[0])

    def _meter(self, numerator: int, denominator: int, click: int) -> Any:
        return self.mido.MetaMessage(
            "time_signature",
            numerator=numerator,
            denominator=denominator,
            clocks_per_click=click,
            notated_32nd_notes_per_beat=8,
        )

    def _mark(self, track: _Track, press: Press, *, by_foot: bool) -> None:
        remarks = ["stay"] if press.stay else ["by foot"] if by_foot else []
        shown = ", ".join([*remarks, "assumed"] if press.assumed else remarks)
        name = press.scene.scene
        track.add(press.tick, self._said("marker", f"{name} ({shown})" if shown else name))
        if press.cue:
            track.add(press.tick, self._said("cue_marker", press.cue))
        if press.feet:
            track.add(press.tick, self._said("text", f"foot: {', '.join(press.feet)}"))

    def _send(self, track: _Track, tick: int, step: _Step, scene: str) -> None:
        if step.program:
            # The scene's name tells what the program is for; and as mido, reading, forgets the
            # delta time of meta events that it does not know, FF 08 must not need one.
            track.add(tick, self._said("text", scene))
            name = self.text(step.program).encode(self.charset)
            track.add(tick, self.mido.UnknownMetaMessage(PROGRAM_NAME, name))
        for message in step.messages:
            track.add(tick, message.copy())

    def _steps(self, scene: SceneData, route: RouteData) -> Iterator[_Step]:
        waiting: list[MessageData] = []
        for message in route.messages:
            waiting.append(message)
            if message.sets == "bank":
                continue
            yield _Step(
                self.tracks[message.unit],
                _microseconds(waiting[0].starts_ms),
                sum(_microseconds(one.ends_ms - one.starts_ms) for one in waiting),
                _microseconds(message.busy_ms),
                self._name(scene, message) if message.kind == "program" else "",
                tuple(self.message(one.hex) for one in waiting),
            )
            waiting = []

    def _name(self, scene: SceneData, program: MessageData) -> str:
        """Return what a program is called, with its place on the switcher or on its display."""
        name = program.name or ""
        if program.unit == SWITCHER and scene.place is not None:
            return f"{self.presets[scene.place.bank, scene.place.switch]} ({name})"
        return name if program.shown is None else f"{name} (display {program.shown})"

    def _said(self, kind: str, text: str) -> Any:
        return self.mido.MetaMessage(kind, text=self.text(text))

    def _named(self, kind: str, name: str) -> Any:
        return self.mido.MetaMessage(kind, name=self.text(name))


def _until(track: _Track, changes: list[tuple[int, Any]], tick: int) -> None:
    """Write those of ``changes`` that come until ``tick``."""
    while changes and changes[0][0] <= tick:
        track.add(*changes.pop(0))


def _meter_of(ticks: int) -> tuple[int, int] | None:
    """Return the shortest meter that has one bar of so many ticks; None if there is none."""
    whole = Fraction(ticks, 4 * PPQ)
    beats, unit = whole.numerator, whole.denominator
    return (beats, unit) if unit in {1, 2, 4, 8, 16, 32} and beats < 256 else None


def _microseconds(milliseconds: float) -> int:
    """Return a time of the data, which has three decimals, in whole µs."""
    return round(milliseconds * 1000)


def _hex(route: RouteData) -> str:
    return " ".join(message.hex for message in route.messages)


def _ascii(text: str) -> str:
    return text if text.isascii() and text.isprintable() else ascii_text(text)


def _printable(text: str) -> str:
    """Return ``text`` without control characters and such, which become ``?``."""
    return "".join(c if c.isprintable() else " " if c.isspace() else "?" for c in text)
