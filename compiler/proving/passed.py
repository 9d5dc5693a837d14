"""What a player lets pass although it may change a sound: nothing is proven of what it concerns.

Runs behind the checks. The player may well be right, but it was not the tool that proved it.
"""

from __future__ import annotations

from typing import NamedTuple

from setwright.compiler.binding.states import Cause, Verdict, Wanted
from setwright.compiler.placement.wanted import SceneKey
from setwright.compiler.proving.proved import LoweredScene
from setwright.compiler.proving.stands import is_by_preset

SPOILT = frozenset({Cause.DEAF, Cause.DISTURBED, Cause.TWICE})
"""What cannot be known because of such a fault, whether that is let pass or not."""


class Passed(NamedTuple):
    """A fault that is let pass: its code, the player's reason, and the units that it concerns.

    None stands for everything: the switcher itself may load another preset.
    """

    code: str
    reason: str
    units: frozenset[str] | None

    @property
    def in_words(self) -> str:
        """Why nothing is proven."""
        return f"{self.code} is let pass ({self.reason}), so nothing here is proven"


def without_what_passed(
    scenes: dict[SceneKey, LoweredScene], passed: tuple[Passed, ...]
) -> dict[SceneKey, LoweredScene]:
    """Return ``scenes`` in which nothing is called proven that what is let pass may change."""
    if not passed:
        return scenes
    now: dict[int, tuple[Wanted, ...]] = {}
    for scene in scenes.values():
        if id(scene.proved) not in now:
            now[id(scene.proved)] = tuple(_doubt(one, passed) for one in scene.proved)
    return {key: scene._replace(proved=now[id(scene.proved)]) for key, scene in scenes.items()}


def _doubt(wanted: Wanted, passed: tuple[Passed, ...]) -> Wanted:
    if wanted.verdict is Verdict.FREE:
        return wanted
    if wanted.verdict is Verdict.UNKNOWN and wanted.cause not in SPOILT:
        return wanted
    for one in passed:
        if one.units is None or (wanted.unit in one.units and not is_by_preset(wanted.quantity)):
            return wanted._replace(verdict=Verdict.UNKNOWN, reason=one.in_words, cause=Cause.PASSED)
    return wanted
