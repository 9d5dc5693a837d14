"""Whether a model receiver stands where a scene wants it, quantity by quantity."""

from __future__ import annotations

from setwright.compiler.binding.states import Wanted
from setwright.compiler.binding.target import Program, Setting
from setwright.compiler.proving.receiver import Receiver

BY_PRESET = frozenset({"loop", "relay", "foot"})
"""Quantities that no message sets."""


def stands(wanted: Wanted, receiver: Receiver) -> bool:
    """Tell whether ``receiver`` is known to stand where ``wanted`` wants it."""
    match wanted.value:
        case bool():
            return receiver.on is wanted.value
        case Program():
            return receiver.program == wanted.value.on_wire
        case Setting():
            control = receiver.unit.control(wanted.quantity)
            assert control is not None
            fine = 0 if control.fine_cc is None else receiver.value(control.fine_cc)
            return receiver.value(control.cc) == wanted.value.value and fine == 0
    return True
