"""One request to a process that holds a driver, from its start to its end."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import Any

from setwright.compiler.sending.port.child import ENGINE, PATIENCE, Child, Gone, Patience
from setwright.compiler.sending.port.lookout import Lookout
from setwright.compiler.sending.port.ports import Port, Way
from setwright.compiler.sending.port.problem import Problem, crashed, silent, vanished

ROUND = 0.05
"""Seconds between two looks at whether all is well."""


def list_ports(
    way: Way = "output", *, patience: Patience = PATIENCE, engine: Sequence[str] = ENGINE
) -> list[Port] | Problem:
    """Return the ports of one way that this computer has now, in the driver's order."""
    found = converse({"ask": "ports", "way": way}, patience=patience, engine=engine)
    if isinstance(found, Problem):
        return found
    return [Port(name, system) for name, system in found["ports"]]


def converse(
    request: dict[str, object],
    *,
    patience: Patience = PATIENCE,
    engine: Sequence[str] = ENGINE,
    heard: Callable[[dict[str, Any]], None] = lambda reply: None,
) -> dict[str, Any] | Problem:
    """Put one request to a new process and return its last reply.

    ``heard`` is told every reply. Never waits longer than ``patience`` for the next word, and
    never leaves the process running behind it. A reply with ``problem`` is returned as a
    `Problem`. The first KeyboardInterrupt while something is sent asks it to stop; the reply then
    has ``interrupted``, which is ``sure`` if the process itself said what has left.
    """
    child = Child(request, patience=patience, engine=engine)
    lookout: Lookout | None = None
    name: str | None = None
    sent = 0
    stopping = False

    def left(how: str) -> dict[str, Any]:
        return {"sent": sent, "port": name, "interrupted": how}

    def listen() -> dict[str, Any] | Problem:
        nonlocal name, sent, lookout
        while True:
            reply = child.word(ROUND)
            if lookout is not None and lookout.misses_it() and not stopping:
                return vanished(name, sent)
            if reply is None and not child.is_silent:
                continue
            if reply is None or isinstance(reply, Gone):
                if stopping:
                    return left("unsure")
                if name is not None:
                    return vanished(name, sent)
                return silent() if reply is None else crashed(reply.status)
            name, sent = reply.get("port", name), reply.get("sent", sent)
            if "system" in reply and lookout is None:
                port = Port(reply["port"], reply["system"])
                lookout = Lookout(port, "output", patience, engine)
            heard(reply)
            if "problem" in reply:
                return Problem(*reply["problem"])
            if "last" in reply:
                child.wait()
                return reply | left("sure") if stopping else reply

    try:
        while True:
            try:
                return listen()
            except KeyboardInterrupt:
                if request["ask"] != "send":
                    raise
                if stopping:
                    return left("unsure")
                stopping = True
                child.hang_up()
    finally:
        child.end()
        if lookout is not None:
            lookout.close()
