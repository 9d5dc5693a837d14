"""Where tonight's sounds live, what that costs, and why it cannot cost less."""

from __future__ import annotations

from collections.abc import Iterator
from typing import NamedTuple

from setwright.compiler.compiled import Compiled
from setwright.compiler.placement.banks import FEET, HANDS, aim_of, banks_of, best_for, placed_in
from setwright.compiler.placement.feet import reach
from setwright.compiler.placement.for_hands import for_the_hands
from setwright.compiler.placement.hands import Packed
from setwright.compiler.placement.held import typed_of
from setwright.compiler.placement.needs import Need
from setwright.compiler.placement.over import Rewritten
from setwright.compiler.placement.search import Aim, Banks, filled, for_the_feet, typing
from setwright.compiler.placement.wanted import Wanted
from setwright.compiler.plan import count_of
from setwright.scenes.wording import number_of


class Cost(NamedTuple):
    """What a placement costs: presets to type, presets in all, banks, presses between banks.

    What is kept in every bank is among the presets, and a new name is to be typed as well.
    """

    to_type: int
    presets: int
    banks: int
    presses: int


class Ways(NamedTuple):
    """Both aims beside each other: what each costs, None where it takes too many banks.

    ``packed`` is what is known of the fewest presets, ``over`` of the fewest to type again.
    ``least`` tells that nothing with as few bank presses as tonight's has less of the sets to type.
    """

    feet: Cost | None
    hands: Cost | None
    packed: Packed | None
    over: Rewritten | None
    least: bool


def ways_of(compiled: Compiled) -> Ways:
    """Return what either aim costs, over what the switcher holds."""
    asked = compiled.placement.asked
    assert asked is not None
    over = aim_of(compiled.target, asked, compiled.held)
    aim = over._replace(stored=()) if compiled.fresh else over
    others = [one.need for one in asked.others]
    feet = for_the_feet(asked.songs, others, asked.room, aim)
    hands = for_the_hands(asked.songs, others, asked.room, aim)
    least = False
    if not isinstance(feet, int) and feet.exact:
        tonight = filled(asked.songs, compiled.placement.of_song)
        best = typing(filled(asked.songs, feet.of_song), aim.stored)
        enough = compiled.placement.presses <= asked.fewest_presses + aim.slack
        least = compiled.placement.in_order and enough and typing(tonight, aim.stored) == best
        # A pin may push what is stored off its switch, which the search does not see.
        least = least and (compiled.fresh or _is_as_counted(compiled, aim))
    return Ways(
        None if isinstance(feet, int) else _cost(compiled, feet),
        None if isinstance(hands, int) else _cost(compiled, hands.banks),
        None if isinstance(hands, int) else hands.packed,
        None if isinstance(hands, int) else hands.over,
        least,
    )


def _is_as_counted(compiled: Compiled, aim: Aim) -> bool:
    """Tell whether as many of tonight's presets are to be typed as the search counts."""
    placement = compiled.placement
    first, _ = banks_of(compiled.target)
    lying: list[Need] = []
    assert placement.asked is not None
    for part, bank in zip(placement.asked.parts, placement.banks, strict=True):
        lying += [0] * (bank - first + 1 - len(lying))
        lying[bank - first] |= part.need
    there = {at: one.typed for at, one in compiled.held.items()}
    writes = sum(there.get(one.slot) != typed_of(one.content) for one in placement.presets)
    return writes == typing(lying, aim.stored)


def _cost(compiled: Compiled, banks: Banks) -> Cost:
    asked = compiled.placement.asked
    assert asked is not None
    held = {} if compiled.fresh else compiled.held
    placement = placed_in(compiled.target, compiled.songs, asked, banks, held)
    count = count_of(compiled, placement)
    used = len({one.slot.bank for one in placement.presets})
    return Cost(count.to_type, count.presets, used, banks.presses)


def place_lines(compiled: Compiled, ways: Ways) -> Iterator[str]:
    """Yield the banks with their songs, both aims' costs, and why these are the least."""
    book, placement = compiled.book, compiled.placement
    aim = best_for(compiled.target)
    presets = number_of(count_of(compiled, placement).presets, "preset")
    banks = number_of(len({one.slot.bank for one in placement.presets}), "bank")
    moves = number_of(placement.presses, "bank press", "bank presses")
    rig = book.rig.rig or "this rig"
    yield f"{book.night.night} on {rig}, for {aim}: {presets} in {banks}, {moves}"
    yield ""
    songs = _songs_of_banks(compiled)
    width = max((len(book.switcher.banks.show(bank)) for bank in songs), default=1)
    for bank, titles in sorted(songs.items()):
        yield f"bank {book.switcher.banks.show(bank):>{width}}  {' | '.join(titles)}"
    yield ""
    yield f"{'':15} {'to type':>7} {'presets':>8} {'banks':>6} {'bank presses':>13}"
    for name, cost in ((FEET, ways.feet), (HANDS, ways.hands)):
        if cost is not None:
            tonight = "  <- this night" if name == aim else ""
            yield (
                f"for {name:11} {cost.to_type:7} {cost.presets:8} {cost.banks:6} "
                f"{cost.presses:13}{tonight}"
            )
    yield ""
    yield from _why(compiled, ways)


def _songs_of_banks(compiled: Compiled) -> dict[int, list[str]]:
    """Return who plays from which bank, in the order of the night."""
    found: dict[int, dict[str, None]] = {}
    for song in compiled.songs:
        for name in song.scenes:
            slot = compiled.placement.of_scene.get((song.owner, name))
            if slot is not None:
                found.setdefault(slot.bank, {})[song.called] = None
    return {bank: list(names) for bank, names in found.items()}


def _why(compiled: Compiled, ways: Ways) -> Iterator[str]:
    """Yield what cannot be less, with reasons that a person can check."""
    placement, asked = compiled.placement, compiled.placement.asked
    assert asked is not None
    yield "what is certain:"
    names = _set_names(compiled)
    for name, parts, songs in zip(names, asked.sets, asked.songs, strict=True):
        starts = [0, *reach(songs.needs, asked.room)[:-1]]
        titles = [compiled.songs[parts[at].number].called for at in starts if parts]
        if len(titles) > 1:
            count = number_of(len(titles) - 1, "bank press", "bank presses")
            yield (
                f"  {name} needs {count} at the least: filled one after the other, the banks begin "
                f"with {', '.join(titles)}; none of these finds room in the bank before it"
            )
    if asked.sets and not placement.in_order:
        yield "  the banks do not hold the songs in order, so the foot goes up and down"
    elif asked.sets and ways.least:
        yield (
            f"  with {number_of(placement.presses, 'bank press', 'bank presses')} or fewer, no way "
            "through the sets has fewer of their presets to type: all were looked through"
        )
    elif asked.sets and best_for(compiled.target) == FEET:
        yield "  whether less typing would do is not known"
    if ways.over is not None:
        least = number_of(ways.over.least, "preset")
        yield f"  over what the switcher holds, no placement has fewer than {least} to type"
        if not ways.over.proven:
            yield f"  the best that is known has {ways.over.typed}: {ways.over.why_not}"
    if ways.packed is not None:
        yield from _about_packing(compiled, ways.packed, asked)
    if compiled.kept is not None:
        yield "  (what is kept in every bank comes on top of these least numbers)"


def _about_packing(compiled: Compiled, packed: Packed, asked: Wanted) -> Iterator[str]:
    titles: dict[Need, str] = {}
    for part in asked.parts:
        titles.setdefault(part.need, compiled.songs[part.number].called)
    if len(packed.apart) > 1:
        apart = ", ".join(titles[need] for need in packed.apart)
        count = number_of(len(packed.apart), "bank")
        yield f"  {count} at the least, for no two of these share one: {apart}"
    if packed.presets == packed.least:
        yield f"  no placement has fewer than {number_of(packed.least, 'preset')}"
    else:
        yield (
            f"  no placement has fewer than {number_of(packed.least, 'preset')}; the best that is "
            f"known has {packed.presets}: {packed.why_not}"
        )
    if packed.prices:
        worth = ", ".join(
            f"{titles[need]} {price:.3g}" for need, price in packed.prices if price > 1e-6
        )
        yield (
            "  to check it: give these songs so many points; whatever songs share a bank, it holds "
            f"at least as many presets as they have points: {worth}"
        )


def _set_names(compiled: Compiled) -> list[str]:
    asked = compiled.placement.asked
    assert asked is not None
    names = []
    for parts in asked.sets:
        playing = compiled.songs[parts[0].number].playing if parts else None
        at = playing.path[2] if playing is not None else 0
        one = compiled.book.night.sets[int(at)]
        names.append(one.name or f"set {int(at) + 1}")
    return names


def place_json(compiled: Compiled, ways: Ways) -> dict[str, object]:
    """Return the same as plain data."""
    placement = compiled.placement
    show = compiled.book.switcher.banks.show
    packed = ways.packed
    return {
        "night": compiled.book.night.night,
        "rig": compiled.book.rig.rig,
        "best_for": best_for(compiled.target),
        "presets": count_of(compiled, placement).presets,
        "bank_presses": placement.presses,
        "fewest_bank_presses": 0 if placement.asked is None else placement.asked.fewest_presses,
        "least_typing_is_proven": ways.least,
        "in_order": placement.in_order,
        "banks": {show(bank): names for bank, names in sorted(_songs_of_banks(compiled).items())},
        "the feet": None if ways.feet is None else ways.feet._asdict(),
        "the hands": None if ways.hands is None else ways.hands._asdict(),
        "fewest_presets": None if packed is None else packed.least,
        "fewest_presets_is_proven": packed is not None and packed.presets == packed.least,
        "fewest_to_type": None if ways.over is None else ways.over.least,
        "fewest_to_type_is_proven": ways.over is not None and ways.over.proven,
    }
