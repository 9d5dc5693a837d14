"""Whether a model receiver stands where a scene wants it, quantity by quantity."""

from __future__ import annotations

from setwright.compiler.binding.states import Wanted
from setwright.compiler.binding.target import Program, Setting, is_relay
from setwright.compiler.proving.receiver import Receiver


def is_by_preset(quantity: str) -> bool:
    """Tell whether no message sets this quantity: the preset does, or a foot."""
    return quantity in {"loop", "foot"} or is_relay(quantity)


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
            fine = wanted.value.fine
            if fine is not None and control.fine_cc is not None:
                fine_stands = receiver.value(control.fine_cc) == fine
            else:
                fine_stands = True  # no fine part is ever sent to it
            return receiver.value(control.cc) == wanted.value.value and fine_stands
    return True
