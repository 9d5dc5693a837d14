"""How well time is kept at a port: ``python -m tests.bench live``.

A bare loop of a few lines, with the same driver and the same priority, is the floor; it and the
engine take turns, while another process keeps one core busy. A recorder in a process of its own
says when each byte came, by the driver's own clock. JACK's dummy driver serves: with 32 frames a
period it takes and brings messages every 0.67 ms, so nothing here is finer than that.
"""

from __future__ import annotations

import json
import os
import signal
import subprocess
import sys
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from fractions import Fraction
from functools import partial
from statistics import linear_regression

from setwright.compiler.compiled import Compiled
from setwright.compiler.midi import encode
from setwright.compiler.pipeline import compile_night
from setwright.compiler.sending.port.line import Line, Restarted
from setwright.compiler.sending.port.problem import Problem
from setwright.compiler.sending.port.schedule import Done
from tests.conftest import DEMO
from tests.jack import PATIENCE, Server, jack_server, receiver

SECONDS = 20
FAST = 32
"""Frames a period of the server by which times are taken."""

RECORDER = """
import json, os, sys, time, rtmidi
os.nice(0)
try:
    os.sched_setscheduler(0, os.SCHED_FIFO, os.sched_param(10))
except OSError:
    pass
came, at = [], [0.0]
def heard(event, _):
    at[0] = at[0] + event[1] if came else time.monotonic()
    came.append((at[0], time.monotonic(), bytes(event[0]).hex()))
port = rtmidi.MidiIn(rtmidi.API_UNIX_JACK, sys.argv[1])
port.ignore_types(False, False, False)
port.set_callback(heard)
port.open_virtual_port(sys.argv[1])
print("ready", flush=True)
sys.stdin.read()
port.cancel_callback()
print(json.dumps(came), flush=True)
os._exit(0)
"""

BARE = """
import gc, os, sys, time, rtmidi
port = rtmidi.MidiOut(rtmidi.API_UNIX_JACK, "bare")
port.open_port([sys.argv[1] in name for name in port.get_ports()].index(True))
gc.disable()
try:
    os.sched_setscheduler(0, os.SCHED_FIFO, os.sched_param(20))
except OSError:
    pass
interval = 60 / float(sys.argv[2]) / 24
due = time.monotonic() + 0.1
end = due + float(sys.argv[3])
while due < end:
    time.sleep(max(0.0, due - time.monotonic() - 0.0005))
    while time.monotonic() < due:
        pass
    port.send_message(b"\\xf8")
    due += interval
time.sleep(0.25)
os._exit(0)
"""

Came = list[tuple[float, float, str]]
"""Of each message: the driver's second, ours, and its bytes."""


@contextmanager
def recorder(server: Server, name: str) -> Iterator[Callable[[], Came]]:
    """Run a recorder; what is yielded ends it and returns what came."""
    process = subprocess.Popen(
        [sys.executable, "-c", RECORDER, name],
        stdin=subprocess.PIPE,
        stdout=subprocess.PIPE,
        stderr=subprocess.DEVNULL,
        env={**os.environ, **server.env},
        encoding="ascii",
    )
    assert process.stdout is not None
    lines = iter(process.stdout)
    while next(lines).strip() != "ready":
        pass

    def ended() -> Came:
        assert process.stdin is not None
        process.stdin.close()
        return [(at, ours, data) for at, ours, data in json.loads(next(lines))]

    try:
        yield ended
    finally:
        process.kill()
        process.wait()


@contextmanager
def busy() -> Iterator[None]:
    """Keep one core busy."""
    process = subprocess.Popen([sys.executable, "-c", "while True: pass"])
    try:
        yield
    finally:
        process.kill()
        process.wait()


def percentile(values: list[float], part: float) -> float:
    """Return the value below which so many hundredths of the others lie."""
    return sorted(values)[min(len(values) - 1, int(len(values) * part / 100))]


def lateness(came: Came, bpm: int) -> tuple[list[float], float]:
    """Return the ms by which each clock came late, and the ms by which they drifted.

    The one that came earliest, for its place, counts as in time. Drift is that of the straight line
    that lies nearest to all of them, from the first to the last.
    """
    interval = 60 / bpm / 24
    ticks = [at for at, _, data in came if data == "f8"]
    offsets = [at - number * interval for number, at in enumerate(ticks)]
    late = [(one - min(offsets)) * 1000 for one in offsets]
    return late, linear_regression(range(len(late)), late).slope * len(late)


def bare(server: Server, bpm: int) -> Came:
    with recorder(server, "floor") as ended:
        subprocess.run(
            [sys.executable, "-c", BARE, "floor", str(bpm), str(SECONDS)],
            env={**os.environ, **server.env},
            stderr=subprocess.DEVNULL,
            check=True,
        )
        return ended()


def engine(server: Server, bpm: int, *, scenes: bool) -> Came:
    with recorder(server, "floor") as ended, opened() as line:
        line.clock(Fraction(bpm))
        until = time.monotonic() + SECONDS
        while time.monotonic() < until:
            if scenes:
                line.send([(0.0, [b"\xb0\x00\x01", b"\xc0\x05"]), (3.0, [b"\xb1\x14\x40"])])
            else:
                # As a book is read meanwhile, which must not be heard.
                compile_night(DEMO / "granary-night.yaml")
            time.sleep(0.05)
        line.clock(None)
        line.close()
        return ended()


@contextmanager
def opened() -> Iterator[Line]:
    line = Line.open("floor")
    if not isinstance(line, Line):
        sys.exit(f"bench: {line}")
    with line:
        yield line
    while (news := line.get(0)) is not None:
        if isinstance(news, Restarted):
            sys.stdout.write(f"(the port was away: {news.why.sentence})\n")


def clocks() -> Iterator[str]:
    """Yield a row for each tempo: the bare loop, the engine, the engine while it sends scenes."""
    yield f"{'clock':28} {'median':>8} {'p99':>8} {'max':>8} {'drift':>8}  ms"
    with jack_server(FAST) as server, busy():
        os.environ.update(server.env)
        for bpm in (60, 120, 200):
            ways = {
                "bare loop": partial(bare, server, bpm),
                "engine": partial(engine, server, bpm, scenes=False),
                "with scenes": partial(engine, server, bpm, scenes=True),
            }
            for what, run in ways.items():
                late, drift = lateness(run(), bpm)
                yield (
                    f"{bpm} BPM, {what}".ljust(28)
                    + f" {percentile(late, 50):8.3f} {percentile(late, 99):8.3f}"
                    f" {max(late):8.3f} {drift:8.3f}"
                )


def keys() -> Iterator[str]:
    """Yield how long it takes from a key to the first byte, and how fast the rest follows."""
    scene = [(0.0, [b"\xb0\x00\x01", b"\xc0\x05"]), (1.6, [b"\xb1\x14\x40"])]
    wire = 5 * 0.320
    pressed: list[float] = []
    with jack_server(FAST) as server, busy():
        os.environ.update(server.env)
        with recorder(server, "floor") as ended, opened() as line:
            for _ in range(300):
                time.sleep(0.02)
                pressed.append(time.monotonic())
                line.send(scene)
            time.sleep(0.2)
            came = ended()
    firsts = [ours for _, ours, data in came if data.startswith("b000")]
    lasts = [ours for _, ours, data in came if data.startswith("b114")]
    first = [(at - key) * 1000 for at, key in zip(firsts, pressed, strict=True)]
    rest = [(end - begin) * 1000 - wire for begin, end in zip(firsts, lasts, strict=True)]
    yield f"key to first byte: median {percentile(first, 50):.2f}, p99 {percentile(first, 99):.2f} ms"
    yield f"the rest beyond the wire's time: median {percentile(rest, 50):.2f} ms"


def scenes(count: int) -> Iterator[str]:
    """Yield what became of so many scenes of the demo, one after the other."""
    compiled = compile_night(DEMO / "granary-night.yaml")
    assert isinstance(compiled, Compiled)
    routes = [
        [encode(timed.command.message) for timed in scene.lowered.direct.commands]
        for scene in compiled.scenes.values()
    ]
    wanted: list[str] = []
    with jack_server() as server:
        os.environ.update(server.env)
        with recorder(server, "floor") as ended, opened() as line:
            start = time.monotonic()
            for number in range(count):
                messages = routes[number % len(routes)]
                wanted += [one.hex() for one in messages]
                sent = line.send([(0.0, messages)])
                while not (isinstance(news := line.get(5), Done) and news.number == sent):
                    if news is None or isinstance(news, Problem):
                        sys.exit(f"bench: {news}")
            taken = time.monotonic() - start
            time.sleep(0.3)
            came = [data for _, _, data in ended()]
    size = sum(len(one) // 2 for one in wanted)
    same = "as they were sent" if came == wanted else "NOT as they were sent"
    yield (
        f"{count} scenes, {len(wanted)} messages: {len(came)} came, {same}; "
        f"{taken:.1f} s ÷ {size * 0.00032:.1f} s on the wire"
    )


def faults() -> Iterator[str]:
    """Yield how long it takes until a fault is seen, and until all is well again."""
    seen: dict[str, list[float]] = {}
    for _ in range(5):
        with jack_server() as server:
            os.environ.update(server.env)
            with receiver(server, "floor") as floor, opened() as line:
                line.send([(0.0, [b"\xc0\x05"])])
                floor.wait_for("c0 05  channel 1 program 5")
                start = time.monotonic()
                floor.kill()
                _until(line, Problem)
                seen.setdefault("other end killed: seen", []).append(time.monotonic() - start)
                with receiver(server, "floor") as floor:
                    start = time.monotonic()
                    floor.wait_for("c0 05  channel 1 program 5")
                    seen.setdefault("is back: scene again", []).append(time.monotonic() - start)
                    _until(line, Restarted)
                    time.sleep(0.5)
                    start = time.monotonic()
                    os.kill(server.process.pid, signal.SIGSTOP)
                    _until(line, Problem)
                    seen.setdefault("server hangs: seen", []).append(time.monotonic() - start)
                    os.kill(server.process.pid, signal.SIGCONT)
                    _until(line, Restarted)
                    time.sleep(0.5)
                    start = time.monotonic()
                    server.kill()
                    _until(line, Problem)
                    seen.setdefault("server killed: seen", []).append(time.monotonic() - start)
                server.start_again()
                with receiver(server, "floor") as floor:
                    start = time.monotonic()
                    floor.wait_for("c0 05  channel 1 program 5")
                    seen.setdefault("server back: scene again", []).append(time.monotonic() - start)
    for what, times in seen.items():
        yield f"{what:28} median {percentile(times, 50):.2f}, most {max(times):.2f} s"


def _until(line: Line, kind: type[Problem | Restarted]) -> None:
    deadline = time.monotonic() + PATIENCE
    while time.monotonic() < deadline:
        if isinstance(line.get(0.5), kind):
            return
    sys.exit(f"bench: no {kind.__name__}")


def live() -> Iterator[str]:
    """Yield all of it."""
    yield from keys()
    yield from faults()
    yield from scenes(10_000)
    yield from clocks()
