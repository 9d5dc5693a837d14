"""Effects that the rig makes and that no song of the book asks for."""

from __future__ import annotations

from collections.abc import Iterator

from setwright.compiler.binding.combined import members_of
from setwright.compiler.checks.check import Also, Check, Explained, Fault
from setwright.compiler.compiled import Compiled
from setwright.scenes.finding import Severity
from setwright.scenes.instead import asked
from setwright.scenes.quantities import quoted
from setwright.scenes.wording import number_of

SHOWN = 8
"""Effects that are named; the rest are counted."""

EXPLAINED = Explained(
    code="effect-not-asked",
    severity=Severity.NOTE,
    brief="Effects that no song asks for.",
    finds="The rig makes an effect that no sound, no scene of any song and no general scene asks "
    "for, that stands in for none, and that no combination is made of.",
    hurts="Nothing, if the rig serves other songs too. If a song should ask for it, that scene "
    "sounds without it.",
    do="nothing if other songs use it; otherwise let a scene ask for it, or delete it",
    example="""\
        effects:
          compression: squeezer
          rotor: {wobbler: rotor}
    """,
)


def run(compiled: Compiled) -> Iterator[Fault]:
    """Yield one fault for all of them, at the first."""
    book = compiled.book
    wanted = asked(book) | {name for some in book.rig.instead_of.values() for name in some}
    effects = book.rig.effects
    for name in effects:
        members = members_of(name, effects)
        # What is only made together is asked for if each of it is.
        if members and wanted.issuperset(members):
            wanted.add(name)
    idle = [name for name in effects if name not in wanted]
    if not idle:
        return
    first, *others = [("rig", "effects", name) for name in idle]
    shown = ", ".join(map(quoted, idle[:SHOWN]))
    more = f" and {len(idle) - SHOWN} more" if len(idle) > SHOWN else ""
    many = f"{number_of(len(idle), 'effect')} of this rig: {shown}{more}"
    yield Fault(
        first,
        f"no song asks for {shown if len(idle) == 1 else many}",
        also=tuple(Also("and here", path, at_key=True) for path in others[:3]),
        at_key=True,
    )


CHECK = Check(EXPLAINED, run)
