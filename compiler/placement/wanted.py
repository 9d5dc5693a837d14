"""Tonight's scenes as presets that have to lie somewhere: what each song needs in one bank.

Scenes that are made in the same way are one preset. What is pinned to a switch is so wherever it
lies, whatever a song calls it; two presets of one song that would want one switch are kept apart.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from typing import NamedTuple

from setwright.compiler.binding.bound import BoundSong
from setwright.compiler.binding.target import Target
from setwright.compiler.lowering.preset import Content
from setwright.compiler.placement.feet import Songs, fewest_presses
from setwright.compiler.placement.held import Typed, typed_of
from setwright.compiler.placement.needs import Need, Room, need_of
from setwright.compiler.placement.parting import may_part, over_two_banks
from setwright.compiler.placement.pins import pinned, pins_of
from setwright.scenes.finding import Finding, Severity
from setwright.scenes.quantities import quoted
from setwright.scenes.rig import parse_kept_switch
from setwright.scenes.wording import number_of

SceneKey = tuple[str, str]
"""The owner of a scene, which playings that sound the same share, and the scene's name."""


def key_of(song: BoundSong, scene: str) -> SceneKey:
    """Return the key of a scene of this playing, under which it is placed and looked up."""
    return (song.owner, scene)


class Kind(NamedTuple):
    """One preset, wherever it is typed: what it holds, and its switch where it has one.

    ``pinned`` are the scenes for which it has that switch.
    """

    content: Content
    pin: int | None
    pinned: frozenset[SceneKey] = frozenset()


class Part(NamedTuple):
    """Scenes of one playing that lie in one bank: all of them, or half of a song over two banks.

    ``number`` is that of the playing among tonight's; ``presets`` gives each scene's preset.
    """

    number: int
    presets: dict[SceneKey, int]

    @property
    def need(self) -> Need:
        """The presets."""
        return need_of(self.presets.values())


class Wanted(NamedTuple):
    """What is to be placed: presets (``kinds``), the parts of each set's songs, and the others.

    ``straight`` are the places in each set of songs that follow without a pause; ``others`` have
    no place in the order: requests, and the general scenes that they use.
    """

    kinds: tuple[Kind, ...]
    sets: tuple[tuple[Part, ...], ...]
    straight: tuple[frozenset[int], ...]
    others: tuple[Part, ...]
    room: Room
    findings: tuple[Finding, ...]

    @property
    def songs(self) -> tuple[Songs, ...]:
        """The sets as the search sees them."""
        return tuple(
            Songs(tuple(part.need for part in parts), straight)
            for parts, straight in zip(self.sets, self.straight, strict=True)
        )

    @property
    def fewest_presses(self) -> int:
        """As many bank presses as no way through the sets in order can do without."""
        return fewest_presses(self.songs, self.room)

    @property
    def parts(self) -> Iterator[Part]:
        """All of it, in order."""
        for parts in self.sets:
            yield from parts
        yield from self.others


def wanted(target: Target, songs: list[BoundSong], contents: dict[SceneKey, Content]) -> Wanted:
    """Return what the scenes of ``songs`` need; scenes that are not in ``contents`` are left out.

    The findings tell of songs that need more switches than there are, which are left out as well.
    """
    return _Reader(target, songs, _one_object_each(contents)).read()


def _one_object_each(contents: dict[SceneKey, Content]) -> dict[SceneKey, Content]:
    """Return ``contents`` with equal ones made the same object, so that ids tell them apart."""
    seen: dict[int, Content] = {}
    equal: dict[Typed, Content] = {}
    result = {}
    for key, held in contents.items():
        # Most scenes share their content already; only new objects are compared as a whole.
        if id(held) not in seen:
            # What messages mean is said in words that differ where the bytes do not.
            seen[id(held)] = equal.setdefault(typed_of(held), held)
        result[key] = seen[id(held)]
    return result


class _Reader:
    """Numbers presets as they first come."""

    def __init__(
        self, target: Target, songs: list[BoundSong], contents: dict[SceneKey, Content]
    ) -> None:
        self.target, self.songs, self.contents = target, songs, contents
        self.held = len(free_switches(target))
        self.numbers: dict[tuple[int, int | None], int] = {}
        self.kinds: list[Kind] = []
        self.findings: list[Finding] = []
        self.pins: list[dict[SceneKey, int]] = [{} for _ in songs]
        self.pin_of: dict[int, int] = {}

    def read(self) -> Wanted:
        keys = [
            [key for scene in song.scenes if (key := key_of(song, scene)) in self.contents]
            for song in self.songs
        ]
        self._pin(keys)
        sets: dict[object, list[Part]] = {}
        straight: dict[object, set[int]] = {}
        others: list[Part] = []
        general: dict[SceneKey, None] = {}
        refused: set[str] = set()
        for number, (song, own) in enumerate(zip(self.songs, keys, strict=True)):
            if song.general and not song.number:
                general.update(dict.fromkeys(own))
                continue
            parts = self._parts(number, own, refused)
            if song.number and song.playing is not None:
                within = song.playing.path[:-2]
                if song.is_straight and sets.get(within):
                    straight.setdefault(within, set()).add(len(sets[within]))
                sets.setdefault(within, []).extend(parts)
            else:
                others += parts
        if general:
            number = next(
                number for number, song in enumerate(self.songs) if song.general and not song.number
            )
            others = [*self._parts(number, list(general), refused), *others]
        groups: dict[int, list[int]] = {}
        for number, kind in enumerate(self.kinds):
            if kind.pin is not None:
                groups.setdefault(kind.pin, []).append(number)
        pinned_groups = (need_of(group) for group in groups.values() if len(group) > 1)
        return Wanted(
            tuple(self._with_scenes()),
            tuple(map(tuple, sets.values())),
            tuple(frozenset(straight.get(one, ())) for one in sets),
            tuple(others),
            Room(self.held, tuple(pinned_groups)),
            tuple(self.findings),
        )

    def _with_scenes(self) -> Iterator[Kind]:
        """Yield each kind with the scenes for which it lies on its switch."""
        scenes: dict[tuple[int, int], set[SceneKey]] = {}
        for pins in self.pins:
            for key, pin in pins.items():
                scenes.setdefault((id(self.contents[key]), pin), set()).add(key)
        for kind in self.kinds:
            pinned = scenes.get((id(kind.content), -1 if kind.pin is None else kind.pin), ())
            yield kind._replace(pinned=frozenset(pinned))

    def _pin(self, keys: list[list[SceneKey]]) -> None:
        """Note which switch what is pinned lies on, in each song and elsewhere."""
        pins = pins_of(self.target)
        if not pins:
            return
        for number, (song, own) in enumerate(zip(self.songs, keys, strict=True)):
            on = pinned(self.target, song, [name for _, name in own], pins)
            self.pins[number] = {key: on[key[1]] for key in own if key[1] in on}
            for key, pin in self.pins[number].items():
                self.pin_of.setdefault(id(self.contents[key]), pin)

    def _parts(self, number: int, keys: list[SceneKey], refused: set[str]) -> list[Part]:
        song = self.songs[number]
        if not keys or song.owner in refused:
            return []
        presets = dict(zip(keys, self._numbered(number, keys), strict=True))
        different = len(set(presets.values()))
        if different <= self.held:
            return [Part(number, presets)]
        parts: list[list[SceneKey]] = []
        if may_part(song):
            pressed = [key for one in song.moments if (key := key_of(song, one.scene)) in presets]
            parts = over_two_banks(pressed, presets, self.held)
        if not parts:
            refused.add(song.owner)
            self.findings.append(_too_many_scenes(self.target, song, different, self.held))
        return [Part(number, {key: presets[key] for key in part}) for part in parts]

    def _numbered(self, number: int, keys: Iterable[SceneKey]) -> Iterator[int]:
        """Yield the preset of each scene of a song."""
        own: dict[int, int] = {}
        for key, own_pin in self.pins[number].items():
            own.setdefault(id(self.contents[key]), own_pin)
        for key in keys:
            content = self.contents[key]
            usual = self.pin_of.get(id(content))
            taken = {*self.pins[number].values(), *own.values()}
            if id(content) not in own and usual is not None and usual not in taken:
                own[id(content)] = usual
            pin = self.pins[number].get(key, own.get(id(content)))
            entry = (id(content), pin)
            if entry not in self.numbers:
                self.numbers[entry] = len(self.kinds)
                self.kinds.append(Kind(content, pin))
            yield self.numbers[entry]


def free_switches(target: Target) -> list[int]:
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
