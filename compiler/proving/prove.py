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

from setwright.compiler.binding.bound import BoundScene
from setwright.compiler.binding.states import Cause, Verdict, Wanted
from setwright.compiler.binding.target import COMPUTER, Program
from setwright.compiler.lowering.wire import Transmission
from setwright.compiler.midi import encode
from setwright.compiler.proving.bystanders import Bystanders
from setwright.compiler.proving.receiver import UNKNOWN, Receiver
from setwright.compiler.proving.routing import Lines
from setwright.compiler.proving.stands import BY_PRESET, stands
from setwright.scenes.unit import Unit

Arrivals = tuple[tuple[bytes, Fraction], ...]
"""Messages with the time, in ms, at which each begins."""

ProgramState = tuple[int, int] | str
"""Bank and program, or `UNKNOWN`."""


@dataclass(slots=True)
class Prover:
    """Proves what the sender of scenes does on one rig; units that hear the same are run once."""

    lines: Lines
    units: dict[str, Unit]
    sender: str = field(init=False)
    bystanders: Bystanders = field(init=False)
    _ran: dict[tuple[str, Arrivals, ProgramState], Receiver] = field(default_factory=dict)
    _twice: frozenset[str] = field(init=False)

    def __post_init__(self) -> None:
        """Note who sends, and who hears it by two ways."""
        self.sender = self.lines.sender
        self.bystanders = Bystanders(self.lines, self.units)
        self._twice = frozenset(
            name for join in self.lines.joins(self.sender) for name in join.hear
        )

    @property
    def by_computer(self) -> bool:
        """Whether a computer sends the messages of scenes, and presets none."""
        return self.sender == COMPUTER

    def prove(self, scene: BoundScene, sent: Transmission) -> tuple[Wanted, ...]:
        """Return the quantities of ``scene`` with the verdicts that its messages bear out."""
        heard = self._heard(sent)
        moved = self.bystanders.moved(scene, sent, self.sender)
        spoilt = {name: Cause.DISTURBED for name, one in moved.items() if one.harmed}
        spoilt |= dict.fromkeys(self._twice, Cause.TWICE)
        programs = {one.unit for one in scene.wanted if isinstance(one.value, Program)}
        return tuple(
            one
            if one.verdict is not Verdict.PROVEN or one.quantity in BY_PRESET
            else _unknown(one, spoilt[one.unit])
            if one.unit in spoilt
            else self._judged(one, heard.get(one.unit), any_program=one.unit not in programs)
            for one in scene.wanted
        )

    def _heard(self, sent: Transmission) -> dict[str, Arrivals]:
        """Return every unit that hears the sender, with what arrives on its channel."""
        arrivals: dict[int, list[tuple[bytes, Fraction]]] = {}
        everything = []
        # Nobody knows whether a sender uses running status: where it does, less time passes
        # between two messages, and a busy unit loses what it would otherwise hear.
        for timed, starts in zip(sent.commands, sent.earliest, strict=True):
            message = (encode(timed.command.message), starts)
            arrivals.setdefault(timed.command.message.channel, []).append(message)
            everything.append(message)
        found = {}
        for name in self.lines.listening(self.sender):
            channel = self.units[name].channel
            own = everything if channel == "omni" else arrivals.get(int(channel or 0), [])
            found[name] = tuple(own)
        return found

    def _run(self, name: str, heard: Arrivals, program: ProgramState = UNKNOWN) -> Receiver:
        key = (name, heard, program)
        if key not in self._ran:
            receiver = self._ran[key] = Receiver(self.units[name], program=program)
            for stream, starts in heard:
                receiver.take(stream, starts)
        return self._ran[key]

    def stands_with(self, sent: Transmission, wanted: Wanted, program: tuple[int, int]) -> bool:
        """Tell whether ``wanted`` comes out right in a unit that begins with ``program``."""
        heard = self._heard(sent).get(wanted.unit)
        return heard is not None and stands(wanted, self._run(wanted.unit, heard, program))

    def _judged(self, wanted: Wanted, heard: Arrivals | None, *, any_program: bool) -> Wanted:
        if heard is None:
            return _unknown(wanted, Cause.DEAF)
        receiver = self._run(wanted.unit, heard)
        if stands(wanted, receiver):
            return wanted
        control = receiver.unit.control(wanted.quantity)
        only = [] if control is None else [receiver.number(name) for name in control.only_with]
        if only and any_program:
            # In any other program the control does nothing, so it need only be right in these.
            runs = (self._run(wanted.unit, heard, one or UNKNOWN) for one in only)
            if all(stands(wanted, one) for one in runs):
                return wanted
        cause = Cause.PROGRAM if only and receiver.unit.reached_by else _why_not(receiver)
        return _unknown(wanted, cause)


def _unknown(wanted: Wanted, cause: Cause) -> Wanted:
    return wanted._replace(verdict=Verdict.UNKNOWN, reason=REASONS[cause], cause=cause)


REASONS = {
    Cause.DEAF: "no MIDI cable brings it what is sent to it; write it under midi:",
    Cause.BUSY: "the preset's message comes while the unit is busy loading its program; use a "
    "program that has it built in",
    Cause.DISTURBED: "the unit may act on something that was not meant for it; give it a channel "
    "of its own",
    Cause.TWICE: "each message reaches it by two ways, one after the other; take one of the cables "
    "out",
    Cause.PROGRAM: "it only works in a program of which nobody can know whether it is there",
    Cause.UNDONE: "the preset sends it before the program, which undoes it; use a program that "
    "has it built in",
}


def _why_not(receiver: Receiver) -> Cause:
    if receiver.lost:
        return Cause.BUSY
    return Cause.DISTURBED if receiver.disturbed else Cause.UNDONE
