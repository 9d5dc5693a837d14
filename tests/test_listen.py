"""What comes in, line by line: rows by hand, invented times, real ports and a real terminal."""

from __future__ import annotations

import errno
import os
import re
import select
import signal
import subprocess
import sys
import time
from collections.abc import Callable, Iterator, Mapping, Sequence
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from setwright.compiler.compiled import Compiled
from setwright.compiler.sending.incoming.decode import SILENCE, Decoder
from setwright.compiler.sending.incoming.incoming_clock import LONGEST
from setwright.compiler.sending.incoming.listen import SENSED, Listener, plain_words
from setwright.compiler.sending.incoming.meaning import Meaning
from setwright.compiler.sending.port.ear import Dropped, Heard
from tests.conftest import DEMO
from tests.jack import PATIENCE, Server, jack_server, sender
from tests.mini import write_night
from tests.nights import whole
from tests.test_cli import setwright
from tests.test_ports import MISSING, blocked
from tests.test_watch import Watching

WORDS = {
    "C5 2A": "channel 6 program 42",
    "B0 07 64": "channel 1 control 7 value 100",
    "9F 3C 40": "channel 16 note on 60 velocity 64",
    "90 3C 00": "channel 1 note on 60 velocity 0, which is note off",
    "80 3C 40": "channel 1 note off 60 velocity 64",
    "A0 3C 40": "channel 1 pressure 64 on note 60",
    "D0 40": "channel 1 pressure 64",
    "E0 00 40": "channel 1 pitch bend +0",
    "E0 00 00": "channel 1 pitch bend -8192",
    "E0 7F 7F": "channel 1 pitch bend +8191",
    # Channel mode messages: MIDI 1.0 Detailed Specification 4.2.1, Table IV.
    "B0 78 00": "channel 1 all sound off (control 120 value 0)",
    "B0 79 00": "channel 1 reset all controllers (control 121 value 0)",
    "B0 7A 7F": "channel 1 local control (control 122 value 127)",
    "B0 7B 00": "channel 1 all notes off (control 123 value 0)",
    "B0 7C 00": "channel 1 omni off (control 124 value 0)",
    "B0 7D 00": "channel 1 omni on (control 125 value 0)",
    "B0 7E 01": "channel 1 mono (control 126 value 1)",
    "B0 7F 00": "channel 1 poly (control 127 value 0)",
    "F2 10 01": "song position: sixteenth 144",
    "F3 07": "song select 7",
    "F6": "tune request",
    "FF": "system reset",
    "F0 7E 7F 06 01 F7": "system exclusive, 6 bytes",
    "F0 7E": "system exclusive, 2 bytes, which no f7 ended",
    "F4": "undefined: nobody may send this",
    "F7": "end of exclusive alone",
    "05": "1 byte of data without a status",
    "90 3C": "truncated: channel 1 note on, of which no more came",
    "F2 10": "truncated: song position, of which no more came",
}


@pytest.mark.parametrize("stream", WORDS)
def test_words(stream: str) -> None:
    decoder = Decoder()
    (message,) = decoder.feed(0.0, bytes.fromhex(stream)) + decoder.flush()
    assert plain_words(message) == WORDS[stream]


@pytest.fixture(scope="module")
def granary() -> Compiled:
    return whole(DEMO / "granary-night.yaml")


def lines_of(listener: Listener, *packets: tuple[float, str]) -> list[str]:
    """Return the lines about packets in hexadecimal, each with its second."""
    return [line for at, text in packets for line in listener.take(Heard(at, bytes.fromhex(text)))]


def test_running_status_is_said() -> None:
    assert lines_of(
        Listener(), (7.0, "90 3C 27"), (7.25, "40 2B F8"), (8.5, "43"), (8.5, "25")
    ) == [
        "    0.000  90 3c 27  channel 1 note on 60 velocity 39",
        "    0.250  40 2b     channel 1 note on 64 velocity 43, running status",
        "    0.250  f8        a clock begins",
        "    0.250            the clock has stopped",
        "    1.500  43 25     channel 1 note on 67 velocity 37, running status",
    ]


def test_exclusive_is_not_shown_in_full() -> None:
    assert lines_of(Listener(), (1.0, "F0 01 02 03 04 05 06 07 08 09 0A F7")) == [
        "    0.000  f0 01 02 03 04 05 06 07 …  system exclusive, 12 bytes"
    ]


def test_what_is_cut_short_is_said_after_a_silence_even_while_clocks_go_on() -> None:
    listener = Listener()
    assert lines_of(listener, (0.0, "90 3C"), (0.02, "F8")) == [
        "    0.000  f8        a clock begins"
    ]
    assert lines_of(listener, (SILENCE / 2, "F8")) == []
    assert lines_of(listener, (SILENCE + 0.01, "F8")) == [
        "    0.000  90 3c     truncated: channel 1 note on, of which no more came"
    ]
    assert lines_of(listener, (0.3, "C5")) == []
    assert list(listener.silent(0.3 + SILENCE)) == [
        "    0.280  c5        truncated: channel 6 program, of which no more came"
    ]


def test_what_comes_all_the_time_is_said_once() -> None:
    listener = Listener()
    assert lines_of(listener, *[(n * 0.3, "FE") for n in range(5)]) == [
        "    0.000  fe        active sensing, which is not said again"
    ]
    assert list(listener.silent(1.1 + SENSED)) == []
    assert list(listener.silent(1.3 + SENSED)) == [
        "    1.200            active sensing has stopped, or the cable is out"
    ]
    assert list(listener.silent(100.0)) == []
    assert len(lines_of(listener, (200.0, "FE"), (200.3, "FE"))) == 1
    # Its sender lets anything else stand for it.
    assert lines_of(listener, (200.9, "C0 05"), (201.5, "FE"), (202.4, "FE")) == [
        "  200.900  c0 05     channel 1 program 5"
    ]
    assert len(lines_of(Listener(), *[(n * 0.01, f"F1 {n:02x}") for n in range(8)])) == 1


def clocks(start: float, count: int, bpm: float = 120.0) -> list[tuple[float, str]]:
    return [(start + n * 60 / bpm / 24, "F8") for n in range(count)]


def test_a_clock_from_its_beginning_to_its_end() -> None:
    listener = Listener()
    assert lines_of(listener, (10.0, "F2 08 00"), (10.0, "FB")) == [
        "    0.000  f2 08 00  song position: sixteenth 8",
        "    0.000  fb        continue, at sixteenth 8",
    ]
    assert listener.clock_line() is None
    assert lines_of(listener, *clocks(10.0, 24)) == ["    0.000  f8        a clock begins"]
    assert listener.clock_line() is None
    assert lines_of(listener, *clocks(10.5, 25)) == []
    assert listener.clock_line() == (
        "    1.000  f8        clock: quarter = 120.0, jitter 0.0 ms, at most 0.0 ms"
    )
    assert lines_of(listener, (11.01, "FC")) == [
        "    1.010  fc        stop, clock: quarter = 120.0, at sixteenth 16"
    ]
    assert list(listener.silent(11.0 + LONGEST)) == []
    assert list(listener.silent(11.1 + LONGEST)) == ["    1.000            the clock has stopped"]
    assert listener.clock_line() is None
    assert lines_of(listener, (20.0, "FA"), *clocks(20.0, 50, 90.0)) == [
        "   10.000  fa        start, at sixteenth 0",
        "   10.000  f8        a clock begins",
    ]
    assert list(listener.summary()) == [
        "heard 103 messages in 11.4 s",
        "        1  song position",
        "       99  clock",
        "        1  start",
        "        1  continue",
        "        1  stop",
        "clock: quarter = 90.0 to 120.0, half of the clocks within 0.0 ms of even, "
        "99 % within 0.0 ms, all within 0.0 ms; stopped 1 time",
    ]


def test_what_is_dropped_is_said_and_joins_nothing(granary: Compiled) -> None:
    listener = Listener(Meaning(granary))
    lines_of(listener, (0.0, "BF 00 00"), *clocks(0.0, 30), (1.0, "B8 14"))
    assert list(listener.take(Dropped(1234))) == [
        "    1.000  b8 14     truncated: channel 9 control, of which no more came",
        "                     1,234 packets came too fast to be taken: what was in there is lost",
    ]
    assert lines_of(listener, (1.0, "20"), (1.0, "CF 0C"), *clocks(1.1, 2)) == [
        "    1.000  20        1 byte of data without a status",
        "    1.000  cf 0c     switcher: load program 12 of a bank that was not heard "
        "(channel 16 program 12)",
        "    1.100  f8        a clock begins",
    ]
    assert "    1,234  packets came too fast and are lost" in listener.summary()
    assert list(Listener().take(Dropped(1))) == [
        "                     1 packet came too fast to be taken: what was in there is lost"
    ]


def test_the_summary(granary: Compiled) -> None:
    listener = Listener(Meaning(granary))
    assert list(Listener().summary()) == ["heard nothing"]
    lines_of(
        listener,
        (3.0, "C5 2A"),
        (3.5, "C5 2B F4 C0 01"),
        (4.0, "B8 07 40 90 3C"),
        (5.0, "F4 F0 01 02 03 04 05 06 07 08 F7"),
        (5.5, "C5"),
    )
    assert list(listener.summary()) == [
        "    2.500  c5        truncated: channel 6 program, of which no more came",
        "heard 9 messages in 2.5 s",
        "        1  control",
        "        3  program",
        "        1  system exclusive",
        "        2  odd: undefined, first at 0.500: f4",
        "        2  odd: truncated, first at 1.000: 90 3c",
        "        2  declared by no unit, first at 0.500: c0 01",
    ]


packets = st.lists(
    st.one_of(
        st.tuples(st.floats(0, 2), st.binary(min_size=1, max_size=6)),
        st.tuples(st.floats(0, 2), st.sampled_from([b"\xf8", b"\xfe", b"\xfa", b"\xc5\x2a"])),
    ),
    max_size=30,
)


@given(packets)
def test_everything_is_counted(drawn: list[tuple[float, bytes]]) -> None:
    listener, at = Listener(), 0.0
    for later, packet in drawn:
        at += later
        assert all([*listener.silent(at), *listener.take(Heard(at, packet))])
    lines = list(listener.summary())
    at_last = next(number for number, line in enumerate(lines) if line.startswith("heard "))
    counted = [line for line in lines[at_last:] if line.startswith("  ")]
    decoder, messages, at = Decoder(), 0, 0.0
    for later, packet in drawn:
        at += later
        messages += len(decoder.flush(at)) + len(decoder.feed(at, packet))
    messages += len(decoder.flush())
    assert sum(int(line[:9].replace(",", "")) for line in counted) == messages


# -- the command ----------------------------------------------------------------------------------


REFUSED = {
    "a unit of no night": (("--without", "echo"), "--without is about the units of a night"),
    "no time at all": (("--for", "0"), "x>0"),
    "a time that never ends": (("--for", "inf"), "write a number of seconds"),
    "no number": (("--for", "nan"), "write a number of seconds"),
}


@pytest.mark.parametrize("case", REFUSED)
def test_wrong_usage(case: str) -> None:
    words, sentence = REFUSED[case]
    ended = setwright("listen", *words)
    assert (ended.returncode, ended.stdout) == (2, "")
    assert sentence in ended.stderr


def test_a_night_that_cannot_be_read(tmp_path: Path) -> None:
    ended = setwright("listen", "nowhere.yaml", cwd=tmp_path)
    assert (ended.returncode, ended.stdout) == (2, "")
    assert "nowhere.yaml" in ended.stderr


def test_without_a_driver(tmp_path: Path) -> None:
    ended = setwright("listen", env=blocked(tmp_path, rtmidi=MISSING, rtmidi2=MISSING))
    assert (ended.returncode, ended.stdout) == (2, "")
    assert ended.stderr.startswith("setwright: live MIDI needs a driver")


@pytest.fixture(scope="module")
def server() -> Iterator[Server]:
    with jack_server() as running:
        yield running


class Listening(Watching):
    """A process that listens."""

    command = "listen"


@pytest.fixture
def listen(server: Server) -> Iterator[Callable[..., Listening]]:
    begun: list[Listening] = []

    def start(*words: str, env: Mapping[str, str] = {}, **others: Any) -> Listening:
        begun.append(Listening(*words, **{"cwd": DEMO, **server.env, **env, **others}))
        return begun[-1]

    yield start
    for one in begun:
        one.process.kill()
        one.process.wait()


SENT = ["BF 00 00", "CF 0C", "C5 2A", "B8 14 20", "90 3C", "C5", "F4", "F0 01 02 F7", "90 3C F8"]
HEARD = """\
    0.000  bf 00 00  switcher: bank select 0 (msb) (channel 16 control 0 value 0)
    0.000  cf 0c     switcher: load bank 2, switch 5, The Swallow's Tail/Blaze (channel 16 program 12)
    0.000  c5 2a     wobbler: load tremolo (display 42) (channel 6 program 42)
    0.000  b8 14 20  echo: time 468.5 ms (channel 9 control 20 value 32)
    0.000  90 3c     truncated: channel 1 note on, of which no more came
    0.000  c5        truncated: channel 6 program, of which no more came
    0.000  f4        undefined: nobody may send this
    0.000  f0 01 02 f7  system exclusive, 4 bytes
    0.000  f8        a clock begins
    0.000  90 3c     truncated: channel 1 note on, of which no more came
    0.000            the clock has stopped
heard 10 messages in 0.0 s
        2  control
        2  program
        1  system exclusive
        1  clock
        3  odd: truncated, first at 0.000: 90 3c
        1  odd: undefined, first at 0.000: f4
"""


def without_times(lines: Sequence[str]) -> list[str]:
    return [re.sub(r"^ *\d+\.\d{3}|(?<=in )\d+\.\d|(?<=at )\d+\.\d{3}", "·", one) for one in lines]


def test_what_comes_in_at_a_real_port(server: Server, listen: Callable[..., Listening]) -> None:
    with sender(server, "floor") as floor:
        one = listen("granary-night.yaml", "--port", "floor")
        one.until("listening", errors=True)
        floor.send(*SENT)
        lines = one.until(".* the clock has stopped")
        code, summary, errors = one.interrupt()
    assert (code, errors) == (0, [])
    assert without_times(lines + summary) == without_times(HEARD.splitlines())


def test_an_interrupt_is_the_way_to_end_it(
    server: Server, listen: Callable[..., Listening]
) -> None:
    with sender(server, "floor") as floor:
        one = listen("--port", "floor")
        one.until("listening to ‘.*:floor’; Ctrl-C ends it$", errors=True)
        # A second of clock at 120, and a program within it.
        beats = [f"@{n * 1000 / 48:.2f} F8" for n in range(49)]
        floor.send(*beats, "C5 2A")
        one.until(".*f8        a clock begins")
        one.until(r".*f8        clock: quarter = \d+\.\d, jitter ")
        one.until(".*c5 2a     channel 6 program 42")
        code, lines, errors = one.interrupt()
    assert (code, errors) == (0, [])
    at = next(at for at, line in enumerate(lines) if line.startswith("heard "))
    assert re.fullmatch(r"heard 50 messages in \d\.\d s", lines[at])
    assert lines[at + 1 : at + 3] == ["        1  program", "       49  clock"]
    assert lines[at + 3].startswith("clock: quarter = ")


def test_it_ends_by_itself(server: Server, listen: Callable[..., Listening]) -> None:
    with sender(server, "floor"):
        code, lines, errors = listen("--for", "0.3", "--port", "floor").ended()
    assert (code, lines) == (0, ["heard nothing"])
    assert re.fullmatch(r"listening to ‘.*:floor’; for 0.3 s; Ctrl-C ends it sooner", errors[0])


def test_a_port_that_vanishes(server: Server, listen: Callable[..., Listening]) -> None:
    with sender(server, "floor") as floor:
        one = listen("--port", "floor")
        one.until("listening", errors=True)
        floor.send("C5 2A")
        one.until(".*program 42")
        floor.kill()
        code, lines, errors = one.ended()
    assert code == 2
    assert lines == ["heard 1 message in 0.0 s", "        1  program"]
    (error,) = errors
    assert re.fullmatch(r"setwright: the port ‘.*:floor’ went away: see to its cable.*", error)


def test_ports_that_are_not_meant(server: Server) -> None:
    with sender(server, "left floor"), sender(server, "right floor"):
        ended = setwright("listen", "--port", "FLOOR", env=server.env)
    assert (ended.returncode, ended.stdout) == (2, "")
    assert "‘FLOOR’ means 2 input ports: name one" in ended.stderr


def test_who_listens_to_the_lines_goes_away(server: Server) -> None:
    with sender(server, "floor") as floor:
        one = subprocess.Popen(
            [sys.executable, "-m", "setwright.compiler", "listen", "--port", "floor"],
            stdin=subprocess.DEVNULL,
            stdout=subprocess.PIPE,
            stderr=subprocess.PIPE,
            encoding="utf-8",
            env={**os.environ, "PYTHONIOENCODING": "utf-8", **server.env},
        )
        assert one.stdout is not None
        assert one.stderr is not None
        with one:
            assert one.stderr.readline().startswith("listening")
            one.stdout.close()
            floor.send("C5 2A")
            assert (one.wait(PATIENCE), one.stderr.read()) == (141, "")


# -- on a terminal, with an ear that hears what it is told ----------------------------------------


FAKE = """
import time
from setwright.compiler import cli, listen
from setwright.compiler.sending.port import ear

class Fake(ear.Ear):
    def __init__(self):
        self.port, self.left = "floor", [{packets}]
        self.next = 0.0
    def get(self, timeout):
        if self.left:
            wait, came = self.left.pop(0)
            time.sleep(wait)
            return came if came else None
        time.sleep(timeout)
    def close(self):
        pass

listen._CLOCK_EVERY = 0.1
ear.Ear.open = classmethod(lambda cls, wanted: Fake())
cli.main()
"""


def on_a_terminal(program: str, *words: str, until: str) -> tuple[int, str]:
    """Run ``program`` on a terminal, interrupt it after ``until``, and return all it wrote."""
    pty = pytest.importorskip("pty", reason="this system has no pseudo-terminals")
    ours, theirs = pty.openpty()
    one = subprocess.Popen(
        [sys.executable, "-c", program, "listen", *words],
        stdin=theirs,
        stdout=theirs,
        stderr=theirs,
        env={**os.environ, "PYTHONIOENCODING": "utf-8", "TERM": "xterm", "COLUMNS": "80"},
        preexec_fn=lambda: signal.signal(signal.SIGINT, signal.default_int_handler) and None,
    )
    os.close(theirs)
    written = b""
    interrupted = False
    deadline = time.monotonic() + PATIENCE
    while time.monotonic() < deadline:
        if not select.select([ours], [], [], 0.1)[0]:
            continue
        try:
            some = os.read(ours, 10_000)
        except OSError as error:
            assert error.errno == errno.EIO  # how Linux says that nobody has it any more
            break
        if not some:
            break
        written += some
        if not interrupted and until in written.decode(errors="replace"):
            interrupted = True
            one.send_signal(signal.SIGINT)
    os.close(ours)
    return one.wait(PATIENCE), written.decode()


def seen(written: str) -> list[str]:
    """Return the lines that stand on the terminal in the end: a return writes a line over."""
    lines = []
    for line in written.split("\r\n"):
        shown = ""
        for part in line.split("\r"):
            shown = part + shown[len(part) :]
        lines.append(shown.rstrip())
    return lines


def test_on_a_terminal_the_clock_has_one_line_that_is_written_over() -> None:
    packets = [f"(0, ear.Heard({n} / 48, b'\\xf8'))" for n in range(49)]
    packets += ["(0.2, ear.Heard(1.02, b'\\xf8'))", "(0, ear.Heard(1.03, b'\\xc5\\x2a'))"]
    packets += [f"(0, ear.Heard({49 + n} / 48, b'\\xf8'))" for n in range(48)]
    packets += ["(0.2, ear.Heard(2.01, b'\\xf8'))"]
    code, written = on_a_terminal(FAKE.format(packets=", ".join(packets)), until="2.010")
    assert code == 0
    # The line was there three times, and after the program again.
    assert written.count("f8        clock: quarter = 1") == 4
    lines = seen(written)
    assert lines[:3] == [
        "listening to ‘floor’; Ctrl-C ends it",
        "    0.000  f8        a clock begins",
        "    1.030  c5 2a     channel 6 program 42",
    ]
    # What stood there when it was interrupted stays.
    (last,) = [number for number, line in enumerate(lines) if "f8        clock: qu" in line]
    assert lines[last + 1].startswith("heard ")
    assert "heard 100 messages in 2.0 s" in lines


def test_names_of_ports_and_units_do_not_reach_the_terminal_as_they_are(tmp_path: Path) -> None:
    night = write_night(
        tmp_path,
        units='"ec\\u202Eho": {channel: 9, switched by: {cc: 28, on: 127, off: 0}, is: effect}',
        effects='near: "ec\\u202Eho"',
        scenes="Loud: [near]",
    )
    program = FAKE.format(packets="(0, ear.Heard(1.0, b'\\xb8\\x1c\\x7f'))")
    program = program.replace('"floor"', '"fl\\x1b[2Joor"')
    code, written = on_a_terminal(program, str(night), until="switch on")
    assert code == 0
    assert "\x1b" not in written
    assert "\u202e" not in written
    assert "listening to ‘fl\\x1b[2Joor’" in written
