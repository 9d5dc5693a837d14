"""Presets that no message can load."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import takewhile

from setwright.compiler.checks.check import Also, Check, Explained, Fault
from setwright.compiler.compiled import Compiled
from setwright.scenes.finding import Severity

EXPLAINED = Explained(
    code="beyond-recall",
    severity=Severity.NOTE,
    brief="Presets that no message can load.",
    finds="The switcher loads its presets on program changes, but some of tonight's lie beyond "
    "program 127, and it obeys no bank select that reaches them.",
    hurts="A computer cannot call these scenes; a foot can.",
    do="give this rig lower banks, or say recalled by bank select: if the switcher obeys one",
    example="""\
        banks: 30
        recalled on channel: 16
    """,
)


def run(compiled: Compiled) -> Iterator[Fault]:
    """Yield one fault for all presets that no message can load."""
    book = compiled.book
    if book.switcher.recalled_on_channel is None or not compiled.lines.recalls:
        return
    # Numbers rise with the places, so what can be recalled ends somewhere.
    last_first = sorted(compiled.placement.presets, key=lambda one: one.slot, reverse=True)
    beyond = [
        compiled.scenes[key]
        for preset in takewhile(lambda one: compiled.recall_of(one.scenes[0]) is None, last_first)
        for key in preset.scenes
    ]
    if beyond:
        yield Fault(
            ("switcher", "recalled on channel"),
            f"no program change loads {len(beyond)} of tonight's scenes, "
            f"{beyond[0].called} among them: their presets lie beyond program 127",
            also=(Also("one of them", beyond[0].bound.path, at_key=True),),
        )


CHECK = Check(EXPLAINED, run)
