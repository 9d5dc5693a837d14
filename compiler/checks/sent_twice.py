"""Units that hear the switcher and the computer, so that one change can be sent twice."""

from __future__ import annotations

from collections.abc import Iterator

from setwright.compiler.binding.target import COMPUTER, SWITCHER
from setwright.compiler.checks.check import Also, Check, Explained, Fault
from setwright.compiler.checks.common.computer import cannot_recall
from setwright.compiler.compiled import Compiled
from setwright.scenes.finding import Severity
from setwright.scenes.quantities import quoted

EXPLAINED = Explained(
    code="sent-twice",
    severity=Severity.NOTE,
    brief="Units that hear both the switcher and the computer.",
    finds="A unit hears both the switcher and a computer with a line of its own, and scenes send "
    "it something. Both routes hold the same messages.",
    hurts="If the computer recalls a preset and sends the direct route as well, every change is "
    "made twice: a flip goes there and back, a program loads again in the middle of the sound.",
    do="let the computer either recall the presets or send directly, never both",
    example="""\
        midi:
          - [switcher, joiner]
          - [computer, joiner]
    """,
)


def run(compiled: Compiled) -> Iterator[Fault]:
    """Yield one fault, at the computer's line, for all units that hear both."""
    book, lines = compiled.book, compiled.lines
    if COMPUTER not in lines.first or cannot_recall(compiled) is not None:
        return
    meant = {sent.command.unit for sent in compiled.traffic if sent.sender == SWITCHER}
    both = [
        name
        for name in book.rig.units
        if name in meant and name in lines.reach(SWITCHER) and name in lines.reach(COMPUTER)
    ]
    if both:
        row = next(row for row, line in enumerate(book.rig.midi) if line and COMPUTER in line[0])
        yield Fault(
            ("rig", "midi", row),
            f"{' and '.join(map(quoted, both))} can get each change twice, from the switcher and "
            "from the computer",
            also=tuple(Also(name, ("rig", "units", name, "channel")) for name in both[:4]),
        )


CHECK = Check(EXPLAINED, run)
