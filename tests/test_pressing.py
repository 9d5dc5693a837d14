"""What the cue sheet tells the foot is right for every kind of switcher.

The table is worked out by hand from what the manual of such a switcher would say. The model
below is a switcher of its own: it knows presses and bank moves and nothing of how cues are made.
"""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import NamedTuple

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from setwright.compiler.lowering.preset import Address
from setwright.compiler.outputs.collect import night_data
from setwright.compiler.outputs.cued import Sheet
from setwright.compiler.outputs.cues import sheet_of
from setwright.compiler.placement.pressing import (
    Foot,
    Now,
    first_of_all,
    foot_for,
    pressed,
)
from setwright.scenes.displays import counted
from setwright.scenes.switcher import BankMoves, Switcher
from tests.mini import write_night
from tests.nights import whole

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


# From the book to the printed sheet, and from there to a foot.

SONGS = """\
songs:
- title: Air
  form: AB, 2 rounds
  scenes: {Near: [one], Far: [two]}
  order: [Near, {Near: round 1 B}, {Far: round 2 A}]
- title: Jig
  form: AB, 2 rounds
  scenes: {Far: [two], Near: [one]}
  order: [Far, {Near: round 2 A}]
- title: Reel
  form: AB, 2 rounds
  scenes: {Both: [one, two], Third: [three]}
  order: [Both, {Third: round 2 A}, {Both: round 2 B}]
- title: Polka
"""
PLAY = ["Air", ">Jig", ">Reel", "Reel", "Polka", ">Air", "Jig", ">Air", ">Reel", ">Jig"]


def sheet(folder: Path, again: str, power_up: str, loads: str, switches: int) -> Sheet:
    """Return the cue sheet of `PLAY`, where > stands before what follows straight on."""
    moves = f"{{loads at once: yes, loads: {loads}}}" if loads else "{by: both}"
    night = write_night(
        folder,
        units="a: {loop: 1}\nb: {loop: 2}\nc: {loop: 3}",
        effects="one: a\ntwo: b\nthree: c",
        songs=SONGS,
        rig="general: {Plain: [three], Full: [one, three]}\n",
        switcher=f"switcher: board\nbanks: 10\nswitches: {switches}\nloops: 3\n"
        f"same switch again: {again}\nat power up: {power_up}\nbank moves: {moves}\n",
    )
    lines = [
        f"  - straight into: {title[1:]}" if title.startswith(">") else f"  - {title}"
        for title in PLAY
    ]
    night.write_text(
        "night: Test\nrig: rig.yaml\nsongs: songs.yaml\nsets:\n- play:\n" + "\n".join(lines),
        encoding="utf-8",
    )
    return sheet_of(night_data(whole(night)))


@pytest.mark.parametrize("switches", [2, 4])
@pytest.mark.parametrize("loads", ["", "same switch", "first switch"])
@pytest.mark.parametrize("power_up", ["first preset", "last used", "unknown"])
@pytest.mark.parametrize("again", ["sends again", "does nothing", "goes back"])
def test_who_plays_from_the_printed_sheet_hears_every_scene(
    tmp_path: Path, again: str, power_up: str, loads: str, switches: int
) -> None:
    printed = sheet(tmp_path, again, power_up, loads, switches)
    for first in [(0, 0)] if power_up == "first preset" else [(0, 0), (0, 1), (1, 0), (2, 1)]:
        board = Board(again, loads, first, None)
        if printed.first:
            board.move(int(printed.first_bank) - 1, step_by_step=True)
            board.press(int(printed.first) - 1)
        held: dict[tuple[int, int], set[str]] = {}
        for card in printed.sets[0].songs:
            if not card.follows and card.number % 2:  # the tuner, or whatever else
                board.press(switches - 1)
            board.move(int(card.bank.shown) - 1, step_by_step=True)
            for choice in card.choices:  # as one likes: the last one, and look where it is on
                board.move(int(choice.bank or card.bank.shown) - 1, step_by_step=True)
                if board.loaded != (board.bank, int(choice.switch) - 1):
                    board.press(int(choice.switch) - 1)
            for press in card.presses:
                if press.new_bank:
                    board.move(int(press.new_bank) - 1, step_by_step=True)
                wanted = (board.bank, int(press.switch) - 1)
                if not press.stay and not (press.unless_on and board.loaded == wanted):
                    board.press(wanted[1])
                assert (board.loaded, board.heard) == (wanted, wanted)
                held.setdefault(wanted, set()).add(SOUNDS[card.title, press.scene])
        assert all(len(sounds) == 1 for sounds in held.values())


SOUNDS = {
    ("Air", "Near"): "one",
    ("Air", "Far"): "two",
    ("Jig", "Near"): "one",
    ("Jig", "Far"): "two",
    ("Reel", "Both"): "one, two",
    ("Reel", "Third"): "three",
}


def test_what_is_printed_for_a_switch_that_goes_back(tmp_path: Path) -> None:
    printed = sheet(tmp_path, "goes back", "first preset", "", 4)
    assert (printed.first_bank, printed.first, printed.goes_back) == ("1", "2", True)
    air, jig, *_ = printed.sets[0].songs
    assert [(one.switch, one.stay, one.unless_on) for one in air.presses] == [
        ("1", False, True),  # nobody knows what was pressed before
        ("1", True, False),
        ("2", False, False),
    ]
    # Jig begins with the preset that Air ends with, and there is no time between.
    assert [(one.switch, one.stay, one.unless_on) for one in jig.presses] == [
        ("2", True, False),
        ("1", False, False),
    ]


def test_what_is_printed_for_a_switch_that_sends_again(tmp_path: Path) -> None:
    printed = sheet(tmp_path, "sends again", "first preset", "", 4)
    assert (printed.first, printed.goes_back) == ("", False)
    lines = [one for card in printed.sets[0].songs for one in card.presses]
    assert not any(one.unless_on for one in lines)
    assert [one.stay for one in lines[:5]] == [False, True, False, True, False]
