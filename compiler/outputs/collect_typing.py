"""What is to be typed and stored before the night → plain data."""

from __future__ import annotations

from collections.abc import Iterator

from setwright.compiler.compiled import Compiled
from setwright.compiler.outputs.collect_songs import place_of
from setwright.compiler.outputs.sent import ProgramData, StepData
from setwright.compiler.plan import Plan, all_programs, meanings
from setwright.compiler.reports.plan import begins_from_nothing, what_to_set


def steps_of(compiled: Compiled, plan: Plan) -> Iterator[StepData]:
    """Yield the presets to type, in the order of ``plan``."""
    words = meanings(compiled)
    for step in plan.steps:
        yield StepData(
            place=place_of(compiled, step.address),
            name=step.wanted.name,
            copied_from=None if step.copy is None else place_of(compiled, step.copy),
            from_nothing=begins_from_nothing(step),
            entries=tuple(what_to_set(step, words)),
        )


def programs_of(compiled: Compiled, plan: Plan) -> Iterator[ProgramData]:
    """Yield the programs that tonight's presets load, unit by unit."""
    lacking = set(plan.programs)
    for one in all_programs(compiled):
        yield ProgramData(unit=one.unit, shown=one.shown, name=one.name, stored=one not in lacking)
