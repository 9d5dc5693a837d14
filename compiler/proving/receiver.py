"""Model receivers: units that take bytes and hold state, with every behaviour that a rig declares.

A receiver is told nothing but a unit's declaration and the bytes on its line, and imports nothing
of what makes those bytes, so that it can judge it. It begins in a state that is not known, or in
any state that a test gives it; what it cannot know stays `UNKNOWN`. Whatever it says that it
knows holds for every state that the unit may have been in before.

Rules of the wire, all from MIDI 1.0 Detailed Specification 4.2.1: running status lasts until the
next status byte and is cancelled by system common and exclusive ones, while real-time bytes may
stand anywhere (running status); bank select waits for its program, and a program alone stays in
the bank (bank select); controls 120 to 127 are channel mode messages (Table IV); a byte takes
320 µs (hardware). A coarse part should reset its fine part (control change), but not every box
does it: unless it is told, a receiver counts on neither. Behaviours of units are as declared in
`scenes.unit`.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from fractions import Fraction
from typing import Final, Literal, NamedTuple

from setwright.scenes.control import Control
from setwright.scenes.quantities import Slip
from setwright.scenes.unit import Unit

UNKNOWN: Final = "?"
"""Stands for a state that cannot be told."""

_DATA_BYTES = {0x8: 2, 0x9: 2, 0xA: 2, 0xB: 2, 0xC: 1, 0xD: 1, 0xE: 2}
_MS_A_BYTE = Fraction(32, 100)
_FIRST_MODE_MESSAGE = 120
_MSB, _LSB = 0, 32

Losing = Literal["messages", "bytes", "bytes within"]
"""What a box loses while it is busy; no source says it of all."""

BY_BYTES: Final[tuple[Losing, ...]] = ("bytes", "bytes within")
"""The two ways of losing single bytes."""

Program = tuple[int, int]
"""Bank and program on the wire, each from 0."""


class State(NamedTuple):
    """What a unit holds: its program, whether it is on, its controls' values by number.

    Any of them may be `UNKNOWN`; a value is 0 to 127, or a text that says which program brought
    it. Steps move ``program`` within bank 0.
    """

    program: Program | str
    on: bool | str
    controls: tuple[tuple[int, int | str], ...]


@dataclass(slots=True)
class Receiver:
    """One unit on a MIDI line. Times are in ms from any beginning, and never go back.

    ``loses`` says what it loses while it is busy: whole ``messages`` that begin then; or single
    ``bytes`` that begin then, or only those that end then, too (``bytes within``). The rest of a
    message may pass for another one.
    """

    unit: Unit
    program: Program | str = UNKNOWN
    on: bool | str = UNKNOWN
    controls: dict[int, int | str] = field(default_factory=dict)
    bank: dict[int, int | str] = field(default_factory=dict)
    lost: list[tuple[int, int]] = field(default_factory=list)
    """Status and first data byte of what arrived while the unit was busy."""
    loses: Losing = "messages"
    disturbed: bool = False
    """Whether something that the unit does not declare may have changed anything."""
    coarse_resets: bool | None = None
    """Whether a coarse part sets its fine part to 0; None where that is not known."""
    _status: int = 0
    _data: list[int] = field(default_factory=list)
    _begun: Fraction = Fraction(0)
    _busy_until: Fraction = Fraction(0)
    _known: dict[int, Control] = field(init=False)

    def __post_init__(self) -> None:
        """Note which controls the unit has, by number."""
        own = (self.unit.time, *self.unit.controls.values())
        self._known = {control.cc: control for control in own if control is not None}

    @property
    def state(self) -> State:
        """What the unit holds now."""
        return State(self.program, self.on, tuple(sorted(self.controls.items())))

    def value(self, control: int) -> int | str:
        """Return the value of control number ``control``."""
        return self.controls.get(control, UNKNOWN)

    def rest(self) -> None:
        """Let as much time pass as any unit needs; time may begin anew after it."""
        self._busy_until = self._begun = Fraction(0)

    def take(self, stream: bytes, now: Fraction = Fraction(0)) -> None:
        """Take bytes, the first of which begins at ``now``, the others right behind it."""
        for index, byte in enumerate(stream):
            if byte >= 0xF8:
                continue
            if self.loses != "messages" and self._loses_byte(now + index * _MS_A_BYTE):
                self.lost.append((byte, 0))
                continue
            if byte >= 0x80:
                self._status, self._data = (byte if byte < 0xF0 else 0), []
                self._begun = now + index * _MS_A_BYTE
                continue
            if not self._status:
                continue
            if not self._data and (not index or stream[index - 1] < 0x80):
                self._begun = now + index * _MS_A_BYTE  # running status: the data byte begins it
            self._data.append(byte)
            if len(self._data) == _DATA_BYTES[self._status >> 4]:
                data, self._data = self._data, []
                self._message(data, now + (index + 1) * _MS_A_BYTE)

    def _loses_byte(self, begins: Fraction) -> bool:
        until = self._busy_until
        return begins < until if self.loses == "bytes" else begins + _MS_A_BYTE <= until

    def _message(self, data: list[int], ends: Fraction) -> None:
        kind, channel = self._status >> 4, (self._status & 0xF) + 1
        if self.unit.channel is None or self.unit.channel not in ("omni", channel):
            return
        if kind not in (0xB, 0xC) or (kind == 0xB and data[0] >= _FIRST_MODE_MESSAGE):
            return
        if self.loses == "messages" and self._begun < self._busy_until:
            self.lost.append((self._status, data[0]))
        elif kind == 0xC:
            self._take_program(data[0], ends)
        else:
            self._take_control(data[0], data[1])

    def _lose_everything(self) -> None:
        """Forget the state: what was not declared may have done anything."""
        self.program = self.on = UNKNOWN
        self.controls.clear()
        self.disturbed = True

    # Programs.

    def _take_program(self, number: int, ends: Fraction) -> None:
        unit = self.unit
        if not unit.programs or unit.reached_by is not None:
            if not unit.acts_only_on:
                self._lose_everything()
            return
        wanted = self._wanted(number)
        if unit.same_program_again == "ignored" and wanted == self.program != UNKNOWN:
            return
        # Where the program may have been there before, nothing may have happened.
        perhaps_nothing = unit.same_program_again == "ignored" and UNKNOWN in (self.program, wanted)
        self.program = wanted
        if unit.loading != "keeps bypass":
            loaded = unit.loading == "engages"
            self.on = loaded if not perhaps_nothing or self.on == loaded else UNKNOWN
        for cc, control in self._known.items():
            if control.after_a_program == "kept":
                continue
            fresh: int | str = UNKNOWN
            if control.after_a_program == "from the program" and wanted != UNKNOWN:
                fresh = f"of program {wanted[0]}/{wanted[1]}"
            self._set(control, fresh if not perhaps_nothing or self.value(cc) == fresh else UNKNOWN)
        if unit.busy_after_program:
            self._busy_until = ends + unit.busy_after_program

    def _wanted(self, number: int) -> Program | str:
        select, display = self.unit.bank_select, self.unit.display
        if select is None:
            beyond = display is not None and number >= display.count
            return UNKNOWN if beyond else (0, number)
        parts = {"msb": (_MSB,), "lsb": (_LSB,)}.get(select.by, (_MSB, _LSB))
        values = [self.bank.get(part, UNKNOWN) for part in parts]
        if number >= select.programs_in_a_bank:
            return UNKNOWN
        bank = 0
        for value in values:
            if not isinstance(value, int):
                return UNKNOWN
            bank = bank << 7 | value
        return bank, number

    # Controls.

    def _take_control(self, number: int, value: int) -> None:
        unit, switch, select = self.unit, self.unit.switched_by, self.unit.bank_select
        known = False
        if select is not None and number in (_MSB, _LSB):
            known = {_MSB: "msb", _LSB: "lsb"}[number] in select.by
            if known:
                self.bank[number] = value
        if switch is not None and switch.cc == number:
            self._switch(value)
            known = True
        if unit.reached_by is not None and number in (unit.reached_by.up, unit.reached_by.down):
            self._step(number, value)
            known = True
        for control in self._known.values():
            if control.cc == number:
                self._set(control, value if self._does_anything(control) else UNKNOWN)
                known = True
            elif control.fine_cc == number:
                self.controls[number] = value if self._does_anything(control) else UNKNOWN
                known = True
        if unit.tap is not None and unit.tap.cc == number:
            known = True
        if not known and not unit.acts_only_on:
            self._lose_everything()

    def _set(self, control: Control, value: int | str) -> None:
        self.controls[control.cc] = value
        if control.fine_cc is None or (self.coarse_resets is False and isinstance(value, int)):
            return
        reset = self.coarse_resets or self.value(control.fine_cc) == 0
        self.controls[control.fine_cc] = (
            value if not isinstance(value, int) else 0 if reset else UNKNOWN
        )

    def _does_anything(self, control: Control) -> bool:
        """Whether the control is sure to be taken in the program that is loaded."""
        if not control.only_with:
            return True
        numbers = {self.number(name) for name in control.only_with}
        return self.program != UNKNOWN and self.program in numbers

    def number(self, name: str) -> Program | None:
        """Return bank and program of a program's name; None where its display has no such."""
        display, select = self.unit.display, self.unit.bank_select
        if display is None or name not in self.unit.programs:
            return None
        try:
            index = display.read(self.unit.programs[name])
        except Slip:
            return None  # it is not on the display, which is found where it is declared
        return divmod(index, select.programs_in_a_bank) if select is not None else (0, index)

    def _switch(self, value: int) -> None:
        switch = self.unit.switched_by
        assert switch is not None
        if switch.sets:
            if value in (switch.on, switch.off):
                self.on = value == switch.on
            else:
                self.on = UNKNOWN  # it is not said what other values do
        elif switch.any_value_flips or value == switch.press:
            self.on = UNKNOWN if self.on == UNKNOWN else not self.on

    def _step(self, number: int, value: int) -> None:
        steps, display = self.unit.reached_by, self.unit.display
        assert steps is not None
        if value != steps.value:
            return
        if isinstance(self.program, str) or display is None:
            self.program = UNKNOWN
            return
        there = self.program[1] + (1 if number == steps.up else -1)
        count = display.count
        self.program = (0, there % count if steps.wraps else max(0, min(there, count - 1)))
