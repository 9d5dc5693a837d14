"""What the checks of the signal's path say alike."""

from __future__ import annotations

from collections.abc import Sequence

from setwright.compiler.checks.check import Also
from setwright.compiler.compiled import Compiled
from setwright.scenes.quantities import quoted

MOST_NAMED = 4
"""So many names stand in one sentence; the others are counted."""


def the_unit(compiled: Compiled, *names: str) -> tuple[Also, ...]:
    """Return where ``names`` are declared; a let pass that stands there counts."""
    rig = compiled.book.rig
    return tuple(
        Also("the unit" if len(names) == 1 else name, ("rig", "units", name), at_key=True)
        for name in names[:MOST_NAMED]
        if name in rig.units
    )


def named(names: Sequence[str]) -> str:
    """Return ``names`` as they stand in a sentence: ‘fuzz’, ‘echo’ and ‘barn’."""
    if len(names) > MOST_NAMED:
        shown = ", ".join(map(quoted, names[: MOST_NAMED - 1]))
        return f"{shown} and {len(names) - MOST_NAMED + 1} more"
    *first, last = map(quoted, names)
    return f"{', '.join(first)} and {last}" if first else last
