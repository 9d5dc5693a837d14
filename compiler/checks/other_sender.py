"""A keyboard or another sender whose programs or controls a unit obeys."""

from __future__ import annotations

from collections.abc import Iterator

from setwright.compiler.binding.target import SWITCHER
from setwright.compiler.checks.check import Also, Check, Explained, Fault
from setwright.compiler.compiled import Compiled
from setwright.compiler.midi import control, program
from setwright.compiler.proving.routing import declared_controls, reaction
from setwright.compiler.proving.traffic import Sent
from setwright.scenes.finding import Severity
from setwright.scenes.places import KeyPath
from setwright.scenes.quantities import quoted
from setwright.scenes.rig import Rig
from setwright.scenes.unit import Sending, Unit

EXPLAINED = Explained(
    code="other-sender",
    severity=Severity.ERROR,
    brief="A keyboard or another sender whose programs or controls a unit obeys.",
    finds="A box that sends programs or controls by itself (a keyboard, a drum box) is on a line "
    "with a unit, or with the switcher, that acts on them or may do so.",
    hurts="The keyboard player chooses a piano, and your echo loads another program.",
    do="let the sender use another channel, turn its programs and controls off, or let pass what "
    "is meant",
    example="""\
        keyboard:
          is: sender
          sends: programs on channel 9
        echo:
          channel: 9
        midi:
          - [switcher, joiner]
          - [keyboard, joiner]
          - [joiner, wobbler, echo]
    """,
    changes_sound=True,
)

MESSAGES = {"programs": "program", "controls": "control"}
"""What a sender is said to send → the kind of its messages, where the switcher sends them too."""


def run(compiled: Compiled) -> Iterator[Fault]:
    """Yield one fault for each thing that a sender sends and somebody obeys."""
    book, lines = compiled.book, compiled.lines
    rig = book.rig
    for name, unit in rig.units.items():
        for index, sending in enumerate(unit.sends if name not in lines.gone else ()):
            obeying = [
                other
                for other in lines.reach(name)
                if other != name and _obeys(compiled, other, sending)
            ]
            if not obeying:
                continue
            both = _also_sent(compiled.traffic, obeying, sending)
            yield Fault(
                ("rig", "units", name, "sends", index),
                f"{' and '.join(map(quoted, obeying))} would act on the {sending} of {quoted(name)}"
                + (f", and gets {sending.kind} from the {lines.sender} too" if both else ""),
                also=tuple(
                    Also(f"{other} listens here", _channel(rig, other)) for other in obeying
                ),
                units=() if SWITCHER in obeying else tuple(obeying),
            )
        if name not in lines.gone:
            yield from _pedal(compiled, name, unit)


def _pedal(compiled: Compiled, name: str, pedal: Unit) -> Iterator[Fault]:
    """Yield a fault where a pedal's control does something in a unit that it is not meant for."""
    sends = pedal.foot_sends
    if sends is None:
        return
    for other in compiled.lines.reach(name):
        unit = compiled.book.rig.units.get(other)
        if unit is None or other == name or unit.channel not in ("omni", sends.channel):
            continue
        meant = any(one.cc == sends.cc for _, one in unit.every_control)
        if not meant and reaction(unit, control(sends.channel, sends.cc, 0))[0].acting:
            yield Fault(
                ("rig", "units", name, "foot sends"),
                f"{quoted(other)} would act on control {sends.cc} of {quoted(name)}",
                also=(Also(f"{other} listens here", ("rig", "units", other, "channel")),),
                at_key=True,
                units=(other,),
            )


def _obeys(compiled: Compiled, name: str, sending: Sending) -> bool:
    book = compiled.book
    if name == SWITCHER:
        return sending.kind == "programs" and book.switcher.recalled_on_channel == sending.channel
    unit = book.rig.units.get(name)
    if unit is None or unit.channel not in ("omni", sending.channel):
        return False
    if sending.kind == "programs":
        return reaction(unit, program(sending.channel or 1, 0))[0].acting
    if sending.kind == "controls":
        return any(declared_controls(unit)) or not unit.acts_only_on
    return False


def _also_sent(traffic: tuple[Sent, ...], units: list[str], sending: Sending) -> bool:
    kind = MESSAGES.get(sending.kind)
    return any(sent.command.unit in units and sent.command.message.kind == kind for sent in traffic)


def _channel(rig: Rig, name: str) -> KeyPath:
    if name in rig.units:
        return ("rig", "units", name, "channel")
    return ("switcher", "recalled on channel")


CHECK = Check(EXPLAINED, run)
