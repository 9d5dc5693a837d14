"""A rig as it is written → the target that scenes are bound to, and what is wrong with it.

Runs once a rig, before scenes are bound. What it returns can be relied on: every demand names a
unit and a state that exist.
"""

from __future__ import annotations

from setwright.compiler.binding.cables import look_up_cables
from setwright.compiler.binding.effects import choices_of, demands_of, rest_of
from setwright.compiler.binding.programs import programs_of
from setwright.compiler.binding.rig_findings import RigFindings
from setwright.compiler.binding.states_asked import StatesAsked
from setwright.compiler.binding.switcher_use import check_use
from setwright.compiler.binding.target import Demand, Target
from setwright.compiler.binding.units import check_unit
from setwright.scenes import instead
from setwright.scenes.book import Book
from setwright.scenes.finding import Finding
from setwright.scenes.names import suggestion
from setwright.scenes.quantities import quoted


def aim(book: Book, without: frozenset[str] = frozenset()) -> tuple[Target, list[Finding]]:
    """Resolve the rig of ``book``, without the units named in ``without``."""
    found = RigFindings(book)
    states = StatesAsked(found)
    units = book.rig.units
    check_use(found)
    programs = {name: programs_of(found, name, unit) for name, unit in units.items()}
    for name, unit in units.items():
        check_unit(found, name, unit)
    rest = {
        name: rest_of(found, states, name, unit, programs[name]) for name, unit in units.items()
    }
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
    stand_ins, blamed = instead.stand_ins(book, {*makes, *lost, *broken})
    found.found += stand_ins
    choices = choices_of(found, makes, lost, broken)
    states.done()
    look_up_cables(found)
    _without(found, without)
    if not book.is_broken(("rig", "units")):
        found.found += found.units.findings(" in this rig", hold_back="rig" in book.faulty)
    target = Target(
        book,
        dict(units),
        programs,
        makes,
        without,
        frozenset(lost),
        rest,
        frozenset(broken | blamed | {str(path[2]) for _, path in choices}),
        choices,
    )
    return target, found.found


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
