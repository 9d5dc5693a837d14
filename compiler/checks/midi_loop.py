"""MIDI cables that go round in a circle."""

from __future__ import annotations

import itertools
from collections.abc import Iterator

from setwright.compiler.checks.check import Also, Check, Explained, Fault
from setwright.compiler.compiled import Compiled
from setwright.compiler.proving.routing import Cable, Lines
from setwright.scenes.finding import Severity

EXPLAINED = Explained(
    code="midi-loop",
    severity=Severity.ERROR,
    brief="MIDI cables that go round in a circle.",
    finds="MIDI cables go round in a circle of boxes that all pass on what they receive.",
    hurts="One message goes round for ever: the line is full within a moment, and every box "
    "behind it hangs or stutters.",
    do="take one cable out of the circle, or turn off THRU in one of its boxes",
    example="""\
        midi:
          - [switcher, wobbler, echo]
          - [echo, wobbler]
    """,
    changes_sound=True,
)


def run(compiled: Compiled) -> Iterator[Fault]:
    """Yield one fault for each cable that closes a circle."""
    lines = compiled.lines
    for cable in lines.loops():
        way = _way(lines, cable)
        yield Fault(
            cable.path,
            f"this cable closes a circle: {' → '.join((cable.start, *way))}",
            also=tuple(
                Also("part of it", other.path)
                for other in lines.cables
                if other != cable and (other.start, other.end) in set(itertools.pairwise(way))
            ),
            at_key=True,
            units=(cable.end, *lines.behind(cable.end)),
        )


def _way(lines: Lines, closing: Cable) -> list[str]:
    """Return the boxes from the end of the closing cable back to its start."""
    ways = [[closing.end]]
    seen = {closing.end}
    while ways:
        way = ways.pop(0)
        if way[-1] == closing.start:
            return way
        for cable in lines.cables:
            if cable.start == way[-1] and lines.passes[way[-1]] and cable.end not in seen:
                seen.add(cable.end)
                ways.append([*way, cable.end])
    return [closing.end]


CHECK = Check(EXPLAINED, run)
