"""The rig as a target: every name in it resolved, every number as it goes over the wire.

Runs once a rig, before scenes are bound. Finds what is wrong with the rig itself; what it
returns can be relied on: every demand names a unit and a state that exist.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field
from fractions import Fraction
from itertools import pairwise
from typing import NamedTuple

from setwright.compiler.midi import banks_reached
from setwright.scenes.book import Book
from setwright.scenes.displays import counted
from setwright.scenes.finding import Finding, Place, Related, Severity
from setwright.scenes.names import Names, suggestion
from setwright.scenes.places import KeyPath
from setwright.scenes.quantities import Amount, Slip, parse_amount, quoted
from setwright.scenes.records import place_for
from setwright.scenes.rig import Control, Part, SwitchedBy, Unit, parse_kept_switch
from setwright.scenes.switcher import Switcher
from setwright.scenes.wording import number_of

NOTHING = "nothing"
"""What ``instead of:`` says where a scene can do without the effect."""

TAKEN = ("time", "program", "switch", "loop", "relay", "foot", "use", "bank")
"""What a control cannot be called, for units have something else of that name."""

ALWAYS_THERE = ("guitar",)
"""Names in a signal path that need no declaration."""

SWITCHER = "switcher"
COMPUTER = "computer"
"""What the two are called among units: names in a MIDI line that need no declaration."""


class Program(NamedTuple):
    """A program of a unit: your name, what its display shows, and what goes over the wire.

    ``number`` is 0 to 127; ``bank`` is the bank select value, None where none is sent.
    """

    name: str
    shown: str
    number: int
    bank: int | None = None

    @property
    def place(self) -> tuple[int, int]:
        """Bank and number: one program may have two names."""
        return self.bank or 0, self.number

    def __str__(self) -> str:
        return f"{self.name} (display {self.shown}, program {self.number} on the wire)"


class Setting(NamedTuple):
    """A control's setting: the amount or position asked for, and its value, 0 to 127.

    ``given`` is what that value makes on the curve; it differs from ``asked`` by rounding.
    """

    asked: Amount | str
    value: int
    given: Amount | str


class Demand(NamedTuple):
    """What one effect asks of one quantity of one unit.

    ``quantity`` is ``program``, ``foot``, ``relay``, or a control's name; a demand for the
    unit alone has quantity ``use`` and value None.
    """

    unit: str
    quantity: str
    value: Program | Setting | str | None
    path: KeyPath


@dataclass(slots=True)
class Target:
    """A rig whose names are resolved.

    ``makes`` holds the demands of every effect that this rig can make; ``gone`` the units that
    are left out tonight; ``lost`` the effects that only those units could make; ``choices``
    what ``instead of:`` names that no effect of this rig is called.
    """

    book: Book
    units: dict[str, Unit]
    programs: dict[str, dict[str, Program]]
    makes: dict[str, tuple[Demand, ...]]
    gone: frozenset[str] = frozenset()
    lost: frozenset[str] = frozenset()
    rest: dict[str, dict[str, Program | Setting | str]] = field(default_factory=dict)
    broken_effects: frozenset[str] = frozenset()
    choices: list[tuple[str, KeyPath]] = field(default_factory=list)

    def stand_in(self, effect: str) -> str | None:
        """Return what this rig plays where ``effect`` is asked for.

        The effect itself if the rig makes it, else the first of ``instead of:`` that it makes,
        `NOTHING` where a scene may do without; None where there is no way.
        """
        seen: set[str] = set()
        waiting = [effect]
        while waiting:
            one = waiting.pop(0)
            if one == NOTHING or one in self.makes:
                return one
            if one not in seen:
                seen.add(one)
                waiting = [*self.book.rig.instead_of.get(one, ()), *waiting]
        return None


def reached(unit: Unit) -> int:
    """Return how many programs the messages that ``unit`` is declared to obey can reach."""
    select = unit.bank_select
    return banks_reached(select.by) * select.programs_in_a_bank if select else 128


def aim(book: Book, without: frozenset[str] = frozenset()) -> tuple[Target, list[Finding]]:
    """Resolve the rig of ``book``, without the units named in ``without``."""
    return _Aim(book, without).run()


class _Aim:
    def __init__(self, book: Book, without: frozenset[str]) -> None:
        self.book = book
        self.rig = book.rig
        self.without = without
        self.findings: list[Finding] = []
        # Units and controls with a slip of their own: what asks for them is not to blame.
        self.faulty_units: set[str] = set()
        self.faulty_controls: set[int] = set()
        self.states: dict[str, Names] = {}
        self.units = Names("unit", "unknown-unit", "write it under units:", book.spot)
        for name in self.rig.units:
            self.units.define(name, book.place_of_key(("rig", "units", name)))
        for path in book.broken:
            if path[:2] == ("rig", "units") and len(path) > 2:
                self.units.define(str(path[2]))

    def run(self) -> tuple[Target, list[Finding]]:
        self._switcher()
        self._outputs("loop", self.book.switcher.loops)
        self._outputs("relay", len(self.book.switcher.relays))
        programs = {name: self._programs(name, unit) for name, unit in self.rig.units.items()}
        target = Target(self.book, dict(self.rig.units), programs, {}, self.without)
        for name, unit in self.rig.units.items():
            self._unit(name, unit)
            target.rest[name] = self._rest(name, unit, programs[name])
        makes: dict[str, tuple[Demand, ...]] = {}
        lost: set[str] = set()
        broken: set[str] = {
            str(path[2]) for path in self.book.broken if path[0] == "rig" and len(path) > 2
        }
        for effect, parts in self.rig.effects.items():
            demands = self._effect(effect, parts, programs)
            if demands is None or effect in broken:
                broken.add(effect)
            elif self.without.intersection(parts):
                lost.add(effect)
            else:
                makes[effect] = demands
        target.makes, target.lost = makes, frozenset(lost)
        target.broken_effects = frozenset(broken)
        target.choices = self._instead(makes, lost, broken)
        self._states_asked()
        self._cables()
        self._silence(target)
        for name in sorted(self.without):
            if name not in self.units.defined:
                self.findings.append(
                    Finding(
                        "unknown-unit",
                        Severity.ERROR,
                        f"the rig has no unit {quoted(name)} to do without",
                        self.book.place_of_key(("rig", "units")),
                        suggestion(name, self.rig.units, "write it under units:"),
                    )
                )
        if not self.book.is_broken(("rig", "units")):
            hold_back = "rig" in self.book.faulty
            self.findings += self.units.findings(" in this rig", hold_back=hold_back)
        return target, self.findings

    # The switcher and what of it this rig uses.

    def _switcher(self) -> None:
        use, switcher = self.rig.switcher, self.book.switcher
        assert use is not None
        count = switcher.banks.count
        if "switcher" in self.book.faulty:
            return
        if use.banks is not None and use.banks[1] > count:
            self._error(
                "bank-out-of-range",
                f"the switcher has {number_of(count, 'bank')}",
                ("rig", "switcher", "banks"),
                f"write 1 to {count}, or less",
                Related("its banks", self.book.place(("switcher", "banks"))),
            )
        marks = {
            switcher.switches.show(number).casefold() for number in range(switcher.switches.count)
        }
        for key in use.every_bank:
            mark = parse_kept_switch(key)
            if mark.casefold() not in marks:
                self._error(
                    "switch-out-of-range",
                    f"the switcher has no switch {quoted(mark)} in a bank",
                    ("rig", "switcher", "every bank", key),
                    f"its switches are {switcher.switches.text}",
                    Related("its switches", self.book.place(("switcher", "switches"))),
                    key=True,
                )

    def _outputs(self, kind: str, count: int) -> None:
        """Check the numbers of loops or relays: they exist, and no two units share one."""
        if "switcher" in self.book.faulty:
            return  # what it says of itself is not to be relied on yet
        users = [name for name, unit in self.rig.units.items() if getattr(unit, kind) is not None]
        if users and count == 0:
            self._no_outputs(kind, users)
            return
        taken: dict[int, KeyPath] = {}
        for name, unit in self.rig.units.items():
            number = unit.loop if kind == "loop" else unit.relay.number if unit.relay else None
            if number is None:
                continue
            path: KeyPath = ("rig", "units", name, kind)
            path = path if kind == "loop" else (*path, "number")
            if number > count:
                self._error(
                    f"{kind}-out-of-range",
                    f"the switcher has {number_of(count, kind)}, so there is no {kind} {number}",
                    path,
                    f"write 1 to {count}",
                    Related("the switcher", self.book.place(("switcher", f"{kind}s"))),
                )
            elif number in taken:
                self._error(
                    f"{kind}-twice",
                    f"{kind} {number} has two units in it",
                    path,
                    f"give each its own {kind}; two boxes that always go together are one unit",
                    Related("the other", self.book.place(taken[number])),
                )
            else:
                taken[number] = path

    def _no_outputs(self, kind: str, users: list[str]) -> None:
        self.findings.append(
            Finding(
                f"{kind}-out-of-range",
                Severity.ERROR,
                f"the switcher says nothing of {kind}s, but "
                + (f"{len(users)} units need one" if len(users) > 1 else f"{users[0]} needs one"),
                place_for(self.book.spot, ("switcher",), Switcher, f"{kind}s"),
                f"add {kind}s: below this line, or take {kind}: out of the units",
                tuple(
                    Related(f"{name} needs one", self.book.place(("rig", "units", name, kind)))
                    for name in users[:4]
                ),
            )
        )

    # Units.

    def _programs(self, name: str, unit: Unit) -> dict[str, Program]:
        base: KeyPath = ("rig", "units", name)
        display = unit.display or counted(128)
        select = unit.bank_select
        reach = reached(unit)
        result = {}
        if unit.programs and unit.display is None and not self.book.is_broken((*base, "display")):
            self._error(
                "display-not-said",
                f"{quoted(name)} has programs, but it is not said how its display counts",
                (*base, "programs"),
                "add display: with its first and last program, for example display: 0 to 99 "
                "or display: 1 to 128",
                key=True,
            )
            return {}
        for program, text in unit.programs.items():
            path = (*base, "programs", program)
            try:
                index = display.read(text)
            except Slip as slip:
                self._error(slip.code, slip.message, path, slip.way_out)
                continue
            if index >= reach:
                self._error(
                    "program-out-of-range",
                    f"{quoted(text)} is program {index} on the wire, and what is declared "
                    f"reaches 0 to {reach - 1}",
                    path,
                    "declare bank select: as the unit takes it",
                )
                continue
            size = select.programs_in_a_bank if select else 128
            bank = index // size if select else None
            result[program] = Program(program, display.show(index), index % size, bank)
        return result

    def _unit(self, name: str, unit: Unit) -> None:
        base: KeyPath = ("rig", "units", name)
        needs = [
            key
            for key, value in (
                ("programs", unit.programs),
                ("switched by", unit.switched_by),
                ("time", unit.time),
                ("controls", unit.controls),
                ("reached by", unit.reached_by),
                ("tap", unit.tap),
            )
            if value
        ]
        if needs and unit.channel is None and not self.book.is_broken((*base, "channel")):
            self._error(
                "channel-missing",
                f"{quoted(name)} has {needs[0]}, but no MIDI channel to be reached on",
                (*base, needs[0]),
                "add channel: 1 to 16, or omni",
                key=True,
            )
        seen: dict[str, KeyPath] = {}
        named = [
            *((state, (*base, "programs", state)) for state in unit.programs),
            *((state, (*base, "by foot", n)) for n, state in enumerate(unit.by_foot)),
        ]
        if unit.relay is not None:
            named += [
                (unit.relay.open, (*base, "relay", "open")),
                (unit.relay.closed, (*base, "relay", "closed")),
            ]
        for state, path in named:
            if state in seen:
                self.faulty_units.add(name)
                self._error(
                    "state-twice",
                    f"{quoted(name)} has two states called {quoted(state)}",
                    path,
                    "give each its own name",
                    Related("the other", self.book.place(seen[state])),
                )
            seen[state] = path
        if unit.by_foot and unit.at_start is not None and unit.at_start not in unit.by_foot:
            self._unknown_state(name, unit.at_start, (*base, "at start"), unit.by_foot)
        if switch := unit.switched_by:
            self._switch(base, switch.sets, switch.any_value_flips, switch.press is not None)
            self._two_values(base, switch)
        for control_name in unit.controls:
            if control_name in TAKEN:
                self._error(
                    "control-name-taken",
                    f"a control cannot be called {quoted(control_name)}",
                    (*base, "controls", control_name),
                    "write time: beside controls:, with the same words below it"
                    if control_name == "time"
                    else "give it another name",
                    key=True,
                )
        for key, control in self._controls(unit):
            self._curve((*base, *key), control)
            for index, program in enumerate(control.only_with):
                if program not in unit.programs:
                    path = (*base, *key, "only with", index)
                    self._unknown_state(name, program, path, list(unit.programs))
        if name == SWITCHER or (name == COMPUTER and unit.is_ != "sender"):
            self._error(
                "unit-name-taken",
                f"{quoted(name)} is on the MIDI lines already, so no unit can be called so",
                base,
                "give the unit another name",
                key=True,
            )

    def _switch(self, base: KeyPath, *ways: bool) -> None:
        path = (*base, "switched by")
        if sum(ways) != 1 and not self.book.has_broken(path):
            self._error(
                "switch-unclear",
                "it is not said, or said twice, how this control switches",
                path,
                "write on: and off: with their values; or any value flips: yes; or press: and "
                "release:",
                key=True,
            )

    def _two_values(self, base: KeyPath, switch: SwitchedBy) -> None:
        for key, one, other in (
            ("off", switch.on, switch.off),
            ("release", switch.press, switch.release),
        ):
            if one is not None and one == other:
                self._error(
                    "switch-unclear",
                    f"one value, {one}, cannot mean both",
                    (*base, "switched by", key),
                    "write the two values that its manual says",
                )

    def _controls(self, unit: Unit) -> Iterator[tuple[KeyPath, Control]]:
        if unit.time is not None:
            yield ("time",), unit.time
        for name, control in unit.controls.items():
            yield ("controls", name), control

    def _curve(self, path: KeyPath, control: Control) -> None:
        before = len(self.findings)
        self._check_curve(path, control)
        if len(self.findings) > before:
            self.faulty_controls.add(id(control))

    def _check_curve(self, path: KeyPath, control: Control) -> None:
        if sum(map(bool, (control.linear, control.points, control.positions))) > 1:
            self._error(
                "curve-twice",
                "it is said twice what the values of this control do",
                path,
                "keep one of linear:, points: and positions:",
                key=True,
            )
        if control.points is not None:
            units = {amount.unit for amount in control.points.values()}
            if len(control.points) < 2 or len(units) > 1:
                self._error(
                    "curve-unclear",
                    "a table of points needs two points or more, all in one unit",
                    (*path, "points"),
                    "write for example {0: 20 ms, 64: 300 ms, 127: 1800 ms}",
                    key=True,
                )
        if path[-1] == "time" and control.curve and control.unit != "ms":
            self._error(
                "curve-unclear",
                "the control of a delay time needs its curve in ms",
                path,
                "write for example linear: 20 ms to 1800 ms",
                key=True,
            )

    def _rest(
        self, name: str, unit: Unit, programs: dict[str, Program]
    ) -> dict[str, Program | Setting | str]:
        """Return what the unit goes back to where no effect asks for it."""
        rest: dict[str, Program | Setting | str] = {}
        base: KeyPath = ("rig", "units", name)
        if unit.at_rest is not None:
            found = self._state(name, unit, unit.at_rest, (*base, "at rest"), programs)
            if found is not None:
                rest[found.quantity] = found.value or ""
        for key, control in self._controls(unit):
            if control.at_rest is not None:
                path = (*base, *key, "at rest")
                setting = self._setting(control, control.at_rest, path)
                if setting is not None:
                    rest[str(key[-1])] = setting
        return rest

    # Effects.

    def _effect(
        self, effect: str, parts: dict[str, Part], programs: dict[str, dict[str, Program]]
    ) -> tuple[Demand, ...] | None:
        demands: list[Demand] = []
        good = True
        base: KeyPath = ("rig", "effects", effect)
        for name, part in parts.items():
            path = (*base, name)
            if not self.units.find(name, path, key=True):
                good = False
                continue
            unit = self.rig.units.get(name)
            if unit is None:
                good = False  # the unit stands there with a slip in it, which has been found
                continue
            demands.append(Demand(name, "use", None, path))
            if part.state is not None:
                found = self._state(name, unit, part.state, (*path, "state"), programs[name])
                good = good and found is not None
                if found is not None:
                    demands.append(found)
            for control_name, text in part.set.items():
                control = self._control(name, unit, control_name, (*path, "set", control_name))
                if control is None:
                    good = False
                    continue
                self._idle(name, part, control, (*path, "set", control_name), programs)
                setting = self._setting(control, text, (*path, "set", control_name))
                good = good and setting is not None
                if setting is not None:
                    demands.append(
                        Demand(name, control_name, setting, (*path, "set", control_name))
                    )
        return tuple(demands) if good else None

    def _idle(
        self,
        name: str,
        part: Part,
        control: Control,
        path: KeyPath,
        programs: dict[str, dict[str, Program]],
    ) -> None:
        """Find a setting that does nothing in the very program that the effect asks for."""
        asked = programs[name].get(part.state or "")
        works = [programs[name][one] for one in control.only_with if one in programs[name]]
        if asked is None or not works or asked.place in {one.place for one in works}:
            return
        self.findings.append(
            Finding(
                "setting-does-nothing",
                Severity.WARNING,
                f"{quoted(str(path[-1]))} does nothing in {quoted(asked.name)} of {quoted(name)}",
                self.book.place_of_key(path),
                f"ask for {' or '.join(one.name for one in works)}, or take the setting out",
                (Related("the program", self.book.place((*path[:-2], "state"))),),
            )
        )

    def _state(
        self, name: str, unit: Unit, state: str, path: KeyPath, programs: dict[str, Program]
    ) -> Demand | None:
        if state in unit.states:
            self._names_of_states(name, unit).used.add(state)
        if state in unit.programs:
            # A program that is declared wrongly has been found where it is declared.
            return Demand(name, "program", programs[state], path) if state in programs else None
        if state in unit.by_foot:
            return Demand(name, "foot", state, path)
        if unit.relay is not None and state in (unit.relay.open, unit.relay.closed):
            return Demand(name, "relay", state, path)
        broken = self.book.has_broken(("rig", "units", name))
        if not broken and name not in self.faulty_units:
            self._names_of_states(name, unit).find(state, path)
        return None

    def _names_of_states(self, name: str, unit: Unit) -> Names:
        """Return the states of a unit as names, with the places where they are declared."""
        if name not in self.states:
            base: KeyPath = ("rig", "units", name)
            names = Names("program, position or channel", "unknown-state", "", self.book.spot)
            for program in unit.programs:
                names.define(program, self.book.place_of_key((*base, "programs", program)))
            for index, position in enumerate(unit.by_foot):
                names.define(position, self.book.place((*base, "by foot", index)))
            if unit.relay is not None:
                names.define(unit.relay.open, self.book.place((*base, "relay", "open")))
                names.define(unit.relay.closed, self.book.place((*base, "relay", "closed")))
            self.states[name] = names
        return self.states[name]

    def _states_asked(self) -> None:
        """Find the states that effects ask for and units do not have."""
        for name, names in self.states.items():
            if not names.missing:
                continue
            if names.defined:
                self.findings += names.findings(
                    f" of {quoted(name)}", hold_back="rig" in self.book.faulty
                )
                continue
            places = [place for some in names.missing.values() for place in some]
            self.findings.append(
                Finding(
                    "unknown-state",
                    Severity.ERROR,
                    f"{quoted(name)} has no programs, positions or channels, but "
                    f"{', '.join(map(quoted, names.missing))} is asked of it",
                    place_for(self.book.spot, ("rig", "units", name), Unit, "programs"),
                    "add display: and programs: here, or by foot:, or relay:",
                    tuple(Related("asked for here", place) for place in places[:4]),
                )
            )

    def _unknown_state(
        self, name: str, state: str, path: KeyPath, known: tuple[str, ...] | list[str]
    ) -> None:
        self._error(
            "unknown-state",
            f"{quoted(name)} has no program, position or channel {quoted(state)}",
            path,
            suggestion(
                state, known, f"declare it under {name}: with programs:, by foot: or relay:"
            ),
            Related("the unit", self.book.place_of_key(("rig", "units", name))),
        )

    def _control(self, name: str, unit: Unit, control: str, path: KeyPath) -> Control | None:
        found = unit.control(control)
        if found is None and not self.book.has_broken(("rig", "units", name)):
            self._error(
                "unknown-control",
                f"{quoted(name)} has no control {quoted(control)}",
                path,
                suggestion(control, unit.controls, f"declare it under {name}: with controls:"),
                Related("the unit", self.book.place_of_key(("rig", "units", name))),
                key=True,
            )
        return found

    def _curve_lost(self, path: KeyPath) -> bool:
        """Tell whether a curve of the unit that ``path`` is about was left out of the rig."""
        unit = path[3] if path[1] == "effects" else path[2]
        return any(
            broken[:3] == ("rig", "units", unit) and broken[-1] in {"linear", "points"}
            for broken in self.book.broken
        )

    def _setting(self, control: Control, text: str, path: KeyPath) -> Setting | None:
        if id(control) in self.faulty_controls or self._curve_lost(path):
            return None
        if control.positions is not None:
            if text in control.positions:
                return Setting(text, control.positions[text], text)
            self._error(
                "unknown-state",
                f"this control has no position {quoted(text)}",
                path,
                suggestion(text, control.positions, "declare it under positions:"),
            )
            return None
        try:
            amount = parse_amount(text)
        except Slip as slip:
            self._error(slip.code, slip.message, path, slip.way_out)
            return None
        if not control.curve:
            if amount.unit or amount.value.denominator != 1 or not 0 <= amount.value <= 127:
                self._error(
                    "out-of-range",
                    f"{quoted(text)} is not a value from 0 to 127",
                    path,
                    "write 0 to 127, or declare what the values do with linear: or points:",
                )
                return None
            return Setting(amount, int(amount.value), amount)
        if amount.unit != control.unit:
            self._error(
                "units-differ",
                f"{quoted(text)} is not in {control.unit or 'plain numbers'}, "
                "as the control's curve is",
                path,
                f"write a number with {control.unit}" if control.unit else "write a plain number",
            )
            return None
        setting = value_on(control, amount)
        if setting is None:
            low, high = sorted(level for _, level in (control.curve[0], control.curve[-1]))
            self._error(
                "out-of-range",
                f"{quoted(text)} is beyond what this control can do",
                path,
                f"write {Amount(low, control.unit)} to {Amount(high, control.unit)}",
            )
        return setting

    def _instead(
        self, makes: dict[str, tuple[Demand, ...]], lost: set[str], broken: set[str]
    ) -> list[tuple[str, KeyPath]]:
        """Return what ``instead of:`` names and nobody makes: (name, where it stands)."""
        known = {*makes, *lost, *broken, *self.rig.instead_of, NOTHING}
        return [
            (choice, ("rig", "instead of", effect, index))
            for effect, choices in self.rig.instead_of.items()
            for index, choice in enumerate(choices)
            if choice not in known
        ]

    # Cables.

    def _cables(self) -> None:
        loops = {name for name, unit in self.rig.units.items() if unit.effects_loop}
        for row, run in enumerate(self.rig.signal_path):
            for index, name in enumerate(run):
                base = name.removesuffix(" send").removesuffix(" return")
                if name in ALWAYS_THERE or (base != name and base in loops):
                    continue
                self.units.find(
                    name if name in self.units.defined else base,
                    ("rig", "path", row, index),
                )
        for row, line in enumerate(self.rig.midi):
            for index, item in enumerate(line):
                for name in item:
                    if name not in {SWITCHER, COMPUTER}:
                        self.units.find(name, ("rig", "midi", row, index, name))
        for output, supply in self.rig.supply.items():
            for index, name in enumerate(supply.feeds):
                self.units.find(name, ("rig", "supply", output, "feeds", index))
        for name, unit in self.rig.units.items():
            for index, other in enumerate(unit.power.passes_on_to if unit.power else ()):
                path = ("rig", "units", name, "power", "passes on to", index)
                self.units.find(other, path)

    def _silence(self, target: Target) -> None:
        """Find units that go on sounding because nothing can take them out of the way."""
        asked: dict[str, Demand] = {}
        for demands in target.makes.values():
            for demand in demands:
                if demand.quantity == "program":
                    asked.setdefault(demand.unit, demand)
        for name, demand in asked.items():
            unit = self.rig.units[name]
            ways = (unit.loop, unit.switched_by, unit.relay, unit.at_rest)
            keys = ("loop", "switched by", "relay", "at rest")
            broken = any(self.book.is_broken(("rig", "units", name, key)) for key in keys)
            if all(way is None for way in ways) and not unit.by_foot and not broken:
                assert isinstance(demand.value, Program)
                self.findings.append(
                    Finding(
                        "never-silent",
                        Severity.WARNING,
                        f"once {quoted(name)} has loaded {quoted(demand.value.name)}, nothing "
                        "takes it away again in scenes that do not ask for it",
                        self.book.place_of_key(("rig", "units", name)),
                        "give it a loop:, switched by:, or at rest: with a program that "
                        "lets the guitar through unchanged",
                        (Related("asked for here", self.book.place(demand.path)),),
                    )
                )

    def _error(
        self,
        code: str,
        message: str,
        path: KeyPath,
        way_out: str,
        *also: Related,
        key: bool = False,
    ) -> None:
        place: Place = self.book.place_of_key(path) if key else self.book.place(path)
        self.findings.append(Finding(code, Severity.ERROR, message, place, way_out, also))


def value_on(control: Control, amount: Amount) -> Setting | None:
    """Return the value (0 to 127) of ``control`` nearest to ``amount``; None beyond its curve.

    Between two points the curve is straight. Of two values equally near the lower is taken.
    """
    curve = control.curve
    levels = [level for _, level in curve]
    if not min(levels) <= amount.value <= max(levels):
        return None
    best: tuple[Fraction, int, Fraction] | None = None
    for (left, low), (right, high) in pairwise(curve):
        if not min(low, high) <= amount.value <= max(low, high):
            continue
        exact = left + (amount.value - low) * (right - left) / (high - low) if high != low else left
        for value in (int(exact), int(exact) + 1):
            if left <= value <= right:
                level = low + (high - low) * Fraction(value - left, right - left)
                candidate = (abs(level - amount.value), value, level)
                best = min(best, candidate) if best is not None else candidate
    if best is None:
        return None
    return Setting(amount, best[1], Amount(best[2], amount.unit))
