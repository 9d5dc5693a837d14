"""What is certain of a scene: its messages run through model receivers that begin unknown.

Runs once for each different scene, after lowering. A receiver that knows nothing of what was
before and ends in the state that is wanted will end there after any scene at all, so one run
proves it for every scene that can come before. What does not come out as wanted cannot be known,
and the verdict says why. Loops and relays are the preset's own and need no message; where a
foot decides, the verdict of `states` stands.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from fractions import Fraction

from setwright.compiler.bind import BoundScene
from setwright.compiler.hear import SWITCHER, Lines
from setwright.compiler.midi import encode
from setwright.compiler.receive import Receiver
from setwright.compiler.states import Cause, Verdict, Wanted
from setwright.compiler.target import Program, Setting
from setwright.compiler.wire import Transmission
from setwright.scenes.rig import Unit

Arrivals = tuple[tuple[bytes, Fraction], ...]
"""Messages with the time, in ms, at which each begins."""

BY_PRESET = frozenset({"loop", "relay", "foot"})
"""Quantities that no message sets."""


@dataclass(slots=True)
class Prover:
    """Proves the scenes of one rig; units that hear the same are run once.

    ``sender`` is whose messages are proven: those of the switcher's presets.
    """

    lines: Lines
    units: dict[str, Unit]
    sender: str = SWITCHER
    _ran: dict[tuple[str, Arrivals], Receiver] = field(default_factory=dict)

    def prove(self, scene: BoundScene, sent: Transmission) -> tuple[Wanted, ...]:
        """Return the quantities of ``scene`` with the verdicts that its messages bear out."""
        receivers = self.receivers(sent)
        return tuple(
            one
            if one.verdict is not Verdict.PROVEN or one.quantity in BY_PRESET
            else self._judged(one, receivers.get(one.unit))
            for one in scene.wanted
        )

    def receivers(self, sent: Transmission) -> dict[str, Receiver]:
        """Return every unit that hears the sender, in the state in which ``sent`` leaves it."""
        arrivals: dict[int, list[tuple[bytes, Fraction]]] = {}
        everything = []
        for timed in sent.orders:
            message = (encode(timed.order.message), timed.starts)
            arrivals.setdefault(timed.order.message.channel, []).append(message)
            everything.append(message)
        found = {}
        for name in self.lines.reach(self.sender):
            unit = self.units.get(name)
            if unit is None or unit.channel is None:
                continue
            heard = everything if unit.channel == "omni" else arrivals.get(int(unit.channel), [])
            found[name] = self._run(name, unit, tuple(heard))
        return found

    def _run(self, name: str, unit: Unit, heard: Arrivals) -> Receiver:
        key = (name, heard)
        if key not in self._ran:
            receiver = self._ran[key] = Receiver(unit)
            for stream, starts in heard:
                receiver.take(stream, starts)
        return self._ran[key]

    def _judged(self, wanted: Wanted, receiver: Receiver | None) -> Wanted:
        if receiver is None:
            reason = "no MIDI cable brings it a message of the switcher; write it under midi:"
            return wanted._replace(verdict=Verdict.UNKNOWN, reason=reason, cause=Cause.DEAF)
        if stands(wanted, receiver):
            return wanted
        cause = _why_not(receiver)
        return wanted._replace(verdict=Verdict.UNKNOWN, reason=REASONS[cause], cause=cause)


def stands(wanted: Wanted, receiver: Receiver) -> bool:
    """Tell whether ``receiver`` is known to stand where ``wanted`` wants it."""
    match wanted.value:
        case bool():
            return receiver.on is wanted.value
        case Program():
            return receiver.program == (wanted.value.bank or 0, wanted.value.number)
        case Setting():
            unit = receiver.unit
            control = unit.time if wanted.quantity == "time" else unit.controls[wanted.quantity]
            assert control is not None
            fine = 0 if control.fine_cc is None else receiver.value(control.fine_cc)
            return receiver.value(control.cc) == wanted.value.value and fine == 0
    return True


REASONS = {
    Cause.BUSY: "the preset's message comes while the unit is busy loading its program; use a "
    "program that has it built in",
    Cause.DISTURBED: "the unit may act on something that was not meant for it; give it a channel "
    "of its own",
    Cause.UNDONE: "the preset sends it before the program, which undoes it; use a program that "
    "has it built in",
}


def _why_not(receiver: Receiver) -> Cause:
    if receiver.lost:
        return Cause.BUSY
    return Cause.DISTURBED if receiver.disturbed else Cause.UNDONE
