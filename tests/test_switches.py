"""Which switch of its bank each preset gets."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from setwright.compiler.placement.switches import switches_of

CASES = [
    # presets, pins, stored, usual, and where each lies
    ([5, 6, 7], {}, {}, {}, {5: 0, 6: 1, 7: 2}),
    ([5, 6, 7], {6: 0}, {}, {}, {6: 0, 5: 1, 7: 2}),
    # What lies there already stays, and a copy of it is no second place.
    ([5, 6, 7], {}, {7: [0, 3]}, {}, {7: 0, 5: 1, 6: 2}),
    ([5, 6], {}, {5: [2], 6: [2]}, {}, {5: 2, 6: 0}),
    # The first sound on the first switch, before the one that it has had elsewhere.
    ([5, 6, 7], {}, {}, {5: 3, 7: 3}, {5: 0, 7: 3, 6: 1}),
    ([5, 6], {}, {}, {6: 0}, {5: 0, 6: 1}),
    ([5], {5: 3}, {5: [1]}, {5: 2}, {5: 3}),
]


@pytest.mark.parametrize(("presets", "pins", "stored", "usual", "lies"), CASES)
def test_where_each_lies(
    presets: list[int],
    pins: dict[int, int],
    stored: dict[int, list[int]],
    usual: dict[int, int],
    lies: dict[int, int],
) -> None:
    assert switches_of(presets, [0, 1, 2, 3], pins, stored, usual) == lies


NUMBERS = st.integers(0, 5)


@given(
    st.lists(NUMBERS, min_size=1, max_size=4, unique=True),
    st.dictionaries(NUMBERS, st.integers(1, 4), max_size=3).filter(
        lambda pins: len(set(pins.values())) == len(pins)
    ),
    st.dictionaries(NUMBERS, st.lists(st.integers(1, 4)), max_size=4),
    st.dictionaries(NUMBERS, st.integers(1, 4), max_size=4),
)
def test_every_preset_has_a_switch_of_its_own(
    presets: list[int],
    pins: dict[int, int],
    stored: dict[int, list[int]],
    usual: dict[int, int],
) -> None:
    found = switches_of(presets, [1, 2, 3, 4], pins, stored, usual)
    assert sorted(found) == sorted(presets)
    assert len(set(found.values())) == len(presets)
    assert set(found.values()) <= {1, 2, 3, 4}
    assert all(found[preset] == pins[preset] for preset in presets if preset in pins)
    # What is stored where nothing else has to lie stays.
    taken = {pins[preset] for preset in presets if preset in pins}
    for preset in presets:
        free = [switch for switch in stored.get(preset, ()) if switch not in taken]
        others = {one for other in presets if other != preset for one in stored.get(other, ())}
        if preset not in pins and free and not set(free) & others:
            assert found[preset] == free[0]
