"""The switcher: it holds what the preset sheet says, and does what its file says when pressed.

Presets are typed in from ``night.json``, slot by slot; their messages are sent in the order in
which this switcher sends them. All times in µs.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field
from random import Random
from typing import Any

from tests.stage.boxes import Box, Parser
from tests.stage.said import Book, micros
from tests.stage.wires import Wires

Slot = tuple[int, int]
"""Bank and switch, counted from 1."""


@dataclass
class Preset:
    """What is typed into one preset."""

    loops: frozenset[int] = frozenset()
    relays: frozenset[int] = frozenset()
    messages: tuple[bytes, ...] = ()


EMPTY = Preset()


def presets_of(data: dict[str, Any], book: Book) -> dict[Slot, Preset]:
    """Type in every preset of the night, as a person would."""
    stores = book.board["each preset stores"]
    listed = {
        _slot(scene["place"]): tuple(
            bytes.fromhex(one["hex"]) for one in scene["stored"]["messages"]
        )
        for scene in data["scenes"]
        if scene["place"]
    }
    result = {}
    for preset in data["presets"]:
        slot = _slot(preset["place"])
        programs = [part for one in preset["programs"] for part in _program(one)]
        controls = [
            bytes([0xB0 | one["channel"] - 1, one["number"], one["value"]])
            for one in preset["controls"]
        ]
        order = stores.get("sends", "programs first")
        computer = data["sender"] == "computer"
        same = sorted(listed[slot]) == sorted([*programs, *controls])
        assert same or computer, "the preset sheet says other messages than are said to be sent"
        if order == "as listed" and not computer:
            messages = listed[slot]
        else:
            both = (programs, controls) if order == "programs first" else (controls, programs)
            messages = (*both[0], *both[1])
        result[slot] = Preset(frozenset(preset["loops"]), frozenset(preset["relays"]), messages)
    return result


def _slot(place: dict[str, Any]) -> Slot:
    return place["bank"], place["switch"]


def _program(slot: dict[str, Any]) -> list[bytes]:
    channel = slot["channel"] - 1
    banks = [(0, slot["bank_msb"]), (32, slot["bank_lsb"])]
    return [
        *(bytes([0xB0 | channel, number, value]) for number, value in banks if value is not None),
        bytes([0xC0 | channel, slot["number"]]),
    ]


@dataclass
class Board:
    """A switcher in a rig: its presets, its loops and relays, and what it sends."""

    book: Book
    presets: dict[Slot, Preset]
    wires: Wires
    boxes: dict[str, Box]
    random: Random
    running: bool
    """Whether it leaves out a status that is the last one again, within one preset."""
    bank: int = 1
    loaded: Slot | None = None
    before: Slot | None = None
    loops: frozenset[int] = frozenset()
    last_ends: int = 0
    overtaken: bool = False
    """Whether a preset was loaded while the one before was still being sent."""
    on_load: Callable[[Slot], None] = lambda slot: None
    _parser: Parser = field(default_factory=Parser)
    _select: dict[int, int] = field(default_factory=dict)

    @property
    def switches(self) -> int:
        return int(self.book.board["switches"])

    @property
    def at_once(self) -> bool:
        return bool(self.book.board.get("bank moves", {}).get("loads at once") == "yes")

    def press(self, switch: int, now: int) -> None:
        """Press a switch of the bank that is shown."""
        slot = (self.bank, switch)
        if slot != self.loaded:
            self.load(slot, now)
            return
        again = self.book.board.get("same switch again", "sends again")
        if again == "sends again":
            self.load(slot, now)
        elif again == "goes back" and self.before is not None:
            self.bank = self.before[0]
            self.load(self.before, now)

    def load(self, slot: Slot, now: int) -> None:
        """Set loops and relays at once, and send what the preset holds."""
        if slot != self.loaded:
            self.before, self.loaded = self.loaded, slot
        self.on_load(slot)
        preset = self.presets.get(slot, EMPTY)
        self.loops = preset.loops
        kinds = self.book.board.get("relays", [])
        for box in self.boxes.values():
            relay = box.unit.relay
            if relay is None or relay["number"] > len(kinds):
                continue
            closed = relay["number"] in preset.relays
            if kinds[relay["number"] - 1] == "hold":
                box.relay = relay["closed"] if closed else relay["open"]
            elif closed:
                box.relay = relay["open"] if box.relay == relay["closed"] else relay["closed"]
        gap = micros(self.book.board.get("gap between messages", "0 ms"))
        last = -1
        self.overtaken = now < self.last_ends and bool(preset.messages)
        starts = max(now, self.last_ends)
        for message in preset.messages:
            out = message[1:] if self.running and message[0] == last else message
            self.last_ends = self.wires.send("switcher", out, starts)
            last, starts = message[0], self.last_ends + gap

    def take(self, byte: int, starts: int) -> None:
        """Take a byte at MIDI IN: a program on its channel loads a preset."""
        channel = self.book.board.get("recalled on channel")
        whole = self._parser.take(byte, starts)
        if whole is None or channel is None:
            return
        status, data, _ = whole
        if status & 15 != channel - 1:
            return
        if status & 0xF0 == 0xB0 and data[0] in (0, 32):
            self._select[data[0]] = data[1]
        if status & 0xF0 != 0xC0:
            return
        by = self.book.board.get("recalled by bank select", "no")
        bank = 0
        for part, number in (("msb", 0), ("lsb", 32)):
            if part in by:
                bank = bank * 128 + self._select.get(number, 0)
        index = bank * 128 + data[0] - int(self.book.board.get("first program", 0))
        if index >= 0:
            slot = (index // self.switches + 1, index % self.switches + 1)
            if slot[0] <= int(self.book.board["banks"]):
                self.bank = slot[0]
                self.load(slot, starts + 320)
