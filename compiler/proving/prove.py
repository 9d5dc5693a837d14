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
from setwright.compiler.binding.paced import CLOCK
from setwright.compiler.binding.states import Cause, Verdict, Wanted
from setwright.compiler.binding.target import COMPUTER, SWITCHER, Pace, Program, Setting
from setwright.compiler.lowering.lower import coarse_only
from setwright.compiler.lowering.wire import Transmission
from setwright.compiler.midi import encode
from setwright.compiler.proving.bystanders import Bystanders
from setwright.compiler.proving.receiver import BY_BYTES, UNKNOWN, Losing, Receiver
from setwright.compiler.proving.routing import Lines
from setwright.compiler.proving.stands import is_by_preset, stands
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
    _ran: dict[tuple[str, Arrivals, ProgramState, int | None], Receiver] = field(
        default_factory=dict
    )
    _ran_by_bytes: dict[tuple[str, Arrivals, Losing], Receiver] = field(default_factory=dict)
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
        scene = as_sent(scene, sent)
        heard = self._heard(sent)
        moved = self.bystanders.moved(scene, sent, self.sender)
        spoilt = {name: Cause.DISTURBED for name, one in moved.items() if one.harmed}
        spoilt |= dict.fromkeys(self._twice, Cause.TWICE)
        programs = {one.unit for one in scene.wanted if isinstance(one.value, Program)}
        return tuple(
            self._on_clock(one)
            if one.quantity == CLOCK
            else one  # a tap output is no message
            if isinstance(one.value, Pace)
            else one
            if one.verdict is not Verdict.PROVEN or is_by_preset(one.quantity)
            else _unknown(one, spoilt[one.unit])
            if one.unit in spoilt
            else self._judged(one, heard.get(one.unit), any_program=one.unit not in programs)
            for one in scene.wanted
        )

    def _on_clock(self, wanted: Wanted) -> Wanted:
        """Return what a unit wants of the switcher's clock, knowing whether it hears that."""
        if wanted.unit not in self.lines.reach(SWITCHER):
            why = "it does not hear the switcher's clock"
            return Wanted(wanted.unit, CLOCK, None, why, Verdict.FREE)
        if wanted.unit in self._twice and wanted.verdict is Verdict.PROVEN:
            return _unknown(wanted, Cause.TWICE)
        return wanted

    def by_whole_messages(self, proved: tuple[Wanted, ...], sent: Transmission) -> frozenset[str]:
        """Return the units that are proven only if they lose whole messages while they are busy.

        One that loses single bytes may take the rest of a message for another one, even of what
        is meant for others. A burst begins with a status byte, so what is proven for both holds
        whatever was on the wire before it.
        """
        busy = {
            name: unit
            for name in dict.fromkeys(one.unit for one in proved)
            if (unit := self.units[name]).busy_after_program and unit.channel is not None
        }
        if not busy:
            return frozenset()
        # Whether a status byte is left out decides what the rest of a message passes for.
        ways = [(way, loses) for way in (sent.whole, sent.shortened) for loses in BY_BYTES]
        return frozenset(
            one.unit
            for one in proved
            if one.verdict is Verdict.PROVEN and not is_by_preset(one.quantity) and one.unit in busy
            if not isinstance(one.value, Pace)
            if not all(stands(one, self._run_by_bytes(one.unit, *way)) for way in ways)
        )

    def _run_by_bytes(self, name: str, sent: Arrivals, loses: Losing) -> Receiver:
        key = (name, sent, loses)
        if key not in self._ran_by_bytes:
            receiver = self._ran_by_bytes[key] = Receiver(self.units[name], loses=loses)
            for stream, starts in sent:
                receiver.take(stream, starts)
        return self._ran_by_bytes[key]

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

    def _run(
        self, name: str, heard: Arrivals, program: ProgramState = UNKNOWN, fine: int | None = None
    ) -> Receiver:
        """Return the receiver after what it heard; ``fine`` is what all fine parts begin with."""
        key = (name, heard, program, fine)
        if key not in self._ran:
            receiver = self._ran[key] = Receiver(self.units[name], program=program)
            if fine is not None:
                own = (receiver.unit.time, *receiver.unit.controls.values())
                receiver.controls.update((one.fine_cc, fine) for one in own if one and one.fine_cc)
            for stream, starts in heard:
                receiver.take(stream, starts)
        return self._ran[key]

    def stands_with(self, sent: Transmission, wanted: Wanted, program: tuple[int, int]) -> bool:
        """Tell whether ``wanted`` comes out right in a unit that begins with ``program``."""
        heard = self._heard(sent).get(wanted.unit)
        return heard is not None and stands(wanted, self._run(wanted.unit, heard, program))

    def brings(
        self, sent: Transmission, name: str, quantity: str, program: tuple[int, int]
    ) -> bool:
        """Tell whether a control of a unit is known to be as ``program`` brings it."""
        heard, control = self._heard(sent).get(name), self.units[name].control(quantity)
        if heard is None or control is None:
            return False
        receiver = self._run(name, heard)
        brought = receiver.value(control.cc) == f"of program {program[0]}/{program[1]}"
        return brought and receiver.program == program

    def _judged(self, wanted: Wanted, heard: Arrivals | None, *, any_program: bool) -> Wanted:
        if heard is None:
            return _unknown(wanted, Cause.DEAF)
        receiver = self._run(wanted.unit, heard)
        if stands(wanted, receiver):
            return wanted
        control = receiver.unit.control(wanted.quantity)
        only = [] if control is None else [receiver.number(name) for name in control.only_with]
        programs: list[ProgramState] = [UNKNOWN]
        if only and any_program:
            # In any other program the control does nothing, so it need only be right in these.
            programs = [one or UNKNOWN for one in only]
            if self._all_stand(wanted, heard, programs):
                return wanted
        if self._all_stand(_without_fine(wanted), heard, programs):
            still = self._all_stand(wanted, heard, programs, fine=0)
            return _unknown(wanted, Cause.FINE if still else Cause.BROUGHT)
        cause = Cause.PROGRAM if only and receiver.unit.reached_by else _why_not(receiver)
        return _unknown(wanted, cause)

    def _all_stand(
        self,
        wanted: Wanted,
        heard: Arrivals,
        programs: list[ProgramState],
        fine: int | None = None,
    ) -> bool:
        return all(stands(wanted, self._run(wanted.unit, heard, one, fine)) for one in programs)


def as_sent(scene: BoundScene, sent: Transmission) -> BoundScene:
    """Return ``scene`` with what a setting becomes whose fine part is not ``sent``."""
    with_fine = [
        one
        for one in scene.wanted
        if isinstance(one.value, Setting) and one.value.alone is not None
    ]
    if not with_fine:
        return scene
    fine = {(one.command.unit, one.command.quantity) for one in sent.commands if one.command.fine}
    lacking = [one for one in with_fine if (one.unit, one.quantity) not in fine]
    if not lacking:
        return scene
    wanted = tuple(coarse_only(one) if one in lacking else one for one in scene.wanted)
    return scene._replace(wanted=wanted)


def _without_fine(wanted: Wanted) -> Wanted:
    if not isinstance(wanted.value, Setting):
        return wanted
    return wanted._replace(value=wanted.value._replace(fine=None))


def _unknown(wanted: Wanted, cause: Cause) -> Wanted:
    return wanted._replace(verdict=Verdict.UNKNOWN, reason=REASONS[cause], cause=cause)


REASONS = {
    Cause.DEAF: "no MIDI cable brings it what is sent to it; write it under midi:",
    Cause.BUSY: "the preset's message comes while the unit is busy loading its program; use a "
    "program that has it built in",
    Cause.DISTURBED: "the unit may act on something that was not meant for it; give it a channel "
    "of its own",
    Cause.FINE: "the preset has no slot left for its fine part, and a box may keep the one of the "
    "scene before; free a slot, or take fine cc: out of the rig",
    Cause.BROUGHT: "the preset has no slot left for its fine part, and a box may keep the one that "
    "its program brings; free a slot, or take fine cc: out of the rig",
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
