"""What comes in, byte by byte: every message is named, and every byte stands in one of them.

Rows by hand after MIDI 1.0 Detailed Specification 4.2.1: running status (its example is three
notes), system real time, system common, system exclusive, Tables I to VI.
"""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from setwright.compiler import midi
from setwright.compiler.sending.decode import KEPT, SILENCE, Decoder, Kind, Message


def decoded(text: str) -> list[str]:
    """Return what a stream in hexadecimal is, each message short, with its own bytes."""
    decoder = Decoder()
    found = decoder.feed(0.0, bytes.fromhex(text)) + decoder.flush()
    return [short(message) for message in found]


def short(message: Message) -> str:
    numbers = [message.channel, message.number, message.value]
    told = " ".join(str(number) for number in numbers if number not in {0, None} or number == 0)
    return f"{message.kind.value} [{message.raw.hex(' ')}] {told}"


STREAMS = {
    "90 3C 27 40 2B 43 25": [
        "note on [90 3c 27] 1 60 39",
        "note on [40 2b] 1 64 43",
        "note on [43 25] 1 67 37",
    ],
    "C0 05 C1 2E 46": ["program [c0 05] 1 5", "program [c1 2e] 2 46", "program [46] 2 70"],
}


@pytest.mark.parametrize("stream", STREAMS)
def test_streams(stream: str) -> None:
    assert decoded(stream) == STREAMS[stream]


messages = st.builds(
    lambda kind, channel, data: midi.Message(kind.name, channel, tuple(data[: len(kind.data)])),
    st.sampled_from(midi.KINDS),
    st.integers(1, 16),
    st.tuples(st.integers(0, 127), st.integers(0, 127)),
)


@given(st.lists(messages), st.booleans())
def test_what_is_encoded_comes_back(sent: list[midi.Message], running: bool) -> None:
    encoded = [midi.encode(message) for message in sent]
    stream = midi.running(encoded) if running else b"".join(encoded)
    assert [message.voice for message in Decoder().feed(0.0, stream)] == sent


@given(st.binary(max_size=60), st.data())
def test_every_byte_stands_in_one_message_however_the_stream_is_cut(
    stream: bytes, data: st.DataObject
) -> None:
    cuts = sorted(data.draw(st.lists(st.integers(0, len(stream)), max_size=6)))
    whole, parts = Decoder(), Decoder()
    at_once = whole.feed(0.0, stream) + whole.flush()
    in_parts = [
        message
        for start, end in zip([0, *cuts], [*cuts, len(stream)], strict=True)
        for message in parts.feed(0.0, stream[start:end])
    ] + parts.flush()
    assert at_once == in_parts
    assert sum(message.size for message in at_once) == len(stream)


def test_silence_tells_what_is_truncated() -> None:
    decoder = Decoder()
    assert decoder.feed(1.0, b"\x90\x3c") == []
    assert decoder.flush(1.0 + SILENCE / 2) == []
    assert [m.kind for m in decoder.flush(1.0 + SILENCE)] == [Kind.TRUNCATED]
    assert KEPT
