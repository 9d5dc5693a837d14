"""What follows the tempo that the switcher has while a preset is loaded: units on its clock.

A clock of MIDI counts 24 to a quarter note (MIDI 1.0 Detailed Specification 4.2.1, system real
time, timing clock), so its tempo is the song's in quarter notes, whatever note the song counts.
Which note of it a unit repeats is set on the unit.
"""

from __future__ import annotations

from collections.abc import Iterable

from setwright.compiler.binding.states import Cause, Verdict, Wanted
from setwright.compiler.binding.target import Pace, Target
from setwright.scenes.musical_time import Tempo
from setwright.scenes.switcher import Switcher
from setwright.scenes.unit import Unit

CLOCK = "clock"
"""The quantity of a unit that follows the switcher's clock."""


def is_paced(unit: Unit, switcher: Switcher) -> bool:
    """Tell whether ``unit`` may follow a tempo of the switcher."""
    return unit.tempo_from == "clock" and switcher.clock is not None


def any_paced(target: Target, effects: Iterable[str]) -> bool:
    """Tell whether one of the units that ``effects`` use may follow a tempo of the switcher."""
    return any(
        is_paced(target.units[demand.unit], target.book.switcher)
        for effect in effects
        for demand in target.makes[effect]
        if demand.quantity == "use"
    )


def on_clock(switcher: Switcher, name: str, tempo: Tempo | None, *, used: bool) -> Wanted:
    """Return the tempo that a unit on the clock wants of the switcher in one scene."""
    clock = switcher.clock
    assert clock is not None
    if not used or tempo is None:
        why = "the song has no tempo" if used else "nothing asks for it"
        return Wanted(name, CLOCK, None, why, Verdict.FREE)
    often = tempo.quarters_per_minute
    value, why = Pace(often, "quarter"), "the song's tempo"
    if clock.bpm is not None and not clock.bpm[0] <= often <= clock.bpm[1]:
        reason = f"the switcher's clock goes from {clock.bpm[0]} to {clock.bpm[1]}"
        return Wanted(name, CLOCK, value, why, Verdict.UNKNOWN, reason, Cause.BEYOND_CLOCK)
    if clock.tempo == "global":
        reason = (
            "the switcher's clock has one tempo for all presets; it can be set between two songs, "
            "or let a control or a program bring the time"
        )
        return Wanted(name, CLOCK, value, why, Verdict.UNKNOWN, reason, Cause.ONE_TEMPO)
    reason = "the switcher's clock has it, as the preset says"
    return Wanted(name, CLOCK, value, why, Verdict.PROVEN, reason)
