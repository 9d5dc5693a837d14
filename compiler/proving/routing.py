"""Who receives and who acts: every message followed along cables, THRU and merges.

A MIDI line is a chain: the OUT of its first member leads to the IN of the second, whose THRU
leads to the third, as far as every THRU on the way is on. A line may begin with a box that is
itself on another line: what that box passes on goes on there, as out of a merge. A unit that a
message reaches acts on it if it listens on the channel and either declares a reaction or has not
said that it acts only on what is declared: what is not known counts as acting.

Sources: MIDI 1.0 Detailed Specification 4.2.1 for THRU (hardware: a copy of what arrives at IN,
without the unit's own messages), channels, omni and bank select; the rest follows from the cables.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field
from enum import StrEnum
from itertools import pairwise
from typing import NamedTuple

from setwright.compiler.binding.target import COMPUTER, SWITCHER
from setwright.compiler.midi import BANK_LSB, BANK_MSB, Message
from setwright.scenes.control import Control
from setwright.scenes.places import KeyPath
from setwright.scenes.rig import Rig
from setwright.scenes.switcher import Switcher
from setwright.scenes.unit import Unit
from setwright.scenes.wording import with_article


class Reaction(StrEnum):
    """What a unit does with a message that reaches it."""

    ACTS = "acts"
    MAY_ACT = "may act"
    IGNORES = "ignores"
    OTHER_CHANNEL = "other channel"

    @property
    def would(self) -> str:
        """How sure it is: would, or might."""
        return "might" if self is Reaction.MAY_ACT else "would"

    @property
    def acting(self) -> bool:
        """Whether it does something, or nobody knows that it does not."""
        return self in {Reaction.ACTS, Reaction.MAY_ACT}


class Cable(NamedTuple):
    """One MIDI cable, from a box's OUT or THRU to another's IN; ``path`` is where it is written."""

    start: str
    end: str
    from_thru: bool
    path: KeyPath


class Hearing(NamedTuple):
    """One box that a message reaches, what it does with it, in words, and the cables there."""

    unit: str
    reaction: Reaction
    what: str
    way: tuple[Cable, ...]


class Join(NamedTuple):
    """A merge into which several cables bring the messages of one sender.

    ``hear`` are the boxes behind it, nearest first, the merge among them: they hear each twice.
    """

    box: str
    into: tuple[Cable, ...]
    hear: tuple[str, ...]


@dataclass(slots=True)
class Lines:
    """The MIDI lines of a rig as a graph, without the units that are ``gone`` tonight.

    Where a unit is gone, its neighbours are taken to be joined. ``passes`` tells of every box
    on a line whether it passes on what it receives.
    """

    rig: Rig
    switcher: Switcher
    gone: frozenset[str] = frozenset()
    cables: list[Cable] = field(init=False, default_factory=list)
    passes: dict[str, bool] = field(init=False, default_factory=dict)
    _reach: dict[str, dict[str, tuple[Cable, ...]]] = field(init=False, default_factory=dict)

    def __post_init__(self) -> None:
        """Read the lines of the rig."""
        said: dict[str, list[bool]] = {}
        for row, line in enumerate(self.rig.midi):
            names = [next(iter(item)) for item in line]
            for name, item in zip(names, line, strict=True):
                thru = item[name].thru
                said.setdefault(name, []).extend([] if thru is None else [thru])
            for index, (start, end) in enumerate(pairwise(names)):
                # What follows a switcher or a computer hangs on its OUT, wherever it stands.
                thru_of = index > 0 and start not in {SWITCHER, COMPUTER}
                path: KeyPath = ("rig", "midi", row, index + 1, end)
                self.cables.append(Cable(start, end, thru_of, path))
        for name, words in said.items():
            # A box has one THRU: where any line says that it is off, it is off.
            self.passes[name] = all(words) if words else self._usually_passes(name)
        for name in self.gone:
            self._join_around(name)

    def _join_around(self, gone: str) -> None:
        """Take a box out, and plug each cable that led into it on to where it led."""
        into = [cable for cable in self.cables if cable.end == gone != cable.start]
        out = [cable for cable in self.cables if cable.start == gone != cable.end]
        joined = [Cable(one.start, two.end, one.from_thru, two.path) for one in into for two in out]
        self.cables = [one for one in self.cables if gone not in (one.start, one.end)] + joined

    def _usually_passes(self, name: str) -> bool:
        if name == SWITCHER:
            return self.switcher.passes_on_midi
        unit = self.rig.units.get(name)
        return unit.thru if unit is not None else False

    @property
    def first(self) -> set[str]:
        """The boxes with which lines begin."""
        return {cable.start for cable in self.cables if not cable.from_thru}

    @property
    def sender(self) -> str:
        """Who sends the messages of scenes: the switcher's presets, if a line leads out of it.

        Where none does, and a computer has a line to a unit that listens, that sends them, and
        presets hold loops and relays alone. A cable from the switcher to the computer brings no
        unit anything.
        """
        to = {cable.end for cable in self.cables if cable.start == SWITCHER}
        if to - {COMPUTER} or COMPUTER not in self.first:
            return SWITCHER
        return COMPUTER if self.listening(COMPUTER) else SWITCHER

    @property
    def recalls(self) -> bool:
        """Whether a program of the computer gets to the switcher, as far as cables are said."""
        return COMPUTER not in self.first or SWITCHER in self.reach(COMPUTER)

    def listening(self, sender: str) -> list[str]:
        """Return the units with a MIDI channel that hear ``sender``, nearest first."""
        units = self.rig.units
        return [
            name
            for name in self.reach(sender)
            if name in units and units[name].channel is not None and name not in self.gone
        ]

    def start_of(self, sender: str) -> str:
        """Return the box at which a sender's messages enter the lines.

        A computer that has no line of its own stands where the switcher stands.
        """
        return SWITCHER if sender == COMPUTER and COMPUTER not in self.first else sender

    def reach(self, sender: str) -> dict[str, tuple[Cable, ...]]:
        """Return every box that hears ``sender``, nearest first, with the cables to it."""
        if sender not in self._reach:
            self._reach[sender] = self._follow(self.start_of(sender))
        return self._reach[sender]

    def _follow(self, start: str) -> dict[str, tuple[Cable, ...]]:
        found: dict[str, tuple[Cable, ...]] = {}
        waiting: list[tuple[str, tuple[Cable, ...]]] = [(start, ())]
        while waiting:
            name, way = waiting.pop(0)
            for cable in self.cables:
                # Its own messages leave by OUT alone; what it receives it passes on, or not.
                goes = self.passes[name] if way else not cable.from_thru
                if cable.start == name and goes and cable.end not in found:
                    found[cable.end] = (*way, cable)
                    waiting.append((cable.end, (*way, cable)))
        return found

    def joins(self, sender: str) -> list[Join]:
        """Return every merge that gets the messages of ``sender`` by more than one cable.

        Other boxes have one MIDI IN, so two cables into one of them are a slip of their own; and
        what goes round in a circle is another.
        """
        start, reached, closing = self.start_of(sender), self.reach(sender), self.loops()
        into: dict[str, list[Cable]] = {}
        for cable in self.cables:
            own = cable.start == start and not cable.from_thru
            if (own or (cable.start in reached and self.passes[cable.start])) and (
                cable not in closing
            ):
                into.setdefault(cable.end, []).append(cable)
        return [
            Join(name, tuple(cables), (name, *self.behind(name)))
            for name, cables in into.items()
            if len(cables) > 1 and name in self.rig.units and self.rig.units[name].is_ == "merge"
        ]

    def behind(self, start: str) -> list[str]:
        """Return the boxes that get what ``start`` passes on, nearest first."""
        found: list[str] = []
        waiting = [start]
        while waiting:
            name = waiting.pop(0)
            for cable in self.cables:
                if cable.start == name and self.passes[name] and cable.end not in (start, *found):
                    found.append(cable.end)
                    waiting.append(cable.end)
        return found

    def stopped(self, sender: str, end: str) -> str | None:
        """Return the first box on the cables from ``sender`` to ``end`` that passes nothing on.

        None where no cables lead there, or where it is heard.
        """
        seen: list[str] = []
        waiting, reached = [end], self.reach(sender)
        while waiting and end not in reached:
            name = waiting.pop(0)
            for cable in self.cables:
                if cable.end == name and cable.start not in seen:
                    if cable.start in reached and not self.passes[cable.start]:
                        return cable.start
                    seen.append(cable.start)
                    waiting.append(cable.start)
        return None

    def where_thru(self, name: str) -> KeyPath:
        """Return where it is said that ``name`` does not pass on what it receives."""
        if name == SWITCHER:
            return ("switcher", "passes on MIDI")
        for row, line in enumerate(self.rig.midi):
            for index, item in enumerate(line):
                if name in item and item[name].thru is False:
                    return ("rig", "midi", row, index, name, "thru")
        return ("rig", "units", name, "thru")

    def loops(self) -> list[Cable]:
        """Return each cable that closes a circle of boxes that all pass on what they receive."""
        before: list[Cable] = []
        closing = []
        for cable in self.cables:
            if self._leads(before, cable.end, cable.start):
                closing.append(cable)
            else:
                before.append(cable)
        return closing

    def _leads(self, cables: list[Cable], start: str, end: str) -> bool:
        seen, waiting = {start}, [start]
        while waiting:
            name = waiting.pop()
            if not self.passes[name]:
                continue
            if name == end:
                return True
            new = {cable.end for cable in cables if cable.start == name} - seen
            seen |= new
            waiting += new
        return False

    def hear(self, sender: str, message: Message) -> list[Hearing]:
        """Return every box that ``message`` of ``sender`` reaches, and what each does with it."""
        result = []
        for name, way in self.reach(sender).items():
            unit = self.rig.units.get(name)
            if unit is not None:
                does, what = reaction(unit, message)
            elif name == SWITCHER:
                does, what = switchers_reaction(self.switcher, message)
            else:
                continue
            result.append(Hearing(name, does, what, way))
        return result


def reaction(unit: Unit, message: Message) -> tuple[Reaction, str]:
    """Return what ``unit`` does with ``message``, and in words what it would do."""
    if unit.channel is None:
        return Reaction.IGNORES, "has no MIDI channel"
    if unit.channel != "omni" and unit.channel != message.channel:
        return Reaction.OTHER_CHANNEL, f"listens on channel {unit.channel}"
    if message.kind == "program":
        return _program(unit, message.data[0])
    if message.kind == "control":
        return _control(unit, message.data[0])
    return Reaction.IGNORES, f"is told nothing by {with_article(message.kind)}"


def _program(unit: Unit, number: int) -> tuple[Reaction, str]:
    if unit.programs and unit.reached_by is None:
        shown = ""
        if unit.display is not None and number < unit.display.count:
            shown = f" (display {unit.display.show(number)})"
        return Reaction.ACTS, f"load program {number}{shown}"
    if unit.acts_only_on:
        return Reaction.IGNORES, "ignores programs"
    return Reaction.MAY_ACT, f"load program {number}"


def _control(unit: Unit, number: int) -> tuple[Reaction, str]:
    for used, meaning, _ in declared_controls(unit):
        if used == number:
            return Reaction.ACTS, f"take control {number} for its {meaning}"
    if takes_bank_select(unit, number):
        return Reaction.ACTS, f"take control {number} for a bank select"
    if unit.acts_only_on:
        return Reaction.IGNORES, f"ignores control {number}"
    return Reaction.MAY_ACT, f"do something on control {number}"


def takes_bank_select(unit: Unit, number: int) -> bool:
    """Tell whether ``unit`` declares that it obeys bank select by control ``number``."""
    by = unit.bank_select.by if unit.bank_select is not None else ""
    return ("msb" in by and number == BANK_MSB) or ("lsb" in by and number == BANK_LSB)


def switchers_reaction(switcher: Switcher, message: Message) -> tuple[Reaction, str]:
    """Return what the switcher itself does with ``message``."""
    if switcher.recalled_on_channel is None or message.kind != "program":
        return Reaction.IGNORES, "does nothing with it"
    if message.channel != switcher.recalled_on_channel:
        return Reaction.OTHER_CHANNEL, f"obeys programs on channel {switcher.recalled_on_channel}"
    preset = message.data[0] - switcher.first_program + 1
    if not 0 < preset <= switcher.banks.count * switcher.switches.count:
        return Reaction.IGNORES, f"has no preset for program {message.data[0]}"
    return Reaction.ACTS, f"load its preset {preset}"


def declared_controls(unit: Unit) -> Iterator[tuple[int, str, KeyPath]]:
    """Yield every control number that ``unit`` declares: number, meaning, key path within it."""
    if unit.switched_by is not None:
        yield unit.switched_by.cc, "on and off", ("switched by", "cc")
    named: list[tuple[str, Control | None, KeyPath]] = [
        ("time", unit.time, ("time",)),
        ("tap", unit.tap, ("tap",)),
        *((name, control, ("controls", name)) for name, control in unit.controls.items()),
    ]
    for name, control, path in named:
        if control is not None:
            yield control.cc, name, (*path, "cc")
            if control.fine_cc is not None:
                yield control.fine_cc, f"{name} (fine part)", (*path, "fine cc")
    if unit.reached_by is not None:
        yield unit.reached_by.up, "step up", ("reached by", "up")
        if unit.reached_by.down is not None:
            yield unit.reached_by.down, "step down", ("reached by", "down")
