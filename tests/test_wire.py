"""Messages on the wire: bytes, milliseconds, gaps, and waiting for units that are busy.

31.25 kbaud, ten bits a byte, so 320 µs a byte and 960 µs for three: MIDI 1.0 Detailed
Specification 4.2.1, hardware; IEC 63035:2017, 4.1. Milliseconds below are worked out from that
by hand.
"""

from __future__ import annotations

from fractions import Fraction
from itertools import pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st

from setwright.compiler.lowering.commands import Command
from setwright.compiler.lowering.wire import Transmission, transmit
from setwright.compiler.midi import Message, decode, encode, running


def ms(text: str) -> Fraction:
    return Fraction(text)


def pc(unit: str, channel: int, number: int, settles: str = "0", busy: str = "0") -> Command:
    message = Message("program", channel, (number,))
    return Command(unit, "program", message, "", settles=ms(settles), busy=ms(busy))


def cc(unit: str, channel: int, number: int, value: int, settles: str = "0") -> Command:
    message = Message("control", channel, (number, value))
    return Command(unit, "control", message, "", settles=ms(settles))


def times(sent: Transmission) -> list[tuple[str, str]]:
    return [(str(float(one.starts)), str(float(one.ends))) for one in sent.commands]


def test_nothing_takes_no_time() -> None:
    sent = transmit([], wait=True)
    assert (sent.commands, sent.size, sent.size_running) == ((), 0, 0)
    assert [sent.ms, sent.ms_running, sent.sound] == [0, 0, 0]
    assert sent.stream == b""


@pytest.mark.parametrize(
    ("command", "size", "taken"),
    [(pc("a", 1, 5), 2, "0.64"), (cc("a", 1, 7, 100), 3, "0.96")],
)
def test_one_message(command: Command, size: int, taken: str) -> None:
    sent = transmit([command], wait=False)
    assert (sent.size, sent.ms, sent.sound) == (size, ms(taken), ms(taken))
    assert times(sent) == [("0.0", taken)]


def test_one_after_the_other_without_pause() -> None:
    sent = transmit([pc("a", 6, 42), cc("b", 9, 20, 29), cc("b", 9, 28, 127)], wait=False)
    assert times(sent) == [("0.0", "0.64"), ("0.64", "1.6"), ("1.6", "2.56")]
    assert sent.stream == bytes.fromhex("c5 2a b8 14 1d b8 1c 7f")
    assert (sent.size, sent.ms) == (8, ms("2.56"))


def test_the_senders_gap_lies_between_messages_alone() -> None:
    commands = [pc("a", 1, 1), pc("a", 1, 2), pc("a", 1, 3)]
    sent = transmit(commands, gap=ms("5"), wait=False)
    assert times(sent) == [("0.0", "0.64"), ("5.64", "6.28"), ("11.28", "11.92")]
    assert sent.ms == 3 * ms("0.64") + 2 * ms("5")


# Running status


def test_running_status_is_shorter_and_sooner() -> None:
    """The status byte is left out where it is that of the message before: DS, running status."""
    commands = [cc("b", 9, 20, 29), cc("b", 9, 21, 38), cc("b", 9, 28, 127), cc("c", 8, 28, 0)]
    sent = transmit(commands, wait=False)
    assert (sent.size, sent.size_running) == (12, 3 + 2 + 2 + 3)
    assert (sent.ms, sent.ms_running) == (12 * ms("0.32"), 10 * ms("0.32"))
    # The times of single messages are those without running status: the later ones.
    assert sent.commands[-1].ends == sent.ms


def test_gaps_and_waiting_count_with_running_status_too() -> None:
    commands = [pc("a", 1, 1, busy="100"), pc("a", 1, 2)]
    assert transmit(commands, gap=ms("5"), wait=False).ms_running == ms("0.64") + 5 + ms("0.32")
    assert transmit(commands, wait=True).ms_running == ms("100.64") + ms("0.32")


# Units that are busy


def test_a_computer_waits_for_a_unit_that_is_busy() -> None:
    commands = [pc("a", 1, 1, busy="120"), cc("a", 1, 7, 1), cc("b", 2, 7, 1)]
    sent = transmit(commands, wait=True)
    # Busy from the program's last bit on.
    assert times(sent) == [("0.0", "0.64"), ("120.64", "121.6"), ("121.6", "122.56")]


def test_others_do_not_wait_for_it() -> None:
    commands = [pc("a", 1, 1, busy="120"), cc("b", 2, 7, 1), cc("a", 1, 7, 1)]
    sent = transmit(commands, wait=True)
    assert times(sent) == [("0.0", "0.64"), ("0.64", "1.6"), ("120.64", "121.6")]


def test_what_is_over_by_then_needs_no_waiting() -> None:
    commands = [pc("a", 1, 1, busy="0.5"), cc("b", 2, 7, 1), cc("a", 1, 7, 1)]
    assert times(transmit(commands, wait=True))[2] == ("1.6", "2.56")


def test_only_programs_make_a_unit_busy() -> None:
    control = cc("a", 1, 7, 1)._replace(busy=ms("120"))
    assert times(transmit([control, cc("a", 1, 8, 1)], wait=True))[1] == ("0.96", "1.92")


def test_a_switcher_cannot_wait() -> None:
    commands = [pc("a", 1, 1, busy="120"), cc("a", 1, 7, 1)]
    assert times(transmit(commands, wait=False)) == [("0.0", "0.64"), ("0.64", "1.6")]


def test_bank_select_and_program_wait_together() -> None:
    again = [cc("a", 1, 0, 1)._replace(quantity="bank", joined=True), pc("a", 1, 2)]
    sent = transmit([pc("a", 1, 1, busy="50"), *again], wait=True)
    assert times(sent) == [("0.0", "0.64"), ("50.64", "51.6"), ("51.6", "52.24")]


# Sound


def test_the_sound_is_there_when_the_last_unit_has_settled() -> None:
    quick, slow = cc("b", 2, 7, 1, settles="1"), pc("a", 1, 1, settles="40")
    assert transmit([slow, quick], wait=False).sound == ms("0.64") + 40
    assert transmit([quick, slow], wait=False).sound == ms("0.96") + ms("0.64") + 40
    assert transmit([slow, cc("b", 2, 7, 1, settles="60")], wait=False).sound == ms("1.6") + 60


# Whatever is sent

ORDERS = st.lists(
    st.builds(
        lambda unit, channel, data, busy, settles, program: (
            pc(unit, channel, data, str(settles), str(busy))
            if program
            else cc(unit, channel, data, 127 - data, str(settles))
        ),
        st.sampled_from("abc"),
        st.integers(1, 3),
        st.integers(0, 119),
        st.sampled_from([0, 1, 30, 120]),
        st.sampled_from([0, 5, 40]),
        st.booleans(),
    ),
    max_size=12,
)


@given(ORDERS, st.sampled_from([0, 1, 10]), st.booleans())
def test_what_holds_for_every_list(commands: list[Command], gap: int, wait: bool) -> None:
    sent = transmit(commands, gap=Fraction(gap), wait=wait)
    assert [one.command for one in sent.commands] == commands
    assert list(decode(sent.stream)) == [command.message for command in commands]
    encoded = [encode(command.message) for command in commands]
    assert (sent.size, sent.size_running) == (len(sent.stream), len(running(encoded)))
    for one in sent.commands:
        assert one.ends - one.starts == Fraction(len(encode(one.command.message)) * 320, 1000)
    for before, after in pairwise(sent.commands):
        assert after.starts >= before.ends + gap
    free: dict[str, Fraction] = {}
    for one in sent.commands:
        if wait:
            assert one.starts >= free.get(one.command.unit, Fraction(0))
        if one.command.message.kind == "program":
            free[one.command.unit] = one.ends + one.command.busy
    assert sent.ms_running <= sent.ms <= sent.sound
    if not wait:
        pauses = gap * max(0, len(commands) - 1)
        assert sent.ms == Fraction(sent.size * 320, 1000) + pauses
        assert sent.ms_running == Fraction(sent.size_running * 320, 1000) + pauses


@given(ORDERS)
def test_waiting_never_makes_it_sooner(commands: list[Command]) -> None:
    assert transmit(commands, wait=True).ms >= transmit(commands, wait=False).ms
