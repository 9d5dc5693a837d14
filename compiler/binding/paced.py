"""What follows the tempo that the switcher has while a preset is loaded: on its clock, or tapped.

A clock of MIDI counts 24 to a quarter note (MIDI 1.0 Detailed Specification 4.2.1, system real
time, timing clock), so its tempo is the song's in quarter notes, whatever note the song counts.
Which note of it a unit repeats is set on the unit. A tap output taps the time itself.
"""

from __future__ import annotations

from collections.abc import Iterable

from setwright.compiler.binding.states import Cause, Verdict, Wanted
from setwright.compiler.binding.target import Pace, Tap, Target
from setwright.scenes.musical_time import Tempo
from setwright.scenes.switcher import Switcher
from setwright.scenes.unit import Unit

CLOCK = "clock"
"""The quantity of a unit that follows the switcher's clock."""


def is_paced(unit: Unit, switcher: Switcher) -> bool:
    """Tell whether ``unit`` may follow a tempo of the switcher."""
    by_clock = unit.tempo_from == "clock" and switcher.clock is not None
    return by_clock or unit.tap_output is not None


def paced(
    switcher: Switcher,
    name: str,
    unit: Unit,
    wanted: list[Wanted],
    tempo: Tempo | None,
    *,
    used: bool,
) -> list[Wanted]:
    """Return what is ``wanted`` of a unit, with what it takes from the switcher's tempo."""
    if unit.tap_output is not None:
        return [tapped(one, tempo) if isinstance(one.value, Tap) else one for one in wanted]
    if unit.tempo_from == "clock" and switcher.clock is not None:
        return [*wanted, on_clock(switcher, name, tempo, used=used)]
    return wanted


def tapped(wanted: Wanted, tempo: Tempo | None) -> Wanted:
    """Return a time that a foot would tap as what the switcher taps while a preset is loaded.

    A tap comes as often a minute as its time goes into one, 60,000 ÷ ms.
    """
    tap = wanted.value
    assert isinstance(tap, Tap)
    if tap.milliseconds is not None:
        pace = Pace(60_000 / tap.milliseconds, str(tap.note or "repeat"))
    elif tempo is not None:
        pace = Pace(tempo.bpm, str(tempo.beat))
    else:
        return Wanted(wanted.unit, wanted.quantity, None, "the song has no tempo", Verdict.FREE)
    why = wanted.why if tap.milliseconds is not None else "the song's tempo"
    reason = "the switcher taps it, as the preset says"
    return Wanted(wanted.unit, wanted.quantity, pace, why, Verdict.PROVEN, reason)


def with_one_tempo(proved: tuple[Wanted, ...]) -> tuple[tuple[Wanted, ...], Pace | None]:
    """Return the tempo of a preset, which is the first that is wanted, and who can follow it.

    What wants another one of the same preset cannot have it.
    """
    tempo: Pace | None = None
    result = []
    for one in proved:
        if isinstance(one.value, Pace) and one.verdict is Verdict.PROVEN:
            tempo = tempo or one.value
            if one.value.often != tempo.often:
                reason = f"a preset has one tempo, and {tempo} is wanted of it, too"
                one = one._replace(verdict=Verdict.UNKNOWN, reason=reason, cause=Cause.TWO_TEMPI)
        result.append(one)
    return (tuple(result) if tempo is not None else proved), tempo


def paced_units(target: Target) -> frozenset[str]:
    """Return the units that may follow a tempo of the switcher."""
    switcher = target.book.switcher
    return frozenset(name for name, unit in target.units.items() if is_paced(unit, switcher))


def any_used(units: frozenset[str], target: Target, effects: Iterable[str]) -> bool:
    """Tell whether ``effects`` use one of ``units``."""
    return bool(units) and any(
        demand.unit in units
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
