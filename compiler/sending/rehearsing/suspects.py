"""What was not heard in a line check, and which cables to look at: the report of it.

A MIDI cable by which others got their messages is good; then it is the unit's own channel or
socket. Names are those of ``path:`` and ``midi:`` in the rig.
"""

from __future__ import annotations

from collections.abc import Iterator

from setwright.compiler.binding.target import COMPUTER, SWITCHER
from setwright.compiler.compiled import Compiled
from setwright.compiler.outputs.collect_wiring import wiring_of
from setwright.compiler.outputs.wiring import WiringData
from setwright.compiler.proving.routing import Cable
from setwright.compiler.sending.rehearsing.line_check import THROUGH, Check, LineCheck

TOLD = {"switch", "program", "step", "time"}
"""The kinds of check for which a message has to come to the unit itself."""


def report(line_check: LineCheck) -> list[str]:
    """Return what came of a line check: counts, and for what was not heard where to look."""
    heard, checks = line_check.heard, line_check.checks
    missed = [one for one, ok in zip(checks, heard, strict=True) if ok is False]
    left = [one for one, ok in zip(checks, heard, strict=True) if ok is None]
    said = [
        f"{heard.count(True)} of {len(checks)} heard, {len(missed)} not heard, "
        f"{len(left)} not tried"
    ]
    good = {
        cable
        for one, ok in zip(checks, heard, strict=True)
        if ok
        for cable in midi_way(line_check.compiled, one)
    }
    wiring = wiring_of(line_check.compiled)
    for one in missed:
        said.append(f"not heard: {one.name}")
        said += [f"  {line}" for line in _suspects(line_check.compiled, wiring, one, good)]
    return [*said, *(f"not tried: {one.name}" for one in left)]


def _suspects(
    compiled: Compiled, wiring: WiringData, check: Check, good: set[Cable]
) -> Iterator[str]:
    unit = compiled.target.units[check.unit]
    if check.kind == THROUGH:
        leading = _leading_to(wiring, check.unit)
        cables = [one for one in wiring.path_cables if one.target in leading]
    else:
        cables = [one for one in wiring.path_cables if check.unit in (one.source, one.target)]
    around = [
        f"{_socket(one.source, one.source_side)} → {_socket(one.target, one.target_side)}"
        for one in cables
    ]
    if around:
        yield f"signal cables: {', '.join(around)}"
    if unit.loop is not None:
        yield f"send and return of the switcher's loop {unit.loop}"
    for number in check.relays:
        yield f"relay cable: {SWITCHER} (relay {number}) → {check.unit}"
    way = midi_way(compiled, check)
    doubtful = [one for one in way if one not in good]
    if doubtful:
        yield f"MIDI cables: {', '.join(map(_named, doubtful))}"
    elif way:
        yield f"MIDI cables: {', '.join(map(_named, way))}; others got their messages by these"
    if check.kind in TOLD and (check.sent or check.called):
        channel = "all channels" if unit.channel == "omni" else f"channel {unit.channel}"
        yield f"its settings: {check.unit} listens on {channel}, as the rig has it"
    if check.called:
        yield f"the preset: {check.called} has to be typed in as the preset sheet says"


def _leading_to(wiring: WiringData, unit: str) -> set[str]:
    """Return the units through which the signal comes to ``unit``, itself among them."""
    found, waiting = {unit}, [unit]
    while waiting:
        here = waiting.pop()
        new = {one.source for one in wiring.path_cables if one.target == here} - found
        found |= new
        waiting += new
    return found


def midi_way(compiled: Compiled, check: Check) -> tuple[Cable, ...]:
    """Return the MIDI cables by which the messages of ``check`` come to where they are meant."""
    lines = compiled.lines
    if check.kind == "foot" and compiled.target.units[check.unit].foot_sends is not None:
        moved = [unit for (unit, _), by in compiled.target.pedals.items() if by == check.unit]
        ways = [lines.reach(check.unit).get(unit, ()) for unit in moved]
        return tuple(dict.fromkeys(cable for way in ways for cable in way))
    if not check.sent or check.kind == THROUGH:
        return ()
    if not check.called:
        return lines.reach(COMPUTER).get(check.unit, ())
    to_switcher = lines.reach(COMPUTER).get(SWITCHER, ())
    if check.kind not in TOLD:
        return to_switcher
    return (*to_switcher, *lines.reach(SWITCHER).get(check.unit, ()))


def _named(cable: Cable) -> str:
    return f"{cable.start}{' (THRU)' if cable.from_thru else ''} → {cable.end}"


def _socket(unit: str, side: str) -> str:
    return f"{unit} {side}" if side in {"send", "return"} else unit
