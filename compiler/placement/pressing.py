"""What the foot must do so that a preset is loaded, given how the switcher behaves.

Runs once presets are placed: along the night, press by press. What is loaded is known within a
song, and in one that follows straight on; between other songs it is not, for there the tuner may
have been pressed, or a request played. Nothing here knows of messages or units.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable
from enum import StrEnum
from typing import NamedTuple

from setwright.compiler.lowering.preset import Address
from setwright.scenes.switcher import Switcher


class Foot(StrEnum):
    """What the foot does for a preset, once it stands in its bank."""

    PRESS = "press"
    STAY = "stay"
    UNLESS_ON = "unless on"


class Now(NamedTuple):
    """What is certain of a switcher: the preset that is loaded, and the bank it stands in.

    Either is None where nobody knows.
    """

    loaded: Address | None = None
    bank: int | None = None


def foot_for(switcher: Switcher, now: Now, wanted: Address) -> Foot:
    """Return what the foot does so that ``wanted`` is loaded, wherever that leaves it.

    It stays where the preset is loaded already. Where a move to its bank has loaded it, another
    press does no harm, unless it would go back. Where nobody knows what is loaded, a press is
    right, unless it might go back: then the player has to look.
    """
    moved = now.bank is not None and now.bank != wanted.bank
    loaded = on_arrival(switcher, now.loaded, wanted.bank) if moved else now.loaded
    goes_back = switcher.same_switch_again == "goes back"
    if loaded == wanted and (goes_back or not moved):
        return Foot.STAY
    return Foot.UNLESS_ON if loaded is None and goes_back else Foot.PRESS


def on_arrival(switcher: Switcher, loaded: Address | None, bank: int) -> Address | None:
    """Return what is loaded once the switcher has been moved to ``bank`` from another."""
    if not switcher.bank_moves.loads_at_once:
        return loaded
    if switcher.bank_moves.loads == "first switch":
        return Address(bank, 0)
    return None if loaded is None else Address(bank, loaded.switch)


def pressed(wanted: Address) -> Now:
    """Return what is certain once ``wanted`` is loaded."""
    return Now(wanted, wanted.bank)


def first_of_all(
    switcher: Switcher, firsts: Collection[Address], placed: Iterable[Address]
) -> Address | None:
    """Return what has to be pressed before the first song; None where nothing has to.

    When the power comes on a preset is loaded, and not all units are awake to hear what it
    sends. If that is the first one of the night, and its switch would not send it again, another
    must be loaded in between. ``firsts`` are those with which the night may begin; a preset of
    tonight, one of ``placed``, is pressed rather than one of which nothing is known.
    """
    if switcher.same_switch_again == "sends again":
        return None
    if switcher.at_power_up == "first preset":
        firsts = [one for one in firsts if one == Address(0, 0)]
    if not firsts:
        return None
    bank = min(firsts).bank
    others = [one for one in placed if one.bank == bank]
    others += [Address(bank, switch) for switch in range(switcher.switches.count)]
    others += [Address(other, 0) for other in (bank + 1, bank - 1)]
    beside = (one for one in others if one not in firsts and one.bank in range(_banks(switcher)))
    alone = (one for one in others if one != min(firsts) and one.bank in range(_banks(switcher)))
    return next(beside, None) or next(alone, None)


def _banks(switcher: Switcher) -> int:
    return switcher.banks.count
