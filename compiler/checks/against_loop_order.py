"""A path that goes through the switcher's loops in an order that it does not have."""

from __future__ import annotations

from collections.abc import Iterator

from setwright.compiler.checks.check import Also, Check, Explained, Fault
from setwright.compiler.compiled import Compiled
from setwright.compiler.signal.order import OutOfOrder, VolumeOutOfPlace, out_of_order
from setwright.scenes.finding import Severity
from setwright.scenes.quantities import quoted

EXPLAINED = Explained(
    code="against-loop-order",
    severity=Severity.WARNING,
    brief="A path that goes through the switcher's loops in an order that it does not have.",
    finds="The order of the switcher's loops is fixed (loop order:), and the path comes to a "
    "higher one before a lower one; or a volume pedal without a loop stands between two loops "
    "where the switcher has no volume loop:. Loops in front of a preamplifier and in an effects "
    "loop may be either way round, but not mixed.",
    hurts="The boxes cannot be plugged in like this: they sound in another order.",
    do="put the boxes into loops whose numbers rise along the path, write the path as it is, or "
    "say loop order: per preset in the switcher if it can be changed there",
    example="""\
        units:
          squeezer: {loop: 1}
          wobbler:
            loop: 2
        path:
          - [guitar, wobbler, squeezer, echo, combo]
    """,
)


def run(compiled: Compiled) -> Iterator[Fault]:
    """Yield one fault for each place at which the order is another."""
    switcher = compiled.book.switcher
    if switcher.loop_order != "fixed":
        return
    loops = {
        name: unit.loop for name, unit in compiled.target.units.items() if unit.loop is not None
    }
    volume = switcher.volume_loop
    cut = compiled.path_faults.twice or compiled.path_faults.circles
    if cut:
        return  # nobody can tell which way the signal goes
    after = None if volume is None else volume.after_loop
    for one in out_of_order(compiled.signal, loops, after):
        match one:
            case OutOfOrder():
                yield _order(one, loops)
            case VolumeOutOfPlace():
                assert volume is not None
                yield _volume(one, loops, volume.after_loop)


def _order(one: OutOfOrder, loops: dict[str, int]) -> Fault:
    unit, before = one.word.unit, one.before.unit
    return Fault(
        one.word.path,
        f"{quoted(unit)} in loop {loops[unit]} comes behind {quoted(before)} in loop "
        f"{loops[before]}, and the switcher's loops are in a fixed order",
        also=(
            Also("this comes before it", one.before.path),
            Also("its loop", ("rig", "units", unit, "loop")),
        ),
    )


def _volume(one: VolumeOutOfPlace, loops: dict[str, int], after: int) -> Fault:
    unit = one.word.unit
    first, second = loops[one.before.unit], loops[one.behind.unit]
    return Fault(
        one.word.path,
        f"{quoted(unit)} stands between loop {first} and loop {second}, and the switcher's volume "
        f"loop comes after loop {after}",
        "put it where the switcher has the volume loop, before all loops or behind them, or into a "
        "loop: of its own",
        also=(
            Also("the volume loop", ("switcher", "volume loop")),
            Also("the unit", ("rig", "units", unit), at_key=True),
        ),
    )


CHECK = Check(EXPLAINED, run)
