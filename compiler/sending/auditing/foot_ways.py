"""Which switch was pressed, each time: the likeliest way of a foot over the switcher's presets.

Many presets send the same, and one that is typed wrongly may send what another one should. So what
was heard is never read alone: a foot goes from a switch to the next one, mostly, and rarely presses
one again that was right. Some ways are followed side by side, each with what it costs, and the
cheapest is believed until another one is cheaper. The costs are our own (common practice, no
source); what matters is their order:

* to press again what was right costs more than to go elsewhere and come back, and a mistake costs
  more than that: presets pressed in any order are right if what they send can be told apart;
* a mistake costs less than to go elsewhere, come back, and press there once more. So a preset that
  is heard at its own turn, and was heard before at the turn of another one, tells that the other
  one sends what this one should.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Iterable, Iterator, Sequence
from functools import lru_cache
from typing import NamedTuple

JUMP = 1.0
"""To press anything but the next switch, or the same again."""
LEAVE = 2.8
"""The same for a foot that has gone in order for a while."""
WHILE = 3
"""Presses that make a while."""
FAR = 0.01
"""What is added for going all the way round, so that of two the nearer one ahead is taken."""
MENDED = 1.0
"""To press again what was wrong."""
AGAIN = 2.9
"""To press again what was right."""
MISTAKE = 3.1
"""To find one mistake, where what came is just what another preset holds."""
MORE = 0.05
"""Each further mistake, in that case."""
MORE_ALONE = 0.4
"""Each further mistake, where no preset holds what came."""
MENDING = 0.1
"""What is saved where that is the same switch, and what comes is wrong once more."""
SILENT = 0.2
"""A mistake in what should send nothing."""
READ = 0.3
"""To read a press otherwise than it was told to the player, who had nothing to say to it."""
KNOWN = 1.2
"""The same where the player does say something now and then, and was not asked."""
WAYS = 300
"""How many ways are followed."""
ALIKE = 4
"""How many of them that lead to one switch and leave the same presets wrong: which of many that
send the same were pressed until then matters little."""
NEAREST = 4
"""How many presets are thought of, besides the next, where no preset holds what came."""

Heard = tuple[bytes, ...]


class Taken(NamedTuple):
    """One press as it is read: of which preset (by index), whether right, whether it was said."""

    preset: int
    right: bool
    said: bool


class _Way(NamedTuple):
    """One way: its cost, where it is, and after how many presses in order.

    ``right`` and ``wrong`` are what was so when it was heard last, as bits.
    """

    cost: float
    at: int
    run: int
    right: int
    wrong: int
    taken: Taken | None
    before: _Way | None

    def dearer(self, cost: float) -> _Way:
        """Return the same way at a higher cost."""
        return self._replace(cost=self.cost + cost)


class Walk:
    """What is known of the way so far.

    ``presets`` are the messages of each preset, in the order of banks and switches, none where a
    preset is not heard; ``apart`` tells in how many things messages that were heard differ from
    those of a preset.
    """

    def __init__(self, presets: Sequence[Heard], apart: Callable[[int, Heard], int]) -> None:
        self._presets = tuple(presets)
        self._apart = lru_cache(maxsize=None)(apart)
        self._exact: dict[Heard, tuple[int, ...]] = {}
        for preset, sends in enumerate(self._presets):
            self._exact[sends] = (*self._exact.get(sends, ()), preset)
        audible = [one for one, sends in enumerate(self._presets) if sends]
        self._audible = tuple(audible)
        behind = [
            next((one for one in audible if one > at), None) for at in range(-1, len(presets))
        ]
        # What comes next behind each preset; the first of all stands last, where -1 finds it.
        self._behind = (*behind[1:], behind[0])
        self._ways = [_Way(0.0, -1, 0, 0, 0, None, None)]
        self._before = self._ways
        self._told: Taken | None = None
        self._last: Heard = ()

    def press(self, heard: Heard, *, agreed: bool = False) -> None:
        """Take what one press sent.

        ``agreed`` tells that the player would have said so if the one before was read wrongly.
        """
        self._told = self._ways[0].taken
        self._before, self._last = self._as_told(self._ways, KNOWN if agreed else READ), heard
        near = () if heard in self._exact else self._nearest(heard)
        self._ways = _best(way for old in self._before for way in self._onwards(old, near))

    def say(self, preset: int | None, *, agreed: bool = False) -> None:
        """Take it from the player which preset was pressed last; None if it was no press at all.

        ``agreed`` is about the press before that one.
        """
        if preset is None:
            self._ways = self._before
            return
        before = self._as_told(self._before, KNOWN) if agreed else self._before
        self._ways = _best(self._onto(old, preset, said=True) for old in before)

    def _as_told(self, ways: Iterable[_Way], cost: float) -> list[_Way]:
        return [way if way.taken == self._told else way.dearer(cost) for way in ways]

    @property
    def taken(self) -> tuple[Taken, ...]:
        """Every press so far, as it is believed now."""
        return _taken(self._ways[0])

    @property
    def expected(self) -> int | None:
        """The preset whose turn it was when the last press came; None behind the last of all."""
        before = self._ways[0].before
        return self._behind[before.at if before is not None else -1]

    def others(self, within: float) -> tuple[Taken, ...]:
        """Return as what else the last press may be read, the likeliest first.

        ``within`` is how much dearer a way may be than the one that is believed.
        """
        cheapest = self._ways[0].cost
        found = {
            way.taken.preset: way.taken
            for way in reversed(self._ways)
            if way.taken is not None and way.cost <= cheapest + within
        }
        first = self._ways[0].taken
        return tuple(one for one in reversed(found.values()) if first is not None and one != first)

    def _onwards(self, old: _Way, near: tuple[int, ...]) -> Iterator[_Way]:
        # What should send nothing, and lies between here and the next, may send something.
        following = self._behind[old.at]
        end = len(self._presets) if following is None else following + 1
        likely = {*self._exact.get(self._last, near), *range(old.at + 1, end)}
        if old.at >= 0:
            likely.add(old.at)
        return (self._onto(old, one) for one in sorted(likely))

    def _nearest(self, heard: Heard) -> tuple[int, ...]:
        return tuple(sorted(self._audible, key=lambda one: self._apart(one, heard))[:NEAREST])

    def _onto(self, old: _Way, preset: int, *, said: bool = False) -> _Way:
        bit = 1 << preset
        right = self._presets[preset] == self._last
        cost = old.cost + self._step(old, preset)
        if not right and not said:
            cost += self._mistake(old, preset)
        run = min(WHILE, old.run + 1) if self._is_next(old, preset) else 0
        return _Way(
            cost,
            preset,
            run,
            old.right | bit if right else old.right & ~bit,
            old.wrong & ~bit if right else old.wrong | bit,
            Taken(preset, right, said),
            old,
        )

    def _step(self, old: _Way, preset: int) -> float:
        """Return what it costs to press a preset after what was pressed last."""
        cost = AGAIN * (old.right >> preset & 1) + MENDED * (old.wrong >> preset & 1)
        if preset != old.at and not self._is_next(old, preset):
            count = len(self._presets)
            # A foot goes back for what was mended, and after the last switch.
            stays = old.run == WHILE and self._behind[old.at] is not None
            cost += LEAVE if stays and not old.wrong >> preset & 1 else JUMP
            cost += FAR * ((preset - old.at) % count) / count
        return cost

    def _is_next(self, old: _Way, preset: int) -> bool:
        """Tell whether nothing that can be heard lies between what was pressed last and this."""
        following = self._behind[old.at]
        return old.at < preset and (following is None or preset <= following)

    def _mistake(self, old: _Way, preset: int) -> float:
        """Return what it costs that the preset holds something else than what came."""
        more = MORE if self._last in self._exact else MORE_ALONE
        cost = MISTAKE + more * min(self._apart(preset, self._last) - 1, 7)
        if not self._presets[preset]:
            cost += SILENT
        if old.wrong >> preset & 1 and preset == old.at:
            cost -= MENDING
        return cost


def _best(ways: Iterable[_Way]) -> list[_Way]:
    """Return the cheapest ways; of those that lead to the same one, of those alike a few."""
    found: dict[tuple[int, int, int, int], _Way] = {}
    for way in ways:
        key = (way.at, way.run, way.right, way.wrong)
        if key not in found or way.cost < found[key].cost:
            found[key] = way
    best: list[_Way] = []
    alike: Counter[tuple[int, int]] = Counter()
    for way in sorted(found.values(), key=lambda way: way.cost):
        alike[way.at, way.wrong] += 1
        if alike[way.at, way.wrong] <= ALIKE:
            best.append(way)
    return best[:WAYS]


def _taken(way: _Way) -> tuple[Taken, ...]:
    taken: list[Taken] = []
    step: _Way | None = way
    while step is not None and step.taken is not None:
        taken.append(step.taken)
        step = step.before
    return tuple(reversed(taken))


RUN = 8
"""How many presses in a row may stand in the place of others."""


class Order(NamedTuple):
    """How far a foot went in order.

    ``doubts`` are the presses, by their number, that stand just where others should: the foot went
    in order before them, and on behind them as if it had never left. Then these may well have been
    the presets in between, with what others should hold; where the player has said what one of them
    was, there is no doubt. ``goes_on`` tells whether the last press was that of the next switch, or
    stands where that would be, so that the next one is expected to be so too.
    """

    doubts: frozenset[int]
    goes_on: bool


def in_order(taken: Sequence[Taken], presets: Sequence[Heard]) -> Order:
    """Return how far the presses went in order, of presets that send this."""
    audible = [one for one, sends in enumerate(presets) if sends]
    place = {preset: number for number, preset in enumerate(audible)}
    at = [-1, *(place.get(one.preset, -2) for one in taken)]
    goes_on = [start == 0 or at[start] - at[start - 1] == 1 for start in range(len(at))]
    found: set[int] = set()
    for start in range(len(at)):
        for end in range(start + 2, min(len(at), start + RUN + 2)) if goes_on[start] else ():
            if at[end] - at[start] != end - start or at[start] < -1:
                continue
            pressed = [taken[one - 1] for one in range(start + 1, end)]
            due = [audible[at[start] + step] for step in range(1, end - start)]
            pairs = list(zip(pressed, due, strict=True))
            if any(one.said or one.preset == other for one, other in pairs):
                continue
            found.update(
                start + step
                for step, (one, other) in enumerate(pairs)
                if one.right and presets[one.preset] != presets[other]
            )
            goes_on[end] = True
    return Order(frozenset(found), goes_on[-1])
