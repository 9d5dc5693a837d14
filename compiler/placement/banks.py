"""Presets → banks and switches: which sound lives where.

A song's scenes lie in one bank; songs follow one another in the order of the night, several to
a bank while there is room. Songs that are kept for requests come last, each in the first bank
that has room. One that needs more switches than a bank has lies in two banks, if it says that it
may (`parting`). Scenes that are made the same way share a switch within their bank. Switches that
the rig keeps for something else are left alone; what is pinned to a switch lies there (`pins`),
and the others fill the rest. The same book gives the same places.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field
from typing import NamedTuple

from setwright.compiler.binding.bound import BoundSong
from setwright.compiler.binding.target import Target
from setwright.compiler.lowering.preset import Address, Content
from setwright.compiler.placement.parting import may_part, over_two_banks
from setwright.compiler.placement.pins import pinned, pins_of
from setwright.scenes.finding import Finding, Severity
from setwright.scenes.quantities import quoted
from setwright.scenes.rig import parse_kept_switch
from setwright.scenes.wording import number_of

SceneKey = tuple[str, str]
"""The owner of a scene, which playings that sound the same share, and the scene's name."""


class Preset(NamedTuple):
    """One preset: where it lies, what it is called, what it holds, which scenes it serves."""

    slot: Address
    name: str
    content: Content
    scenes: tuple[SceneKey, ...]


@dataclass(slots=True)
class Placement:
    """All presets of a night; ``of_scene`` finds the switch of every scene."""

    presets: list[Preset] = field(default_factory=list)
    of_scene: dict[SceneKey, Address] = field(default_factory=dict)


def key_of(song: BoundSong, scene: str) -> SceneKey:
    """Return the key of a scene of this playing, under which it is placed and looked up."""
    return (song.owner, scene)


_Entry = tuple[int, int | None]
"""The id of a content, and the switch that it is pinned to, if any."""


@dataclass(slots=True)
class _Bank:
    """A bank that is being filled: an entry → (content, name, scenes)."""

    switches: list[int]
    filled: dict[_Entry, tuple[Content, str, list[SceneKey]]] = field(default_factory=dict)

    def room_for(self, entries: set[_Entry]) -> bool:
        together = _without_doubles(self.filled.keys() | entries)
        pins = [pin for _, pin in together if pin is not None]
        return len(together) <= len(self.switches) and len(pins) == len(set(pins))

    def put(self, entry: _Entry, held: Content, key: SceneKey) -> None:
        """Put a scene where its content lies already, or on a switch of its own."""
        content, pin = entry
        if pin is not None and (content, None) in self.filled:
            _, _, keys = self.filled.pop((content, None))
            self.filled[entry] = (held, key[1], keys)
        if pin is None:
            entry = next((one for one in self.filled if one[0] == content), entry)
        self.filled.setdefault(entry, (held, key[1], []))[2].append(key)

    def lie(self) -> Iterator[tuple[int, tuple[Content, str, list[SceneKey]]]]:
        """Yield switch by switch what lies there."""
        taken = {pin: one for (_, pin), one in self.filled.items() if pin is not None}
        free = (switch for switch in self.switches if switch not in taken)
        rest = [one for (_, pin), one in self.filled.items() if pin is None]
        yield from sorted((taken | dict(zip(free, rest, strict=False))).items())


def _without_doubles(entries: set[_Entry]) -> set[_Entry]:
    """Leave out what lies on no switch of its own and is pinned to one besides."""
    pinned_too = {content for content, pin in entries if pin is not None}
    return {one for one in entries if one[1] is not None or one[0] not in pinned_too}


def _one_object_each(contents: dict[SceneKey, Content]) -> dict[SceneKey, Content]:
    """Return ``contents`` with equal ones made the same object, so that ids tell them apart."""
    seen: dict[int, Content] = {}
    equal: dict[object, Content] = {}
    result = {}
    for key, held in contents.items():
        # Most scenes share their content already; only new objects are compared as a whole.
        if id(held) not in seen:
            # What messages mean is said in words that differ where the bytes do not.
            sent = tuple(command.message for command in held.commands)
            typed = (held.loops, held.relays, sent, held.tempo and held.tempo.often)
            seen[id(held)] = equal.setdefault(typed, held)
        result[key] = seen[id(held)]
    return result


def assign(
    target: Target, songs: list[BoundSong], contents: dict[SceneKey, Content]
) -> tuple[Placement, list[Finding]]:
    """Place the scenes of ``songs``, in their order, into the rig's banks.

    ``contents`` holds what each scene's preset contains; scenes that are not in it are left
    out. Where they do not fit, the finding says how many banks it would take.
    """
    contents = _one_object_each(contents)
    first, last = _banks(target)
    switches = _free_switches(target)
    banks: list[_Bank] = []
    findings: list[Finding] = []
    pins = pins_of(target)
    for song, keys in _scenes_of_owners(songs, contents):
        on = pinned(target, song, [name for _, name in keys], pins)
        entries = {key: (id(contents[key]), on.get(key[1])) for key in keys}
        different = _without_doubles(set(entries.values()))
        parts = [keys]
        if len(different) > len(switches):
            parts = _parted(song, entries, len(switches)) if may_part(song) else []
            if not parts:
                findings.append(_too_many_scenes(target, song, len(different), len(switches)))
                continue
        for part in parts:
            bank = _bank_for(song, banks, different) if len(parts) == 1 else None
            if bank is None:
                bank = _Bank(switches)
                banks.append(bank)
            for key in sorted(part, key=lambda one: one[1] not in on):
                bank.put(entries[key], contents[key], key)
    if len(banks) > last - first + 1:
        findings.append(_too_many_banks(target, len(banks), last - first + 1))
        banks = banks[: last - first + 1]
    return _written(banks, first), findings


def _parted(song: BoundSong, entries: dict[SceneKey, _Entry], held: int) -> list[list[SceneKey]]:
    """Return the scenes of a song's first and second bank; none where two banks are too few."""
    pinned_too = {content: (content, pin) for content, pin in entries.values() if pin is not None}
    lies = {
        key: entry if entry[1] is not None else pinned_too.get(entry[0], entry)
        for key, entry in entries.items()
    }
    pressed = [key_of(song, one.scene) for one in song.moments]
    return over_two_banks([key for key in pressed if key in lies], lies, held)


def _bank_for(song: BoundSong, banks: list[_Bank], different: set[_Entry]) -> _Bank | None:
    """Return the bank that takes a song; None where it needs a new one.

    Songs of the sets follow one another. A request comes at any time, so any bank will do.
    """
    near = banks[-1:] if song.number else banks
    return next((bank for bank in near if bank.room_for(different)), None)


def _scenes_of_owners(
    songs: list[BoundSong], contents: dict[SceneKey, Content]
) -> Iterator[tuple[BoundSong, list[SceneKey]]]:
    """Yield each owner of scenes once, by its first song, with all scenes of all its playings."""
    owners: dict[str, tuple[BoundSong, dict[SceneKey, None]]] = {}
    for song in songs:
        _, keys = owners.setdefault(song.owner, (song, {}))
        keys.update(
            (key, None) for scene in song.scenes if (key := key_of(song, scene)) in contents
        )
    for song, keys in owners.values():
        if keys:
            yield song, list(keys)


def _written(banks: list[_Bank], first: int) -> Placement:
    placement = Placement()
    for number, bank in enumerate(banks, first):
        for switch, (held, name, keys) in bank.lie():
            slot = Address(number, switch)
            placement.presets.append(Preset(slot, name, held, tuple(keys)))
            placement.of_scene.update(dict.fromkeys(keys, slot))
    return placement


def _banks(target: Target) -> tuple[int, int]:
    """Return the first and last bank of this rig, counted from 0."""
    use = target.book.rig.switcher
    count = target.book.switcher.banks.count
    if use is None or use.banks is None:
        return 0, count - 1
    return use.banks[0] - 1, min(use.banks[1], count) - 1


def _free_switches(target: Target) -> list[int]:
    """Return the switches of a bank that the rig does not keep for something else."""
    use, switcher = target.book.rig.switcher, target.book.switcher
    kept = {parse_kept_switch(key).casefold() for key in (use.every_bank if use else ())}
    return [
        number
        for number in range(switcher.switches.count)
        if switcher.switches.show(number).casefold() not in kept
    ]


def _too_many_scenes(target: Target, song: BoundSong, different: int, held: int) -> Finding:
    book = target.book
    path = ("rig", "general") if song.general else (*song.song.path, "scenes")
    need = "the general scenes need" if song.general else f"{quoted(song.song.title)} needs"
    needed = number_of(different, "switch", "switches")
    where, way_out = f"one bank, and a bank has {held} free", "or let two scenes sound the same"
    if may_part(song):
        where = f"two banks, and two have {2 * held} free"
    elif not song.general:
        way_out = "let two scenes sound the same, or write over two banks: yes in this song"
    return Finding(
        "bank-too-small",
        Severity.ERROR,
        f"{need} {needed} in {where}",
        book.place_of_key(path),
        f"take a scene out, {way_out}",
    )


def _too_many_banks(target: Target, needed: int, held: int) -> Finding:
    book = target.book
    return Finding(
        "banks-too-few",
        Severity.ERROR,
        f"tonight's scenes need {number_of(needed, 'bank')}, and this rig has {held}",
        book.place(("rig", "switcher", "banks")),
        "give this rig more banks, play fewer songs, or let songs share sounds",
    )
