"""What a person types into the switcher, as the preset sheet shows it: the records."""

from __future__ import annotations

from typing import NamedTuple


class Way(NamedTuple):
    """A loop or a relay in one preset; ``made`` tells that it is in, or closed.

    ``state`` says so in a word, ``meaning`` what that means for its unit, if anything.
    """

    number: int
    unit: str
    made: bool
    state: str
    meaning: str = ""


class Slot(NamedTuple):
    """A message slot that is filled; ``kind`` is program or control."""

    kind: str
    slot: int
    unit: str
    channel: int
    bank_msb: int | None
    bank_lsb: int | None
    shown: str
    number: int
    value: int | None
    meaning: str

    @property
    def bank_select(self) -> str:
        """The bank select that goes before the program, in words; empty without one."""
        selects = (("MSB", self.bank_msb), ("LSB", self.bank_lsb))
        return ", ".join(f"{name} {value}" for name, value in selects if value is not None)


class Use(NamedTuple):
    """A song that needs a preset, and for which of its scenes."""

    song: str
    scenes: str


class Preset(NamedTuple):
    """One preset as it is typed in; ``empty`` holds the slots that must be: kind → slots.

    ``tempo`` is the number to type where the preset has a tempo, ``tempo_means`` what it counts.
    """

    switch: str
    name: str
    loops: tuple[Way, ...]
    relays: tuple[Way, ...]
    slots: tuple[Slot, ...]
    empty: dict[str, tuple[int, ...]]
    uses: tuple[Use, ...]
    tempo: str = ""
    tempo_means: str = ""

    @property
    def empty_in_words(self) -> str:
        """Which slots hold nothing; what was stored in them before would be sent as well."""
        return " and ".join(
            f"{kind} slot{'s' if len(numbers) > 1 else ''} {_span(numbers)}"
            for kind, numbers in self.empty.items()
            if numbers
        )


class Other(NamedTuple):
    """A switch with no preset of this night, and what becomes of it."""

    switch: str
    what: str


class Bank(NamedTuple):
    """A bank in which something is to be stored; ``kept`` switches are not to be touched."""

    shown: str
    presets: tuple[Preset, ...]
    kept: tuple[Other, ...]
    unused: tuple[Other, ...]


class Kept(NamedTuple):
    """What is typed once in every bank; ``banks`` says which these are, from first to last."""

    banks: str
    presets: tuple[Preset, ...]


class Held(NamedTuple):
    """A program that a unit must hold; ``stored`` tells that it is known to be there."""

    shown: str
    name: str
    stored: bool


class Box(NamedTuple):
    """A unit on the MIDI line, and how it is to be set."""

    unit: str
    channel: str
    display: str
    programs: tuple[Held, ...]


class Step(NamedTuple):
    """One preset to type; ``copy`` is the bank and switch that it begins as a copy of, if any."""

    bank: str
    switch: str
    name: str
    copy: str
    from_nothing: bool
    entries: tuple[str, ...]
    uses: str


class Sheet(NamedTuple):
    """Everything that is printed.

    ``boxes`` are to be set, and ``by_hand`` is what no message can set, before anything is typed;
    ``steps`` are what is to be typed, in the order that takes the least.
    """

    night: str
    date: str
    note: str
    rig: str
    without: tuple[str, ...]
    state: str
    switcher: str
    summary: str
    behaviour: tuple[str, ...]
    sender: str
    banks: tuple[Bank, ...]
    kept: Kept
    boxes: tuple[Box, ...] = ()
    by_hand: tuple[str, ...] = ()
    steps: tuple[Step, ...] = ()


def _span(numbers: tuple[int, ...]) -> str:
    if len(numbers) > 2 and numbers[-1] - numbers[0] == len(numbers) - 1:
        return f"{numbers[0]} to {numbers[-1]}"
    return ", ".join(map(str, numbers))
