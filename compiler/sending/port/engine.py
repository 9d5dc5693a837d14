"""The process that holds a MIDI driver: one request on its standard input, orders after it.

Request, orders and replies are JSON, each a line (`orders`, `voice`). It says something at once,
before it touches a driver, and then ten times a second at least; ``{}`` only says that it lives.

``{"ask": "ports", "way": "output"}`` is answered with ``{"ports": [[name, system], …], "last":
true}``. ``{"ask": "send", "port": NAME or null, "bundles": [[ms, [hex, …]], …], "linger":
seconds}`` sends each bundle in its millisecond, and ends. ``{"ask": "play", "port": NAME, "wait":
bool}`` opens a port and plays what it is ordered to (`timekeeper`): ``{"do": "send", "number": n,
"bundles": …, "settles": ms}``, ``{"do": "clock", "bpm": quarters a minute or null, "start": bool,
"stop": bool}``, ``{"do": "end"}``. With ``wait`` it waits for a port that is not there yet.
``{"ask": "listen", …}`` opens an input and replies ``{"heard": [[second, hex], …]}``. Both reply
``{"port": name, "system": word}`` when it is open. ``{"ask": "look", "way": …}`` replies
``{"names": […]}``, seen with a fresh handle, over and over: where the system hangs, it falls
silent. ``{"problem": [code, sentence, way out]}`` ends any of them; so does the end of its input,
which tells it to stop before the next bundle. What the drivers' libraries print goes nowhere.
"""

from __future__ import annotations

import gc
import json
import os
import signal
import sys
import time
from collections import deque
from collections.abc import Callable
from typing import Any

from setwright.compiler.sending.port.drivers import Driver, DriverError, find_driver
from setwright.compiler.sending.port.orders import Orders
from setwright.compiler.sending.port.ports import Port, Way, choose, not_opened
from setwright.compiler.sending.port.problem import Problem, gone_input, vanished
from setwright.compiler.sending.port.timekeeper import ROUND, Timekeeper, ask_for_real_time
from setwright.compiler.sending.port.voice import own_voice

Say = Callable[[dict[str, Any]], None]

KNOCK = 0.15
"""Seconds between two looks for all ports."""
AGAIN = 0.2
"""Seconds after which we look again for a port that is not there."""
MOST_AT_ONCE = 500
"""Packets that are passed on in one reply."""
MOST_KEPT = 50_000
"""Packets that are kept for passing on; a MIDI line brings 3,125 bytes a second at most."""


def answer(request: dict[str, Any], say: Say, orders: Orders) -> None:
    """Carry out one request; the last thing said is ``last`` or ``problem``."""
    driver = find_driver()
    if isinstance(driver, Problem):
        say({"problem": driver})
        return
    match request["ask"]:
        case "ports":
            say({"ports": _ports(driver, request["way"]), "last": True})
        case "send":
            _send(driver, request, say, orders)
        case "play":
            _play(driver, request, say, orders)
        case "listen":
            _listen(driver, request, say, orders)
        case "look":
            while not orders.stopped:
                say({"names": [port.name for port in _ports(driver, request["way"])]})
                orders.wake.wait(KNOCK)


def is_allowed(message: bytes) -> bool:
    """Tell whether ``message`` is one whole channel message, the only kind that is ordered.

    MIDI 1.0 Detailed Specification 4.2.1, channel voice messages: Cn and Dn have one data byte,
    the others two. So no system exclusive and no system reset can ever leave.
    """
    if not message or not 0x80 <= message[0] < 0xF0:
        return False
    data = message[1:]
    return len(data) == (1 if message[0] & 0xE0 == 0xC0 else 2) and max(data) < 0x80


def refused(order: dict[str, Any]) -> Problem | None:
    """Return the problem of an order that holds something else than whole channel messages."""
    for _, messages in order["bundles"]:
        for message in messages:
            if not is_allowed(bytes.fromhex(message)):
                what = bytes.fromhex(message).hex(" ") or "an empty message"
                return Problem(
                    "message-refused",
                    f"{what} is no whole channel message, so nothing is sent",
                    "only notes, controls, programs, pressure and bend are ever sent",
                )
    return None


def _ports(driver: Driver, way: Way) -> list[Port]:
    return driver.outputs() if way == "output" else driver.inputs()


def _send(driver: Driver, request: dict[str, Any], say: Say, orders: Orders) -> None:
    """Send what was asked for, and end."""
    port: Port | Problem = refused(request) or choose(driver.outputs(), request["port"])
    if isinstance(port, Problem):
        say({"problem": port})
        return
    orders.add({"do": "send", "number": 0, "bundles": request["bundles"], "settles": 0.0})
    orders.add({"do": "end"})
    _keep(driver, port, say, orders, linger=float(request["linger"]))


def _play(driver: Driver, request: dict[str, Any], say: Say, orders: Orders) -> None:
    """Play at one port what is ordered."""
    port = choose(driver.outputs(), request["port"])
    while isinstance(port, Problem) and request["wait"] and not orders.stopped:
        say({})
        time.sleep(AGAIN)
        port = choose(driver.outputs(), request["port"])
    if isinstance(port, Problem):
        say({"problem": port})
    else:
        _keep(driver, port, say, orders, linger=float(request["linger"]))


def _keep(driver: Driver, port: Port, say: Say, orders: Orders, *, linger: float) -> None:
    try:
        output = driver.open(port)
    except DriverError as error:
        say({"problem": not_opened(port.name, str(error))})
        return
    say({"port": port.name, "system": port.system, "sent": 0})
    keeper = Timekeeper(output, port.name, orders, say, refuses=refused)
    problem = keeper.keep()
    if problem is None:
        # The driver hands messages on later, in a thread of its own.
        time.sleep(linger)
        # Where the server hangs, only a fresh handle tells: it hangs, too.
        if port not in driver.outputs():
            problem = vanished(port.name, keeper.seen, keeper.sent - keeper.seen)
    if problem is not None:
        say({"problem": problem})
        return
    say({"sent": keeper.sent, "port": port.name, "last": True})
    output.close()


def _listen(driver: Driver, request: dict[str, Any], say: Say, orders: Orders) -> None:
    """Pass on what comes in at one port."""
    port = choose(driver.inputs(), request["port"], "input")
    if isinstance(port, Problem):
        say({"problem": port})
        return
    kept: deque[tuple[float, bytes]] = deque()
    dropped = 0

    def taken(at: float, packet: bytes) -> None:
        nonlocal dropped
        if len(kept) >= MOST_KEPT:
            dropped += 1
        elif packet:
            kept.append((at, packet))
        orders.wake.set()

    try:
        opened = driver.listen(port, taken)
    except DriverError as error:
        say({"problem": not_opened(port.name, str(error))})
        return
    say({"port": port.name, "system": port.system})
    looked = time.perf_counter()
    while not orders.stopped:
        orders.wake.wait(ROUND)
        orders.wake.clear()
        while kept:
            some = [kept.popleft() for _ in range(min(len(kept), MOST_AT_ONCE))]
            say({"heard": [(at, packet.hex()) for at, packet in some]})
        if dropped:
            say({"dropped": dropped})
            dropped = 0
        if time.perf_counter() - looked >= ROUND:
            looked = time.perf_counter()
            if not opened.there():
                say({"problem": gone_input(port.name)})
                return
            say({})
    opened.close()
    say({"last": True})


def main() -> None:
    """Answer the request on standard input."""
    orders = Orders(sys.stdin.buffer)
    # The parent is interrupted too, or its terminal closed, and asks us to stop where that can be
    # done; should it have died, our input ends.
    for name in ("SIGINT", "SIGHUP"):
        if hasattr(signal, name):
            signal.signal(getattr(signal, name), signal.SIG_IGN)
    signal.signal(signal.SIGTERM, orders.stop)
    voice = own_voice()
    voice.say({})
    request = json.loads(sys.stdin.buffer.readline())
    if request["ask"] == "play":
        # Before the thread that reads is there, so that it goes first, too.
        voice.say({"real time": ask_for_real_time()})
    orders.begin()
    # Neither looking for garbage nor a thread that reads may hold up a clock.
    gc.disable()
    sys.setswitchinterval(1e-4)
    answer(request, voice.say, orders)
    voice.fall_silent()
    # No destructor of the driver's runs now: with a dead server those hang or crash.
    os._exit(0)


if __name__ == "__main__":
    main()
