"""What the player does on the night, as every form of the cue sheet shows it: the records.

Whatever is empty has nothing to say there. Banks and switches stand as the switcher shows them.
"""

from __future__ import annotations

from typing import NamedTuple


class Bank(NamedTuple):
    """The bank of a song, counted from 1; ``moves`` tells that the player must go there.

    ``by`` says how many banks up, or down where it is less than nothing; 0 where nobody knows, or
    where it is not moved step by step.
    """

    shown: str
    number: int | None
    moves: bool
    by: int = 0

    @property
    def presses(self) -> str:
        """The presses that lead there, in words: ``up 2``; empty where ``by`` does not say."""
        return f"{'up' if self.by > 0 else 'down'} {abs(self.by)}" if self.by else ""


class Choice(NamedTuple):
    """A scene to choose at any time; ``bank`` is empty where it is the song's own.

    ``feet`` says where foot-operated units have to stand, where that is not the same in all
    scenes of the song, or in a song without moments not as between songs; and what to tap.
    ``note`` is the scene's own.
    """

    switch: str
    scene: str
    bank: str = ""
    feet: tuple[str, ...] = ()
    note: str = ""


class Press(NamedTuple):
    """A line of a song: where, which switch, and what happens beside.

    ``where`` is in words, ``brief`` the same where there is little room: ``2 A``. ``stay`` says
    that nothing is pressed, ``unless_on`` that the player has to look first; at the beginning of a
    song ``kept`` says that the sound of before goes on. ``guitar`` is taken up before it;
    ``bank`` is moved to before it, if any; ``note`` is the scene's own.
    """

    where: str
    assumed: bool
    switch: str
    scene: str
    cue: str
    feet: tuple[str, ...]
    stay: bool
    unless_on: bool = False
    kept: bool = False
    guitar: str = ""
    note: str = ""
    brief: str = ""
    bank: Bank | None = None

    @property
    def new_bank(self) -> str:
        """The bank that is moved to before it, as the switcher shows it; empty without one."""
        return self.bank.shown if self.bank is not None else ""


class Next(NamedTuple):
    """The song that comes after one: what to have ready. ``straight`` follows without a pause."""

    number: int
    title: str
    bank: Bank
    switch: str
    gear: str
    straight: bool


class Card(NamedTuple):
    """One song.

    ``facts`` are what to know of it before the first note, in words; ``key``, ``meter``,
    ``tempos``, ``form`` and ``length`` are what the band needs, each alone. ``gear`` is the guitar
    and its tuning and capo where they are not as they were in the song before. ``switch`` is the
    first that is pressed; ``starts`` when it is due: a time of day, or how long after the first
    song of the set. ``more_banks`` are those besides ``bank`` in which its scenes lie.

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
    onward: Next | None = None
    more_banks: tuple[str, ...] = ()
    switch: str = ""
    gear: str = ""
    starts: str = ""
    key: str = ""
    meter: str = ""
    tempos: tuple[str, ...] = ()
    form: str = ""
    length: str = ""
    time: str = ""

    @property
    def order(self) -> tuple[str, ...]:
        """The switches in the order in which they are pressed, the same one in a row once.

        Where the foot goes to another bank, that stands before the switch: ``5–1``. Where nothing
        is pressed in an order, the switches of its scenes.
        """
        pressed = [
            f"{one.new_bank}–{one.switch}" if one.bank is not None else one.switch
            for one in self.presses
            if one.scene
        ]
        row = pressed or [
            f"{one.bank}–{one.switch}" if one.bank else one.switch for one in self.choices
        ]
        return tuple(one for at, one in enumerate(row) if not at or row[at - 1] != one)


class Set(NamedTuple):
    """The songs between two breaks; ``begins`` is the time of day, ``lasts`` how long it takes."""

    name: str
    length: str
    note: str
    songs: tuple[Card, ...]
    begins: str = ""
    lasts: str = ""


class Asked(NamedTuple):
    """A title that may be asked for, and where it lies; ``number`` is that of tonight, or 0."""

    title: str
    number: int
    bank: str
    switch: str


class Sheet(NamedTuple):
    """Everything that is printed.

    ``state`` stands for what the switcher has to hold; ``without`` are the units left out;
    ``before`` is what to set before the night; ``first`` the switch that has to be pressed before
    the first song, and ``first_bank`` its bank; ``goes_back`` tells that a switch that is on must
    not be pressed again, ``wait`` how long to wait at each bank on the way. ``titles`` are all
    songs that may be asked for, from A to Z; ``by_hand`` the loops and relays with their units, for
    playing without presets; ``pauses`` tells whether the times hold the pauses between songs.
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
    titles: tuple[Asked, ...] = ()
    by_hand: tuple[str, ...] = ()
    pauses: bool = False
