"""Presses in time: what is pressed while the rig is not yet done with the press before.

Runs once scenes are placed. Where a song says when its scenes are pressed, the time between two
presses is known to the millisecond, over a segue too. A press comes too soon where the messages
of the one before are still on the wire, where its sound is not there yet, or where a unit that
is sent something is still busy. What a busy unit loses is then judged by model receivers that
begin unknown and take both presses in time. Where no time is known, only the order is, and a
press is taken to find the rig at rest.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field
from fractions import Fraction
from itertools import permutations
from typing import Literal, NamedTuple

from setwright.compiler.binding.bound import BoundSong
from setwright.compiler.binding.states import Cause, Verdict, Wanted
from setwright.compiler.lowering.preset import Address
from setwright.compiler.lowering.wire import Transmission
from setwright.compiler.placement.banks import SceneKey, key_of
from setwright.compiler.proving.bank_moves import steps
from setwright.compiler.proving.proved import LoweredScene
from setwright.compiler.proving.receiver import Receiver
from setwright.compiler.proving.stands import BY_PRESET, stands
from setwright.scenes.moments import Moment
from setwright.scenes.switcher import Switcher
from setwright.scenes.unit import Unit


class Press(NamedTuple):
    """A press of a scene, ``ms`` after the first note of the songs that are played in one go."""

    song: BoundSong
    moment: Moment
    key: SceneKey
    ms: Fraction


class TooSoon(NamedTuple):
    """A press that comes too soon after the one before, by ``missing`` ms.

    ``unit`` is the one that is still busy; an empty text where the messages of the press before
    are still on the wire (``settling`` is False), or its sound is not there yet (True). ``banks``
    are those that load a preset on the way, where there is no time to wait for them.
    """

    before: Press
    press: Press
    missing: Fraction
    unit: str = ""
    settling: bool = False
    banks: int = 0


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
    songs: Iterable[BoundSong], alike: dict[SceneKey, object]
) -> Iterator[tuple[Press, ...]]:
    """Yield presses of which each is the next after the one before, at times that are known.

    Songs that go straight into one another are one stretch, as far as the length of the first
    is known. What is ``alike`` is not sent again, for it is there, so that is no press. A place
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
            if now and press.song is now[-1].song and press.ms <= now[-1].ms:
                yield tuple(now)  # the order is out of time, which is found elsewhere
                now = []
            if not now or alike.get(press.key) != alike.get(now[-1].key):
                now.append(press)
        length = song.resolved.length
        sure = length.seconds is not None and not length.assumed and length.by_form is None
        end = begin + length.seconds * 1000 if sure and length.seconds is not None else None
        if not song.moments:
            yield tuple(now)  # whatever is pressed in it, nobody knows when
            now = []
    yield tuple(now)


def in_time(
    songs: list[BoundSong],
    scenes: dict[SceneKey, LoweredScene],
    moves: Moves,
    units: dict[str, Unit],
) -> tuple[dict[SceneKey, LoweredScene], tuple[TooSoon, ...]]:
    """Return ``scenes`` with the verdicts that hold in time, and the presses that come too soon."""
    judge = _Judge(dict(scenes), units, moves)
    alike = _alike(scenes, moves)
    for presses in stretches(songs, alike):
        for at in range(1, len(presses)):
            judge.look_at(presses[at], presses[:at])
    if judge.found:
        # A switch that is on is pressed in vain, or not at all: wherever its preset is wanted
        # again, what it has lost stays lost.
        again = moves.switcher.same_switch_again == "sends again"
        for before, key in _stays(songs, alike) if again else _same(alike):
            judge.stay(before, key)
    return judge.scenes, tuple(judge.found)


def _alike(scenes: dict[SceneKey, LoweredScene], moves: Moves) -> dict[SceneKey, object]:
    """Return what tells scenes apart: the switch that is pressed, or what a computer sends."""
    if any(scene.lowered.by_computer for scene in scenes.values()):
        return {key: (moves.slots.get(key), one.lowered.sent.stream) for key, one in scenes.items()}
    return dict(moves.slots)


def _same(alike: dict[SceneKey, object]) -> Iterator[tuple[SceneKey, SceneKey]]:
    """Yield (scene, other) of all that lie on one switch."""
    by_switch: dict[object, list[SceneKey]] = {}
    for key, mark in alike.items():
        by_switch.setdefault(mark, []).append(key)
    for keys in by_switch.values():
        yield from permutations(keys, 2)


def _stays(
    songs: Iterable[BoundSong], alike: dict[SceneKey, object]
) -> Iterator[tuple[SceneKey, SceneKey]]:
    """Yield (scene before, scene) where what is wanted is there already, so nothing is sent."""
    last: SceneKey | None = None
    for song in songs:
        last = last if song.is_straight else None
        for moment in song.moments:
            key = key_of(song, moment.scene)
            if last is not None and key != last and alike.get(key, key) == alike.get(last):
                yield last, key
            last = key if moment.scene in song.scenes else last


class _Burst(NamedTuple):
    """What one press sends, and when its first byte leaves: not before the last burst is out."""

    press: Press
    sent: Transmission
    starts: Fraction

    @property
    def ends(self) -> Fraction:
        return self.starts + self.sent.ms

    def ready(self, unit: str) -> Fraction:
        """When ``unit`` listens again; the beginning of all where it was sent no program."""
        return max(
            (
                self.starts + timed.ends + timed.command.busy
                for timed in self.sent.commands
                if timed.command.unit == unit and timed.command.busy
            ),
            default=Fraction(0),
        )


@dataclass(slots=True)
class _Judge:
    """Judges presses one by one; ``scenes`` has the verdicts so far."""

    scenes: dict[SceneKey, LoweredScene]
    units: dict[str, Unit]
    moves: Moves
    found: list[TooSoon] = field(default_factory=list)
    _takes: dict[int, float] = field(default_factory=dict)

    def look_at(self, press: Press, before: tuple[Press, ...]) -> None:
        """Judge a press, knowing those ``before`` it."""
        last = before[-1]
        banks = self.moves.between(last.key, press.key)
        late = banks * (self.moves.wait or 0) - (press.ms - last.ms)
        if banks and late > 0:
            self.found.append(TooSoon(last, press, late, banks=banks))
        going_on = [one for one in before if float(press.ms - one.ms) < self._takes_in_all(one.key)]
        if not going_on:
            return
        bursts: list[_Burst] = []
        for one in (*before[before.index(going_on[0]) :], press):
            free = bursts[-1].ends if bursts else one.ms
            bursts.append(_Burst(one, self.scenes[one.key].lowered.sent, max(one.ms, free)))
        *earlier, own = bursts
        soon = [*self._busy(own, earlier), *self._unfinished(own, earlier[-1])]
        self.found += soon[:1]
        names = {timed.command.unit for one in earlier for timed in one.sent.commands}
        for name in names & self.units.keys():
            if any(one.ready(name) > own.starts for one in earlier):
                self._rejudge(name, own, earlier)

    def stay(self, before: SceneKey, key: SceneKey) -> None:
        """Let a scene that is not pressed inherit what the press before it has lost."""
        lost = {
            (one.unit, one.quantity)
            for one in self.scenes[before].proved
            if one.cause is Cause.TOO_SOON
        }
        proved = tuple(
            _too_soon(one)
            if one.verdict is Verdict.PROVEN and (one.unit, one.quantity) in lost
            else one
            for one in self.scenes[key].proved
        )
        self.scenes[key] = self.scenes[key]._replace(proved=proved)

    def _takes_in_all(self, key: SceneKey) -> float:
        """Return the ms from a press until it is over with, whatever comes next."""
        sent = self.scenes[key].lowered.sent
        if id(sent) not in self._takes:
            busy = (timed.ends + timed.command.busy for timed in sent.commands)
            self._takes[id(sent)] = float(max((sent.ms, sent.sound, *busy)))
        return self._takes[id(sent)]

    def _busy(self, own: _Burst, earlier: list[_Burst]) -> Iterator[TooSoon]:
        """Yield what arrives while its unit is busy, the worst alone."""
        missing: dict[str, Fraction] = {}
        for timed, starts in zip(own.sent.commands, own.sent.earliest, strict=True):
            name = timed.command.unit
            ready = max(one.ready(name) for one in earlier)
            late = ready - own.starts - starts
            if late > 0:
                missing[name] = max(late, missing.get(name, late))
        if missing:
            name = max(missing, key=missing.__getitem__)
            yield TooSoon(earlier[-1].press, own.press, missing[name], name)

    def _unfinished(self, own: _Burst, last: _Burst) -> Iterator[TooSoon]:
        """Yield what the press before has not done yet: its messages, its sound."""
        now = own.press.ms
        if last.ends > now:
            yield TooSoon(last.press, own.press, last.ends - now)
        elif last.starts + last.sent.sound > now:
            late = last.starts + last.sent.sound - now
            yield TooSoon(last.press, own.press, late, settling=True)

    def _rejudge(self, name: str, own: _Burst, earlier: list[_Burst]) -> None:
        """Let ``name`` take all bursts in time, and take back what does not come out of that."""
        scene = self.scenes[own.press.key]
        shortened = own.sent.shortened
        whole = self._run(name, earlier, own, shortened, "messages")
        proved = tuple(
            _too_soon(one) if _is_sent(one, name) and not stands(one, whole) else one
            for one in scene.proved
        )
        scene = scene._replace(proved=proved)
        ways = (shortened, own.sent.whole)
        single = [self._run(name, earlier, own, way, "bytes") for way in ways]
        if any(
            _is_sent(one, name) and not all(stands(one, run) for run in single) for one in proved
        ):
            scene = scene._replace(whole_messages=scene.whole_messages | {name})
        self.scenes[own.press.key] = scene

    def _run(
        self,
        name: str,
        earlier: list[_Burst],
        own: _Burst,
        sent: tuple[tuple[bytes, Fraction], ...],
        loses: Literal["messages", "bytes"],
    ) -> Receiver:
        """Let a unit take the bursts before, which end at their latest, and then ``sent``."""
        receiver = Receiver(self.units[name], loses=loses)
        bursts = [*((burst.starts, burst.sent.whole) for burst in earlier), (own.starts, sent)]
        for begins, messages in bursts:
            for stream, starts in messages:
                receiver.take(stream, begins + starts)
        return receiver


def _too_soon(wanted: Wanted) -> Wanted:
    return wanted._replace(verdict=Verdict.UNKNOWN, reason=REASON, cause=Cause.TOO_SOON)


def _is_sent(wanted: Wanted, unit: str) -> bool:
    proven = wanted.unit == unit and wanted.verdict is Verdict.PROVEN
    return proven and wanted.quantity not in BY_PRESET


REASON = (
    "it is pressed while the unit is still busy with the scene before; press it a little later, "
    "or let both scenes use one program"
)
