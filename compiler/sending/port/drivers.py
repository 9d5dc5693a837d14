"""The MIDI drivers that live ports can use, each behind the same four functions.

``python-rtmidi`` is the first choice; that has no wheels for CPython 3.13 and newer, so there
``rtmidi2`` serves, a binding of the same library that has them. Both are asked for each system of
ports by name, since their own choice fails where the first system is not there. Messages go to
them as bytes, and come from them as bytes: mido's ports lose messages with running status, and
make a virtual port where a name is given in another way.

Only the engine's own processes import this room's drivers.
"""

from __future__ import annotations

import ctypes
import importlib
import sys
import time
from collections.abc import Callable
from contextlib import suppress
from typing import Any, Protocol

from setwright.compiler.sending.port.ports import Port
from setwright.compiler.sending.port.problem import Problem

LISTED_BY_RTMIDI2 = {
    "linux": ("LINUX_ALSA", "UNIX_JACK"),
    "darwin": ("MACOSX_CORE",),
    "win32": ("WINDOWS_MM",),
}
"""Systems of ports by platform; rtmidi2 does not say which ones it was built with."""
CLIENT = "Setwright"
"""What other programs see us as, where the system of ports has such names."""

Taken = Callable[[float, bytes], None]
"""Told of each packet: seconds of time.perf_counter(), and its bytes."""


class DriverError(Exception):
    """A driver refused; the text is its own."""


class Open(Protocol):
    """An open port."""

    def there(self) -> bool:
        """Tell whether the port is still there; that takes some 0.05 ms.

        The handle that is open is asked: it knows at once, while a new one takes 40 ms (both
        measured with JACK). Only a server that hangs is not seen by it.
        """

    def close(self) -> None:
        """Close the port; to use it afterwards crashes some drivers."""


class Output(Open, Protocol):
    """An open output port."""

    def send(self, message: bytes) -> None:
        """Hand one whole message to the driver; it leaves soon after."""


class Driver(Protocol):
    """A way to the ports of this computer."""

    def outputs(self) -> list[Port]:
        """Return the output ports that are there now, seen with a fresh handle."""

    def inputs(self) -> list[Port]:
        """Return the input ports that are there now, seen with a fresh handle."""

    def open(self, port: Port) -> Output:
        """Open the output ``port`` and nothing else; DriverError where that fails."""

    def listen(self, port: Port, taken: Taken) -> Open:
        """Open the input ``port``; ``taken`` is called by a thread of the driver's."""


def find_driver() -> Driver | Problem:
    """Return the first driver that is installed."""
    broken: Problem | None = None
    for package, make in (("python-rtmidi", _Rtmidi), ("rtmidi2", _Rtmidi2)):
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
    package = "python-rtmidi" if sys.version_info < (3, 13) else "rtmidi2"
    return broken or Problem(
        "driver-missing",
        "live MIDI needs a driver, and this Python has none",
        f"run: {sys.executable} -m pip install {package}",
    )


def each_name_once(ports: list[Port]) -> list[Port]:
    """Leave out a port that a second system shows under the same name: it is the same box."""
    first: dict[str, str] = {}
    for port in ports:
        first.setdefault(port.name, port.system)
    return [port for port in ports if first[port.name] == port.system]


class Stamps:
    """When packets came, from what the driver says of the time since the one before.

    The driver takes the time when the packet comes, Python only when it gets its turn; so the
    driver's is the better one, as long as the two agree within ``SLACK`` seconds.
    """

    SLACK = 0.05

    def __init__(self, now: Callable[[], float] = time.perf_counter) -> None:
        self._now = now
        self._last: float | None = None

    def at(self, since: float) -> float:
        """Return the second in which a packet came that came ``since`` seconds after the last."""
        now = self._now()
        told = now if self._last is None else self._last + since
        self._last = told if abs(told - now) < self.SLACK else now
        return self._last


class _Rtmidi:
    """python-rtmidi's ports."""

    def __init__(self) -> None:
        rtmidi = importlib.import_module("rtmidi")
        self._rtmidi = rtmidi
        self._failures = (OSError, RuntimeError, ValueError, TypeError, rtmidi.RtMidiError)
        named = {
            getattr(rtmidi, f"API_{name}"): name
            for names in LISTED_BY_RTMIDI2.values()
            for name in names
        }
        self._systems = {named[one]: one for one in rtmidi.get_compiled_api() if one in named}

    def _ports(self, kind: Any) -> list[Port]:
        ports: list[Port] = []
        for name, system in self._systems.items():
            with suppress(*self._failures):
                handle = kind(system, CLIENT)
                ports += [Port(one, name) for one in handle.get_ports()]
                handle.delete()
        return each_name_once(ports)

    def outputs(self) -> list[Port]:
        """Return the output ports of every system; one that is not there has none."""
        return self._ports(self._rtmidi.MidiOut)

    def inputs(self) -> list[Port]:
        """Return the input ports of every system; one that is not there has none."""
        return self._ports(self._rtmidi.MidiIn)

    def open(self, port: Port) -> Output:
        """Open ``port``, which must be there."""
        try:
            handle = self._rtmidi.MidiOut(self._systems[port.system], CLIENT)
            handle.open_port(handle.get_ports().index(port.name))
        except self._failures as error:
            raise DriverError(str(error)) from error
        return _RtmidiOutput(handle, port.name, self._failures)

    def listen(self, port: Port, taken: Taken) -> Open:
        """Open ``port``, which must be there; nothing that comes in is left out."""
        stamps = Stamps()

        def heard(event: tuple[list[int], float], _: object) -> None:
            taken(stamps.at(event[1]), bytes(event[0]))

        try:
            handle = self._rtmidi.MidiIn(self._systems[port.system], CLIENT)
            handle.ignore_types(sysex=False, timing=False, active_sense=False)
            handle.set_callback(heard)
            handle.open_port(handle.get_ports().index(port.name))
        except self._failures as error:
            raise DriverError(str(error)) from error
        return _RtmidiInput(handle, port.name, self._failures)


class _RtmidiPort:
    """An open port of python-rtmidi's."""

    def __init__(self, handle: Any, name: str, failures: tuple[type[Exception], ...]) -> None:
        self._handle, self._name, self._failures = handle, name, failures

    def there(self) -> bool:
        """Look for the port with the handle that is open."""
        try:
            return self._name in self._handle.get_ports()
        except self._failures:
            return False

    def close(self) -> None:
        """Close the port."""
        with suppress(*self._failures):
            self._handle.close_port()


class _RtmidiOutput(_RtmidiPort):
    def send(self, message: bytes) -> None:
        """Send one message."""
        try:
            self._handle.send_message(message)
        except self._failures as error:
            raise DriverError(str(error)) from error


class _RtmidiInput(_RtmidiPort):
    def close(self) -> None:
        """Close the port; the callback goes first, for it must not be called meanwhile."""
        with suppress(*self._failures):
            self._handle.cancel_callback()
        super().close()


class _Rtmidi2:
    """rtmidi2's ports."""

    def __init__(self) -> None:
        if sys.platform.startswith("linux"):
            # Its wheel brings a JACK library that may not understand this computer's server
            # (measured: protocol 8 against 9). Of two libraries the one loaded first is used.
            with suppress(OSError):
                ctypes.CDLL("libjack.so.0", mode=ctypes.RTLD_GLOBAL)
        self._rtmidi2 = importlib.import_module("rtmidi2")
        self._systems = LISTED_BY_RTMIDI2.get(sys.platform, ())

    def _handle(self, kind: Any, system: str) -> Any:
        return kind(CLIENT, api=getattr(self._rtmidi2, f"API_{system}"))

    def _ports(self, kind: Any) -> list[Port]:
        ports: list[Port] = []
        for system in self._systems:
            with suppress(OSError, RuntimeError, ValueError):
                ports += [Port(name, system) for name in self._handle(kind, system).ports]
        return each_name_once(ports)

    def outputs(self) -> list[Port]:
        """Return the output ports of every system; one that is not there has none."""
        return self._ports(self._rtmidi2.MidiOut)

    def inputs(self) -> list[Port]:
        """Return the input ports of every system; one that is not there has none."""
        return self._ports(self._rtmidi2.MidiIn)

    def open(self, port: Port) -> Output:
        """Open ``port``, which must be there."""
        try:
            handle = self._handle(self._rtmidi2.MidiOut, port.system)
            handle.open_port(list(handle.ports).index(port.name))
        except (OSError, RuntimeError, ValueError) as error:
            raise DriverError(str(error)) from error
        return _Rtmidi2Output(handle, port.name)

    def listen(self, port: Port, taken: Taken) -> Open:
        """Open ``port``, which must be there; nothing that comes in is left out."""
        stamps = Stamps()

        def heard(message: list[int], since: float) -> None:
            taken(stamps.at(since), bytes(message))

        try:
            handle = self._handle(self._rtmidi2.MidiIn, port.system)
            handle.ignore_types(midi_sysex=False, midi_time=False, midi_sense=False)
            handle.callback = heard
            handle.open_port(list(handle.ports).index(port.name))
        except (OSError, RuntimeError, ValueError) as error:
            raise DriverError(str(error)) from error
        return _Rtmidi2Input(handle, port.name)


class _Rtmidi2Port:
    """An open port of rtmidi2's."""

    def __init__(self, handle: Any, name: str) -> None:
        self._handle, self._name = handle, name

    def there(self) -> bool:
        """Look for the port with the handle that is open."""
        try:
            return self._name in self._handle.ports
        except (OSError, RuntimeError, ValueError):
            return False

    def close(self) -> None:
        """Close the port."""
        with suppress(OSError, RuntimeError, ValueError):
            self._handle.close_port()


class _Rtmidi2Output(_Rtmidi2Port):
    def send(self, message: bytes) -> None:
        """Send one message."""
        try:
            self._handle.send_raw(*message)
        except (OSError, RuntimeError, ValueError) as error:
            raise DriverError(str(error)) from error


class _Rtmidi2Input(_Rtmidi2Port):
    def close(self) -> None:
        """Close the port; the callback goes first, for it must not be called meanwhile."""
        with suppress(OSError, RuntimeError, ValueError):
            self._handle.callback = None
        super().close()
