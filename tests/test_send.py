"""Sending in earnest: what arrives at a real port is what the dry run says, and nothing else."""

from __future__ import annotations

import io
import os
import re
import signal
import subprocess
import sys
import time
from collections.abc import Iterator
from fractions import Fraction
from pathlib import Path
from typing import Any

import pytest

from setwright.compiler import midi
from setwright.compiler.compiled import Compiled
from setwright.compiler.lowering.commands import Command
from setwright.compiler.lowering.wire import transmit
from setwright.compiler.reports.find import Found
from setwright.compiler.sending.port import engine, request
from setwright.compiler.sending.port.child import Patience
from setwright.compiler.sending.port.drivers import DriverError, each_name_once
from setwright.compiler.sending.port.engine import is_allowed
from setwright.compiler.sending.port.orders import Orders
from setwright.compiler.sending.port.ports import Port
from setwright.compiler.sending.port.problem import Problem
from setwright.compiler.sending.port.request import converse
from setwright.compiler.sending.send import CAUTION, Interrupted, Plan, bundles, plan, send
from tests.conftest import DEMO, ROOT
from tests.jack import PATIENCE, Server, jack_server, receiver
from tests.mini import SWITCHER, write_night
from tests.nights import whole
from tests.test_cli import setwright
from tests.test_ports import MISSING, blocked

NIGHTS = ("granary-night.yaml", "parlour-night.yaml")
DRIVERS = ("rtmidi", "rtmidi2") if sys.version_info < (3, 13) else ("rtmidi2",)
"""The drivers for which there are wheels for this Python."""


@pytest.fixture(scope="module")
def server() -> Iterator[Server]:
    with jack_server() as running:
        yield running


@pytest.fixture(params=DRIVERS)
def driver(
    request: pytest.FixtureRequest,
    server: Server,
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
) -> str:
    """Make the engine use one driver, by hiding the other one from it, on our server."""
    name: str = request.param
    pytest.importorskip(name, reason=f"needs {name}")
    monkeypatch.setenv("JACK_DEFAULT_SERVER", server.name)
    other = next(other for other in ("rtmidi", "rtmidi2") if other != name)
    for key, value in blocked(tmp_path, **{other: MISSING}).items():
        monkeypatch.setenv(key, value)
    return name


def all_scenes(night: str) -> tuple[Compiled, list[Found]]:
    compiled = whole(DEMO / night)
    return compiled, [
        Found(song, compiled.scene(song, name)) for song in compiled.songs for name in song.scenes
    ]


def meaning_dropped(line: str) -> str:
    """Return the bytes of a dry run's line and the numbers that it gives for them in brackets."""
    match = re.fullmatch(r"((?:[0-9a-f]{2} )+) .*\((channel [^()]*)\)", line)
    assert match, line
    return f"{match[1]} {match[2]}"


@pytest.mark.parametrize("direct", [False, True], ids=["stored", "direct"])
@pytest.mark.parametrize("night", NIGHTS)
def test_every_scene_arrives_as_the_dry_run_says(
    night: str, direct: bool, server: Server, driver: str
) -> None:
    compiled, scenes = all_scenes(night)
    expected: list[str] = []
    sending: list[tuple[float, list[str]]] = []
    start = Fraction(0)
    for found in scenes:
        planned = plan(compiled, found, direct=direct)
        assert isinstance(planned, Plan)
        expected += map(meaning_dropped, planned.lines())
        sending += [(float(start) + ms, some) for ms, some in bundles(planned.route)]
        start += planned.route.ms
    with receiver(server, "floor") as floor:
        ended = converse(
            {"ask": "send", "port": "floor", "bundles": sending, "linger": 0.25},
            patience=Patience(PATIENCE, PATIENCE),
        )
        heard = floor.heard()
    assert not isinstance(ended, Problem), str(ended)
    assert ended["sent"] == len(expected) > 80
    assert heard == expected


COMMANDS = [
    ("granary-night.yaml", "The Swallow's Tail/Blaze", ()),
    ("granary-night.yaml", "The Swallow's Tail/Blaze", ("--direct",)),
    ("granary-night.yaml", "Drowsy Maggie/Walk", ("--direct", "--without", "wobbler")),
]


@pytest.mark.parametrize(("night", "scene", "options"), COMMANDS)
def test_the_command(
    night: str,
    scene: str,
    options: tuple[str, ...],
    server: Server,
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.setenv("JACK_DEFAULT_SERVER", server.name)
    judge_command(night, scene, options, server)


def test_the_command_with_each_driver(driver: str, server: Server) -> None:
    judge_command("parlour-night.yaml", "The Swallow's Tail/Blaze", ("--direct",), server)


def judge_command(night: str, scene: str, options: tuple[str, ...], server: Server) -> None:
    dry = setwright("send", night, scene, *options, "--dry-run", cwd=DEMO)
    assert dry.returncode == 0
    assert CAUTION not in dry.stderr
    lines = dry.stdout.splitlines()
    size = sum(len(bytes.fromhex(line.split("  ")[0])) for line in lines)
    with receiver(server, "floor") as floor:
        ended = setwright("send", night, scene, *options, "--port", "floor", cwd=DEMO)
        heard = floor.heard()
    assert heard == [meaning_dropped(line) for line in lines]
    assert ended.returncode == 0
    assert re.fullmatch(
        rf"sent {len(lines)} messages?, {size} bytes, to ‘.*:floor’\n", ended.stdout
    )
    assert ended.stderr.splitlines()[0] == CAUTION
    # What no message sets is said; the switcher's own preset sets everything.
    assert ("this scene needs" in ended.stderr) is ("--direct" in options)


def test_a_dry_run_needs_neither_driver_nor_port(tmp_path: Path) -> None:
    env = {**blocked(tmp_path, rtmidi=MISSING, rtmidi2=MISSING), "JACK_DEFAULT_SERVER": "nowhere"}
    ended = setwright(
        "send", "granary-night.yaml", "The Swallow's Tail/Blaze", "--dry-run", cwd=DEMO, env=env
    )
    assert ended.stdout == (
        "bf 00 00  switcher: bank select for bank 2, switch 5 (channel 16 control 0 value 0)\n"
        "cf 0c  switcher: load bank 2, switch 5 (channel 16 program 12)\n"
    )
    assert (ended.returncode, ended.stderr) == (0, "")


def test_two_ports_that_match(server: Server) -> None:
    words = ("send", "granary-night.yaml", "Drowsy Maggie/Walk")
    with receiver(server, "left floor") as left, receiver(server, "right floor") as right:
        for port in (("--port", "FLOOR"), ()):
            ended = setwright(*words, *port, cwd=DEMO, env=server.env)
            assert (ended.returncode, ended.stdout) == (2, "")
            assert ":left floor’, ‘" in ended.stderr
            assert ":right floor’" in ended.stderr
            assert len(ended.stderr.splitlines()) == 2
        ended = setwright(*words, "--port", "right", cwd=DEMO, env=server.env)
        assert ended.returncode == 0
        assert left.heard() == []
        assert len(right.heard()) == 2


def test_the_only_port_need_not_be_named(server: Server) -> None:
    with receiver(server, "floor") as floor:
        there = setwright("ports", env=server.env).stdout.splitlines()
        ended = setwright(
            "send", "granary-night.yaml", "Drowsy Maggie/Walk", cwd=DEMO, env=server.env
        )
        heard = floor.heard()
    if len([name for name in there if not name.startswith("Midi Through")]) == 1:
        assert ended.returncode == 0
        assert len(heard) == 2
    else:  # this computer has sockets of its own, and nothing may reach them unasked
        assert ended.returncode == 2
        assert heard == []


def test_a_port_that_is_not_there(server: Server) -> None:
    with receiver(server, "floor") as floor:
        ended = setwright(
            "send",
            "granary-night.yaml",
            "Drowsy Maggie/Walk",
            "--port",
            "flor",
            cwd=DEMO,
            env=server.env,
        )
        assert floor.heard() == []
    assert (ended.returncode, ended.stdout) == (2, "")
    assert "no output port is called ‘flor’: " in ended.stderr
    assert ":floor\n" in ended.stderr
    # Nor was one made under that name, as a driver may.
    assert "flor\n" not in setwright("ports", env=server.env).stdout


SLOW = {
    "units": """
    slow:
      channel: 3
      display: 0 to 127
      programs: {low: 1}
      busy after program: 1500 ms
      switched by: {cc: 28, on: 127, off: 0}
    """,
    "effects": "near: {slow: low}",
    "scenes": "A: [near]",
}
SLOW_FIRST = "c2 01  channel 3 program 1"


def start_slowly(folder: Path, server: Server) -> subprocess.Popen[str]:
    """Start to send a program and, when its unit listens again, a control; in its own session."""
    night = write_night(folder, **SLOW)
    return subprocess.Popen(
        [
            sys.executable,
            "-m",
            "setwright.compiler",
            "send",
            str(night),
            "Tune/A",
            "--direct",
            "--port",
            "floor",
        ],
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        encoding="utf-8",
        cwd=ROOT,
        env={**os.environ, **server.env, "PYTHONIOENCODING": "utf-8"},
        start_new_session=True,
    )


@pytest.mark.parametrize("victim", ["the other end", "the server"])
def test_a_port_that_vanishes(victim: str, tmp_path: Path) -> None:
    with jack_server() as server, receiver(server, "floor") as floor:
        running = start_slowly(tmp_path, server)
        floor.wait_for(SLOW_FIRST)
        if victim == "the server":
            server.process.kill()
        else:
            floor.kill()
        out, errors = running.communicate(timeout=PATIENCE)
    assert (running.returncode, out) == (2, "")
    assert re.search(
        r"\nsetwright: the port ‘.*:floor’ went away while sending, after 1 message; "
        "nobody knows how many arrived: .*send the scene again\n$",
        errors,
    )
    assert "Traceback" not in errors


@pytest.mark.parametrize("whom", ["the command", "all of its processes, as a terminal does"])
def test_an_interrupt_says_what_has_left(whom: str, server: Server, tmp_path: Path) -> None:
    """A real signal while the second message waits: the port gets the first and no other."""
    with receiver(server, "floor") as floor:
        running = start_slowly(tmp_path, server)
        floor.wait_for(SLOW_FIRST)
        if whom == "the command":
            running.send_signal(signal.SIGINT)
        else:
            os.killpg(running.pid, signal.SIGINT)
        out, errors = running.communicate(timeout=PATIENCE)
        time.sleep(2)  # the other one would have come by now
        assert floor.heard() == [SLOW_FIRST]
    assert (running.returncode, out) == (130, "")
    assert re.fullmatch(
        r"setwright: interrupted; 1 of 2 messages had left for ‘.*:floor’: "
        "the rig is between two scenes, so send one again",
        errors.splitlines()[-1],
    )
    assert "Traceback" not in errors


def test_an_engine_without_a_parent_sends_no_more(server: Server, tmp_path: Path) -> None:
    with receiver(server, "floor") as floor:
        running = start_slowly(tmp_path, server)
        floor.wait_for(SLOW_FIRST)
        running.kill()
        running.communicate()
        time.sleep(2)
        assert floor.heard() == [SLOW_FIRST]


TWO = Plan(
    transmit(
        [
            Command("unit", "program", midi.program(1, 2), "load"),
            Command("unit", "switch", midi.control(1, 28, 127), "on"),
        ],
        wait=False,
    )
)


@pytest.mark.parametrize(
    ("then", "says"),
    [
        (
            'sys.stdin.read(); print(\'{"sent": 1, "port": "box", "last": true}\', flush=True)',
            "interrupted; 1 of 2 messages had left for ‘box’: the rig is between two scenes, "
            "so send one again",
        ),
        (
            'sys.stdin.read(); print(\'{"sent": 2, "port": "box", "last": true}\', flush=True)',
            "interrupted; 2 of 2 messages had left for ‘box’",
        ),
        (
            'sys.stdin.read(); print(\'{"sent": 0, "port": "box", "last": true}\', flush=True)',
            "interrupted; no message has left",
        ),
        ("time.sleep(60)", "interrupted; at least 1 of 2 messages had left for ‘box’: the rig is"),
        ("sys.exit()", "interrupted; at least 1 of 2 messages had left for ‘box’: the rig is"),
    ],
)
def test_what_an_engine_says_that_is_asked_to_stop(
    then: str, says: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    said = '{"port": "box", "sent": 1}'
    script = f"import sys, time; sys.stdin.readline(); print('{said}', flush=True); {then}"
    talk = request.converse
    interrupts = iter([True])

    def heard(reply: dict[str, Any]) -> None:
        if next(interrupts, False):
            raise KeyboardInterrupt

    # As if the key were pressed when the engine has just said that it sent something.
    monkeypatch.setattr(
        "setwright.compiler.sending.send.converse",
        lambda asked, **words: talk(asked, heard=heard, **words),
    )
    sent = send(TWO, "box", patience=Patience(5, 1), engine=(sys.executable, "-c", script))
    assert isinstance(sent, Interrupted)
    assert str(sent).startswith(says)


def test_an_interrupt_before_a_port_is_open(monkeypatch: pytest.MonkeyPatch) -> None:
    class Queue:
        def __init__(self) -> None:
            self.asked = 0

        def put(self, line: bytes) -> None:
            pass

        def get(self, timeout: float) -> bytes:
            self.asked += 1
            raise KeyboardInterrupt

    monkeypatch.setattr("queue.SimpleQueue", Queue)
    silent = (sys.executable, "-c", "import time; time.sleep(60)")
    assert str(send(TWO, "box", engine=silent)) == "interrupted; no message has left"
    with pytest.raises(KeyboardInterrupt):
        converse({"ask": "ports"}, engine=silent)


def test_a_hanging_driver_ends_with_a_sentence() -> None:
    silent = (sys.executable, "-c", "import time; time.sleep(60)")
    planned = Plan(transmit([Command("unit", "program", midi.program(1, 2), "load")], wait=False))
    problem = send(planned, "floor", patience=Patience(0.5, 0.5), engine=silent)
    assert isinstance(problem, Problem)
    assert problem.code == "driver-silent"


class Refusing:
    """A driver that refuses to open its port, or to send what comes after so many messages."""

    def __init__(self, opens: bool, sends: int) -> None:
        self.opens, self.sends = opens, sends
        self.closed = False

    def outputs(self) -> list[Port]:
        return [Port("box", "TEST")]

    def open(self, port: Port) -> Refusing:
        if not self.opens:
            raise DriverError("device busy")
        return self

    def there(self) -> bool:
        return not self.closed

    def send(self, message: bytes) -> None:
        assert not self.closed
        if not self.sends:
            raise DriverError("gone")
        self.sends -= 1

    def close(self) -> None:
        self.closed = True


@pytest.mark.parametrize(
    ("driver", "last"),
    [
        (
            Refusing(False, 0),
            ("port-not-opened", "the port ‘box’ could not be opened (device busy)"),
        ),
        (Refusing(True, 0), ("port-vanished", "‘box’ went away while sending, after 0 messages")),
        (Refusing(True, 2), ("port-vanished", "‘box’ went away while sending, after 2 messages")),
        (Refusing(True, 3), None),
    ],
)
def test_what_a_driver_refuses(
    driver: Refusing, last: tuple[str, str] | None, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(engine, "find_driver", lambda: driver)
    said: list[dict[str, Any]] = []
    asked = {
        "ask": "send",
        "port": None,
        "linger": 0,
        "bundles": [[0, ["c001", "c002"]], [1, ["c003"]]],
    }
    engine.answer(asked, said.append, Orders(io.BytesIO()))
    if last is None:
        assert said[-1] == {"sent": 3, "port": "box", "last": True}
        assert driver.closed
    else:
        code, sentence = last
        assert said[-1]["problem"].code == code
        assert sentence in str(said[-1]["problem"])


def test_a_box_that_two_systems_show_is_one_port() -> None:
    first, twin = Port("box", "LINUX_ALSA"), Port("box", "UNIX_JACK")
    other = Port("other", "UNIX_JACK")
    assert each_name_once([first, other, twin]) == [first, other]
    # Two boxes of one name stay two: nobody can tell which is meant.
    assert each_name_once([first, first, twin]) == [first, first]


ALLOWED = [
    "80 3c 00",
    "90 3c 7f",
    "a0 3c 01",
    "b0 07 7f",
    "bf 00 00",
    "c0 00",
    "cf 7f",
    "d5 40",
    "e0 00 40",
]
REFUSED = [
    *("", "00", "3c 40", "b0", "b0 07", "b0 07 80", "b0 07 7f 01", "c0", "c0 80", "c0 01 02", "d0 01 02"),
    *("f0 7e 7f 09 01 f7", "f0", "f7", "f1 00", "f2 00 00", "f3 00", "f4", "f5", "f6", "f8", "fe", "ff"),
]  # fmt: skip


def test_only_whole_channel_messages_are_sent() -> None:
    assert [message for message in ALLOWED if not is_allowed(bytes.fromhex(message))] == []
    assert [message for message in REFUSED if is_allowed(bytes.fromhex(message))] == []


@pytest.mark.parametrize("message", ["f07e7f0901f7", "ff"])
def test_nothing_is_sent_where_one_message_must_not_be(
    message: str, server: Server, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("JACK_DEFAULT_SERVER", server.name)
    with receiver(server, "floor") as floor:
        asked = {"ask": "send", "port": "floor", "bundles": [[0, ["c005", message]]], "linger": 0.1}
        problem = converse(asked)
        assert floor.heard() == []
    assert isinstance(problem, Problem)
    assert problem.code == "message-refused"


UNIT = {
    "units": "one: {loop: 1, channel: 3, display: 0 to 9, programs: {low: 1}}",
    "effects": "near: {one: low}",
}
TWO_SONGS = """
songs:
- {title: Tune, scenes: {A: [near]}}
- {title: Other, scenes: {A: [near]}}
"""
RECALLED = f"{SWITCHER}recalled on channel: 16\n"
MANY = RECALLED.replace("banks: 10", "banks: 40")


@pytest.mark.parametrize(
    ("parts", "scene", "says", "way_out"),
    [
        ({}, "Tune/A", "the switcher obeys no programs over MIDI", "recalled on channel: 16"),
        (
            {"switcher": MANY},
            "Tune/A",
            "bank 31, switch 1 would be program 150, and a program change reaches 127",
            "recalled by bank select: msb",
        ),
        ({"switcher": RECALLED}, "Other/A", "lies on no switch", "put the song into a set"),
        ({"switcher": RECALLED}, "Tune/B", "has no scene ‘B’", "known here: A"),
        ({"switcher": RECALLED}, "Tune", "with a slash between", ""),
    ],
)
def test_scenes_that_cannot_be_recalled(
    parts: dict[str, str], scene: str, says: str, way_out: str, tmp_path: Path
) -> None:
    night = write_night(tmp_path, **UNIT, songs=TWO_SONGS, **parts)
    if parts.get("switcher") == MANY:
        rig = tmp_path / "rig.yaml"
        text = rig.read_text(encoding="utf-8")
        banks = "switcher: {file: board.yaml, banks: 31 to 40}"
        rig.write_text(text.replace("switcher: board.yaml", banks), encoding="utf-8")
    ended = setwright("send", str(night), scene, "--dry-run")
    assert (ended.returncode, ended.stdout) == (2, "")
    assert says in ended.stderr
    assert way_out in ended.stderr
    assert len(ended.stderr.splitlines()) == 1
    if "--direct" in ended.stderr:
        direct = setwright("send", str(night), scene, "--dry-run", "--direct")
        assert (direct.returncode, direct.stdout) == (
            0,
            "c2 01  one: load low (display 1) (channel 3 program 1)\n",
        )


def test_a_scene_that_takes_no_message(tmp_path: Path) -> None:
    night = write_night(tmp_path, units="one: {loop: 1}", effects="near: one", scenes="A: [near]")
    for options in (["--dry-run"], ["--port", "nowhere"]):
        ended = setwright("send", str(night), "Tune/A", "--direct", *options)
        assert (ended.returncode, ended.stdout) == (0, "")
        assert "loop 1 (one) in, all others out" in ended.stderr
        assert "nothing to send" in ended.stderr


def test_a_book_with_errors_is_refused(tmp_path: Path) -> None:
    night = write_night(tmp_path, units="one: {loop: 1}", effects="near: one", scenes="A: [nere]")
    ended = setwright("send", str(night), "Tune/A", "--direct")
    assert (ended.returncode, ended.stdout) == (1, "")
    assert ended.stderr == "nothing is sent: 1 error; run check\n"
    assert setwright("send", str(tmp_path / "nowhere.yaml"), "Tune/A").returncode == 2
    assert setwright("send").returncode == 2


def test_the_help_warns() -> None:
    shown = " ".join(setwright("send", "--help").stdout.split())
    assert "CAUTION: a scene can be much louder than the one before it." in shown
    assert "Turn the amplifier down first, and wear no headphones." in shown
