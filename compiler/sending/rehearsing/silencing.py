"""Silence: what of the rig can be muted or bypassed by messages that it declares, and what cannot.

Only what the rig says is sent: a unit that is silent in a program or while it is on gets that,
another one its off or its program at rest. There is no message for all boxes: mode messages
(controls 120 to 127; MIDI 1.0 Detailed Specification 4.2.1, Table IV) are for instruments, and what
an effect makes of one nobody has said. Where the rig says that a switch kept in every bank is
silent, and the switcher can be called, that preset is silence, too.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import NamedTuple

from setwright.compiler.binding.bound import BoundScene
from setwright.compiler.binding.states import Verdict, Wanted
from setwright.compiler.binding.target import COMPUTER, Program, Target
from setwright.compiler.compiled import Compiled
from setwright.compiler.lowering.commands import Command
from setwright.compiler.lowering.lower import commands_of, in_best_order
from setwright.compiler.lowering.preset import Address
from setwright.compiler.lowering.recall import recall
from setwright.compiler.lowering.wire import Transmission, transmit
from setwright.compiler.proving.proved import LoweredScene
from setwright.scenes.quantities import quoted
from setwright.scenes.rig import KeptSwitch, kept_names, parse_kept_switch
from setwright.scenes.unit import ON, Unit
from setwright.scenes.wording import joined


class Silencing(NamedTuple):
    """What is sent for silence, whether the guitar is quiet then, and what only hands can do."""

    route: Transmission
    word: str
    by_hand: tuple[str, ...]


def silencing(compiled: Compiled, scene: LoweredScene | None, *, direct: bool) -> Silencing:
    """Return the silence during ``scene``, by the route on which scenes are sent."""
    target = compiled.target
    hear = compiled.lines.reach(COMPUTER)
    heard = {name: unit for name, unit in _there(target) if direct or name in hear}
    muted = {
        name: wanted
        for name, unit in heard.items()
        if _is_in(unit, scene) and (wanted := _mute(target, name, unit))
    }
    calm = {
        name: wanted
        for name, unit in heard.items()
        if name not in muted and (wanted := _bypass(target, name, unit))
    }
    commands = [*quieting(target, [*muted.values()]), *quieting(target, [*calm.values()])]
    kept = None if direct else _kept_silent(compiled, scene)
    if kept is not None:
        commands = [*kept.recall, *commands]
    loud = sorted(compiled.signal.amplifiers_reached(frozenset(muted)))
    hands = list(_by_hand(compiled, frozenset(muted), loud))
    if kept is not None:
        word = f"switch {kept.mark} ({kept.name}) is loaded, which the rig says is silent"
    elif muted and compiled.signal.known and not loud:
        word = f"muted: {joined(list(muted))}"
    else:
        done = f"bypassed: {joined([*muted, *calm])}; " if commands else ""
        word = f"{done}no message can mute the guitar on this rig"
    rest = _not_told(target, {*muted, *calm})
    if kept is None and rest:
        hands.append(f"no message from here bypasses {joined(rest)}")
    return Silencing(transmit(commands, wait=True), word, tuple(hands))


def resting(compiled: Compiled, *, direct: bool) -> list[Command]:
    """Return what bypasses all units that messages can bypass, muting none."""
    target = compiled.target
    hear = compiled.lines.reach(COMPUTER)
    heard = [(name, unit) for name, unit in _there(target) if direct or name in hear]
    return quieting(target, [one for name, unit in heard if (one := _bypass(target, name, unit))])


def quieting(target: Target, wanted: list[Wanted] | tuple[Wanted, ...]) -> list[Command]:
    """Return the messages that bring units into the states in ``wanted``, in the best order."""
    scene = BoundScene("silence", (), (), tuple(wanted), (), ())
    return in_best_order(list(commands_of(target, scene)))


def state(unit: str, quantity: str, value: bool | Program) -> Wanted:
    """Return a state that a message brings, whatever was before."""
    return Wanted(unit, quantity, value, "", Verdict.PROVEN)


def _there(target: Target) -> Iterator[tuple[str, Unit]]:
    for name, unit in target.units.items():
        if name not in target.gone and unit.channel is not None:
            yield name, unit


def _mute(target: Target, name: str, unit: Unit) -> Wanted | None:
    """Return the state in which the rig says that nothing comes through, if a message brings it."""
    if ON in unit.silences and unit.switched_by is not None and unit.switched_by.sets:
        return state(name, "switch", True)
    if unit.reached_by is None:
        for silent in unit.silences:
            program = target.programs.get(name, {}).get(silent)
            if program is not None:
                return state(name, "program", program)
    return None


def _is_in(unit: Unit, scene: LoweredScene | None) -> bool:
    """Tell whether the signal comes through the unit: nothing mutes in a loop that is out."""
    if unit.loop is None:
        return True
    return scene is not None and unit.loop in scene.content.loops


def _bypass(target: Target, name: str, unit: Unit) -> Wanted | None:
    """Return the state in which the unit adds nothing, if the rig says one and a message brings it.

    That is never its mute: a tuner is bypassed by leaving it off.
    """
    if unit.switched_by is not None and unit.switched_by.sets:
        return state(name, "switch", False)
    rest = target.rest.get(name, {}).get("program")
    if isinstance(rest, Program) and unit.reached_by is None:
        return state(name, "program", rest)
    return None


def _not_told(target: Target, told: set[str]) -> list[str]:
    """Return the effects that may sound on, for no message from here bypasses them."""
    return [
        name
        for name, unit in target.units.items()
        if name not in target.gone
        and name not in told
        and unit.is_ == "effect"
        and not unit.by_foot
        and not unit.silences
        and (unit.loop is not None or unit.channel is not None)
    ]


def _by_hand(compiled: Compiled, muted: frozenset[str], loud: list[str]) -> Iterator[str]:
    """Yield what the player can do: pedals that close, kept switches, amplifiers."""
    for name, unit in compiled.target.units.items():
        if name in compiled.target.gone or name in muted:
            continue
        for silent in unit.silences:
            if silent in unit.by_foot:
                yield f"foot: {name} {silent}"
            elif silent == ON and unit.loop is not None:
                yield f"loop {unit.loop} in: nothing comes through {name}"
            elif any(silent in one.states for one in unit.switched.values()):
                yield f"{name} {silent}, by its relay"
    use = compiled.book.rig.switcher
    for key, one in (use.every_bank if use is not None else {}).items():
        says = (
            "is silent"
            if one.silent
            else "is kept in every bank; the rig does not say that it is silent"
        )
        yield f"switch {parse_kept_switch(key)} ({one.name}) {says}"
    if loud:
        yield f"turn down {joined([quoted(name) for name in loud])}: the guitar still comes there"
    elif not compiled.signal.known:
        yield "turn the amplifier down: the rig says nothing of the signal's path"


class _KeptSilent(NamedTuple):
    mark: str
    name: str
    recall: tuple[Command, ...]


def _kept_silent(compiled: Compiled, scene: LoweredScene | None) -> _KeptSilent | None:
    """Return the kept switch that is silent, in the bank where one is, if it can be called."""
    use, switcher = compiled.book.rig.switcher, compiled.book.switcher
    if use is None or not compiled.lines.recalls:
        return None
    slot = None if scene is None else compiled.placement.of_scene.get(scene.key)
    first = use.banks[0] - 1 if use.banks is not None else 0
    bank = slot.bank if slot is not None else first
    marks = {
        switcher.switches.show(number).casefold(): number
        for number in range(switcher.switches.count)
    }
    names = kept_names(use)
    for key, one in use.every_bank.items():
        if one.silent and _is_said(one):
            mark = parse_kept_switch(key)
            commands = recall(switcher, Address(bank, marks[mark.casefold()]))
            if commands is not None:
                return _KeptSilent(mark, names[key], commands)
    return None


def _is_said(one: KeptSwitch) -> bool:
    return one.scene is not None
