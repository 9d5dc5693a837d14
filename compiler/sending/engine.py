"""The process that holds the MIDI driver: one request on its standard input, then it ends.

Request and replies are JSON, each a line. ``{"ask": "ports"}`` is answered with ``{"ports":
[[name, system], …], "last": true}``. ``{"ask": "send", "port": NAME or null, "bundles": [[ms,
[hex, …]], …], "linger": seconds}`` sends each bundle in its millisecond; replies name the port,
count the messages sent, and come at least once a second; the end of its input tells it to stop
before the next bundle. ``{"problem": [code, sentence, way out]}`` ends either. What the drivers'
libraries print goes nowhere.
"""

from __future__ import annotations

import json
import os
import signal
import sys
import threading
import time
from collections.abc import Callable, Sequence
from typing import Any

from setwright.compiler.sending.drivers import Driver, DriverError, Output, find_driver
from setwright.compiler.sending.ports import Port, Problem, choose, not_opened, vanished

Bundle = tuple[float, Sequence[bytes]]
"""Milliseconds from the first message, and messages that must not be parted."""
Say = Callable[[dict[str, Any]], None]

BEAT = 1.0
"""Seconds after which a waiting engine says that it is alive."""


def answer(request: dict[str, Any], say: Say, stop: threading.Event | None = None) -> None:
    """Carry out one request; the last thing said is ``last`` or ``problem``.

    Once ``stop`` is set no further bundle leaves.
    """
    driver = find_driver()
    if isinstance(driver, Problem):
        say({"problem": driver})
        return
    ports = driver.outputs()
    if request["ask"] == "ports":
        say({"ports": ports, "last": True})
        return
    bundles = [
        (float(ms), [bytes.fromhex(message) for message in messages])
        for ms, messages in request["bundles"]
    ]
    refused = next((m for _, messages in bundles for m in messages if not is_allowed(m)), None)
    if refused is not None:
        say({"problem": _refused(refused)})
        return
    port = choose(ports, request["port"])
    if isinstance(port, Problem):
        say({"problem": port})
        return
    _deliver(driver, port, bundles, float(request["linger"]), say, stop or threading.Event())


def is_allowed(message: bytes) -> bool:
    """Tell whether ``message`` is one whole channel message, the only kind that is sent.

    MIDI 1.0 Detailed Specification 4.2.1, channel voice messages: Cn and Dn have one data byte,
    the others two. So no system exclusive and no system reset can ever leave.
    """
    if not message or not 0x80 <= message[0] < 0xF0:
        return False
    data = message[1:]
    return len(data) == (1 if message[0] & 0xE0 == 0xC0 else 2) and max(data) < 0x80


def _refused(message: bytes) -> Problem:
    return Problem(
        "message-refused",
        f"{message.hex(' ') or 'an empty message'} is no whole channel message, so nothing is sent",
        "only notes, controls, programs, pressure and bend are ever sent",
    )


def _deliver(
    driver: Driver,
    port: Port,
    bundles: Sequence[Bundle],
    linger: float,
    say: Say,
    stop: threading.Event,
) -> None:
    try:
        output = driver.open(port)
    except DriverError as error:
        say({"problem": not_opened(port.name, str(error))})
        return
    say({"port": port.name, "sent": 0})
    sent = 0

    def counted(count: int) -> None:
        nonlocal sent
        sent = count
        say({"sent": count})

    try:
        pace(bundles, output, counted, sleep=stop.wait, stopped=stop.is_set)
        # The driver hands messages on later, in a thread of its own.
        _wait(linger, counted, lambda: sent)
    except DriverError:
        say({"problem": vanished(port.name, sent)})
        return
    # Nothing is raised where the other end or the server dies: its name is gone, that is all.
    if port not in driver.outputs():
        say({"problem": vanished(port.name, sent)})
        return
    say({"sent": sent, "port": port.name, "last": True})
    output.close()


def pace(
    bundles: Sequence[Bundle],
    output: Output,
    counted: Callable[[int], None],
    now: Callable[[], float] = time.monotonic,
    sleep: Callable[[float], object] = time.sleep,
    stopped: Callable[[], bool] = lambda: False,
) -> None:
    """Send each bundle at its time, in one piece; ``counted`` is told how many messages are out.

    Ends before the next bundle once it is ``stopped``.

    Times are absolute, so that delays do not add up; but where the computer was late, all that
    follows is as late, for a unit that is busy is busy from when it really heard.
    """
    count = 0
    origin = now()
    for ms, messages in bundles:
        due = origin + ms / 1000
        while (left := due - now()) > 0 and not stopped():
            if left > BEAT:
                counted(count)
            sleep(min(left, BEAT))
        if stopped():
            return
        for message in messages:
            output.send(message)
        origin += max(0.0, now() - due)
        count += len(messages)
        counted(count)


def _wait(seconds: float, counted: Callable[[int], None], count: Callable[[], int]) -> None:
    while seconds > 0:
        time.sleep(min(seconds, BEAT))
        seconds -= BEAT
        counted(count())


def _own_voice() -> Say:
    """Return a way to speak to the parent, and shut everybody else in this process up."""
    voice = os.fdopen(os.dup(1), "w", encoding="ascii", buffering=1)
    nowhere = os.open(os.devnull, os.O_WRONLY)
    os.dup2(nowhere, 1)
    os.dup2(nowhere, 2)

    def say(reply: dict[str, Any]) -> None:
        voice.write(json.dumps(reply) + "\n")

    return say


def _await_end(stop: threading.Event) -> None:
    """Set ``stop`` when the parent closes our input, or has died."""
    while sys.stdin.buffer.read(1):
        pass
    stop.set()


def main() -> None:
    """Answer the request on standard input."""
    # The parent is interrupted too, and asks us to stop where that can be done.
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    say = _own_voice()
    request = json.loads(sys.stdin.buffer.readline())
    stop = threading.Event()
    threading.Thread(target=_await_end, args=(stop,), daemon=True).start()
    answer(request, say, stop)
    # No destructor of the driver's runs now: with a dead server those hang or crash.
    os._exit(0)


if __name__ == "__main__":
    main()
