"""A unit with power from two sides."""

from __future__ import annotations

from collections.abc import Iterator

from setwright.compiler.checks.check import POWER_CAUTION, Also, Check, Explained, Fault
from setwright.compiler.checks.common.supply import circles, passed_on
from setwright.compiler.compiled import Compiled
from setwright.scenes.finding import Severity
from setwright.scenes.places import KeyPath
from setwright.scenes.quantities import quoted

EXPLAINED = Explained(
    code="fed-twice",
    severity=Severity.ERROR,
    brief="A unit with power from two sides.",
    finds="A unit gets its power twice: from two outputs of the supply, or from an output and "
    "from another unit that passes its power on.",
    hurts="Two supplies feed into one another through the box, which can destroy both; and their "
    "earths joined in this way hum.",
    do="leave only one of the two cables",
    example="""\
        one: {gives: 300 mA, volts: 9 V, feeds: squeezer}
        two: {gives: 300 mA, volts: 9 V, feeds: [wobbler, squeezer]}
    """,
    caution=POWER_CAUTION,
)


def run(compiled: Compiled) -> Iterator[Fault]:
    """Yield one fault for each cable that brings a unit power a second time."""
    book, gone = compiled.book, compiled.lines.gone
    cables: list[tuple[str, KeyPath]] = [
        (name, ("rig", "supply", output, "feeds", index))
        for output, supply in book.rig.supply.items()
        for index, name in enumerate(supply.feeds)
    ]
    cables += [
        (other, path)
        for name in book.rig.units
        if name not in gone
        for other, path, _ in passed_on(book.rig, name)
    ]
    first: dict[str, KeyPath] = {}
    closing = {path for _, path in circles(book.rig, gone)}
    for name, path in cables:
        if name in gone or path in closing:
            continue
        if name in first:
            yield Fault(
                path,
                f"{quoted(name)} has power already, and gets it here once more",
                also=(Also("the first time", first[name]),),
            )
        else:
            first[name] = path


CHECK = Check(EXPLAINED, run)
