"""A unit that says what it draws, and that no output of the supply feeds."""

from __future__ import annotations

from collections.abc import Iterator

from setwright.compiler.checks.check import POWER_CAUTION, Also, Check, Explained, Fault
from setwright.compiler.checks.common.supply import not_fed, unused
from setwright.compiler.compiled import Compiled
from setwright.scenes.finding import Severity
from setwright.scenes.quantities import plain_number, quoted

EXPLAINED = Explained(
    code="not-fed",
    severity=Severity.WARNING,
    brief="A unit that says what it draws, and that no output of the supply feeds.",
    finds="The rig has a power supply, and a unit with power: hangs on none of its outputs, "
    "neither straight nor through another unit that is there tonight.",
    hurts="It stays dark, or somebody plugs it in wherever a plug is free, which nobody has "
    "reckoned with.",
    do="write it under feeds: of the output that it hangs on, or under passes on to: of the unit "
    "before it; a unit with an adapter, a battery or the mains says own power: yes",
    example="""\
        echo:
          power: {draws: 160 mA, volts: 9 V}
        supply:
          one: {gives: 500 mA, volts: 9 V, feeds: [squeezer, wobbler]}
    """,
    caution=POWER_CAUTION,
)


def run(compiled: Compiled) -> Iterator[Fault]:
    """Yield one fault for each unit that needs power and gets none."""
    rig, gone = compiled.book.rig, compiled.lines.gone
    if not rig.supply:
        return
    free = tuple(
        Also("feeds nothing", ("rig", "supply", name), at_key=True)
        for name in unused(compiled.book)[:3]
    )
    for name in not_fed(rig, gone):
        power = rig.units[name].power
        assert power is not None
        why = "".join(
            f": {quoted(giver)}, which passes its power on to it, is missing tonight"
            for giver in sorted(gone)
            if (unit := rig.units.get(giver)) is not None
            and unit.power is not None
            and name in unit.power.passes_on_to
        )
        yield Fault(
            ("rig", "units", name, "power"),
            f"{quoted(name)} draws {plain_number(power.draws)} mA, and no output of the supply "
            f"feeds it{why}",
            also=free,
            at_key=True,
        )


CHECK = Check(EXPLAINED, run)
