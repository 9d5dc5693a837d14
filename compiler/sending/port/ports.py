"""Ports: which there are, and which one a name means. What goes wrong is a `Problem`."""

from __future__ import annotations

import re
import sys
from collections.abc import Iterable
from typing import Literal, NamedTuple

from setwright.compiler.sending.port.problem import Problem, named
from setwright.scenes.names import suggestion
from setwright.scenes.quantities import quoted

Way = Literal["output", "input"]
"""Outputs are what we send to, inputs what we listen to."""
WAYS: tuple[Way, ...] = ("output", "input")


class Port(NamedTuple):
    """A port: its name as the driver shows it, and the driver's word for its system."""

    name: str
    system: str


def choose(ports: Iterable[Port], wanted: str | None, way: Way = "output") -> Port | Problem:
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
            sentence = f"there are {len(boxes)} {way} ports"
            return Problem("port-not-named", sentence, _one_of(boxes, way))
        return no_ports(way)
    if not wanted.strip():
        return Problem("port-unknown", "the name of the port is empty", _one_of(known, way))
    for fits in (_exactly, _by_whole_name, _within, _within_without_number):
        found = [port for port in known if fits(port.name, wanted)]
        if len(found) == 1:
            return found[0]
        if len({port.name for port in found}) > 1:
            sentence = f"{quoted(wanted)} means {len(found)} {way} ports"
            return Problem("port-ambiguous", sentence, _one_of(found, way))
        if found:
            return Problem(
                "port-ambiguous",
                f"{len(found)} {way} ports are called {named(found[0].name)}",
                "unplug one of them, or give one another name in the system's settings",
            )
    if not known:
        return no_ports(way)
    near = suggestion(wanted, [port.name for port in known], "")
    return Problem("port-unknown", f"no {way} port is called {quoted(wanted)}", near)


def no_ports(way: Way = "output", platform: str = sys.platform) -> Problem:
    """Return the problem that there is no port at all, with the way out on ``platform``."""
    way_out = "plug in your MIDI interface and switch it on"
    if platform.startswith("linux"):
        way_out += "; ports also need ALSA's sequencer (modprobe snd-seq) or a running JACK server"
    elif platform == "win32":
        way_out += "; Windows has no virtual ports, and a program cannot make any"
    elif platform == "darwin":
        way_out += "; if it is, it may lack its maker's driver, or be offline in the MIDI settings"
    return Problem("no-port", f"there is no MIDI {way} port", way_out)


def not_opened(name: str, reason: str, platform: str = sys.platform) -> Problem:
    """Return the problem that a port is there but does not open."""
    way_out = "unplug it and plug it in again, then try once more"
    if platform == "win32":
        way_out = (
            "Windows opens a port for one program only, so close the other program that uses it"
        )
    why = f" ({reason})" if reason else ""
    return Problem("port-not-opened", f"the port {named(name)} could not be opened{why}", way_out)


def _one_of(ports: Iterable[Port], way: Way) -> str:
    names = ", ".join(named(port.name) for port in ports)
    return f"name one of these: {names}" if names else no_ports(way).way_out


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
