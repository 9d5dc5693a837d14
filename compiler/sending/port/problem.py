"""Why something live did not work: a value with a code, a sentence and a way out."""

from __future__ import annotations

from typing import NamedTuple

from setwright.scenes.finding import visible
from setwright.scenes.wording import number_of


class Problem(NamedTuple):
    """Why something could not be done: a code that never changes, a sentence, the way out."""

    code: str
    sentence: str
    way_out: str

    def __str__(self) -> str:
        return visible(f"{self.sentence}: {self.way_out}")


def named(name: str) -> str:
    """Return a port's name in quotes; never cut, for ports of one box differ at their end."""
    return f"‘{name}’"


def vanished(name: str | None, sent: int, more: int = 0) -> Problem:
    """Return the problem that a port went away while messages were sent to it.

    ``sent`` messages went while it was there; ``more`` may have gone after it.
    """
    port = f"the port {named(name)}" if name is not None else "the MIDI system"
    last = f"; {number_of(more, 'more')} may be lost" if more else ""
    return Problem(
        "port-vanished",
        f"{port} went away while sending, after {number_of(sent, 'message')}{last}; "
        "nobody knows how many arrived",
        "see to its cable, its power and its server, and send the scene again",
    )


def gone_input(name: str) -> Problem:
    """Return the problem that a port went away to which somebody listened."""
    return Problem(
        "port-vanished",
        f"the port {named(name)} went away",
        "see to its cable, its power and its server",
    )


def silent(name: str | None = None) -> Problem:
    """Return the problem that the system of ports does not answer."""
    behind = f" at the port {named(name)}" if name is not None else ""
    return Problem(
        "driver-silent",
        f"the MIDI system does not answer{behind}",
        "restart the JACK or sound server if one runs, unplug the interface and plug it in again",
    )


def crashed(status: int | None) -> Problem:
    """Return the problem that the process of the driver ended by itself."""
    how = f" (exit code {status})" if status is not None else ""
    return Problem(
        "driver-crashed",
        f"the MIDI driver crashed{how}",
        "restart the JACK or sound server if one runs, and try again",
    )
