"""A sender that a box hears by two ways, so that it gets everything twice."""

from __future__ import annotations

from collections.abc import Iterator

from setwright.compiler.binding.target import COMPUTER, SWITCHER
from setwright.compiler.checks.check import Also, Check, Explained, Fault
from setwright.compiler.compiled import Compiled
from setwright.compiler.proving.routing import Join
from setwright.scenes.finding import Severity
from setwright.scenes.quantities import quoted
from setwright.scenes.unit import Sending, Unit

EXPLAINED = Explained(
    code="heard-twice",
    severity=Severity.ERROR,
    sometimes=(Severity.WARNING,),
    brief="A sender that a box hears by two ways, so that it gets everything twice.",
    finds="Two cables bring a merge the messages of one sender, and what is behind the merge gets "
    "each of them twice. An error where a unit behind it follows that sender's clock (24 to a "
    "quarter note: MIDI 1.0 Detailed Specification 4.2.1, system real time), or has a control that "
    "flips, steps or taps; a warning where it only loads and sets everything twice. Nothing that "
    "it is told is proven.",
    hurts="A clock that comes twice runs at twice the tempo; what is flipped is flipped back; a "
    "program loads twice, and the line is as full as with twice the messages.",
    do="take one of the two cables out, or turn off THRU in a box on one of the two ways",
    example="""\
        midi:
          - [switcher, wobbler, joiner]
          - [switcher, joiner, echo]
    """,
    changes_sound=True,
)


def run(compiled: Compiled) -> Iterator[Fault]:
    """Yield one fault for each merge at which two ways of a sender meet."""
    lines, units = compiled.lines, compiled.book.rig.units
    senders = [one for one in (SWITCHER, COMPUTER) if one in lines.first]
    senders += [name for name, unit in units.items() if unit.sends and name not in senders]
    found: dict[str, Fault] = {}
    for sender in senders:
        for join in lines.joins(sender) if sender not in lines.gone else ():
            fault = _fault(compiled, sender, join)
            known = found.get(join.box)
            if fault is not None and (known is None or known.severity is not None):
                found.setdefault(join.box, fault)
                if fault.severity is None:
                    found[join.box] = fault
    yield from found.values()


def _fault(compiled: Compiled, sender: str, join: Join) -> Fault | None:
    """Return the fault of one join: an error, a warning, or none where nobody minds."""
    units = compiled.book.rig.units
    sends = units[sender].sends if sender in units else []
    behind = [name for name in join.hear if name != sender]
    severe = [(name, why) for name in behind if name in units for why in _harm(units[name], sends)]
    acting = [name for name in behind if _acts(compiled, sender, sends, name)]
    if not severe and not acting:
        return None
    first, second, *_ = join.into
    ways = f"{quoted(first.start)} and from {quoted(second.start)}"
    if first.start == second.start:
        ways = f"{quoted(first.start)} twice"
    does = f"{severe[0][1]} twice" if severe else "gets each of its messages twice"
    name = severe[0][0] if severe else acting[0]
    return Fault(
        second.path,
        f"what {quoted(sender)} sends comes to {quoted(join.box)} from {ways}, so {quoted(name)} "
        f"{does}",
        also=(Also("the other way", first.path, at_key=True),),
        at_key=True,
        severity=None if severe else Severity.WARNING,
        units=tuple(name for name in behind if name in units and units[name].channel is not None),
    )


def _harm(unit: Unit, sends: list[Sending]) -> Iterator[str]:
    """Yield what ``unit`` does twice, and must not, with what a sender sends."""
    if unit.tempo_from == "clock" and any(one.kind == "clock" for one in sends):
        yield "hears its clock"
    if any(one.kind == "controls" and unit.channel in ("omni", one.channel) for one in sends):
        if unit.switched_by is not None and not unit.switched_by.sets:
            yield "is flipped"
        if unit.reached_by is not None:
            yield "steps"
        if unit.tap is not None:
            yield "is tapped"


def _acts(compiled: Compiled, sender: str, sends: list[Sending], name: str) -> bool:
    """Tell whether the box acts on anything that ``sender`` sends."""
    if any(
        hearing.unit == name and hearing.reaction.acting
        for sent in compiled.traffic
        if sent.sender == sender
        for hearing in sent.heard
    ):
        return True
    unit = compiled.book.rig.units.get(name)
    return unit is not None and any(
        one.kind == "programs" and unit.programs and unit.channel in ("omni", one.channel)
        for one in sends
    )


CHECK = Check(EXPLAINED, run)
