"""A scene and a song as this rig plays them tonight."""

from __future__ import annotations

import re
from typing import NamedTuple

from setwright.compiler.binding.foot import FootMove, Walk
from setwright.compiler.binding.states import Wanted
from setwright.scenes.forms import AtPart, AtTime, Position
from setwright.scenes.moments import Moment
from setwright.scenes.musical_time import Tempo
from setwright.scenes.night import Playing
from setwright.scenes.places import KeyPath
from setwright.scenes.resolve import ResolvedSong
from setwright.scenes.songs import Song

GENERAL = ""
"""Owner of the rig's general scenes."""

KEPT = "\n"
"""Owner of what is kept on its switch in every bank; no song is called so."""

EVERY_BANK = "every bank"
"""What commands call the owner of what is kept in every bank."""


class BoundScene(NamedTuple):
    """A scene as this rig plays it.

    ``effects`` are those that sound, after fallbacks; ``replaced`` the fallbacks taken:
    (asked for, played instead or `NOTHING`). Scenes of one night with equal ``recipe`` have
    the same ``wanted``. ``echo_path`` is where the delay's time is asked for, empty if nowhere.
    """

    name: str
    effects: tuple[str, ...]
    replaced: tuple[tuple[str, str], ...]
    wanted: tuple[Wanted, ...]
    path: KeyPath
    recipe: tuple[object, ...]
    echo_path: KeyPath = ()

    def of(self, unit: str) -> tuple[Wanted, ...]:
        """Return the quantities of one unit."""
        return tuple(wanted for wanted in self.wanted if wanted.unit == unit)


class BoundSong(NamedTuple):
    """A song as it is played tonight on this rig.

    ``number`` counts the songs of the night from 1, 0 for songs kept for requests and songs
    that are not played; ``general`` tells that the rig's general scenes are used. ``feet``
    holds the moves of the foot at each of the ``moments``, ``walk`` all that it does. ``owner``
    is the name under which its scenes are placed: its identity, or `GENERAL`; where it is played
    again in another way, what that playing is ``called``. No two playings of a night are called
    the same: by number and identity, ``7 Drowsy Maggie``, or ``if asked Drowsy Maggie``. ``taps``
    holds what to tap when a scene is chosen that no moment presses.
    """

    resolved: ResolvedSong
    tempo: Tempo | None
    guitar: str
    scenes: dict[str, BoundScene]
    moments: tuple[Moment, ...]
    feet: tuple[tuple[FootMove, ...], ...]
    walk: Walk
    general: bool
    number: int
    playing: Playing | None
    left_out: frozenset[str]
    owner: str
    called: str
    taps: tuple[tuple[str, FootMove], ...] = ()

    @property
    def song(self) -> Song:
        """The song as written."""
        return self.resolved.song

    @property
    def is_straight(self) -> bool:
        """Whether it follows the song before without a pause; after a break nothing does."""
        return is_straight(self.playing)

    @property
    def begins_late(self) -> bool:
        """Whether nothing is pressed at its beginning, though something is later."""
        return bool(self.moments) and self.moments[0].is_late

    def position_in_words(self, moment: Moment) -> str | None:
        """Return where a moment lies, as a player would say it; None where nobody knows."""
        if moment.position is None and (moment.bars == 0 or moment.seconds == 0):
            return "the beginning"
        position = self._position(moment)
        return None if position is None else str(position)

    def position_in_brief(self, moment: Moment) -> str:
        """Return the same, with rounds as bare numbers; empty where nobody knows."""
        position = self._position(moment)
        if isinstance(position, AtPart):
            return position.brief
        return "" if position is None else str(position)

    def _position(self, moment: Moment) -> Position | None:
        shape = self.resolved.shape
        if moment.position is not None:
            return shape.in_words(moment.position)
        if moment.bars is not None:
            return shape.position_at(moment.bars)
        return AtTime(moment.seconds) if moment.seconds is not None else None


def is_straight(playing: Playing | None) -> bool:
    """Tell whether what is played follows the song before without a pause."""
    return playing is not None and playing.straight_into is not None and playing.path[-1] != 0


_CAPO = re.compile(r"\bcapo\s+\d+", re.IGNORECASE)


def guitar_tonight(guitar: str, capo: int | None) -> str:
    """Return the guitar as written, with tonight's capo in place of the usual one."""
    if capo is None:
        return guitar
    tonight = f"capo {capo} tonight" if capo else "no capo tonight"
    if _CAPO.search(guitar):
        return _CAPO.sub(tonight, guitar, count=1)
    return f"{guitar}, {tonight}" if guitar else tonight
