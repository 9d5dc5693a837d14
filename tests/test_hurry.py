"""What to type first when there is no time for all of it."""

from __future__ import annotations

from itertools import chain, combinations

from hypothesis import given, settings
from hypothesis import strategies as st

from setwright.compiler.lowering.preset import Address
from setwright.compiler.placement.entries import EMPTY, Sheet, distance
from setwright.compiler.placement.hurry import Pace, hurried
from tests.test_typing_order import ADDRESSES, SHEETS, played_through, sheet

PACE = Pace(entry=5, preset=10)


@settings(max_examples=120, deadline=None)
@given(
    st.dictionaries(ADDRESSES, SHEETS, max_size=6),
    st.dictionaries(ADDRESSES, SHEETS, max_size=3),
    st.dictionaries(ADDRESSES, st.integers(1, 4), max_size=6),
    st.integers(0, 150),
    st.booleans(),
)
def test_no_choice_has_more_right_presses(
    wanted: dict[Address, Sheet],
    there: dict[Address, Sheet],
    presses: dict[Address, int],
    seconds: int,
    copies: bool,
) -> None:
    """Of all choices in which each preset is typed from what is there now."""
    presses = {at: count for at, count in presses.items() if at in wanted}
    found = hurried(wanted, there, presses, seconds, PACE, copies=copies)
    todo = [at for at in wanted if there.get(at) != wanted[at]]
    assert found.seconds <= seconds
    now = played_through(list(found.steps), there)
    right = sum(count for at, count in presses.items() if now.get(at) == wanted[at])
    assert (found.right, found.presses) == (right, sum(presses.values()))

    def cost(at: Address) -> int:
        ways = [distance(there.get(at, EMPTY), wanted[at])]
        if copies:
            ways += [distance(one, wanted[at]) for other, one in there.items() if other not in todo]
        return PACE.preset + PACE.entry * min(ways)

    done = sum(count for at, count in presses.items() if at not in todo)
    best = max(
        done + sum(presses.get(at, 0) for at in some)
        for some in chain.from_iterable(combinations(todo, size) for size in range(len(todo) + 1))
        if sum(map(cost, some)) <= seconds
    )
    assert found.right >= best
    # What is not typed has the nearest of what is there then.
    typed = {step.address for step in found.steps}
    assert {one.address for one in found.instead} == set(todo) - typed
    held = {at: one for at, one in now.items() if at in typed or at not in todo}
    for one in found.instead:
        if one.press is None:
            assert not held
            continue
        away = [_away(other, one.wanted) for other in held.values()]
        assert len(one.differs) == min(away) == _away(held[one.press], one.wanted)


def _away(one: Sheet, other: Sheet) -> int:
    return distance(one._replace(name=""), other._replace(name=""))


def test_the_preset_that_is_pressed_most_comes_first() -> None:
    wanted = {Address(0, n): sheet(n + 1, name="Far") for n in range(3)}
    presses = {Address(0, 0): 1, Address(0, 1): 3, Address(0, 2): 2}
    found = hurried(wanted, {}, presses, 20, PACE, copies=False)
    assert [step.address for step in found.steps] == [Address(0, 1)]
    assert (found.right, found.presses, found.seconds) == (3, 6, 20)
    first, second = found.instead
    assert (first.address, first.press, len(first.differs)) == (Address(0, 0), Address(0, 1), 2)
    assert (second.address, second.press) == (Address(0, 2), Address(0, 1))


def test_copies_leave_time_for_more() -> None:
    """Each takes 20 s from nothing, and 10 s as a copy of the first."""
    wanted = {Address(0, n): sheet(1, name="Far") for n in range(3)}
    presses = dict.fromkeys(wanted, 1)
    assert len(hurried(wanted, {}, presses, 40, PACE, copies=False).steps) == 2
    assert len(hurried(wanted, {}, presses, 40, PACE, copies=True).steps) == 3


def test_nothing_to_do_takes_no_time() -> None:
    there = {Address(0, 0): sheet(1, name="Far")}
    found = hurried(there, there, {Address(0, 0): 4}, 0, PACE, copies=True)
    assert (found.steps, found.instead, found.right, found.presses) == ((), (), 4, 4)
