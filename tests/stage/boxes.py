"""A box on a MIDI line: it takes bytes, one at a time, and does as its rig's file declares.

Rules of the wire from the MIDI 1.0 Detailed Specification 4.2.1: running status (until the next
status; real-time bytes stand anywhere; system ones cancel it), bank select (waits for its
program), channel mode messages (Table IV), a byte takes 320 µs (hardware). All times in µs.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from random import Random
from typing import Any

from tests.stage.said import Control, Program, Unit

BYTE = 320
"""Microseconds (hardware; IEC 63035:2017, 4.1)."""

LENGTHS = {0x80: 2, 0x90: 2, 0xA0: 2, 0xB0: 2, 0xC0: 1, 0xD0: 1, 0xE0: 2}


@dataclass
class Parser:
    """Bytes → channel messages, with the time at which each begins."""

    status: int = 0
    data: list[int] = field(default_factory=list)
    begun: int = 0

    def take(self, byte: int, starts: int) -> tuple[int, tuple[int, ...], int] | None:
        """Take one byte; return status, data and beginning of a message that it completes."""
        if byte >= 0xF8:
            return None
        if byte >= 0x80:
            self.status = byte if byte < 0xF0 else 0
            self.data, self.begun = [], starts
            self._fresh = True
            return None
        if not self.status:
            return None
        if not self.data and not self._fresh:
            self.begun = starts
        self._fresh = False
        self.data.append(byte)
        if len(self.data) < LENGTHS[self.status & 0xF0]:
            return None
        whole = (self.status, tuple(self.data), self.begun)
        self.data = []
        return whole

    _fresh: bool = False


@dataclass
class Box:
    """A unit in some state.

    ``loses`` says how a busy box loses what comes: ``messages`` that begin meanwhile, as a whole,
    or single ``bytes``. ``wild`` boxes do something on what they do not declare, ``keeps_fine``
    ones do not reset the fine part of a control when its coarse part comes.
    """

    unit: Unit
    random: Random
    loses: str
    wild: bool
    keeps_fine: bool
    program: Any = None
    on: bool = False
    values: dict[int, Any] = field(default_factory=dict)
    bank: dict[int, int] = field(default_factory=dict)
    relay: str = ""
    position: str = ""
    busy_until: int = -1
    parser: Parser = field(default_factory=Parser)
    acted: int = 0
    lost: int = 0

    def __post_init__(self) -> None:
        self.scramble()
        if self.unit.relay:
            self.relay = self.random.choice([self.unit.relay["open"], self.unit.relay["closed"]])
        if self.unit.foot:
            self.position = self.random.choice(self.unit.foot)

    def scramble(self) -> None:
        """Come into any state at all; often one that the rig's file names."""
        random, unit = self.random, self.unit
        named = list(unit.programs.values())
        self.program = (
            random.choice(named)
            if named and random.random() < 0.7
            else (random.choice([0, 0, 1, 127]), random.randrange(128))
        )
        self.on = random.random() < 0.5
        for control in unit.controls.values():
            self._set(control, random.randrange(128), random.randrange(128))
        self.bank = {0: random.randrange(128), 32: random.randrange(128)}

    def take(self, byte: int, starts: int) -> None:
        """Take a byte whose first bit comes at ``starts``."""
        if self.loses == "bytes" and starts < self.busy_until:
            self.lost += 1
            return
        whole = self.parser.take(byte, starts)
        if whole is None:
            return
        status, data, begun = whole
        if self.unit.channel not in ("omni", (status & 15) + 1):
            return
        if begun < self.busy_until:
            self.lost += 1
            return
        if status & 0xF0 == 0xC0:
            self._load(data[0], starts + BYTE)
        elif status & 0xF0 == 0xB0 and data[0] < 120:
            self._control(data[0], data[1])

    def _undeclared(self) -> None:
        if not self.unit.deaf_to_others and self.wild:
            self.scramble()

    def _load(self, number: int, ends: int) -> None:
        unit = self.unit
        if not unit.programs or unit.steps:
            self._undeclared()
            return
        program: Program = (0, number)
        if unit.select is not None:
            by = unit.select.get("by", "msb and lsb")
            bank = 0
            for part, select in (("msb", 0), ("lsb", 32)):
                if part in by:
                    bank = bank * 128 + self.bank[select]
            program = (bank, number)
        if program == self.program and not unit.reloads:
            return
        self.program = program
        self.acted += 1
        if unit.loading != "keeps bypass":
            self.on = unit.loading == "engages"
        for control in unit.controls.values():
            if control.after == "from the program":
                self._set(control, f"of {program}", f"of {program}")
            elif control.after == "unknown":
                self._set(control, self.random.randrange(128), self.random.randrange(128))
        self.busy_until = max(self.busy_until, ends + unit.busy) if unit.busy else self.busy_until

    def _set(self, control: Control, coarse: Any, fine: Any) -> None:
        self.values[control.cc] = coarse
        if control.fine is not None:
            self.values[control.fine] = fine

    def works(self, control: Control) -> bool:
        """Tell whether the control does anything in the program that is loaded."""
        return not control.only or self.program in [self.unit.programs[one] for one in control.only]

    def _control(self, number: int, value: int) -> None:
        unit, known = self.unit, False
        part = {0: "msb", 32: "lsb"}.get(number)
        if unit.select is not None and part and part in unit.select.get("by", "msb and lsb"):
            self.bank[number] = value
            known = True
        if unit.switch and unit.switch["cc"] == number:
            self._switch(unit.switch, value)
            known = True
        if unit.steps and number in (unit.steps["up"], unit.steps.get("down")):
            self._step(unit.steps, number, value)
            known = True
        for control in unit.controls.values():
            if number == control.cc:
                if self.works(control):
                    self.values[number] = value
                    if control.fine is not None and not self.keeps_fine:
                        self.values[control.fine] = 0
                known = True
            elif number in control.numbers:
                if self.works(control):
                    self.values[number] = value
                known = True
        if "tap" in unit.said and unit.said["tap"]["cc"] == number:
            known = True
        self.acted += known
        if not known:
            self._undeclared()

    def _switch(self, switch: dict[str, Any], value: int) -> None:
        if "on" in switch and value == switch["on"]:
            self.on = True
        elif "off" in switch and value == switch["off"]:
            self.on = False
        elif "on" in switch:
            self.on = self.random.random() < 0.5
        elif switch.get("any value flips") == "yes" or value == switch.get("press"):
            self.on = not self.on

    def _step(self, steps: dict[str, Any], number: int, value: int) -> None:
        if value != steps.get("value", 127):
            return
        there = self.program[1] + (1 if number == steps["up"] else -1)
        count = self.unit.count
        wraps = steps.get("wraps") == "yes"
        self.program = (0, there % count if wraps else max(0, min(there, count - 1)))
