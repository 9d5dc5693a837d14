"""Tonight's songs → plain data: their moments, and what the foot does at each and between them."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator
from fractions import Fraction
from math import floor

from setwright.compiler.binding.bound import EVERY_BANK, GENERAL, KEPT, BoundSong
from setwright.compiler.binding.foot import FootMove
from setwright.compiler.compiled import Compiled
from setwright.compiler.lowering.preset import Address
from setwright.compiler.outputs.data import MomentData, SongData, TempoData, TurnData
from setwright.compiler.outputs.plain import FootData, PlaceData
from setwright.compiler.placement.pressing import Foot, Now, first_of_all, foot_for, pressed
from setwright.compiler.placement.wanted import key_of
from setwright.scenes.forms import Vamp
from setwright.scenes.musical_time import Tempo
from setwright.scenes.songs import Song


def pressed_first(compiled: Compiled) -> PlaceData | None:
    """Return what has to be pressed before the first song of the night, if anything has to."""
    placement = compiled.placement
    songs = [song for song in compiled.songs if song.number and song.scenes]
    if not songs:
        return None
    names = [moment.scene for moment in songs[0].moments][:1] or list(songs[0].scenes)
    firsts = {placement.of_scene.get(key_of(songs[0], name)) for name in names} - {None}
    placed = [preset.slot for preset in placement.presets]
    slot = first_of_all(compiled.book.switcher, [one for one in firsts if one], placed)
    return None if slot is None else place_of(compiled, slot)


def songs_of(compiled: Compiled) -> Iterator[SongData]:
    """Yield tonight's songs: those of the sets in playing order, then those for requests."""
    times: Counter[str] = Counter()
    now = Now()
    for index, bound in enumerate(compiled.songs):
        times[bound.song.identity] += bound.number > 0
        # Between two songs anything may be pressed: the tuner, a request.
        now = now if bound.is_straight else Now()
        moments, now = _moments(compiled, bound, now)
        following = compiled.songs[index + 1 : index + 2]
        goes_on = any(one.is_straight for one in following)
        yield _song(
            bound,
            times[bound.song.identity] if bound.number else 0,
            moments,
            () if goes_on else bound.walk.back,
        )


def _song(
    bound: BoundSong,
    time: int,
    moments: tuple[MomentData, ...],
    after: tuple[FootMove, ...],
) -> SongData:
    song, playing, length = bound.song, bound.playing, bound.resolved.length
    notes = [note for note in (song.note, playing.note if playing else None) if note]
    tempo = bound.tempo
    return SongData(
        number=bound.number,
        title=song.title,
        id=song.identity,
        key=song.key,
        meter=str(song.meter) if song.meter else None,
        tempo=None if tempo is None else _tempo(tempo),
        free=tempo is None and song.tempi is not None,
        turns=tuple(_turns(bound)),
        pickup=float(song.pickup.of_whole * 4) if song.pickup is not None else 0.0,
        form=_form(song),
        guitar=bound.guitar,
        note="; ".join(notes),
        straight_into=bound.is_straight,
        general=bound.general,
        owner=owner_of(bound.owner),
        called=bound.called,
        begins_late=bound.begins_late,
        feet_first=_feet(bound.walk.first),
        feet_after=_feet(after),
        time=time,
        bars=_whole(length.bars),
        seconds=rounded(length.seconds),
        scenes=tuple(bound.scenes),
        moments=moments,
        taps={
            name: _feet(tuple(move for one, move in bound.taps if one == name))
            for name, _ in bound.taps
        },
    )


def _tempo(tempo: Tempo) -> TempoData:
    return TempoData(
        beat=tempo.beat.name,
        bpm=rounded(tempo.bpm) or 0.0,
        quarters_per_minute=rounded(tempo.quarters_per_minute) or 0.0,
    )


def _turns(bound: BoundSong) -> Iterator[TurnData]:
    """Yield the tempos of the song from places on, then those of its scenes, tonight."""
    shape, song = bound.resolved.shape, bound.song
    for later in song.tempi.later if song.tempi is not None else ():
        order = shape.order_of(later.at)
        if order is not None:
            tempo = shape.tempo_at(order)
            yield TurnData(
                where=f"from {shape.in_words(later.at)}",
                bars=rounded(shape.bar_of(later.at)),
                tempo=None if tempo is None else _tempo(tempo),
            )
    for name, scene in song.scenes.items():
        if scene.tempo is not None and name in bound.scenes:
            at = next((one for one in bound.moments if one.scene == name), None)
            tempo = bound.resolved.tempo_in(name)
            yield TurnData(
                where=f"in {name}",
                bars=rounded(at.bars) if at is not None else None,
                tempo=None if tempo is None else _tempo(tempo),
            )


def _form(song: Song) -> str | None:
    """Return the form as a band reads it, with what ends the parts that last until then."""
    if song.form is None:
        return None
    vamps = [
        f"{part} {bars}" for part, bars in song.bars.items() if isinstance(bars, Vamp) and part
    ]
    return "; ".join([str(song.form), *vamps])


def _whole(bars: Fraction | None) -> int | float | None:
    """Return bars as a whole number where they are one."""
    return int(bars) if bars is not None and bars.denominator == 1 else rounded(bars)


def _feet(moves: tuple[FootMove, ...]) -> tuple[FootData, ...]:
    return tuple(FootData(unit=unit, position=position) for unit, position in moves)


def _moments(compiled: Compiled, bound: BoundSong, now: Now) -> tuple[tuple[MomentData, ...], Now]:
    """Return the moments of a song, and what is certain of the switcher after them."""
    result = []
    last = None
    shape = bound.resolved.shape
    for moment, moves in zip(bound.moments, bound.feet, strict=True):
        if moment.scene not in bound.scenes:
            continue
        slot = compiled.placement.of_scene.get(key_of(bound, moment.scene))
        foot = Foot.PRESS
        if slot is not None:
            foot, now = foot_for(compiled.book.switcher, now, slot), pressed(slot)
        result.append(
            MomentData(
                scene=moment.scene,
                position=str(shape.in_words(moment.position)) if moment.position else None,
                place=bound.position_in_words(moment),
                brief=bound.position_in_brief(moment),
                bar=floor(moment.bars - shape.pickup_bars) + 1 if moment.bars is not None else None,
                bars=rounded(moment.bars),
                seconds=rounded(moment.seconds),
                assumed=moment.assumed,
                cue=moment.cue,
                guitar=moment.guitar,
                feet=_feet(moves),
                stay=slot is not None and slot == last,
                press=foot.value,
            )
        )
        last = slot
    # Without moments the scenes are pressed as one likes.
    return tuple(result), now if bound.moments else Now()


def place_of(compiled: Compiled, slot: Address) -> PlaceData:
    """Return a switch, counted from 1 and as the switcher shows it."""
    switcher = compiled.book.switcher
    return PlaceData(
        bank=slot.bank + 1,
        switch=slot.switch + 1,
        bank_shown=switcher.banks.show(slot.bank),
        switch_shown=switcher.switches.show(slot.switch),
    )


def owner_of(name: str) -> str | None:
    """Return the owner of scenes as data says it: null for the rig's general ones.

    What is kept in every bank has a name that commands know it by.
    """
    return EVERY_BANK if name == KEPT else None if name == GENERAL else name


def rounded(value: Fraction | None) -> float | None:
    """Return bars or seconds as data says them: to a millionth."""
    return None if value is None else round(float(value), 6)
