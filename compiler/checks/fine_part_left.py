"""A control whose fine part stays as it was, because the preset has no slot for it."""

from __future__ import annotations

from collections.abc import Iterator

from setwright.compiler.binding.states import Cause
from setwright.compiler.binding.target import Setting
from setwright.compiler.checks.check import Also, Check, Explained, Fault
from setwright.compiler.checks.common.left_controls import setters
from setwright.compiler.checks.common.unknowns import Unknown, more, unknowns
from setwright.compiler.compiled import Compiled
from setwright.scenes.finding import Severity
from setwright.scenes.places import KeyPath
from setwright.scenes.quantities import quoted
from setwright.scenes.wording import number_of

EXPLAINED = Explained(
    code="fine-part-left",
    severity=Severity.WARNING,
    brief="A control whose fine part stays as it was, because the preset has no slot for it.",
    finds="A control takes 14 bits, in a coarse and a fine part, and a preset has a slot for the "
    "coarse part alone. The fine part should then begin at 0 (MIDI 1.0 Detailed Specification "
    "4.2.1, control change), but not every box does it: it may stay as another scene, or the "
    "program, has it.",
    hurts="The delay runs a little beside the beat, and never in the same way twice.",
    do="set one control fewer in that preset; or take fine cc: out of the rig, so that every scene "
    "sends the coarse part alone",
    example="""\
        time: {cc: 20, fine cc: 52, linear: 20 ms to 1800 ms, at rest: 400 ms}
        each preset stores: {programs: 4, controls: 3}
    """,
)


def run(compiled: Compiled) -> Iterator[Fault]:
    """Yield one fault for each control whose fine part some preset leaves."""
    room = compiled.book.switcher.each_preset_stores.controls
    for one in unknowns(compiled, Cause.FINE, Cause.BROUGHT):
        own = (one.quantity,) if one.quantity == "time" else ("controls", one.quantity)
        path: KeyPath = ("rig", "units", one.unit, *own, "fine cc")
        left, also = _left(compiled, one)
        yield Fault(
            path,
            f"in {one.scene.called}{more(one.scenes)} the fine part of the {one.quantity} of "
            f"{quoted(one.unit)} may stay as {left}: no slot is left for it "
            f"({number_of(room, 'control')} in a preset)",
            also=(Also("no slot is left here", one.scene.bound.path, at_key=True), *also),
        )


def _left(compiled: Compiled, one: Unknown) -> tuple[str, tuple[Also, ...]]:
    if one.cause is Cause.BROUGHT:
        return "its program brings it", ()
    for wanted, scene in setters(compiled, one):
        if isinstance(wanted.value, Setting) and wanted.value.fine:
            return (
                f"{scene.called} leaves it, at {wanted.value.fine}",
                (Also("sends a fine part", scene.bound.path, at_key=True),),
            )
    return "another scene leaves it", ()


CHECK = Check(EXPLAINED, run)
