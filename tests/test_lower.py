"""From states to messages: which are sent, in what order, and whether a preset can hold them.

DS 4.2.1 is the MIDI 1.0 Detailed Specification, document version 4.2.1.
"""

from __future__ import annotations

from fractions import Fraction
from itertools import pairwise
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from setwright.compiler import midi
from setwright.compiler.compiled import Compiled
from setwright.compiler.lowering.commands import Command
from setwright.compiler.lowering.lower import in_best_order
from setwright.compiler.lowering.preset import Address
from setwright.compiler.lowering.recall import recall
from setwright.compiler.lowering.slot_order import in_order_of_preset
from setwright.compiler.lowering.wire import Transmission
from setwright.compiler.proving.proved import LoweredScene
from setwright.scenes.switcher import Storage, Switcher
from tests.mini import UNKNOWABLE, compile_mini


def board(stores: str = "{programs: 8, controls: 8, bank select: yes}", more: str = "") -> str:
    """Return a switcher whose presets store as much as ``stores`` says."""
    return (
        "switcher: board\nbanks: 10\nswitches: 5\nloops: 4\nrelays: [hold, pulse]\n"
        f"each preset stores: {stores}\n{more}"
    )


def scene_of(compiled: Compiled, name: str) -> LoweredScene:
    """Return a scene of the first song; the book must be without findings."""
    found = [one.message for one in compiled.findings if one.code not in UNKNOWABLE]
    assert found == []
    return compiled.scene(compiled.songs[0], name)


def said(sent: Transmission) -> list[str]:
    """Return what is sent, for a person: ``echo time b8 14 1d``."""
    return [
        f"{one.command.unit} {one.command.quantity} {midi.encode(one.command.message).hex(' ')}"
        for one in sent.commands
    ]


def starts(sent: Transmission) -> list[float]:
    return [float(one.starts) for one in sent.commands]


# What is sent, and what is not

PROGRAMS = "channel: 3, display: 0 to 9, programs: {warm: 1, thin: 2}"
SWITCH = "switched by: {cc: 28, on: 127, off: 0}"
MIX = "controls: {mix: {cc: 21, linear: 0 to 127"
TIME = "time: {cc: 20, linear: 0 ms to 1270 ms"

# The unit called box; the effect that uses it; what is sent with the effect, and without it.
SENT = [
    pytest.param("{loop: 1}", "box", [], [], id="a loop is no message"),
    pytest.param(
        "{is: amplifier, relay: {number: 1, open: clean, closed: dirty}}",
        "{box: dirty}",
        [],
        [],
        id="nor is a relay",
    ),
    pytest.param(
        "{by foot: [closed, open], at start: open, at rest: closed}",
        "{box: open}",
        [],
        [],
        id="nor is a foot",
    ),
    pytest.param(
        f"{{loop: 1, {PROGRAMS}}}",
        "{box: warm}",
        ["box program c2 01"],
        [],
        id="a program, and nothing while the loop is out",
    ),
    pytest.param(
        f"{{{PROGRAMS}, at rest: thin}}",
        "{box: warm}",
        ["box program c2 01"],
        ["box program c2 02"],
        id="the program at rest",
    ),
    pytest.param(
        f"{{channel: omni, {PROGRAMS.removeprefix('channel: 3, ')}, loop: 1}}",
        "{box: warm}",
        ["box program c0 01"],
        [],
        id="a unit that hears all channels is told on the first",
    ),
    pytest.param(
        f"{{channel: 3, {SWITCH}}}",
        "box",
        ["box switch b2 1c 7f"],
        ["box switch b2 1c 00"],
        id="switched on and off",
    ),
    pytest.param(
        f"{{loop: 1, channel: 3, {SWITCH}}}",
        "box",
        ["box switch b2 1c 7f"],
        [],
        id="but left alone while the loop is out",
    ),
    pytest.param(
        f"{{{PROGRAMS}, {SWITCH}, loading: engages}}",
        "{box: warm}",
        ["box program c2 01"],
        ["box switch b2 1c 00"],
        id="loading switches it on",
    ),
    pytest.param(
        f"{{{PROGRAMS}, {SWITCH}, loading: engages, same program again: ignored}}",
        "{box: warm}",
        ["box program c2 01", "box switch b2 1c 7f"],
        ["box switch b2 1c 00"],
        id="but not for certain, where a repeat is ignored",
    ),
    pytest.param(
        f"{{{PROGRAMS}, {SWITCH}, loading: bypasses}}",
        "{box: warm}",
        ["box program c2 01", "box switch b2 1c 7f"],
        ["box switch b2 1c 00"],
        id="loading switches it off",
    ),
    pytest.param(
        f"{{{PROGRAMS}, {SWITCH}}}",
        "{box: warm}",
        ["box program c2 01", "box switch b2 1c 7f"],
        ["box switch b2 1c 00"],
        id="loading leaves it as it was",
    ),
    pytest.param(
        "{channel: 3, switched by: {cc: 28, any value flips: yes}}",
        "box",
        [],
        [],
        id="what flips it cannot set it",
    ),
    pytest.param(
        f"{{{PROGRAMS}, loading: engages, switched by: {{cc: 28, press: 127, release: 0}}, loop: 1}}",
        "{box: warm}",
        ["box program c2 01"],
        [],
        id="what flips it is not needed where loading switches it on",
    ),
    pytest.param(
        f"{{loop: 1, {PROGRAMS}, reached by: {{up: 30}}}}",
        "{box: warm}",
        [],
        [],
        id="programs that can only be stepped through",
    ),
    pytest.param(
        f"{{loop: 1, channel: 3, {MIX}, at rest: 50}}}}}}",
        "{box: {set: {mix: 20}}}",
        ["box mix b2 15 14"],
        [],
        id="a control",
    ),
    pytest.param(
        f"{{channel: 3, {SWITCH}, {MIX}, at rest: 50}}}}}}",
        "box",
        ["box mix b2 15 32", "box switch b2 1c 7f"],
        ["box switch b2 1c 00"],
        id="its setting at rest, where it is heard",
    ),
    pytest.param(
        f"{{loop: 1, {PROGRAMS}, {MIX}}}}}}}",
        "{box: warm}",
        ["box program c2 01"],
        [],
        id="a control that nobody sets comes with the program",
    ),
    pytest.param(
        "{loop: 1, channel: 3, controls: {speed: {cc: 22, positions: {slow: 3, fast: 99}}}}",
        "{box: {set: {speed: fast}}}",
        ["box speed b2 16 63"],
        [],
        id="a control with named positions",
    ),
    pytest.param(
        f"{{loop: 1, {PROGRAMS}, {TIME}, only with: thin}}}}",
        "{box: warm}",
        ["box program c2 01"],
        [],
        id="a time that this program does not have",
    ),
    pytest.param(
        f"{{loop: 1, channel: 3, tempo from: clock, {TIME}}}}}",
        "box",
        [],
        [],
        id="a time that follows the clock",
    ),
    pytest.param(
        f"{{loop: 1, channel: 3, {TIME}}}}}",
        "box",
        [],
        [],
        id="a time that nobody gives",
    ),
    pytest.param(
        f"{{loop: 1, channel: 3, {TIME}, at rest: 500 ms}}}}",
        "box",
        ["box time b2 14 32"],
        [],
        id="a time at rest",
    ),
]


@pytest.mark.parametrize(("unit", "effect", "on", "off"), SENT)
def test_what_is_sent(
    tmp_path: Path, unit: str, effect: str, on: list[str], off: list[str]
) -> None:
    compiled = compile_mini(
        tmp_path,
        units=f"box: {unit}",
        effects=f"wanted: {effect}",
        scenes="On: {effects: [wanted]}\nOff: {effects: []}",
        switcher=board(),
    )
    for scene, expected in (("On", on), ("Off", off)):
        lowered = scene_of(compiled, scene).lowered
        assert said(lowered.direct) == expected
        # Both routes send the same; the order of a preset is another matter.
        assert sorted(said(lowered.stored)) == sorted(expected)


def test_a_control_that_another_effect_left_behind_is_not_guessed(tmp_path: Path) -> None:
    compiled = compile_mini(
        tmp_path,
        units="box: {loop: 1, channel: 3, controls: {mix: {cc: 21, linear: 0 to 127}}}",
        effects="wet: {box: {set: {mix: 80}}}\nplain: box",
        scenes="Wet: {effects: wet}\nPlain: {effects: plain}",
    )
    assert said(scene_of(compiled, "Wet").lowered.direct) == ["box mix b2 15 50"]
    assert said(scene_of(compiled, "Plain").lowered.direct) == []


def test_the_time_follows_the_tempo(tmp_path: Path) -> None:
    compiled = compile_mini(
        tmp_path,
        units=f"box: {{loop: 1, channel: 3, {TIME}}}}}",
        effects="delay: box",
        scenes="A: {effects: delay, echo: dotted eighth}",
    )
    (one,) = scene_of(compiled, "A").lowered.direct.commands
    # A dotted eighth at 120 is 375 ms; a step of this control is 10 ms.
    assert midi.encode(one.command.message) == bytes((0xB2, 20, 37))
    assert one.command.meaning == "time 375 ms (value 37, gives 370 ms)"


def test_words_and_times_come_from_the_unit(tmp_path: Path) -> None:
    compiled = compile_mini(
        tmp_path,
        units=f"box: {{{PROGRAMS.replace('0 to 9', '1 to 10')}, {SWITCH}, busy after program: 120 ms, "
        "settles in: 30 ms}",
        effects="wanted: {box: warm}",
        scenes="A: {effects: wanted}\nB: {effects: []}",
    )
    load, on = scene_of(compiled, "A").lowered.direct.commands
    assert (load.command.meaning, load.command.shown) == ("load warm (display 1)", "1")
    assert [load.command.busy, load.command.settles] == [120, 30]
    assert [on.command.busy, on.command.settles] == [0, 30]
    assert (on.command.meaning, on.command.silences) == ("switch on", False)
    (off,) = scene_of(compiled, "B").lowered.direct.commands
    assert (off.command.meaning, off.command.silences) == ("switch off", True)


# In what order

SLOW_AND_QUICK = """
slow: {loop: 1, channel: 1, display: 0 to 9, programs: {deep: 5}, busy after program: 100 ms,
  controls: {depth: {cc: 31, linear: 0 to 127}}}
quick: {loop: 2, channel: 2, display: 0 to 9, programs: {warm: 3}, settles in: 5 ms,
  controls: {mix: {cc: 32, linear: 0 to 127}}}
settling: {loop: 3, channel: 3, display: 0 to 9, programs: {wide: 7}, settles in: 40 ms}
delay: {channel: 4, switched by: {cc: 28, on: 127, off: 0}, controls: {level: {cc: 33, linear: 0 to 127}}}
other: {channel: 5, switched by: {cc: 28, on: 127, off: 0}}
"""
ALL_OF_THEM = """
deep: {slow: {state: deep, set: {depth: 1}}}
warm: {quick: {state: warm, set: {mix: 2}}}
wide: {settling: wide}
long: {delay: {set: {level: 3}}}
short: other
"""


def test_the_best_order(tmp_path: Path) -> None:
    compiled = compile_mini(
        tmp_path,
        units=SLOW_AND_QUICK,
        effects=ALL_OF_THEM,
        scenes="A: [deep, warm, wide, long]",
        switcher=board(),
    )
    direct = scene_of(compiled, "A").lowered.direct
    assert said(direct) == [
        "other switch b4 1c 00",  # what silences comes first
        "slow program c0 05",  # then programs, the slowest first
        "settling program c2 07",
        "quick program c1 03",
        "delay level b3 21 03",  # then settings, and what they were for is switched on
        "delay switch b3 1c 7f",
        "quick mix b1 20 02",
        "slow depth b0 1f 01",  # those of slow units last
    ]
    # Only the slow unit's setting had to wait: 0.96 and 0.64 ms of its program, then 100 ms.
    assert starts(direct)[5:] == [3.84, 4.8, 101.6]
    assert starts(direct)[:5] == [0, 0.96, 1.6, 2.24, 2.88]


ORDERS = {
    "programs first": ["quick program", "delay switch", "other switch", "quick mix"],
    "controls first": ["delay switch", "other switch", "quick mix", "quick program"],
    "as listed": ["delay switch", "quick program", "other switch", "quick mix"],
}


@pytest.mark.parametrize(("sends", "expected"), ORDERS.items())
def test_the_order_of_a_preset(tmp_path: Path, sends: str, expected: list[str]) -> None:
    compiled = compile_mini(
        tmp_path,
        units=SLOW_AND_QUICK,
        effects=ALL_OF_THEM,
        scenes="A: [warm, short]",
        switcher=board(
            f"{{programs: 8, controls: 8, sends: {sends}}}", "gap between messages: 3 ms\n"
        ),
    )
    lowered = scene_of(compiled, "A").lowered
    stored = [f"{one.command.unit} {one.command.quantity}" for one in lowered.stored.commands]
    assert stored == expected
    direct = [f"{one.command.unit} {one.command.quantity}" for one in lowered.direct.commands]
    assert direct == ORDERS["as listed"]
    # The switcher's gap is its own; a computer has none.
    gaps = [after.starts - before.ends for before, after in pairwise(lowered.stored.commands)]
    assert gaps == [3, 3, 3]
    assert float(lowered.direct.ms) == lowered.direct.size * 0.32


def test_a_switcher_does_not_wait_for_a_unit_that_is_busy(tmp_path: Path) -> None:
    compiled = compile_mini(
        tmp_path, units=SLOW_AND_QUICK, effects=ALL_OF_THEM, scenes="A: [deep]", switcher=board()
    )
    lowered = scene_of(compiled, "A").lowered
    assert said(lowered.stored)[-1] == said(lowered.direct)[-1] == "slow depth b0 1f 01"
    assert starts(lowered.stored)[-1] == 2.56
    assert starts(lowered.direct)[-1] == 102.56


# Bank select

FAR = "display: 1 to 512, bank select: {by: %s}, programs: {near: 1, far: 300}"


@pytest.mark.parametrize(
    ("by", "near", "far"),
    [
        ("msb", ["b2 00 00", "c2 00"], ["b2 00 02", "c2 2b"]),
        ("lsb", ["b2 20 00", "c2 00"], ["b2 20 02", "c2 2b"]),
        ("msb and lsb", ["b2 00 00", "b2 20 00", "c2 00"], ["b2 00 00", "b2 20 02", "c2 2b"]),
    ],
)
def test_bank_select_comes_right_before_its_program(
    tmp_path: Path, by: str, near: list[str], far: list[str]
) -> None:
    """Control 0, control 32, program change at once: DS 4.2.1, bank select.

    A program of the first bank needs it too, for nobody knows which bank was there before.
    """
    compiled = compile_mini(
        tmp_path,
        units=f"box: {{loop: 1, channel: 3, {FAR % by}}}",
        effects="near: {box: near}\nfar: {box: far}",
        scenes="Near: {effects: near}\nFar: {effects: far}",
        switcher=board(),
    )
    for name, expected in (("Near", near), ("Far", far)):
        sent = scene_of(compiled, name).lowered.direct
        assert [midi.encode(one.command.message).hex(" ") for one in sent.commands] == expected
        assert [one.command.joined for one in sent.commands] == [True] * (len(expected) - 1) + [
            False
        ]


def test_bank_select_takes_the_banks_own_size(tmp_path: Path) -> None:
    compiled = compile_mini(
        tmp_path,
        units="box: {loop: 1, channel: 3, display: 0 to 399, programs: {far: 399}, "
        "bank select: {by: msb, programs in a bank: 100}}",
        effects="far: {box: far}",
        scenes="A: {effects: far}",
        switcher=board(),
    )
    assert said(scene_of(compiled, "A").lowered.direct) == [
        "box bank b2 00 03",
        "box program c2 63",
    ]


LISTS = st.lists(
    st.tuples(
        st.sampled_from(["bank", "program", "switch", "mix"]),
        st.sampled_from("abcd"),
        st.booleans(),
    ),
    max_size=8,
)


def commands_of(kinds: list[tuple[str, str, bool]]) -> list[Command]:
    """Return orders as a rig makes them: one program for each unit at most, banks joined to it."""
    result: list[Command] = []
    busy = {"a": 0, "b": 10, "c": 10, "d": 120}
    for unit in "abcd":
        channel = "abcd".index(unit) + 1
        mine = [(kind, off) for kind, owner, off in kinds if owner == unit]
        if any(kind == "bank" for kind, _ in mine):
            for message in midi.bank(channel, 200, "msb and lsb"):
                result.append(Command(unit, "bank", message, "", joined=True))
        if any(kind in {"bank", "program"} for kind, _ in mine):
            load = midi.program(channel, 5)
            result.append(Command(unit, "program", load, "", busy=Fraction(busy[unit])))
        for number, (kind, off) in enumerate(mine):
            message = midi.control(channel, 40 + number, 1)
            if kind == "switch":
                result.append(Command(unit, "switch", message, "", silences=off))
            elif kind == "mix":
                result.append(Command(unit, "mix", message, ""))
    return result


@given(LISTS, st.sampled_from(["programs first", "controls first", "as listed"]))
def test_no_order_parts_or_loses_anything(kinds: list[tuple[str, str, bool]], sends: str) -> None:
    commands = commands_of(kinds)
    best = in_best_order(commands)
    for arranged in (best, in_order_of_preset(best, Storage.model_validate({"sends": sends}))):
        assert sorted(map(repr, arranged)) == sorted(map(repr, commands))
        for index, command in enumerate(arranged):
            if command.joined:
                following = arranged[index + 1]
                assert (following.unit, following.quantity in {"bank", "program"}) == (
                    command.unit,
                    True,
                )
        # Most significant byte first.
        banks = [command.message.data[0] for command in arranged if command.quantity == "bank"]
        assert banks == [0, 32] * (len(banks) // 2)
    kinds_in_order = [
        0 if one.silences else {"bank": 1, "program": 1}.get(one.quantity, 2) for one in best
    ]
    assert kinds_in_order == sorted(kinds_in_order)
    for unit in "abcd":
        # A unit is switched on after its own settings.
        mine = [one.quantity for one in best if one.unit == unit and not one.silences]
        controls = [quantity for quantity in mine if quantity in {"mix", "switch"}]
        assert controls == sorted(controls)
    waits = [one.busy for one in best if one.quantity == "program"]
    assert waits == sorted(waits, reverse=True)


# What a preset stores

TWO_PROGRAMS = """
one: {loop: 1, channel: 3, display: 0 to 9, programs: {warm: 1},
  controls: {mix: {cc: 21, linear: 0 to 127}, depth: {cc: 22, linear: 0 to 127}}}
two: {loop: 2, channel: 4, display: 1 to 128, programs: {deep: 1}}
"""
TWO_EFFECTS = "warm: {one: {state: warm, set: {mix: 1, depth: 2}}}\ndeep: {two: deep}"
IN_A_BANK = TWO_PROGRAMS.replace(
    "1 to 128, programs: {deep: 1}", "1 to 512, programs: {deep: 300}, bank select: {by: msb}"
)

FULL = [
    pytest.param("{programs: 2, controls: 2}", TWO_PROGRAMS, None, id="it fits exactly"),
    pytest.param(
        "{programs: 1, controls: 2}",
        TWO_PROGRAMS,
        "it needs 2 program changes, and a preset holds 1",
        id="a program too many",
    ),
    pytest.param(
        "{controls: 2}",
        TWO_PROGRAMS,
        "it needs 2 program changes, and a preset holds 0",
        id="no programs at all",
    ),
    pytest.param(
        "{programs: 2, controls: 1}",
        TWO_PROGRAMS,
        "it needs 2 controls, and a preset holds 1",
        id="a control too many",
    ),
    pytest.param(
        "{programs: 2, controls: 2, on any channel: no, program channels: [4, 3], "
        "control channels: [3, 3]}",
        TWO_PROGRAMS,
        None,
        id="fixed channels that are the right ones",
    ),
    pytest.param(
        "{programs: 2, controls: 2, on any channel: no, program channels: [3, 3], "
        "control channels: [3, 3]}",
        TWO_PROGRAMS,
        "it needs a program on channel 4 for two, and the program slots are on channels 3, 3",
        id="no program slot on a channel",
    ),
    pytest.param(
        "{programs: 2, controls: 2, on any channel: no, program channels: [3, 4], "
        "control channels: [3, 4]}",
        TWO_PROGRAMS,
        "it needs a control on channel 3 for one, and the control slots are on channels 3, 4",
        id="only one control slot on a channel that needs two",
    ),
    pytest.param(
        "{programs: 2, controls: 2, on any channel: no, program channels: [3, 4]}",
        TWO_PROGRAMS,
        "it needs a control on channel 3 for one, and the control slots are on channels none",
        id="control slots of which nothing is said",
    ),
    pytest.param(
        "{programs: 2, controls: 2, bank select: yes}",
        IN_A_BANK,
        None,
        id="a program slot sends its own bank select",
    ),
    pytest.param(
        "{programs: 2, controls: 3}",
        IN_A_BANK,
        "it needs a bank select for two, and the switcher cannot send one right before its program",
        id="bank select cannot be sent before programs",
    ),
    pytest.param(
        "{programs: 2, controls: 3, sends: as listed}",
        IN_A_BANK,
        None,
        id="as listed it can, in a control slot",
    ),
    pytest.param(
        "{programs: 2, controls: 2, sends: as listed}",
        IN_A_BANK,
        "it needs 3 controls, and a preset holds 2",
        id="which there has to be",
    ),
    pytest.param(
        "{programs: 2, controls: 3, sends: as listed, on any channel: no, "
        "program channels: [3, 4], control channels: [3, 3, 3]}",
        IN_A_BANK,
        "it needs a control on channel 4 for two, and the control slots are on channels 3, 3, 3",
        id="and on the right channel",
    ),
]


@pytest.mark.parametrize(("stores", "units", "reason"), FULL)
def test_what_fits_into_a_preset(
    tmp_path: Path, stores: str, units: str, reason: str | None
) -> None:
    compiled = compile_mini(
        tmp_path,
        units=units,
        effects=TWO_EFFECTS,
        scenes="Quiet: {effects: []}\nLoud: [warm, deep]",
        switcher=board(stores),
    )
    found = [(finding.code, finding.message) for finding in compiled.findings]
    if reason is None:
        assert found == []
    else:
        assert found == [("preset-full", f"‘Loud’ cannot be stored: {reason}")]


def test_one_finding_for_all_scenes_with_the_same_shortage(tmp_path: Path) -> None:
    compiled = compile_mini(
        tmp_path,
        units=TWO_PROGRAMS,
        effects=TWO_EFFECTS,
        scenes="A: [warm, deep]\nB: [deep, warm]\nC: {effects: []}\nD: {effects: warm}",
        switcher=board("{programs: 1, controls: 2}"),
    )
    (finding,) = compiled.findings
    assert finding.message.endswith("a preset holds 1 (so it is with 2 scenes)")
    places = [finding.place, *(one.place for one in finding.related)]
    assert [(Path(place.source.name).name, place.line) for place in places] == [
        ("songs.yaml", 7),
        ("songs.yaml", 8),
        ("board.yaml", 6),
    ]


# Recall


def switcher(more: str = "", banks: str = "40", switches: str = "5") -> Switcher:
    fields = {"switcher": "board", "banks": banks, "switches": switches}
    for line in more.splitlines():
        key, _, value = line.partition(": ")
        fields[key] = value
    return Switcher.model_validate(fields)


def recalled(box: Switcher, bank: int, switch: int) -> str | None:
    commands = recall(box, Address(bank, switch))
    return (
        None if commands is None else " ".join(midi.encode(one.message).hex() for one in commands)
    )


RECALLS = [
    pytest.param("", 0, 0, None, id="a switcher that does not listen"),
    pytest.param("recalled on channel: 16", 0, 0, "cf00", id="the first preset"),
    pytest.param("recalled on channel: 16", 3, 2, "cf11", id="switch by switch, bank by bank"),
    pytest.param("recalled on channel: 1", 25, 2, "c07f", id="the last that a program reaches"),
    pytest.param("recalled on channel: 1", 25, 3, None, id="one beyond it"),
    pytest.param("recalled on channel: 1\nfirst program: 1", 0, 0, "c001", id="counted from 1"),
    pytest.param(
        "recalled on channel: 1\nfirst program: 1", 25, 2, None, id="which costs the last"
    ),
    pytest.param(
        "recalled on channel: 1\nrecalled by bank select: msb",
        0,
        0,
        "b00000 c000",
        id="the bank is always said, for nobody knows the last one",
    ),
    pytest.param(
        "recalled on channel: 1\nrecalled by bank select: msb", 25, 3, "b00001 c000", id="msb"
    ),
    pytest.param(
        "recalled on channel: 1\nrecalled by bank select: lsb", 25, 3, "b02001 c000", id="lsb"
    ),
    pytest.param(
        "recalled on channel: 1\nrecalled by bank select: msb and lsb",
        25,
        3,
        "b00000 b02001 c000",
        id="both",
    ),
    pytest.param(
        "recalled on channel: 1\nrecalled by bank select: msb\nfirst program: 127",
        0,
        1,
        "b00001 c000",
        id="the first program counts before the bank does",
    ),
]


@pytest.mark.parametrize(("more", "bank", "switch", "expected"), RECALLS)
def test_recall(more: str, bank: int, switch: int, expected: str | None) -> None:
    assert recalled(switcher(more), bank, switch) == expected


def test_recall_is_joined_and_says_where() -> None:
    box = switcher("recalled on channel: 16\nrecalled by bank select: msb", "0 to 39", "A to E")
    bank, load = recall(box, Address(1, 2)) or ()
    assert (bank.joined, load.joined) == (True, False)
    assert (bank.unit, load.unit) == ("switcher", "switcher")
    assert (bank.meaning, load.meaning) == (
        "bank select for bank 1, switch C",
        "load bank 1, switch C",
    )


@pytest.mark.parametrize("by", ["msb", "lsb", "msb and lsb"])
def test_what_bank_select_cannot_reach_is_not_recalled(by: str) -> None:
    """Half a bank select reaches 128 banks, the whole one 16,384: DS 4.2.1, bank select."""
    box = switcher(f"recalled on channel: 1\nrecalled by bank select: {by}", "1000", "64")
    half = by != "msb and lsb"
    # Bank 256 of 64 switches begins with the first preset beyond 128 × 128.
    assert recalled(box, 255, 63) is not None
    assert (recalled(box, 256, 0) is None) == half
    assert (recalled(box, 999, 63) is None) == half


@given(
    st.integers(0, 999),
    st.integers(0, 63),
    st.integers(0, 127),
    st.sampled_from(["no", "msb", "lsb", "msb and lsb"]),
)
@settings(max_examples=200)
def test_no_two_presets_are_recalled_alike(bank: int, switch: int, first: int, by: str) -> None:
    box = switcher(
        f"recalled on channel: 1\nrecalled by bank select: {by}\nfirst program: {first}",
        "1000",
        "64",
    )
    commands = recall(box, Address(bank, switch))
    number = first + 64 * bank + switch
    if commands is None:
        assert number >= {"no": 128, "msb and lsb": 2**21}.get(by, 2**14)
        return
    values = {one.message.data[0]: one.message.data[-1] for one in commands[:-1]}
    bank_value = values.get(0, 0) * (128 if by == "msb and lsb" else 1) + values.get(32, 0)
    assert bank_value * 128 + commands[-1].message.data[0] == number


def test_slots_of_fixed_channels_are_sent_as_they_lie() -> None:
    """The channels of slots are the switcher's: whoever comes first on one has its first slot."""
    first = Command("a", "program", midi.program(6, 1), "")
    bank = Command("b", "bank", midi.control(9, 0, 2), "")
    second = Command("b", "program", midi.program(9, 2), "")
    third = Command("a", "x", midi.control(6, 20, 1), "")
    fourth = Command("b", "x", midi.control(9, 20, 1), "")
    storage = Storage.model_validate(
        {
            "programs": "2",
            "controls": "2",
            "on any channel": "no",
            "program channels": ["9", "6"],
            "control channels": ["6", "9"],
        }
    )
    commands = [first, bank, second, fourth, third]
    assert in_order_of_preset(commands, storage) == [bank, second, first, third, fourth]
