"""What is said of messages as they leave: nothing that has not happened yet."""

from __future__ import annotations

import io
from dataclasses import dataclass, field
from typing import Any

import pytest

from setwright.compiler.sending.port.drivers import DriverError
from setwright.compiler.sending.port.engine import refused
from setwright.compiler.sending.port.orders import Orders
from setwright.compiler.sending.port.timekeeper import Timekeeper
from tests.conftest import ROOT

MESSAGES = ["c005", "c105", "c205"]


LIVE = [
    *(ROOT / "compiler" / "sending").rglob("*.py"),
    *(ROOT / "compiler" / f"{name}.py" for name in ("listen", "audit", "follow", "rehearse")),
]


def test_everything_live_counts_on_the_one_clock_that_is_fine_enough_everywhere() -> None:
    """Python's What's New 3.13, `time`: before it, Windows' monotonic() has steps of 15.6 ms."""
    words = {path.name: path.read_text(encoding="utf-8") for path in LIVE}
    assert not [name for name, text in words.items() if "time.monotonic" in text]
    assert sum("time.perf_counter" in text for text in words.values()) > 8


@dataclass
class Output:
    """A port that takes so many messages; the next one finds that it has gone."""

    takes: int
    taken: list[str] = field(default_factory=list)

    def send(self, message: bytes) -> None:
        if len(self.taken) == self.takes:
            raise DriverError("gone")
        self.taken.append(message.hex())

    def there(self) -> bool:
        return True

    def close(self) -> None:
        pass


@pytest.mark.parametrize("takes", range(4))
def test_only_what_was_handed_over_is_begun_or_done(takes: int) -> None:
    """Drivers of some systems refuse a message where the port has gone (python-rtmidi raises)."""
    orders = Orders(io.BytesIO())
    bundles = [(float(at), [message]) for at, message in enumerate(MESSAGES)]
    orders.add({"do": "send", "number": 1, "bundles": bundles, "settles": 0.0})
    orders.add({"do": "end"})
    output, said = Output(takes), list[dict[str, Any]]()
    problem = Timekeeper(output, "box", orders, said.append, refuses=refused).keep()
    assert output.taken == MESSAGES[:takes]
    assert any("begun" in one for one in said) == (takes > 0)
    assert any("done" in one for one in said) == (takes == len(MESSAGES))
    assert (problem is None) == (takes == len(MESSAGES))
    if problem is not None:
        assert f"after {takes} message" in problem.sentence


def test_a_delivery_of_nothing_is_begun_and_done() -> None:
    orders = Orders(io.BytesIO())
    orders.add({"do": "send", "number": 1, "bundles": [], "settles": 0.0})
    orders.add({"do": "end"})
    said: list[dict[str, Any]] = []
    assert Timekeeper(Output(0), "box", orders, said.append, refuses=refused).keep() is None
    assert [name for one in said for name in one if name in {"begun", "done"}] == ["begun", "done"]


def test_what_was_skipped_is_said_though_the_port_goes_at_once() -> None:
    orders = Orders(io.BytesIO())
    for number in (1, 2):
        orders.add({"do": "send", "number": number, "bundles": [(0, ["c005"])], "settles": 0.0})
    said: list[dict[str, Any]] = []
    assert Timekeeper(Output(0), "box", orders, said.append, refuses=refused).keep() is not None
    assert {"skipped": 1} in said
