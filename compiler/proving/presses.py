"""Presses in time: what is pressed while the rig is not yet done with the press before.

Runs once scenes are placed, on presses of which the time between is known (`stretches`). A press
comes too soon where the messages of the one before are still on the wire, where its sound is not
there yet, or where a unit that is sent something is still busy. What a busy unit loses is then
judged by model receivers that begin unknown and take both presses in time. Where no time is known,
a press is taken to find the rig at rest.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field
from fractions import Fraction
from typing import NamedTuple

from setwright.compiler.binding.bound import BoundSong
from setwright.compiler.binding.states import Cause, Verdict, Wanted
from setwright.compiler.binding.target import Program as TargetProgram
from setwright.compiler.lowering.wire import Transmission
from setwright.compiler.placement.wanted import SceneKey
from setwright.compiler.proving.proved import LoweredScene
from setwright.compiler.proving.receiver import BY_BYTES, UNKNOWN, Losing, Program, Receiver
from setwright.compiler.proving.stands import is_by_preset, stands
from setwright.compiler.proving.stretches import Moves, Press, alike, same, stays, stretches
from setwright.scenes.unit import Unit


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


def in_time(
    songs: list[BoundSong],
    scenes: dict[SceneKey, LoweredScene],
    moves: Moves,
    units: dict[str, Unit],
) -> tuple[dict[SceneKey, LoweredScene], tuple[TooSoon, ...]]:
    """Return ``scenes`` with the verdicts that hold in time, and the presses that come too soon."""
    judge = _Judge(dict(scenes), units, moves)
    marks = alike(scenes, moves)
    again = moves.switcher.same_switch_again == "sends again"
    for presses in stretches(songs, marks):
        judge.look_at(presses)
        if not again and presses and not presses[0].song.is_straight:
            # Its preset may be there already, and then the first press sends nothing.
            judge.look_at(presses[1:], known=True)
    if judge.touched:
        # A switch that is on is pressed in vain, or not at all: wherever its preset is wanted
        # again, what it has lost stays lost.
        for before, key in stays(songs, marks) if again else same(marks):
            judge.stay(before, key)
    return judge.scenes, tuple(judge.found)


class _Burst(NamedTuple):
    """What one press sends, and when its first byte leaves: not before the last burst is out.

    ``ready`` holds when each unit listens again that may be busy with it, ``over`` when nothing
    of it is going on any more.
    """

    press: Press
    sent: Transmission
    starts: Fraction
    ready: dict[str, Fraction]
    over: Fraction

    @property
    def ends(self) -> Fraction:
        return self.starts + self.sent.ms


@dataclass(slots=True)
class _Judge:
    """Judges presses one by one; ``scenes`` has the verdicts so far.

    ``touched`` are the scenes of which time has taken something back.
    """

    scenes: dict[SceneKey, LoweredScene]
    units: dict[str, Unit]
    moves: Moves
    found: list[TooSoon] = field(default_factory=list)
    touched: set[SceneKey] = field(default_factory=set)
    _known: dict[int, tuple[dict[str, Fraction], Fraction]] = field(default_factory=dict)
    _astray: dict[str, Fraction] = field(default_factory=dict)
    """Until when a unit may be busy with what it took for a program, having lost single bytes."""
    _loading: dict[str, Unit] = field(init=False)

    def __post_init__(self) -> None:
        """Note which units are busy with a program, whoever it is meant for."""
        self._loading = {
            name: unit
            for name, unit in self.units.items()
            if unit.busy_after_program and unit.programs and unit.reached_by is None
        }

    def look_at(self, presses: tuple[Press, ...], *, known: bool = False) -> None:
        """Judge the presses of a stretch, each with what is still going on before it.

        With ``known`` those that come too soon have been found already.
        """
        found = len(self.found)
        going_on: list[_Burst] = []
        before: _Burst | None = None
        self._astray.clear()
        for press in presses:
            if all(one.over <= press.ms for one in going_on):
                going_on = []  # else what was lost at first decides what is heard at last
            free = going_on[-1].ends if going_on else press.ms
            own = self._burst(press, max(press.ms, free))
            if before is not None:
                self._banks(before, own)
                if going_on:
                    self._judge(own, going_on)
            self._lose_bytes(own, going_on)
            going_on.append(own)
            before = own
        if known:
            del self.found[found:]

    def _burst(self, press: Press, starts: Fraction) -> _Burst:
        sent = self.scenes[press.key].lowered.sent
        if id(sent) not in self._known:
            ready: dict[str, Fraction] = {}
            for timed in sent.commands:
                message = timed.command.message
                for name, unit in self._loading.items():
                    if message.kind == "program" and unit.channel in ("omni", message.channel):
                        ready[name] = timed.ends + unit.busy_after_program
            self._known[id(sent)] = ready, max((sent.ms, sent.sound, *ready.values()))
        ready, over = self._known[id(sent)]
        return _Burst(press, sent, starts, ready, starts + over)

    def _banks(self, before: _Burst, own: _Burst) -> None:
        """Find where there is no time to wait at the banks on the way, and what that loses.

        The first of them must not come before the units have done with the press before.
        """
        banks = self.moves.between(before.press.key, own.press.key)
        if not banks:
            return
        done = max((before.ends, *(before.starts + one for one in before.ready.values())))
        late = done + banks * (self.moves.wait or 0) - own.press.ms
        if late <= 0:
            return
        self.found.append(TooSoon(before.press, own.press, late, banks=banks))
        scene = self.scenes[own.press.key]
        proved = tuple(
            _too_soon(one)
            if one.verdict is Verdict.PROVEN
            and one.unit in self._loading
            and not is_by_preset(one.quantity)
            else one
            for one in scene.proved
        )
        self.scenes[own.press.key] = scene._replace(proved=proved)
        self.touched.add(own.press.key)

    def _judge(self, own: _Burst, earlier: list[_Burst]) -> None:
        soon = [*self._busy(own, earlier), *self._unfinished(own, earlier[-1])]
        if not _is_found_elsewhere(earlier[-1].press, own.press):
            self.found += soon[:1]
        for name in dict.fromkeys(name for one in earlier for name in one.ready):
            if self._ready(name, earlier) > own.starts:
                self._rejudge(name, own, earlier)

    def _lose_bytes(self, own: _Burst, earlier: list[_Burst]) -> None:
        """Note which units may take bytes of ``own`` for a program, having lost others of it.

        Whatever is sent to one that did so before, and may still be busy, is not proven for it.
        """
        scene = self.scenes[own.press.key]
        for name, unit in self._loading.items():
            may = self._astray.get(name, Fraction(0)) > own.starts
            if may and any(one.unit == name and one.value is not None for one in scene.proved):
                whole = scene.whole_messages | {name}
                scene = self.scenes[own.press.key] = scene._replace(whole_messages=whole)
                self.touched.add(own.press.key)
            busy = self._ready(name, [*earlier, own]) > own.starts
            if own.sent.commands and (may or busy):
                self._astray[name] = own.ends + unit.busy_after_program

    def stay(self, before: SceneKey, key: SceneKey) -> None:
        """Let a scene that is not pressed inherit what the press before it has lost."""
        first, scene = self.scenes[before], self.scenes[key]
        lost = {(one.unit, one.quantity) for one in first.proved if one.cause is Cause.TOO_SOON}
        proved = tuple(
            _too_soon(one)
            if one.verdict in {Verdict.PROVEN, Verdict.FEET} and (one.unit, one.quantity) in lost
            else one
            for one in scene.proved
        )
        whole = scene.whole_messages | first.whole_messages
        self.scenes[key] = scene._replace(proved=proved, whole_messages=whole)

    def _ready(self, name: str, earlier: list[_Burst]) -> Fraction:
        """Return when ``name`` listens again; the beginning of all where nothing keeps it busy."""
        times = (one.starts + one.ready[name] for one in earlier if name in one.ready)
        return max(times, default=Fraction(0))

    def _busy(self, own: _Burst, earlier: list[_Burst]) -> Iterator[TooSoon]:
        """Yield what arrives while its unit is busy, the worst alone."""
        missing: dict[str, Fraction] = {}
        for timed, starts in zip(own.sent.commands, own.sent.earliest, strict=True):
            name = timed.command.unit
            late = self._ready(name, earlier) - own.starts - starts
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
        sent = {timed.command.quantity for timed in own.sent.commands if timed.command.unit == name}
        judged = [one for one in scene.proved if one.unit == name and _hangs_on(one, sent)]
        if len(earlier) > MOST_BURSTS:
            lost = set(judged)
        else:
            whole = self._runs(name, own, earlier, "messages")
            lost = {one for one in judged if not all(stands(one, run) for run in whole)}
        if lost:
            proved = tuple(_too_soon(one) if one in lost else one for one in scene.proved)
            scene = scene._replace(proved=proved)
        left = [one for one in judged if one not in lost]
        single = [
            run for way in (BY_BYTES if left else ()) for run in self._runs(name, own, earlier, way)
        ]
        if any(not all(stands(one, run) for run in single) for one in left):
            scene = scene._replace(whole_messages=scene.whole_messages | {name})
        if scene is not self.scenes[own.press.key]:
            self.scenes[own.press.key] = scene
            self.touched.add(own.press.key)

    def _runs(self, name: str, own: _Burst, earlier: list[_Burst], loses: Losing) -> list[Receiver]:
        """Return the unit after all bursts, in each way in which they may have come.

        Senders leave out repeated status bytes, or do not. A program that is there already may
        be ignored, and then nothing is busy with it.
        """
        starts: list[Program | str] = [UNKNOWN]
        if self.units[name].same_program_again == "ignored":
            starts += dict.fromkeys(
                one.value.on_wire
                for burst in earlier
                for one in self.scenes[burst.press.key].bound.wanted
                if one.unit == name and isinstance(one.value, TargetProgram)
            )
        runs = []
        for start in starts:
            for before, last in (
                ([one.sent.whole for one in earlier], own.sent.whole),
                ([one.sent.whole for one in earlier], own.sent.shortened),
                ([one.sent.shortened for one in earlier], own.sent.shortened),
            ):
                receiver = Receiver(self.units[name], program=start, loses=loses)
                for burst, messages in zip((*earlier, own), (*before, last), strict=True):
                    for stream, at in messages:
                        receiver.take(stream, burst.starts + at)
                runs.append(receiver)
        return runs


MOST_BURSTS = 40
"""Of presses that each come too soon after the one before; of more, nothing is promised."""


def _is_found_elsewhere(before: Press, press: Press) -> bool:
    """Whether `order-out-of-time` says already that two moments are written for one."""
    said = not before.moment.assumed and not press.moment.assumed
    return said and before.song is press.song and before.ms >= press.ms


def _too_soon(wanted: Wanted) -> Wanted:
    return wanted._replace(verdict=Verdict.UNKNOWN, reason=REASON, cause=Cause.TOO_SOON)


def _hangs_on(wanted: Wanted, sent: set[str]) -> bool:
    """Whether a quantity that is proven hangs on messages; ``sent`` are those that are sent.

    What is set by hand or by a foot does not, but for the coarse part of a control.
    """
    if is_by_preset(wanted.quantity):
        return False
    if wanted.verdict is Verdict.FEET:
        return wanted.quantity in sent
    return wanted.verdict is Verdict.PROVEN


REASON = (
    "it is pressed while the unit is still busy with the scene before; press it a little later, "
    "or let both scenes use one program"
)
