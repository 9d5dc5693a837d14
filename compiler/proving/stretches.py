"""Which press comes after which, and when: the presses of a night that hang together in time.

Runs once scenes are placed. Where a song says when its scenes are pressed, the time between two
presses is known to the millisecond, over a segue too; where it does not, only the order is.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from fractions import Fraction
from itertools import permutations
from typing import NamedTuple

from setwright.compiler.binding.bound import BoundSong
from setwright.compiler.lowering.preset import Address
from setwright.compiler.placement.wanted import SceneKey, key_of
from setwright.compiler.proving.bank_moves import steps
from setwright.compiler.proving.proved import LoweredScene
from setwright.scenes.moments import Moment
from setwright.scenes.switcher import Switcher


class Press(NamedTuple):
    """A press of a scene, ``ms`` after the first note of the songs that are played in one go."""

    song: BoundSong
    moment: Moment
    key: SceneKey
    ms: Fraction


class Moves(NamedTuple):
    """How presets are reached: where each lies, and the ms to wait at each bank on the way."""

    switcher: Switcher
    slots: dict[SceneKey, Address]
    wait: Fraction | None

    def between(self, before: SceneKey, after: SceneKey) -> int:
        """Return how many banks have to be waited for on the way from one preset to another."""
        if self.wait is None:
            return 0
        return steps(self.switcher, self.slots.get(before), self.slots.get(after))


def stretches(
    songs: Iterable[BoundSong], marks: dict[SceneKey, object]
) -> Iterator[tuple[Press, ...]]:
    """Yield presses of which each is the next after the one before, at times that are known.

    Songs that go straight into one another are one stretch, as far as the length of the first
    is known. Scenes of one mark (`alike`) are not sent one
    after the other, for they are there, so that is no press. A place
    that a song does not say is no time, but for its beginning.
    """
    now: list[Press] = []
    end: Fraction | None = None
    for song in songs:
        if end is None or not song.is_straight:
            yield tuple(now)
            now, end = [], Fraction(0)
        begin: Fraction = end
        for moment in song.moments:
            seconds = moment.seconds
            if seconds is None or (moment.assumed and seconds) or moment.scene not in song.scenes:
                yield tuple(now)
                now = []
                continue
            press = Press(song, moment, key_of(song, moment.scene), begin + seconds * 1000)
            if now and press.ms < now[-1].ms:
                # Written out of time, so nobody knows how soon it comes.
                press = press._replace(ms=now[-1].ms)
            if not now or marks.get(press.key) != marks.get(now[-1].key):
                now.append(press)
        length = song.resolved.length
        sure = length.seconds is not None and not length.assumed and length.by_form is None
        end = begin + length.seconds * 1000 if sure and length.seconds is not None else None
        if not song.moments:
            yield tuple(now)  # whatever is pressed in it, nobody knows when
            now = []
    yield tuple(now)


def alike(scenes: dict[SceneKey, LoweredScene], moves: Moves) -> dict[SceneKey, object]:
    """Return what tells scenes apart: the switch that is pressed, or what a computer sends."""
    if any(scene.lowered.by_computer for scene in scenes.values()):
        return {key: (moves.slots.get(key), one.lowered.sent.stream) for key, one in scenes.items()}
    return dict(moves.slots)


def same(marks: dict[SceneKey, object]) -> Iterator[tuple[SceneKey, SceneKey]]:
    """Yield (scene, other) of all that lie on one switch."""
    by_switch: dict[object, list[SceneKey]] = {}
    for key, mark in marks.items():
        by_switch.setdefault(mark, []).append(key)
    for keys in by_switch.values():
        yield from permutations(keys, 2)


def stays(
    songs: Iterable[BoundSong], marks: dict[SceneKey, object]
) -> Iterator[tuple[SceneKey, SceneKey]]:
    """Yield (scene before, scene) where what is wanted is there already, so nothing is sent."""
    last: SceneKey | None = None
    for song in songs:
        last = last if song.is_straight else None
        for moment in song.moments:
            key = key_of(song, moment.scene)
            if last is not None and key != last and marks.get(key, key) == marks.get(last):
                yield last, key
            last = key if moment.scene in song.scenes else last
