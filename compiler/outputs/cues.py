"""What the player does on the night: the one account that every form of the cue sheet shows."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import pairwise

from setwright.compiler.outputs.behaviour import wait_in_words
from setwright.compiler.outputs.cued import Asked, Bank, Card, Choice, Next, Press, Set, Sheet
from setwright.compiler.outputs.data import MomentData, NightData, SongData, TempoData
from setwright.compiler.outputs.plain import PlaceData
from setwright.scenes.wording import number_of

_TIMES = ("first time", "second time", "third time", "fourth time")
_ARTICLES = ("the ", "a ", "an ")


def sheet_of(data: NightData) -> Sheet:
    """Return what stands on the cue sheet, in the order of the pages."""
    first = data.switcher.first_of_all
    return Sheet(
        night=data.night,
        date=data.date,
        rig=data.rig,
        without=data.without,
        state=data.state,
        note=data.note,
        kept=tuple(Choice(switch, what) for switch, what in data.switcher.kept.items()),
        before=data.before,
        feet=tuple(f"{unit} {position}" for unit, position in data.feet.items()),
        first=first.switch_shown if first is not None else "",
        first_bank=first.bank_shown if first is not None else "",
        goes_back=data.switcher.same_switch_again == "goes back",
        wait=wait_in_words(wait) if (wait := data.switcher.bank_moves_wait_ms) else "",
        sets=tuple(_sets(data)),
        asked=tuple(
            _card(data, song, None)._replace(gear=song.guitar)
            for song in data.songs
            if not song.number
        ),
        titles=tuple(sorted(_titles(data), key=lambda one: (one.title.casefold(), one.number))),
        by_hand=tuple(_by_hand(data)),
        pauses=data.between_songs_seconds is not None,
    )


def _titles(data: NightData) -> Iterator[Asked]:
    """Yield every song that may be asked for, once for each place where it lies."""
    seen: set[tuple[str, str, str]] = set()
    for song in data.songs:
        place = _first_place(data, song)
        shown = place.bank_shown if place is not None else "none"
        one = Asked(_indexed(song.title), song.number, shown, _switch(place))
        if (one.title, one.bank, one.switch) not in seen:
            seen.add((one.title, one.bank, one.switch))
            yield one
    general = next((one.place for one in data.scenes if one.song is None), None)
    if general is not None:
        for title in data.others:
            yield Asked(_indexed(title), 0, general.bank_shown, general.switch_shown)


def _indexed(title: str) -> str:
    """Return a title as indexes have it, its article behind (common practice, no source)."""
    for article in _ARTICLES:
        if title.casefold().startswith(article) and len(title) > len(article):
            return f"{title[len(article) :]}, {title[: len(article) - 1]}"
    return title


def _by_hand(data: NightData) -> Iterator[str]:
    """Yield what each loop and relay is, for playing without presets."""
    switcher = data.switcher
    for what, units, shared in (
        ("loop", switcher.loop_units, switcher.loop_shared),
        ("relay", switcher.relay_units, switcher.relay_shared),
    ):
        for number, unit in sorted(units.items(), key=lambda one: int(one[0])):
            yield f"{what} {number} {' + '.join((unit, *shared.get(number, ())))}"


def _sets(data: NightData) -> Iterator[Set]:
    by_number = {song.number: song for song in data.songs}
    for one in data.sets:
        songs = [by_number[number] for number in one.songs if number in by_number]
        cards: list[Card] = []
        bank = None  # what was done in the break is not known
        guitar = ""
        *dues, end = _due(data, songs)
        for song, due in zip(songs, dues, strict=True):
            card = _card(data, song, bank)
            gear = song.guitar if song.guitar != guitar else ""
            cards.append(card._replace(gear=gear, starts=_starts(due, one.begins_minutes)))
            guitar = next((m.guitar for m in reversed(song.moments) if m.guitar), song.guitar)
            bank = _last_bank(data, song) or card.bank.number or bank
        for at, (card, following) in enumerate(pairwise(cards)):
            cards[at] = card._replace(onward=_next(following))
        yield Set(
            one.name,
            _length(len(cards), one.at_most_seconds),
            one.note,
            tuple(cards),
            begins="" if one.begins_minutes is None else _time_of_day(one.begins_minutes * 60),
            lasts=_clock(end) if songs else "",
        )


def _next(card: Card) -> Next:
    return Next(card.number, card.title, card.bank, card.switch, card.gear, straight=card.follows)


def _due(data: NightData, songs: list[SongData]) -> list[float | None]:
    """Return the seconds from the first note of a set to that of each song, and to its end.

    Null from the first song on whose length is not known.
    """
    due: list[float | None] = []
    at: float | None = 0.0
    for index, song in enumerate(songs):
        if index and at is not None and not song.straight_into:
            at += data.between_songs_seconds or 0.0
        due.append(at)
        at = None if at is None or song.seconds is None else at + song.seconds
    return [*due, at]


def _starts(due: float | None, begins: int | None) -> str:
    if due is None:
        return ""
    return _clock(due) if begins is None else _time_of_day(begins * 60 + due)


def _time_of_day(seconds: float) -> str:
    hours, minutes = divmod(round(seconds / 60) % (24 * 60), 60)
    return f"{hours}:{minutes:02d}"


def _clock(seconds: float | None) -> str:
    """Return a length in minutes and seconds; empty where nobody knows."""
    if seconds is None:
        return ""
    minutes, rest = divmod(round(seconds), 60)
    return f"{minutes}:{rest:02d}"


def _length(songs: int, at_most: float | None) -> str:
    count = number_of(songs, "song")
    return count if at_most is None else f"{count}, at most {at_most / 60:g} min"


def _card(data: NightData, song: SongData, bank: int | None) -> Card:
    """Return a song as it is played from ``bank``, counted from 1; None if that is not known."""
    place = _first_place(data, song)
    own = _bank(data, place, bank)
    pressed = {moment.scene for moment in song.moments}
    return Card(
        number=song.number,
        title=song.title,
        facts=tuple(_facts(song)),
        note=song.note,
        bank=own,
        follows=song.straight_into,
        presses=tuple(_presses(data, song, own.number)),
        choices=tuple(
            _choice(data, song, scene, own.number) for scene in song.scenes if scene not in pressed
        ),
        afterwards=tuple(map(str, song.feet_after)),
        more_banks=tuple(_more_banks(data, song, own.number)),
        switch=_switch(place),
        key=song.key or "",
        meter=song.meter or "",
        tempos=tuple(_tempos(song)),
        form=song.form or "",
        length=_clock(song.seconds),
        time=_time(song),
    )


def _more_banks(data: NightData, song: SongData, first: int | None) -> Iterator[str]:
    """Yield the banks of a song besides the one in which it begins."""
    places = filter(None, (_place(data, song, scene) for scene in song.scenes))
    shown = {place.bank: place.bank_shown for place in places if place.bank != first}
    yield from (shown[number] for number in sorted(shown))


def _facts(song: SongData) -> Iterator[str]:
    """Yield what to know before the first note; the guitar first, since it is taken up first.

    That it is not the first playing of the song stands before it all.
    """
    for fact in (_time(song), song.guitar, song.key, song.meter):
        if fact:
            yield fact
    yield from _tempos(song)


def _time(song: SongData) -> str:
    """Return which time a song is played tonight, in words; nothing for the first."""
    if song.time < 2:
        return ""
    return f"time {song.time} tonight" if song.time > len(_TIMES) else _TIMES[song.time - 1]


def _tempos(song: SongData) -> Iterator[str]:
    if song.tempo or song.free:
        yield _tempo(song.tempo)
    for turn in song.turns:
        yield f"{_tempo(turn.tempo)} {turn.where}"


def _tempo(tempo: TempoData | None) -> str:
    return "free" if tempo is None else f"{tempo.beat} = {round(tempo.bpm, 1):g}"


def _presses(data: NightData, song: SongData, bank: int | None) -> Iterator[Press]:
    if song.begins_late or song.feet_first:
        feet = tuple(map(str, song.feet_first))
        yield Press("beginning", False, "", "", "", feet, False, kept=song.begins_late)
    for moment in song.moments:
        place = _place(data, song, moment.scene)
        moved = place is not None and place.bank != bank
        there = _bank(data, place, bank) if moved else None
        bank = place.bank if place is not None else bank
        yield Press(
            where=_where(moment),
            assumed=_is_guess(moment),
            switch=_switch(place),
            scene=moment.scene,
            cue=moment.cue,
            feet=tuple(map(str, moment.feet)),
            stay=moment.press == "stay",
            unless_on=moment.press == "unless on",
            guitar=moment.guitar,
            note=data.scene(song.owner, moment.scene).note,
            brief="" if _at_beginning(moment) else moment.brief or "then",
            bank=there,
        )


def _choice(data: NightData, song: SongData, scene: str, bank: int | None) -> Choice:
    place = _place(data, song, scene)
    elsewhere = place is not None and place.bank != bank
    stands = {name: _stands(data, song, name) for name in song.scenes}
    return Choice(
        _switch(place),
        scene,
        place.bank_shown if place is not None and elsewhere else "",
        tuple(
            f"{unit} {position}"
            for unit, position in stands[scene].items()
            if any(other.get(unit) != position for other in stands.values())
            or (not song.moments and data.feet.get(unit) != position)
        )
        + tuple(map(str, song.taps.get(scene, ()))),
        data.scene(song.owner, scene).note,
    )


def _stands(data: NightData, song: SongData, scene: str) -> dict[str, str]:
    """Return where the foot has units stand in a scene: unit → position."""
    return {
        one.unit: one.value
        for one in data.scene(song.owner, scene).units
        if one.quantity == "foot" and one.value is not None
    }


def _at_beginning(moment: MomentData) -> bool:
    return moment.position is None and (moment.bars == 0 or moment.seconds == 0)


def _where(moment: MomentData) -> str:
    if _at_beginning(moment):
        return "beginning"
    return moment.place or "then"


def _is_guess(moment: MomentData) -> bool:
    """Tell whether a place has to be marked: the song's first note is nobody's guess."""
    return moment.assumed and moment.place is not None and not _at_beginning(moment)


def _place(data: NightData, song: SongData, scene: str | None) -> PlaceData | None:
    return None if scene is None else data.scene(song.owner, scene).place


def _first_place(data: NightData, song: SongData) -> PlaceData | None:
    """Return where a song begins: its first press, or without any the first of its scenes."""
    first = next((moment.scene for moment in song.moments), next(iter(song.scenes), None))
    return _place(data, song, first)


def _switch(place: PlaceData | None) -> str:
    return "none" if place is None else place.switch_shown


def _bank(data: NightData, place: PlaceData | None, before: int | None) -> Bank:
    if place is None:
        return Bank("none", None, moves=False)
    moves = place.bank != before
    steps = moves and before is not None and data.switcher.bank_moves_by == "up and down"
    by = place.bank - before if steps and before is not None else 0
    return Bank(place.bank_shown, place.bank, moves, by)


def _last_bank(data: NightData, song: SongData) -> int | None:
    """Return the bank in which a song ends; None where it presses nothing."""
    places = [_place(data, song, moment.scene) for moment in song.moments]
    return next((place.bank for place in reversed(places) if place is not None), None)
