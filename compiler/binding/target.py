"""The rig as a target: every name in it resolved, every number as it goes over the wire.

These are the records; `aim` makes them. What they hold can be relied on: every demand names a
unit and a state that exist.
"""

from __future__ import annotations

from collections.abc import Container
from dataclasses import dataclass, field
from fractions import Fraction
from typing import NamedTuple

from setwright.compiler.midi import banks_reached
from setwright.scenes import instead
from setwright.scenes.book import Book
from setwright.scenes.musical_time import NoteValue, Tempo
from setwright.scenes.places import KeyPath
from setwright.scenes.quantities import Amount, plain_number
from setwright.scenes.unit import Unit

NOTHING = instead.NOTHING
"""What ``instead of:`` says where a scene can do without the effect."""

TAKEN = ("time", "program", "switch", "loop", "relay", "foot", "use", "bank", "clock")
"""What a control cannot be called, for units have something else of that name."""


def is_relay(quantity: str) -> bool:
    """Tell whether relays make this quantity: ``relay``, or that and the name of what they work."""
    return quantity.partition(" ")[0] == "relay"


ALWAYS_THERE = ("guitar",)
"""Names in a signal path that need no declaration."""

SWITCHER = "switcher"
COMPUTER = "computer"
"""What the two are called among units: names in a MIDI line that need no declaration."""


class Program(NamedTuple):
    """A program of a unit: your name, what its display shows, and what goes over the wire.

    ``number`` is 0 to 127; ``bank`` is the bank select value, None where none is sent.
    """

    name: str
    shown: str
    number: int
    bank: int | None = None

    @property
    def on_wire(self) -> tuple[int, int]:
        """Bank and number: one program may have two names."""
        return self.bank or 0, self.number

    def __str__(self) -> str:
        return f"{self.name} (display {self.shown}, program {self.number} on the wire)"


class Setting(NamedTuple):
    """A control's setting: the amount or position asked for, and its value, 0 to 127.

    ``given`` is what that value makes on the curve; it differs from ``asked`` by rounding. Where
    the control takes 14 bits, ``fine`` is the value of the fine part, 0 to 127, and ``alone`` the
    setting that comes nearest where only the coarse part can be sent; its own ``fine`` is 0.
    ``by_press`` tells that no value brings it, but presses that go from one to the next.
    """

    asked: Amount | str
    value: int
    given: Amount | str
    fine: int | None = None
    alone: Setting | None = None
    by_press: bool = False


class Tap(NamedTuple):
    """What a foot taps into a delay: ``note``, or a time in ``milliseconds`` where there is none.

    Without either it is the song's beat.
    """

    note: NoteValue | None = None
    milliseconds: Fraction | None = None

    def at(self, tempo: Tempo | None) -> str:
        """Return what is tapped in a song: how often a minute, which is 60,000 ÷ ms."""
        if tempo is not None and self.note in (None, tempo.beat) and not self._is_bare:
            return f"tap {tempo}"
        return str(self)

    @property
    def _is_bare(self) -> bool:
        """Whether it is a time that no note has."""
        return self.note is None and self.milliseconds is not None

    def __str__(self) -> str:
        if self.milliseconds is None:
            return "tap the beat"
        often = round(60_000 / self.milliseconds)
        if self.note is not None:
            return f"tap {self.note} = {often}"
        return f"tap {plain_number(round(self.milliseconds, 1))} ms ({often} a minute)"


class Combined(NamedTuple):
    """A name under ``effects:`` that stands for several effects at once."""

    name: str
    members: tuple[str, ...]


class Pace(NamedTuple):
    """A tempo that the switcher has while a preset is loaded: ``often`` a minute, and of what."""

    often: Fraction
    of: str

    def __str__(self) -> str:
        return f"{self.of} = {plain_number(round(self.often, 1))}"


class Demand(NamedTuple):
    """What one effect asks of one quantity of one unit.

    ``quantity`` is ``program``, ``foot``, ``relay``, or a control's name; a demand for the
    unit alone has quantity ``use`` and value None.
    """

    unit: str
    quantity: str
    value: Program | Setting | str | None
    path: KeyPath


@dataclass(slots=True)
class Target:
    """A rig whose names are resolved.

    ``makes`` holds the demands of every effect that this rig can make; ``gone`` the units that
    are left out tonight; ``lost`` the effects that only those units could make; ``choices``
    what ``instead of:`` names that no effect of this rig is called; ``loop_mates`` the units
    that sit in one loop with a unit, and ``contacts`` those on one relay contact with it;
    ``combined`` the names in ``makes`` that stand for several effects at once, with these;
    ``pedals`` the controls that a foot moves with a pedal that sends: unit and control → pedal;
    ``free_programs`` those of units on which something may be stored, with no names;
    ``doubted`` the units of combinations that are written wrongly, which may clash only for that.
    """

    book: Book
    units: dict[str, Unit]
    programs: dict[str, dict[str, Program]]
    makes: dict[str, tuple[Demand, ...]]
    gone: frozenset[str] = frozenset()
    lost: frozenset[str] = frozenset()
    rest: dict[str, dict[str, Program | Setting | str]] = field(default_factory=dict)
    broken_effects: frozenset[str] = frozenset()
    choices: list[tuple[str, KeyPath]] = field(default_factory=list)
    loop_mates: dict[str, tuple[str, ...]] = field(default_factory=dict)
    contacts: dict[str, tuple[str, ...]] = field(default_factory=dict)
    combined: tuple[Combined, ...] = ()
    doubted: frozenset[str] = frozenset()
    pedals: dict[tuple[str, str], str] = field(default_factory=dict)
    free_programs: dict[str, tuple[Program, ...]] = field(default_factory=dict)

    def stand_in(self, effect: str, besides: Container[str] = ()) -> str | None:
        """Return what this rig plays where ``effect`` is asked for, ``besides`` others.

        The effect itself if the rig makes it, else the first of ``instead of:`` that it makes,
        and that does not sound already if there is such a one; `NOTHING` where a scene may do
        without; None where there is no way.
        """
        seen: set[str] = set()
        waiting, there_already = [effect], None
        while waiting:
            one = waiting.pop(0)
            if one == NOTHING or one in self.makes:
                if one == effect or one not in besides:
                    return one
                there_already = there_already or one
            elif one not in seen:
                seen.add(one)
                waiting = [*self.book.rig.instead_of.get(one, ()), *waiting]
        return there_already


def reached(unit: Unit) -> int:
    """Return how many programs the messages that ``unit`` is declared to obey can reach."""
    select = unit.bank_select
    return banks_reached(select.by) * select.programs_in_a_bank if select else 128
