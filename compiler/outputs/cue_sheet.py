"""The cue sheet: what the player reads standing, on a dark stage, from floor or stand.

One HTML file that loads nothing and runs nothing. It is printed on A4, landscape; a screen gets
sizes of its own, light or dark as its owner likes it.

Sizes. A letter is as high as 2·D·tan(α/2), D the distance from eye to paper, α the angle at
which it is seen. At 1.7 m, 16′ is 7.9 mm, 20′ is 9.9 mm, 22′ is 10.9 mm.

* Switches and scenes: capitals `MAIN_MM` high, 22′. 16′ is the least and 20′ to 22′ are
  preferred: ISO 9241-3:1992, 5.4 (withdrawn); NUREG-0700, 1.3.1-4. Lower case keeps 16′ as well,
  since DIN 1450:2013 sizes by the x-height. A sheet that lies on the floor is seen at a slant:
  from 1.6 m above and 0.8 m behind, 20′ would take 11.6 mm and these are 19′.
* Titles and banks: `TITLE_MM`, 20′. All the rest: `SECOND_MM`, 16′. Nothing is smaller.
* Lines lie 135 to 170 % of the height of capitals apart: 2010 ADA Standards, 703.5.9.
* Black on white, 21:1, and near-white on black, more than 18:1: WCAG 2.2, SC 1.4.3 and 1.4.6.
  Shape and words alone carry meaning, since stage light is coloured.
* What does not fit goes on another page, nothing shrinks. A song is parted only where it is
  longer than a page, and then its title and bank are repeated.

Text stands in whatever sans face the system has, so its size follows from the height of its
capitals: 0.7 of the font size. Two usual faces were measured in a browser, 0.688 and 0.729
(`tests/test_sheets.py`); others lie between them (from memory). ``font-size-adjust`` (CSS Fonts
Module Level 5) brings them to 0.7 by what each says of its own capitals, within 2 % as measured.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import NamedTuple

from setwright.compiler.outputs.behaviour import wait_in_words
from setwright.compiler.outputs.data import MomentData, NightData, SongData, TempoData
from setwright.compiler.outputs.plain import PlaceData
from setwright.compiler.outputs.preset_sheet import render
from setwright.scenes.wording import number_of

MAIN_MM = 11.1
"""Height of capitals of switches and scenes, in mm, as `cue-sheet.css.j2` has it."""

TITLE_MM = 10.1
"""Height of capitals of titles and banks, in mm."""

SECOND_MM = 8.1
"""Height of capitals of everything else, in mm."""


_TIMES = ("first time", "second time", "third time", "fourth time")


class Bank(NamedTuple):
    """The bank of a song, counted from 1; ``moves`` tells that the player must go there."""

    shown: str
    number: int | None
    moves: bool


class Choice(NamedTuple):
    """A scene to choose at any time; ``bank`` is empty where it is the song's own.

    ``feet`` says where foot-operated units have to stand, where that is not the same in all
    scenes of the song, and what to tap; ``note`` is the scene's own.
    """

    switch: str
    scene: str
    bank: str = ""
    feet: tuple[str, ...] = ()
    note: str = ""


class Press(NamedTuple):
    """A line of a song: where, which switch, and what happens beside.

    ``stay`` says that nothing is pressed, ``unless_on`` that the player has to look first; at the
    beginning of a song ``kept`` says that the sound of before goes on. ``guitar`` is taken up
    before it; ``note`` is the scene's own.
    """

    where: str
    assumed: bool
    switch: str
    scene: str
    cue: str
    feet: tuple[str, ...]
    stay: bool
    new_bank: str
    unless_on: bool = False
    kept: bool = False
    guitar: str = ""
    note: str = ""


class Card(NamedTuple):
    """One song; ``onward`` is the next one where it follows without a pause.

    ``more_banks`` are those besides ``bank`` in which its scenes lie.

    ``afterwards`` are the moves of the foot that undo those of the song, for a boost left on would
    open the next one; where that follows straight on, they stand at its beginning.
    """

    number: int
    title: str
    facts: tuple[str, ...]
    note: str
    bank: Bank
    follows: bool
    presses: tuple[Press, ...]
    choices: tuple[Choice, ...]
    afterwards: tuple[str, ...]
    onward: Card | None = None
    more_banks: tuple[str, ...] = ()


class Set(NamedTuple):
    """The songs between two breaks."""

    name: str
    length: str
    note: str
    songs: tuple[Card, ...]


class Sheet(NamedTuple):
    """Everything that is printed.

    ``state`` stands for what the switcher has to hold; ``without`` are the units left out;
    ``before`` is what to set before the night; ``first`` the switch that has to be pressed before
    the first song, and ``first_bank`` its bank; ``goes_back`` tells that a switch that is on must
    not be pressed again, ``wait`` how long to wait at each bank on the way.
    """

    night: str
    date: str
    rig: str
    without: tuple[str, ...]
    state: str
    note: str
    kept: tuple[Choice, ...]
    before: tuple[str, ...]
    feet: tuple[str, ...]
    first: str
    first_bank: str
    goes_back: bool
    wait: str
    sets: tuple[Set, ...]
    asked: tuple[Card, ...]


def cue_sheet_files(data: NightData) -> dict[str, bytes]:
    """Return the cue sheet of ``data``: file name → UTF-8 text. The same data, the same bytes."""
    return {"cue-sheet.html": render("cue-sheet.html.j2", sheet=sheet_of(data))}


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
        before=(
            *(f"{unit} {position}" for unit, position in data.feet_at_start.items()),
            *(f"{one.unit} {one.value}" for one in data.set_by_hand),
        ),
        feet=tuple(f"{unit} {position}" for unit, position in data.feet.items()),
        first=first.switch_shown if first is not None else "",
        first_bank=first.bank_shown if first is not None else "",
        goes_back=data.switcher.same_switch_again == "goes back",
        wait=wait_in_words(wait) if (wait := data.switcher.bank_moves_wait_ms) else "",
        sets=tuple(_sets(data)),
        asked=tuple(_card(data, song, None) for song in data.songs if not song.number),
    )


def _sets(data: NightData) -> Iterator[Set]:
    by_number = {song.number: song for song in data.songs}
    for one in data.sets:
        cards: list[Card] = []
        bank = None  # what was done in the break is not known
        for number in one.songs:
            if number not in by_number:
                continue
            song = by_number[number]
            card = _card(data, song, bank)
            if card.follows and cards:
                cards[-1] = cards[-1]._replace(onward=card)
            cards.append(card)
            bank = _last_bank(data, song) or card.bank.number or bank
        yield Set(one.name, _length(len(cards), one.at_most_seconds), one.note, tuple(cards))


def _length(songs: int, at_most: float | None) -> str:
    count = number_of(songs, "song")
    return count if at_most is None else f"{count}, at most {at_most / 60:g} min"


def _card(data: NightData, song: SongData, bank: int | None) -> Card:
    """Return a song as it is played from ``bank``, counted from 1; None if that is not known."""
    first = next((moment.scene for moment in song.moments), next(iter(song.scenes), None))
    own = _bank(_place(data, song, first), bank)
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
    if song.time > 1:
        yield f"time {song.time} tonight" if song.time > len(_TIMES) else _TIMES[song.time - 1]
    if song.guitar:
        yield song.guitar
    if song.key:
        yield song.key
    if song.meter:
        yield song.meter
    if song.tempo or song.free:
        yield _tempo(song.tempo)
    for turn in song.turns:
        yield f"{_tempo(turn.tempo)} {turn.where}"


def _tempo(tempo: TempoData | None) -> str:
    return "free" if tempo is None else f"{tempo.beat} = {round(tempo.bpm, 1):g}"


def _presses(data: NightData, song: SongData, bank: int | None) -> Iterator[Press]:
    if song.begins_late or song.feet_first:
        feet = tuple(map(str, song.feet_first))
        yield Press("beginning", False, "", "", "", feet, False, "", kept=song.begins_late)
    for moment in song.moments:
        place = _place(data, song, moment.scene)
        moved = place is not None and place.bank != bank
        if place is not None:
            bank = place.bank
        yield Press(
            where=_where(moment),
            assumed=_is_guess(moment),
            switch=_switch(place),
            scene=moment.scene,
            cue=moment.cue,
            feet=tuple(map(str, moment.feet)),
            stay=moment.press == "stay",
            unless_on=moment.press == "unless on",
            new_bank=place.bank_shown if place is not None and moved else "",
            guitar=moment.guitar,
            note=data.scene(song.owner, moment.scene).note,
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


def _switch(place: PlaceData | None) -> str:
    return "none" if place is None else place.switch_shown


def _bank(place: PlaceData | None, before: int | None) -> Bank:
    if place is None:
        return Bank("none", None, moves=False)
    return Bank(place.bank_shown, place.bank, moves=place.bank != before)


def _last_bank(data: NightData, song: SongData) -> int | None:
    """Return the bank in which a song ends; None where it presses nothing."""
    places = [_place(data, song, moment.scene) for moment in song.moments]
    return next((place.bank for place in reversed(places) if place is not None), None)
