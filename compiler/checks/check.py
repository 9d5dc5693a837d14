"""What a check is: a rule with its explanation, and what it may find.

A check reads a compiled night and yields faults; it knows nothing of files and lines. What it
finds, why that hurts, what to do and an example stand beside it, and are what the commands print
and the reference page holds.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable
from typing import NamedTuple

from setwright.compiler.compiled import Compiled
from setwright.scenes.explained import Explained as Explained
from setwright.scenes.finding import Place, Severity
from setwright.scenes.places import KeyPath

POWER_CAUTION = (
    "Before you connect a box, compare voltage, current, polarity and kind of current with the "
    "label on the box and on the supply: the wrong ones can destroy a box or start a fire, and "
    "what is computed here rests on what was typed. Mains wiring and earth, and the inside of "
    "mains-powered boxes and of valve amplifiers, which hold lethal voltages after they are "
    "unplugged, belong to a licensed technician; local codes come first. Never run a valve "
    "amplifier without its loudspeaker or a proper load."
)
"""Stands wherever a finding about power is explained."""


class Also(NamedTuple):
    """A second place of a fault, with a word on what it has to do with it."""

    message: str
    path: KeyPath
    at_key: bool = False


class Fault(NamedTuple):
    """One thing that a check found, at the value of ``path`` (at its key, with ``at_key``).

    ``help`` stands in for what the check always advises; ``place`` is for what stands nowhere
    in the book as it was read; ``severity`` is one of those that its rule may have besides.
    ``units`` are those whose sound it may change, where these are not the ones that ``path`` and
    ``also`` name.
    """

    path: KeyPath
    message: str
    help: str = ""
    also: tuple[Also, ...] = ()
    at_key: bool = False
    place: Place | None = None
    severity: Severity | None = None
    units: tuple[str, ...] = ()


class Check(NamedTuple):
    """A rule: its explanation and the function that looks for it."""

    explained: Explained
    run: Callable[[Compiled], Iterable[Fault]]
