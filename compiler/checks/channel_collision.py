"""Two units on one channel: what is meant for one makes the other act too."""

from __future__ import annotations

from collections.abc import Iterator

from setwright.compiler.binding.target import SWITCHER
from setwright.compiler.checks.check import Also, Check, Explained, Fault
from setwright.compiler.compiled import Compiled
from setwright.compiler.proving.routing import Hearing, Reaction, takes_bank_select
from setwright.compiler.proving.traffic import Sent
from setwright.scenes.finding import Severity
from setwright.scenes.places import KeyPath
from setwright.scenes.quantities import quoted
from setwright.scenes.unit import Unit

EXPLAINED = Explained(
    code="channel-collision",
    severity=Severity.ERROR,
    brief="Two units on one channel: what is meant for one makes the other act too.",
    finds="A message that is meant for one box reaches another that listens on the same channel "
    "and acts on it, or that has not said what it ignores and so may act on it.",
    hurts="A scene changes a box that it should leave alone: the echo loads a program when the "
    "tremolo is called, and nobody knows what it will sound like.",
    do="give one of them another channel, on the box itself and here",
    example="""\
        wobbler:
          channel: 6
          programs: {tremolo: 42}
        barn:
          channel: 6
          programs: {small room: 3}
    """,
    changes_sound=True,
)


def run(compiled: Compiled) -> Iterator[Fault]:
    """Yield one fault for each unit that shares its channel with one that stands before it."""
    book = compiled.book
    rank = {name: number for number, name in enumerate((SWITCHER, *book.rig.units))}
    clashes: dict[str, dict[str, tuple[Sent, Hearing]]] = {}
    for sent in compiled.traffic:
        for hearing in sent.unmeant:
            unit = book.rig.units.get(hearing.unit)
            # Units on every channel, and bank selects, are other checks' faults.
            if unit is not None and (unit.channel == "omni" or _is_bank_select(sent, unit)):
                continue
            first, second = sorted((sent.command.unit, hearing.unit), key=rank.__getitem__)
            known = clashes.setdefault(second, {}).get(first)
            # What surely acts says more than what only may.
            if known is None or known[1].reaction is Reaction.MAY_ACT is not hearing.reaction:
                clashes[second][first] = (sent, hearing)
    for second, partners in clashes.items():
        first = min(partners, key=rank.__getitem__)
        sent, hearing = partners[first]
        yield Fault(
            _channel(second),
            f"what is meant for {quoted(sent.command.unit)} reaches {quoted(hearing.unit)} on the "
            f"same channel: {sent.command.message} (in {sent.scene}) {hearing.reaction.would} make "
            f"{quoted(hearing.unit)} {hearing.what}",
            EXPLAINED.do
            if hearing.reaction is Reaction.ACTS
            else f"{EXPLAINED.do}; or, if its manual shows that it ignores this, write acts only "
            "on: what is declared",
            tuple(
                Also(f"the channel of {other}", _channel(other))
                for other in sorted(partners, key=rank.__getitem__)
            ),
        )


def _is_bank_select(sent: Sent, unit: Unit) -> bool:
    """Tell whether ``unit`` takes for a bank select what was sent as another control."""
    message = sent.command.message
    if message.kind != "control" or sent.command.quantity == "bank":
        return False
    return takes_bank_select(unit, message.data[0])


def _channel(name: str) -> KeyPath:
    if name == SWITCHER:
        return ("switcher", "recalled on channel")
    return ("rig", "units", name, "channel")


CHECK = Check(EXPLAINED, run)
