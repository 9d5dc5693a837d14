"""An input port that is listened to: floods, garbage, and ports and servers that go away."""

from __future__ import annotations

import json
import os
import signal
import sys
import time
from collections.abc import Iterator
from pathlib import Path

import pytest

from setwright.compiler.sending.port import engine
from setwright.compiler.sending.port.child import Patience
from setwright.compiler.sending.port.ear import Dropped, Ear, Heard
from setwright.compiler.sending.port.lookout import DIES, Lookout
from setwright.compiler.sending.port.ports import Port
from setwright.compiler.sending.port.problem import Problem
from tests.jack import PATIENCE, Server, jack_server, receiver, sender


@pytest.fixture
def server(monkeypatch: pytest.MonkeyPatch) -> Iterator[Server]:
    with jack_server() as running:
        monkeypatch.setenv("JACK_DEFAULT_SERVER", running.name)
        yield running


def heard(ear: Ear, packets: int) -> list[str]:
    """Return so many packets, in hexadecimal."""
    came: list[str] = []
    deadline = time.monotonic() + PATIENCE
    while len(came) < packets and time.monotonic() < deadline:
        one = ear.get(0.5)
        if isinstance(one, Heard):
            came.append(one.data.hex(" "))
        else:
            assert one is None, one
    return came


def lost(ear: Ear) -> Problem:
    """Return the problem that ends it; nothing else comes before."""
    deadline = time.monotonic() + PATIENCE
    while (one := ear.get(0.5)) is None and time.monotonic() < deadline:
        pass
    assert isinstance(one, Problem), one
    assert ear.get(0) == one
    return one


def opened(wanted: str) -> Ear:
    ear = Ear.open(wanted)
    assert isinstance(ear, Ear), str(ear)
    return ear


def test_all_that_comes_is_heard_garbage_too(server: Server) -> None:
    said = ["c0 05", "b1 14 40", "f8", "fe", "90 3c", "40", "f4", "f0 7e 01 f7", "ff"]
    with sender(server, "floor") as floor, opened("floor") as ear:
        assert ear.port.endswith("floor")
        before = time.monotonic()
        floor.send(*said)
        assert heard(ear, len(said)) == said
        floor.send("c0 01")
        one = None
        while one is None:
            one = ear.get(1.0)
        assert isinstance(one, Heard)
        assert before < one.at <= time.monotonic()
        assert ear.get(0) is None


def test_of_a_flood_nothing_is_lost_in_silence(server: Server) -> None:
    """A MIDI line brings a tenth of this in the time."""
    flood = [f"b0 {number % 128:02x} {number // 128:02x}" for number in range(4000)]
    with sender(server, "floor") as floor, opened("floor") as ear:
        floor.send(*flood)
        assert heard(ear, len(flood)) == flood


OF_THREE = """
import threading
from setwright.compiler.sending.port import engine


class Asleep(threading.Event):
    def set(self):
        pass


class Slow(engine.Orders):
    def __init__(self, stream):
        super().__init__(stream)
        self.wake = Asleep()


engine.MOST_KEPT, engine.ROUND, engine.Orders = 3, 1.0, Slow
engine.main()
"""


def test_what_was_too_much_is_counted(server: Server, tmp_path: Path) -> None:
    """An engine that may keep three packets, and says nothing until ten have come."""
    script = tmp_path / "engine_of_three.py"
    script.write_text(OF_THREE, encoding="utf-8")
    assert engine.MOST_KEPT > 10_000
    with sender(server, "floor") as floor:
        ear = Ear.open("floor", engine=(sys.executable, str(script)))
        assert isinstance(ear, Ear), str(ear)
        with ear:
            floor.send(*[f"c0 {number:02x}" for number in range(10)])
            came, dropped = 0, 0
            deadline = time.monotonic() + PATIENCE
            while came + dropped < 10 and time.monotonic() < deadline:
                match ear.get(0.5):
                    case Heard():
                        came += 1
                    case Dropped(packets):
                        dropped += packets
            assert came + dropped == 10
            assert dropped >= 4


CLOCKED = """
import json, time
print(json.dumps({"port": "box", "system": "WINDOWS_MM"}), flush=True)
while True:
    print(json.dumps({"heard": [[time.monotonic(), "f8"]]}), flush=True)
    time.sleep(0.01)
"""


def test_beside_a_clock_the_lookout_is_asked_all_the_same(monkeypatch: pytest.MonkeyPatch) -> None:
    """What it says would pile up for a whole evening; where something comes in, the port is there."""
    asked: list[Lookout] = []

    def misses_it(self: Lookout) -> bool:
        asked.append(self)
        return True

    monkeypatch.setattr(Lookout, "misses_it", misses_it)
    ear = Ear.open("box", engine=(sys.executable, "-c", CLOCKED))
    assert isinstance(ear, Ear), str(ear)
    with ear:
        assert heard(ear, 30) == ["f8"] * 30
    assert len(asked) > 10


CUT = """
import sys
sys.stdin.readline()
sys.stdout.write('{"port": "box", "system": "WINDOWS_MM"}\\n{"heard": [[1.0, "c0')
"""


def test_an_engine_that_dies_in_the_middle_of_a_word() -> None:
    ear = Ear.open("box", engine=(sys.executable, "-c", CUT))
    assert isinstance(ear, Ear), str(ear)
    with ear:
        assert lost(ear).code == "port-vanished"


def test_the_sender_goes_away(server: Server) -> None:
    with sender(server, "floor") as floor, opened("floor") as ear:
        floor.send("c0 05")
        assert heard(ear, 1) == ["c0 05"]
        floor.kill()
        problem = lost(ear)
    assert problem.code == "port-vanished"
    assert "went away" in problem.sentence


@pytest.mark.parametrize("how", [signal.SIGKILL, signal.SIGSTOP], ids=["dies", "hangs"])
def test_the_server_goes_away(how: signal.Signals, server: Server) -> None:
    with sender(server, "floor"), opened("floor") as ear:
        os.kill(server.process.pid, how)
        assert lost(ear).code == "port-vanished"
        server.kill()


SAYS = """
import json, sys, time
for names in [*json.loads(sys.argv[1])] + [json.loads(sys.argv[2])] * 40:
    print(json.dumps({"names": names}), flush=True)
    time.sleep(0.05)
"""


@pytest.mark.parametrize(
    ("first", "then", "missed"),
    [
        # A fresh handle may fail to open, or see a port only in part, while others come and go.
        ([["floor"], [], ["floor"], []], ["floor"], False),
        ([["floor"], [], ["floor"]], [], True),
        ([], [], True),
    ],
)
def test_a_port_is_missed_when_it_was_not_there_twice(
    first: list[list[str]], then: list[str], missed: bool
) -> None:
    words = (sys.executable, "-c", SAYS, json.dumps(first), json.dumps(then))
    lookout = Lookout(Port("floor", DIES), "input", Patience(), words)
    try:
        deadline = time.monotonic() + 1.5
        found = False
        while not found and time.monotonic() < deadline:
            found = lookout.misses_it()
            time.sleep(0.01)
    finally:
        lookout.close()
    assert found is missed


def test_which_input_is_meant(server: Server) -> None:
    none = Ear.open("floor")
    assert isinstance(none, Problem)
    assert (none.code, "there is no MIDI input port" in str(none)) == ("no-port", True)
    with sender(server, "floor"), sender(server, "desk"), receiver(server, "other way"):
        unnamed, unknown = Ear.open(None), Ear.open("flor")
        assert isinstance(unnamed, Problem)
        assert "there are 2 input ports" in str(unnamed)
        assert "other way" not in str(unnamed)  # an output
        assert isinstance(unknown, Problem)
        assert "no input port is called ‘flor’" in str(unknown)
