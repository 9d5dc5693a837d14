"""For the feet: songs in playing order, the bank only ever moved up.

Within a set each song lies in the bank of the one before, or in one further up; every bank further
is a press. Sets may share banks, for there is a break between them: a set begins in any bank.

The fewest presses are known by furthest reach: a set takes as many banks as it takes when every
bank is filled with as many songs as it holds, and no order of cutting needs fewer (an exchange of
the first cut that differs shows it). Among all ways with no more presses than said, a dynamic
program over the banks, whose states are how far each set has got, finds the best: where songs go
straight into one another they share a bank if they can; then the least that has to be typed. It
is exact.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from itertools import product
from typing import NamedTuple

from setwright.compiler.placement.needs import Need, Room, TooLargeError

At = tuple[int, ...]
"""How many songs of each set have been placed."""

Value = tuple[int, ...]
"""What a way has cost so far; the smaller the better, the first number first."""


class TooManyStatesError(Exception):
    """There are more ways to go than are looked through."""


MOST_STATES = 60_000
"""States that are looked through for sets together; two sets of thirty songs have some 5,000."""


class Songs(NamedTuple):
    """The songs of one set in playing order, and those that follow without a pause."""

    needs: tuple[Need, ...]
    straight: frozenset[int] = frozenset()


class Walked(NamedTuple):
    """A way through the banks.

    ``of_song`` holds for each set the bank of each song, counted from 0. ``presses`` are the bank
    presses within the sets, ``at_segues`` the moves among them between songs that go straight into
    each other; ``typed`` the presets that have to be typed.
    """

    of_song: tuple[tuple[int, ...], ...]
    presses: int
    at_segues: int
    typed: int


def reach(needs: Sequence[Need], room: Room) -> tuple[int, ...]:
    """Return where each bank of a set ends when it takes as many songs as it holds.

    The number of these is the fewest banks there are. `TooLargeError` for what no bank holds.
    """
    ends, bank = [], 0
    for at, need in enumerate(needs):
        if not room.holds(need):
            raise TooLargeError
        if not room.holds(bank | need):
            ends.append(at)
            bank = 0
        bank |= need
    return (*ends, len(needs)) if needs else ()


def fewest_presses(sets: Sequence[Songs], room: Room) -> int:
    """Return the bank presses that no way through the sets can do without."""
    return sum(max(0, len(reach(one.needs, room)) - 1) for one in sets)


@dataclass(slots=True)
class Walk:
    """Ways of ``sets`` through ``banks``.

    ``taken`` lies in each bank and stays there; ``stored`` lies there too, but may give way. At
    most ``presses`` are allowed. ``known`` is a way that is to be beaten. Where banks are called
    ``by_number``, one that is passed costs nothing.
    """

    sets: Sequence[Songs]
    room: Room
    banks: int
    presses: int
    taken: Sequence[Need] = ()
    stored: Sequence[Need] = ()
    known: Walked | None = None
    by_number: bool = False
    most: int = MOST_STATES
    _runs: list[list[list[tuple[int, Need]]]] = field(default_factory=list)
    _left: list[list[int]] = field(default_factory=list)
    _before: list[list[Need]] = field(default_factory=list)
    _after: list[list[Need]] = field(default_factory=list)
    _anywhere: Need = 0
    _still: dict[At, int] = field(default_factory=dict)
    _ahead: dict[At, int] = field(default_factory=dict)

    def __post_init__(self) -> None:
        """Note how far each set gets in one bank from each song, and what is behind and ahead."""
        for one in self.sets:
            count = len(one.needs)
            runs: list[list[tuple[int, Need]]] = []
            for at in range(count + 1):
                here, union = [(at, 0)], 0
                for to in range(at, count):
                    union |= one.needs[to]
                    if not self.room.holds(union):
                        break
                    here.append((to + 1, union))
                runs.append(here)
            left, after = [0] * (count + 1), [0] * (count + 1)
            for at in range(count - 1, -1, -1):
                if len(runs[at]) == 1:
                    raise TooLargeError
                left[at] = left[runs[at][-1][0]] + 1
                after[at] = after[at + 1] | one.needs[at]
            before = [0]
            for need in one.needs:
                before.append(before[-1] | need)
            self._runs.append(runs)
            self._left.append(left)
            self._before.append(before)
            self._after.append(after)
        for there in (*self.taken, *self.stored):
            self._anywhere |= there

    def best(self) -> Walked | None:
        """Return the best way; None if there is none, or none better than the known one.

        Raises `TooManyStatesError`.
        """
        ends: At = tuple(len(one.needs) for one in self.sets)
        begin: At = (0,) * len(ends)
        rounds: list[dict[tuple[At, int], tuple[Value, tuple[At, int]]]] = []
        now: dict[tuple[At, int], Value] = {(begin, 0): (0, 0, 0, *begin)}
        done: tuple[Value, int, tuple[At, int]] | None = None
        looked = 0
        if begin == ends:
            return Walked(tuple(() for _ in ends), 0, 0, 0)
        for bank in range(self.banks):
            following: dict[tuple[At, int], tuple[Value, tuple[At, int]]] = {}
            fixed = self.taken[bank] if bank < len(self.taken) else 0
            there = fixed | (self.stored[bank] if bank < len(self.stored) else 0)
            for (at, pressed), value in now.items():
                begun = sum(0 < one < end for one, end in zip(at, ends, strict=True))
                for to, union in self._ways(at, fixed):
                    if self.by_number:
                        begun = sum(0 < one < other for one, other in zip(at, to, strict=True))
                    more = pressed + begun
                    if more + self._needed(to, ends) > self.presses:
                        continue
                    found = self._value(value, at, to, (union & ~there).bit_count(), begun, bank)
                    key = (to, more)
                    known = following.get(key)
                    if (known is None or found < known[0]) and not self._beaten(found, to, done):
                        following[key] = (found, (at, pressed))
            looked += len(following)
            if looked > self.most:
                raise TooManyStatesError
            rounds.append(following)
            for (at, pressed), (value, _) in following.items():
                if at == ends and (done is None or value < done[0]):
                    done = (value, bank, (at, pressed))
            now = {key: value for key, (value, _) in following.items() if key[0] != ends}
            if not now:
                break
        return None if done is None else self._written(rounds, done, ends)

    def _value(self, value: Value, at: At, to: At, typed: int, begun: int, bank: int) -> Value:
        segues = sum(
            0 < before < after and before in one.straight
            for before, after, one in zip(at, to, self.sets, strict=True)
        )
        # Of ways that are as good, the one whose first set lies lowest, then the second, and so on.
        low = [
            so_far + bank * (after - before)
            for so_far, before, after in zip(value[3:], at, to, strict=True)
        ]
        return (value[0] + segues, value[1] + typed, value[2] + begun, *low)

    def _beaten(self, value: Value, at: At, done: tuple[Value, int, tuple[At, int]] | None) -> bool:
        """Tell whether nothing that goes on from here can be better than what is known."""
        limit: Value | None = done[0] if done is not None else None
        if self.known is not None:
            known = self._value_of(self.known)
            # What is as good as the known way is of no use either; what was found here is.
            limit = known if limit is None or known < limit else limit
        if limit is None:
            return False
        typed = self._still_to_type(at)
        return (value[0], value[1] + typed, *value[2:]) > limit

    def _value_of(self, way: Walked) -> Value:
        low = tuple(map(sum, way.of_song))
        return (way.at_segues, way.typed, way.presses, *low)

    def _still_to_type(self, at: At) -> int:
        """Return how many presets have to be typed behind ``at`` at the least.

        Those that lie nowhere yet, and were not needed before.
        """
        if at not in self._still:
            behind = ahead = 0
            for number, one in enumerate(at):
                behind |= self._before[number][one]
                ahead |= self._after[number][one]
            self._still[at] = (ahead & ~behind & ~self._anywhere).bit_count()
        return self._still[at]

    def _ways(self, at: At, fixed: Need) -> Iterator[tuple[At, Need]]:
        """Yield how far each set may get in one bank from ``at``, and what then lies in it."""
        if len(at) == 1:
            for to, union in self._runs[0][at[0]]:
                if not fixed or not union or self.room.holds(union | fixed):
                    yield (to,), union
            return
        for ways in product(*(runs[one] for runs, one in zip(self._runs, at, strict=True))):
            union = 0
            for _, one in ways:
                union |= one
            if not union or self.room.holds(union | fixed):
                yield tuple(to for to, _ in ways), union

    def _needed(self, at: At, ends: At) -> int:
        """Return the presses that are still to come at the least."""
        if at not in self._ahead:
            self._ahead[at] = sum(
                left[one] - (one == 0)
                for left, one, end in zip(self._left, at, ends, strict=True)
                if one < end
            )
        return self._ahead[at]

    def _written(
        self,
        rounds: list[dict[tuple[At, int], tuple[Value, tuple[At, int]]]],
        done: tuple[Value, int, tuple[At, int]],
        ends: At,
    ) -> Walked:
        value, last, key = done
        of_song = [[0] * end for end in ends]
        for bank in range(last, -1, -1):
            _, before = rounds[bank][key]
            for number, (first, to) in enumerate(zip(before[0], key[0], strict=True)):
                of_song[number][first:to] = [bank] * (to - first)
            key = before
        segues, typed, presses = value[:3]
        return Walked(tuple(map(tuple, of_song)), presses, segues, typed)
