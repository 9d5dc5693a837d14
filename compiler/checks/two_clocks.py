"""A unit that follows the clock and hears two of them."""

from __future__ import annotations

from collections.abc import Iterator

from setwright.compiler.binding.target import SWITCHER
from setwright.compiler.checks.check import Also, Check, Explained, Fault
from setwright.compiler.compiled import Compiled
from setwright.scenes.finding import Severity
from setwright.scenes.places import KeyPath
from setwright.scenes.quantities import quoted

EXPLAINED = Explained(
    code="two-clocks",
    severity=Severity.ERROR,
    brief="A unit that follows the clock and hears two of them.",
    finds="A unit that takes its tempo from the clock hears the clocks of two senders (24 to a "
    "quarter note each: MIDI 1.0 Detailed Specification 4.2.1, system real time).",
    hurts="Its repeats run at twice the tempo, or stagger between the two.",
    do="turn the clock off in one of them",
    example="""\
        drum box: {is: sender, sends: clock}
        looper: {is: sender, sends: clock}
        echo:
          tempo from: clock
    """,
    changes_sound=True,
)


def run(compiled: Compiled) -> Iterator[Fault]:
    """Yield one fault for each sender whose clock is one too many."""
    book, lines = compiled.book, compiled.lines
    clocks: dict[str, KeyPath] = {}
    if book.switcher.clock is not None:
        clocks[SWITCHER] = ("switcher", "clock")
    clocks |= {
        name: ("rig", "units", name, "sends", index)
        for name, unit in book.rig.units.items()
        if name not in lines.gone
        for index, sending in enumerate(unit.sends)
        if sending.kind == "clock"
    }
    found: set[str] = set()
    for name, unit in book.rig.units.items():
        if unit.tempo_from != "clock":
            continue
        heard = [sender for sender in clocks if name in lines.reach(sender) and sender != name]
        for sender in heard[1:]:
            if sender not in found:
                found.add(sender)
                yield Fault(
                    clocks[sender],
                    f"{quoted(name)} follows the clock, and hears those of {_called(heard[0])} and "
                    f"{_called(sender)}",
                    also=(
                        Also("the other clock", clocks[heard[0]], heard[0] == SWITCHER),
                        Also("what follows it", ("rig", "units", name, "tempo from")),
                    ),
                )


def _called(sender: str) -> str:
    return "the switcher" if sender == SWITCHER else quoted(sender)


CHECK = Check(EXPLAINED, run)
