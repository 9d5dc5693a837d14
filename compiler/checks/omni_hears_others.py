"""A unit that listens on every channel and acts on what is meant for others."""

from __future__ import annotations

from collections.abc import Iterator

from setwright.compiler.checks.check import Also, Check, Explained, Fault
from setwright.compiler.compiled import Compiled
from setwright.compiler.proving.routing import Hearing, Reaction
from setwright.compiler.proving.traffic import Sent
from setwright.scenes.finding import Severity
from setwright.scenes.quantities import quoted

EXPLAINED = Explained(
    code="omni-hears-others",
    severity=Severity.ERROR,
    brief="A unit that listens on every channel and acts on what is meant for others.",
    finds="A unit listens on every channel (omni) and acts, or may act, on messages that are "
    "meant for other units on its line. Omni is no fault where everything on the line is meant "
    "for that unit.",
    hurts="Every program change for any box changes this one too.",
    do="set it to a channel of its own, on the box itself and here",
    example="""\
        echo:
          channel: omni
        midi:
          - [switcher, wobbler, echo]
    """,
    changes_sound=True,
)


def run(compiled: Compiled) -> Iterator[Fault]:
    """Yield one fault for each unit on omni, with the first message that it should not hear."""
    book = compiled.book
    heard: dict[str, list[tuple[Sent, Hearing]]] = {}
    for sent in compiled.traffic:
        for hearing in sent.unmeant:
            unit = book.rig.units.get(hearing.unit)
            if unit is not None and unit.channel == "omni":
                heard.setdefault(hearing.unit, []).append((sent, hearing))
    for name, all_heard in heard.items():
        sent, hearing = min(all_heard, key=lambda one: one[1].reaction is Reaction.MAY_ACT)
        others = dict.fromkeys(one.command.unit for one, _ in all_heard)
        yield Fault(
            ("rig", "units", name, "channel"),
            f"{quoted(name)} listens on every channel, so {sent.command.message}, meant for "
            f"{quoted(sent.command.unit)} (in {sent.scene}), "
            f"{hearing.reaction.would} make it {hearing.what}",
            ""
            if hearing.reaction is Reaction.ACTS
            else f"{EXPLAINED.do}; or, if its manual shows that it ignores this, write acts only "
            "on: what is declared",
            tuple(
                Also(f"what is meant for {other} too", ("rig", "units", other, "channel"))
                for other in others
                if other in book.rig.units
            ),
            units=(name,),
        )


CHECK = Check(EXPLAINED, run)
