"""Model receivers: every declared behaviour, through raw bytes.

Sources, where a row names one: MIDI 1.0 Detailed Specification 4.2.1 (DS) with its section or
table; IEC 63035:2017. Rows without one show a behaviour that a rig declares.
"""

from __future__ import annotations

import ast
from collections.abc import Callable
from fractions import Fraction
from itertools import pairwise
from typing import Any

import pytest
from hypothesis import example, given
from hypothesis import strategies as st

from setwright.compiler.midi import Message, bank, decode, encode, program, running
from setwright.compiler.midi import control as control_change
from setwright.compiler.proving.receiver import UNKNOWN, Receiver
from setwright.scenes.unit import Unit
from tests.conftest import ROOT

Known = dict[str, Any]


def unit(**said: Any) -> Unit:
    """Return a unit on channel 3 that acts only on what is declared, unless ``said`` otherwise."""
    usual = {"channel": "3", "acts only on": "what is declared"}
    keys = usual | {key.replace("_", " "): value for key, value in said.items()}
    return Unit.model_validate({key: value for key, value in keys.items() if value != ""})


def hear(box: Unit, *streams: str, **start: Any) -> Receiver:
    """Return ``box`` in the state ``start`` after hexadecimal ``streams``; ``@20`` waits till 20 ms."""
    receiver = Receiver(box, **start)
    now = Fraction(0)
    for stream in streams:
        if stream.startswith("@"):
            now = Fraction(stream[1:])
            continue
        receiver.take(bytes.fromhex(stream), now)
    return receiver


PROGRAMS: Known = {"display": "0 to 99", "programs": {"warm": "1", "thin": "2"}}
BANKS: Known = {
    "display": "0 to 16383",
    "programs": {"first": "0", "129th": "128", "last": "16383"},
    "bank_select": {"by": "msb and lsb"},
}
SWITCH: Known = {"switched_by": {"cc": "28", "on": "127", "off": "0"}}
TIME: Known = {"time": {"cc": "20", "linear": "0 ms to 127 ms"}}


@pytest.mark.parametrize(
    ("stream", "values"),
    [
        pytest.param("b2 14 05", {20: 5}, id="a control"),
        # DS, running status, whose own example is the three notes 90 3C 27 40 2B 43 25.
        pytest.param("b2 14 05 14 06", {20: 6}, id="running status"),
        pytest.param("90 3c 27 40 2b 43 25 b2 14 07", {20: 7}, id="notes in running status before"),
        pytest.param("b2 14 05 90 3c 27 14 06", {20: 5}, id="a note's status ends it"),
        pytest.param("b2 14 05 f8 14 fe 06", {20: 6}, id="real-time bytes stand anywhere"),
        pytest.param("b2 f8 14 f8 05 f8 14 06", {20: 6}, id="even within a message"),
        pytest.param("b2 14 05 f3 01 14 06", {20: 5}, id="system common cancels running status"),
        pytest.param("b2 14 05 f0 7d 14 06 f7 14 08", {20: 5}, id="so does exclusive"),
        pytest.param("14 06 b2 14 05", {20: 5}, id="data without a status is ignored"),
        pytest.param("b2 14 b2 14 05", {20: 5}, id="a broken message is dropped"),
        # DS, channel voice messages: the low half of the status is the channel, 0 for 1.
        pytest.param("b1 14 05 b3 14 06", {}, id="other channels"),
        pytest.param("b2 14 05 b1 14 06", {20: 5}, id="its own and another"),
        # DS, Table IV: controls 120 to 127 are channel mode messages.
        pytest.param("b2 78 00 b2 79 00 b2 7b 00 b2 7f 00", {}, id="mode messages are no controls"),
        pytest.param("e2 14 05 a2 14 05 d2 14", {}, id="bend and pressure are no controls"),
    ],
)
def test_bytes(stream: str, values: dict[int, int]) -> None:
    receiver = hear(unit(**TIME), stream)
    assert receiver.state.controls == tuple(values.items())


def test_bytes_may_come_one_at_a_time() -> None:
    receiver = Receiver(unit(**TIME))
    for byte in bytes.fromhex("b2 f8 14 05 14 06"):
        receiver.take(bytes([byte]))
    assert receiver.value(20) == 6


def test_a_unit_on_every_channel() -> None:
    assert hear(unit(**TIME, channel="omni"), "b0 14 05 bf 14 06").value(20) == 6


def test_a_unit_without_a_channel_hears_nothing() -> None:
    assert hear(unit(**TIME, channel=""), "b2 14 05").value(20) == UNKNOWN


@pytest.mark.parametrize(
    ("by", "streams", "program"),
    [
        # DS, bank select: MSB, LSB, then the program change; 00/00 is the first bank, 01/00 the
        # 129th, 7F/7F the 16384th.
        pytest.param("msb and lsb", ["b2 00 00 b2 20 00 c2 05"], (0, 5), id="the first bank"),
        pytest.param("msb and lsb", ["b2 00 01 20 00 c2 05"], (128, 5), id="the 129th"),
        pytest.param("msb and lsb", ["b2 00 7f 20 7f c2 7f"], (16383, 127), id="the 16384th"),
        pytest.param("msb and lsb", ["b2 00 01 20 00"], UNKNOWN, id="alone it loads nothing"),
        pytest.param("msb and lsb", ["b2 00 01 20 00 c2 05", "b2 00 02"], (128, 5), id="it waits"),
        pytest.param(
            "msb and lsb",
            ["b2 00 01 20 00 c2 05", "c2 06"],
            (128, 6),
            id="a program alone stays in the bank",
        ),
        pytest.param("msb and lsb", ["c2 06"], UNKNOWN, id="in whichever, if none was selected"),
        pytest.param("msb and lsb", ["b2 20 01 c2 06"], UNKNOWN, id="half a bank is no bank"),
        pytest.param("msb", ["b2 00 02 b2 20 09 c2 06"], (2, 6), id="control 0 alone"),
        pytest.param("lsb", ["b2 00 02 b2 20 09 c2 06"], (9, 6), id="control 32 alone"),
        pytest.param("msb", ["b3 00 02 c2 06"], UNKNOWN, id="on its own channel only"),
    ],
)
def test_bank_select(by: str, streams: list[str], program: object) -> None:
    box = unit(**{**BANKS, "bank_select": {"by": by}})
    assert hear(box, *streams).program == program


@pytest.mark.parametrize(
    ("said", "streams", "program"),
    [
        pytest.param(PROGRAMS, ["c2 07"], (0, 7), id="programs that have no name load too"),
        pytest.param(PROGRAMS, ["b2 00 05 c2 07"], (0, 7), id="bank select that it does not obey"),
        pytest.param(PROGRAMS, ["c2 64"], UNKNOWN, id="beyond its display nobody knows"),
        pytest.param(
            {**BANKS, "bank_select": {"by": "msb", "programs in a bank": "100"}},
            ["b2 00 00 c2 64"],
            UNKNOWN,
            id="beyond its bank neither",
        ),
        pytest.param(TIME, ["c2 07"], UNKNOWN, id="a unit without programs"),
    ],
)
def test_programs(said: Known, streams: list[str], program: object) -> None:
    assert hear(unit(**said), *streams).program == program


def control(after: str) -> Known:
    return {"controls": {"mix": {"cc": "21", "linear": "0 to 127", "after a program": after}}}


@pytest.mark.parametrize(
    ("after", "again", "streams", "start", "value"),
    [
        pytest.param("kept", "reloads", ["b2 15 09", "c2 01"], {}, 9, id="kept"),
        pytest.param(
            "from the program", "reloads", ["b2 15 09", "c2 01"], {}, "of program 0/1", id="brought"
        ),
        pytest.param("unknown", "reloads", ["b2 15 09", "c2 01"], {}, UNKNOWN, id="nobody knows"),
        pytest.param(
            "from the program",
            "reloads",
            ["c2 01", "b2 15 09", "c2 01"],
            {},
            "of program 0/1",
            id="a repeat reloads",
        ),
        pytest.param(
            "from the program",
            "ignored",
            ["b2 15 09", "c2 01"],
            {"program": (0, 1)},
            9,
            id="a repeat is ignored",
        ),
        pytest.param(
            "from the program",
            "ignored",
            ["b2 15 09", "c2 01"],
            {"program": (0, 2)},
            "of program 0/1",
            id="but another program is not",
        ),
        pytest.param(
            "from the program",
            "ignored",
            ["b2 15 09", "c2 01"],
            {},
            UNKNOWN,
            id="perhaps it was there, perhaps not",
        ),
        pytest.param("kept", "ignored", ["b2 15 09", "c2 01"], {}, 9, id="kept all the same"),
    ],
)
def test_what_a_program_does_to_a_control(
    after: str, again: str, streams: list[str], start: Known, value: object
) -> None:
    box = unit(**PROGRAMS, **control(after), same_program_again=again)
    receiver = hear(box, *streams, **start)
    assert (receiver.program, receiver.value(21)) == ((0, 1), value)


@pytest.mark.parametrize(
    ("loading", "again", "start", "on"),
    [
        pytest.param("engages", "reloads", {}, True, id="engages"),
        pytest.param("bypasses", "reloads", {}, False, id="bypasses"),
        pytest.param("keeps bypass", "reloads", {"on": True}, True, id="keeps it on"),
        pytest.param("keeps bypass", "reloads", {"on": False}, False, id="keeps it off"),
        pytest.param("keeps bypass", "reloads", {}, UNKNOWN, id="keeps what nobody knows"),
        pytest.param("engages", "ignored", {"program": (0, 1), "on": False}, False, id="a repeat"),
        pytest.param("engages", "ignored", {"program": (0, 2), "on": False}, True, id="no repeat"),
        pytest.param("engages", "ignored", {"on": False}, UNKNOWN, id="perhaps a repeat"),
        pytest.param("engages", "ignored", {"on": True}, True, id="on in either case"),
    ],
)
def test_loading(loading: str, again: str, start: Known, on: object) -> None:
    box = unit(**PROGRAMS, **SWITCH, loading=loading, same_program_again=again)
    assert hear(box, "c2 01", **start).on == on


# A program change takes two bytes, 0.64 ms (DS, hardware; IEC 63035:2017, 4.1); busy for 10 ms.
@pytest.mark.parametrize(
    ("streams", "value", "lost"),
    [
        pytest.param(["c2 01", "@10.63", "b2 14 05"], UNKNOWN, 1, id="a moment too early"),
        pytest.param(["c2 01", "@10.64", "b2 14 05"], 5, 0, id="just in time"),
        pytest.param(["c2 01 b2 14 05"], UNKNOWN, 1, id="right behind it"),
        pytest.param(["c2 01", "@5", "b2 14 05", "@20", "b2 14 06"], 6, 1, id="later it hears"),
        pytest.param(["@7", "b2 14 05"], 5, 0, id="it was not busy"),
        pytest.param(
            ["c2 01", "@10", "b2 14 05 14 06 14 07"], 7, 1, id="the rest of a run is heard"
        ),
    ],
)
def test_a_busy_unit(streams: list[str], value: object, lost: int) -> None:
    box = unit(
        **PROGRAMS,
        time={"cc": "20", "linear": "0 ms to 127 ms", "after a program": "kept"},
        busy_after_program="10 ms",
    )
    receiver = hear(box, *streams)
    assert (receiver.value(20), len(receiver.lost)) == (value, lost)


# A box that loses single bytes while it is busy: what is left of a message falls to the status
# byte before it (DS, running status). Program 1 is through at 0.64 ms, so with 10 ms it is busy
# until 10.64 ms; a byte takes 0.32 ms.
@pytest.mark.parametrize(
    ("streams", "program", "value"),
    [
        pytest.param(["c2 01", "@10.64", "b2 14 05"], (0, 1), 5, id="in time"),
        pytest.param(["c2 01", "@5", "b2 14 05"], (0, 1), "of program 0/1", id="lost as a whole"),
        pytest.param(
            ["c2 01", "@10.5", "b2 14 05"],
            (0, 20),
            "of program 0/20",
            id="its status lost, its data a program",
        ),
        pytest.param(
            ["c2 01", "@10.2", "b8 14 05"],
            (0, 5),
            "of program 0/5",
            id="what was meant for another channel, too",
        ),
        pytest.param(["c2 01", "@10.2", "b2 14 05", "@22", "b2 14 07"], (0, 5), 7, id="afresh"),
    ],
)
def test_a_busy_unit_that_loses_single_bytes(
    streams: list[str], program: object, value: object
) -> None:
    box = unit(
        display="0 to 99",
        programs={"warm": "1", "thin": "2"},
        **TIME,
        busy_after_program="10 ms",
    )
    receiver = hear(box, *streams, loses="bytes")
    assert (receiver.program, receiver.value(20)) == (program, value)


@pytest.mark.parametrize(
    ("loses", "program"),
    # The last byte begins 0.14 ms before 10.64 ms and ends 0.18 ms after it.
    [("messages", (0, 1)), ("bytes", (0, 1)), ("bytes within", (0, 5))],
)
def test_a_byte_at_the_end_of_a_busy_time(loses: Any, program: object) -> None:
    box = unit(**PROGRAMS, busy_after_program="10 ms")
    assert hear(box, "c2 01", "@9.86", "b2 14 05", loses=loses).program == program


def test_a_busy_unit_loses_programs_and_banks_too() -> None:
    box = unit(**{**BANKS, "busy_after_program": "10 ms"})
    receiver = hear(box, "b2 00 00 20 00 c2 01", "@5", "b2 00 01", "c2 02")
    assert receiver.program == (0, 1)
    receiver.rest()
    receiver.take(bytes.fromhex("c2 03"))
    assert receiver.program == (0, 3)


def test_a_program_that_is_ignored_keeps_nobody_busy() -> None:
    box = unit(**PROGRAMS, **SWITCH, busy_after_program="10 ms", same_program_again="ignored")
    assert hear(box, "c2 01 b2 1c 7f", program=(0, 1)).on is True
    assert hear(box, "c2 01 b2 1c 7f", program=(0, 2)).on == UNKNOWN


@pytest.mark.parametrize(
    ("switch", "stream", "start", "on"),
    [
        pytest.param({"on": "127", "off": "0"}, "b2 1c 7f", UNKNOWN, True, id="on"),
        pytest.param({"on": "127", "off": "0"}, "b2 1c 00", True, False, id="off"),
        pytest.param({"on": "127", "off": "0"}, "b2 1c 40", True, UNKNOWN, id="neither value"),
        pytest.param({"any value flips": "yes"}, "b2 1c 40", True, False, id="it flips"),
        pytest.param({"any value flips": "yes"}, "b2 1c 40 1c 40", True, True, id="and back"),
        pytest.param({"any value flips": "yes"}, "b2 1c 40", UNKNOWN, UNKNOWN, id="who knows"),
        pytest.param({"press": "127", "release": "0"}, "b2 1c 7f 1c 00", False, True, id="press"),
        pytest.param(
            {"press": "127", "release": "0"}, "b2 1c 00", False, False, id="release alone"
        ),
    ],
)
def test_the_switch(switch: Known, stream: str, start: Any, on: object) -> None:
    assert hear(unit(switched_by={"cc": "28", **switch}), stream, on=start).on == on


@pytest.mark.parametrize(
    ("wraps", "stream", "start", "program"),
    [
        ("no", "b2 46 7f", (0, 1), (0, 2)),
        ("no", "b2 47 7f", (0, 1), (0, 0)),
        ("no", "b2 47 7f", (0, 0), (0, 0)),
        ("no", "b2 46 7f", (0, 7), (0, 7)),
        ("yes", "b2 46 7f", (0, 7), (0, 0)),
        ("yes", "b2 47 7f", (0, 0), (0, 7)),
        ("no", "b2 46 00", (0, 1), (0, 1)),
        ("no", "c2 05", (0, 1), (0, 1)),
        ("no", "b2 46 7f", UNKNOWN, UNKNOWN),
    ],
)
def test_steps(wraps: str, stream: str, start: Any, program: object) -> None:
    steps = {"up": "70", "down": "71", "wraps": wraps}
    box = unit(display="1 to 8", programs={"warm": "1"}, reached_by=steps)
    assert hear(box, stream, program=start).program == program


FINE = {"time": {"cc": "20", "fine cc": "52", "linear": "0 ms to 127 ms"}}


@pytest.mark.parametrize(
    ("resets", "start", "stream", "fine"),
    [
        pytest.param(None, UNKNOWN, "b2 14 05 34 11", 17, id="sent after it"),
        pytest.param(None, UNKNOWN, "b2 34 11 14 05", UNKNOWN, id="sent before it"),
        pytest.param(None, UNKNOWN, "b2 14 05", UNKNOWN, id="not sent"),
        pytest.param(None, 17, "b2 14 05", UNKNOWN, id="kept or not, who knows"),
        pytest.param(None, 0, "b2 14 05", 0, id="either way it is 0"),
        pytest.param(True, 17, "b2 14 05", 0, id="as the standard has it"),
        pytest.param(True, UNKNOWN, "b2 14 05", 0, id="0, whatever was before"),
        pytest.param(False, 17, "b2 14 05", 17, id="a box that keeps it"),
    ],
)
def test_what_a_coarse_part_does_to_the_fine_part(
    resets: bool | None, start: Any, stream: str, fine: object
) -> None:
    """DS, control change: a receiver that gets the MSB should set the LSB to 0."""
    receiver = hear(unit(**FINE), stream, controls={52: start}, coarse_resets=resets)
    assert (receiver.value(20), receiver.value(52)) == (5, fine)


def test_a_program_brings_its_own_fine_part() -> None:
    receiver = hear(unit(**PROGRAMS, **FINE), "c2 01 b2 14 05", controls={52: 0})
    assert (receiver.value(20), receiver.value(52)) == (5, UNKNOWN)
    receiver.take(bytes.fromhex("b2 34 11"))
    assert receiver.value(52) == 17


@pytest.mark.parametrize(
    ("start", "value"), [((0, 1), 5), ((0, 2), UNKNOWN), (UNKNOWN, UNKNOWN), ((1, 1), UNKNOWN)]
)
def test_a_control_that_only_works_in_one_program(start: Any, value: object) -> None:
    only = {"cc": "20", "linear": "0 ms to 127 ms", "only with": ["warm"]}
    assert hear(unit(**PROGRAMS, time=only), "b2 14 05", program=start).value(20) == value


@pytest.mark.parametrize(
    ("said", "stream", "disturbed"),
    [
        pytest.param({}, "b2 50 01", True, id="an unknown control"),
        pytest.param({}, "c2 01", True, id="a program where none is declared"),
        pytest.param({}, "b2 00 01", True, id="a bank select that it does not declare"),
        pytest.param({**SWITCH}, "b2 1c 7f", False, id="its own control"),
        pytest.param({**PROGRAMS}, "c2 01", False, id="its own program"),
        pytest.param({"tap": {"cc": "64"}}, "b2 40 7f", False, id="its tap"),
        pytest.param({}, "b3 50 01 c3 01", False, id="another channel"),
        pytest.param({}, "b2 7b 00 92 3c 40", False, id="mode messages and notes"),
        pytest.param(
            {"acts_only_on": "what is declared"}, "b2 50 01 c2 01", False, id="it is said"
        ),
    ],
)
def test_what_is_not_declared_may_do_anything(said: Known, stream: str, disturbed: bool) -> None:
    box = unit(**{"acts_only_on": "", **said})
    receiver = hear(box, stream, on=True, program=(0, 7))
    assert receiver.disturbed is disturbed
    if disturbed:
        assert receiver.state == (UNKNOWN, UNKNOWN, ())


def test_a_receiver_knows_nothing_of_what_makes_the_bytes() -> None:
    """It imports nothing of lower, bind or wire, nor of anything that imports them."""
    above = {
        "setwright.scenes.control",
        "setwright.scenes.quantities",
        "setwright.scenes.unit",
    }
    tree = ast.parse((ROOT / "compiler" / "proving" / "receiver.py").read_text(encoding="utf-8"))
    ours = {
        node.module
        for node in ast.walk(tree)
        if isinstance(node, ast.ImportFrom) and node.module and "setwright" in node.module
    }
    assert ours == above
    for name in above:
        path = ROOT / f"{name.removeprefix('setwright.').replace('.', '/')}.py"
        assert "setwright.compiler" not in path.read_text(encoding="utf-8")


EVERYTHING: Known = {
    "controls": {f"control {number}": {"cc": str(number)} for number in range(120)},
}


# Bytes that mean something: statuses of every kind, real time, system common, data.
TELLING = [0xB2, 0xB3, 0xC2, 0x82, 0x92, 0xA2, 0xD2, 0xE2, 0xEF, 0xF0, 0xF1, 0xF7, 0xF8, 0xFE, 0x80]
DATA = [0, 1, 20, 21, 119, 120, 127]
LENGTHS = {0x8: 2, 0x9: 2, 0xA: 2, 0xB: 2, 0xC: 1, 0xD: 1, 0xE: 2}
"""Data bytes by the status: DS, Table II, channel voice messages."""
NAMES = {
    0x8: "note off", 0x9: "note on", 0xA: "poly pressure", 0xB: "control", 0xC: "program",
    0xD: "channel pressure", 0xE: "pitch bend",
}  # fmt: skip


def read_apart(stream: bytes) -> list[tuple[str, int, tuple[int, ...]]]:
    """Read channel messages as the specification says, from back to front of each status."""
    plain = [byte for byte in stream if byte < 0xF8]
    found: list[tuple[str, int, tuple[int, ...]]] = []
    starts = [index for index, byte in enumerate(plain) if byte >= 0x80]
    for start, end in pairwise([*starts, len(plain)]):
        status, data = plain[start], plain[start + 1 : end]
        if status < 0xF0:
            size = LENGTHS[status >> 4]
            for at in range(0, len(data) - size + 1, size):
                message = tuple(data[at : at + size])
                found.append((NAMES[status >> 4], status % 16 + 1, message))
    return found


@given(
    st.lists(st.sampled_from(TELLING) | st.sampled_from(DATA) | st.sampled_from(DATA), max_size=60)
)
@example([0xB2, 20, 0xF8, 5, 20, 6])  # real time within a message changes nothing
@example([0xB2, 20, 5, 0xF7, 20, 6])  # the end of an exclusive message cancels running status
@example([0xB2, 20, 5, 0xF1, 20, 6])
@example([0x82, 1, 2, 0x92, 1, 2, 0xA2, 1, 2, 0xD2, 1, 0xE2, 1, 2, 0xC2, 1, 0xB2, 20, 3])
@example([0xEF, 20, 5, 20, 6, 0xB2, 20, 7])
@example([0x80, 20, 5, 0xB2, 20, 7])
@example([20, 5, 0xB2, 20])
def test_what_is_decoded_is_what_a_receiver_hears(numbers: list[int]) -> None:
    """Three readings of the same rules, made apart, agree on any bytes at all."""
    stream = bytes(numbers)
    decoded = list(decode(stream))
    assert [(one.kind, one.channel, one.data) for one in decoded] == read_apart(stream)
    receiver = Receiver(unit(**EVERYTHING, channel="omni"))
    receiver.take(stream)
    heard: dict[int, int] = {}
    for message in decoded:
        if message.kind == "control" and message.data[0] < 120:
            heard[message.data[0]] = message.data[1]
    assert dict(receiver.controls) == heard


@given(st.lists(st.tuples(st.integers(1, 16), st.integers(0, 119), st.integers(0, 127))))
def test_what_is_encoded_is_heard_with_running_status_and_without(
    sent: list[tuple[int, int, int]],
) -> None:
    wanted = {number: value for channel, number, value in sent if channel == 3}
    encoded = [encode(control_change(*one)) for one in sent]
    for stream in (b"".join(encoded), running(encoded)):
        receiver = Receiver(unit(**EVERYTHING))
        receiver.take(stream)
        assert dict(receiver.controls) == wanted
        assert list(decode(stream)) == [control_change(*one) for one in sent]


@given(st.integers(1, 16), st.integers(0, 16_383), st.integers(0, 127))
def test_every_bank_and_program_is_reached(channel: int, number: int, wanted: int) -> None:
    box = unit(**{**BANKS, "channel": str(channel)})
    receiver = Receiver(box)
    for message in (*bank(channel, number, "msb and lsb"), program(channel, wanted)):
        receiver.take(encode(message))
    assert receiver.program == (number, wanted)


@pytest.mark.parametrize(
    "wrong",
    [
        lambda: encode(Message("program", 0, (1,))),
        lambda: encode(Message("program", 17, (1,))),
        lambda: encode(Message("program", 1, (128,))),
        lambda: encode(Message("program", 1, (-1,))),
        lambda: encode(Message("control", 1, (1,))),
        lambda: encode(Message("control", 1, (1, 128))),
        lambda: control_change(1, 120, 0),
    ],
)
def test_what_no_receiver_could_take_is_refused(wrong: Callable[[], object]) -> None:
    with pytest.raises(ValueError, match=r"channel|data bytes|mode message"):
        wrong()


def test_the_edges_of_what_can_be_sent_are_sent() -> None:
    last = Receiver(unit(**EVERYTHING, channel="16"))
    last.take(encode(control_change(16, 119, 127)))
    assert last.value(119) == 127
    first = Receiver(unit(**EVERYTHING, channel="1"))
    first.take(encode(control_change(1, 0, 0)))
    assert first.value(0) == 0
