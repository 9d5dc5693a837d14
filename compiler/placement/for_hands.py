"""The bank of every song for the hands: the fewest presets to type.

Where nothing of it lies in the switcher yet, the solver says which songs share a bank (`hands`),
and here the banks get their numbers, so that the foot mostly goes up. Where something does, it
says what comes into which bank (`over`).
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

from setwright.compiler.placement.feet import Songs
from setwright.compiler.placement.hands import Packed, packed
from setwright.compiler.placement.needs import Need, Room
from setwright.compiler.placement.over import Rewritten, rewritten
from setwright.compiler.placement.search import Aim, Banks, for_the_feet, typed_for


class ForHands(NamedTuple):
    """Where everything lies, and what was found out about the fewest presets.

    ``packed`` is about a switcher in which nothing lies, ``over`` about this one.
    """

    banks: Banks
    packed: Packed | None = None
    over: Rewritten | None = None


def for_the_hands(
    sets: Sequence[Songs], others: Sequence[Need], room: Room, aim: Aim
) -> ForHands | int:
    """Return the banks, or how many it takes at the least where there are too few."""
    needs = [need for one in sets for need in one.needs]
    if any(aim.stored):
        over = rewritten([*needs, *others], room, aim.stored, aim.banks)
        if over.banks:
            feet = for_the_feet(sets, others, room, aim)
            if not isinstance(feet, int) and typed_for(sets, others, feet, aim) <= over.typed:
                # As little to type, and the foot has less to do.
                return ForHands(feet._replace(exact=over.proven), over=over)
            banks = _played(over.banks, sets, others, aim, exact=over.proven)
            return ForHands(banks, over=over)
    found = packed([*needs, *others], room, aim.banks)
    if len(found.banks) > aim.banks:
        feet = for_the_feet(sets, others, room, aim)
        return feet if isinstance(feet, int) else ForHands(feet, found)
    order: dict[Need, int] = {}
    for need in (*needs, *found.banks):
        bank = next(one for one in found.banks if need & one == need)
        order.setdefault(bank, len(order))
    lying = {number: bank for bank, number in order.items()}
    return ForHands(_played(lying, sets, others, aim, exact=found.proven), found)


def _played(
    lying: dict[int, Need],
    sets: Sequence[Songs],
    others: Sequence[Need],
    aim: Aim,
    *,
    exact: bool,
) -> Banks:
    """Return from which bank each song is played: of those that hold it, the nearest."""
    of_song: list[tuple[int, ...]] = []
    last = min(lying, default=0)
    for one in sets:
        way: list[int] = []
        for need in one.needs:
            last = _nearest(lying, need, last)
            way.append(last)
        of_song.append(tuple(way))
    of_other = tuple(_nearest(lying, need, 0) for need in others)
    return Banks(tuple(of_song), of_other, exact, aim.by_number)


def _nearest(lying: dict[int, Need], need: Need, near: int) -> int:
    return min(
        (bank for bank, there in lying.items() if there & need == need),
        key=lambda bank: (abs(bank - near), bank),
    )
