"""What turns places in a song into bars and seconds: its form, meter, pickup and tempos.

Bars are counted from the first note that sounds, so a pickup is the part of a bar that stands
before bar 1. Behind a part whose length nobody knows, no bar and no time is known: there are only
orders (`Shape.order_of`), as if it were as long as any other part.
"""

from __future__ import annotations

import re
from dataclasses import dataclass, replace
from fractions import Fraction
from functools import cached_property, lru_cache
from typing import NamedTuple

from setwright.scenes.forms import (
    BARS_IN_A_PART,
    AtBar,
    AtPart,
    AtPickup,
    AtTime,
    Form,
    Position,
    key_of_part,
)
from setwright.scenes.musical_time import Free, Meter, Tempo


class Turn(NamedTuple):
    """A tempo from the place on at which so many bars have passed."""

    bars: Fraction
    tempo: Tempo | Free


class Played(NamedTuple):
    """A part of a round: its name, how often it has come, bars before it and its own.

    ``long`` is None where its length is not known.
    """

    name: str
    nth: int
    before: int
    long: int | None


@dataclass(frozen=True)
class Shape:
    """What is needed to turn places into bars and seconds; None where a song does not say.

    ``bars`` pairs parts with their bars, None where that is not known; parts that are not in it
    have eight. ``pickup`` is a fraction of a whole note. ``tempo`` is None, too, where it is
    free; ``turns`` are the tempos from places on, by rising place.

    What is worked out once stays: many places of one song are asked for again and again.
    """

    meter: Meter | None
    tempo: Tempo | None
    form: Form | None
    bars: tuple[tuple[str, int | None], ...] = ()
    pickup: Fraction = Fraction(0)
    turns: tuple[Turn, ...] = ()

    @cached_property
    def round(self) -> tuple[Played, ...]:
        """The parts of one round."""
        return _round(self.form.parts, self.bars)[0] if self.form is not None else ()

    @cached_property
    def bars_in_round(self) -> int:
        """Bars of one round, as if vamps were as long as any part; 0 without a form."""
        return _round(self.form.parts, self.bars)[1] if self.form is not None else 0

    @cached_property
    def pickup_bars(self) -> Fraction:
        """The pickup as a part of a bar; 0 without a meter."""
        return self.pickup / self.meter.bar if self.meter is not None else Fraction(0)

    @cached_property
    def known_until(self) -> Fraction | None:
        """The bars that have passed where the first vamp begins; None if there is none."""
        vamps = [one.before for one in self.round if one.long is None]
        return self.pickup_bars + min(vamps) if vamps else None

    @property
    def full_bars(self) -> int | None:
        """Full bars of the form, or None without one or where that is not known."""
        if self.form is None or self.known_until is not None:
            return None
        return self.form.rounds * self.bars_in_round

    @property
    def bars_in_all(self) -> Fraction | None:
        """Bars from the first note to the last, or None where that is not known."""
        full = self.full_bars
        return None if full is None else full + self.pickup_bars

    @property
    def seconds_in_all(self) -> Fraction | None:
        """Seconds from the first note to the last, or None where that is not known."""
        bars = self.bars_in_all
        return None if bars is None else self.seconds_of_bars(bars)

    @cached_property
    def part_starts(self) -> list[Fraction]:
        """The bars that have passed at the beginning of every part of every round."""
        rounds = self.form.rounds if self.form is not None else 0
        size = self.bars_in_round
        nothing = Fraction(0)
        starts = [
            self._passed(n * size + one.before, nothing)
            for n in range(rounds)
            for one in self.round
        ]
        return [at for at in starts if self._is_known(at)]

    @cached_property
    def _orders(self) -> dict[Position, Fraction | None]:
        """The places that were asked for."""
        return {}

    @cached_property
    def _seconds_of_one(self) -> Fraction | None:
        """Seconds that a bar lasts in a song of one tempo; None where that is not known."""
        if self.meter is None or self.tempo is None:
            return None
        return self.meter.bar * self.tempo.seconds_per_whole

    def _is_known(self, order: Fraction) -> bool:
        until = self.known_until
        return until is None or order <= until

    def part_at(self, position: AtPart) -> tuple[int, Played] | None:
        """Return the round (from 0) and the part that ``position`` names; None if there is none."""
        if self.form is None:
            return None
        if position.round:
            found = self._nth(position.part, position.nth, self.round)
            return None if found is None else (position.round - 1, found)
        name, count = position.part, 1
        if not any(key_of_part(one.name) == key_of_part(name) for one in self.round):
            match = re.fullmatch(r"(.*?)\s*(\d{1,3})", name)
            if match is None or not int(match[2]):
                return None
            name, count = match[1], int(match[2])
        once = sum(key_of_part(one.name) == key_of_part(name) for one in self.round)
        if not once or count > once * self.form.rounds:
            return None
        number, nth = divmod(count - 1, once)
        found = self._nth(name, nth + 1, self.round)
        return None if found is None else (number, found)

    def _nth(self, name: str, nth: int, parts: tuple[Played, ...]) -> Played | None:
        key = key_of_part(name)
        for one in parts:
            if not name or (key_of_part(one.name) == key and one.nth == nth):
                return one
        # ‘verse 2’ within a round.
        match = re.fullmatch(r"(.*?)\s*(\d{1,3})", name)
        if nth == 1 and match and match[1]:
            key, count = key_of_part(match[1]), int(match[2])
            return next(
                (one for one in parts if key_of_part(one.name) == key and one.nth == count), None
            )
        return None

    def order_of(self, position: Position) -> Fraction | None:
        """Return how many bars have passed at ``position``, vamps counted as any part is."""
        if position not in self._orders:
            self._orders[position] = self._order_of(position)
        return self._orders[position]

    def _order_of(self, position: Position) -> Fraction | None:
        match position:
            case AtPickup():
                return Fraction(0)
            case AtBar(bar, beat):
                within = self._beats(beat)
                return None if within is None else self._passed(bar - 1, within)
            case AtPart():
                found, within = self.part_at(position), self._beats(position.beat)
                if found is None or within is None:
                    return None
                number, part = found
                before = number * self.bars_in_round + part.before
                return self._passed(before + position.bar - 1, within)
            case AtTime(seconds):
                return self.bars_of_seconds(seconds)

    def _passed(self, full: int, within: Fraction) -> Fraction:
        """Return the bars that have passed: pickup, full bars and what is within the next."""
        whole = Fraction(full)  # most songs have no pickup, and most places begin a bar
        if self.pickup:
            whole += self.pickup_bars
        return whole + within if within else whole

    def _beats(self, beat: int) -> Fraction | None:
        if beat == 1:
            return Fraction(0)
        return None if self.meter is None else Fraction(beat - 1, self.meter.beats)

    def bar_of(self, position: Position) -> Fraction | None:
        """Return how many bars have passed at ``position``; None where that cannot be said."""
        order = self.order_of(position)
        return order if order is not None and self._is_known(order) else None

    def position_at(self, bars: Fraction) -> Position:
        """Return how a player would name the place where ``bars`` bars have passed."""
        full = bars - self.pickup_bars
        if full < 0:
            return AtPickup()
        if self.form is not None and self.bars_in_round:
            number, rest = divmod(full, self.bars_in_round)
            for part in self.round:
                if rest == part.before:
                    return self.in_words(AtPart(int(number) + 1, part.name, part.nth))
        return AtBar(int(full) + 1)

    def in_words(self, position: Position) -> Position:
        """Return ``position`` without a round where only one is played."""
        if not isinstance(position, AtPart) or self.form is None or self.form.rounds > 1:
            return position
        if position.round != 1 or not position.part:
            return position
        name = position._replace(round=0, bar=1, beat=1)
        return AtPart(0, str(name), 1, position.bar, position.beat)

    def tempo_at(self, order: Fraction) -> Tempo | None:
        """Return the tempo where so many bars have passed; None if there is none, or it is free."""
        tempo: Tempo | Free | None = self.tempo
        for turn in self.turns:
            if turn.bars <= order:
                tempo = turn.tempo
        return None if isinstance(tempo, Free) else tempo

    def seconds_of_bars(self, bars: Fraction) -> Fraction | None:
        """Return how many seconds the first ``bars`` bars last; None where that is not known."""
        if self.meter is None:
            return None
        if not self.turns:
            one = self._seconds_of_one
            return None if one is None else bars * one
        total, at = Fraction(0), Fraction(0)
        for end in (*(turn.bars for turn in self.turns if turn.bars < bars), bars):
            if end <= at:
                continue
            tempo = self.tempo_at(at)
            if tempo is None:
                return None
            total += (end - at) * self.meter.bar * tempo.seconds_per_whole
            at = end
        return total

    def bars_of_seconds(self, seconds: Fraction) -> Fraction | None:
        """Return how many bars have passed after ``seconds``; None where that is not known."""
        if self.meter is None:
            return None
        at, left = Fraction(0), seconds
        for end in (*(turn.bars for turn in self.turns if turn.bars > 0), None):
            tempo = self.tempo_at(at)
            if tempo is None:
                return None
            a_bar = self.meter.bar * tempo.seconds_per_whole
            if end is None or left < (end - at) * a_bar:
                return at + left / a_bar
            left -= (end - at) * a_bar
            at = end
        return at

    def with_turns(self, turns: tuple[Turn, ...]) -> Shape:
        """Return this with other tempos from places on; of two at one place the last counts."""
        last = {turn.bars: turn for turn in sorted(turns, key=lambda one: one.bars)}
        return replace(self, turns=tuple(last.values()))


@lru_cache(maxsize=256)
def _round(
    parts: tuple[str, ...], bars: tuple[tuple[str, int | None], ...]
) -> tuple[tuple[Played, ...], int]:
    """Return the parts of a round as `Shape.round` gives them, and the bars of the round."""
    said = {key_of_part(name): count for name, count in bars}
    seen: dict[str, int] = {}
    before, result = 0, []
    for part in parts:
        key = key_of_part(part)
        seen[key] = seen.get(key, 0) + 1
        long = said.get(key, BARS_IN_A_PART)
        result.append(Played(part, seen[key], before, long))
        before += BARS_IN_A_PART if long is None else long
    return tuple(result), before
