"""What is heard on the switcher's MIDI OUT: in bursts, and told apart preset by preset.

The bytes of the tables were worked out by hand: status Bn and Cn, n the channel less one (MIDI 1.0
Detailed Specification 4.2.1, Table II).
"""

from __future__ import annotations

from fractions import Fraction
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from setwright.compiler.lowering.commands import Command
from setwright.compiler.lowering.preset import Address
from setwright.compiler.midi import control, program
from setwright.compiler.sending.incoming.bursts import MOST, PAUSE, QUIET, Burst, Bursts, parted
from setwright.compiler.sending.incoming.expected import Tonight, tonight
from setwright.compiler.sending.incoming.heard_preset import (
    What,
    differences,
    exactly,
    in_words,
    nearest,
)
from tests.mini import SWITCHER, compile_mini
from tests.test_kept import tuned

UNITS = """
pad: {channel: 3, display: 1 to 16384, bank select: {by: msb and lsb}, programs: {sky: 300}, acts only on: what is declared}
wobbler: {loop: 2, channel: 6, display: 0 to 99, programs: {tremolo: 42, vibrato: 43}}
echo:
  channel: 9
  switched by: {cc: 28, on: 127, off: 0}
  time: {cc: 20, fine cc: 52, linear: 0 ms to 1270 ms, at rest: 400 ms}
swell: {by foot: [closed, open], at start: open, foot sends: {channel: 9, cc: 11, values: {closed: 0, open: 127}}}
"""
EFFECTS = "glow: {pad: sky}\ntremolo: {wobbler: tremolo}\nlong echo: echo"
SCENES = "All: {effects: [glow, tremolo, long echo], echo: 335 ms}\nShake: [tremolo]\nDry: []"
# Program 300 as a display that counts from 1 shows it is 299 = 2 · 128 + 43; 335 ms is 33 steps of
# 10 ms and 64 fine ones of 10/128 ms.
ALL = "b2 00 00|b2 20 02|c2 2b|c5 2a|b8 14 21|b8 34 40|b8 1c 7f"


def night(tmp_path: Path) -> Tonight:
    return tonight(
        compile_mini(tmp_path, units=UNITS, effects=EFFECTS, scenes=SCENES, switcher=SWITCHER)
    )


def as_bytes(text: str) -> list[bytes]:
    return [bytes.fromhex(one) for one in text.split("|") if one]


def test_what_each_preset_sends(tmp_path: Path) -> None:
    heard = night(tmp_path)
    assert [(str(one), one.serves, list(one.messages)) for one in heard.presets] == [
        ("1/1 All", ("Tune/All",), as_bytes(ALL)),
        ("1/2 Shake", ("Tune/Shake",), as_bytes("c5 2a|b8 1c 00")),
        ("1/3 Dry", ("Tune/Dry",), as_bytes("b8 1c 00")),
    ]
    assert [one.silently for one in heard.presets] == [
        ("loop 2 in", "no relay closed", "its name"),
        ("loop 2 in", "no relay closed", "its name"),
        ("no loop in", "no relay closed", "its name"),
    ]
    assert heard.pedals == {(9, 11)}


def test_what_is_kept_in_every_bank_is_heard_in_each(tmp_path: Path) -> None:
    heard = tonight(tuned(tmp_path))
    kept = [one for one in heard.presets if one.name == "Tuner"]
    banks = {one.address.bank for one in heard.presets}
    assert [one.address for one in kept] == [Address(bank, 4) for bank in sorted(banks)]
    # Program 1 of a display that counts from 1, on channel 6.
    assert {one.messages for one in kept} == {(b"\xc5\x00",)}
    assert kept[0].label == "3/5 every bank/Tuner"


TABLE = {
    "nothing wrong": (ALL, []),
    "wrong program": (
        ALL.replace("c5 2a", "c5 2b"),
        ["wobbler: program 43 (display 43, vibrato) came, not program 42 (display 42, tremolo)"],
    ),
    "a program that has no name": (
        ALL.replace("c5 2a", "c5 63"),
        ["wobbler: program 99 (display 99) came, not program 42 (display 42, tremolo)"],
    ),
    "a program beyond the display": (
        ALL.replace("c5 2a", "c5 64"),
        ["wobbler: program 100 came, not program 42 (display 42, tremolo)"],
    ),
    "a program of a unit with banks": (
        ALL.replace("c2 2b", "c2 2c"),
        ["pad: program 44 came, not program 43"],
    ),
    "wrong channel of a program": (
        ALL.replace("c5 2a", "c4 2a"),
        ["wobbler tremolo (display 42): channel 5 came, not 6"],
    ),
    "wrong channel of a control": (
        ALL.replace("b8 1c 7f", "b7 1c 7f"),
        ["echo switch on: channel 8 came, not 9"],
    ),
    "wrong control": (
        ALL.replace("b8 1c 7f", "b8 1d 7f"),
        ["echo switch on: control 29 came, not 28"],
    ),
    "value off": (
        ALL.replace("b8 14 21", "b8 14 20"),
        ["echo time 335 ms: value 32 of control 20 came, not 33"],
    ),
    "fine part": (
        ALL.replace("b8 34 40", "b8 34 00"),
        ["echo fine part of time 335 ms: value 0 of control 52 came, not 64"],
    ),
    "no fine part": (
        ALL.replace("b8 34 40|", ""),
        ["echo fine part of time 335 ms: missing (channel 9 control 52 value 64)"],
    ),
    "wrong bank select, MSB": (
        ALL.replace("b2 00 00", "b2 00 02"),
        ["pad bank for sky, bank select MSB: value 2 of control 0 came, not 0"],
    ),
    "wrong bank select, LSB": (
        ALL.replace("b2 20 02", "b2 20 03"),
        ["pad bank for sky, bank select LSB: value 3 of control 32 came, not 2"],
    ),
    "missing program": (
        ALL.replace("c5 2a|", ""),
        ["wobbler tremolo (display 42): missing (channel 6 program 42)"],
    ),
    "missing control": (
        ALL.replace("|b8 1c 7f", ""),
        ["echo switch on: missing (channel 9 control 28 value 127)"],
    ),
    "one too many": (ALL + "|c0 07", ["too much: channel 1 program 7"]),
    "one twice": (ALL + "|b8 1c 7f", ["too much: channel 9 control 28 value 127"]),
    "something else": (ALL + "|92 40 7f", ["too much: channel 3 note 64 velocity 127"]),
    "order": (
        ALL.replace("b8 34 40|b8 1c 7f", "b8 1c 7f|b8 34 40"),
        ["echo switch on: it came, but not in its place (channel 9 control 28 value 127)"],
    ),
    "two at once": (
        ALL.replace("c5 2a", "c5 2b").replace("b8 14 21", "b8 14 20"),
        [
            "wobbler: program 43 (display 43, vibrato) came, not program 42 (display 42, tremolo)",
            "echo time 335 ms: value 32 of control 20 came, not 33",
        ],
    ),
    "program and channel are two mistakes": (
        ALL.replace("c5 2a", "c4 2b"),
        [
            "wobbler tremolo (display 42): missing (channel 6 program 42)",
            "too much: channel 5 program 43",
        ],
    ),
}


@pytest.mark.parametrize("case", TABLE)
def test_every_kind_of_mistake_is_named(tmp_path: Path, case: str) -> None:
    heard, wanted = TABLE[case]
    known = night(tmp_path)
    found = differences(known.presets[0].commands, as_bytes(heard))
    assert [in_words(one, known.programs) for one in found] == wanted
    assert nearest(as_bytes(heard), known.presets)[0] == (known.presets[0], found)
    assert exactly(as_bytes(heard), known.presets) == (known.presets[:1] if not wanted else ())


MESSAGES = st.one_of(
    st.tuples(st.integers(0xB0, 0xB2), st.integers(0, 2), st.integers(0, 2)).map(bytes),
    st.tuples(st.integers(0xC0, 0xC2), st.integers(0, 2)).map(bytes),
)


def commands(messages: list[bytes]) -> list[Command]:
    return [
        Command("box", "x", program(one[0] - 0xBF, one[1]), "")
        if len(one) == 2
        else Command("box", "x", control(one[0] - 0xAF, one[1], one[2]), "")
        for one in messages
    ]


@given(st.lists(MESSAGES, max_size=5), st.lists(MESSAGES, max_size=5))
def test_differences_account_for_every_message(wanted: list[bytes], heard: list[bytes]) -> None:
    found = differences(commands(wanted), heard)
    assert (found == ()) == (wanted == heard)
    missing = sum(one.what is What.MISSING for one in found)
    extra = sum(one.what is What.EXTRA for one in found)
    assert len(wanted) - missing == len(heard) - extra
    # One slip is one difference, but for two that changed places and were mistyped besides.
    assert len(found) <= max(len(wanted), len(heard)) * 2


@given(st.lists(MESSAGES, min_size=2, max_size=6, unique=True), st.data())
def test_one_slip_is_one_difference(wanted: list[bytes], data: st.DataObject) -> None:
    at = data.draw(st.integers(0, len(wanted) - 1))
    left_out = wanted[:at] + wanted[at + 1 :]
    assert [one.what for one in differences(commands(wanted), left_out)] == [What.MISSING]
    assert [one.what for one in differences(commands(left_out), wanted)] == [What.EXTRA]
    moved = [*left_out, wanted[at]]
    kinds = [one.what for one in differences(commands(wanted), moved)]
    assert kinds == ([What.ORDER] if moved != wanted else [])


def heard_at(bursts: Bursts, times: list[float]) -> list[int]:
    """Return how many messages each burst holds, of one message at each of ``times``."""
    ended = [bursts.message(at, b"\xc0\x01") for at in times]
    ended.append(bursts.ended(times[-1] + 10))
    return [len(one.messages) for one in ended if one is not None]


@pytest.mark.parametrize(
    ("gap", "times", "sizes"),
    [
        (0, [0, 0.001, 0.002], [3]),
        (0, [0, 0.02, 0.04], [3]),
        (0, [0, 0.001, 0.101, 0.102], [2, 2]),
        (0, [0, 0.1, 0.2], [1, 1, 1]),
        # A switcher that leaves 50 ms between its own messages.
        (50, [0, 0.055, 0.11], [3]),
        (50, [0, 0.055, 0.17], [2, 1]),
        (0, [0.0001 * n for n in range(MOST + 3)], [MOST, 3]),
    ],
)
def test_a_burst_ends_with_silence(gap: int, times: list[float], sizes: list[int]) -> None:
    assert heard_at(Bursts(Fraction(gap)), times) == sizes


def test_it_says_how_long_to_wait() -> None:
    bursts = Bursts(Fraction(10))
    assert bursts.left(5) is None
    bursts.message(5, b"\xc0\x01")
    assert bursts.left(5) == pytest.approx(QUIET + 0.01)
    assert bursts.left(9) == 0
    assert bursts.ended(5.01) is None
    bursts.spoil(5.02, "half a message")
    assert bursts.ended(5.09 - 0.011) is None
    assert bursts.ended(5.1) == Burst((b"\xc0\x01",), (5,), ("half a message",))
    assert bursts.left(6) is None
    assert bursts.ended(7) is None


A, B, C = b"\xc0\x01", b"\xc1\x02", b"\xb0\x14\x05"
KNOWN = {(A,), (B,), (A, C), (C, B)}


@pytest.mark.parametrize(
    ("messages", "times", "parts"),
    [
        ((A, B), (0, 0.03), [(A,), (B,)]),
        ((A, B), (0, PAUSE / 2), [(A, B)]),  # no pause: a preset with one message too many
        ((A, C), (0, 0.03), [(A, C)]),  # a preset as it is
        ((A, C, B), (0, 0.001, 0.03), [(A, C), (B,)]),
        ((A, C, B), (0, 0.03, 0.031), [(A,), (C, B)]),
        ((A, C, C), (0, 0.001, 0.03), [(A, C, C)]),  # half of it is no preset
        ((A, A, A), (0, 0.02, 0.04), [(A,), (A,), (A,)]),
    ],
)
def test_two_quick_presses_are_parted(
    messages: tuple[bytes, ...], times: tuple[float, ...], parts: list[tuple[bytes, ...]]
) -> None:
    found = parted(Burst(messages, times), KNOWN.__contains__)
    assert [one.messages for one in found] == parts
    assert [at for one in found for at in one.times] == list(times)


def test_what_is_spoilt_is_not_parted() -> None:
    burst = Burst((A, B), (0, 0.03), ("half a message",))
    assert parted(burst, KNOWN.__contains__) == (burst,)
