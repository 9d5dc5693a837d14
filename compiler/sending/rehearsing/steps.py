"""The steps of a rehearsal: every line of the cue sheet that sounds, in its order.

The moments of each song, behind them the scenes that can be chosen at any time, and the songs kept
for requests at the end. What is pressed when, and what the foot does, is the cue sheet's account.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from fractions import Fraction
from itertools import pairwise
from typing import NamedTuple

from setwright.compiler.binding.bound import BoundSong
from setwright.compiler.binding.foot import FootMove, Standing
from setwright.compiler.binding.target import Tap
from setwright.compiler.compiled import Compiled
from setwright.compiler.outputs.collect import night_data
from setwright.compiler.outputs.cued import Card, Choice, Press, Sheet
from setwright.compiler.outputs.cues import sheet_of
from setwright.compiler.reports.find import Found
from setwright.scenes.musical_time import Tempo

ALSO = "also here"
"""Where a scene is pressed that no moment of the song presses."""
AS_YOU_LIKE = "as you like"
"""Where a scene is pressed in a song whose scenes are pressed in no order."""


class Step(NamedTuple):
    """One line of the walk.

    ``found`` is None where nothing is pressed and the sound of before goes on; ``stay`` tells
    that the right preset is loaded already, ``look`` that the switch must not be pressed if it is
    on. ``feet`` is what the foot does coming from the step before, as it is printed,
    ``afterwards`` what it puts back at the end of the song before; ``stands`` where everything
    stands then, taps too, for whoever comes from elsewhere. ``gear`` and ``guitar`` likewise.
    ``tempo`` is None where it is free or not said; ``tempo_in_words`` tells which.
    """

    at: int
    playing: int
    title: str
    scene: str
    found: Found | None
    where: str
    bank: str
    switch: str
    tempo: Tempo | None
    tempo_in_words: str
    part: str = ""
    cue: str = ""
    note: str = ""
    feet: tuple[str, ...] = ()
    afterwards: tuple[FootMove, ...] = ()
    stands: tuple[FootMove, ...] = ()
    gear: str = ""
    guitar: str = ""
    stay: bool = False
    look: bool = False

    @property
    def name(self) -> str:
        """Song and scene, as a person says it."""
        return f"{self.title} / {self.scene}" if self.scene else self.title

    @property
    def bpm(self) -> Fraction | None:
        """Quarter notes a minute, as a clock counts them; None without a tempo."""
        return None if self.tempo is None else self.tempo.quarters_per_minute


def steps_of(compiled: Compiled) -> tuple[Step, ...]:
    """Return every step of the night, in playing order."""
    sheet = sheet_of(night_data(compiled))
    steps: list[Step] = []
    afterwards: tuple[FootMove, ...] = ()
    for playing, (part, song, card) in enumerate(_cards(sheet, compiled.songs)):
        new = _of_song(compiled, part, playing, song, card)
        new[:1] = [
            one._replace(
                # A song that follows straight on has these moves at its own beginning.
                afterwards=() if card.follows else afterwards,
                gear=card.gear or one.gear,
                note="; ".join(filter(None, (card.note, one.note))),
            )
            for one in new[:1]
        ]
        steps += [one._replace(at=at) for at, one in enumerate(new, len(steps))]
        afterwards = song.walk.back if card.afterwards else ()
    return tuple(steps)


def _cards(sheet: Sheet, songs: list[BoundSong]) -> Iterator[tuple[str, BoundSong, Card]]:
    """Yield every song with its card, those kept for requests behind the others."""
    by_number = {song.number: song for song in songs if song.number}
    for one in sheet.sets:
        for card in one.songs:
            yield one.name, by_number[card.number], card
    requests = [song for song in songs if not song.number]
    for song, card in zip(requests, sheet.asked, strict=True):
        yield "if asked", song, card


def _of_song(
    compiled: Compiled, part: str, playing: int, song: BoundSong, card: Card
) -> list[Step]:
    """Return the steps of one song, not yet counted."""
    title = f"{card.number}. {card.title}" if card.number else card.title
    bank, guitar = card.bank.shown, song.guitar
    moments = [one for one in song.moments if one.scene in song.scenes]
    pressed = zip(moments, song.walk.standing[1:], strict=False)

    def step(line: Press | Choice, tempo: Tempo | None, where: str) -> Step:
        free = "free" if song.song.tempi is not None else ""
        return Step(
            at=0,
            playing=playing,
            title=title,
            scene=line.scene,
            found=Found(song, compiled.scene(song, line.scene)) if line.scene else None,
            where=where,
            bank=bank,
            switch=line.switch,
            tempo=tempo,
            tempo_in_words=free if tempo is None else str(tempo),
            part=part,
            note=line.note,
            feet=line.feet,
            stands=(*_stands_in(song, line.scene), *_taps(song, line.scene)),
            guitar=guitar,
        )

    steps: list[Step] = []
    for press in card.presses:
        tempo, standing = song.resolved.shape.tempo_at(Fraction(0)), song.walk.standing[0]
        if press.scene:
            moment, standing = next(pressed)
            tempo = song.resolved.tempo_in(moment.scene)
            if moment.order is not None:
                tempo = moment.shape.tempo_at(moment.order)
        bank, guitar = press.new_bank or bank, press.guitar or guitar
        steps.append(
            step(press, tempo, press.where)._replace(
                cue=press.cue,
                gear=press.guitar,
                stay=press.stay,
                look=press.unless_on,
                stands=(*_stands(standing), *_taps(song, press.scene)),
            )
        )
    for choice in card.choices:
        bank = choice.bank or card.bank.shown
        tempo = song.resolved.tempo_in(choice.scene)
        steps.append(step(choice, tempo, ALSO if card.presses else AS_YOU_LIKE))
    return steps


def _taps(song: BoundSong, scene: str) -> Iterator[FootMove]:
    """Yield what the foot taps into delays for a scene, whatever was tapped before."""
    for wanted in song.scenes[scene].wanted if scene else ():
        if isinstance(wanted.value, Tap):
            yield FootMove(wanted.unit, wanted.value.at(song.resolved.tempo_in(scene)))


def _stands_in(song: BoundSong, scene: str) -> Iterator[FootMove]:
    """Yield where the foot has units stand in a scene, as far as that is known."""
    for wanted in song.scenes[scene].wanted if scene else ():
        if wanted.quantity == "foot" and isinstance(wanted.value, str):
            yield FootMove(wanted.unit, wanted.value)


def _stands(standing: Standing) -> tuple[FootMove, ...]:
    return tuple(FootMove(unit, stand.position) for unit, stand in standing.items())


def every_scene(steps: Sequence[Step]) -> list[int]:
    """Return where each different scene of the night is met first."""
    seen: dict[object, int] = {}
    for step in steps:
        if step.found is not None:
            seen.setdefault(step.found.scene.key, step.at)
    return list(seen.values())


def every_pair(steps: Sequence[Step]) -> list[int]:
    """Return a way along which each different change between two neighbours is heard once."""
    way: list[int] = []
    seen: set[tuple[object, object]] = set()
    sounding = [step for step in steps if step.found is not None]
    for one, two in pairwise(sounding):
        assert one.found is not None
        assert two.found is not None
        pair = one.found.scene.key, two.found.scene.key
        if pair[0] != pair[1] and pair not in seen:
            seen.add(pair)
            way += [two.at] if way and _key(steps, way[-1]) == pair[0] else [one.at, two.at]
    return way or [step.at for step in sounding[:1]]


def _key(steps: Sequence[Step], at: int) -> object:
    found = steps[at].found
    return None if found is None else found.scene.key
