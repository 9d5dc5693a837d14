"""A program that is sent again and ignored, so that it does not bring its own settings back."""

from __future__ import annotations

from collections.abc import Iterator

from setwright.compiler.binding.states import Cause
from setwright.compiler.checks.check import Also, Check, Explained, Fault
from setwright.compiler.checks.common.left_controls import asked, cheapest_way_out, leavers, setters
from setwright.compiler.checks.common.unknowns import unknowns
from setwright.compiler.compiled import Compiled
from setwright.scenes.finding import Severity
from setwright.scenes.quantities import quoted

EXPLAINED = Explained(
    code="repeat-ignored",
    severity=Severity.WARNING,
    brief="A program sent again and ignored, which does not bring its settings back.",
    finds="A scene relies on a program to bring its own setting of a control, but the unit "
    "ignores a program that is loaded already, and another scene with the same program sets that "
    "control differently.",
    hurts="Between two scenes with the same program the other scene's setting stays.",
    do="give the control an at rest: in the rig, or use two programs",
    example="""\
        wobbler:
          same program again: ignored
          controls:
            depth: {cc: 40, linear: 0 % to 100 %}
    """,
)


def run(compiled: Compiled) -> Iterator[Fault]:
    """Yield one fault for each control that an ignored repeat does not bring back."""
    for one in unknowns(compiled, Cause.REPEAT):
        setting = setters(compiled, one)
        left = next(leavers(one, setting, same_program=True), None)
        if left is None:
            continue
        scene, wanted, other = left
        yield Fault(
            ("rig", "units", one.unit, "same program again"),
            f"{quoted(one.unit)} ignores a program that it has already, so after "
            f"{other.called} its {one.quantity} stays {asked(wanted)} in "
            f"{scene.called}",
            cheapest_way_out(compiled, one),
            (
                Also("relies on the program", scene.bound.path, at_key=True),
                Also(f"sets the {one.quantity}", other.bound.path, at_key=True),
            ),
        )


CHECK = Check(EXPLAINED, run)
