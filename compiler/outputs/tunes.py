"""A song in ticks: its tempo, its meter, and where in it each switch is pressed.

480 ticks are a quarter note. How places become ticks, and what is assumed where a song does not
say, stands in `midi_file`, which writes them. Sources: RP-001, Standard MIDI Files 1.0.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from fractions import Fraction
from math import ceil
from typing import NamedTuple

from setwright.compiler.outputs.data import SongData, TempoData, TurnData
from setwright.compiler.outputs.sent import SceneData
from setwright.scenes.musical_time import parse_meter, parse_note_value

PPQ = 480
"""Ticks in a quarter note (the division of the header chunk)."""
USUAL_TEMPO, USUAL_METER = 120.0, "4/4"
"""What RP-001 says of files without tempo and time signature."""
SLOWEST = 60_000_000 / 0xFFFFFF
"""The slowest tempo that FF 51 can say, in quarter notes a minute: its number has 24 bits."""


class Music(NamedTuple):
    """What turns places in a song into ticks.

    ``numerator`` and ``denominator`` are the meter, ``bar`` a bar in ticks, ``speed`` quarter
    notes a minute, ``click`` MIDI clocks (24 a quarter note) between clicks of the metronome;
    ``assumed`` says what the song leaves open. ``pickup`` are the ticks before the first full bar;
    ``turns`` other speeds with the ticks from which they hold, by rising tick.
    """

    numerator: int
    denominator: int
    bar: int
    speed: float
    click: int
    assumed: tuple[str, ...] = ()
    pickup: int = 0
    turns: tuple[tuple[int, float], ...] = ()

    @property
    def microseconds(self) -> int:
        """Microseconds in a quarter note at the beginning, as FF 51 says them; whole ones."""
        return microseconds_of(self.speed)

    def bars(self, bars: float) -> int:
        """Return the tick nearest to the place where ``bars`` bars have passed."""
        return int(bars * self.bar + 0.5)

    def seconds(self, seconds: float) -> int:
        """Return the tick nearest to the place where ``seconds`` have passed."""
        begin, tick, speed = 0.0, 0, self.speed
        for at, other in self.turns:
            end = begin + (at - tick) * 60 / speed / PPQ
            if seconds < end:
                break
            begin, tick, speed = end, at, other
        return tick + int((seconds - begin) * speed * PPQ / 60 + 0.5)

    def after(self, tick: int, microseconds: int) -> int:
        """Return the first tick that is not earlier than so long after ``tick``."""
        if not self.turns:
            return tick + -(-microseconds * PPQ // self.microseconds)
        return self._first(self._exactly(tick) + microseconds)

    def ticks(self, microseconds: int) -> int:
        """Return the first tick of the file that is not earlier than ``microseconds``."""
        return self.after(0, microseconds)

    def time(self, tick: int) -> int:
        """Return when ``tick`` comes in the file, in µs, rounded up."""
        return ceil(self._exactly(tick))

    def _exactly(self, tick: int) -> Fraction:
        total, at, speed = Fraction(0), 0, self.speed
        for turn, other in self.turns:
            if turn >= tick:
                break
            total += Fraction((turn - at) * microseconds_of(speed), PPQ)
            at, speed = turn, other
        return total + Fraction((tick - at) * microseconds_of(speed), PPQ)

    def _first(self, microseconds: Fraction) -> int:
        begin, at, speed = Fraction(0), 0, self.speed
        for turn, other in self.turns:
            end = begin + Fraction((turn - at) * microseconds_of(speed), PPQ)
            if microseconds <= end:
                break
            begin, at, speed = end, turn, other
        return at + ceil((microseconds - begin) * PPQ / microseconds_of(speed))


def microseconds_of(speed: float) -> int:
    """Return the µs in a quarter note at so many a minute, rounded to whole ones."""
    return round(60_000_000 / speed)


def music_of(
    meter: str | None,
    tempo: TempoData | None,
    turns: tuple[TurnData, ...] = (),
    pickup: float = 0,
    *,
    free: bool = False,
) -> Music:
    """Return what turns places into ticks, for a song's meter and tempos as `NightData` has them.

    The metronome clicks as the tempo counts, where that divides the bar, otherwise on the beats
    of the meter; 6/8 at ``dotted quarter = 112`` is ``FF 58 04 06 03 24 08`` (RP-001's example).
    While the tempo is free, the one before it goes on; a text says so.
    """
    parsed = parse_meter(meter or USUAL_METER)
    speed = _speed(tempo)
    # 24 clocks a quarter note: 96 a whole one.
    compound = parsed.unit >= 8 and parsed.beats > 3 and parsed.beats % 3 == 0
    click = 96 // parsed.unit * (3 if compound else 1)
    if tempo is not None:
        counted = parse_note_value(tempo.beat).of_whole
        if (counted * 96).denominator == 1 and (parsed.bar / counted).denominator == 1:
            click = int(counted * 96)
    assumed = []
    if free:
        assumed.append(f"the tempo is free: quarter = {USUAL_TEMPO:g} is assumed")
    elif tempo is None:
        assumed.append(f"no tempo is given: quarter = {USUAL_TEMPO:g} is assumed")
    if meter is None:
        assumed.append(f"no meter is given: {USUAL_METER} is assumed")
    bar = int(parsed.bar * 4 * PPQ)
    later = []
    for turn in sorted(turns, key=lambda one: one.bars or 0):
        if turn.tempo is None:
            assumed.append(f"the tempo is free {turn.where}: the one before it is assumed")
        elif turn.bars is None:
            assumed.append(f"nobody knows when {turn.tempo.beat} = {turn.tempo.bpm:g} begins")
        elif turn.bars > 0:
            later.append((int(turn.bars * bar + 0.5), _speed(turn.tempo)))
        else:
            speed = _speed(turn.tempo)
    return Music(
        parsed.beats,
        parsed.unit,
        bar,
        speed,
        click,
        tuple(assumed),
        int(pickup * PPQ + 0.5),
        tuple(later),
    )


def _speed(tempo: TempoData | None) -> float:
    return max(tempo.quarters_per_minute, SLOWEST) if tempo else USUAL_TEMPO


class Press(NamedTuple):
    """A press within a song: ``tick`` counts from the song's beginning.

    ``stay`` tells that the switch of the press before is pressed again, so nothing is sent;
    ``assumed`` that the song does not say where it lies.
    """

    tick: int
    scene: SceneData
    assumed: bool = False
    cue: str = ""
    feet: tuple[str, ...] = ()
    stay: bool = False


@dataclass(frozen=True, slots=True, eq=False)
class Tune:
    """A song in ticks: ``length`` is None where it is not known.

    ``title`` is its name within a set.
    """

    title: str
    music: Music
    presses: tuple[Press, ...]
    length: int | None
    straight_into: bool = False
    text: str = ""


def tune_of(song: SongData, scenes: dict[str, SceneData]) -> Tune:
    """Return a song in ticks; ``scenes`` are its scenes by name."""
    music = music_of(song.meter, song.tempo, song.turns, song.pickup, free=song.free)
    length = None
    if song.bars is not None:
        length = music.bars(song.bars)
    elif song.seconds is not None:
        length = music.seconds(song.seconds)
    text, feet = "", tuple(map(str, song.feet_first))
    if song.general:
        presses = [
            Press(0, scenes[name], feet=(*feet, *map(str, song.taps.get(name, ()))))
            for name in song.scenes[:1]
        ]
        text = f"general scenes, as you like: {', '.join(song.scenes)}" if presses else ""
    else:
        presses = list(_with_stays(_placed(song, music, scenes)))
        if song.begins_late:
            text = "; ".join(["no press: the sound of before", *(f"foot: {one}" for one in feet)])
    title = f"{song.number}. {song.title}" if song.number else song.title
    return Tune(title, music, tuple(presses), length, song.straight_into, text)


def _placed(song: SongData, music: Music, scenes: dict[str, SceneData]) -> list[Press]:
    """Return the presses of a song in the order of time."""
    result: list[Press] = []
    for moment in song.moments:
        if moment.bars is not None:
            tick = music.bars(moment.bars)
        elif moment.seconds is not None:
            tick = music.seconds(moment.seconds)
        else:
            tick = result[-1].tick + music.bar if result else 0
        # That a song begins at its beginning need not be marked.
        known = moment.bars is not None or moment.seconds is not None
        assumed = (moment.assumed or not known) and tick > 0
        result.append(
            Press(tick, scenes[moment.scene], assumed, moment.cue, tuple(map(str, moment.feet)))
        )
    return sorted(result, key=lambda press: press.tick)


def _with_stays(presses: Iterable[Press]) -> Iterator[Press]:
    """Yield ``presses``, told which of them are on the switch of the one before."""
    last = None
    for press in presses:
        place = press.scene.place
        yield press._replace(stay=True) if place is not None and place == last else press
        last = place


def through(scenes: list[SceneData]) -> Tune:
    """Return a tune that goes through ``scenes``, a bar each."""
    usual = TempoData(beat="quarter", bpm=USUAL_TEMPO, quarters_per_minute=USUAL_TEMPO)
    music = music_of(USUAL_METER, usual)
    presses = tuple(Press(index * music.bar, scene) for index, scene in enumerate(scenes))
    return Tune("general scenes", music, presses, len(scenes) * music.bar)
