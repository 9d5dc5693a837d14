"""Repeats that should go on sounding and that the switcher's loop cuts off."""

from __future__ import annotations

import itertools
from collections.abc import Iterator

from setwright.compiler.checks.check import Also, Check, Explained, Fault
from setwright.compiler.compiled import Compiled
from setwright.scenes.finding import Severity
from setwright.scenes.quantities import quoted

EXPLAINED = Explained(
    code="tails-cut",
    severity=Severity.WARNING,
    brief="Repeats that should go on sounding and that the switcher's loop cuts off.",
    finds="A unit's repeats should stay (tails: stay), but it sits in a loop, and the next scene "
    "of a song takes that loop out: the signal no longer comes through the box.",
    hurts="The last repeats break off at the press, in the middle of a note.",
    do="take the unit out of the loop and switch it by a control, or write tails: cut if that is "
    "what you want",
    example="""\
        echo:
          loop: 3
          tails: stay
    """,
)


def run(compiled: Compiled) -> Iterator[Fault]:
    """Yield one fault for each unit in a loop whose repeats a change of scene cuts off."""
    in_loops = {
        name
        for name, unit in compiled.target.units.items()
        if unit.loop is not None and unit.tails == "stay" and name not in compiled.lines.gone
    }
    for song in compiled.songs if in_loops else ():
        steps = [
            compiled.scene(song, one.scene) for one in song.moments if one.scene in song.scenes
        ]
        for before, after in itertools.pairwise(steps):
            loops = {one.unit: one.value for one in after.proved if one.quantity == "loop"}
            for one in before.proved:
                cut = one.quantity == "loop" and one.value is True and not loops.get(one.unit)
                if one.unit in in_loops and cut:
                    in_loops.remove(one.unit)
                    yield Fault(
                        ("rig", "units", one.unit, "tails"),
                        f"{after.called} cuts off the repeats of {quoted(one.unit)} "
                        f"that {before.called} leaves: its loop goes out",
                        also=(
                            Also("its loop", ("rig", "units", one.unit, "loop")),
                            Also("the scene that cuts them", after.bound.path, at_key=True),
                        ),
                    )


CHECK = Check(EXPLAINED, run)
