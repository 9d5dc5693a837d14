"""Presets → banks and switches: which sound lives where.

A song's scenes lie in one bank, or in two if it may (`parting`). Which bank that is, `search` finds
out; which switch, `switches`. A song that is played again lies where it lay, if the foot is there
then; otherwise it is typed a second time, and its playing owns those scenes. The same book gives
the same places.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, NamedTuple

from setwright.compiler.binding.bound import BoundSong
from setwright.compiler.binding.target import Target
from setwright.compiler.lowering.preset import Address, Content
from setwright.compiler.placement.held import Held, Typed, banks_shown, typed_of
from setwright.compiler.placement.needs import need_of
from setwright.compiler.placement.search import Aim, Banks, for_the_feet
from setwright.compiler.placement.switches import switches_of
from setwright.compiler.placement.wanted import Part, SceneKey, Wanted, free_switches, wanted
from setwright.scenes.finding import Finding, Severity
from setwright.scenes.wording import number_of

if TYPE_CHECKING:
    from setwright.compiler.placement.hands import Packed
    from setwright.compiler.placement.over import Rewritten

FEET, HANDS = "the feet", "the hands"
"""The aims of a placement: the fewest bank presses on the night; the fewest presets to type."""


class Preset(NamedTuple):
    """One preset: where it lies, what it is called, what it holds, which scenes it serves."""

    slot: Address
    name: str
    content: Content
    scenes: tuple[SceneKey, ...]


@dataclass(slots=True)
class Placement:
    """All presets of a night; ``of_scene`` finds the switch of every scene.

    ``presses`` are the presses from bank to bank in all sets together; ``in_order`` tells that the
    bank only moves up within them.
    ``packed`` is what is known of the fewest presets, where the night is placed for the hands,
    or ``over`` of the fewest to type again; ``asked`` what was to be placed, ``banks`` the bank of
    each part of it, counted from 0, and ``of_song`` those of the sets, counted from the rig's
    first; ``as_noted`` tells that they are those that were noted.
    """

    presets: list[Preset] = field(default_factory=list)
    of_scene: dict[SceneKey, Address] = field(default_factory=dict)
    presses: int = 0
    in_order: bool = True
    packed: Packed | None = None
    over: Rewritten | None = None
    asked: Wanted | None = None
    banks: tuple[int, ...] = ()
    of_song: tuple[tuple[int, ...], ...] = ()
    as_noted: bool = False


class Assigned(NamedTuple):
    """A placement; the songs, of which some own scenes that they shared before (``copies``)."""

    placement: Placement
    songs: list[BoundSong]
    copies: dict[SceneKey, SceneKey]
    findings: list[Finding]


def assign(
    target: Target,
    songs: list[BoundSong],
    contents: dict[SceneKey, Content],
    held: Mapping[Address, Held],
    *,
    as_noted: bool,
) -> Assigned:
    """Place the scenes of ``songs``, in their order, into the rig's banks.

    ``contents`` holds what each scene's preset contains; scenes that are not in it are left
    out. ``held`` is what the switcher holds; with ``as_noted`` songs lie where the night that was
    noted last had them, if they can. Where they do not fit, the finding says how many banks it
    would take.
    """
    asked = wanted(target, songs, contents)
    aim = aim_of(target, asked, held)
    others = [one.need for one in asked.others]
    packed: Packed | None = None
    over: Rewritten | None = None
    noted = _noted(target, asked, aim) if as_noted else None
    found: Banks | int
    if noted is not None:
        found = noted
    elif best_for(target) == HANDS:
        from setwright.compiler.placement.for_hands import for_the_hands

        hands = for_the_hands(asked.songs, others, asked.room, aim)
        found = hands if isinstance(hands, int) else hands.banks
        packed = None if isinstance(hands, int) else hands.packed
        over = None if isinstance(hands, int) else hands.over
    else:
        found = for_the_feet(asked.songs, others, asked.room, aim)
    if isinstance(found, int):
        refused = _too_many_banks(target, found, aim.banks)
        return Assigned(Placement(), songs, {}, [*asked.findings, refused])
    lying = list(_lying(asked, found))
    owners, copies = _owners(songs, lying)
    placement = _written(target, asked, lying, owners, held)
    placement.presses, placement.in_order = found.presses, found.in_order
    placement.of_song = found.of_song
    placement.packed, placement.over, placement.asked = packed, over, asked
    first, _ = banks_of(target)
    placement.banks = tuple(first + bank for _, bank in lying)
    placement.as_noted = noted is not None
    songs = [
        song._replace(owner=owners.get(number, song.owner)) for number, song in enumerate(songs)
    ]
    return Assigned(placement, songs, copies, list(asked.findings))


def _noted(target: Target, asked: Wanted, aim: Aim) -> Banks | None:
    """Return the banks that are noted of this rig's last night, if what is asked fits into them."""
    stored, first = target.book.stored, banks_of(target)[0]
    placed = stored.placed.get(name_of(target)) if stored is not None else None
    banks = banks_shown(target.book, placed.banks) if placed is not None else None
    if not banks or len(banks) != len(list(asked.parts)):
        return None
    lying: dict[int, int] = {}
    for part, bank in zip(asked.parts, banks, strict=True):
        lying[bank] = lying.get(bank, 0) | part.need
    inside = all(first <= bank < first + aim.banks for bank in banks)
    if not inside or not all(map(asked.room.holds, lying.values())):
        return None
    rest = iter(bank - first for bank in banks)
    of_song = tuple(tuple(next(rest) for _ in parts) for parts in asked.sets)
    return Banks(of_song, tuple(rest), False, aim.by_number)


def aim_of(target: Target, asked: Wanted, held: Mapping[Address, Held]) -> Aim:
    """Return what is asked of the placement of ``asked`` over what the switcher holds."""
    first, last = banks_of(target)
    stored = _stored(target, asked, held)
    return Aim(
        last - first + 1,
        tuple(need_of(stored.get(bank, ())) for bank in range(first, last + 1)),
        max(0, allowed_presses(target) - asked.fewest_presses),
        target.book.switcher.bank_moves.by != "up and down",
    )


def _lying(asked: Wanted, found: Banks) -> Iterator[tuple[Part, int]]:
    """Yield every part with its bank."""
    for parts, banks in zip(asked.sets, found.of_song, strict=True):
        yield from zip(parts, banks, strict=True)
    yield from zip(asked.others, found.of_other, strict=True)


def _stored(
    target: Target, asked: Wanted, held: Mapping[Address, Held]
) -> dict[int, dict[int, list[int]]]:
    """Return where what is wanted lies already: bank → preset → switches."""
    if not held:
        return {}
    kinds: dict[Typed, list[int]] = {}
    for preset, kind in enumerate(asked.kinds):
        kinds.setdefault(typed_of(kind.content), []).append(preset)
    switches = set(free_switches(target))
    found: dict[int, dict[int, list[int]]] = {}
    for address, one in sorted(held.items()):
        for preset in kinds.get(one.typed, ()):
            if address.switch in switches and asked.kinds[preset].pin in (None, address.switch):
                found.setdefault(address.bank, {}).setdefault(preset, []).append(address.switch)
    return found


def _owners(
    songs: list[BoundSong], lying: list[tuple[Part, int]]
) -> tuple[dict[int, str], dict[SceneKey, SceneKey]]:
    """Return the owners of playings that lie elsewhere than the first of their song.

    And the keys of their scenes, with those that they had.
    """
    used = {song.owner for song in songs} | {song.song.identity for song in songs}
    lies: dict[str, list[tuple[str, dict[SceneKey, int]]]] = {}
    by_playing: dict[int, dict[SceneKey, int]] = {}
    for part, bank in lying:
        by_playing.setdefault(part.number, {}).update(dict.fromkeys(part.presets, bank))
    owners: dict[int, str] = {}
    copies: dict[SceneKey, SceneKey] = {}
    for number, banks in by_playing.items():
        song = songs[number]
        ways = lies.setdefault(song.owner, [(song.owner, {})])
        known = next((one for one in ways if _agree(one[1], banks)), None)
        if known is None:
            owner = song.called
            while owner in used:
                owner += " again"
            used.add(owner)
            known = (owner, {})
            ways.append(known)
        known[1].update(banks)
        if known[0] != song.owner:
            owners[number] = known[0]
            copies.update({(known[0], name): (song.owner, name) for _, name in banks})
    return owners, copies


def _agree(lies: dict[SceneKey, int], banks: dict[SceneKey, int]) -> bool:
    """Tell whether two playings of a song may share its scenes: they lie in the same banks."""
    both = lies.keys() & banks.keys()
    return all(lies[key] == banks[key] for key in both) and (
        not lies or set(lies.values()) >= set(banks.values())
    )


def _written(
    target: Target,
    asked: Wanted,
    lying: list[tuple[Part, int]],
    owners: dict[int, str],
    held: Mapping[Address, Held],
) -> Placement:
    first, _ = banks_of(target)
    stored = _stored(target, asked, held)
    scenes: dict[int, dict[int, list[SceneKey]]] = {}
    for part, bank in lying:
        here = scenes.setdefault(bank, {})
        for key, preset in part.presets.items():
            key = (owners.get(part.number, key[0]), key[1])
            names = here.setdefault(preset, [])
            if key not in names:
                names.append(key)
    switches = free_switches(target)
    usual: dict[int, int] = {}
    placement = Placement()
    for bank, here in sorted(scenes.items()):
        pins = {one: pin for one in here if (pin := asked.kinds[one].pin) is not None}
        on = switches_of(list(here), switches, pins, stored.get(first + bank, {}), usual)
        for preset, switch in sorted(on.items(), key=lambda one: one[1]):
            usual.setdefault(preset, switch)
            slot, keys = Address(first + bank, switch), here[preset]
            kind = asked.kinds[preset]
            # What lies there for a scene of that name is called like it; or as it is called now.
            called = [key[1] for key in keys if key in kind.pinned] or [key[1] for key in keys]
            there = held.get(slot)
            name = called[0]
            if there is not None and there.name is not None and there.name in called:
                name = there.name
            placement.presets.append(Preset(slot, name, kind.content, tuple(keys)))
            placement.of_scene.update(dict.fromkeys(keys, slot))
    return placement


def placed_in(
    target: Target,
    songs: list[BoundSong],
    asked: Wanted,
    found: Banks,
    held: Mapping[Address, Held],
) -> Placement:
    """Return the presets of another way to place ``asked``, to be compared with tonight's."""
    lying = list(_lying(asked, found))
    return _written(target, asked, lying, _owners(songs, lying)[0], held)


def best_for(target: Target) -> str:
    """Return for what the night is placed: the feet or the hands, as the night says, or the rig."""
    book = target.book
    return book.night.best_for or book.rig.best_for or FEET


def allowed_presses(target: Target) -> int:
    """Return how many bank presses are allowed, if it takes that many; 0 where nobody says.

    What the night says, else as many as the one took that was typed in last.
    """
    book = target.book
    if book.night.bank_presses is not None:
        return book.night.bank_presses
    placed = book.stored.placed.get(name_of(target)) if book.stored is not None else None
    return placed.presses if placed is not None else 0


def name_of(target: Target) -> str:
    """Return what the rig is called where the switcher's presets are listed."""
    return target.book.rig.rig or target.book.night.rig


def banks_of(target: Target) -> tuple[int, int]:
    """Return the first and last bank of this rig, counted from 0."""
    use = target.book.rig.switcher
    count = target.book.switcher.banks.count
    if use is None or use.banks is None:
        return 0, count - 1
    return use.banks[0] - 1, min(use.banks[1], count) - 1


def _too_many_banks(target: Target, needed: int, held: int) -> Finding:
    book = target.book
    return Finding(
        "banks-too-few",
        Severity.ERROR,
        f"tonight's scenes need {number_of(needed, 'bank')}, and this rig has {held}",
        book.place(("rig", "switcher", "banks")),
        "give this rig more banks, play fewer songs, or let songs share sounds",
    )
