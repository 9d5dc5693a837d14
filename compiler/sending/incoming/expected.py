"""What the switcher sends for each preset of tonight, as whoever listens to its MIDI OUT hears it.

Loops, relays, tempo and name of a preset are no messages: nobody hears them on a cable. What the
switcher sends besides, such as its clock, belongs to no preset.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from typing import NamedTuple

from setwright.compiler.binding.bound import EVERY_BANK, GENERAL, KEPT
from setwright.compiler.compiled import Compiled
from setwright.compiler.lowering.commands import Command
from setwright.compiler.lowering.preset import Address, Content
from setwright.compiler.midi import encode
from setwright.compiler.placement.held import show
from setwright.compiler.placement.wanted import SceneKey
from setwright.compiler.reports.find import heading
from setwright.scenes.rig import kept_names, parse_kept_switch
from setwright.scenes.switcher import Switcher

GENERAL_SONGS = "songs without scenes of their own"
"""Stands for the song of a general scene, as on the preset sheet."""


class Expected(NamedTuple):
    """One preset as it should be heard.

    ``shown`` is its bank and switch as the switcher shows them, ``1/2``; ``name`` what its display
    shows; ``serves`` the scenes that are played with it, ``SONG/SCENE``; ``commands`` its messages
    in the order of sending, none where it is not heard at all; ``silently`` what has to be typed
    besides, in words, which nobody hears.
    """

    address: Address
    shown: str
    name: str
    serves: tuple[str, ...]
    commands: tuple[Command, ...]
    silently: tuple[str, ...]

    @property
    def messages(self) -> tuple[bytes, ...]:
        """Its messages as bytes, each with its status."""
        return tuple(encode(command.message) for command in self.commands)

    @property
    def label(self) -> str:
        """Its place and what it is for: ``1/2 The Swallow's Tail/Lift``."""
        first, *rest = self.serves or (self.name,)
        return f"{self.shown} {first}" + (f" and {len(rest)} more" if rest else "")

    def __str__(self) -> str:
        return f"{self.shown} {self.name}"


class Tonight(NamedTuple):
    """Every preset of a night in the order of banks and switches, and what is known besides.

    ``programs`` says what a program of a unit is, by unit and number on the wire: its display and
    your name for it; ``pedals`` are the controls that expression pedals send, by channel and
    control.
    """

    presets: tuple[Expected, ...]
    programs: Mapping[tuple[str, int], str]
    pedals: frozenset[tuple[int, int]]


def tonight(compiled: Compiled) -> Tonight:
    """Return what the switcher sends tonight; ``compiled`` must be without errors."""
    presets = sorted((*_placed(compiled), *_kept(compiled)), key=lambda one: one.address)
    sends = (unit.foot_sends for unit in compiled.target.units.values())
    pedals = frozenset((one.channel, one.cc) for one in sends if one is not None)
    return Tonight(tuple(presets), dict(_programs(compiled)), pedals)


def _placed(compiled: Compiled) -> Iterator[Expected]:
    titles = {song.owner: heading(compiled, song) for song in reversed(compiled.songs)}
    titles[GENERAL] = GENERAL_SONGS
    for preset in compiled.placement.presets:
        serves = tuple(_scene(titles, key) for key in preset.scenes)
        yield _expected(compiled, preset.slot, preset.name, serves, preset.content)


def _scene(titles: Mapping[str, str], key: SceneKey) -> str:
    owner, scene = key
    return f"{titles.get(owner, owner)}/{scene}"


def _kept(compiled: Compiled) -> Iterator[Expected]:
    """Yield what is kept in every bank, once for each bank that tonight uses."""
    use, kept = compiled.book.rig.switcher, compiled.kept
    if use is None or kept is None:
        return
    switches = compiled.book.switcher.switches
    marks = {switches.show(number).casefold(): number for number in range(switches.count)}
    for key, name in kept_names(use).items():
        scene = compiled.scenes.get((KEPT, name))
        if scene is None:
            continue
        switch = marks[parse_kept_switch(key).casefold()]
        for bank in sorted({preset.slot.bank for preset in compiled.placement.presets}):
            serves = (f"{EVERY_BANK}/{name}",)
            yield _expected(compiled, Address(bank, switch), name, serves, scene.content)


def _expected(
    compiled: Compiled, address: Address, name: str, serves: tuple[str, ...], content: Content
) -> Expected:
    storage = compiled.book.switcher.each_preset_stores
    return Expected(
        address,
        show(compiled.book, address),
        storage.names.show(name),
        serves,
        content.commands,
        tuple(_silently(compiled.book.switcher, content)),
    )


def _silently(switcher: Switcher, content: Content) -> Iterator[str]:
    """Yield what the preset holds and nobody hears, as far as the switcher has such a thing."""
    if switcher.loops:
        yield _ways("loop", content.loops, "in")
    if switcher.relays:
        yield _ways("relay", content.relays, "closed")
    if content.tempo is not None:
        yield f"tempo {content.tempo}"
    yield "its name"


def _ways(noun: str, numbers: Sequence[int], state: str) -> str:
    s = "s" if len(numbers) > 1 else ""
    return f"{noun}{s} {', '.join(map(str, numbers))} {state}" if numbers else f"no {noun} {state}"


def _programs(compiled: Compiled) -> Iterator[tuple[tuple[str, int], str]]:
    """Yield how each unit's display shows what goes over the wire, where no banks come into it."""
    for name, unit in compiled.target.units.items():
        if unit.display is None or unit.bank_select is not None:
            continue
        called = {one.number: one.name for one in compiled.target.programs.get(name, {}).values()}
        for number in range(min(unit.display.count, 128)):
            said = f"display {unit.display.show(number)}"
            yield (name, number), ", ".join(filter(None, (said, called.get(number, ""))))
