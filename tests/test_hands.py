"""The fewest presets and the fewest banks, against every way, published optima and a second look."""

from __future__ import annotations

import json
import math
import subprocess
import sys
from collections.abc import Iterator, Sequence
from itertools import product
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from setwright.compiler.placement import cover
from setwright.compiler.placement.apart import apart
from setwright.compiler.placement.cover import NoSolverError, rounded_up
from setwright.compiler.placement.feet import Songs
from setwright.compiler.placement.fewest import fewest_banks
from setwright.compiler.placement.for_hands import for_the_hands
from setwright.compiler.placement.hands import Packed, packed
from setwright.compiler.placement.needs import Need, Room, need_of, presets_of, unions, widest
from setwright.compiler.placement.over import rewritten
from setwright.compiler.placement.search import Aim
from tests.conftest import ROOT

OPTIMA = json.loads((ROOT / "tests" / "pagination_optima.json").read_text(encoding="utf-8"))
"""Pagination problem benchmark: A. Grange, I. Kacem, S. Martin, 'Algorithms for the bin packing
problem with overlapping items', Computers & Industrial Engineering 115, 2018; the optima are those
of the published instances (field cplexOpt), MIT licence."""


def every_packing(songs: Sequence[Need], room: Room) -> Iterator[list[Need]]:
    """Yield every way to put songs into banks, equal banks counted once."""

    def put(at: int, banks: list[Need]) -> Iterator[list[Need]]:
        if at == len(songs):
            yield list(banks)
            return
        for number, bank in enumerate(banks):
            if room.holds(bank | songs[at]):
                banks[number] = bank | songs[at]
                yield from put(at + 1, banks)
                banks[number] = bank
        yield from put(at + 1, [*banks, songs[at]])

    yield from put(0, [])


SONGS = st.lists(
    st.sets(st.integers(0, 7), min_size=1, max_size=4).map(need_of), min_size=1, max_size=6
)


@settings(max_examples=60, deadline=None)
@given(SONGS)
def test_no_packing_has_fewer_presets_or_banks(songs: list[Need]) -> None:
    room = Room(4)
    best = min(
        (sum(bank.bit_count() for bank in banks), len(banks))
        for banks in every_packing(songs, room)
    )
    found = packed(songs, room)
    assert found.proven
    assert (found.presets, len(found.banks)) == best
    check(found, songs, room)


@settings(max_examples=60, deadline=None)
@given(SONGS, st.lists(st.sets(st.integers(0, 7), max_size=3).map(need_of), max_size=1))
def test_no_packing_has_fewer_banks(songs: list[Need], pinned: list[Need]) -> None:
    room = Room(4, tuple(pinned))
    songs = [song for song in songs if room.holds(song)]
    found = fewest_banks(songs, room)
    assert found.proven
    assert len(found.banks) == min(len(banks) for banks in every_packing(songs, room))
    assert all(any(song & bank == song for bank in found.banks) for song in songs)
    assert all(map(room.holds, found.banks))


def check(found: Packed, songs: Sequence[Need], room: Room) -> None:
    """Look at a packing and its reasons again, by code that shares nothing with the search."""
    sets = [set(presets_of(bank)) for bank in found.banks]
    for song in songs:
        assert any(set(presets_of(song)) <= bank for bank in sets)
    assert all(len(bank) <= room.size for bank in sets)
    assert sum(map(len, sets)) == found.presets >= found.least
    for at, one in enumerate(found.apart):
        for other in found.apart[at + 1 :]:
            assert len(set(presets_of(one)) | set(presets_of(other))) > room.size
    assert len(found.banks) >= len(found.apart)
    if found.prices:
        # Whatever songs share a bank: it holds as many presets as they pay for. So all of them
        # together pay no more than all banks hold, whichever these are.
        worth = dict(found.prices)
        for union in unions(widest(songs), room):
            paid = sum(price for need, price in worth.items() if need & union == need)
            assert paid <= union.bit_count() + 1e-6
        assert sum(worth.values()) > found.least - 1 + 1e-6


@pytest.mark.parametrize("instance", OPTIMA["instances"], ids=lambda one: str(one["name"]))
def test_published_optima(instance: dict[str, Any]) -> None:
    tiles = [need_of(tile) for tile in instance["tiles"]]
    found = fewest_banks(tiles, Room(instance["capacity"]))
    assert len(found.banks) == instance["optimum"]
    assert found.fewest <= instance["optimum"]


def test_songs_of_which_no_two_share_a_bank() -> None:
    songs = [0b000111, 0b111000, 0b001011, 0b000001]
    found = apart(songs, Room(4))
    assert {songs[at] for at in found} == {0b000111, 0b111000} or len(found) == 2


def test_at_most_so_many_banks() -> None:
    """Five presets in three banks; in two of them it takes six."""
    songs = [0b00011, 0b00110, 0b01100, 0b11000]
    free = packed(songs, Room(3))
    tight = packed(songs, Room(3), at_most=2)
    assert (free.presets, len(free.banks)) == (6, 2)
    assert len(tight.banks) == 2
    check(tight, songs, Room(3))


@settings(max_examples=40, deadline=None)
@given(SONGS.filter(lambda songs: len(songs) < 6), st.integers(2, 4))
def test_no_packing_of_so_many_banks_has_fewer_presets(songs: list[Need], at_most: int) -> None:
    room = Room(4)
    found = packed(songs, room, at_most)
    sizes = [
        sum(bank.bit_count() for bank in banks)
        for banks in every_packing(songs, room)
        if len(banks) <= at_most
    ]
    if not sizes:
        assert len(found.banks) > at_most
        return
    assert len(found.banks) <= at_most
    assert found.presets == min(sizes)
    check(found, songs, room)


def test_the_solver_is_asked_only_where_simple_bounds_do_not_meet() -> None:
    script = (
        "import sys\n"
        "from setwright.compiler.placement.hands import packed\n"
        "from setwright.compiler.placement.needs import Room\n"
        "print(packed([0b11, 0b1100], Room(4)).proven, 'highspy' in sys.modules)\n"
        "found = packed([0b0111, 0b1110, 0b11100, 0b111000, 0b110001], Room(4))\n"
        "print(found.proven, 'highspy' in sys.modules)\n"
    )
    ended = subprocess.run(
        [sys.executable, "-c", script], capture_output=True, text=True, check=True, cwd=ROOT
    )
    # And its banner is nowhere.
    assert ended.stdout.splitlines() == ["True False", "True True"]


def test_no_bound_is_no_proof() -> None:
    assert rounded_up(-math.inf) == 0
    assert rounded_up(7.00001) == 7
    assert rounded_up(7.01) == 8


NO_SOLVER_FOR = [0b0111, 0b1110, 0b11100, 0b111000, 0b110001]


def test_without_the_solver_the_best_known_is_said_with_its_gap(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    def missing() -> Any:
        raise NoSolverError("No module named 'highspy'")

    monkeypatch.setattr(cover, "_load", missing)
    found = packed(NO_SOLVER_FOR, Room(4))
    assert not found.proven
    assert "HiGHS is not there" in found.why_not
    assert found.least <= found.presets
    check(found, NO_SOLVER_FOR, Room(4))


def test_a_search_that_reaches_its_limit_proves_nothing(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(cover.Covering, "solved", lambda self, nodes=0: cover.Covered(None, 0.0))
    songs = [194, 33, 3, 384, 192, 98]
    found = packed(songs, Room(4))
    assert not found.proven
    assert (found.presets, found.least) == (9, 8)
    assert found.why_not == "the search reached its limit"
    check(found, songs, Room(4))


def test_the_same_songs_give_the_same_answer() -> None:
    songs = [need_of(range(n % 7, n % 7 + 2 + n % 3)) for n in range(20)]
    assert packed(songs, Room(5)) == packed(songs, Room(5))


def test_songs_are_played_from_the_bank_that_is_near() -> None:
    """Two banks; the second song of the first set lies in the second, and so does what follows."""
    sets = [Songs((0b0011, 0b1100, 0b0011))]
    found = for_the_hands(sets, [], Room(2), Aim(4))
    assert not isinstance(found, int)
    assert found.banks.of_song == ((0, 1, 0),)
    assert found.packed is not None
    assert (found.packed.presets, len(found.packed.banks)) == (4, 2)


def test_what_is_stored_gives_banks_their_numbers() -> None:
    sets = [Songs((0b0011, 0b1100))]
    found = for_the_hands(sets, [], Room(2), Aim(4, (0, 0b1100, 0, 0b0011)))
    assert not isinstance(found, int)
    assert found.banks.of_song == ((3, 1),)
    assert found.over is not None
    assert (found.over.typed, found.over.proven) == (0, True)


def test_of_ways_with_as_little_to_type_the_foot_has_the_better_one() -> None:
    """The last song lies in the first bank, and in the third, where the foot is then."""
    sets = [Songs((0b0011, 0b1100, 0b0011))]
    found = for_the_hands(sets, [], Room(2), Aim(4, (0b0011, 0b1100, 0b0011)))
    assert not isinstance(found, int)
    assert found.banks.of_song == ((0, 1, 2),)
    assert found.banks.exact


STORED = st.lists(st.sets(st.integers(0, 7), max_size=4).map(need_of), min_size=1, max_size=3)


@settings(max_examples=60, deadline=None)
@given(SONGS.filter(lambda songs: len(songs) < 6), STORED)
def test_nothing_has_less_to_type_again(songs: list[Need], stored: list[Need]) -> None:
    """Every way to put songs into four banks, over what lies in them."""
    room, banks = Room(4), 4
    there = [*stored, *[0] * banks][:banks]
    found = rewritten(songs, room, stored, banks)
    best: int | None = None
    for way in product(range(banks), repeat=len(songs)):
        lying = [0] * banks
        for song, bank in zip(songs, way, strict=True):
            lying[bank] |= song
        if all(map(room.holds, lying)):
            typed = sum((one & ~lies).bit_count() for one, lies in zip(lying, there, strict=True))
            best = typed if best is None else min(best, typed)
    if best is None:
        assert not found.banks
        return
    assert found.banks, "a way was tried by hand"
    assert (found.typed, found.least, found.proven) == (best, best, True)
    for song in songs:
        assert any(song & bank == song for bank in found.banks.values())
    assert all(map(room.holds, found.banks.values()))
    assert set(found.banks) <= set(range(banks))


def test_too_few_banks_for_the_hands() -> None:
    sets = [Songs((0b0011, 0b1100, 0b110000))]
    assert for_the_hands(sets, [], Room(2), Aim(2)) == 3


def _unused(path: Path) -> None: ...
