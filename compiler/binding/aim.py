"""A rig as it is written → the target that scenes are bound to, and what is wrong with it.

Runs once a rig, before scenes are bound. What it returns can be relied on: every demand names a
unit and a state that exist.
"""

from __future__ import annotations

from setwright.compiler.binding.cables import look_up_cables
from setwright.compiler.binding.combined import check_combined, combinations
from setwright.compiler.binding.effects import choices_of, demands_of, rest_of, unswitched
from setwright.compiler.binding.pedals import check_pedal, moved_by_pedals
from setwright.compiler.binding.programs import free_programs, programs_of
from setwright.compiler.binding.rig_findings import RigFindings
from setwright.compiler.binding.sharing import (
    Groups,
    check_sharing,
    in_one_loop,
    on_contact,
    on_one_contact,
    placed,
)
from setwright.compiler.binding.states_asked import StatesAsked
from setwright.compiler.binding.switcher_use import check_use
from setwright.compiler.binding.target import Demand, Program, Setting, Target
from setwright.compiler.binding.units import check_unit
from setwright.scenes import instead
from setwright.scenes.book import Book
from setwright.scenes.finding import Finding
from setwright.scenes.names import suggestion
from setwright.scenes.quantities import quoted
from setwright.scenes.unit import ON, Unit


def aim(book: Book, without: frozenset[str] = frozenset()) -> tuple[Target, list[Finding]]:
    """Resolve the rig of ``book``, without the units named in ``without``."""
    found = RigFindings(book)
    states = StatesAsked(found)
    units = book.rig.units
    check_use(found)
    programs = {name: programs_of(found, name, unit) for name, unit in units.items()}
    free = {name: free_programs(found, name, unit, programs[name]) for name, unit in units.items()}
    for name, unit in units.items():
        check_unit(found, name, unit)
        check_pedal(found, name, unit)
    rest = {
        name: rest_of(found, states, name, unit, programs[name]) for name, unit in units.items()
    }
    for name, unit in units.items():
        _look_up_states(states, name, unit, programs[name])
    makes: dict[str, tuple[Demand, ...]] = {}
    lost: set[str] = set()
    broken = {str(path[2]) for path in book.broken if path[0] == "rig" and len(path) > 2}
    for effect, parts in book.rig.effects.items():
        demands = demands_of(found, states, effect, parts, programs)
        if demands is None or effect in broken:
            broken.add(effect)
        elif without.intersection(parts):
            lost.add(effect)
        else:
            makes[effect] = demands
    unswitched(found)
    combined = tuple(combinations(book.rig.effects))
    # What only a combination makes is lost with it.
    for name, members in combined:
        if name in lost:
            lost.update(member for member in members if member not in book.rig.effects)
    doubted = check_combined(found, makes, {*instead.asked(book), *book.rig.instead_of})
    stand_ins, blamed = instead.stand_ins(book, {*makes, *lost, *broken})
    found.found += stand_ins
    choices = choices_of(found, makes, lost, broken)
    states.done()
    check_sharing(found)
    look_up_cables(found)
    _without(found, without)
    if not book.is_broken(("rig", "units")):
        found.found += found.units.findings(" in this rig", hold_back="rig" in book.faulty)
    in_loops = placed(units)
    contacts = _without_gone(on_one_contact(in_loops), without)
    _rest_together(in_loops, contacts, rest)
    target = Target(
        book,
        in_loops,
        programs,
        makes,
        without,
        frozenset(lost),
        rest,
        frozenset(broken | blamed | {str(path[2]) for _, path in choices}),
        choices,
        _without_gone(in_one_loop(in_loops), without),
        contacts,
        tuple(one for one in combined if one.name in makes),
        doubted,
        moved_by_pedals(book, without),
        {name: found for name, found in free.items() if name not in without},
    )
    return target, found.found


def _without_gone(groups: Groups, without: frozenset[str]) -> Groups:
    return {
        name: tuple(other for other in others if other not in without)
        for name, others in groups.items()
    }


def _rest_together(
    units: dict[str, Unit],
    contacts: Groups,
    rest: dict[str, dict[str, Program | Setting | str]],
) -> None:
    """Let everything on one contact rest where one of its units does."""
    for name, others in contacts.items():
        relay = units[name].relay
        for other in others:
            state = rest[other].get("relay")
            if relay is not None and state is not None and "relay" not in rest[name]:
                rest[name]["relay"] = on_contact(units[other], str(state), units[name])


def _look_up_states(
    states: StatesAsked, name: str, unit: Unit, programs: dict[str, Program]
) -> None:
    """Find where a unit says that it is silent in a state that it has not."""
    base = ("rig", "units", name)
    for index, state in enumerate(unit.silent_when or ()):
        if state != ON:
            states.demand(name, unit, state, (*base, "silent when", index), programs)


def _without(found: RigFindings, without: frozenset[str]) -> None:
    """Find units that are to be left out tonight and are not there at all."""
    for name in sorted(without):
        if name not in found.units.defined:
            found.error(
                "unknown-unit",
                f"the rig has no unit {quoted(name)} to do without",
                ("rig", "units"),
                suggestion(name, found.rig.units, "write it under units:"),
                key=True,
            )
