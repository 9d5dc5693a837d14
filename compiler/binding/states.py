"""The state of one unit in one scene: each quantity's value, why, and what can be promised.

Every behaviour that a rig can declare is judged here and nowhere else before messages are made.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum
from fractions import Fraction
from typing import NamedTuple

from setwright.compiler.binding.settings import value_on
from setwright.compiler.binding.target import TAKEN, Demand, Pace, Program, Setting, Tap, Target
from setwright.scenes.control import Control
from setwright.scenes.musical_time import NoteValue
from setwright.scenes.places import KeyPath
from setwright.scenes.quantities import Amount
from setwright.scenes.resolve import ResolvedScene
from setwright.scenes.unit import Switched, Unit
from setwright.scenes.wording import with_article


class Verdict(StrEnum):
    """What can be promised of one quantity in one scene."""

    PROVEN = "proven"
    FEET = "proven if feet and start are as printed"
    UNKNOWN = "cannot be known"
    FREE = "don't care"


ANY = (-1, -1)
"""Stands for any program."""

ANYWHERE = ""
"""Stands for a position of the foot that nobody says."""

SetSomewhere = tuple[str, str, tuple[int, int] | None]


class Cause(StrEnum):
    """Why a quantity cannot be known."""

    NONE = ""
    FLIPS = "a control flips it"
    PULSE = "a relay only gives a pulse"
    STEPS = "programs are only stepped through"
    PRESSES = "each press goes on to the next setting"
    TIME = "the time cannot be made"
    LEFT = "nothing sets it here"
    REPEAT = "the unit ignores a repeat"
    DEAF = "no cable leads there"
    BUSY = "the unit is busy"
    TOO_SOON = "it is pressed too soon after the scene before"
    UNDONE = "what comes after undoes it"
    DISTURBED = "the unit may act on what was not meant for it"
    PROGRAM = "it only works in a program that cannot be known"
    FINE = "its fine part stays as it is"
    BROUGHT = "its fine part may be the program's own"
    TWICE = "messages reach it by two ways"
    PASSED = "what may change it is let pass"
    ONE_TEMPO = "the switcher's clock has one tempo all night"
    TWO_TEMPI = "the preset has another tempo"
    BEYOND_CLOCK = "the switcher's clock cannot be so slow or so fast"


class Wanted(NamedTuple):
    """One quantity of one unit in one scene.

    ``quantity`` is ``loop``, ``switch``, ``program``, ``foot``, ``relay`` (or that and
    a name), ``time``, ``clock`` or
    a control's name. ``value`` is True or False for loop (in, out) and switch (on, off), a
    `Program`, a `Setting`, a `Tap`, a `Pace`, a position's name, or None where nobody cares.
    ``why`` says what asks for it; ``reason`` why the verdict is what it is, and the way out where
    there is one; ``cause`` is the kind of reason where the verdict is that it cannot be known;
    ``written`` is where the rig says the value of a control: in an effect, or at rest.
    """

    unit: str
    quantity: str
    value: bool | Pace | Program | Setting | Tap | str | None
    why: str
    verdict: Verdict
    reason: str = ""
    cause: Cause = Cause.NONE
    written: KeyPath = ()


@dataclass(slots=True)
class UnitState:
    """Works out the quantities of one unit in one scene.

    ``set_somewhere`` holds (unit, control, program) of every control that anything sets: bank
    and number of the program that the same effect loads, `ANY`, and None for each. ``loop_users``
    are the effects of the scene that ask for another unit in the same loop.
    """

    target: Target
    set_somewhere: frozenset[SetSomewhere]
    name: str
    unit: Unit
    demands: dict[str, tuple[Demand, str]]
    users: list[str]
    loop_users: list[str]
    scene: ResolvedScene
    milliseconds: Fraction | None

    @property
    def used(self) -> bool:
        """Whether an effect of the scene asks for the unit."""
        return bool(self.users)

    @property
    def rest(self) -> dict[str, Program | Setting | str]:
        """What the unit goes back to where nothing asks for it, by quantity."""
        return self.target.rest.get(self.name, {})

    def wanted(self) -> list[Wanted]:
        """Return every quantity of the unit: loop, relay, foot, switch, program, controls."""
        unit = self.unit
        result: list[Wanted] = []
        out = unit.loop is not None and not self.used and not self.loop_users
        if unit.loop is not None:
            result.append(self._loop())
        result += [self._relay(quantity, one) for quantity, one in unit.switched.items()]
        if unit.by_foot:
            result.append(self._foot())
        off = False
        if unit.switched_by is not None:
            result.append(self._free("switch", "its loop is out") if out else self._switch())
            off = not out and not self.used
        silent = "its loop is out" if out else "it is switched off" if off else ""
        if unit.programs:
            result.append(self._free("program", silent) if silent else self._program())
        if unit.tempo_from == "tap":
            result.append(self._free("time", silent) if silent else self._tap())
        elif unit.time is not None:
            result.append(self._free("time", silent) if silent else self._time())
        for control in unit.controls:
            if control in TAKEN:
                continue  # it is called like something else, which has been found
            result.append(self._free(control, silent) if silent else self._control(control))
        return result

    def _free(self, quantity: str, why: str) -> Wanted:
        return Wanted(self.name, quantity, None, why, Verdict.FREE)

    def _for(self) -> str:
        return f"for {' and '.join(dict.fromkeys(self.users))}"

    def _loop(self) -> Wanted:
        why, within = self._for() if self.used else "nothing asks for it", self.used
        if self.loop_users and not self.used:
            others = " and ".join(dict.fromkeys(self.loop_users))
            why, within = f"it shares its loop with what is in for {others}", True
        return Wanted(
            self.name, "loop", within, why, Verdict.PROVEN, "the switcher's preset sets it"
        )

    def _relay(self, quantity: str, relay: Switched) -> Wanted:
        value, why = self._value(quantity, next(iter(relay.states)))
        kinds = self.target.book.switcher.relays
        if any(one <= len(kinds) and kinds[one - 1] == "pulse" for one in relay.numbers):
            reason = "the relay only gives a pulse, which flips it; use an output that holds"
            return Wanted(self.name, quantity, value, why, Verdict.UNKNOWN, reason, Cause.PULSE)
        return Wanted(
            self.name, quantity, value, why, Verdict.PROVEN, "the switcher's preset holds it"
        )

    def _value(self, quantity: str, otherwise: str) -> tuple[Program | Setting | str, str]:
        if quantity in self.demands:
            demand, effect = self.demands[quantity]
            assert demand.value is not None
            return demand.value, f"for {effect}"
        if quantity in self.rest:
            return self.rest[quantity], "nothing asks for another"
        return otherwise, "nothing asks for another"

    def _foot(self) -> Wanted:
        if "foot" not in self.demands:
            return self._free("foot", "the foot decides")  # `foot_stands` says how
        value, why = self._value("foot", "")
        return Wanted(
            self.name, "foot", value, why, Verdict.FEET, "only a foot works it, so watch the cue"
        )

    def _switch(self) -> Wanted:
        switch = self.unit.switched_by
        assert switch is not None
        why = self._for() if self.used else "nothing asks for it"
        verdict, reason, cause = Verdict.PROVEN, f"control {switch.cc} sets it", Cause.NONE
        loads = self.used and self._loaded is not None and self.unit.reached_by is None
        reloads = self.unit.same_program_again == "reloads"
        if not switch.sets:
            how = "any value flips it" if switch.any_value_flips else "a press flips it"
            if loads and reloads and self.unit.loading == "engages":
                reason = "loading its program switches it on"
            else:
                verdict, cause = Verdict.UNKNOWN, Cause.FLIPS
                way_out = (
                    "put it into a loop of the switcher, or use a program that has it on or off "
                    "built in"
                    if self.unit.loop is None
                    else f"leave it on, for loop {self.unit.loop} takes it in and out"
                )
                reason = f"control {switch.cc} cannot set it, {how}; {way_out}"
        return Wanted(self.name, "switch", self.used, why, verdict, reason, cause)

    def _program(self) -> Wanted:
        if "program" not in self.demands and "program" not in self.rest:
            return self._free("program", "any program will do")
        value, why = self._value("program", "")
        assert isinstance(value, Program)
        steps = self.unit.reached_by
        if steps is not None:
            down = "" if steps.down is None else f", {steps.down} down"
            ends = "the first follows the last" if steps.wraps else "no further than the last"
            return Wanted(
                self.name,
                "program",
                value,
                why,
                Verdict.UNKNOWN,
                f"its programs can only be stepped through (control {steps.up} up{down}, value "
                f"{steps.value}; {ends}), so the tool cannot know where it stands; keep it on one "
                "program, or set it by hand before the song",
                Cause.STEPS,
            )
        return Wanted(self.name, "program", value, why, Verdict.PROVEN, "a program change sets it")

    @property
    def _loaded(self) -> Program | None:
        """The program that an effect asks for, or the unit's at rest; None where any will do."""
        value = self._value("program", "")[0]
        return value if isinstance(value, Program) else None

    def _idle(self, control: Control) -> bool:
        """Whether the control does nothing in the program that this scene loads."""
        if not control.only_with:
            return False
        loaded, known = self._loaded, self.target.programs[self.name]
        works = {known[name].on_wire for name in control.only_with if name in known}
        return loaded is not None and loaded.on_wire not in works

    def _time(self) -> Wanted:
        control = self.unit.time
        assert control is not None
        if self._idle(control):
            return self._free("time", "it does nothing in this program")
        source = self.unit.tempo_from or "control"
        if source != "control":
            where = {
                "program": "its program brings its own",
                "global": "it has one tempo for all programs, set on the unit",
                "clock": "it follows the clock",
            }[source]
            return self._free("time", where)
        own = "time" in self.demands and self.scene.echo_of_song
        if self.scene.echo is not None and self.used and not own:
            if self.milliseconds is None:
                return self._no_tempo()
            amount = Amount(self.milliseconds, "ms")
            setting, why = value_on(control, amount) if control.curve else None, self._why_echo()
            if setting is None:
                why = f"{amount} is beyond what it can do ({why})"
                return self._not_made(why, "ask for a shorter or longer note, or declare its curve")
            return Wanted(
                self.name, "time", setting, why, Verdict.PROVEN, f"control {control.cc} sets it"
            )
        return self._control("time")

    def _tap(self) -> Wanted:
        """Return what a foot has to tap; no message can set it, whatever ``tap:`` says."""
        if not self.used:
            return self._free("time", "nothing asks for it")
        set_to = self.demands["time"][0].value if "time" in self.demands else None
        asked = set_to.asked if isinstance(set_to, Setting) else None
        if isinstance(asked, Amount) and (self.scene.echo is None or self.scene.echo_of_song):
            tap, why = Tap(None, asked.value), f"for {self.demands['time'][1]}"
        elif self.scene.echo is not None:
            if self.milliseconds is None:
                return self._no_tempo()
            note = self.scene.echo if isinstance(self.scene.echo, NoteValue) else None
            tap, why = Tap(note, self.milliseconds), self._why_echo()
        else:
            tap, why = Tap(), "nothing asks for another time"
        reason = "only a foot sets it: proven if tapped as printed"
        return Wanted(self.name, "time", tap, why, Verdict.FEET, reason)

    def _no_tempo(self) -> Wanted:
        why = f"{self.scene.echo} needs a tempo, and the song has none"
        return self._not_made(why, "give the song a tempo:, or write the echo in ms")

    def _not_made(self, why: str, way_out: str) -> Wanted:
        return Wanted(self.name, "time", None, why, Verdict.UNKNOWN, way_out, Cause.TIME)

    def _why_echo(self) -> str:
        if isinstance(self.scene.echo, NoteValue):
            return f"{with_article(str(self.scene.echo))} at the song's tempo"
        return f"{'the song' if self.scene.echo_of_song else 'the scene'} asks for it"

    def _control(self, name: str) -> Wanted:
        control = self.unit.control(name)
        assert control is not None
        if self._idle(control):
            return self._free(name, "it does nothing in this program")
        if control.presses:
            return self._pressed(name, control)
        pedal = self.target.pedals.get((self.name, name))
        if pedal is not None and name not in self.demands and name not in self.rest:
            return self._free(name, f"the foot moves it with {pedal}")
        if name in self.demands or name in self.rest:
            value, why = self._value(name, "")
            reason = f"control {control.cc} sets it"
            return Wanted(
                self.name, name, value, why, Verdict.PROVEN, reason, written=self._written(name)
            )
        loaded = self._loaded
        # A program that can only be stepped to is not loaded anew, and brings nothing back.
        brings = (
            control.after_a_program == "from the program"
            and loaded is not None
            and self.unit.reached_by is None
        )
        if brings and not self._may_be_a_repeat(loaded, name):
            return self._free(name, "its program brings its own")
        if (self.name, name, None) in self.set_somewhere:
            reason = f"it stays as the last scene left it; give {name} an at rest: in the rig"
            cause = Cause.LEFT
            if brings:
                cause = Cause.REPEAT
                reason = (
                    "its program brings its own, but a program that is there already is ignored, "
                    f"and what the last scene set stays; give {name} an at rest: in the rig"
                )
            why = "no effect of this scene sets it"
            return Wanted(self.name, name, None, why, Verdict.UNKNOWN, reason, cause)
        return self._free(name, "no effect ever sets it")

    def _pressed(self, name: str, control: Control) -> Wanted:
        """Return what no value can bring, for each press goes on to the next."""
        if name not in self.demands and name not in self.rest:
            return self._free(name, "nothing asks for a setting of it")
        value, why = self._value(name, "")
        way = ", ".join(control.presses)
        reason = f"each press of control {control.cc} goes on to the next of {way}"
        return Wanted(
            self.name,
            name,
            value,
            why,
            Verdict.UNKNOWN,
            reason,
            Cause.PRESSES,
            written=self._written(name),
        )

    def _written(self, control: str) -> KeyPath:
        if control in self.demands:
            return self.demands[control][0].path
        own = (control,) if control == "time" else ("controls", control)
        return ("rig", "units", self.name, *own, "at rest")

    def _may_be_a_repeat(self, program: Program | None, control: str) -> bool:
        """Whether the program may be there already, with another setting of the control.

        That needs a unit that ignores a repeat, and an effect that sets the control while the
        same program is loaded.
        """
        if self.unit.same_program_again == "reloads" or program is None:
            return False
        there = {(self.name, control, program.on_wire), (self.name, control, ANY)}
        return not there.isdisjoint(self.set_somewhere)


def foot_stands(wanted: Wanted, positions: list[str]) -> Wanted:
    """Return ``wanted`` of a foot-operated unit, knowing where it stands in this scene.

    ``positions`` are those at the moments of the song in which the scene is pressed; one that
    nobody can tell, `ANYWHERE`, makes the others worth nothing.
    """
    if wanted.value is not None or not positions or ANYWHERE in positions:
        return wanted
    if len(positions) > 1:
        why = f"{', then '.join(positions)}, as printed at each moment"
        return Wanted(wanted.unit, "foot", None, why, Verdict.FEET, "only a foot works it")
    return Wanted(
        wanted.unit,
        "foot",
        positions[0],
        "as printed",
        Verdict.FEET,
        "only a foot works it, so watch the cue",
    )
