"""What a unit declares of itself, where that cannot be: without a channel, twice, beyond it."""

from __future__ import annotations

from collections.abc import Iterator

from setwright.compiler.binding.contacts import check_contacts
from setwright.compiler.binding.rig_findings import RigFindings
from setwright.compiler.binding.settings import check_curve
from setwright.compiler.binding.target import COMPUTER, SWITCHER, TAKEN
from setwright.scenes.control import Control, SwitchedBy
from setwright.scenes.finding import Related
from setwright.scenes.names import suggestion
from setwright.scenes.places import KeyPath
from setwright.scenes.quantities import quoted
from setwright.scenes.unit import Unit


def check_unit(found: RigFindings, name: str, unit: Unit) -> None:
    """Find what is wrong with what a unit declares of itself."""
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
    if needs and unit.channel is None and not found.book.is_broken((*base, "channel")):
        found.error(
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
    for group, contacts in unit.relays.items():
        named += [(state, (*base, "relays", group, "states", state)) for state in contacts.states]
        check_contacts(found, (*base, "relays", group), contacts)
    for state, path in named:
        if state in seen:
            found.two_of_a_name.add(name)
            found.error(
                "state-twice",
                f"{quoted(name)} has two states called {quoted(state)}",
                path,
                "give each its own name",
                Related("the other", found.book.place(seen[state])),
            )
        seen[state] = path
    for group in unit.relays:
        if group in unit.controls:
            found.error(
                "control-name-taken",
                f"{quoted(group)} is a control of {quoted(name)}, too",
                (*base, "relays", group),
                "give one of them another name",
                Related("the control", found.book.place_of_key((*base, "controls", group))),
                key=True,
            )
    if unit.by_foot and unit.at_start is not None and unit.at_start not in unit.by_foot:
        _unknown_state(found, name, unit.at_start, (*base, "at start"), unit.by_foot)
    if switch := unit.switched_by:
        _switch(found, base, switch.sets, switch.any_value_flips, switch.press is not None)
        _two_values(found, base, switch)
    for control_name in unit.controls:
        if control_name in TAKEN:
            found.error(
                "control-name-taken",
                f"a control cannot be called {quoted(control_name)}",
                (*base, "controls", control_name),
                "write time: beside controls:, with the same words below it"
                if control_name == "time"
                else "give it another name",
                key=True,
            )
    for key, control in controls_of(unit):
        check_curve(found, (*base, *key), control)
        for index, program in enumerate(control.only_with):
            if program not in unit.programs:
                path = (*base, *key, "only with", index)
                _unknown_state(found, name, program, path, list(unit.programs))
    if name == SWITCHER or (name == COMPUTER and unit.is_ != "sender"):
        found.error(
            "unit-name-taken",
            f"{quoted(name)} is on the MIDI lines already, so no unit can be called so",
            base,
            "give the unit another name",
            key=True,
        )


def _switch(found: RigFindings, base: KeyPath, *ways: bool) -> None:
    path = (*base, "switched by")
    if sum(ways) != 1 and not found.book.has_broken(path):
        found.error(
            "switch-unclear",
            "it is not said, or said twice, how this control switches",
            path,
            "write on: and off: with their values; or any value flips: yes; or press: and release:",
            key=True,
        )


def _two_values(found: RigFindings, base: KeyPath, switch: SwitchedBy) -> None:
    for key, one, other in (
        ("off", switch.on, switch.off),
        ("release", switch.press, switch.release),
    ):
        if one is not None and one == other:
            found.error(
                "switch-unclear",
                f"one value, {one}, cannot mean both",
                (*base, "switched by", key),
                "write the two values that its manual says",
            )


def controls_of(unit: Unit) -> Iterator[tuple[KeyPath, Control]]:
    """Yield the controls of ``unit`` with their key paths within it, its time first."""
    if unit.time is not None:
        yield ("time",), unit.time
    for name, control in unit.controls.items():
        yield ("controls", name), control


def _unknown_state(
    found: RigFindings, name: str, state: str, path: KeyPath, known: tuple[str, ...] | list[str]
) -> None:
    found.error(
        "unknown-state",
        f"{quoted(name)} has no program, position or channel {quoted(state)}",
        path,
        suggestion(state, known, f"declare it under {name}: with programs:, by foot: or relay:"),
        Related("the unit", found.book.place_of_key(("rig", "units", name))),
    )
