"""The oracle: what each scene has to bring, and when it is pressed, from what was written.

Works on what was drawn, never on what the compiler makes of it: an effect that is asked for
means its programs and settings; a unit that nobody asks for is off, out, or at rest.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from fractions import Fraction
from functools import cached_property
from typing import Any

from tests.stage.said import Book, Unit, milliseconds

Key = tuple[str, str]
"""Unit and quantity."""

NOTES = {
    "whole": Fraction(1),
    "half": Fraction(1, 2),
    "quarter": Fraction(1, 4),
    "dotted quarter": Fraction(3, 8),
    "eighth": Fraction(1, 8),
    "dotted eighth": Fraction(3, 16),
    "sixteenth": Fraction(1, 16),
}
"""Note values in wholes: a dot adds half."""


@dataclass
class Tune:
    """A song as it is played tonight: what its scenes ask for, and when they are pressed."""

    book: Book
    song: dict[str, Any]
    playing: dict[str, Any]
    in_set: bool
    coarse: dict[tuple[str, str, str], tuple[int | None, int]] = field(default_factory=dict)
    """Scene, unit and control → its value where nothing but its coarse part is sent."""

    @property
    def general(self) -> bool:
        """Whether it has the rig's general scenes."""
        return not self.in_set or not self.song.get("scenes")

    @cached_property
    def scenes(self) -> dict[str, dict[str, Any]]:
        found = self.book.rig["general"] if self.general else self.song["scenes"]
        left_out = self.playing.get("leave out", [])
        return {name: scene for name, scene in found.items() if name not in left_out}

    @cached_property
    def whole(self) -> Fraction | None:
        """Seconds that a whole note lasts tonight."""
        tempo = self.playing.get("tempo") or self.song.get("tempo")
        if tempo is None:
            return None
        note, _, number = tempo.partition(" = ")
        return 60 / Fraction(number) / NOTES[note]

    @cached_property
    def bar(self) -> Fraction | None:
        """Seconds of a bar."""
        if self.whole is None or "meter" not in self.song:
            return None
        beats, unit = map(int, self.song["meter"].split("/"))
        return self.whole * beats / unit

    @cached_property
    def parts(self) -> list[tuple[str, int, int]]:
        """Parts of one round: letter, which time it comes, bars before it."""
        result: list[tuple[str, int, int]] = []
        before = 0
        for letter in self.song.get("form", "").partition(",")[0]:
            nth = sum(one[0] == letter for one in result) + 1
            result.append((letter, nth, before))
            before += self._bars(letter)
        return result

    def _bars(self, letter: str) -> int:
        return int(self.song.get("bars", {}).get(letter, 8))

    @cached_property
    def bars(self) -> int | None:
        """Bars of the whole song, where its form says its rounds."""
        if "form" not in self.song:
            return None
        rounds = int(self.song["form"].partition(", ")[2].split()[0])
        return rounds * sum(self._bars(letter) for letter, _, _ in self.parts)

    @cached_property
    def lasts(self) -> Fraction | None:
        """Seconds from the first to the last note."""
        if self.bars is not None and self.bar is not None:
            return self.bars * self.bar
        lasts = self.song.get("lasts")
        return None if lasts is None else clock(lasts)

    def steps(self) -> list[tuple[str, dict[str, Any]]]:
        """Return the order as it is written, without what is left out tonight."""
        if self.general:
            return []
        order = [next(iter(item.items())) for item in self.song.get("order", [])]
        order = order or [(name, {}) for name in self.song["scenes"]]
        return [(scene, step) for scene, step in order if scene in self.scenes]

    def seconds(self, step: dict[str, Any]) -> Fraction | None:
        """When a step is pressed, in seconds from the first note; None where that is not said."""
        place = step.get("at")
        if place is None:
            return None
        kind, *rest = place.split()
        if kind == "round":
            nth = int(rest[1][1:] or 1)
            before = next(one[2] for one in self.parts if one[:2] == (rest[1][0], nth))
            round_ = sum(self._bars(letter) for letter, _, _ in self.parts)
            bars = Fraction((int(rest[0]) - 1) * round_ + before)
        elif kind == "bar":
            beats = int(self.song["meter"].split("/")[0])
            beat = int(rest[2]) if len(rest) > 1 else 1
            bars = int(rest[0]) - 1 + Fraction(beat - 1, beats)
        else:
            return clock(place)
        return None if self.bar is None else bars * self.bar

    def effects(self, scene: str) -> list[str]:
        """Return what a scene asks for, from its sound or the scene that it is like."""
        said = self.scenes.get(scene) or self.song.get("scenes", {})[scene]
        if "sound" in said:
            names = list(self.book.files["songs"]["sounds"][said["sound"]])
        elif "like" in said:
            names = self.effects(said["like"])
        else:
            names = list(said["effects"])
        names = [name for name in names if name not in said.get("drop", [])]
        return names + [name for name in said.get("add", []) if name not in names]

    def parts_asked(self, scene: str) -> dict[str, dict[str, Any]]:
        """Each unit that a scene asks for, with what its effects want of it."""
        asked: dict[str, dict[str, Any]] = {}
        names = self.effects(scene)
        for name in names:
            made = name
            if name not in self.book.rig["effects"]:
                choices = self.book.rig["instead of"][name]
                made = next(one for one in choices if one not in names)
            if made == "nothing":
                continue
            for unit, part in self.book.rig["effects"][made].items():
                own = asked.setdefault(unit, {})
                own |= part.get("set", {})
                if "state" in part:
                    own["state"] = part["state"]
        return asked

    def wanted(self, scene: str) -> dict[Key, Any]:
        """Return what ``scene`` has to bring; what nobody cares for is not in it."""
        result: dict[Key, Any] = {}
        asked = self.parts_asked(scene)
        for name, unit in self.book.units.items():
            used, demands = name in asked, asked.get(name, {})
            if unit.loop is not None:
                result[name, "loop"] = used
            if unit.relay is not None:
                result[name, "relay"] = demands.get("state", unit.rest or unit.relay["open"])
            if unit.foot:
                if "state" in demands:
                    result[name, "foot"] = demands["state"]
                continue
            if unit.loop is not None and not used:
                continue
            if unit.switch is not None:
                result[name, "switch"] = used
                if not used:
                    continue
            self._programs(result, unit, scene, demands, used=used)
        return result

    def _programs(
        self,
        result: dict[Key, Any],
        unit: Unit,
        scene: str,
        demands: dict[str, Any],
        *,
        used: bool,
    ) -> None:
        rest = unit.rest if unit.rest in unit.programs else None
        state = demands.get("state")
        loaded = state if state in unit.programs else rest
        if loaded is not None:
            result[unit.name, "program"] = unit.programs[loaded]
        for control in unit.controls.values():
            works = [unit.programs[one] for one in control.only]
            if works and loaded is not None and unit.programs[loaded] not in works:
                continue
            if control.name == "time" and unit.said.get("tempo from", "control") != "control":
                continue
            asked: str | Fraction | None = demands.get(control.name, control.said.get("at rest"))
            if control.name == "time" and used:
                own = self.echo(scene)
                if own is None and "time" not in demands:
                    own = self.song.get("echo") if not self.general else None
                if own is not None:
                    asked = self.time(own)
            if asked is not None:
                result[unit.name, control.name] = (
                    control.value(asked) if control.fine is None else control.both(asked)
                )
                self.coarse[scene, unit.name, control.name] = (control.value(asked), 0)

    def echo(self, scene: str) -> str | None:
        """Return what a scene says of its echo, or the scene that it is like."""
        said = self.scenes.get(scene) or self.song["scenes"][scene]
        if "echo" not in said and "like" in said:
            return self.echo(said["like"])
        found = said.get("echo")
        return None if found is None else str(found)

    def time(self, echo: str) -> Fraction:
        """Return an echo in ms: a note value at tonight's tempo, or as it is."""
        if echo in NOTES:
            assert self.whole is not None
            return self.whole * NOTES[echo] * 1000
        return milliseconds(echo)


def clock(text: str) -> Fraction:
    """Return ``1:05``, ``2 min 3.5 s`` or ``3.5 s`` in seconds."""
    if ":" in text:
        minutes, seconds = text.split(":")
        return int(minutes) * 60 + Fraction(seconds)
    words = text.split()
    total = Fraction(0)
    for number, unit in zip(words[::2], words[1::2], strict=True):
        total += Fraction(number) * {"min": 60, "s": 1}[unit]
    return total
