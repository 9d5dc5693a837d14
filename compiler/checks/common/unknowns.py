"""What cannot be known of a night, gathered for the checks: which quantity, in which scenes.

Runs after lowering, on the verdicts that `prove` gave.
"""

from __future__ import annotations

from typing import NamedTuple

from setwright.compiler.binding.states import Cause, Verdict, Wanted
from setwright.compiler.compiled import Compiled
from setwright.compiler.proving.proved import LoweredScene
from setwright.scenes.wording import number_of


class Unknown(NamedTuple):
    """One quantity of one unit that cannot be known, and the different scenes in which it is so.

    ``first`` is how it is wanted in the first of ``scenes``.
    """

    unit: str
    quantity: str
    cause: Cause
    first: Wanted
    scenes: tuple[LoweredScene, ...]

    @property
    def scene(self) -> LoweredScene:
        """The first scene in which it cannot be known."""
        return self.scenes[0]


def unknowns(compiled: Compiled, *causes: Cause) -> list[Unknown]:
    """Return what cannot be known for one of ``causes``, unit by unit."""
    found: dict[tuple[str, str, Cause], list[tuple[Wanted, LoweredScene]]] = {}
    for scene in compiled.different_scenes:
        for one in scene.proved:
            if one.verdict is Verdict.UNKNOWN and one.cause in causes:
                found.setdefault((one.unit, one.quantity, one.cause), []).append((one, scene))
    return [
        Unknown(*key, cases[0][0], tuple(scene for _, scene in cases))
        for key, cases in found.items()
    ]


def more(scenes: tuple[LoweredScene, ...]) -> str:
    """Return words for the scenes beside the first: nothing, or how many there are."""
    count = len(scenes) - 1
    return f" (and {number_of(count, 'more scene')})" if count else ""
