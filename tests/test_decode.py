"""What comes in, byte by byte: every message is named, and every byte stands in one of them.

Rows by hand after MIDI 1.0 Detailed Specification 4.2.1: running status (its own example is three
notes), system real time, system common, system exclusive, Tables I to VI. Two other accounts judge
streams drawn at random: a grammar of regular expressions, and the parser of mido, which is right
as long as no status is left out and no real time byte stands within another message.
"""

from __future__ import annotations

import re
from collections.abc import Iterator

import mido
import pytest
from hypothesis import given
from hypothesis import strategies as st

from setwright.compiler import midi
from setwright.compiler.sending.incoming.decode import KEPT, SILENCE, Decoder, Kind, Message


def read(stream: bytes) -> list[Message]:
    decoder = Decoder()
    return decoder.feed(0.0, stream) + decoder.flush()


def short(message: Message) -> str:
    """Return what a message is, its own bytes, and its channel, number and value, if any."""
    told = [message.kind.value, f"[{message.raw.hex(' ')}]"]
    told += [f"ch {message.channel}"] if message.channel else []
    told += [f"no {message.number}"] if message.number is not None else []
    told += [f"val {message.value}"] if message.value is not None else []
    told += [f"of {message.of.value}"] if message.of is not None else []
    told += [f"{message.size} bytes"] if message.size != len(message.raw) else []
    return " ".join(told + ([] if message.ended else ["no end"]))


STREAMS = {
    # Running status, the specification's own example.
    "90 3C 27 40 2B 43 25": [
        "note on [90 3c 27] ch 1 no 60 val 39",
        "note on [40 2b] ch 1 no 64 val 43",
        "note on [43 25] ch 1 no 67 val 37",
    ],
    # Table II: every kind, with one data byte or two.
    "8F 3C 40 9F 3D 41 AF 3E 42 BF 77 43": [
        "note off [8f 3c 40] ch 16 no 60 val 64",
        "note on [9f 3d 41] ch 16 no 61 val 65",
        "poly pressure [af 3e 42] ch 16 no 62 val 66",
        "control [bf 77 43] ch 16 no 119 val 67",
    ],
    "C0 05 D1 46 E2 01 40": [
        "program [c0 05] ch 1 no 5",
        "channel pressure [d1 46] ch 2 val 70",
        "pitch bend [e2 01 40] ch 3 val 8193",
    ],
    "C0 05 06 C1 00": [
        "program [c0 05] ch 1 no 5",
        "program [06] ch 1 no 6",
        "program [c1 00] ch 2 no 0",
    ],
    # Table IV: from control 120 on they are channel mode messages.
    "B0 78 00 7B 00 07 64": [
        "channel mode [b0 78 00] ch 1 no 120 val 0",
        "channel mode [7b 00] ch 1 no 123 val 0",
        "control [07 64] ch 1 no 7 val 100",
    ],
    # Table V.
    "F1 35 F2 10 01 F3 07 F6": [
        "time code quarter frame [f1 35] val 53",
        "song position [f2 10 01] val 144",
        "song select [f3 07] no 7",
        "tune request [f6]",
    ],
    # Table VI.
    "F8 FA FB FC FE FF": [
        "clock [f8]",
        "start [fa]",
        "continue [fb]",
        "stop [fc]",
        "active sensing [fe]",
        "system reset [ff]",
    ],
    # Real time may stand anywhere: in a message, in one whose status is left out, in exclusive.
    "B0 F8 14 FE 40 F8 15 F8 41": [
        "clock [f8]",
        "active sensing [fe]",
        "control [b0 14 40] ch 1 no 20 val 64",
        "clock [f8]",
        "clock [f8]",
        "control [15 41] ch 1 no 21 val 65",
    ],
    "F0 7E F8 01 F7": ["clock [f8]", "system exclusive [f0 7e 01 f7]"],
    "90 3C 27 F9 40 FD 2B": [
        "note on [90 3c 27] ch 1 no 60 val 39",
        "undefined [f9]",
        "undefined [fd]",
        "note on [40 2b] ch 1 no 64 val 43",
    ],
    # System common and exclusive cancel running status; what follows has none.
    "90 3C 27 F6 40 2B": [
        "note on [90 3c 27] ch 1 no 60 val 39",
        "tune request [f6]",
        "data without a status [40 2b]",
    ],
    "C0 05 F3 01 06": [
        "program [c0 05] ch 1 no 5",
        "song select [f3 01] no 1",
        "data without a status [06]",
    ],
    "C0 05 F0 01 F7 06": [
        "program [c0 05] ch 1 no 5",
        "system exclusive [f0 01 f7]",
        "data without a status [06]",
    ],
    "C0 05 F7 06": [
        "program [c0 05] ch 1 no 5",
        "end of exclusive alone [f7]",
        "data without a status [06]",
    ],
    "C0 05 F4 06 F5": [
        "program [c0 05] ch 1 no 5",
        "undefined [f4]",
        "data without a status [06]",
        "undefined [f5]",
    ],
    # A status that comes too early.
    "90 3C C0 05": ["truncated [90 3c] ch 1 of note on", "program [c0 05] ch 1 no 5"],
    "90 C0 05": ["truncated [90] ch 1 of note on", "program [c0 05] ch 1 no 5"],
    "92 3C 27 40 92 41 2B": [
        "note on [92 3c 27] ch 3 no 60 val 39",
        "truncated [40] ch 3 of note on",
        "note on [92 41 2b] ch 3 no 65 val 43",
    ],
    "F2 10 C0 05": ["truncated [f2 10] of song position", "program [c0 05] ch 1 no 5"],
    "B0 07 F7": ["truncated [b0 07] ch 1 of control", "end of exclusive alone [f7]"],
    "B0 07 F8": ["clock [f8]", "truncated [b0 07] ch 1 of control"],
    "C0": ["truncated [c0] ch 1 of program"],
    # Exclusive is counted, not shown; any status ends it.
    "F0 01 02 03 04 05 06 07 08 09 F7": ["system exclusive [f0 01 02 03 04 05 06 07] 11 bytes"],
    "F0 01 C0 05": ["system exclusive [f0 01] no end", "program [c0 05] ch 1 no 5"],
    "F0 F0 F7": ["system exclusive [f0] no end", "system exclusive [f0 f7]"],
    "F0 01": ["system exclusive [f0 01] no end"],
    # Data before any status.
    "3C 27 F8 40 C0 05": [
        "clock [f8]",
        "data without a status [3c 27 40]",
        "program [c0 05] ch 1 no 5",
    ],
    "00 01 02 03 04 05 06 07 08 09": [
        "data without a status [00 01 02 03 04 05 06 07] 10 bytes",
    ],
    "": [],
}


@pytest.mark.parametrize("stream", STREAMS)
def test_streams(stream: str) -> None:
    assert [short(message) for message in read(bytes.fromhex(stream))] == STREAMS[stream]


ODD = {"C0 05": False, "F0 01 F7": False, "F0 01": False, "F8": False, "FF": False}
ODD |= dict.fromkeys(["F4", "F5", "F9", "FD", "F7", "90 3C", "05"], True)


@pytest.mark.parametrize("stream", ODD)
def test_what_is_odd(stream: str) -> None:
    (message,) = read(bytes.fromhex(stream))
    assert message.is_odd is ODD[stream]


def test_times_are_those_of_the_last_byte() -> None:
    decoder = Decoder()
    assert decoder.feed(1.0, b"\xb0\x14") == []
    assert decoder.waits_since == 1.0
    assert [message.at for message in decoder.feed(1.5, b"\xf8")] == [1.5]
    assert decoder.waits_since == 1.0
    assert [message.at for message in decoder.feed(2.0, b"\x40\x15")] == [2.0]
    # What was truncated came when its own last byte came, however late that is known.
    assert [message.at for message in decoder.feed(3.0, b"\xc0\x05")] == [2.0, 3.0]
    assert decoder.waits_since is None


def test_silence_tells_what_is_truncated() -> None:
    decoder = Decoder()
    decoder.feed(0.0, b"\x90\x3c\x27")
    assert decoder.flush(100.0) == []
    assert decoder.feed(1.0, b"\x40") == []
    assert decoder.flush(1.0 + SILENCE / 2) == []
    # Clocks go on, and are no part of it.
    decoder.feed(1.0 + SILENCE * 0.9, b"\xf8")
    assert list(map(short, decoder.flush(1.0 + SILENCE))) == ["truncated [40] ch 1 of note on"]
    assert decoder.flush(9.0) == []
    # Nobody knows what a byte belongs to that comes after such a silence.
    assert decoder.feed(9.0, b"\x2b") == []
    assert list(map(short, decoder.flush())) == ["data without a status [2b]"]


def test_silence_between_whole_messages_keeps_the_running_status() -> None:
    decoder = Decoder()
    decoder.feed(0.0, b"\xc0\x05")
    assert decoder.flush(50.0) == []
    assert list(map(short, decoder.feed(50.0, b"\x06"))) == ["program [06] ch 1 no 6"]


voices = st.builds(
    lambda kind, channel, data: midi.Message(kind.name, channel, data[: len(kind.data)]),
    st.sampled_from(midi.KINDS),
    st.integers(1, 16),
    st.tuples(st.integers(0, 127), st.integers(0, 127)),
)


@given(st.lists(voices), st.booleans())
def test_what_is_encoded_comes_back(sent: list[midi.Message], running: bool) -> None:
    encoded = [midi.encode(message) for message in sent]
    stream = midi.running(encoded) if running else b"".join(encoded)
    assert [message.voice for message in read(stream)] == sent


# Bytes as they come on a bad day: statuses of all kinds are much rarer in bytes drawn evenly.
streams = st.lists(
    st.one_of(
        st.integers(0, 0x7F),
        st.integers(0x80, 0xFF),
        st.sampled_from([0x90, 0xC0, 0xF0, 0xF7, 0xF8, 0xF2]),
    ),
    max_size=40,
).map(bytes)


@given(streams, st.data())
def test_every_byte_stands_in_one_message_however_the_stream_is_cut(
    stream: bytes, data: st.DataObject
) -> None:
    cuts = sorted(data.draw(st.lists(st.integers(0, len(stream)), max_size=6)))
    parts = Decoder()
    in_parts = [
        message
        for start, end in zip([0, *cuts], [*cuts, len(stream)], strict=True)
        for message in parts.feed(0.0, stream[start:end])
    ] + parts.flush()
    messages = read(stream)
    assert in_parts == messages
    assert sum(message.size for message in messages) == len(stream)
    real_time = [message for message in messages if message.raw[0] >= 0xF8]
    others = [message for message in messages if message.raw[0] < 0xF8]
    assert b"".join(one.raw for one in real_time) == bytes(b for b in stream if b >= 0xF8)
    left = bytes(byte for byte in stream if byte < 0xF8)
    for message in others:
        assert left.startswith(message.raw)
        assert len(message.raw) == min(message.size, KEPT) or message.kind is not Kind.EXCLUSIVE
        left = left[message.size :]


# A grammar of what is left when real time bytes are taken away: a status, and what it may have.
D = rb"[\x00-\x7f]"
GRAMMAR = re.compile(
    rb"(?P<exclusive>\xf0%(d)s*\xf7?)"
    rb"|(?P<two>[\x80-\xbf\xe0-\xef])(?P<pairs>(?:%(d)s%(d)s)*)(?P<half>%(d)s?)"
    rb"|(?P<one>[\xc0-\xdf])(?P<singles>%(d)s*)"
    rb"|(?P<position>\xf2%(d)s{0,2})|(?P<short>[\xf1\xf3]%(d)s?)|(?P<bare>[\xf4-\xf7])"
    rb"|(?P<stray>%(d)s+)" % {b"d": D},
    re.DOTALL,
)


def by_grammar(stream: bytes) -> Iterator[tuple[str, bytes]]:
    """Yield whether each message is whole, and its bytes."""
    for match in GRAMMAR.finditer(bytes(byte for byte in stream if byte < 0xF8)):
        group = {name: value for name, value in match.groupdict().items() if value is not None}
        if "two" in group:
            pairs = [group["pairs"][at : at + 2] for at in range(0, len(group["pairs"]), 2)]
            for at, pair in enumerate(pairs):
                yield "whole", pair if at else group["two"] + pair
            if group["half"] or not pairs:
                yield "truncated", (b"" if pairs else group["two"]) + group["half"]
        elif "one" in group:
            for at in range(len(group["singles"])):
                yield "whole", (b"" if at else group["one"]) + group["singles"][at : at + 1]
            if not group["singles"]:
                yield "truncated", group["one"]
        elif "exclusive" in group:
            yield "exclusive", group["exclusive"][:KEPT]
        elif "position" in group or "short" in group:
            whole = len(match[0]) == (3 if "position" in group else 2)
            yield "whole" if whole else "truncated", match[0]
        elif "bare" in group:
            yield {0xF6: "whole", 0xF7: "end"}.get(match[0][0], "undefined"), match[0]
        else:
            yield "stray", match[0][:KEPT]


STATE = {
    Kind.EXCLUSIVE: "exclusive",
    Kind.TRUNCATED: "truncated",
    Kind.STRAY: "stray",
    Kind.END_ALONE: "end",
    Kind.UNDEFINED: "undefined",
}


@given(streams)
def test_a_grammar_says_the_same(stream: bytes) -> None:
    ours = [(STATE.get(m.kind, "whole"), m.raw) for m in read(stream) if m.raw[0] < 0xF8]
    assert ours == list(by_grammar(stream))


MIDO = {
    "note_off": Kind.NOTE_OFF,
    "note_on": Kind.NOTE_ON,
    "polytouch": Kind.POLY_PRESSURE,
    "control_change": Kind.CONTROL,
    "program_change": Kind.PROGRAM,
    "aftertouch": Kind.CHANNEL_PRESSURE,
    "pitchwheel": Kind.PITCH_BEND,
    "quarter_frame": Kind.QUARTER_FRAME,
    "songpos": Kind.SONG_POSITION,
    "song_select": Kind.SONG_SELECT,
    "tune_request": Kind.TUNE_REQUEST,
    "clock": Kind.CLOCK,
    "start": Kind.START,
    "continue": Kind.CONTINUE,
    "stop": Kind.STOP,
    "active_sensing": Kind.SENSING,
    "reset": Kind.RESET,
}

whole_messages = st.one_of(
    voices.map(midi.encode),
    st.builds(lambda a: bytes((0xF3, a)), st.integers(0, 127)),
    st.builds(lambda a, b: bytes((0xF2, a, b)), st.integers(0, 127), st.integers(0, 127)),
    st.just(b"\xf6"),
)
real_times = st.sampled_from([bytes((byte,)) for byte in (0xF8, 0xFA, 0xFB, 0xFC, 0xFE, 0xFF)])


@given(st.lists(st.one_of(whole_messages, real_times)))
def test_mido_says_the_same_where_it_is_right(sent: list[bytes]) -> None:
    stream = b"".join(sent)
    parser = mido.Parser()
    parser.feed(stream)
    theirs = [(MIDO[one.type], bytes(one.bytes())) for one in parser]
    ours = [(Kind.CONTROL if one.kind is Kind.MODE else one.kind, one.raw) for one in read(stream)]
    assert ours == theirs


@given(st.integers(0, 0x3FFF))
def test_values_of_fourteen_bits(value: int) -> None:
    low, high = value % 128, value // 128
    bend, position = read(bytes((0xE0, low, high, 0xF2, low, high)))
    assert (bend.value, position.value) == (value, value)
    assert mido.Message.from_bytes([0xE0, low, high]).pitch == value - 8192
    assert mido.Message.from_bytes([0xF2, low, high]).pos == value
