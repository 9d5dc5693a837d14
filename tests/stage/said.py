"""A book as it was written, read again for the stage: an account apart from the compiler's.

Reads the plain dialect that `tests.stage.draw` writes, every key at length, and nothing else.
"""

from __future__ import annotations

import json
from copy import deepcopy
from dataclasses import dataclass
from fractions import Fraction
from functools import cached_property
from pathlib import Path
from typing import Any

Program = tuple[int, int]
"""Bank and number on the wire."""


def milliseconds(text: str) -> Fraction:
    """Return ``120 ms`` or ``1.5 s`` in ms."""
    number, unit = text.split()
    return Fraction(number) * {"ms": 1, "s": 1000}[unit]


def micros(text: str) -> int:
    """Return ``120 ms`` in µs."""
    return round(milliseconds(text) * 1000)


@dataclass
class Control:
    """A control of a box, as the rig declares it."""

    name: str
    said: dict[str, Any]

    @property
    def cc(self) -> int:
        return int(self.said["cc"])

    @property
    def fine(self) -> int | None:
        """The control with its fine part; of no account where nobody says what its values do."""
        return self.said.get("fine cc") if "linear" in self.said or "points" in self.said else None

    @property
    def numbers(self) -> set[int]:
        """The control numbers that it takes."""
        return {int(self.said[key]) for key in ("cc", "fine cc") if key in self.said}

    @property
    def after(self) -> str:
        return str(self.said.get("after a program", "from the program"))

    @property
    def only(self) -> list[str]:
        return list(self.said.get("only with", []))

    @cached_property
    def corners(self) -> list[tuple[int, Fraction]]:
        """Values and what they do, by rising value; straight lines between; may be empty."""
        if "linear" in self.said:
            low, high = self.said["linear"].split(" to ")
            return [(0, number_of(low)), (127, number_of(high))]
        return sorted((int(k), number_of(v)) for k, v in self.said.get("points", {}).items())

    def amount(self, value: Fraction) -> Fraction:
        """Return what a value does, which may lie between two whole ones."""
        below = max(one for one in self.corners if one[0] <= value)
        above = min(one for one in self.corners if one[0] >= value)
        width = above[0] - below[0]
        share = (value - below[0]) / width if width else Fraction(0)
        return below[1] + (above[1] - below[1]) * share

    @cached_property
    def amounts(self) -> list[Fraction]:
        """What each value from its first on does; empty where that is not said."""
        if not self.corners:
            return []
        values = range(self.corners[0][0], self.corners[-1][0] + 1)
        return [self.amount(Fraction(value)) for value in values]

    def both(self, asked: str | Fraction) -> tuple[int, int] | None:
        """Return coarse and fine part of the nearest value of 14 bits; None beyond its ends.

        It is 128 · coarse + fine (control change: MSB, then LSB).
        """
        coarse = self.value(asked)
        if coarse is None or not self.amounts or asked in self.said.get("positions", {}):
            return None if coarse is None else (coarse, 0)
        amount = number_of(asked) if isinstance(asked, str) else asked
        first, last = self.corners[0][0] * 128, self.corners[-1][0] * 128
        near = range(max(first, coarse * 128 - 128), min(last, coarse * 128 + 128) + 1)
        whole = min(near, key=lambda one: abs(self.amount(Fraction(one, 128)) - amount))
        return divmod(whole, 128)

    def value(self, asked: str | Fraction) -> int | None:
        """Return the nearest value to what is asked, the lower of two; None beyond its ends."""
        if isinstance(asked, str) and asked in self.said.get("positions", {}):
            return int(self.said["positions"][asked])
        amount = number_of(asked) if isinstance(asked, str) else asked
        if not self.amounts:
            return int(amount)
        if not min(self.amounts) <= amount <= max(self.amounts):
            return None
        nearest = min(range(len(self.amounts)), key=lambda at: abs(self.amounts[at] - amount))
        return self.corners[0][0] + nearest


def number_of(text: str) -> Fraction:
    number, _, unit = text.partition(" ")
    return Fraction(number) * (1000 if unit == "s" else 1)


@dataclass
class Unit:
    """A box of the rig, as it is declared."""

    name: str
    said: dict[str, Any]

    @property
    def channel(self) -> int | str | None:
        return self.said.get("channel")

    @property
    def loop(self) -> int | None:
        return self.said.get("loop")

    @property
    def relay(self) -> dict[str, Any] | None:
        return self.said.get("relay")

    @property
    def foot(self) -> list[str]:
        return list(self.said.get("by foot", []))

    @property
    def switch(self) -> dict[str, Any] | None:
        return self.said.get("switched by")

    @property
    def sets_switch(self) -> bool:
        return bool(self.switch and "on" in self.switch and "off" in self.switch)

    @property
    def steps(self) -> dict[str, Any] | None:
        return self.said.get("reached by")

    @property
    def select(self) -> dict[str, Any] | None:
        return self.said.get("bank select")

    @property
    def deaf_to_others(self) -> bool:
        return "acts only on" in self.said

    @property
    def reloads(self) -> bool:
        return bool(self.said.get("same program again", "reloads") == "reloads")

    @property
    def loading(self) -> str:
        return str(self.said.get("loading", "keeps bypass"))

    @property
    def busy(self) -> int:
        return micros(self.said.get("busy after program", "0 ms"))

    @property
    def settles(self) -> int:
        return micros(self.said.get("settles in", "0 ms"))

    @property
    def rest(self) -> str | None:
        return self.said.get("at rest")

    @cached_property
    def controls(self) -> dict[str, Control]:
        """Its controls by name, that of its delay time among them."""
        made = dict(self.said.get("controls", {}))
        if "time" in self.said:
            made["time"] = self.said["time"]
        return {name: Control(name, said) for name, said in made.items()}

    @cached_property
    def first(self) -> int | None:
        """The number of the first program on its display; None for letters with a number."""
        first = str(self.said.get("display", "0 to 127")).split(" to ")[0]
        return int(first) if first.isdigit() else None

    @cached_property
    def count(self) -> int:
        """How many programs its display shows."""
        first, last = str(self.said.get("display", "0 to 127")).split(" to ")
        if first.isdigit():
            return int(last) - int(first) + 1
        return (ord(last[0]) - ord(first[0]) + 1) * int(last[1:])

    @cached_property
    def programs(self) -> dict[str, Program]:
        """Its programs by name."""
        size = int((self.select or {}).get("programs in a bank", 128))
        result = {}
        for name, shown in self.said.get("programs", {}).items():
            if self.first is not None:
                index = int(shown) - self.first
            else:
                last = str(self.said["display"]).split(" to ")[1]
                index = (ord(shown[0]) - ord("A")) * int(last[1:]) + int(shown[1:]) - 1
            result[name] = divmod(index, size) if self.select is not None else (0, index)
        return result


@dataclass
class Book:
    """A night's files as plain data."""

    files: dict[str, Any]

    def write(self, folder: Path) -> Path:
        """Write the files (JSON is YAML 1.2) and return the night's."""
        for name, data in self.files.items():
            (folder / f"{name}.yaml").write_text(json.dumps(data), encoding="utf-8")
        return folder / "night.yaml"

    def copy(self) -> Book:
        return Book(deepcopy(self.files))

    @property
    def board(self) -> dict[str, Any]:
        found: dict[str, Any] = self.files["board"]
        return found

    @property
    def rig(self) -> dict[str, Any]:
        found: dict[str, Any] = self.files["rig"]
        return found

    @property
    def night(self) -> dict[str, Any]:
        found: dict[str, Any] = self.files["night"]
        return found

    @cached_property
    def units(self) -> dict[str, Unit]:
        return {name: Unit(name, said) for name, said in self.rig["units"].items()}

    @property
    def songs(self) -> dict[str, dict[str, Any]]:
        """Songs by their titles."""
        return {song["title"]: song for song in self.files["songs"]["songs"]}

    @property
    def played(self) -> list[tuple[dict[str, Any], bool]]:
        """What is played, in order, and whether it is in a set (or kept for requests)."""
        sets = [entry for one in self.night["sets"] for entry in one["play"]]
        return [(one, True) for one in sets] + [(one, False) for one in self.night["if asked"]]

    @property
    def lines(self) -> list[list[tuple[str, bool | None]]]:
        """MIDI lines: each box, and whether it is said here that it passes on what it hears."""
        result = []
        for line in self.rig["midi"]:
            row: list[tuple[str, bool | None]] = []
            for item in line:
                if isinstance(item, str):
                    row.append((item, None))
                else:
                    ((name, more),) = item.items()
                    row.append((name, more["thru"] == "yes" if "thru" in more else None))
            result.append(row)
        return result
