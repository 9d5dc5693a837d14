"""A port that is played at length: faults of real processes, each survived, and what was lost."""

from __future__ import annotations

import os
import re
import signal
import subprocess
import sys
import time
from collections.abc import Iterator
from contextlib import closing, contextmanager, suppress
from fractions import Fraction
from pathlib import Path
from typing import TypeVar

import pytest

from setwright.compiler.sending.port.child import ENGINE
from setwright.compiler.sending.port.line import Line, News, Restarted
from setwright.compiler.sending.port.problem import Problem
from setwright.compiler.sending.port.schedule import Begun, Done, Skipped
from tests.conftest import ROOT
from tests.jack import PATIENCE, Receiver, Server, jack_server, receiver

SCENE = [(0.0, [b"\xb0\x00\x01", b"\xc0\x05"]), (5.0, [b"\xc1\x02"])]
HEARD = ["b0 00 01", "c0 05", "c1 02"]
HALF = SCENE[0][1]
OTHER = [(0.0, [b"\xc2\x07"])]
F8, FA, FC = "f8", "fa", "fc"

Kind = TypeVar("Kind", bound=News)


@pytest.fixture(scope="module")
def lasting() -> Iterator[Server]:
    with jack_server() as running:
        yield running


@pytest.fixture
def server(lasting: Server, monkeypatch: pytest.MonkeyPatch) -> Server:
    monkeypatch.setenv("JACK_DEFAULT_SERVER", lasting.name)
    return lasting


@pytest.fixture
def mortal(monkeypatch: pytest.MonkeyPatch) -> Iterator[Server]:
    """Run a server that is killed."""
    with jack_server() as running:
        monkeypatch.setenv("JACK_DEFAULT_SERVER", running.name)
        yield running


def opened(wanted: str = "floor", engine: tuple[str, ...] = ENGINE) -> Line:
    line = Line.open(wanted, engine=engine)
    assert isinstance(line, Line), str(line)
    return line


def wait_for(line: Line, kind: type[Kind], number: int | None = None) -> Kind:
    """Return the next news of ``kind``, and of that delivery; other news are passed over."""
    deadline = time.monotonic() + PATIENCE
    passed: list[News] = []
    while time.monotonic() < deadline:
        news = line.get(0.5)
        if isinstance(news, kind) and number in {None, getattr(news, "number", None)}:
            return news
        if news is not None:
            passed.append(news)
    raise AssertionError(f"no {kind.__name__}, but {passed}")


@contextmanager
def opened_after(server: Server) -> Iterator[tuple[Line, Receiver]]:
    """Open a line to ``floor`` and deliver a scene."""
    with receiver(server, "floor") as floor, closing(opened()) as line:
        line.send(SCENE)
        wait_for(line, Done)
        time.sleep(0.15)  # until the port was looked at once more
        yield line, floor


def engine_of(parent: int) -> int:
    """Return the process that plays: of the engines that ``parent`` has started, the first."""
    found = []
    for status in Path("/proc").glob("[0-9]*/stat"):
        with suppress(OSError):  # it has ended meanwhile
            words = status.read_text(encoding="ascii", errors="replace").rpartition(")")[2].split()
            command = status.with_name("cmdline").read_bytes()
            if int(words[1]) == parent and ENGINE[-1].encode() in command:
                found.append(int(status.parent.name))
    return min(found)


def is_running(process: int) -> bool:
    try:
        os.kill(process, 0)
    except ProcessLookupError:
        return False
    return True


def hexes(heard: list[str]) -> list[str]:
    return [line.split("  ")[0] for line in heard]


def without_clock(heard: list[str]) -> list[str]:
    return [one for one in hexes(heard) if one not in {F8, FA, FC}]


def test_deliveries_arrive_in_their_order(server: Server) -> None:
    with receiver(server, "floor") as floor:
        with opened() as line:
            for number in range(1, 21):
                assert line.send(SCENE) == number
                done = wait_for(line, Done, number)
                assert done.messages == 3
        assert hexes(floor.heard()) == HEARD * 20


def test_of_many_at_once_the_last_one_counts(server: Server) -> None:
    with receiver(server, "floor") as floor:
        with opened() as line:
            numbers = [line.send(SCENE, settles=100.0) for _ in range(10)]
            last = line.send(OTHER)
            begun, skipped = set(), set()
            while (news := line.get(2.0)) is not None:
                match news:
                    case Begun(number, _):
                        begun.add(number)
                    case Skipped(number):
                        skipped.add(number)
                    case Done(number, _, _) if number == last:
                        break
        assert begun | skipped == {*numbers, last}
        assert not begun & skipped
        assert hexes(floor.heard()) == HEARD * (len(begun) - 1) + ["c2 07"]


def test_a_clock_runs_until_it_is_stopped(server: Server) -> None:
    with receiver(server, "floor") as floor:
        with opened() as line:
            line.clock(Fraction(150), start=True)
            time.sleep(0.3)
            line.send(SCENE)
            wait_for(line, Done)
            line.clock(None, stop=True)
            line.send(OTHER)
            wait_for(line, Done)
        heard = hexes(floor.heard())
    assert heard[0] == FA
    assert heard[-2:] == [FC, "c2 07"]
    assert heard.count(F8) > 5
    assert without_clock(heard) == [*HEARD, "c2 07"]


def test_a_clock_that_is_running_is_stopped_at_the_end(server: Server) -> None:
    with receiver(server, "floor") as floor:
        with opened() as line:
            line.clock(Fraction(150), start=True)
            line.send(SCENE)
        heard = hexes(floor.heard())
    assert heard[-1] == FC
    assert without_clock(heard) == HEARD  # and the scene is whole


def test_the_other_end_goes_and_comes_back(server: Server) -> None:
    with opened_after(server) as (line, floor):
        floor.kill()
        problem = wait_for(line, Problem)
        assert problem.code == "port-vanished"
        # Counted as sent is what went while it was seen to be there afterwards.
        said = re.search(r"after (\d) messages(?:; (\d) more)?", problem.sentence)
        assert said is not None
        assert int(said[1]) + int(said[2] or 0) == 3
        with receiver(server, "floor") as again:
            assert wait_for(line, Restarted).why == problem
            wait_for(line, Done)
            line.close()
            assert hexes(again.heard()) == HEARD


def test_it_comes_back_under_another_number(server: Server) -> None:
    with receiver(server, "floor 1") as floor, closing(opened("floor 1")) as line:
        line.send(SCENE)
        wait_for(line, Done)
        floor.kill()
        wait_for(line, Problem)
        with receiver(server, "floor 2") as again:
            assert "floor 1" in str(wait_for(line, Restarted).why)
            assert line.port.endswith("floor 2")
            wait_for(line, Done)
            line.close()
            assert hexes(again.heard()) == HEARD


def test_what_was_asked_for_meanwhile_is_sent_when_it_is_back(server: Server) -> None:
    with opened_after(server) as (line, floor):
        floor.kill()
        wait_for(line, Problem)
        line.send(SCENE)
        last = line.send(OTHER)
        line.clock(Fraction(150), start=True)
        with receiver(server, "floor") as again:
            wait_for(line, Done, last)
            line.close()
            heard = hexes(again.heard())
    assert without_clock(heard) == ["c2 07"]
    assert (FA in heard, heard[-1]) == (True, FC)


@pytest.mark.parametrize("first", [signal.SIGKILL, signal.SIGSTOP], ids=["dies", "hangs"])
def test_the_server_goes_and_comes_back(first: signal.Signals, mortal: Server) -> None:
    """It may hang, with more sent into it than its buffer holds, before it dies."""
    with opened_after(mortal) as (line, floor):
        os.kill(mortal.process.pid, first)
        if first == signal.SIGSTOP:
            line.send([(0.0, [b"\xb0\x01\x02"] * 8000)])
        problem = wait_for(line, Problem)
        assert problem.code in {"port-vanished", "driver-silent"}
        last = line.send(OTHER)
        mortal.kill()
        floor.kill()
        mortal.start_again()
        with receiver(mortal, "floor") as again:
            wait_for(line, Restarted)
            wait_for(line, Done, last)
            line.close()
            assert hexes(again.heard()) == ["c2 07"]


def test_a_server_that_only_slept(server: Server) -> None:
    with opened_after(server) as (line, floor):
        os.kill(server.process.pid, signal.SIGSTOP)
        try:
            wait_for(line, Problem)
        finally:
            os.kill(server.process.pid, signal.SIGCONT)
        wait_for(line, Restarted)
        wait_for(line, Done)
        line.close()
        assert hexes(floor.heard()) == HEARD * 2


@pytest.mark.parametrize("number", [signal.SIGTERM, signal.SIGKILL])
def test_somebody_ends_the_engine(number: signal.Signals, server: Server) -> None:
    with receiver(server, "floor") as floor, closing(opened()) as line:
        line.clock(Fraction(150), start=True)
        engine = engine_of(os.getpid())  # which takes a while where much else is running
        slow = line.send([(0.0, HALF), (1500.0, [b"\xc1\x02"])])
        floor.wait_for("c0 05  channel 1 program 5")
        os.kill(engine, number)
        wait_for(line, Restarted)
        wait_for(line, Done, slow)
        line.close()
        heard = hexes(floor.heard())
    # What it was sending is begun anew, whole; a clock that could be stopped was stopped.
    assert without_clock(heard) == [*HEARD[:2], *HEARD]
    assert heard.count(FC) == (2 if number == signal.SIGTERM else 1)
    assert heard[-1] == FC


PARENT = """
import time
from fractions import Fraction
from setwright.compiler.sending.port.line import Line

line = Line.open("floor")
line.clock(Fraction(150), start=True)
line.send([(0.0, [b"\\xb0\\x00\\x01", b"\\xc0\\x05"]), (3000.0, [b"\\xc1\\x02"])])
print(line.get(5), flush=True)
time.sleep(60)
"""


@pytest.mark.parametrize("number", [signal.SIGINT, signal.SIGTERM, signal.SIGKILL])
def test_somebody_ends_the_parent(number: signal.Signals, server: Server) -> None:
    """Its engine stops the clock, sends no more, and ends."""
    with receiver(server, "floor") as floor:
        parent = subprocess.Popen(
            [sys.executable, "-c", PARENT],
            cwd=ROOT,
            stdout=subprocess.PIPE,
            stderr=subprocess.DEVNULL,
        )
        try:
            assert parent.stdout is not None
            assert b"Begun" in parent.stdout.readline()
            engine = engine_of(parent.pid)
            parent.send_signal(number)
            parent.communicate(timeout=PATIENCE)
        finally:
            parent.kill()  # or it would play into the tests that follow
            parent.communicate()
        floor.wait_for(f"{FC}  odd: a system message")
        deadline = time.monotonic() + PATIENCE
        while is_running(engine) and time.monotonic() < deadline:
            time.sleep(0.05)
        assert not is_running(engine)
        heard = hexes(floor.heard())
    assert without_clock(heard) == HEARD[:2]
    assert heard[-1] == FC


REFUSED = """
import os, runpy
def refuse(*words):
    raise PermissionError(1, "Operation not permitted")
os.sched_setscheduler = refuse
runpy.run_module("setwright.compiler.sending.port.engine", run_name="__main__")
"""


@pytest.mark.skipif(not hasattr(os, "sched_setscheduler"), reason="needs priorities to refuse")
def test_without_real_time_priority_it_plays_all_the_same(server: Server) -> None:
    with receiver(server, "floor") as floor:
        with opened(engine=(sys.executable, "-c", REFUSED)) as line:
            assert not line.real_time
            line.send(SCENE)
            wait_for(line, Done)
        assert hexes(floor.heard()) == HEARD


BACK_TOO_LATE = """
import json, sys, threading, time
def say(**words):
    print(json.dumps(words), flush=True)
ended = threading.Event()
request = json.loads(sys.stdin.readline())
if not request["wait"]:
    say(port="box", system="WINDOWS_MM")
    say(problem=["port-vanished", "the port went away", "see to its cable"])
    time.sleep(60)
threading.Thread(target=lambda: (sys.stdin.read(), ended.set()), daemon=True).start()
while not ended.wait(0.1):
    say()
say(port="box", system="WINDOWS_MM")
say(sent=0, port="box", last=True)
"""


def test_a_port_that_comes_back_at_the_very_end_was_away() -> None:
    """Nothing can be sent to it any more, so nobody says that the last was sent again."""
    line = opened("box", engine=(sys.executable, "-c", BACK_TOO_LATE))
    line.send(SCENE)
    problem = wait_for(line, Problem)
    assert line.close() == problem
    assert line.get(0) is None
    assert line.close() == problem  # and once more does no harm


def test_two_at_one_port_are_both_heard_whole(server: Server) -> None:
    with receiver(server, "floor") as floor:
        with opened() as one, opened() as other:
            for _ in range(10):
                one.send(SCENE)
                other.send(OTHER)
                wait_for(one, Done)
                wait_for(other, Done)
        heard = hexes(floor.heard())
    assert sorted(heard) == sorted([*HEARD, "c2 07"] * 10)
    assert [one for one in heard if one != "c2 07"] == HEARD * 10


def test_two_ports_of_one_name(server: Server) -> None:
    with receiver(server, "floor"), receiver(server, "floor"):
        problem = Line.open("floor")
    assert isinstance(problem, Problem)
    assert problem.code == "port-ambiguous"


def test_only_whole_channel_messages_are_delivered(server: Server) -> None:
    with receiver(server, "floor") as floor:
        with opened() as line:
            line.send([(0.0, [b"\xc0\x05", b"\xf0\x7e\x7f\x09\x01\xf7"])])
            assert wait_for(line, Problem).code == "message-refused"
            line.send(OTHER)
            wait_for(line, Done)
        assert hexes(floor.heard()) == ["c2 07"]
