"""The tempos of a song along its moments: from places on, in scenes, and tonight.

A scene that names a tempo has it from its moment until the next one; then the song's own goes on.
Another tempo tonight changes all of them in proportion; one that is free stays free.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from fractions import Fraction

from setwright.scenes.book import Book
from setwright.scenes.finding import Finding, Severity
from setwright.scenes.forms import AtPart, AtTime
from setwright.scenes.moments import Moment, wrong_place
from setwright.scenes.musical_time import FREE, Free, Tempo
from setwright.scenes.shapes import Shape, Turn
from setwright.scenes.songs import Song

Tempi = dict[str, tuple[Tempo | None, ...]]
"""Scene → the tempos that it is heard at, in the order of time; None for a free one."""


def at_tempo(shape: Shape, tempo: Tempo) -> Shape:
    """Return ``shape`` at another tempo; those from places on change in proportion."""
    made = replace(shape, tempo=tempo)
    if shape.tempo is None or not shape.turns:
        return made
    factor = tempo.quarters_per_minute / shape.tempo.quarters_per_minute
    return made.with_turns(
        tuple(Turn(turn.bars, scaled(turn.tempo, factor)) for turn in shape.turns)
    )


def scaled(tempo: Tempo | Free, factor: Fraction) -> Tempo | Free:
    """Return a tempo so many times as fast; a free one stays free."""
    return tempo if isinstance(tempo, Free) else Tempo(tempo.beat, tempo.bpm * factor)


def own_tempo(song: Song, name: str) -> Tempo | Free | None:
    """Return the tempo that a scene names, or that one names that it begins from."""
    seen: set[str] = set()
    while name in song.scenes and name not in seen:
        seen.add(name)
        scene = song.scenes[name]
        if scene.tempo is not None:
            return scene.tempo
        name = scene.like or ""
    return None


def in_tempo(
    song: Song, shape: Shape, moments: tuple[Moment, ...]
) -> tuple[Shape, tuple[Moment, ...], Tempi]:
    """Return the shape with the tempos of scenes in it, the moments in it, and each scene's tempos.

    The last is empty where the song has one tempo.
    """
    if not shape.turns and all(scene.tempo is None for scene in song.scenes.values()):
        return shape, moments, {}
    factor = Fraction(1)
    if shape.tempo is not None and song.tempo is not None and shape.tempo != song.tempo:
        factor = shape.tempo.quarters_per_minute / song.tempo.quarters_per_minute
    own = {
        name: scaled(tempo, factor)
        for name in song.scenes
        if (tempo := own_tempo(song, name)) is not None
    }
    placed = [(one.order, one.scene) for one in moments if one.order is not None]
    spans = [
        (begin, after[0] if after is not None else None, scene)
        for (begin, scene), after in zip(placed, [*placed, None][1:], strict=True)
    ]
    turns = shape.turns
    for begin, end, scene in spans:
        if scene not in own:
            continue
        turns = tuple(
            one for one in turns if one.bars < begin or (end is not None and one.bars >= end)
        )
        if end is not None and not any(one.bars == end for one in turns):
            turns = (*turns, Turn(end, shape.tempo_at(end) or FREE))
        turns = (*(one for one in turns if one.bars != begin), Turn(begin, own[scene]))
    made = shape.with_turns(turns)
    tempi: dict[str, dict[Tempo | None, None]] = {}
    for begin, end, scene in spans:
        heard = tempi.setdefault(scene, {})
        heard[made.tempo_at(begin)] = None
        for one in made.turns:
            if begin < one.bars and (end is None or one.bars < end):
                heard[None if isinstance(one.tempo, Free) else one.tempo] = None
    for scene in song.scenes:
        if scene not in tempi:
            tempo = own.get(scene, made.tempo)
            tempi[scene] = {None if isinstance(tempo, Free) else tempo: None}
    return (
        made,
        tuple(_timed(one, made) for one in moments),
        {scene: tuple(heard) for scene, heard in tempi.items()},
    )


def _timed(moment: Moment, shape: Shape) -> Moment:
    if isinstance(moment.position, AtTime):
        order = shape.order_of(moment.position)
        return moment._replace(shape=shape, order=order, bars=shape.bar_of(moment.position))
    return moment._replace(shape=shape)


def wrong_tempi(book: Book, song: Song) -> Iterator[Finding]:
    """Find places of tempos that the song does not have."""
    if song.tempi is None:
        return
    whole = book.place((*song.path, "tempo"))
    for one in song.tempi.later:
        place = whole.within(str(one.at))
        wrong = wrong_place(book, song, song.shape, one.at, lambda place=place: place)  # type: ignore[misc]
        if wrong is not None:
            yield wrong
        elif (
            isinstance(one.at, AtPart)
            and song.form is None
            and not book.is_broken((*song.path, "form"))
        ):
            yield Finding(
                "place-without-form",
                Severity.ERROR,
                "this song has no form, but a tempo begins at a part of it",
                place,
                "add form:, for example form: intro verse chorus; or say a bar or a time",
            )
