"""The guitar's signal: from the guitar along the cables to the amplifiers, on the stage as it is."""

from __future__ import annotations

from itertools import pairwise

from tests.stage.said import Book


def sounding(book: Book, blocked: set[str]) -> set[str]:
    """Return the amplifiers that sound while units in ``blocked`` let nothing through.

    An amplifier with something in its effects loop sounds if the loop is whole from its send to
    its return.
    """
    cables = [pair for run in book.rig.get("path", []) for pair in pairwise(run)]

    def reached(start: str) -> set[str]:
        seen, waiting = {start}, [start]
        while waiting:
            name = waiting.pop()
            if name in blocked:
                continue
            for one, other in cables:
                if one == name and other not in seen:
                    seen.add(other)
                    waiting.append(other)
        return seen

    from_guitar = reached("guitar")
    result = set()
    for name, unit in book.units.items():
        if unit.said.get("is") != "amplifier" or name not in from_guitar or name in blocked:
            continue
        looped = any(f"{name} send" in pair for pair in cables)
        if not looped or f"{name} return" in reached(f"{name} send"):
            result.add(name)
    return result
