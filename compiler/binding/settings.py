"""The settings of a control: what its values do, and the value that makes what is asked for."""

from __future__ import annotations

from collections.abc import Iterator
from fractions import Fraction
from itertools import pairwise

from setwright.compiler.binding.rig_findings import RigFindings
from setwright.compiler.binding.target import Setting
from setwright.scenes.control import Control
from setwright.scenes.names import suggestion
from setwright.scenes.places import KeyPath
from setwright.scenes.quantities import Amount, Slip, parse_amount, quoted


def check_curve(found: RigFindings, path: KeyPath, control: Control) -> None:
    """Find what contradicts itself in the curve of a control; then it is mistrusted."""
    before = len(found.found)
    _check_curve(found, path, control)
    if len(found.found) > before:
        found.mistrust(control)


def _check_curve(found: RigFindings, path: KeyPath, control: Control) -> None:
    said = (control.linear, control.points, control.positions, control.presses)
    if sum(map(bool, said)) > 1:
        found.error(
            "curve-twice",
            "it is said twice what the values of this control do",
            path,
            "keep one of linear:, points:, positions: and presses:",
            key=True,
        )
    if control.points is not None:
        units = {amount.unit for amount in control.points.values()}
        if len(control.points) < 2 or len(units) > 1:
            found.error(
                "curve-unclear",
                "a table of points needs two points or more, all in one unit",
                (*path, "points"),
                "write for example {0: 20 ms, 64: 300 ms, 127: 1800 ms}",
                key=True,
            )
    if path[-1] == "time" and control.curve and control.unit != "ms":
        found.error(
            "curve-unclear",
            "the control of a delay time needs its curve in ms",
            path,
            "write for example linear: 20 ms to 1800 ms",
            key=True,
        )


def setting_of(found: RigFindings, control: Control, text: str, path: KeyPath) -> Setting | None:
    """Return what ``text`` asks of ``control``; None, with a finding, where it cannot."""
    if found.mistrusts(control) or _curve_lost(found, path):
        return None
    if control.positions is not None:
        if text in control.positions:
            return Setting(text, control.positions[text], text)
        found.error(
            "unknown-state",
            f"this control has no position {quoted(text)}",
            path,
            suggestion(text, control.positions, "declare it under positions:"),
        )
        return None
    if control.presses:
        if text in control.presses:
            return Setting(text, 0, text, by_press=True)
        found.error(
            "unknown-state",
            f"no press of this control comes to {quoted(text)}",
            path,
            suggestion(text, control.presses, "declare it under presses:"),
        )
        return None
    try:
        amount = parse_amount(text)
    except Slip as slip:
        found.error(slip.code, slip.message, path, slip.way_out)
        return None
    if not control.curve:
        if amount.unit or amount.value.denominator != 1 or not 0 <= amount.value <= 127:
            found.error(
                "out-of-range",
                f"{quoted(text)} is not a value from 0 to 127",
                path,
                "write 0 to 127, or declare what the values do with linear: or points:",
            )
            return None
        return Setting(amount, int(amount.value), amount)
    if amount.unit != control.unit:
        found.error(
            "units-differ",
            f"{quoted(text)} is not in {control.unit or 'plain numbers'}, "
            "as the control's curve is",
            path,
            f"write a number with {control.unit}" if control.unit else "write a plain number",
        )
        return None
    setting = value_on(control, amount)
    if setting is None:
        low, high = sorted(level for _, level in (control.curve[0], control.curve[-1]))
        found.error(
            "out-of-range",
            f"{quoted(text)} is beyond what this control can do",
            path,
            f"write {Amount(low, control.unit)} to {Amount(high, control.unit)}",
        )
    return setting


def _curve_lost(found: RigFindings, path: KeyPath) -> bool:
    """Tell whether a curve of the unit that ``path`` is about was left out of the rig."""
    unit = path[3] if path[1] == "effects" else path[2]
    return any(
        broken[:3] == ("rig", "units", unit) and broken[-1] in {"linear", "points"}
        for broken in found.book.broken
    )


def setting_at(control: Control, value: int | Fraction) -> Amount | str:
    """Return what ``value`` (0 to 127) of ``control`` does: a position, or an amount of its curve.

    Where it has neither there, or where the curve has no such value: the value itself. A fine part
    is so many of `STEPS` beside it.
    """
    for name, own in (control.positions or {}).items():
        if own == value:
            return name
    for (left, low), (right, high) in pairwise(control.curve):
        if left <= value <= right:
            level = low + (high - low) * Fraction(value - left, right - left)
            return Amount(level, control.unit)
    return f"value {value}"


STEPS = 128
"""Fine steps to a coarse one: a value of 14 bits is 128 · coarse + fine (MIDI 1.0 Detailed
Specification 4.2.1, control change)."""


def value_on(control: Control, amount: Amount) -> Setting | None:
    """Return the value (0 to 127) of ``control`` nearest to ``amount``; None beyond its curve.

    Between two points the curve is straight. Of two values equally near the lower is taken. Where
    the control has a fine part, each step of the curve has `STEPS` of it.
    """
    if not any(True for _ in _stretches(control, amount)):
        return None
    value, level = _nearest(control, amount, 1)
    alone = Setting(amount, value, Amount(level, amount.unit))
    if control.fine_cc is None:
        return alone
    whole, level = _nearest(control, amount, STEPS)
    coarse, fine = divmod(whole, STEPS)
    given = Amount(level, amount.unit)
    return Setting(amount, coarse, given, fine, alone._replace(fine=0))


def _stretches(
    control: Control, amount: Amount
) -> Iterator[tuple[tuple[int, Fraction], tuple[int, Fraction]]]:
    """Yield the straight parts of the curve on which ``amount`` lies."""
    for left, right in pairwise(control.curve):
        if min(left[1], right[1]) <= amount.value <= max(left[1], right[1]):
            yield left, right


def _nearest(control: Control, amount: Amount, steps: int) -> tuple[int, Fraction]:
    """Return the nearest value, counted in ``steps`` to a step of the curve, and its amount."""
    best: tuple[Fraction, int, Fraction] | None = None
    for (left, low), (right, high) in _stretches(control, amount):
        exact = left + (amount.value - low) * (right - left) / (high - low) if high != low else left
        for value in (int(exact * steps), int(exact * steps) + 1):
            if left * steps <= value <= right * steps:
                level = low + (high - low) * (Fraction(value, steps) - left) / (right - left)
                candidate = (abs(level - amount.value), value, level)
                best = min(best, candidate) if best is not None else candidate
    assert best is not None
    return best[1:]
