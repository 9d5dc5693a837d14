"""Every scene of a night after every other: the bytes run, and what is proven stands.

The verdicts were proven from a state that nobody knows; here every ordered pair of scenes is run
through receivers that begin in states of every kind, over the cables of the rig.
"""

from __future__ import annotations

import os
from fractions import Fraction
from functools import cache
from pathlib import Path
from random import Random

import pytest

from setwright.compiler.binding.states import Verdict, Wanted
from setwright.compiler.binding.target import COMPUTER, SWITCHER
from setwright.compiler.compiled import Compiled
from setwright.compiler.lowering.wire import Transmission
from setwright.compiler.midi import encode
from setwright.compiler.proving.proved import LoweredScene
from setwright.compiler.proving.receiver import Receiver
from setwright.compiler.proving.stands import stands
from setwright.scenes.finding import Severity
from setwright.scenes.unit import Unit
from tests.books import write_book
from tests.conftest import DEMO
from tests.mini import compile_mini
from tests.nights import whole

STARTS = 3
"""Different states in which each unit begins each pair."""

NIGHTS = ["parlour"] if "SETWRIGHT_BOOKS" in os.environ else ["granary", "parlour"]
"""The smaller one alone where only a quick answer is asked for."""

Heard = tuple[tuple[bytes, Fraction], ...]
State = tuple[object, ...]


class Pairs:
    """Runs scenes one after another; what a unit does with what it hears is worked out once."""

    def __init__(self, compiled: Compiled) -> None:
        assert compiled.target is not None
        self.units: dict[str, Unit] = {
            name: unit for name, unit in compiled.target.units.items() if unit.channel is not None
        }
        self.compiled = compiled
        self.known: dict[tuple[str, State, Heard], Receiver] = {}
        self.checked = 0

    def start(self, random: Random) -> dict[str, Receiver]:
        return {
            name: Receiver(
                unit,
                program=(0, random.choice([*range(128)])),
                on=random.choice([True, False]),
                controls={number: random.randrange(128) for number in range(120)},
            )
            for name, unit in self.units.items()
        }

    def after(
        self, before: dict[str, Receiver], sent: Transmission, sender: str
    ) -> dict[str, Receiver]:
        """Return the receivers after a scene; each hears what its cables bring."""
        lines = self.compiled.lines
        # A computer that only calls presets is tried in the switcher's place.
        reached = lines.reach(sender if lines.listening(sender) else SWITCHER)
        heard = tuple((encode(timed.command.message), timed.starts) for timed in sent.commands)
        return {
            name: self._one(name, receiver, heard if name in reached else ())
            for name, receiver in before.items()
        }

    def _one(self, name: str, before: Receiver, heard: Heard) -> Receiver:
        own = (*before.state, tuple(sorted(before.bank.items())))
        key = (name, own, heard)
        if key not in self.known:
            after = Receiver(
                before.unit, before.program, before.on, dict(before.controls), dict(before.bank)
            )
            for stream, starts in heard:
                after.take(stream, starts)
            self.known[key] = after
        return self.known[key]

    def check(self, scene: LoweredScene, receivers: dict[str, Receiver]) -> None:
        for one in _proven(scene.proved):
            assert stands(one, receivers[one.unit]), (scene.key, one.unit, one.quantity)
            self.checked += 1


@cache
def _proven(wanted: tuple[Wanted, ...]) -> tuple[Wanted, ...]:
    return tuple(
        one
        for one in wanted
        if one.verdict is Verdict.PROVEN and one.quantity not in {"loop", "relay", "foot"}
    )


def every_pair(compiled: Compiled) -> tuple[int, int]:
    """Run every ordered pair of different scenes by both routes; return pairs and quantities."""
    pairs, random = Pairs(compiled), Random(1903)
    starts = [pairs.start(random) for _ in range(STARTS)]
    scenes = compiled.different_scenes
    for first in scenes:
        for route in (SWITCHER, COMPUTER):
            there = [pairs.after(one, _route(first, route), route) for one in starts]
            for second in scenes:
                for before in there:
                    for sender in (SWITCHER, COMPUTER):
                        after = pairs.after(before, _route(second, sender), sender)
                        pairs.check(second, after)
    return len(scenes) ** 2, pairs.checked


def _route(scene: LoweredScene, sender: str) -> Transmission:
    return scene.lowered.stored if sender == SWITCHER else scene.lowered.direct


@pytest.mark.parametrize("night", NIGHTS)
def test_every_pair_of_scenes_of_a_demo_night(night: str) -> None:
    pairs, checked = every_pair(whole(DEMO / f"{night}-night.yaml"))
    assert pairs > 1_000
    assert checked > 20 * pairs


@pytest.mark.skipif(len(NIGHTS) == 1, reason="only a quick answer is asked for")
def test_every_pair_of_scenes_of_a_larger_book(tmp_path: Path) -> None:
    pairs, checked = every_pair(whole(write_book(tmp_path, 40)))
    assert pairs > 300
    assert checked > 20 * pairs


def test_a_scene_that_clashes_is_never_sent(tmp_path: Path) -> None:
    """A unit cannot hold two programs at once, so nothing goes out for such a scene."""
    compiled = compile_mini(
        tmp_path,
        units="box: {channel: 3, display: 0 to 99, programs: {warm: 1, thin: 2}}",
        effects="a: {box: warm}\nb: {box: thin}",
        scenes="One: [a]\nBoth: [a, b]",
    )
    assert list(compiled.songs[0].scenes) == ["One"]
    assert [one.code for one in compiled.findings if one.severity is Severity.ERROR] == [
        "effects-clash"
    ]


def test_a_scene_that_is_not_what_was_proven_is_noticed(tmp_path: Path) -> None:
    """The runs can fail: here a preset lacks what it was proven with."""
    compiled = compile_mini(
        tmp_path,
        units="box: {channel: 3, switched by: {cc: 1, on: 127, off: 0}}",
        effects="a: box",
        scenes="On: [a]\nOff: {effects: []}",
    )
    assert every_pair(compiled)[0] == 4
    on, off = compiled.different_scenes
    compiled.scenes[on.key] = on._replace(lowered=on.lowered._replace(stored=off.lowered.stored))
    with pytest.raises(AssertionError, match="switch"):
        every_pair(compiled)


@pytest.mark.parametrize(
    ("again", "after", "verdict"),
    [
        ("ignored", "from the program", Verdict.UNKNOWN),
        ("reloads", "from the program", Verdict.FREE),
        ("reloads", "kept", Verdict.UNKNOWN),
    ],
)
def test_a_time_that_an_echo_has_moved(
    tmp_path: Path, again: str, after: str, verdict: Verdict
) -> None:
    """What the receiver holds in the second scene depends on the first, or it does not."""
    compiled = compile_mini(
        tmp_path,
        units=f"""
            box: {{loop: 1, channel: 3, display: 0 to 9, programs: {{warm: 1}},
              same program again: {again}, acts only on: what is declared,
              time: {{cc: 20, linear: 0 ms to 1270 ms, after a program: {after}}}}}
        """,
        effects="a: {box: warm}",
        scenes="Far: {effects: [a], echo: 300 ms}\nNear: {effects: [a], echo: 90 ms}\nPlain: [a]",
    )
    scenes = {key[1]: scene for key, scene in compiled.scenes.items()}
    pairs = Pairs(compiled)
    ends = set()
    for first in ("Far", "Near"):
        there = pairs.after(pairs.start(Random(1)), scenes[first].lowered.stored, SWITCHER)
        ends.add(pairs.after(there, scenes["Plain"].lowered.stored, SWITCHER)["box"].value(20))
    (time,) = [one for one in scenes["Plain"].proved if one.quantity == "time"]
    assert time.verdict is verdict
    assert (len(ends) > 1) is (verdict is Verdict.UNKNOWN)


@pytest.mark.parametrize(
    ("setting", "again", "verdict"),
    [
        ("{state: warm, set: {mix: 80}}", "ignored", Verdict.UNKNOWN),
        ("{state: warm, set: {mix: 80}}", "reloads", Verdict.FREE),
        ("{set: {mix: 80}}", "ignored", Verdict.UNKNOWN),
        ("{state: thin, set: {mix: 80}}", "ignored", Verdict.FREE),
        ("{state: other, set: {mix: 80}}", "ignored", Verdict.UNKNOWN),
    ],
)
def test_a_control_that_an_effect_has_moved(
    tmp_path: Path, setting: str, again: str, verdict: Verdict
) -> None:
    """A program of the same number is a repeat, whatever it is called."""
    compiled = compile_mini(
        tmp_path,
        units=f"""
            box: {{loop: 1, channel: 3, display: 0 to 9, programs: {{warm: 1, thin: 2, other: 1}},
              same program again: {again}, acts only on: what is declared,
              controls: {{mix: {{cc: 21}}}}}}
        """,
        effects=f"a: {{box: warm}}\nb: {{box: {setting}}}",
        scenes="Moved: [a, b]\nPlain: [a]" if "state" not in setting else "Moved: [b]\nPlain: [a]",
    )
    scenes = {key[1]: scene for key, scene in compiled.scenes.items()}
    (mix,) = [one for one in scenes["Plain"].proved if one.quantity == "mix"]
    assert mix.verdict is verdict
    pairs = Pairs(compiled)
    there = pairs.after(pairs.start(Random(1)), scenes["Moved"].lowered.stored, SWITCHER)
    left = pairs.after(there, scenes["Plain"].lowered.stored, SWITCHER)["box"].value(21)
    assert (left == 80) is (verdict is Verdict.UNKNOWN)


def test_two_names_of_one_program_are_one_message(tmp_path: Path) -> None:
    compiled = compile_mini(
        tmp_path,
        units="box: {loop: 1, channel: 3, display: 0 to 9, programs: {warm: 1, other: 1}}",
        effects="a: {box: warm}\nb: {box: other}",
        scenes="Both: [a, b]\nOff: {effects: []}",
    )
    assert compiled.findings == []
    both = next(scene for key, scene in compiled.scenes.items() if key[1] == "Both")
    assert both.lowered.stored.stream == bytes.fromhex("c2 01")


@pytest.mark.parametrize(
    ("sends", "stream"),
    [
        ("as listed", "b3 1c 00 c2 01 b2 15 28"),
        ("programs first", "c2 01 b3 1c 00 b2 15 28"),
        ("controls first", "b3 1c 00 b2 15 28 c2 01"),
    ],
)
def test_a_preset_sends_in_the_order_of_its_switcher(
    tmp_path: Path, sends: str, stream: str
) -> None:
    """What silences comes first where the preset can list it first; both routes hold the same."""
    compiled = compile_mini(
        tmp_path,
        units="""
            box: {loop: 1, channel: 3, display: 0 to 9, programs: {warm: 1},
              controls: {mix: {cc: 21, after a program: kept}}}
            far: {channel: 4, switched by: {cc: 28, on: 127, off: 0}}
        """,
        effects="a: {box: {state: warm, set: {mix: 40}}}\nb: far",
        scenes="One: [a]\nTwo: [a, b]",
        switcher="switcher: board\nbanks: 9\nswitches: 5\nloops: 4\n"
        f"each preset stores: {{programs: 4, controls: 9, sends: {sends}}}\n",
    )
    one = next(scene for key, scene in compiled.scenes.items() if key[1] == "One")
    assert one.lowered.stored.stream == bytes.fromhex(stream)
    assert one.lowered.direct.stream == bytes.fromhex("b3 1c 00 c2 01 b2 15 28")
