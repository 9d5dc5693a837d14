"""Output ports: which there are, which one a name means, and how the driver is talked to.

The driver lives in a process of its own (`setwright.compiler.sending.engine`), for three
reasons: its libraries write to the terminal, they crash, and where a JACK server dies they may
hang for ever with the interpreter locked. This room starts that process, listens to it with a
limit on its silence, and ends it whatever happens. What goes wrong is a `Problem`.
"""

from __future__ import annotations

import json
import queue
import re
import subprocess
import sys
import threading
from collections.abc import Callable, Iterable, Sequence
from contextlib import suppress
from typing import IO, Any, NamedTuple

from setwright.scenes.finding import visible
from setwright.scenes.names import suggestion
from setwright.scenes.quantities import quoted
from setwright.scenes.wording import number_of

ENGINE = (sys.executable, "-P", "-m", "setwright.compiler.sending.engine")
"""The process that holds the driver; -P keeps the user's folder out of its imports."""
PATIENCE = 10.0
"""Seconds for which the engine may say nothing: it speaks at least once a second."""


class Problem(NamedTuple):
    """Why something could not be sent: a code that never changes, a sentence, the way out."""

    code: str
    sentence: str
    way_out: str

    def __str__(self) -> str:
        return visible(f"{self.sentence}: {self.way_out}")


class Port(NamedTuple):
    """An output port: its name as the driver shows it, and the driver's word for its system."""

    name: str
    system: str


def list_ports(
    *, patience: float = PATIENCE, engine: Sequence[str] = ENGINE
) -> list[Port] | Problem:
    """Return the output ports that this computer has now, in the driver's order."""
    found = converse({"ask": "ports"}, patience=patience, engine=engine)
    if isinstance(found, Problem):
        return found
    return [Port(name, system) for name, system in found["ports"]]


def choose(ports: Iterable[Port], wanted: str | None) -> Port | Problem:
    """Return the port that ``wanted`` means; None means the only one that there is.

    A name is taken if it is exact; else if exactly one port has it as its name or, failing
    that, within its name, in any case of letters and with the number at the end ignored, for
    that number changes between starts. The first of these that fits any port decides, and what
    fits several is a problem that lists them.
    """
    known = list(ports)
    if wanted is None:
        boxes = [port for port in known if not _is_loop_through(port)]
        if len(boxes) == 1:
            return boxes[0]
        if boxes:
            return Problem("port-not-named", f"there are {len(boxes)} output ports", _one_of(boxes))
        return no_ports()
    if not wanted.strip():
        return Problem("port-unknown", "the name of the port is empty", _one_of(known))
    for fits in (_exactly, _by_whole_name, _within, _within_without_number):
        found = [port for port in known if fits(port.name, wanted)]
        if len(found) == 1:
            return found[0]
        if len({port.name for port in found}) > 1:
            sentence = f"{quoted(wanted)} means {len(found)} output ports"
            return Problem("port-ambiguous", sentence, _one_of(found))
        if found:
            return Problem(
                "port-ambiguous",
                f"{len(found)} output ports are called {_named(found[0].name)}",
                "unplug one of them, or give one another name in the system's settings",
            )
    if not known:
        return no_ports()
    near = suggestion(wanted, [port.name for port in known], "")
    return Problem("port-unknown", f"no output port is called {quoted(wanted)}", near)


def no_ports(platform: str = sys.platform) -> Problem:
    """Return the problem that there is no port at all, with the way out on ``platform``."""
    way_out = "plug in your MIDI interface and switch it on"
    if platform.startswith("linux"):
        way_out += "; ports also need ALSA's sequencer (modprobe snd-seq) or a running JACK server"
    elif platform == "win32":
        way_out += "; Windows has no virtual ports, and a program cannot make any"
    return Problem("no-port", "there is no MIDI output port", way_out)


def not_opened(name: str, reason: str, platform: str = sys.platform) -> Problem:
    """Return the problem that a port is there but does not open."""
    way_out = "unplug it and plug it in again, then try once more"
    if platform == "win32":
        way_out = (
            "Windows opens a port for one program only, so close the other program that uses it"
        )
    why = f" ({reason})" if reason else ""
    return Problem("port-not-opened", f"the port {_named(name)} could not be opened{why}", way_out)


def vanished(name: str | None, sent: int) -> Problem:
    """Return the problem that a port went away while messages were sent to it."""
    port = f"the port {_named(name)}" if name is not None else "the MIDI system"
    return Problem(
        "port-vanished",
        f"{port} went away while sending, after {number_of(sent, 'message')}; "
        "nobody knows how many arrived",
        "see to its cable, its power and its server, and send the scene again",
    )


def _named(name: str) -> str:
    # Never cut: ports of one box differ in their last character.
    return f"‘{name}’"


def _one_of(ports: Iterable[Port]) -> str:
    names = ", ".join(_named(port.name) for port in ports)
    return f"name one with --port: {names}" if names else no_ports().way_out


def _is_loop_through(port: Port) -> bool:
    """Tell whether ``port`` is the one that Linux always has and behind which nothing stands.

    ALSA's sequencer calls it ``Midi Through`` (from memory).
    """
    return port.name.casefold().startswith("midi through")


# ALSA adds client and port ("28:0"), Windows an index (" 1"), others "-1" or "_1".
_ADDRESS = re.compile(r"\s+\d+:\d+\s*$")
_NUMBER = re.compile(r"[\s_-]*\d+\s*$")


def _exactly(name: str, wanted: str) -> bool:
    return name == wanted


def _by_whole_name(name: str, wanted: str) -> bool:
    whole, asked = name.casefold().strip(), wanted.casefold().strip()
    return asked in {whole, _ADDRESS.sub("", whole)}


def _within(name: str, wanted: str) -> bool:
    return wanted.casefold().strip() in name.casefold()


def _within_without_number(name: str, wanted: str) -> bool:
    # What stands before an address belongs to the port: the second socket of a box is no other.
    changing = _ADDRESS if _ADDRESS.search(name) else _NUMBER
    asked = changing.sub("", wanted.casefold()).strip()
    return bool(asked) and asked in changing.sub("", name.casefold())


def converse(
    request: dict[str, object],
    *,
    patience: float = PATIENCE,
    engine: Sequence[str] = ENGINE,
    heard: Callable[[dict[str, Any]], None] = lambda reply: None,
) -> dict[str, Any] | Problem:
    """Put one request to a new engine and return its last reply.

    ``heard`` is told every reply. Never waits longer than ``patience`` seconds for the next
    word, and never leaves the engine running behind it. A reply with ``problem`` is returned as
    a `Problem`. The first KeyboardInterrupt while something is sent asks the engine to stop; the
    reply then has ``interrupted``, which is ``sure`` if the engine itself said what has left.
    """
    process = subprocess.Popen(
        engine, stdin=subprocess.PIPE, stdout=subprocess.PIPE, stderr=subprocess.DEVNULL
    )
    assert process.stdin is not None
    assert process.stdout is not None
    words: queue.SimpleQueue[bytes] = queue.SimpleQueue()
    listener = threading.Thread(target=_listen, args=(process.stdout, words), daemon=True)
    listener.start()
    name: str | None = None
    sent = 0
    stopping = False

    def left(how: str) -> dict[str, Any]:
        return {"sent": sent, "port": name, "interrupted": how}

    def listen() -> dict[str, Any] | Problem:
        nonlocal name, sent
        while True:
            try:
                line = words.get(timeout=patience)
            except queue.Empty:
                return left("unsure") if stopping else _silent(name, sent)
            if not line:
                return left("unsure") if stopping else _ended(process, patience, name, sent)
            reply: dict[str, Any] = json.loads(line)
            name, sent = reply.get("port", name), reply.get("sent", sent)
            heard(reply)
            if "problem" in reply:
                return Problem(*reply["problem"])
            if "last" in reply:
                # Closing the port is all that is left to do, and all that may still hang.
                with suppress(subprocess.TimeoutExpired):
                    process.wait(patience)
                return reply | left("sure") if stopping else reply

    try:
        with suppress(OSError):  # it ended before it read: its silence tells
            process.stdin.write(json.dumps(request).encode() + b"\n")
            process.stdin.flush()
        while True:
            try:
                return listen()
            except KeyboardInterrupt:
                if request["ask"] != "send":
                    raise
                if stopping:
                    return left("unsure")
                stopping = True
                with suppress(OSError):
                    process.stdin.close()
    finally:
        process.kill()
        process.wait()
        listener.join(patience)
        process.stdout.close()
        with suppress(OSError):
            process.stdin.close()


def _listen(stream: IO[bytes], words: queue.SimpleQueue[bytes]) -> None:
    for line in stream:
        words.put(line)
    words.put(b"")


def _silent(name: str | None, sent: int) -> Problem:
    if name is not None:
        return vanished(name, sent)
    return Problem(
        "driver-silent",
        "the MIDI system does not answer",
        "restart the JACK or sound server if one runs, unplug the interface and plug it in again",
    )


def _ended(
    process: subprocess.Popen[bytes], patience: float, name: str | None, sent: int
) -> Problem:
    with suppress(subprocess.TimeoutExpired):
        process.wait(patience)
    if name is not None:
        return vanished(name, sent)
    return Problem(
        "driver-crashed",
        f"the MIDI driver crashed (exit code {process.returncode})",
        "restart the JACK or sound server if one runs, and try again",
    )
