"""A change of scene that takes longer than the rig says it may."""

from __future__ import annotations

from collections.abc import Iterator
from fractions import Fraction

from setwright.compiler.checks.check import Also, Check, Explained, Fault
from setwright.compiler.compiled import Compiled
from setwright.scenes.finding import Severity
from setwright.scenes.places import KeyPath
from setwright.scenes.quantities import plain_number
from setwright.scenes.wording import number_of

EXPLAINED = Explained(
    code="slow-change",
    severity=Severity.WARNING,
    brief="A change of scene that takes longer than the rig says it may.",
    finds="A change of scene takes longer, from the press until the new sound is there, than "
    "changes within: allows. The time is that of the messages on the wire, 320 µs a byte, of the "
    "switcher's pauses between them, and of the slowest unit's settles in:.",
    hurts="You press on the beat and the sound comes after it.",
    do="let the scene set fewer units, choose a program that settles sooner, or allow more time",
    example="""\
        changes within: 40 ms
        wobbler:
          settles in: 60 ms
    """,
)


def run(compiled: Compiled) -> Iterator[Fault]:
    """Yield one fault for the slowest change of all that are too slow."""
    book = compiled.book
    allowed = book.rig.changes_within
    if allowed is None:
        return
    slow: dict[KeyPath, tuple[Fraction, str]] = {}
    for scene in compiled.scenes.values():
        takes = scene.lowered.sent.sound
        if takes > allowed:
            slow.setdefault(scene.bound.path, (takes, scene.called))
    if slow:
        worst = max(slow, key=lambda path: slow[path][0])
        takes, name = slow[worst]
        others = len(slow) - 1
        more = f", and {number_of(others, 'more scene')} {'is' if others == 1 else 'are'} too slow"
        yield Fault(
            ("rig", "changes within"),
            f"{name} is there {plain_number(round(takes, 1))} ms after the press, which "
            f"is more than {plain_number(allowed)} ms{more if others else ''}",
            also=(Also("the slowest", worst, at_key=True),),
        )


CHECK = Check(EXPLAINED, run)
