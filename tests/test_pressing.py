"""What the cue sheet tells the foot is right for every kind of switcher.

The table is worked out by hand from what the manual of such a switcher would say. The model
below is a switcher of its own: it knows presses and bank moves and nothing of how cues are made.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import NamedTuple

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from setwright.compiler.lowering.preset import Address
from setwright.compiler.placement.pressing import (
    Foot,
    Now,
    first_of_all,
    foot_for,
    pressed,
)
from setwright.scenes.displays import counted
from setwright.scenes.switcher import BankMoves, Switcher

PRESS, STAY, UNLESS_ON = Foot.PRESS, Foot.STAY, Foot.UNLESS_ON


def switcher(
    again: str = "sends again", power_up: str = "unknown", loads: str = "", switches: int = 4
) -> Switcher:
    """Return a switcher of 6 banks; ``loads`` is which preset a bank loads at once, if any."""
    moves = BankMoves(loads_at_once=bool(loads), loads=loads or "same switch")
    return Switcher(
        switcher="board",
        banks=counted(6),
        switches=counted(switches),
        same_switch_again=again,
        at_power_up=power_up,
        bank_moves=moves,
    )


A0, A1, B0, B1 = Address(0, 0), Address(0, 1), Address(1, 0), Address(1, 1)
NOBODY_KNOWS = Now()


@pytest.mark.parametrize(
    ("now", "loads", "wanted", "sends_again", "does_nothing", "goes_back"),
    [
        # Within a bank, and what is loaded is known.
        pytest.param(pressed(A0), "", A0, STAY, STAY, STAY, id="it is loaded"),
        pytest.param(pressed(A0), "", A1, PRESS, PRESS, PRESS, id="another is"),
        # Nobody knows: the tuner may have been pressed, or the very preset.
        pytest.param(NOBODY_KNOWS, "", A0, PRESS, PRESS, UNLESS_ON, id="nobody knows"),
        pytest.param(
            NOBODY_KNOWS, "same switch", A0, PRESS, PRESS, UNLESS_ON, id="nobody knows, and loads"
        ),
        # Another bank, and nothing is loaded on arrival.
        pytest.param(pressed(A0), "", B0, PRESS, PRESS, PRESS, id="another bank, same switch"),
        pytest.param(pressed(A0), "", B1, PRESS, PRESS, PRESS, id="another bank"),
        # The bank loads the preset of the same switch.
        pytest.param(pressed(A1), "same switch", B1, PRESS, PRESS, STAY, id="loaded on arrival"),
        pytest.param(pressed(A0), "same switch", B1, PRESS, PRESS, PRESS, id="not that one"),
        # The bank loads its first preset.
        pytest.param(pressed(A1), "first switch", B0, PRESS, PRESS, STAY, id="first on arrival"),
        pytest.param(pressed(A1), "first switch", B1, PRESS, PRESS, PRESS, id="not the first"),
        pytest.param(Now(None, 0), "first switch", B0, PRESS, PRESS, STAY, id="whatever was"),
        pytest.param(Now(None, 0), "same switch", B0, PRESS, PRESS, UNLESS_ON, id="depends"),
    ],
)
def test_what_the_foot_does(
    now: Now, loads: str, wanted: Address, sends_again: Foot, does_nothing: Foot, goes_back: Foot
) -> None:
    kinds = {"sends again": sends_again, "does nothing": does_nothing, "goes back": goes_back}
    found = {kind: foot_for(switcher(kind, loads=loads), now, wanted) for kind in kinds}
    assert found == kinds


@pytest.mark.parametrize(
    ("power_up", "first", "sends_again", "does_nothing", "goes_back"),
    [
        pytest.param("first preset", A0, None, A1, A1, id="it is loaded, and nobody was awake"),
        pytest.param("first preset", B0, None, None, None, id="another is loaded"),
        pytest.param("last used", A0, None, A1, A1, id="it may be loaded"),
        pytest.param("last used", B1, None, B0, B0, id="in its own bank"),
        pytest.param("unknown", B0, None, B1, B1, id="nobody says what is loaded"),
    ],
)
def test_what_is_pressed_before_the_first_song(
    power_up: str,
    first: Address,
    sends_again: Address | None,
    does_nothing: Address | None,
    goes_back: Address | None,
) -> None:
    kinds = {"sends again": sends_again, "does nothing": does_nothing, "goes back": goes_back}
    found = {kind: first_of_all(switcher(kind, power_up), [first], []) for kind in kinds}
    assert found == kinds


def test_a_preset_of_tonight_is_pressed_first_rather_than_an_unknown_one() -> None:
    board = switcher("does nothing", "first preset")
    placed = [A0, Address(0, 3), B1]
    assert first_of_all(board, [A0], placed) == Address(0, 3)
    assert first_of_all(board, [A0, Address(0, 3)], placed) == Address(0, 3)
    assert first_of_all(board, [], placed) is None


def test_where_a_bank_has_one_switch_another_bank_comes_first() -> None:
    assert first_of_all(switcher("goes back", "first preset", switches=1), [A0], [A0, B0]) == B0


# The model.


@dataclass
class Board:
    """A switcher on the stage: what is loaded, what was before, which bank it stands in.

    ``heard`` is the preset whose messages the units have had last, all of them awake.
    """

    again: str
    loads: str
    loaded: tuple[int, int]
    previous: tuple[int, int] | None
    heard: tuple[int, int] | None = None

    def __post_init__(self) -> None:
        self.bank = self.loaded[0]

    def load(self, preset: tuple[int, int]) -> None:
        self.previous, self.loaded, self.heard = self.loaded, preset, preset
        self.bank = preset[0]

    def move(self, bank: int, *, step_by_step: bool) -> None:
        """Go to a bank, through all between or straight there."""
        way = 1 if bank > self.bank else -1
        banks = range(self.bank + way, bank + way, way) if step_by_step else [bank]
        for passed in banks if bank != self.bank else ():
            if self.loads:
                self.load((passed, 0 if self.loads == "first switch" else self.loaded[1]))
            self.bank = passed

    def press(self, switch: int) -> None:
        preset = (self.bank, switch)
        if preset != self.loaded:
            self.load(preset)
        elif self.again == "sends again":
            self.heard = preset
        elif self.again == "goes back" and self.previous is not None:
            self.load(self.previous)


class Tune(NamedTuple):
    """What a song presses; ``before`` is pressed by nobody's plan, unless it is ``straight``."""

    straight: bool
    before: list[tuple[int, int]]
    presses: list[tuple[int, int]]


BANKS = 5


@st.composite
def nights(draw: st.DrawFn) -> tuple[Switcher, Board, list[Tune], bool]:
    switches = draw(st.integers(1, 3))
    preset = st.tuples(st.integers(0, BANKS - 1), st.integers(0, switches - 1))
    again = draw(st.sampled_from(["sends again", "does nothing", "goes back"]))
    power_up = draw(st.sampled_from(["first preset", "last used", "unknown"]))
    loads = draw(st.sampled_from(["", "same switch", "first switch"]))
    loaded = (0, 0) if power_up == "first preset" else draw(preset)
    tunes = []
    for number in range(draw(st.integers(1, 4))):
        bank = draw(st.integers(0, BANKS - 1))
        own = st.tuples(st.just(bank), st.integers(0, switches - 1))
        tunes.append(
            Tune(
                number > 0 and draw(st.booleans()),
                draw(st.lists(preset, max_size=3)),
                draw(st.lists(own | preset, min_size=1, max_size=4)),
            )
        )
    board = Board(again, loads, loaded, draw(st.none() | preset))
    return switcher(again, power_up, loads, switches), board, tunes, draw(st.booleans())


@settings(max_examples=400, deadline=None)
@given(nights())
def test_who_follows_the_cues_always_has_the_preset_that_is_wanted(
    night: tuple[Switcher, Board, list[Tune], bool],
) -> None:
    declared, board, tunes, by_steps = night
    placed = [Address(*one) for tune in tunes for one in tune.presses]
    first = first_of_all(declared, placed[:1], placed)
    if first is not None:
        board.move(first.bank, step_by_step=by_steps)
        board.press(first.switch)
    now = Now()
    for tune in tunes:
        if not tune.straight:
            now = Now()
            for bank, switch in tune.before:
                board.move(bank, step_by_step=by_steps)
                board.press(switch)
        for wanted in (Address(*one) for one in tune.presses):
            foot = foot_for(declared, now, wanted)
            board.move(wanted.bank, step_by_step=by_steps)
            if foot is PRESS or (foot is UNLESS_ON and board.loaded != wanted):
                board.press(wanted.switch)
            assert (board.loaded, board.heard) == (wanted, wanted)
            now = pressed(wanted)
