"""Whether a port is still there, as somebody sees who comes anew.

Where a JACK server dies, or hangs, who is connected notices nothing: it takes what is sent, shows
its ports, and does nothing (measured with jackd2 1.9.21). Only a fresh handle shows it, which takes
40 ms and may hang; so a process of its own knocks again and again. Other systems of ports are a
part of the operating system and do not die by themselves (from memory), so nobody is sent there.
"""

from __future__ import annotations

from collections.abc import Sequence

from setwright.compiler.sending.port.child import Child, Gone, Patience
from setwright.compiler.sending.port.ports import Port, Way

DIES = "UNIX_JACK"
"""The driver's word for the system that may die or hang."""
TWICE = 2
"""Looks, one after the other, that have to miss it: a handle may fail to open while others do."""
SILENCE = 1.0
"""Seconds after its last word from which on the server counts as hanging: it knocks every 0.15."""


class Lookout:
    """Somebody who looks for a port with fresh handles, where that tells more than the old one."""

    def __init__(self, port: Port, way: Way, patience: Patience, engine: Sequence[str]) -> None:
        self._port, self._way = port, way
        self._patience, self._engine = Patience(patience.start, SILENCE), engine
        self._missed = 0
        self._child = self._knock() if port.system == DIES else None

    def misses_it(self) -> bool:
        """Tell whether the port has gone, or its server answers no more."""
        while self._child is not None and (said := self._child.word(0)) is not None:
            if isinstance(said, Gone):
                # The library may crash where its server dies: another one tells whether it has.
                self._child.end()
                self._child = self._knock()
                return False
            if "names" in said:
                self._missed = 0 if self._port.name in said["names"] else self._missed + 1
            if self._missed >= TWICE:
                return True
        return self._child is not None and self._child.is_silent

    def close(self) -> None:
        """Knock no more."""
        if self._child is not None:
            self._child.end()
            self._child = None

    def _knock(self) -> Child:
        request: dict[str, object] = {"ask": "look", "way": self._way}
        return Child(request, patience=self._patience, engine=self._engine)
