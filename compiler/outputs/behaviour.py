"""What a switcher does by itself, in sentences for whoever types its presets."""

from __future__ import annotations

import math
from collections.abc import Iterator

from setwright.compiler.outputs.data import SwitcherData
from setwright.scenes.wording import number_of

_SAME_SWITCH = {
    "sends again": "A switch that is pressed again sends its preset again.",
    "does nothing": "A switch that is pressed again does nothing.",
    "goes back": "A switch that is pressed again goes back to the preset before: where the cue "
    "sheet says stay, keep your foot off it; where it says unless it is on, look first.",
}
_LOADS = {
    "same switch": "that of the switch that was pressed last",
    "first switch": "that of the bank's first switch",
}
_CLOCK = {
    "per preset": "It sends a clock with a tempo that each preset has of its own: type it in where "
    "one stands, counted in quarter notes.",
    "global": "It sends a clock with one tempo for all presets, counted in quarter notes.",
}
_POWER_UP = {
    "first preset": "When the power comes on, the first preset of its first bank is loaded.",
    "last used": "When the power comes on, the preset that was used last is loaded.",
}


def wait_in_words(milliseconds: float) -> str:
    """Return a time that a foot can wait, in tenths of a second, never too short: ``0.4 s``."""
    return f"{math.ceil(milliseconds / 100) / 10:g} s"


def behaviour(switcher: SwitcherData) -> Iterator[str]:
    """Yield what to know of the switcher while typing, one sentence each."""
    by = {"up and down": "up and down", "number": "a number"}.get(
        switcher.bank_moves_by, "up and down or a number"
    )
    yield f"Banks are changed by {by}" + (
        f", and the move itself loads a preset, {_LOADS[switcher.bank_moves_load_switch]}: every "
        "bank on the way sends its own, and what banks of other rigs hold is not known here."
        if switcher.bank_moves_load
        else "; a preset is loaded when its switch is pressed."
    )
    if switcher.bank_moves_wait_ms is not None:
        yield (
            f"Wait {wait_in_words(switcher.bank_moves_wait_ms)} at each bank, for a box that is "
            "busy with one preset does not hear the next."
        )
    yield _SAME_SWITCH[switcher.same_switch_again]
    if switcher.at_power_up in _POWER_UP:
        yield _POWER_UP[switcher.at_power_up]
    if switcher.holds_on_leaving:
        yield (
            "Leave empty what a preset can send when it is left ("
            f"{number_of(switcher.holds_on_leaving, 'message')}): it would undo what the next sets."
        )
    if switcher.clock is not None:
        yield _CLOCK[switcher.clock]
    for output, units in switcher.tapped.items():
        yield f"Its tap output {output} taps {' and '.join(units)} at the tempo of the preset."
    if switcher.loops_per_preset:
        yield "Each preset can put the loops in an order of its own: keep one order in all of them."
    if switcher.volume_loop_after is not None:
        where = f"behind loop {switcher.volume_loop_after}"
        yield (
            "It has a loop of its own for a volume pedal, "
            f"{where if switcher.volume_loop_after else 'before the first loop'}."
        )
