"""Values of quantities in the words of a player: in, out, a program, an amount."""

from __future__ import annotations

from setwright.compiler.binding.target import Pace, Program, Setting, Tap
from setwright.scenes.quantities import Amount, plain_number


def describe(value: bool | Program | Pace | Setting | Tap | str | None, quantity: str) -> str:
    """Return a value in the words of a player: in, out, on, off, a program, an amount."""
    match value:
        case None:
            return "don't care"
        case bool():
            words = {"loop": ("out", "in")}.get(quantity, ("off", "on"))
            return words[value]
        case Program():
            bank = "" if value.bank is None else f"bank {value.bank}, "
            return f"{value.name} (display {value.shown}, wire {bank}{value.number})"
        case Setting(by_press=True):
            return in_words(value.asked)
        case Setting():
            given = in_words(value.given)
            given = "" if given == in_words(value.asked) else f", gives {given}"
            fine = f", fine {value.fine}" if value.alone is not None else ""
            return f"{in_words(value.asked)} (value {value.value}{fine}{given})"
        case _:
            return str(value)


def in_words(amount: Amount | str) -> str:
    """Return an amount rounded to what a player cares about, ``489.1 ms``; a position as it is."""
    if isinstance(amount, Amount):
        return f"{plain_number(round(amount.value, 1))} {amount.unit}".strip()
    return amount
