"""The audit: what a foot presses is ticked, and what is typed wrongly is named."""

from __future__ import annotations

import json
import os
import re
import shutil
import signal
import subprocess
import sys
import threading
import time
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from fractions import Fraction
from pathlib import Path
from typing import cast

import pytest
from click.testing import CliRunner
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from setwright.compiler.audit import _Interrupted, _Session
from setwright.compiler.cli import main
from setwright.compiler.lowering.commands import Command
from setwright.compiler.lowering.preset import Address
from setwright.compiler.midi import decode
from setwright.compiler.outputs.collect import night_data
from setwright.compiler.outputs.preset_sheet import preset_sheet_files
from setwright.compiler.sending.auditing.audit import Audit
from setwright.compiler.sending.incoming.bursts import Burst
from setwright.compiler.sending.incoming.expected import Expected, Tonight
from setwright.compiler.sending.port.ear import Dropped, Ear, Heard
from setwright.compiler.sending.port.problem import Problem
from tests.conftest import DEMO, ROOT
from tests.jack import PATIENCE, Server, jack_server
from tests.mini import write_night
from tests.nights import whole

BANK = 4


def preset(at: int, messages: tuple[bytes, ...]) -> Expected:
    """Return a preset in banks of four switches, with messages of a box that has no name."""
    address = Address(at // BANK, at % BANK)
    commands = tuple(
        Command("box", "x", message, "set", name="x", shown="x")
        for message in decode(b"".join(messages))
    )
    shown = f"{address.bank + 1}/{address.switch + 1}"
    return Expected(address, shown, f"P{at}", (f"Tune/P{at}",), commands, ("its name",))


def tonight(*sends: tuple[bytes, ...]) -> Tonight:
    return Tonight(tuple(preset(at, one) for at, one in enumerate(sends)), {}, frozenset({(1, 7)}))


def burst(messages: tuple[bytes, ...]) -> Burst:
    return Burst(messages, tuple(0.001 * number for number in range(len(messages))))


def program(channel: int, number: int) -> bytes:
    return bytes((0xC0 | channel - 1, number))


A, B, C, D, E = ((program(1, number),) for number in range(5))
NONE: tuple[bytes, ...] = ()


def verdicts(audit: Audit) -> list[str]:
    return [str(one.verdict) for one in audit.judged]


RIGHT, DIFFERS, DOUBT = "right", "differs", "in doubt"
WAITING, DEAF = "not pressed", "cannot be heard"
Messages = tuple[bytes, ...]
WALKS: dict[str, tuple[list[Messages], list[Messages], list[str]]] = {
    "in order": ([A, B, C, D], [A, B, C, D], [RIGHT] * 4),
    "from the last to the first": ([A, B, C, D], [D, C, B, A], [RIGHT] * 4),
    "half of it": ([A, B, C, D], [A, B], [RIGHT, RIGHT, WAITING, WAITING]),
    "a switch pressed twice": ([A, B, C, D], [A, B, B, C, D], [RIGHT] * 4),
    "one that sends nothing": ([A, NONE, B], [A, B], [RIGHT, DEAF, RIGHT]),
    "one that should send nothing": (
        [A, NONE, B],
        [A, (program(9, 9),), B],
        [RIGHT, DIFFERS, RIGHT],
    ),
    "a mistake": ([A, B, C], [A, (program(1, 9),), C], [RIGHT, DIFFERS, RIGHT]),
    "mended at once": ([A, B, C], [A, (program(1, 9),), B, C], [RIGHT] * 3),
    "mended at the end": ([A, B, C], [A, (program(1, 9),), C, B], [RIGHT] * 3),
    "mended, and still wrong": (
        [A, B, C],
        [A, (program(1, 9),), (program(1, 8),), C],
        [RIGHT, DIFFERS, RIGHT],
    ),
    "presets that send the same": ([A, A, A, B], [A, A, A, B], [RIGHT] * 4),
    "of presets that send the same, one is wrong": (
        [A, A, A, B],
        [A, (program(1, 9),), A, B],
        [RIGHT, DIFFERS, RIGHT, RIGHT],
    ),
    # A copy that nobody has changed.
    "it sends what the one before does": (
        [A, B, C, D],
        [A, A, C, D],
        [RIGHT, DIFFERS, RIGHT, RIGHT],
    ),
    "it sends what a later one does": (
        [A, B, C, D, E],
        [A, D, C, D, E],
        [RIGHT, DIFFERS, RIGHT, RIGHT, RIGHT],
    ),
    "it sends what an earlier one does": (
        [A, B, C, D, E],
        [A, B, C, A, E],
        [RIGHT, RIGHT, RIGHT, DIFFERS, RIGHT],
    ),
    "the last one sends what the first does": ([A, B, C], [A, B, A], [RIGHT, RIGHT, DIFFERS]),
    # Either two were typed into each other's place, or pressed in each other's place.
    "two have changed places": (
        [A, B, C, D, E],
        [A, D, C, B, E],
        [RIGHT, DOUBT, RIGHT, DOUBT, RIGHT],
    ),
    "neighbours have changed places": ([A, B, C, D], [A, C, B, D], [RIGHT, DOUBT, DOUBT, RIGHT]),
    "and are pressed again": ([A, B, C, D], [A, C, B, D, A, B, C], [RIGHT] * 4),
    "right, then changed": ([A, B, C], [A, B, C, (program(1, 9),)], [RIGHT, RIGHT, DIFFERS]),
}


@pytest.mark.parametrize("walk", WALKS)
def test_what_a_foot_presses(walk: str) -> None:
    sends, pressed, wanted = WALKS[walk]
    audit = Audit(tonight(*sends))
    for one in pressed:
        assert list(audit.hear(burst(one)))
    assert verdicts(audit) == wanted
    assert audit.complete == (set(wanted) <= {RIGHT, DEAF})
    assert [
        Address(at // BANK, at % BANK) for at, one in enumerate(wanted) if one == RIGHT
    ] == list(audit.proven)


def heard(audit: Audit, *pressed: tuple[bytes, ...]) -> list[str]:
    """Return what is said of the last press."""
    said: list[str] = []
    for one in pressed:
        said = list(audit.hear(burst(one)))
    return said


def test_what_is_said_press_by_press() -> None:
    audit = Audit(tonight(A, B, (*C, b"\xb0\x14\x05"), E))
    assert heard(audit, A) == ["1/1 Tune/P0: right (1 of 4)"]
    assert heard(audit, (program(1, 9),)) == [
        "1/2 Tune/P1: differs",
        "  box: program 9 came, not program 1",
    ]
    assert heard(audit, (*C, b"\xb0\x14\x06")) == [
        "1/3 Tune/P2: differs",
        "  box set: value 6 of control 20 came, not 5",
        "  which was it? type its number, or go on",
        "    1: 1/3 Tune/P2, 1 mistake",
        "    2: 1/2 Tune/P1, 2 mistakes",
        "    0: none of them; it was no press of a preset",
    ]
    assert heard(audit, E) == ["1/4 Tune/P3: right (2 of 4)"]
    assert heard(audit, (*C, b"\xb0\x14\x05")) == ["1/3 Tune/P2: right (3 of 4)"]


def test_what_is_asked_where_two_may_be_meant() -> None:
    audit = Audit(tonight(A, B, C, D, E))
    assert heard(audit, A, D) == [
        "1/4 Tune/P3: right; 1/2 Tune/P1 was next (2 of 5)",
        "  which was it? type its number, or go on",
        "    1: 1/4 Tune/P3, as it should be",
        "    2: 1/2 Tune/P1, 1 mistake",
        "    0: none of them; it was no press of a preset",
    ]
    assert list(audit.answer("2")) == [
        "1/2 Tune/P1: differs",
        "  box: program 3 came, not program 1",
    ]
    assert verdicts(audit) == [RIGHT, DIFFERS, WAITING, WAITING, WAITING]
    # Nothing is left of the question, but the place itself may be typed.
    assert "2" in next(iter(audit.answer("2")))
    assert list(audit.answer(" 1/4 ")) == ["1/4 Tune/P3: right (2 of 5)"]
    assert list(audit.answer("0")) == ["left out"]
    assert verdicts(audit) == [RIGHT, *[WAITING] * 4]
    assert list(audit.answer("0")) == [
        "nothing was heard that this could be about: press a switch first"
    ]
    assert heard(audit, B) == ["1/2 Tune/P1: right (2 of 5)"]


def test_the_next_presses_answer_too() -> None:
    audit = Audit(tonight(A, B, C, D, E))
    heard(audit, A, D, C)
    assert heard(audit, D) == [
        "so what was heard as 1/4 Tune/P3 was 1/2 Tune/P1",
        "1/2 Tune/P1: differs",
        "  box: program 3 came, not program 1",
        "1/4 Tune/P3: right (3 of 5)",
    ]


@pytest.mark.parametrize("typed", ["7", "1/9", "1/", "what", "-1", "١", "x" * 5000, "1/1/1"])
def test_what_cannot_be_meant(typed: str) -> None:
    audit = Audit(tonight(A, B))
    heard(audit, A)
    before = verdicts(audit)
    (said,) = audit.answer(typed)
    assert "none of tonight's presets: type bank and switch as in 1/1, list, or quit" in said
    assert verdicts(audit) == before


def test_what_is_no_preset_is_passed_over() -> None:
    audit = Audit(tonight(A, (*B, b"\xb0\x14\x05")))
    # A pedal that sends control 7 on channel 1, at any time.
    assert list(audit.hear(Burst((b"\xb0\x07\x40", b"\xb0\x07\x41"), (0, 0.01)))) == []
    assert list(audit.hear(Burst((*A, b"\xb0\x07\x42"), (0, 0.01)))) == [
        "1/1 Tune/P0: right (1 of 2)"
    ]
    assert list(audit.hear(Burst(B, (0,), ("truncated", "truncated")))) == [
        "not understood (truncated): press it once more"
    ]
    assert verdicts(audit) == [RIGHT, WAITING]


def test_a_pedal_that_presets_move_too_is_heard() -> None:
    audit = Audit(tonight((b"\xb0\x07\x40",), A))
    assert heard(audit, (b"\xb0\x07\x41",))[0] == "1/1 Tune/P0: differs"


NIGHTS = st.lists(
    st.lists(st.sampled_from([A[0], B[0], C[0], b"\xb0\x14\x05", b"\xb8\x1c\x00"]), max_size=3).map(
        tuple
    ),
    min_size=1,
    max_size=12,
).filter(lambda sends: any(sends))


def press(audit: Audit, known: Tonight, at: int, messages: tuple[bytes, ...]) -> None:
    """Press a switch as a player does who answers, corrects, and settles which one differs."""
    if not messages:
        return
    said = list(audit.hear(burst(messages)))
    shown = known.presets[at].shown
    asked = any("which was it?" in line or line.endswith(": differs") for line in said)
    told = [line for line in said if not line.startswith((" ", "so "))][-1]
    if asked or not told.startswith(f"{shown} "):
        list(audit.answer(shown))


@settings(max_examples=30, deadline=None)
@given(NIGHTS, st.data())
def test_a_switcher_without_a_mistake_is_ticked_in_any_order(
    sends: list[tuple[bytes, ...]], data: st.DataObject
) -> None:
    known = tonight(*sends)
    audible = [at for at, one in enumerate(sends) if one]
    attentive = Audit(known)
    for at in data.draw(st.permutations(audible)):
        press(attentive, known, at, sends[at])
    assert attentive.complete
    # In order nobody has to say anything.
    silent = Audit(known)
    for at in audible:
        heard(silent, sends[at])
    assert silent.complete


@settings(max_examples=20, deadline=None)
@given(st.lists(st.integers(0, 99), min_size=2, max_size=12, unique=True), st.data())
def test_presets_that_can_be_told_apart_need_no_answer(
    numbers: list[int], data: st.DataObject
) -> None:
    """Who presses two in each other's place and says nothing leaves a doubt, and nothing worse."""
    sends = [(program(1, number),) for number in numbers]
    order = data.draw(st.permutations(range(len(sends))))
    # Who goes in order for a while and leaves it is taken to go on.
    runs = [order[at + 2] - order[at] for at in range(len(order) - 2)]
    assume(2 not in runs)
    audit = Audit(tonight(*sends))
    for at in order:
        heard(audit, sends[at])
    assert set(verdicts(audit)) <= {RIGHT, DOUBT}


@settings(max_examples=30, deadline=None)
@given(NIGHTS, st.data())
def test_one_mistake_is_found_and_nothing_else(
    sends: list[tuple[bytes, ...]], data: st.DataObject
) -> None:
    known = tonight(*sends)
    audible = [at for at, one in enumerate(sends) if one]
    wrong = data.draw(st.sampled_from(audible))
    other = data.draw(
        st.lists(
            st.sampled_from([A[0], D[0], E[0], b"\xb0\x14\x06", b"\xb8\x1c\x00"]),
            min_size=1,
            max_size=4,
        )
        .map(tuple)
        .filter(lambda one: one != sends[wrong])
    )
    held = [other if at == wrong else one for at, one in enumerate(sends)]
    wanted = [DIFFERS if at == wrong else RIGHT if one else DEAF for at, one in enumerate(sends)]
    attentive = Audit(known)
    for at in data.draw(st.permutations(audible)):
        press(attentive, known, at, held[at])
    assert verdicts(attentive) == wanted
    # Whoever says nothing has at least not been told that all is right.
    silent = Audit(known)
    for at in audible:
        if held[at]:
            heard(silent, held[at])
    assert not silent.complete
    assert sum(one == DIFFERS for one in verdicts(silent)) <= 1


@settings(max_examples=30, deadline=None)
@given(NIGHTS.filter(all), st.data())
def test_in_order_one_slip_is_found_and_nobody_has_to_answer(
    sends: list[tuple[bytes, ...]], data: st.DataObject
) -> None:
    """A slip is one message with another number, one that is missing, or one too many."""
    wrong = data.draw(st.integers(0, len(sends) - 1))
    at = data.draw(st.integers(0, len(sends[wrong]) - 1))
    before, message, behind = sends[wrong][:at], sends[wrong][at], sends[wrong][at + 1 :]
    slips = [
        (*before, bytes((*message[:-1], 99)), *behind),
        (*before, *behind),
        (*before, message, program(16, 99), *behind),
    ]
    other = data.draw(st.sampled_from([one for one in slips if one and one not in sends]))
    audit = Audit(tonight(*sends))
    for number, one in enumerate(sends):
        heard(audit, other if number == wrong else one)
    assert verdicts(audit) == [DIFFERS if at == wrong else RIGHT for at in range(len(sends))]


class Scripted:
    """An ear that hears what is written down: packets with the seconds at which they come."""

    def __init__(self, *heard: tuple[float, str] | Dropped | Problem) -> None:
        now = time.monotonic()
        self._rest = [
            Heard(now + one[0], bytes.fromhex(one[1]))
            if isinstance(one, tuple) and not isinstance(one, Dropped | Problem)
            else one
            for one in heard
        ]

    def get(self, timeout: float) -> object:
        if self._rest:
            return self._rest.pop(0)
        time.sleep(timeout)
        return None


SHAKES, MIXES = ((program(6, 42),), (b"\xb8\x14\x1d", b"\xb8\x15\x26", b"\xb8\x1c\x7f"))
PACKETS: dict[str, tuple[list[tuple[float, str] | Dropped | Problem], list[str]]] = {
    "a message at a time": (
        [(0, "c5 2a"), (0.5, "b8 14 1d"), (0.501, "b8 15 26"), (0.502, "b8 1c 7f")],
        ["1/1 Tune/P0: right (1 of 2)", "1/2 Tune/P1: right (2 of 2)"],
    ),
    "cut into bytes": ([(0, "c5"), (0.001, "2a")], ["1/1 Tune/P0: right (1 of 2)"]),
    "running status, with a clock in it": (
        [(0, "b8 14 f8 1d 15 26"), (0.01, "fe 1c 7f")],
        [
            "1/2 Tune/P1: right; 1/1 Tune/P0 was next (1 of 2)",
            "  which was it? type its number, or go on",
            "    1: 1/2 Tune/P1, as it should be",
            "    2: 1/1 Tune/P0, 4 mistakes",
            "    0: none of them; it was no press of a preset",
        ],
    ),
    "a message that breaks off": (
        [(0, "b8 14"), (0.001, "c5 2a")],
        ["not understood (truncated): press it once more"],
    ),
    "what the switcher says besides": (
        [(0, "f0 7d 01 f7"), (0.1, "f8"), (0.2, "f0 7d 02 f7"), (0.3, "c5 2a")],
        [
            "note: it sends system exclusive messages too; they are passed over",
            "1/1 Tune/P0: right (1 of 2)",
        ],
    ),
    "too much at once": (
        [Dropped(3)],
        ["not understood (3 packets came too fast): press it once more"],
    ),
    "letters that move a terminal": (
        [(0, "1b 5b 32 4a")],
        ["not understood (data without a status): press it once more"],
    ),
}


@pytest.mark.parametrize("packets", PACKETS)
def test_packets_become_presses(packets: str, capsys: pytest.CaptureFixture[str]) -> None:
    heard_so, said = PACKETS[packets]
    audit = Audit(tonight(SHAKES, MIXES))
    with _Interrupted() as interrupted:
        ear = cast("Ear", Scripted(*heard_so))
        assert _Session(audit, ear, Fraction(0)).run(interrupted) is None
    assert capsys.readouterr().out.splitlines() == said


def test_a_port_that_is_gone_ends_it(capsys: pytest.CaptureFixture[str]) -> None:
    """What was heard before is judged still."""
    problem = Problem("port-vanished", "it went away", "plug it in")
    ear = cast("Ear", Scripted((0, "c5 2a"), problem))
    with _Interrupted() as interrupted:
        assert _Session(Audit(tonight(SHAKES, MIXES)), ear, Fraction(0)).run(interrupted) == problem
    assert capsys.readouterr().out == "1/1 Tune/P0: right (1 of 2)\n"


# The rest goes through real ports: a switcher in a process of its own, and the real command.

BETWEEN = 0.1
"""Seconds between two presses, as quick as feet never are."""


@pytest.fixture(scope="module")
def server() -> Iterator[Server]:
    with jack_server() as running:
        yield running


class Process:
    """A process that is talked to line by line."""

    def __init__(self, server: Server, *words: str) -> None:
        self.lines: list[str] = []
        self._changed = threading.Condition()
        self.process = subprocess.Popen(
            [sys.executable, *words],
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            stderr=subprocess.STDOUT,
            encoding="utf-8",
            cwd=ROOT,
            env={**os.environ, **server.env, "PYTHONIOENCODING": "utf-8"},
        )
        self._reader = threading.Thread(target=self._read, daemon=True)
        self._reader.start()

    def _read(self) -> None:
        assert self.process.stdout is not None
        for line in self.process.stdout:
            with self._changed:
                self.lines.append(line.rstrip("\n"))
                self._changed.notify_all()

    def say(self, line: str) -> None:
        assert self.process.stdin is not None
        self.process.stdin.write(line + "\n")
        self.process.stdin.flush()

    def wait_for(self, *beginnings: str, behind: int = 0) -> str:
        """Return the first line with one of these beginnings, behind so many lines."""

        def found() -> list[str]:
            return [line for line in self.lines[behind:] if line.startswith(beginnings)]

        with self._changed:
            assert self._changed.wait_for(found, PATIENCE), (beginnings, self.lines)
            return found()[0]

    def ended(self) -> int:
        """Return its exit code, once it has ended by itself."""
        code = self.process.wait(PATIENCE)
        self._reader.join(PATIENCE)
        return code

    def end(self) -> None:
        self.process.kill()
        self.process.wait()
        self._reader.join(PATIENCE)
        assert self.process.stdin is not None
        assert self.process.stdout is not None
        self.process.stdout.close()
        with suppress(OSError):
            self.process.stdin.close()


class Floor(Process):
    """The switcher on the floor."""

    def press(self, *places: str, pause: float = BETWEEN) -> None:
        """Press one switch after the other: ``2/1``."""
        for place in places:
            behind = len(self.lines)
            self.say(place.replace("/", " "))
            self.wait_for("sent", behind=behind)
            time.sleep(pause)


@contextmanager
def plugged_in(
    server: Server, night: Path, plants: dict[str, list[str]], *options: str
) -> Iterator[tuple[Floor, Process]]:
    """Run a switcher that holds what the preset sheet of ``night`` says, and the audit of it."""
    sheet = night.parent / "sheet.csv"
    sheet.write_bytes(preset_sheet_files(night_data(whole(night)))["preset-sheet.csv"])
    floor = Floor(server, "-m", "tests.switcher", "floor", str(sheet), json.dumps(plants))
    try:
        floor.wait_for("ready")
        words = ("-m", "setwright.compiler", "audit", str(night), "--port", "floor", *options)
        audit = Process(server, *words)
        try:
            audit.wait_for("type at any time")
            yield floor, audit
        finally:
            audit.end()
    finally:
        floor.end()


@pytest.fixture
def granary(tmp_path: Path) -> Path:
    for file in DEMO.glob("*.yaml"):
        shutil.copy(file, tmp_path)
    return tmp_path / "granary-night.yaml"


def test_five_mistakes_on_the_granary_night(server: Server, granary: Path) -> None:
    """A foot goes over the floor from the first switch to the last, and nobody types anything."""
    plants = {
        "2/2": ["c5 2b", "b8 14 1d", "b8 15 26", "b8 1c 7f"],  # vibrato instead of tremolo
        "4/1": [
            "ca 02",
            "b8 1c 00",
        ],  # the small room, as in fifteen others, and not the great hall
        "5/6": ["c5 2b", "b8 1c 00"],  # no reverb
        "7/5": ["b7 14 18", "b8 15 26", "b8 1c 7f"],  # the delay time on channel 8
        "12/3": ["b8 15 1c", "b8 14 09", "b8 1c 7f"],  # two slots in each other's place
    }
    with plugged_in(server, granary, plants) as (floor, audit):
        places = [
            f"{one['place']['bank_shown']}/{one['place']['switch_shown']}"
            for one in json.loads(night_data(whole(granary)).model_dump_json())["presets"]
        ]
        assert len(places) == 96
        floor.press(*places)
        audit.wait_for("16/7 ")
        audit.say("quit")
        assert audit.ended() == 1
    assert re.fullmatch(
        r"Winter dance on Granary, state \w{4}: 96 presets to press, heard at ‘.*floor.*’",
        audit.lines[1],
    )
    begin = audit.lines.index("1/1 Haste to the Wedding/Start: right (1 of 96)")
    assert audit.lines[:begin] == [
        "caution: a preset can be much louder than the one before it; turn the amplifiers down "
        "first, and wear no headphones",
        audit.lines[1],
        "press them in the order of banks and switches, from 1/1 Haste to the Wedding/Start on; "
        "or as you like",
        "leave out switch 8 (Tuner): the rig does not say what is sent there",
        "messages alone are heard: loops, relays and names are not",
        "type at any time: a choice's number or BANK/SWITCH says which switch it was; "
        "list: what is left; quit: report",
    ]
    report = audit.lines[audit.lines.index("") + 1 :]
    assert report == [
        "91 of 96 presets ticked: what they send is right",
        "differ (5): mend them and press them again",
        "  2/2 The Swallow's Tail/Lift",
        "    wobbler: program 43 (display 43, vibrato) came, not program 42 (display 42, tremolo)",
        "  4/1 Planxty Fanny Powers/Start",
        "    barn: program 2 (display 3, small room) came, not program 11 (display 12, great hall)",
        "  5/6 The Minstrel Boy/Rise",
        "    barn great hall (display 12): missing (channel 11 program 11)",
        "  7/5 The Lark in the Morning/Wing",
        "    echo time 357.1 ms: channel 8 came, not 9",
        "  12/3 Miss McLeod's Reel/Step",
        "    echo mix 22 %: it came, but not in its place (channel 9 control 21 value 28)",
        "messages alone are heard: loops, relays and names are not",
    ]


SMALL = """
wobbler: {loop: 2, channel: 6, display: 0 to 99, programs: {tremolo: 42, vibrato: 43}}
"""
SMALL_EFFECTS = "tremolo: {wobbler: tremolo}\nvibrato: {wobbler: vibrato}"
SMALL_SCENES = "Shake: [tremolo]\nSway: [vibrato]\nDry: []"


@pytest.fixture
def small(tmp_path: Path) -> Path:
    return write_night(tmp_path, units=SMALL, effects=SMALL_EFFECTS, scenes=SMALL_SCENES)


def test_what_was_heard_is_noted(server: Server, small: Path) -> None:
    """A mistake is mended on the floor; a clock, and what is no message, changes nothing."""
    stored = small.with_name("board.stored.yaml")
    with plugged_in(server, small, {"1/2": ["c5 2c"]}, "--done") as (floor, audit):
        floor.press("1/1", "1/2")
        audit.wait_for("1/2 Tune/Sway: differs")
        floor.press("raw f8", "raw fe")
        audit.say("list")
        audit.wait_for("differs (1): 1/2 Tune/Sway")
        audit.say("nonsense")
        audit.wait_for("‘nonsense’ is none of tonight's presets")
        assert not stored.exists()
        audit.process.send_signal(signal.SIGINT)
        assert audit.ended() == 1
    assert "noted in board.stored.yaml: 1 preset; of each, this was taken on trust" in audit.lines
    assert "  1/1 Tune/Shake: loop 2 in, no relay closed, its name" in audit.lines
    assert "  1/1: {name: Shake, loops: [2], messages: [c5 2a]}" in stored.read_text("utf-8")
    assert "1/2" not in stored.read_text("utf-8")
    with plugged_in(server, small, {}, "--done") as (floor, audit):
        floor.press("1/1", "1/2", pause=0.03)  # as if both feet came down
        audit.wait_for("1/2 Tune/Sway: right (2 of 2)")
        assert audit.process.stdin is not None
        audit.process.stdin.close()
        assert audit.ended() == 0
    assert "  1/2: {name: Sway, loops: [2], messages: [c5 2b]}" in stored.read_text("utf-8")
    # What is noted is not believed.
    with plugged_in(server, small, {"1/1": ["c5 2b"]}) as (floor, audit):
        floor.press("1/1", pause=0)
        audit.say("1/1")  # before it was heard to the end
        audit.wait_for("1/1 Tune/Shake: differs")
        audit.say("quit")
        assert audit.ended() == 1
    assert "    board.stored.yaml says that it is right, which it is not" in audit.lines
    assert not any("Traceback" in line for line in audit.lines)


def test_a_port_that_goes_away(server: Server, small: Path) -> None:
    with plugged_in(server, small, {}) as (floor, audit):
        floor.press("1/1")
        audit.wait_for("1/1 Tune/Shake: right (1 of 2)")
        floor.process.kill()
        assert audit.ended() == 2
    assert "not pressed (1): 1/2 Tune/Sway" in audit.lines
    assert re.match(r"setwright: the port ‘.*floor.*’ went away: ", audit.lines[-1])


def test_no_port(server: Server, small: Path) -> None:
    audit = Process(server, "-m", "setwright.compiler", "audit", str(small), "--port", "nowhere")
    try:
        assert audit.ended() == 2
        assert audit.lines[-1].startswith("setwright: ")
        assert "input port" in audit.lines[-1]
    finally:
        audit.end()


def test_a_book_with_errors_is_not_heard(small: Path) -> None:
    rig = small.with_name("rig.yaml")
    rig.write_text(rig.read_text("utf-8").replace("channel: 6", "channel: 17"), encoding="utf-8")
    ended = CliRunner().invoke(main, ["audit", str(small)])
    assert ended.exit_code == 1
    assert "nothing is heard: 1 error" in ended.output


def test_presets_that_send_nothing_are_not_listened_for(tmp_path: Path) -> None:
    night = write_night(
        tmp_path, units="fuzz: {loop: 1}", effects="lead: fuzz", scenes="Loud: [lead]"
    )
    ended = CliRunner().invoke(main, ["audit", str(night)])
    assert ended.exit_code == 2
    assert "nothing can be heard: no preset of tonight sends a message" in ended.output
