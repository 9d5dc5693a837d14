"""Which port a name means, what stands in the way of one, and an engine that does not answer."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path

import pytest

from setwright.compiler.sending.port.child import Patience
from setwright.compiler.sending.port.ports import Port, choose, no_ports, not_opened
from setwright.compiler.sending.port.problem import Problem
from setwright.compiler.sending.port.request import converse, list_ports
from tests.jack import Server, jack_server, receiver
from tests.test_cli import setwright

SYSTEM = "LINUX_ALSA"
ONE_BOX = ("Midi Through:Midi Through Port-0 14:0", "Two Ways:Two Ways MIDI 1 28:0")
TWO_SOCKETS = (*ONE_BOX, "Two Ways:Two Ways MIDI 2 28:1")
WINDOWS = ("Left Box 0", "Right Box 1")
TEN = tuple(f"Box:Socket {n} 20:{n}" for n in range(1, 11))


def ports(names: tuple[str, ...]) -> list[Port]:
    return [Port(name, SYSTEM) for name in names]


@pytest.mark.parametrize(
    ("there", "wanted", "chosen"),
    [
        (WINDOWS, "Left Box 0", "Left Box 0"),
        (WINDOWS, "left", "Left Box 0"),
        (WINDOWS, "Left Box 3", "Left Box 0"),  # the number changes between starts
        (WINDOWS, "  right box ", "Right Box 1"),
        (ONE_BOX, None, ONE_BOX[1]),  # nothing stands behind the other
        (ONE_BOX, "midi through", ONE_BOX[0]),
        (TWO_SOCKETS, "Two Ways:Two Ways MIDI 2", TWO_SOCKETS[2]),
        (TWO_SOCKETS, "two ways midi 2", TWO_SOCKETS[2]),
        (TWO_SOCKETS, "Two Ways:Two Ways MIDI 2 32:1", TWO_SOCKETS[2]),
        (TEN, "Box:Socket 1", TEN[0]),  # and not the tenth
        (TEN, "Socket 10", TEN[9]),
        (("a 1", "A 1"), "A 1", "A 1"),
        (("RtMidiIn Client-01:floor",), "floor", "RtMidiIn Client-01:floor"),
    ],
)
def test_a_name_that_means_one_port(
    there: tuple[str, ...], wanted: str | None, chosen: str
) -> None:
    assert choose(ports(there), wanted) == Port(chosen, SYSTEM)


@pytest.mark.parametrize(
    ("there", "wanted", "code", "says"),
    [
        (WINDOWS, "box", "port-ambiguous", "‘box’ means 2 output ports"),
        (WINDOWS, "box", "port-ambiguous", "name one of these: ‘Left Box 0’, ‘Right Box 1’"),
        (WINDOWS, None, "port-not-named", "there are 2 output ports: name one of these"),
        (TWO_SOCKETS, "Two Ways", "port-ambiguous", "MIDI 1 28:0’, ‘Two Ways:Two Ways MIDI 2"),
        # The third socket is not there, and another one is not meant.
        (TWO_SOCKETS, "Two Ways:Two Ways MIDI 3 28:2", "port-unknown", "did you mean"),
        (("Box", "Box"), "Box", "port-ambiguous", "2 output ports are called ‘Box’: unplug one"),
        (("Box", "Box"), "bo", "port-ambiguous", "2 output ports are called ‘Box’: unplug one"),
        (WINDOWS, "lefd box", "port-unknown", "did you mean ‘Left Box 0’?"),
        (WINDOWS, "7", "port-unknown", "no output port is called ‘7’"),
        (WINDOWS, " ", "port-unknown", "the name of the port is empty: name one"),
        ((), " ", "port-unknown", "plug in your MIDI interface"),
        ((), None, "no-port", "there is no MIDI output port: plug in"),
        ((), "box", "no-port", "there is no MIDI output port: plug in"),
        (ONE_BOX[:1], None, "no-port", "there is no MIDI output port: plug in"),
        (("\x1b[31mred", "two"), None, "port-not-named", "‘\\x1b[31mred’"),
    ],
)
def test_a_name_that_does_not(
    there: tuple[str, ...], wanted: str | None, code: str, says: str
) -> None:
    problem = choose(ports(there), wanted)
    assert isinstance(problem, Problem)
    assert problem.code == code
    assert says in str(problem)
    assert str(problem).isprintable()


def test_long_names_are_listed_whole() -> None:
    long = "x" * 80
    assert f"‘{long}1’, ‘{long}2’" in str(choose(ports((f"{long}1", f"{long}2")), "xx"))


@pytest.mark.parametrize(
    ("platform", "says", "never"),
    [
        ("linux", "modprobe snd-seq", "Windows"),
        ("win32", "Windows has no virtual ports", "modprobe"),
        ("darwin", "switch it on", "Windows"),
    ],
)
def test_the_way_out_fits_the_computer(platform: str, says: str, never: str) -> None:
    assert says in str(no_ports(platform=platform))
    assert never not in str(no_ports(platform=platform))
    for_one_program = "for one program only" in str(not_opened("box", "busy", platform))
    assert for_one_program is (platform == "win32")


# What stands in the engine's place: it says something, or nothing, or never ends.
SILENT = (sys.executable, "-c", "import time; time.sleep(60)")
OPENED = """
import time
print('{"port": "box", "sent": 0}\\n{"sent": 3}', flush=True)
"""


@pytest.mark.parametrize(
    ("engine", "code", "says"),
    [
        (SILENT, "driver-silent", "the MIDI system does not answer"),
        ((sys.executable, "-c", "import os; os.abort()"), "driver-crashed", "crashed (exit code"),
        ((sys.executable, "-c", OPENED), "port-vanished", "‘box’ went away while sending, after 3"),
        (
            (sys.executable, "-c", f"{OPENED}time.sleep(60)"),
            "port-vanished",
            "‘box’ went away while sending, after 3 messages; nobody knows how many arrived",
        ),
    ],
)
def test_an_engine_that_hangs_or_dies(engine: tuple[str, ...], code: str, says: str) -> None:
    problem = converse({"ask": "ports"}, patience=Patience(2, 1), engine=engine)
    assert isinstance(problem, Problem)
    assert problem.code == code
    assert says in str(problem)


def test_an_engine_that_hangs_while_it_closes_has_sent_all_the_same() -> None:
    said = 'print(\'{"sent": 1, "port": "box", "last": true}\', flush=True)'
    engine = (sys.executable, "-c", f"import time; {said}; time.sleep(60)")
    assert converse({"ask": "send"}, patience=Patience(5, 1), engine=engine) == {
        "sent": 1,
        "port": "box",
        "last": True,
    }


def blocked(folder: Path, **modules: str) -> dict[str, str]:
    """Return an environment in which importing each of ``modules`` does what its text says."""
    for name, text in modules.items():
        (folder / f"{name}.py").write_text(text, encoding="utf-8")
    others = os.environ.get("PYTHONPATH")
    return {"PYTHONPATH": str(folder) + (os.pathsep + others if others else "")}


MISSING = "raise ModuleNotFoundError(f'No module named {__name__!r}', name=__name__)"


@pytest.mark.parametrize("words", [["ports"], ["send", "{night}", "Drowsy Maggie/Walk"]])
def test_without_a_driver(words: list[str], tmp_path: Path) -> None:
    night = Path("examples/winter-dance/granary-night.yaml")
    words = [word.format(night=night) for word in words]
    env = blocked(tmp_path, rtmidi=MISSING, rtmidi2=MISSING)
    ended = setwright(*words, env=env)
    assert (ended.returncode, ended.stdout) == (2, "")
    assert "live MIDI needs a driver, and this Python has none: run:" in ended.stderr
    assert "pip install" in ended.stderr
    assert "Traceback" not in ended.stderr


def test_with_a_driver_that_does_not_load(tmp_path: Path) -> None:
    broken = "raise ImportError('libasound.so.2: cannot open shared object file')"
    ended = setwright("ports", env=blocked(tmp_path, rtmidi=broken, rtmidi2=MISSING))
    assert (ended.returncode, ended.stdout) == (2, "")
    assert "python-rtmidi is installed but does not load (libasound.so.2" in ended.stderr
    assert "Traceback" not in ended.stderr


@pytest.fixture(scope="module")
def server() -> Iterator[Server]:
    with jack_server() as running:
        yield running


def test_ports_are_listed_one_a_line(server: Server) -> None:
    with receiver(server, "floor"), receiver(server, "\x1b[31mfl\u202eoor"):
        ended = setwright("ports", env=server.env)
    assert ended.returncode == 0
    ours = [line for line in ended.stdout.splitlines() if "rtmidi" in line.casefold()]
    assert sorted(line.split(":")[1] for line in ours) == ["\\x1b[31mfl\\u202eoor", "floor"]


def test_no_port_at_all() -> None:
    ended = setwright("ports", env={"JACK_DEFAULT_SERVER": "setwright-nowhere"})
    assert ended.returncode == 0
    if not ended.stdout:  # a computer with sockets of its own lists those
        assert ended.stderr.startswith("there is no MIDI output port: plug in your MIDI interface")
    assert "Traceback" not in ended.stderr


def test_a_server_that_is_frozen(server: Server, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("JACK_DEFAULT_SERVER", server.name)
    os.kill(server.process.pid, signal.SIGSTOP)
    try:
        found = list_ports(patience=Patience(5, 1))
    finally:
        os.kill(server.process.pid, signal.SIGCONT)
    assert isinstance(found, Problem)
    assert found.code == "driver-silent"


def test_nothing_is_left_running(server: Server, monkeypatch: pytest.MonkeyPatch) -> None:
    started: list[subprocess.Popen[bytes]] = []

    class Noted(subprocess.Popen[bytes]):
        def __init__(self, *words: object, **more: object) -> None:
            super().__init__(*words, **more)  # type: ignore[call-overload]
            started.append(self)

    monkeypatch.setattr(subprocess, "Popen", Noted)
    monkeypatch.setenv("JACK_DEFAULT_SERVER", server.name)
    assert isinstance(list_ports(), list)
    assert isinstance(
        converse({"ask": "ports"}, patience=Patience(0.2, 0.2), engine=SILENT), Problem
    )
    with pytest.raises(KeyboardInterrupt):
        converse({"ask": "ports", "way": "output"}, heard=_interrupt)
    assert len(started) == 3
    assert all(process.poll() is not None for process in started)


def _interrupt(reply: dict[str, object]) -> None:
    raise KeyboardInterrupt
