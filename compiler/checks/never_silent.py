"""A program that nothing takes away again, in scenes that do not ask for it."""

from __future__ import annotations

from collections.abc import Iterator

from setwright.compiler.binding.target import Program
from setwright.compiler.checks.check import Also, Check, Explained, Fault
from setwright.compiler.compiled import Compiled
from setwright.compiler.proving.proved import LoweredScene
from setwright.scenes.finding import Severity
from setwright.scenes.places import KeyPath
from setwright.scenes.quantities import quoted
from setwright.scenes.unit import Unit

EXPLAINED = Explained(
    code="never-silent",
    severity=Severity.WARNING,
    brief="A program that nothing takes away again.",
    finds="A scene loads a program of a unit and another does not, and nothing takes the program "
    "away there: no loop, no switch, no program at rest. A unit of which every scene of the night "
    "loads a program, and one that is always on (always on: yes), are none of these.",
    hurts="From the first scene that uses it, it goes on sounding in every other.",
    do="give the unit a loop:, switched by:, or at rest: with a program that lets the guitar "
    "through unchanged",
    example="""\
        barn:
          channel: 11
          display: 1 to 128
          programs: {small room: 3}
    """,
)


def run(compiled: Compiled) -> Iterator[Fault]:
    """Yield one fault for each unit that goes on sounding where no effect asks for it."""
    scenes = compiled.different_scenes
    for name, unit in compiled.target.units.items():
        if not unit.programs or not _stays(unit) or name in compiled.target.gone:
            continue
        asking = [(scene, loaded) for scene in scenes if (loaded := _loaded(scene, name))]
        others = [scene for scene in scenes if _loaded(scene, name) is None]
        if asking and others:
            scene, program = asking[0]
            yield Fault(
                ("rig", "units", name),
                f"once {quoted(name)} has loaded {quoted(program.name)}, nothing takes it away "
                f"again in scenes that do not ask for it, such as {others[0].called}",
                also=(Also("asked for here", _asked(compiled, scene, name)),),
                at_key=True,
            )


def _stays(unit: Unit) -> bool:
    ways = (unit.loop, unit.switched_by, unit.at_rest)
    moved = unit.by_foot or unit.switched
    return all(way is None for way in ways) and not moved and not unit.always_on


def _loaded(scene: LoweredScene, unit: str) -> Program | None:
    found = (one.value for one in scene.bound.of(unit) if one.quantity == "program")
    return next((value for value in found if isinstance(value, Program)), None)


def _asked(compiled: Compiled, scene: LoweredScene, unit: str) -> KeyPath:
    """Return where the rig says that an effect of ``scene`` takes a program of the unit."""
    return next(
        demand.path
        for effect in scene.bound.effects
        for demand in compiled.target.makes[effect]
        if (demand.unit, demand.quantity) == (unit, "program")
    )


CHECK = Check(EXPLAINED, run)
