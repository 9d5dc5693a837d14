"""The MIDI drivers that sending can use, each behind the same three functions.

``mido`` with ``python-rtmidi`` is the first choice; that has no wheels for CPython 3.13 and newer,
so there ``rtmidi2`` serves, a binding of the same library that has them. Both are asked for each
system of ports by name, since their own choice fails where the first system is not there.

Only the engine's own process imports this room's drivers.
"""

from __future__ import annotations

import ctypes
import importlib
import sys
from contextlib import suppress
from typing import Any, Protocol

from setwright.compiler.sending.ports import Port, Problem

LISTED_BY_RTMIDI2 = {
    "linux": ("LINUX_ALSA", "UNIX_JACK"),
    "darwin": ("MACOSX_CORE",),
    "win32": ("WINDOWS_MM",),
}
"""Systems of ports by platform; rtmidi2 does not say which ones it was built with."""


class DriverError(Exception):
    """A driver refused; the text is its own."""


class Output(Protocol):
    """An open output port."""

    def send(self, message: bytes) -> None:
        """Hand one whole message to the driver; it leaves soon after."""

    def close(self) -> None:
        """Close the port; to send afterwards crashes some drivers."""


class Driver(Protocol):
    """A way to the ports of this computer."""

    def outputs(self) -> list[Port]:
        """Return the output ports that are there now, seen with a fresh handle."""

    def open(self, port: Port) -> Output:
        """Open ``port`` and nothing else; DriverError where that fails."""


def find_driver() -> Driver | Problem:
    """Return the first driver that is installed."""
    broken: Problem | None = None
    for package, make in (("python-rtmidi", _mido), ("rtmidi2", _rtmidi2)):
        try:
            return make()
        except ModuleNotFoundError:
            continue
        except ImportError as error:
            broken = broken or Problem(
                "driver-broken",
                f"the MIDI driver {package} is installed but does not load ({error})",
                "install the system library that it names, or install the driver anew",
            )
    packages = "mido python-rtmidi" if sys.version_info < (3, 13) else "rtmidi2"
    return broken or Problem(
        "driver-missing",
        "sending needs a MIDI driver, and this Python has none",
        f"run: {sys.executable} -m pip install {packages}",
    )


def _mido() -> Driver:
    return _Mido(importlib.import_module("mido"), importlib.import_module("rtmidi"))


def _rtmidi2() -> Driver:
    if sys.platform.startswith("linux"):
        # Its wheel brings a JACK library that may not understand this computer's server
        # (measured: protocol 8 against 9). Of two libraries the one loaded first is used.
        with suppress(OSError):
            ctypes.CDLL("libjack.so.0", mode=ctypes.RTLD_GLOBAL)
    return _Rtmidi2(importlib.import_module("rtmidi2"))


def each_name_once(ports: list[Port]) -> list[Port]:
    """Leave out a port that a second system shows under the same name: it is the same box."""
    first: dict[str, str] = {}
    for port in ports:
        first.setdefault(port.name, port.system)
    return [port for port in ports if first[port.name] == port.system]


class _Mido:
    """mido's ports, always with the backend of python-rtmidi."""

    def __init__(self, mido: Any, rtmidi: Any) -> None:
        self._mido = mido
        self._failures = (OSError, RuntimeError, ValueError, rtmidi.RtMidiError)
        self._systems = [
            name
            for name in self._backend(None).module.get_api_names()
            if name not in {"UNSPECIFIED", "RTMIDI_DUMMY"}
        ]

    def _backend(self, system: str | None) -> Any:
        # What stands in the environment for other programs must not choose our port.
        return self._mido.Backend("mido.backends.rtmidi", api=system, use_environ=False)

    def outputs(self) -> list[Port]:
        """Return the ports of every system; one that is not there has none."""
        ports: list[Port] = []
        for system in self._systems:
            with suppress(*self._failures):
                names = self._backend(system).get_output_names()
                ports += [Port(name, system) for name in names]
        return each_name_once(ports)

    def open(self, port: Port) -> Output:
        """Open ``port``, which must be there: a name alone, for more would make a virtual one."""
        try:
            return _MidoOutput(
                self._mido, self._backend(port.system).open_output(port.name), self._failures
            )
        except self._failures as error:
            raise DriverError(str(error)) from error


class _MidoOutput:
    """An open port of mido's."""

    def __init__(self, mido: Any, port: Any, failures: tuple[type[Exception], ...]) -> None:
        self._mido, self._port, self._failures = mido, port, failures

    def send(self, message: bytes) -> None:
        """Send one message."""
        try:
            self._port.send(self._mido.Message.from_bytes(message))
        except self._failures as error:
            raise DriverError(str(error)) from error

    def close(self) -> None:
        """Close the port."""
        with suppress(*self._failures):
            self._port.close()


class _Rtmidi2:
    """rtmidi2's ports."""

    def __init__(self, rtmidi2: Any) -> None:
        self._rtmidi2 = rtmidi2
        self._systems = LISTED_BY_RTMIDI2.get(sys.platform, ())

    def _handle(self, system: str) -> Any:
        return self._rtmidi2.MidiOut(api=getattr(self._rtmidi2, f"API_{system}"))

    def outputs(self) -> list[Port]:
        """Return the ports of every system; one that is not there has none."""
        ports: list[Port] = []
        for system in self._systems:
            with suppress(OSError, RuntimeError, ValueError):
                ports += [Port(name, system) for name in self._handle(system).ports]
        return each_name_once(ports)

    def open(self, port: Port) -> Output:
        """Open ``port``, which must be there."""
        try:
            handle = self._handle(port.system)
            handle.open_port(list(handle.ports).index(port.name))
        except (OSError, RuntimeError, ValueError) as error:
            raise DriverError(str(error)) from error
        return _Rtmidi2Output(handle)


class _Rtmidi2Output:
    """An open port of rtmidi2's."""

    def __init__(self, handle: Any) -> None:
        self._handle = handle

    def send(self, message: bytes) -> None:
        """Send one message."""
        try:
            self._handle.send_raw(*message)
        except (OSError, RuntimeError, ValueError) as error:
            raise DriverError(str(error)) from error

    def close(self) -> None:
        """Close the port."""
        with suppress(OSError, RuntimeError, ValueError):
            self._handle.close_port()
