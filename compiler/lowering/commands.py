"""What a rig is told: MIDI messages with the unit that they are meant for, and why."""

from __future__ import annotations

from fractions import Fraction
from typing import NamedTuple

from setwright.compiler.midi import Message
from setwright.scenes.quantities import Amount


class Command(NamedTuple):
    """One message to one unit.

    ``quantity`` is what it sets (``program``, ``bank``, ``switch``, ``time``, a control's
    name, ``recall``); ``meaning`` says it in words. ``settles`` and ``busy`` are milliseconds
    after its last bit: until the new sound is there, and until the unit listens again.
    ``silences`` tells that it makes the unit quiet; ``joined`` that it must not be parted from
    the command after it; ``name`` is what a program is called, ``shown`` how its unit's display
    shows it; ``asked`` is the amount or position that a control is to have, ``given`` what its
    value makes of it; ``fine`` tells that it is the fine part of the control sent before it.
    """

    unit: str
    quantity: str
    message: Message
    meaning: str
    settles: Fraction = Fraction(0)
    busy: Fraction = Fraction(0)
    silences: bool = False
    joined: bool = False
    shown: str | None = None
    name: str | None = None
    asked: Amount | str | None = None
    given: Amount | str | None = None
    fine: bool = False
