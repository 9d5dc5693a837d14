"""An amplifier on an output of the pedals' power supply."""

from __future__ import annotations

from collections.abc import Iterator

from setwright.compiler.checks.check import POWER_CAUTION, Also, Check, Explained, Fault
from setwright.compiler.checks.common.supply import on_supply
from setwright.compiler.compiled import Compiled
from setwright.scenes.finding import Severity
from setwright.scenes.quantities import quoted

EXPLAINED = Explained(
    code="amplifier-on-supply",
    severity=Severity.ERROR,
    brief="An amplifier on an output of the pedals' power supply.",
    finds="An output of the power supply feeds an amplifier that does not say that it is made for "
    "that. Amplifiers run on the mains, or on an adapter of their own (common practice, no "
    "source); a supply for pedals gives a small part of what they draw.",
    hurts="The supply is overloaded and gets hot, all pedals on it fail, and a plug that is forced "
    "into the wrong socket destroys what it reaches.",
    do="take it out of feeds:, and let the amplifier say own power: yes; one that is made like a "
    "pedal, for such a supply, says in power: what is printed on it",
    example="""\
        combo: {is: amplifier}
        supply:
          one: {gives: 500 mA, volts: 9 V, feeds: [squeezer, wobbler, combo]}
    """,
    caution=POWER_CAUTION,
    can_pass=False,
)


def run(compiled: Compiled) -> Iterator[Fault]:
    """Yield one fault for each cable from the supply to an amplifier."""
    for cable in on_supply(compiled.book.rig, compiled.lines.gone, amplifiers=True):
        yield Fault(
            cable.path,
            f"{quoted(cable.unit)} is an amplifier, and the pedals' power supply is to feed it",
            also=(Also("the amplifier", ("rig", "units", cable.unit), at_key=True),),
        )


CHECK = Check(EXPLAINED, run)
