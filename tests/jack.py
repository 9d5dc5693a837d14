"""Real MIDI ports without hardware: JACK's server with its dummy driver, and receivers on it.

Runs side by side take turns: JACK's sockets are called after clients, without their server, so
clients of one name on two servers get in each other's way (measured with jackd2 1.9.21). Servers
have few names, used again, for JACK remembers eight at most and forgets one that was killed only
when its name comes back. Each is ended whatever happens. ``-S`` (synchronous) matters: without
it the dummy driver loses messages. So does the period: a client that the machine holds up for
more than some ten periods misses what came (measured, a receiver stopped for 20 ms at a time: of
32 frames a period 3 messages in 100 were lost, of 512 none).
"""

from __future__ import annotations

import importlib.util
import os
import shutil
import signal
import subprocess
import sys
import tempfile
import threading
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager, suppress
from dataclasses import dataclass, field
from pathlib import Path
from typing import TextIO

import pytest

RECEIVER = Path(__file__).with_name("receiver.py")
SENDER = Path(__file__).with_name("sender.py")
NAMES = tuple(f"setwright-tests-{letter}" for letter in "abcdef")
PERIOD = 512
TURN = 300.0
"""Seconds for which one run waits for another."""
AT_ONCE = 500
"""Packets that a sender is told of before it is listened to: its pipe must not fill."""
PATIENCE = 30.0
"""Seconds after which something has gone wrong; nothing here takes a tenth of it."""

# Opens a client as soon as the server lets it: options JackNoStartServer (1), JackUseExactName
# (2) and JackServerName (4) of JACK's types.h.
_WAIT = """
import ctypes, sys, time
jack = ctypes.CDLL("libjack.so.0")
jack.jack_client_open.restype = ctypes.c_void_p
jack.jack_client_close.argtypes = [ctypes.c_void_p]
for _ in range(200):
    client = jack.jack_client_open(b"waiting", 1 | 4, None, ctypes.c_char_p(sys.argv[1].encode()))
    if client:
        jack.jack_client_close(client)
        sys.exit()
    time.sleep(0.05)
sys.exit(1)
"""


def need_ports() -> None:
    """Skip the test, by name, where there is no JACK server or no driver."""
    if shutil.which("jackd") is None:
        pytest.skip("needs jackd")
    if not any(importlib.util.find_spec(name) for name in ("rtmidi", "rtmidi2")):
        pytest.skip("needs python-rtmidi")


@dataclass
class Server:
    """A running JACK server; ``env`` is what a process needs to find it."""

    name: str
    process: subprocess.Popen[bytes]
    option: str
    period: int
    lock: int
    env: dict[str, str] = field(init=False)

    def __post_init__(self) -> None:
        self.env = {"JACK_DEFAULT_SERVER": self.name}

    def kill(self) -> None:
        """End it at once, as when it crashes."""
        self.process.kill()
        self.process.wait()

    def start_again(self) -> None:
        """Start it under the same name after it was killed."""
        self.process = _start(self.name, self.option, self.period, self.lock)
        if not _is_up(self):
            raise RuntimeError("jackd does not start again")


@contextmanager
def jack_server(period: int = PERIOD) -> Iterator[Server]:
    """Run a JACK server of its own name, of ``period`` frames a period at 48,000 a second."""
    need_ports()
    with _own_turn(), _own_name() as (name, lock):
        # Real-time scheduling is refused in many containers; the dummy driver does without.
        for option in ("-R", "--no-realtime"):
            server = Server(name, _start(name, option, period, lock), option, period, lock)
            try:
                if _is_up(server):
                    yield server
                    return
            finally:
                was_killed = server.process.poll() == -signal.SIGKILL
                _end(server.process)
                if was_killed:
                    _clear_up(server)
    raise RuntimeError("jackd does not start, neither with -R nor with --no-realtime")


_turn: list[TextIO] = []
"""The lock of this run, once for each server that it has now."""


@contextmanager
def _own_turn() -> Iterator[None]:
    """Wait until no other run has a server, and keep the others waiting as long as we have one."""
    if _turn:
        lock = _turn[0]
    else:
        lock = _lock_file("setwright-tests-turn").open("w", encoding="ascii")
        if not _comes_true(lambda: _locked(lock), TURN):
            lock.close()
            raise RuntimeError(f"another run has had a JACK server for {TURN} seconds")
    _turn.append(lock)
    try:
        yield
    finally:
        _turn.pop()
        if not _turn:
            lock.close()


@contextmanager
def _own_name() -> Iterator[tuple[str, int]]:
    """Take a name that no server has, and the lock that says so.

    The server inherits the lock: it keeps its name even where the run that started it is dead.
    """
    for name in NAMES:
        with _lock_file(name).open("w", encoding="ascii") as lock:
            if _locked(lock):
                yield name, lock.fileno()
                return
    raise RuntimeError(f"servers of earlier runs are still there: {', '.join(NAMES)}")


def _lock_file(name: str) -> Path:
    return Path(tempfile.gettempdir()) / f"{name}-{os.getuid()}.lock"


def _locked(file: TextIO) -> bool:
    import fcntl

    try:
        fcntl.flock(file, fcntl.LOCK_EX | fcntl.LOCK_NB)
    except BlockingIOError:
        return False
    return True


def _comes_true(what: Callable[[], bool], seconds: float) -> bool:
    deadline = time.monotonic() + seconds
    while not what():
        if time.monotonic() > deadline:
            return False
        time.sleep(0.1)
    return True


def _start(name: str, option: str, period: int, lock: int) -> subprocess.Popen[bytes]:
    driver = ["-d", "dummy", "-r", "48000", "-p", str(period)]
    words = ["jackd", "-n", name, option, "-S", *driver]
    nowhere = subprocess.DEVNULL
    return subprocess.Popen(words, stdin=nowhere, stdout=nowhere, stderr=nowhere, pass_fds=[lock])


def _clear_up(killed: Server) -> None:
    """Take away the shared memory of a server that was killed: the next of its name does."""
    killed.process = _start(killed.name, killed.option, killed.period, killed.lock)
    _is_up(killed)
    _end(killed.process)
    for left in Path("/dev/shm").glob(f"*{killed.name}*"):
        left.unlink(missing_ok=True)


def _is_up(server: Server) -> bool:
    waited = subprocess.run(
        [sys.executable, "-c", _WAIT, server.name],
        capture_output=True,
        check=False,
        timeout=PATIENCE,
    )
    return waited.returncode == 0 and server.process.poll() is None


def _end(process: subprocess.Popen[bytes]) -> None:
    process.terminate()
    try:
        process.wait(5)
    except subprocess.TimeoutExpired:
        process.kill()
        process.wait()


class Receiver:
    """A receiver's process and what it has heard."""

    def __init__(self, name: str, server: Server) -> None:
        self.name = name
        self._lines: list[str] = []
        self._changed = threading.Condition()
        self._process = subprocess.Popen(
            [sys.executable, str(RECEIVER), name],
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            stderr=subprocess.DEVNULL,
            encoding="ascii",
            env={**os.environ, **server.env},
        )
        self._listener = threading.Thread(target=self._listen, daemon=True)
        self._listener.start()
        self.wait_for("ready")

    def _listen(self) -> None:
        assert self._process.stdout is not None
        for line in self._process.stdout:
            with self._changed:
                self._lines.append(line.rstrip("\n"))
                self._changed.notify_all()

    def wait_for(self, line: str) -> None:
        """Wait until ``line`` has been said."""
        with self._changed:
            if not self._changed.wait_for(lambda: line in self._lines, PATIENCE):
                raise RuntimeError(f"the receiver never said {line!r}, but {self._lines}")

    def heard(self) -> list[str]:
        """Close the port and return everything that came: bytes, two spaces, meaning."""
        assert self._process.stdin is not None
        self._process.stdin.close()
        self._process.wait(PATIENCE)
        self._listener.join(PATIENCE)
        assert self._lines[0] == "ready"
        assert self._lines[-1] == "end"
        return self._lines[1:-1]

    def kill(self) -> None:
        """End it at once, as when somebody pulls the plug."""
        self._process.kill()
        self._process.wait()
        self._listener.join(PATIENCE)
        assert self._process.stdin is not None
        assert self._process.stdout is not None
        self._process.stdin.close()
        self._process.stdout.close()


@contextmanager
def receiver(server: Server, name: str) -> Iterator[Receiver]:
    """Run a receiver called ``name`` on ``server``."""
    running = Receiver(name, server)
    try:
        yield running
    finally:
        running.kill()


class Sender:
    """A sender's process."""

    def __init__(self, name: str, server: Server) -> None:
        self._process = subprocess.Popen(
            [sys.executable, str(SENDER), name],
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            stderr=subprocess.DEVNULL,
            encoding="ascii",
            env={**os.environ, **server.env},
        )
        assert self._process.stdout is not None
        assert self._process.stdout.readline() == "ready\n", "the sender did not open its port"

    def send(self, *packets: str) -> None:
        """Send packets in hexadecimal, with their times if they have some; wait until all left."""
        assert self._process.stdin is not None
        assert self._process.stdout is not None
        for at in range(0, len(packets), AT_ONCE):
            some = packets[at : at + AT_ONCE]
            self._process.stdin.write("".join(f"{packet}\n" for packet in some))
            self._process.stdin.flush()
            for packet in some:
                said = self._process.stdout.readline()
                assert said == f"{packet}\n", f"the sender said {said!r}, not {packet!r}"

    def kill(self) -> None:
        """End it at once, as when somebody pulls the plug."""
        self._process.kill()
        self._process.wait()
        assert self._process.stdin is not None
        assert self._process.stdout is not None
        with suppress(OSError):
            self._process.stdin.close()
        self._process.stdout.close()


@contextmanager
def sender(server: Server, name: str) -> Iterator[Sender]:
    """Run a sender called ``name`` on ``server``."""
    running = Sender(name, server)
    try:
        yield running
    finally:
        running.kill()
