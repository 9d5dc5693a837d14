"""The cables of a compiled night → plain data."""

from __future__ import annotations

from collections.abc import Iterator

from setwright.compiler.binding.target import COMPUTER, SWITCHER
from setwright.compiler.checks.common.supply import passed_on
from setwright.compiler.compiled import Compiled
from setwright.compiler.outputs.wiring import (
    FedData,
    MidiBoxData,
    MidiCableData,
    OutputData,
    PathCableData,
    PathUnitData,
    WiringData,
)
from setwright.compiler.proving.routing import Cable, Lines
from setwright.compiler.signal.graph import Node, Side, Signal, upstream
from setwright.scenes.power import Output, Power
from setwright.scenes.quantities import Span, plain_number
from setwright.scenes.rig import Rig


def wiring_of(compiled: Compiled) -> WiringData:
    """Return what is plugged into what tonight."""
    signal, lines, rig = compiled.signal, compiled.lines, compiled.book.rig
    gone = compiled.target.gone
    cables = tuple(_path_cables(signal))
    units = tuple(dict.fromkeys(word.unit for word in signal.words if word.unit not in signal.gone))
    within = _within(signal, units)
    return WiringData(
        path=tuple(
            PathUnitData(
                unit=name,
                kind=signal.units[name].is_ if name in signal.units else "guitar",
                loop=compiled.target.units[name].loop if name in compiled.target.units else None,
                effects_loop=signal.has_loop_in_use(name),
                within=within.get(name),
            )
            for name in units
        ),
        path_cables=cables,
        midi=tuple(_midi_box(lines, name) for name in lines.passes if name not in gone),
        midi_cables=tuple(
            MidiCableData(source=cable.start, socket=_socket(lines, cable), target=cable.end)
            for cable in lines.cables
        ),
        supply=tuple(_output(rig, gone, name, output) for name, output in rig.supply.items()),
    )


def _path_cables(signal: Signal) -> Iterator[PathCableData]:
    """Yield the cables between units that are there, each led on through those that are not."""
    for cable in signal.cables:
        if cable.source.unit in signal.gone:
            continue
        for target in _led_on(signal, cable.target):
            yield PathCableData(
                source=cable.source.unit,
                source_side=cable.source.side,
                target=target.unit,
                target_side=target.side,
            )


def _led_on(signal: Signal, node: Node) -> Iterator[Node]:
    """Yield the sockets of units that are there to which a cable into ``node`` leads."""
    waiting, seen = [node], set[Node]()
    while waiting:
        here = waiting.pop(0)
        if here in seen:
            continue
        seen.add(here)
        if here.unit in signal.gone:
            waiting += signal.onward(here)
        else:
            yield here


def _within(signal: Signal, units: tuple[str, ...]) -> dict[str, str]:
    """Return for each unit between a send and a return whose these are, the innermost ones."""
    onward = {one: signal.onward(one) for one in _nodes(signal)}
    back: dict[Node, set[Node]] = {}
    for node, others in onward.items():
        for other in others:
            back.setdefault(other, set()).add(node)
    forth = {node: set(others) for node, others in onward.items()}
    loops: dict[str, set[str]] = {}
    for owner in filter(signal.has_loop_in_use, units):
        behind = upstream(forth, Node(owner, Side.SEND))
        before = upstream(back, Node(owner, Side.RETURN))
        loops[owner] = {node.unit for node in behind & before} - {owner}
    found: dict[str, str] = {}
    for owner in sorted(loops, key=lambda one: -len(loops[one])):
        found |= dict.fromkeys(loops[owner], owner)
    return found


def _nodes(signal: Signal) -> Iterator[Node]:
    for unit in signal.in_path:
        for side in Side:
            yield Node(unit, side)


def _midi_box(lines: Lines, name: str) -> MidiBoxData:
    unit = lines.rig.units.get(name)
    if name in {SWITCHER, COMPUTER} or unit is None:
        listens = lines.switcher.recalled_on_channel if name == SWITCHER else None
        kind = COMPUTER if name == COMPUTER else SWITCHER
        return MidiBoxData(
            box=name, kind=kind, channel=listens, omni=False, passes_on=lines.passes[name]
        )
    return MidiBoxData(
        box=name,
        kind=unit.is_,
        channel=unit.channel if isinstance(unit.channel, int) else None,
        omni=unit.channel == "omni",
        passes_on=lines.passes[name],
    )


def _socket(lines: Lines, cable: Cable) -> str:
    """Return the socket that a cable comes out of.

    What a unit receives it passes on by its THRU, and a merge by its OUT (MIDI 1.0 Detailed
    Specification 4.2.1, hardware: a THRU gives a copy of what comes in, and nothing else). A
    line may begin with a box that is on another: what it passes on there leaves by its THRU, too.
    """
    unit = lines.rig.units.get(cable.start)
    if unit is None or unit.is_ == "merge" or cable.start in {SWITCHER, COMPUTER}:
        return "OUT"
    fed = any(other.end == cable.start for other in lines.cables)
    return "THRU" if cable.from_thru or fed else "OUT"


def _output(rig: Rig, gone: frozenset[str], name: str, output: Output) -> OutputData:
    feeds = tuple(_fed(rig, gone, output))
    draws = {one.unit: one.draws_ma or 0 for one in feeds}
    return OutputData(
        output=name,
        gives_ma=float(output.gives),
        volts=_volts(output.volts),
        current=output.current,
        polarity=_polarity(output),
        draws_ma=sum(draws.values()),
        feeds=feeds,
    )


def _fed(rig: Rig, gone: frozenset[str], output: Output) -> Iterator[FedData]:
    """Yield every unit that hangs on ``output`` by each of its cables, nearest first."""
    waiting: list[tuple[str, str | None]] = [(name, None) for name in output.feeds]
    seen: set[tuple[str, str | None]] = set()
    while waiting:
        name, through = waiting.pop(0)
        unit = rig.units.get(name)
        if unit is None or name in gone or (name, through) in seen:
            continue
        seen.add((name, through))
        power = unit.power
        yield FedData(
            unit=name,
            through=through,
            draws_ma=float(power.draws) if power is not None else None,
            volts=_volts(power.volts) if power is not None else None,
            current=power.current if power is not None else None,
            polarity=_polarity(power) if power is not None else None,
        )
        waiting += [(other, name) for other, _, _ in passed_on(rig, name)]


def _polarity(one: Power | Output) -> str | None:
    """Return a polarity; alternating current has none."""
    return one.polarity if one.current == "dc" else None


def _volts(span: Span) -> str:
    return f"{plain_number(span.low)} V" if span.low == span.high else str(span)
