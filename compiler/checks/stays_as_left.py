"""A control that a scene does not set and that stays as the scene before left it."""

from __future__ import annotations

from collections.abc import Iterator

from setwright.compiler.binding.states import Cause
from setwright.compiler.checks.check import Also, Check, Explained, Fault
from setwright.compiler.checks.common.left_controls import asked, cheapest_way_out, leavers, setters
from setwright.compiler.checks.common.unknowns import more, unknowns
from setwright.compiler.compiled import Compiled
from setwright.scenes.finding import Severity
from setwright.scenes.places import KeyPath
from setwright.scenes.quantities import quoted

EXPLAINED = Explained(
    code="stays-as-left",
    severity=Severity.WARNING,
    brief="A control that a scene does not set and that stays as the scene before left it.",
    finds="A scene uses a unit but does not set one of its controls, and another scene does. "
    "Nothing brings the control back, so it stays as the scene before left it.",
    hurts="The scene sounds right at home, where it is tried first, and wrong after another song.",
    do="give the control an at rest: in the rig, which every scene then sends; or use programs "
    "that have it built in",
    example="""\
        controls:
          mix: {cc: 21, linear: 0 % to 100 %}
        loud echo: {echo: {set: {mix: 80 %}}}
    """,
)


def run(compiled: Compiled) -> Iterator[Fault]:
    """Yield one fault for each control that some scene leaves and another does not set."""
    for one in unknowns(compiled, Cause.LEFT):
        setting = setters(compiled, one)
        left = next(leavers(one, setting, same_program=False), None)
        if left is None:
            continue
        scene, wanted, other = left
        own = (one.quantity,) if one.quantity == "time" else ("controls", one.quantity)
        path: KeyPath = ("rig", "units", one.unit, *own)
        yield Fault(
            path,
            f"in {scene.called}{more(one.scenes)} the {one.quantity} of "
            f"{quoted(one.unit)} stays as the scene before left it: {asked(wanted)} after "
            f"{other.called}",
            cheapest_way_out(compiled, one),
            (
                Also("does not set it", scene.bound.path, at_key=True),
                Also("sets it", other.bound.path, at_key=True),
            ),
            at_key=True,
        )


CHECK = Check(EXPLAINED, run)
