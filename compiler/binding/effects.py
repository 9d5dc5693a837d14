"""How a rig makes its effects: what each asks of which unit, and what stands when none does."""

from __future__ import annotations

from setwright.compiler.binding.rig_findings import RigFindings
from setwright.compiler.binding.settings import setting_of
from setwright.compiler.binding.sharing import placed
from setwright.compiler.binding.states_asked import StatesAsked
from setwright.compiler.binding.target import NOTHING, Demand, Program, Setting
from setwright.compiler.binding.units import controls_of
from setwright.scenes.control import Control
from setwright.scenes.finding import Finding, Related, Severity
from setwright.scenes.names import suggestion
from setwright.scenes.places import KeyPath
from setwright.scenes.quantities import quoted
from setwright.scenes.rig import Part
from setwright.scenes.unit import Unit


def demands_of(
    found: RigFindings,
    states: StatesAsked,
    effect: str,
    parts: dict[str, Part],
    programs: dict[str, dict[str, Program]],
) -> tuple[Demand, ...] | None:
    """Return what ``effect`` asks of the units; None, with a finding, where that is not clear."""
    demands: list[Demand] = []
    base: KeyPath = ("rig", "effects", effect)
    if not parts and not found.book.has_broken(base):
        found.error(
            "made-of-nothing",
            f"it is not said how {quoted(effect)} is made",
            base,
            f"name its units, or write {effect}: nothing if this rig needs none for it",
            key=True,
        )
    if parts.keys() == {NOTHING} and NOTHING not in found.units.defined:
        return ()
    good = bool(parts)
    for name, part in parts.items():
        path = (*base, name)
        if not found.units.find(name, path, key=True):
            good = False
            continue
        unit = found.rig.units.get(name)
        if unit is None:
            good = False  # the unit stands there with a slip in it, which has been found
            continue
        if not part.state and not part.set and not _can_be_told(found, name, unit):
            found.unswitched.setdefault(name, []).append(path)
            good = False
        demands.append(Demand(name, "use", None, path))
        if part.state is not None:
            state = states.demand(name, unit, part.state, (*path, "state"), programs[name])
            good = good and state is not None
            if state is not None:
                demands.append(state)
        for control_name, text in part.set.items():
            if control_name in unit.relays:
                path_of_it = (*path, "set", control_name)
                state = states.demand(name, unit, text, path_of_it, programs[name])
                wanted = f"relay {control_name}"
                good = good and state is not None and state.quantity == wanted
                if state is not None and state.quantity != wanted:
                    found.error(
                        "unknown-state",
                        f"{quoted(control_name)} of {quoted(name)} has no state {quoted(text)}",
                        path_of_it,
                        suggestion(text, unit.relays[control_name].states, ""),
                    )
                elif state is not None:
                    demands.append(state)
                continue
            control = _control(found, name, unit, control_name, (*path, "set", control_name))
            if control is None:
                good = False
                continue
            _idle(found, name, part, control, (*path, "set", control_name), programs)
            setting = setting_of(found, control, text, (*path, "set", control_name))
            good = good and setting is not None
            if setting is not None:
                demands.append(Demand(name, control_name, setting, (*path, "set", control_name)))
    return tuple(demands) if good else None


def _can_be_told(found: RigFindings, name: str, unit: Unit) -> bool:
    """Tell whether it makes a difference to ``unit`` that an effect is made with it."""
    ways = unit.loop is not None or unit.switched_by is not None or unit.always_on
    return ways or found.is_faulty(name) or placed(found.rig.units)[name].loop is not None


def unswitched(found: RigFindings) -> None:
    """Find effects made with a unit that nothing switches; each unit once."""
    for name, (first, *others) in found.unswitched.items():
        states = found.rig.units[name].states
        ask = f"ask for one of its states: {' or '.join(states)}; or " if states else ""
        found.error(
            "nothing-switches-it",
            f"nothing switches {quoted(name)} on for {quoted(str(first[2]))}: it is in no loop, "
            "and no control, program or foot is asked for",
            first,
            f"{ask}give the unit a loop: or switched by:, or say always on: yes if it always is",
            Related("the unit", found.book.place_of_key(("rig", "units", name))),
            *(Related("and here", found.book.place_of_key(path)) for path in others[:3]),
            key=True,
        )


def _control(
    found: RigFindings, name: str, unit: Unit, control: str, path: KeyPath
) -> Control | None:
    declared = unit.control(control)
    if declared is None and not found.is_faulty(name):
        found.error(
            "unknown-control",
            f"{quoted(name)} has no control {quoted(control)}",
            path,
            suggestion(control, unit.controls, f"declare it under {name}: with controls:"),
            Related("the unit", found.book.place_of_key(("rig", "units", name))),
            key=True,
        )
    return declared


def _idle(
    found: RigFindings,
    name: str,
    part: Part,
    control: Control,
    path: KeyPath,
    programs: dict[str, dict[str, Program]],
) -> None:
    """Find a setting that does nothing in the very program that the effect asks for."""
    asked = programs[name].get(part.state or "")
    works = [programs[name][one] for one in control.only_with if one in programs[name]]
    if asked is None or not works or asked.on_wire in {one.on_wire for one in works}:
        return
    found.found.append(
        Finding(
            "setting-does-nothing",
            Severity.WARNING,
            f"{quoted(str(path[-1]))} does nothing in {quoted(asked.name)} of {quoted(name)}",
            found.book.place_of_key(path),
            f"ask for {' or '.join(one.name for one in works)}, or take the setting out",
            (Related("the program", found.book.place((*path[:-2], "state"))),),
        )
    )


def rest_of(
    found: RigFindings, states: StatesAsked, name: str, unit: Unit, programs: dict[str, Program]
) -> dict[str, Program | Setting | str]:
    """Return what the unit goes back to where no effect asks for it."""
    rest: dict[str, Program | Setting | str] = {}
    base: KeyPath = ("rig", "units", name)
    if unit.at_rest is not None:
        state = states.demand(name, unit, unit.at_rest, (*base, "at rest"), programs)
        if state is not None:
            rest[state.quantity] = state.value or ""
    for key, control in controls_of(unit):
        if control.at_rest is not None:
            path = (*base, *key, "at rest")
            setting = setting_of(found, control, control.at_rest, path)
            if setting is not None:
                rest[str(key[-1])] = setting
    return rest


def choices_of(
    found: RigFindings, makes: dict[str, tuple[Demand, ...]], lost: set[str], broken: set[str]
) -> list[tuple[str, KeyPath]]:
    """Return what ``instead of:`` names and nobody makes: (name, where it stands)."""
    known = {*makes, *lost, *broken, *found.rig.instead_of, NOTHING}
    return [
        (choice, ("rig", "instead of", effect, index))
        for effect, choices in found.rig.instead_of.items()
        for index, choice in enumerate(choices)
        if choice not in known
    ]
