"""Ways through the banks for the feet, against every way there is."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from itertools import combinations_with_replacement, product

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from setwright.compiler.placement.feet import Songs, Walk, fewest_presses, reach
from setwright.compiler.placement.for_hands import for_the_hands
from setwright.compiler.placement.needs import Need, Room, TooLargeError
from setwright.compiler.placement.search import Aim, filled, for_the_feet, typing

Ways = tuple[tuple[int, ...], ...]


def every_way(sets: Sequence[Songs], room: Room, banks: int) -> Iterator[Ways]:
    """Yield every way in which the bank only moves up and every bank holds what lies in it."""
    ups = [list(combinations_with_replacement(range(banks), len(one.needs))) for one in sets]
    for ways in product(*ups):
        if all(map(room.holds, filled(sets, ways))):
            yield ways


def cost(
    sets: Sequence[Songs], ways: Ways, stored: Sequence[Need], *, by_number: bool = False
) -> tuple[int, int, int]:
    """Return moves at segues, what is typed, and bank presses, counted anew."""
    segues = presses = 0
    lying: dict[int, set[int]] = {}
    for one, way in zip(sets, ways, strict=True):
        for at, bank in enumerate(way):
            bits = {bit for bit in range(one.needs[at].bit_length()) if one.needs[at] >> bit & 1}
            lying.setdefault(bank, set()).update(bits)
            if at:
                presses += min(bank - way[at - 1], 1) if by_number else bank - way[at - 1]
                segues += at in one.straight and bank != way[at - 1]
    typed = sum(
        not (bank < len(stored) and stored[bank] >> bit & 1)
        for bank, bits in lying.items()
        for bit in bits
    )
    return segues, typed, presses


NEEDS = st.lists(st.integers(1, 63), min_size=1, max_size=4).map(tuple)
SETS = st.lists(
    st.builds(Songs, NEEDS, st.frozensets(st.integers(1, 3), max_size=2)), min_size=1, max_size=2
)
ROOM = Room(4)


def fitting(sets: Sequence[Songs]) -> list[Songs]:
    return [one._replace(needs=tuple(map(smaller, one.needs))) for one in sets]


def smaller(need: Need) -> Need:
    while not ROOM.holds(need):
        need &= need - 1
    return need


@settings(max_examples=150, deadline=None)
@given(SETS, st.lists(st.integers(0, 63), max_size=4), st.integers(0, 3), st.booleans())
def test_no_way_is_better(
    sets: list[Songs], stored: list[Need], slack: int, by_number: bool
) -> None:
    """With so many presses and no more, nothing costs less: every other way was tried."""
    sets = fitting(sets)
    allowed, banks = fewest_presses(sets, ROOM) + slack, 4
    best = min(
        (
            found
            for ways in every_way(sets, ROOM, banks)
            if (found := cost(sets, ways, stored, by_number=by_number))[2] <= allowed
        ),
        default=None,
    )
    way = Walk(sets, ROOM, banks, allowed, stored=stored, by_number=by_number).best()
    if way is None:
        assert best is None
        return
    again = cost(sets, way.of_song, stored, by_number=by_number)
    assert (way.at_segues, way.typed, way.presses) == again == best
    assert all(map(ROOM.holds, filled(sets, way.of_song)))


@settings(max_examples=150, deadline=None)
@given(SETS)
def test_nothing_takes_fewer_presses(sets: list[Songs]) -> None:
    sets = fitting(sets)
    for one in sets:
        presses = [cost([one], ways, ())[2] for ways in every_way([one], ROOM, 5)]
        assert fewest_presses([one], ROOM) == min(presses)
    assert fewest_presses(sets, ROOM) == sum(fewest_presses([one], ROOM) for one in sets)


@settings(max_examples=60, deadline=None)
@given(SETS, st.lists(st.integers(0, 63), max_size=5), st.lists(st.integers(1, 15), max_size=2))
def test_what_was_placed_is_not_typed_again(
    sets: list[Songs], stored: list[Need], others: list[Need]
) -> None:
    """Once the best is typed in, the same songs have nothing to type, and lie where they lay."""
    sets, others = fitting(sets), list(map(smaller, others))
    stored = list(map(smaller, stored))
    first = for_the_feet(sets, others, ROOM, Aim(10, tuple(stored)))
    assert not isinstance(first, int)
    lying = filled(sets, first.of_song)
    for need, bank in zip(others, first.of_other, strict=True):
        lying += [0] * (bank + 1 - len(lying))
        lying[bank] |= need
    assert all(map(ROOM.holds, lying))
    slack = first.presses - fewest_presses(sets, ROOM)
    again = for_the_feet(sets, others, ROOM, Aim(10, tuple(lying), slack))
    assert not isinstance(again, int)
    both = filled(sets, again.of_song)
    for need, bank in zip(others, again.of_other, strict=True):
        both += [0] * (bank + 1 - len(both))
        both[bank] |= need
    assert typing(both, lying) == 0
    assert again.presses <= first.presses


@settings(max_examples=80, deadline=None)
@given(
    st.lists(st.integers(1, 63), min_size=1, max_size=3),
    st.lists(st.integers(1, 63), min_size=1, max_size=3),
    st.lists(st.integers(0, 63), max_size=3),
)
def test_what_has_no_place_in_the_order_takes_the_least(
    needs: list[Need], others: list[Need], stored: list[Need]
) -> None:
    """Every bank for each of them, beside the songs where they lie; then the lowest banks."""
    sets, others = fitting([Songs(tuple(needs))]), list(map(smaller, others))
    stored, banks = list(map(smaller, stored)), 6
    found = for_the_feet(sets, others, ROOM, Aim(banks, tuple(stored)))
    assert not isinstance(found, int)
    there = [*stored, *[0] * banks][:banks]
    best = None
    for way in product(range(banks), repeat=len(others)):
        lying = [*filled(sets, found.of_song), *[0] * banks][:banks]
        for need, bank in zip(others, way, strict=True):
            lying[bank] |= need
        if all(map(ROOM.holds, lying)):
            cost = (typing(lying, there), max(way))
            best = cost if best is None else min(best, cost)
    lying = [*filled(sets, found.of_song), *[0] * banks][:banks]
    for need, bank in zip(others, found.of_other, strict=True):
        lying[bank] |= need
    assert all(map(ROOM.holds, lying))
    assert best is not None
    assert typing(lying, there) == best[0]
    if not any(stored):
        assert max(found.of_other) == best[1]


def test_before_everything_is_typed_anew_the_foot_goes_down() -> None:
    """In order it takes four banks, or all of it typed into three; as it lies, nothing."""
    sets = [Songs((0b0011, 0b1100, 0b110000, 0b0011))]
    stored = (0b0011, 0b1100, 0b110000)
    found = for_the_feet(sets, [], Room(2), Aim(3, stored))
    assert not isinstance(found, int)
    assert found.of_song == ((0, 1, 2, 0),)
    assert typing(filled(sets, found.of_song), stored) == 0


def test_of_banks_that_cost_the_same_the_near_one_is_taken() -> None:
    """The last song lies in the first bank and in the third; it is played from the third."""
    sets = [Songs((0b0011, 0b1100, 0b110000, 0b0011, 0b110000))]
    stored = (0b0011, 0b1100, 0b110000, 0b0011)
    found = for_the_feet(sets, [], Room(2), Aim(4, stored))
    assert not isinstance(found, int)
    assert found.of_song == ((0, 1, 2, 3, 2),)
    assert not found.in_order
    assert found.presses == 4


def test_pinned_presets_do_not_share_a_bank() -> None:
    room = Room(4, (0b11,))
    sets = [Songs((0b01, 0b10))]
    way = Walk(sets, room, 3, 5).best()
    assert way is not None
    assert way.of_song == ((0, 1),)
    assert reach(sets[0].needs, room) == (1, 2)


def test_a_song_that_no_bank_holds() -> None:
    with pytest.raises(TooLargeError):
        reach([0b11111], Room(4))
    with pytest.raises(TooLargeError):
        Walk([Songs((0b11111,))], Room(4), 3, 5)


def test_songs_that_go_straight_on_share_a_bank() -> None:
    """Two banks either way; filled to the brim, the first would part the pair."""
    songs = Songs((0b00011, 0b00100, 0b01000, 0b10000), frozenset({2}))
    way = Walk([songs], Room(3), 3, 1).best()
    assert way is not None
    assert way.of_song == ((0, 1, 1, 1),)
    assert way.at_segues == 0


def test_sets_share_a_bank_over_the_break() -> None:
    sets = [Songs((0b0001, 0b0110)), Songs((0b0001, 0b1000))]
    found = for_the_feet(sets, [], Room(4), Aim(10))
    assert not isinstance(found, int)
    assert found.of_song == ((0, 0), (0, 0))
    assert found.exact


def test_sets_that_have_to_share_banks_may_take_a_press_more() -> None:
    """Five presses need seven banks (4 + 3); six banks do with six presses, as tried by hand."""
    sets = [Songs((1, 30, 58, 1)), Songs((54, 1, 58))]
    wide = for_the_feet(sets, [], ROOM, Aim(7))
    tight = for_the_feet(sets, [], ROOM, Aim(6))
    assert not isinstance(wide, int)
    assert not isinstance(tight, int)
    assert (wide.presses, tight.presses) == (5, 6)
    assert wide.in_order and tight.in_order


def test_too_few_banks() -> None:
    sets = [Songs((0b0011, 0b1100, 0b110000))]
    assert for_the_feet(sets, [], Room(2), Aim(2)) == 3
    found = for_the_feet(sets, [0b11000000], Room(2), Aim(4))
    assert not isinstance(found, int)
    assert (found.of_song, found.of_other) == (((0, 1, 2),), (3,))


def test_where_banks_are_too_few_for_the_order_songs_lie_anywhere() -> None:
    """Up and up it takes three banks; two hold all, and the foot goes back."""
    sets = [Songs((0b0011, 0b1100, 0b0011))]
    found = for_the_feet(sets, [], Room(2), Aim(2))
    assert not isinstance(found, int)
    assert found.of_song == ((0, 1, 0),)
    assert not found.in_order
    assert found.presses == 2


def test_many_sets_are_walked_one_after_another() -> None:
    sets = [Songs((1 << n, 1 << (n + 1), 1 << (n + 2))) for n in range(9)]
    found = for_the_feet(sets, [], Room(2), Aim(40))
    assert not isinstance(found, int)
    assert not found.exact
    assert found.presses == fewest_presses(sets, Room(2))
    assert all(map(Room(2).holds, filled(sets, found.of_song)))


@pytest.mark.parametrize(
    "needs",
    [
        [0b111] * 1000,
        [0b111 << (3 * at) for at in range(1000)],
        [1 << at % 7 for at in range(1000)],
    ],
    ids=["all equal", "all different", "some"],
)
def test_a_thousand_songs(needs: list[Need]) -> None:
    sets = [Songs(tuple(needs[:500])), Songs(tuple(needs[500:]))]
    for aim in (Aim(1000), Aim(1000, tuple(needs[:300]))):
        feet = for_the_feet(sets, [], Room(8), aim)
        assert not isinstance(feet, int)
        assert all(map(Room(8).holds, filled(sets, feet.of_song)))
        assert feet.presses == fewest_presses(sets, Room(8))
        hands = for_the_hands(sets, [], Room(8), aim)
        assert not isinstance(hands, int)
        assert all(map(Room(8).holds, filled(sets, hands.banks.of_song)))


def test_no_songs() -> None:
    found = for_the_feet([], [], Room(4), Aim(3))
    assert not isinstance(found, int)
    assert (found.of_song, found.of_other) == ((), ())
    found = for_the_feet([], [0b1], Room(4), Aim(3))
    assert not isinstance(found, int)
    assert found.of_other == (0,)
