"""States of units that effects ask for: programs, positions of a foot, relay contacts."""

from __future__ import annotations

from dataclasses import dataclass, field

from setwright.compiler.binding.rig_findings import RigFindings
from setwright.compiler.binding.target import Demand, Program
from setwright.scenes.finding import Finding, Related, Severity
from setwright.scenes.names import Names
from setwright.scenes.places import KeyPath
from setwright.scenes.quantities import quoted
from setwright.scenes.records import place_for
from setwright.scenes.unit import Unit


@dataclass(slots=True)
class StatesAsked:
    """Looks up states, unit by unit; `done` says which were asked for in vain."""

    found: RigFindings
    _names: dict[str, Names] = field(default_factory=dict)

    def demand(
        self, name: str, unit: Unit, state: str, path: KeyPath, programs: dict[str, Program]
    ) -> Demand | None:
        """Return what ``state`` demands of ``unit``; None where it has no such, or a wrong one."""
        if state in unit.states:
            self._names_of_states(name, unit).used.add(state)
        if state in unit.programs:
            # A program that is declared wrongly has been found where it is declared.
            return Demand(name, "program", programs[state], path) if state in programs else None
        if state in unit.by_foot:
            return Demand(name, "foot", state, path)
        for quantity, one in unit.switched.items():
            if state in one.states:
                return Demand(name, quantity, state, path)
        if not self.found.is_faulty(name) and name not in self.found.two_of_a_name:
            self._names_of_states(name, unit).find(state, path)
        return None

    def _names_of_states(self, name: str, unit: Unit) -> Names:
        """Return the states of a unit as names, with the places where they are declared."""
        if name not in self._names:
            base: KeyPath = ("rig", "units", name)
            names = Names("program, position or channel", "unknown-state", "", self.found.book.spot)
            for program in unit.programs:
                names.define(program, self.found.book.place_of_key((*base, "programs", program)))
            for index, position in enumerate(unit.by_foot):
                names.define(position, self.found.book.place((*base, "by foot", index)))
            if unit.relay is not None:
                names.define(unit.relay.open, self.found.book.place((*base, "relay", "open")))
                names.define(unit.relay.closed, self.found.book.place((*base, "relay", "closed")))
            for group, contacts in unit.relays.items():
                for state in contacts.states:
                    at = (*base, "relays", group, "states", state)
                    names.define(state, self.found.book.place_of_key(at))
            self._names[name] = names
        return self._names[name]

    def done(self) -> None:
        """Find the states that effects ask for and units do not have."""
        for name, names in self._names.items():
            if not names.missing:
                continue
            if names.defined:
                self.found.found += names.findings(
                    f" of {quoted(name)}", hold_back="rig" in self.found.book.faulty
                )
                continue
            places = [place for some in names.missing.values() for place in some]
            self.found.found.append(
                Finding(
                    "unknown-state",
                    Severity.ERROR,
                    f"{quoted(name)} has no programs, positions or channels, but "
                    f"{', '.join(map(quoted, names.missing))} is asked of it",
                    place_for(self.found.book.spot, ("rig", "units", name), Unit, "programs"),
                    "add display: and programs: here, or by foot:, or relay:",
                    tuple(Related("asked for here", place) for place in places[:4]),
                )
            )
