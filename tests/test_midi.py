"""The fact table of MIDI 1.0: bytes out and in again, and what the specification says of them.

DS stands for the MIDI 1.0 Detailed Specification, document version 4.2.1; its tables go by their
numbers. mido serves as an encoder of other hands.
"""

from __future__ import annotations

from fractions import Fraction

import mido
import pytest
from hypothesis import given
from hypothesis import strategies as st

from setwright.compiler.midi import (
    BY_NAME,
    BY_STATUS,
    CLOCKS_A_QUARTER,
    KINDS,
    MILLISECONDS_A_BYTE,
    UNDEFINED_CONTROLS,
    Message,
    bank,
    control,
    decode,
    encode,
    program,
    running,
)

# What mido calls each kind, and its data: an independent naming of the same facts.
IN_MIDO = {
    "note off": ("note_off", ("note", "velocity")),
    "note on": ("note_on", ("note", "velocity")),
    "poly pressure": ("polytouch", ("note", "value")),
    "control": ("control_change", ("control", "value")),
    "program": ("program_change", ("program",)),
    "channel pressure": ("aftertouch", ("value",)),
    "pitch bend": ("pitchwheel", ("pitch",)),
}


@st.composite
def messages(draw: st.DrawFn) -> Message:
    """Any channel message."""
    kind = draw(st.sampled_from(KINDS))
    data = draw(st.tuples(*(st.integers(0, 127) for _ in kind.data)))
    return Message(kind.name, draw(st.integers(1, 16)), data)


# The table


def test_seven_kinds_with_their_status_bytes_and_sizes() -> None:
    """8n 9n An Bn Cn Dn En; Cn and Dn have one data byte: DS, Table I and Table II."""
    assert [(kind.status, len(kind.data)) for kind in KINDS] == [
        (0x80, 2),
        (0x90, 2),
        (0xA0, 2),
        (0xB0, 2),
        (0xC0, 1),
        (0xD0, 1),
        (0xE0, 2),
    ]
    assert len({kind.name for kind in KINDS}) == len(BY_NAME) == len(BY_STATUS) == 7
    assert set(IN_MIDO) == set(BY_NAME)


# Two data bytes that are never the same, on every channel: whatever is swapped shows.
EVERY = [
    Message(kind.name, channel, tuple((0x11 * channel + 0x25 * i) % 128 for i in range(size)))
    for kind in KINDS
    for channel in range(1, 17)
    for size in [len(kind.data)]
]


@pytest.mark.parametrize("message", EVERY, ids=str)
def test_round_trip_over_the_whole_table(message: Message) -> None:
    assert len(set(message.data)) == len(message.data)
    encoded = encode(message)
    assert encoded[0] >> 4 == BY_NAME[message.kind].status >> 4
    assert encoded[0] & 0x0F == message.channel - 1
    assert tuple(encoded[1:]) == message.data
    assert list(decode(encoded)) == [message]


def by_mido(message: Message) -> bytes:
    """Return the bytes that mido makes of the same message."""
    kind, names = IN_MIDO[message.kind]
    data = dict(zip(names, message.data, strict=False))
    if kind == "pitchwheel":
        # mido counts from -8192; the least significant byte comes first (DS, pitch bend change).
        data = {"pitch": message.data[0] + 128 * message.data[1] - 8192}
    return bytes(mido.Message(kind, channel=message.channel - 1, **data).bytes())


@pytest.mark.parametrize("message", EVERY, ids=str)
def test_another_encoder_makes_the_same_bytes(message: Message) -> None:
    assert by_mido(message) == encode(message)


@given(messages())
def test_another_encoder_makes_the_same_bytes_of_any_message(message: Message) -> None:
    assert by_mido(message) == encode(message)


@pytest.mark.parametrize(
    "message",
    [
        Message("program", 0, (1,)),
        Message("program", 17, (1,)),
        Message("program", 1, (128,)),
        Message("program", 1, (-1,)),
        Message("program", 1, (1, 2)),
        Message("control", 1, (1,)),
        Message("control", 1, (1, 128)),
    ],
    ids=repr,
)
def test_what_does_not_fit_is_not_encoded(message: Message) -> None:
    with pytest.raises(ValueError, match=r"no (channel|data bytes)"):
        encode(message)


def test_channel_mode_messages_are_no_controls() -> None:
    """Controls 120 to 127 are channel mode messages: DS, Table IV."""
    assert encode(control(1, 119, 1)) == bytes.fromhex("b0 77 01")
    for number in range(120, 128):
        with pytest.raises(ValueError, match="channel mode"):
            control(1, number, 0)


def test_a_message_in_words() -> None:
    assert str(control(9, 28, 127)) == "channel 9 control 28 value 127"
    assert str(program(6, 42)) == "channel 6 program 42"
    # The least significant byte comes first: DS, Table II, pitch bend change.
    assert str(Message("pitch bend", 1, (2, 3))) == "channel 1 lsb 2 msb 3"


def test_undefined_controls() -> None:
    """3, 9, 14 and 15, 20 to 31, 85 to 90, 102 to 119: DS, Tables III and IIIa."""
    defined = set(range(120)) - UNDEFINED_CONTROLS
    # Bank select, modulation, volume, general purpose 1 to 4, all LSBs, pedals, RPN.
    assert {0, 1, 7, 16, 19, *range(32, 64), 64, 69, 84, 91, 95, 98, 101} <= defined
    assert len(UNDEFINED_CONTROLS) == 1 + 1 + 2 + 12 + 6 + 18
    assert {3, 9, 14, 15, 20, 31, 85, 90, 102, 119} <= UNDEFINED_CONTROLS


# Bank select


@pytest.mark.parametrize(
    ("which", "msb", "lsb"),
    [(1, 0x00, 0x00), (2, 0x00, 0x01), (128, 0x00, 0x7F), (129, 0x01, 0x00), (16_384, 0x7F, 0x7F)],
)
def test_bank_numbers(which: int, msb: int, lsb: int) -> None:
    """Bank 00/00 is the first, 01/00 the 129th, 7F/7F the 16,384th: DS, bank select."""
    sent = b"".join(map(encode, bank(5, which - 1, "msb and lsb")))
    # Control 0 is the most significant byte, control 32 the least: DS, Table III.
    assert sent == bytes((0xB4, 0, msb, 0xB4, 32, lsb))


def test_units_that_obey_one_half_of_bank_select() -> None:
    assert [encode(one).hex(" ") for one in bank(5, 3, "msb")] == ["b4 00 03"]
    assert [encode(one).hex(" ") for one in bank(5, 3, "lsb")] == ["b4 20 03"]


# Streams


def test_three_notes_in_running_status() -> None:
    """``90 3C 27 40 2B 43 25`` is three notes: DS, running status."""
    notes = [Message("note on", 1, data) for data in ((0x3C, 0x27), (0x40, 0x2B), (0x43, 0x25))]
    stream = bytes.fromhex("90 3C 27 40 2B 43 25")
    assert list(decode(stream)) == notes
    assert running(map(encode, notes)) == stream


CONTROL = Message("control", 3, (0x10, 0x22))
PROGRAM = Message("program", 3, (0x10,))


@pytest.mark.parametrize(
    ("stream", "expected"),
    [
        pytest.param("B2 F8 10 FE 22", [CONTROL], id="real time bytes within a message"),
        pytest.param("B2 10 22 FA 10 22", [CONTROL] * 2, id="and within running status"),
        pytest.param("B2 10 22 F2 01 02 10 22", [CONTROL], id="song position cancels it"),
        pytest.param("B2 10 22 F6 10 22", [CONTROL], id="tune request cancels it"),
        pytest.param("B2 10 22 F0 7D 05 F7 10 22", [CONTROL], id="so does SysEx"),
        pytest.param("C2 10 F4 10 C2 10", [PROGRAM] * 2, id="and an undefined system byte"),
        pytest.param("B2 10 C2 10", [PROGRAM], id="a message cut short is dropped"),
        pytest.param("10 22 B2 10 22", [CONTROL], id="data without a status is ignored"),
        pytest.param("C2 10 10 10", [PROGRAM] * 3, id="running status of one data byte"),
        pytest.param("FF FE F8", [], id="nothing but real time"),
        pytest.param("", [], id="nothing"),
    ],
)
def test_decoding(stream: str, expected: list[Message]) -> None:
    """Real time bytes change nothing, other system bytes cancel: DS, running status, Table V."""
    assert list(decode(bytes.fromhex(stream))) == expected


@given(st.lists(messages()))
def test_running_status_loses_nothing(sent: list[Message]) -> None:
    stream = running(map(encode, sent))
    assert list(decode(stream)) == sent
    assert len(stream) <= sum(len(encode(one)) for one in sent)


@given(st.lists(messages()), st.lists(st.tuples(st.integers(0), st.integers(0xF8, 0xFF))))
def test_real_time_bytes_may_stand_anywhere(
    sent: list[Message], between: list[tuple[int, int]]
) -> None:
    """DS, system real time messages: even between the bytes of another message."""
    stream = bytearray(running(map(encode, sent)))
    for place, byte in between:
        stream.insert(place % (len(stream) + 1), byte)
    assert list(decode(bytes(stream))) == sent


@given(st.binary())
def test_any_bytes_can_be_read(stream: bytes) -> None:
    for message in decode(stream):
        assert list(decode(encode(message))) == [message]


@given(st.lists(messages()))
def test_another_parser_reads_the_same(sent: list[Message]) -> None:
    parser = mido.Parser()
    parser.feed(b"".join(map(encode, sent)))
    assert [bytes(one.bytes()) for one in parser] == [encode(one) for one in sent]


# Time


def test_a_byte_takes_320_microseconds() -> None:
    """31.25 kbaud, ten bits a byte: DS, hardware; IEC 63035:2017, 4.1."""
    microseconds = MILLISECONDS_A_BYTE * 1000
    assert microseconds == 320
    assert microseconds * 3 == 960
    assert microseconds == Fraction(10 * 1_000_000, 31_250)


def test_clocks_in_a_quarter_note() -> None:
    """DS, system real time messages: 24 timing clocks a quarter note."""
    assert CLOCKS_A_QUARTER == 24
