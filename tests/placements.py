"""How long placements take and how good they are: books of songs with fixed seeds.

Presets are drawn from a palette with a long tail, three to seven a song, as the songs of one player
share their sounds. Beside what is found stand a bank for each song, the first bank that fits, and
songs in order until a bank is full.
"""

from __future__ import annotations

import random
import subprocess
import sys
import time
from collections.abc import Iterator, Sequence

from setwright.compiler.placement.feet import Songs, fewest_presses
from setwright.compiler.placement.hands import packed
from setwright.compiler.placement.needs import Need, Room, need_of
from setwright.compiler.placement.over import rewritten
from setwright.compiler.placement.search import Aim, Banks, filled, for_the_feet, typing
from tests.conftest import ROOT

ROOM = Room(8)


def songs_of(count: int, seed: int, palette: int) -> list[Need]:
    """Return the needs of ``count`` songs: three to seven presets of a palette with a long tail."""
    drawn = random.Random(seed)
    weights = [1 / (number + 1) ** 0.9 for number in range(palette)]
    result = []
    for _ in range(count):
        size, presets = drawn.randint(3, 7), set[int]()
        while len(presets) < size:
            presets.update(drawn.choices(range(palette), weights))
        result.append(need_of(presets))
    return result


def in_order(needs: Sequence[Need]) -> list[Need]:
    """Return banks that are filled in order until the next song does not fit."""
    banks: list[Need] = []
    for need in needs:
        if banks and ROOM.holds(banks[-1] | need):
            banks[-1] |= need
        else:
            banks.append(need)
    return banks


def first_fit(needs: Sequence[Need]) -> list[Need]:
    """Return banks in which each song lies in the first that has room."""
    banks: list[Need] = []
    for need in needs:
        at = next((at for at, bank in enumerate(banks) if ROOM.holds(bank | need)), None)
        if at is None:
            banks.append(need)
        else:
            banks[at] |= need
    return banks


def size(banks: Sequence[Need]) -> int:
    """Return how many presets are typed."""
    return sum(bank.bit_count() for bank in banks)


def placements() -> Iterator[str]:
    """Yield the lines of the table."""
    yield "8 switches; ms; presets in banks (* proven); presets a bank each, first fit, in order"
    proven = tried = 0
    gaps: list[float] = []
    for count in (60, 150, 300):
        for seed in (1, 2, 3):
            needs = songs_of(count, seed, int(count * 2.5))
            start = time.perf_counter()
            found = packed(needs, ROOM)
            hands = time.perf_counter() - start
            sets = [Songs(tuple(needs))]
            start = time.perf_counter()
            feet = for_the_feet(sets, [], ROOM, Aim(count))
            walked = time.perf_counter() - start
            assert isinstance(feet, Banks)
            tried += 1
            proven += found.proven
            gaps.append((found.presets - found.least) / found.least)
            yield (
                f"{count:4} songs, seed {seed}: hands {hands * 1e3:6.0f} ms {found.presets:4} in "
                f"{len(found.banks):3}{'*' if found.proven else ' '}  feet {walked * 1e3:6.0f} ms "
                f"{size(filled(sets, feet.of_song)):4} with {feet.presses:3} presses"
                f"{'*' if feet.exact else ' '}  "
                f"{sum(need.bit_count() for need in needs):4} {size(first_fit(needs)):4} "
                f"{size(in_order(needs)):4}"
            )
    yield f"hands: proven {proven} of {tried}, mean gap {100 * sum(gaps) / len(gaps):.2f} %"
    for seed in (1, 2, 3):
        yield again(seed)
    yield cold()


def again(seed: int) -> str:
    """Return how 80 songs in two sets are placed again after 15 % of them were edited."""
    needs = songs_of(80, seed, 200)
    sets = [Songs(tuple(needs[:40])), Songs(tuple(needs[40:]))]
    first = for_the_feet(sets, [], ROOM, Aim(80))
    assert isinstance(first, Banks)
    stored = tuple(filled(sets, first.of_song))
    drawn = random.Random(seed)
    new = songs_of(80, seed + 100, 200)
    for at in drawn.sample(range(80), 12):
        needs[at] = new[at]
    sets = [Songs(tuple(needs[:40])), Songs(tuple(needs[40:]))]
    slack = max(0, first.presses - fewest_presses(sets, ROOM))
    start = time.perf_counter()
    found = for_the_feet(sets, [], ROOM, Aim(80, stored, slack))
    taken = time.perf_counter() - start
    fresh = for_the_feet(sets, [], ROOM, Aim(80))
    assert isinstance(found, Banks)
    assert isinstance(fresh, Banks)
    start = time.perf_counter()
    over = rewritten(needs, ROOM, stored, 80)
    hands = time.perf_counter() - start
    return (
        f"80 songs, 12 edited, seed {seed}: {taken * 1e3:6.0f} ms, "
        f"{typing(filled(sets, found.of_song), stored)} to type"
        f"{'*' if found.exact else ' '}; placed anew "
        f"{typing(filled(sets, fresh.of_song), stored)}; for the hands {hands * 1e3:6.0f} ms, "
        f"{over.typed} to type{'*' if over.proven else ' '} (at the least {over.least})"
    )


def cold() -> str:
    """Return how long 60 songs take with the solver loaded for them."""
    code = (
        "from tests.placements import ROOM, songs_of; "
        "from setwright.compiler.placement.hands import packed; import time; "
        "start = time.perf_counter(); packed(songs_of(60, 1, 150), ROOM); "
        "print(round((time.perf_counter() - start) * 1000))"
    )
    ended = subprocess.run(
        [sys.executable, "-c", code], capture_output=True, text=True, check=True, cwd=ROOT
    )
    return f"60 songs for the hands, cold: {ended.stdout.strip()} ms"
