"""Every scene of the demo nights brings what its rig's text says, heard by model receivers.

What each effect of a rig means on the wire was read off ``granary.yaml`` and ``parlour.yaml`` by
hand and stands in tables here; what a scene asks for is worked out anew from the plain text of
the songs. The compiler is only asked for bytes. Time values: 60,000 ms ÷ BPM a beat (arithmetic).
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from fractions import Fraction
from typing import Any

import pytest
from ruamel.yaml import YAML

from setwright.compiler.proving.proved import LoweredScene
from setwright.compiler.proving.receiver import Receiver
from setwright.scenes.unit import Unit
from tests.conftest import DEMO
from tests.nights import whole
from tests.rigs import messages

Part = tuple[str, Any]
QUARTERS = {
    "half": Fraction(2),
    "dotted quarter": Fraction(3, 2),
    "quarter": Fraction(1),
    "dotted eighth": Fraction(3, 4),
    "eighth": Fraction(1, 2),
}


@dataclass(frozen=True)
class Wired:
    """One rig as a person reads its file: loops, programs (bank 0), delays."""

    effects: dict[str, dict[str, Any]]
    loops: dict[str, int]
    channels: dict[str, int]
    resting: dict[str, int]
    delay: str
    points: tuple[tuple[int, int], ...]
    """The delay's control value and ms."""
    time: int
    tempo_effects: dict[str, int | None]
    """Effects that sound the delay, with their own ms."""
    rest_ms: int
    mix: dict[str, int]
    switched: bool
    instead: dict[str, str]


GRANARY = Wired(
    effects={
        "compression": {"squeezer": True},
        "tremolo": {"wobbler": 42},
        "vibrato": {"wobbler": 43},
        "rotor": {"wobbler": 44},
        "boost": {"booster": True},
        "lead": {"fuzz": True},
        "crunch": {"oak amplifier": True},
        "long echo": {"echo": True},
        "slap echo": {"echo": True},
        "room": {"barn": 2},  # the display counts from 1, the wire from 0
        "hall": {"barn": 11},
    },
    loops={"fuzz": 1, "wobbler": 2, "booster": 3, "squeezer": 4, "barn": 6},
    channels={"wobbler": 6, "barn": 11, "echo": 9},
    resting={},
    delay="echo",
    points=((0, 20), (127, 1800)),
    time=20,
    tempo_effects={"long echo": None, "slap echo": 118},
    rest_ms=400,
    mix={"long echo": 38, "slap echo": 28},  # 30 % and 22 % of 127: 38.1, 27.9
    switched=True,
    instead={},
)
PARLOUR = Wired(
    effects={
        "compression": {"squeezer": True},
        "tremolo": {"pocket box": 10},  # B3: eight to a letter
        "vibrato": {"pocket box": 11},
        "rotor": {"pocket box": 14},
        "boost": {},  # by foot
        "lead": {"growler": True},
        "long echo": {"repeater": 6},  # the display counts from 1
        "slap echo": {"repeater": 7},
        "room": {"repeater": 20},
        "hall": {"repeater": 21},
    },
    loops={"squeezer": 1, "growler": 2, "pocket box": 3},
    channels={"pocket box": 2, "repeater": 10},
    resting={"repeater": 0},
    delay="repeater",
    points=((0, 40), (32, 150), (64, 350), (96, 700), (127, 1200)),
    time=14,
    tempo_effects={"long echo": None, "slap echo": 110},
    rest_ms=350,
    mix={},
    switched=False,
    instead={"crunch": "lead"},
)


def effects_of(said: Any, scenes: dict[str, Any], sounds: dict[str, list[str]]) -> list[str]:
    """Return what a scene asks for, from its plain text."""
    if isinstance(said, str):
        return list(sounds[said])
    if isinstance(said, list):
        return said
    found = list(said.get("effects", []))
    if "sound" in said:
        found += sounds[said["sound"]]
    if "like" in said:
        found += effects_of(scenes[said["like"]], scenes, sounds)
    for key in ("add", "drop"):
        named = said.get(key, [])
        for name in [named] if isinstance(named, str) else named:
            if key == "add":
                found.append(name)
            else:
                found.remove(name)
    return found


def echo_of(said: Any, scenes: dict[str, Any]) -> str | None:
    if not isinstance(said, dict):
        return None
    if "echo" in said:
        return str(said["echo"])
    return echo_of(scenes[said["like"]], scenes) if "like" in said else None


def milliseconds(echo: str, tempo: str) -> Fraction:
    """Return ``90 ms`` or a note value at ``half = 104`` in ms."""
    if echo.endswith("ms"):
        return Fraction(echo.removesuffix("ms").strip())
    beat, _, bpm = tempo.partition("=")
    return 60_000 / Fraction(bpm.strip()) * QUARTERS[echo] / QUARTERS[beat.strip()]


def value_of(wired: Wired, ms: Fraction) -> Fraction:
    """Return where ``ms`` lies between the points, not rounded."""
    for (low, start), (high, end) in zip(wired.points, wired.points[1:], strict=False):
        if start <= ms <= end:
            return low + (ms - start) / (end - start) * (high - low)
    raise AssertionError(f"{ms} ms is out of reach")


def played(night: str) -> Iterator[tuple[str, str | None]]:
    """Yield title and tempo tonight of every song, in order."""
    said = YAML(typ="safe").load(DEMO / f"{night}-night.yaml")
    for one in [*(song for part in said["sets"] for song in part["play"]), *said["if asked"]]:
        if isinstance(one, str):
            yield one, None
        else:
            yield one.get("song", one.get("straight into")), one.get("tempo")


def check(wired: Wired, scene: LoweredScene, names: list[str], ms: Fraction, rig: Any) -> None:
    """Hold both routes to what the scene asks for, from two opposite states."""
    wanted: dict[str, Any] = {}
    for name in names:
        wanted |= wired.effects[name]
    assert set(scene.content.loops) == {wired.loops[unit] for unit in wanted.keys() & wired.loops}
    assert bool(scene.content.relays) == ("oak amplifier" in wanted)
    for route in (scene.lowered.stored, scene.lowered.direct):
        for on in (True, False):
            for unit, channel in wired.channels.items():
                receiver = Receiver(rig[unit], (0, 99 * on), on, {20: 77, 21: 78, 14: 79})
                assert receiver.unit.channel == channel
                for part, timed in zip(messages(route.stream), route.commands, strict=True):
                    receiver.take(part, timed.starts)
                number = wanted.get(unit, wired.resting.get(unit))
                if isinstance(number, int) and number is not True:
                    assert receiver.program == (0, number), unit
                if unit != wired.delay:
                    continue
                sounding = [name for name in names if name in wired.tempo_effects]
                if wired.switched:
                    assert receiver.on is bool(sounding)
                if sounding:
                    found = receiver.value(wired.time)
                    assert isinstance(found, int)
                    assert abs(found - value_of(wired, ms)) <= Fraction(1, 2)
                    if wired.mix:
                        assert receiver.value(21) == wired.mix[sounding[0]]


@pytest.mark.parametrize(("night", "wired"), [("granary", GRANARY), ("parlour", PARLOUR)])
def test_every_scene_of_a_demo_night(night: str, wired: Wired) -> None:
    compiled = whole(DEMO / f"{night}-night.yaml")
    assert compiled.target is not None
    rig: dict[str, Unit] = compiled.target.units
    text = YAML(typ="safe").load(DEMO / "songs.yaml")
    by_title = {song["title"]: song for song in text["songs"]}
    checked = 0
    for song, (title, tempo) in zip(compiled.songs, played(night), strict=True):
        assert song.song.title == title
        said = by_title[title]
        for name, asked in said.get("scenes", {}).items():
            if name not in song.scenes:
                continue
            names = [
                wired.instead.get(one, one)
                for one in effects_of(asked, said["scenes"], text["sounds"])
            ]
            echo = echo_of(asked, said["scenes"])
            own = next(
                (wired.tempo_effects[one] for one in names if one in wired.tempo_effects), None
            )
            if echo is None and own is None:
                echo = said.get("echo")
            ms = (
                milliseconds(echo, tempo or said["tempo"])
                if echo is not None
                else Fraction(own or wired.rest_ms)
            )
            check(wired, compiled.scene(song, name), names, ms, rig)
            checked += 1
    assert checked > 60
