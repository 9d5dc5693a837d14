"""A night being followed: what was pressed and turned by hand → what its page shows, in words.

Data flows one way: a port's packets → messages → presses (`presses`) → where the night is
(`cursor`) → news for the page (`page_server`). The page alone answers: when it is turned by hand.
"""

from __future__ import annotations

import threading
from collections.abc import Callable, Collection
from typing import NamedTuple

from setwright.compiler.lowering.preset import Address
from setwright.compiler.outputs.cued import Card, Choice
from setwright.compiler.outputs.cued import Press as Line
from setwright.compiler.outputs.cues import sheet_of
from setwright.compiler.outputs.data import NightData, SongData
from setwright.compiler.outputs.filled import shown
from setwright.compiler.outputs.plain import PlaceData
from setwright.compiler.sending.following import cursor as where
from setwright.compiler.sending.following.cursor import Cursor, Song, Spot
from setwright.compiler.sending.incoming.expected import Tonight
from setwright.compiler.sending.incoming.presses import Press

PASSING = 2.0
"""Seconds within which a foot goes on to the next bank (common practice, no source)."""


class Page(NamedTuple):
    """A song's part of the page: its id there, its moments, and where its lines lie."""

    id: str
    card: Card
    moments: tuple[Line, ...]
    song: Song

    @property
    def lines(self) -> tuple[Line | Choice, ...]:
        """All lines, in the order of the song's."""
        return (*self.moments, *self.card.choices)


def pages_of(data: NightData, night: Tonight) -> tuple[Page, ...]:
    """Return the songs of the page in its order; what is pressed lies where ``data`` says.

    A preset that sends nothing is as good as none: nobody hears when it is pressed.
    """
    audible = frozenset(one.address for one in night.presets if one.commands)
    sheet = sheet_of(data)
    by_number = {song.number: song for song in data.songs if song.number}
    cards = [(f"song-{card.number}", card) for one in sheet.sets for card in one.songs]
    songs = [by_number[card.number] for _, card in cards]
    cards += [(f"asked-{number}", card) for number, card in enumerate(sheet.asked, 1)]
    songs += [song for song in data.songs if not song.number]
    pairs = zip(cards, songs, strict=True)
    return tuple(_page(data, audible, name, card, song) for (name, card), song in pairs)


def _page(
    data: NightData, audible: Collection[Address], name: str, card: Card, song: SongData
) -> Page:
    pressed = [None if one.press == "stay" else one.scene for one in song.moments]
    known = {one.scene for one in song.moments}
    others = [one for one in song.scenes if one not in known]
    places = (
        None if scene is None else _address(data.scene(song.owner, scene).place)
        for scene in (*pressed, *others)
    )
    lines = tuple(one if one in audible else None for one in places)
    said = tuple(one for one in card.presses if one.scene)
    return Page(name, card, said, Song(lines, len(said), asked=not song.number))


def _address(place: PlaceData | None) -> Address | None:
    return None if place is None else Address(place.bank - 1, place.switch - 1)


class Follower:
    """One night, and its page; ``tell`` is given the news whenever something has changed.

    Presses come from one thread, turns by hand from others.
    """

    def __init__(
        self, data: NightData, night: Tonight, tell: Callable[[dict[str, object]], None]
    ) -> None:
        self._pages = pages_of(data, night)
        self._tell = tell
        self._lock = threading.Lock()
        first = _address(data.switcher.first_of_all)
        self._cursor = where.begin(tuple(one.song for one in self._pages), first)
        self._moves = _Moves(data.switcher.bank_moves_load)
        self._now = ""
        self._presses = 0
        self._begun = False
        self._midi: dict[str, object] = {"gone": False, "words": ""}

    def pressed(self, press: Press, at: float) -> str:
        """Move to what was pressed at second ``at``; return it in words, for whoever logs it."""
        presets = frozenset(one.address for one in press.presets)
        with self._lock:
            base = self._moves.base(self._cursor, presets, at)
            self._cursor = where.heard(base, presets)
            self._now = shown(f"{self._heading()}{self._said(press)}")
            self._presses += 1
            self._begun = True
            self._told()
            return self._now

    def turned(self, name: str, line: int | None) -> bool:
        """Take note that a page was turned to this song by hand, or that we are at this line.

        False where there is none such.
        """
        names = [one.id for one in self._pages]
        if name not in names:
            return False
        song = names.index(name)
        page = self._pages[song]
        if line is not None and line >= len(page.lines):
            return False
        with self._lock:
            if line is None:
                self._cursor = where.turned(self._cursor, song)
            else:
                self._cursor = where.put(self._cursor, Spot(song, line))
                self._now = shown(f"{self._heading()}{_pressed_in_words(page.lines[line])}")
            self._moves.forget()
            self._begun = True
            self._told()
        return True

    def midi(self, words: str, *, gone: bool) -> None:
        """Take note of the port from which presses come: how it is, in words."""
        with self._lock:
            self._midi = {"gone": gone, "words": shown(words)}
            self._told()

    def _told(self) -> None:
        """Tell the page all that there is to know."""
        cursor = self._cursor
        coming = where.following(cursor)
        at = cursor.shown if cursor.shown.line != where.BEFORE else None
        self._tell(
            {
                "song": self._pages[cursor.shown.song].id,
                "sounds": self._line(cursor.sounds),
                "stood": self._line(at if at != cursor.sounds else None),
                "now": self._now,
                "then": shown(self._then(coming)),
                "onward": coming is None or coming.song != cursor.shown.song,
                "presses": self._presses,
                "begun": self._begun,
                "midi": self._midi,
            }
        )

    def _line(self, spot: Spot | None) -> tuple[str, int] | None:
        return None if spot is None else (self._pages[spot.song].id, spot.line)

    def _heading(self) -> str:
        """Return the song that sounds, before its scene; nothing where none does."""
        sounds = self._cursor.sounds
        return "" if sounds is None else f"{_called(self._pages[sounds.song].card)}: "

    def _said(self, press: Press) -> str:
        sounds = self._cursor.sounds
        if not press.presets:
            what = ", ".join(message.hex(" ") for message in press.heard)
            return f"nothing of tonight ({what})"
        if sounds is not None:
            said = _pressed_in_words(self._pages[sounds.song].lines[sounds.line])
        else:
            served = dict.fromkeys(scene for one in press.presets for scene in one.serves)
            said = " or ".join(served)
        return f"{said} (not quite: {press.unlike})" if press.unlike else said

    def _then(self, coming: Spot | None) -> str:
        if coming is None:
            return "nothing comes after it"
        page = self._pages[coming.song]
        sounds = self._cursor.sounds
        if sounds is not None and coming.song == sounds.song == self._cursor.shown.song:
            return f"then {_coming_in_words(page.moments[coming.line])}"
        if coming.line > 0:
            return f"then {_called(page.card)}: {_coming_in_words(page.moments[coming.line])}"
        return f"then {_song_in_words(page.card)}"


class _Moves:
    """What is pressed on the way to another bank, where banks load a preset as they are moved to.

    It counts for nothing once the foot goes on: what it reaches is looked for from where it left.
    """

    def __init__(self, load: bool) -> None:
        self._load = load
        self._left: Cursor | None = None
        self._bank: int | None = None
        self._at = 0.0

    def base(self, now: Cursor, presets: Collection[Address], at: float) -> Cursor:
        """Return where to look for ``presets`` from, pressed at second ``at``."""
        if not self._load or not presets:
            return now
        banks = {one.bank for one in presets}
        left = self._left if at - self._at <= PASSING else None
        moved = self._bank is not None and self._bank not in banks
        base = now if left is None else left
        self._left = base if moved or left is not None else None
        self._bank = banks.pop() if len(banks) == 1 else None
        self._at = at
        return base

    def forget(self) -> None:
        """Stay with what is shown: somebody has turned the page."""
        self._left = None


def _called(card: Card) -> str:
    return f"{card.number} {card.title}" if card.number else card.title


def _song_in_words(card: Card) -> str:
    presses = f" ({card.bank.presses})" if card.bank.presses else ""
    gear = f", {card.gear}" if card.gear else ""
    return f"{_called(card)}: bank {card.bank.shown}{presses}, press {card.switch}{gear}"


def _pressed_in_words(line: Line | Choice) -> str:
    """Return a line that was pressed: ``2 Lift, round 2 A: caller lifts the lamp``."""
    if isinstance(line, Choice):
        return f"{line.switch} {line.scene}"
    cue = f": {line.cue}" if line.cue else ""
    return f"{line.switch} {line.scene}, {line.where}{cue}"


def _coming_in_words(line: Line) -> str:
    """Return a moment that is to come, and where to go before it."""
    bank = f"bank {line.bank.shown}, " if line.bank is not None else ""
    return f"{bank}{'stay: ' if line.stay else ''}{_pressed_in_words(line)}"
