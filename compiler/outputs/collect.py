"""A compiled night → plain data, for the outputs to be made from."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from fractions import Fraction

from setwright.compiler.binding.bound import KEPT
from setwright.compiler.binding.described import describe, in_words
from setwright.compiler.binding.states import Wanted
from setwright.compiler.binding.target import Pace
from setwright.compiler.compiled import Compiled
from setwright.compiler.lowering.commands import Command
from setwright.compiler.lowering.preset import Address, Content
from setwright.compiler.lowering.wire import Transmission, transmit
from setwright.compiler.mark import mark_of
from setwright.compiler.midi import encode
from setwright.compiler.outputs.collect_songs import (
    owner_of,
    place_of,
    pressed_first,
    rounded,
    songs_of,
)
from setwright.compiler.outputs.collect_wiring import wiring_of
from setwright.compiler.outputs.data import ByHandData, NightData, SetData, SwitcherData, UnitUse
from setwright.compiler.outputs.plain import AmountData
from setwright.compiler.outputs.sent import (
    KeptData,
    MessageData,
    PresetData,
    RouteData,
    SceneData,
    SlotData,
    UnitData,
)
from setwright.compiler.placement.banks import Preset
from setwright.compiler.proving.proved import LoweredScene
from setwright.scenes.quantities import Amount
from setwright.scenes.rig import kept_names, parse_kept_switch
from setwright.scenes.songs import Scene
from setwright.scenes.switcher import Storage
from setwright.scenes.unit import Unit


def night_data(compiled: Compiled) -> NightData:
    """Return ``compiled``, which must be without errors, as plain data."""
    book = compiled.book
    numbers = iter(range(1, 1 + sum(len(one.play) for one in book.night.sets)))
    sets = tuple(
        SetData(
            name=one.name or f"Set {index}",
            at_most_seconds=rounded(one.at_most),
            note=one.note or "",
            songs=tuple(next(numbers) for _ in one.play),
        )
        for index, one in enumerate(book.night.sets, 1)
    )
    return NightData(
        night=book.night.night,
        date=book.night.date or "",
        note=book.night.note or "",
        rig=book.rig.rig or "rig",
        without=tuple(sorted(compiled.target.gone)),
        state=mark_of(compiled),
        switcher=_switcher(compiled),
        units=tuple(
            UnitUse(
                unit=name,
                channel=unit.channel if isinstance(unit.channel, int) else None,
                display=unit.display.text if unit.display else None,
            )
            for name, unit in book.rig.units.items()
            if unit.channel is not None and name not in compiled.target.gone
        ),
        feet={
            unit: position for unit, position in compiled.feet.home.items() if position is not None
        },
        feet_at_start={
            unit: position
            for unit, position in compiled.feet.start.items()
            if position is not None and position != compiled.feet.home[unit]
        },
        set_by_hand=tuple(
            ByHandData(unit=one.unit, quantity=one.quantity, value=one.value)
            for one in compiled.set_by_hand
        ),
        sender=compiled.lines.sender,
        sets=sets,
        songs=tuple(songs_of(compiled)),
        scenes=tuple(
            _scene(compiled, scene) for scene in compiled.scenes.values() if scene.key[0] != KEPT
        ),
        presets=tuple(_preset(compiled, preset) for preset in compiled.placement.presets),
        kept=tuple(_kept(compiled)),
        wiring=wiring_of(compiled),
    )


def _switcher(compiled: Compiled) -> SwitcherData:
    book, switcher = compiled.book, compiled.book.switcher
    use = book.rig.switcher
    count = switcher.banks.count
    first, last = use.banks if use is not None and use.banks is not None else (1, count)
    gone = compiled.target.gone
    units = [(name, unit) for name, unit in compiled.target.units.items() if name not in gone]
    loops, relays = _by_loop(units), _by_relay(units)
    return SwitcherData(
        name=switcher.switcher,
        banks=switcher.banks.text,
        switches=switcher.switches.text,
        bank_count=count,
        switch_count=switcher.switches.count,
        first_bank=first,
        last_bank=last,
        recall_channel=switcher.recalled_on_channel,
        kept={
            parse_kept_switch(key): one.name for key, one in (use.every_bank if use else {}).items()
        },
        loops=switcher.loops,
        loop_units={str(loop): names[0] for loop, names in sorted(loops.items())},
        relay_units={str(relay): names[0] for relay, names in relays.items()},
        loop_shared={str(loop): tuple(names[1:]) for loop, names in loops.items() if names[1:]},
        relay_works={
            str(number): quantity
            for _, unit in units
            for quantity, one in unit.switched.items()
            for number in one.numbers
        },
        relay_shared={str(one): tuple(names[1:]) for one, names in relays.items() if names[1:]},
        holds_programs=switcher.each_preset_stores.programs,
        holds_controls=switcher.each_preset_stores.controls,
        holds_on_leaving=switcher.each_preset_stores.messages_on_leaving,
        bank_moves_by=switcher.bank_moves.by,
        bank_moves_load=switcher.bank_moves.loads_at_once,
        bank_moves_load_switch=switcher.bank_moves.loads,
        bank_moves_wait_ms=rounded(compiled.wait_at_banks),
        same_switch_again=switcher.same_switch_again,
        at_power_up=switcher.at_power_up,
        first_of_all=pressed_first(compiled),
        tapped={str(output): tuple(names) for output, names in sorted(_by_tap(units).items())},
        clock=switcher.clock.tempo if switcher.clock is not None else None,
        loops_per_preset=switcher.loop_order == "per preset",
        volume_loop_after=switcher.volume_loop.after_loop if switcher.volume_loop else None,
    )


def _by_loop(units: Iterable[tuple[str, Unit]]) -> dict[int, list[str]]:
    table: dict[int, list[str]] = {}
    for name, unit in units:
        if unit.loop is not None:
            table.setdefault(unit.loop, []).append(name)
    return table


def _by_relay(units: Iterable[tuple[str, Unit]]) -> dict[int, list[str]]:
    table: dict[int, list[str]] = {}
    for name, unit in units:
        for one in unit.switched.values():
            for number in one.numbers:
                table.setdefault(number, []).append(name)
    return table


def _by_tap(units: Iterable[tuple[str, Unit]]) -> dict[int, list[str]]:
    table: dict[int, list[str]] = {}
    for name, unit in units:
        if unit.tap_output is not None:
            table.setdefault(unit.tap_output, []).append(name)
    return table


def _scene(compiled: Compiled, scene: LoweredScene) -> SceneData:
    slot = compiled.placement.of_scene.get(scene.key)
    recall = compiled.recall_of(scene.key)
    return SceneData(
        song=owner_of(scene.key[0]),
        scene=scene.bound.name,
        effects=scene.bound.effects,
        replaced=scene.bound.replaced,
        note=written.note or "" if (written := _written(compiled, scene)) is not None else "",
        place=None if slot is None else place_of(compiled, slot),
        units=tuple(_unit(wanted) for wanted in scene.proved),
        recall=_route_of(recall) if recall is not None else None,
        stored=_route(scene.lowered.stored),
        direct=_route(scene.lowered.direct),
    )


def _written(compiled: Compiled, scene: LoweredScene) -> Scene | None:
    """Return a scene as the book has it."""
    book, path = compiled.book, scene.bound.path
    if path[0] == "rig":
        return book.rig.general.get(scene.bound.name)
    song = next((one for one in book.songs if path[: len(one.path)] == one.path), None)
    return song.scenes.get(scene.bound.name) if song is not None else None


def _unit(wanted: Wanted) -> UnitData:
    value = None if wanted.value is None else describe(wanted.value, wanted.quantity)
    return UnitData(
        unit=wanted.unit,
        quantity=wanted.quantity,
        value=value,
        why=wanted.why,
        verdict=wanted.verdict.value,
        reason=wanted.reason,
    )


def _route_of(commands: tuple[Command, ...]) -> RouteData:
    return _route(transmit(commands, wait=False))


def _route(route: Transmission) -> RouteData:
    return RouteData(
        messages=tuple(
            _message(timed.command, timed.starts, timed.ends) for timed in route.commands
        ),
        bytes=route.size,
        bytes_running=route.size_running,
        ms=_ms(route.ms),
        ms_running=_ms(route.ms_running),
        sound_ms=_ms(route.sound),
    )


def _message(command: Command, starts: Fraction, ends: Fraction) -> MessageData:
    message = command.message
    return MessageData(
        unit=command.unit,
        sets=command.quantity,
        kind=message.kind,
        channel=message.channel,
        number=message.data[0],
        value=message.data[1] if len(message.data) > 1 else None,
        hex=encode(message).hex(" "),
        meaning=command.meaning,
        name=command.name,
        shown=command.shown,
        asked=_amount(command.asked),
        given=_amount(command.given) if command.given != command.asked else None,
        starts_ms=_ms(starts),
        ends_ms=_ms(ends),
        busy_ms=_ms(command.busy),
    )


def _preset(compiled: Compiled, preset: Preset) -> PresetData:
    book = compiled.book
    names = book.switcher.each_preset_stores.names
    target = compiled.target
    loops = _by_loop((name, unit) for name, unit in target.units.items() if name not in target.gone)
    return PresetData(
        place=place_of(compiled, preset.slot),
        name=names.show(preset.name),
        loops=preset.content.loops,
        loop_units=tuple(name for loop in preset.content.loops for name in loops[loop]),
        relays=preset.content.relays,
        tempo=_tempo(preset.content.tempo),
        programs=tuple(_programs(preset.content, book.switcher.each_preset_stores)),
        controls=tuple(_controls(preset.content, book.switcher.each_preset_stores)),
        scenes=tuple((owner_of(owner), scene) for owner, scene in preset.scenes),
    )


def _tempo(pace: Pace | None) -> AmountData | None:
    if pace is None:
        return None
    return AmountData(words=str(pace), value=round(float(pace.often), 6), unit="BPM")


def _kept(compiled: Compiled) -> Iterator[KeptData]:
    """Yield what the rig says of switches that are kept the same in every bank."""
    use, switches = compiled.book.rig.switcher, compiled.book.switcher.switches
    if use is None or compiled.kept is None:
        return
    first = use.banks[0] - 1 if use.banks is not None else 0
    marks = {switches.show(number).casefold(): number for number in range(switches.count)}
    for key, name in kept_names(use).items():
        scene = compiled.scenes.get((KEPT, name))
        if scene is None:
            continue
        one = use.every_bank[key]
        slot = Address(first, marks[parse_kept_switch(key).casefold()])
        yield KeptData(
            silent=one.silent,
            preset=_preset(compiled, Preset(slot, one.name, scene.content, ())),
            scene=_scene(compiled, scene),
        )


def _programs(content: Content, storage: Storage) -> list[SlotData]:
    """Return the program slots; a bank select is part of its program's if the switcher can."""
    selects: dict[int, list[Command]] = {}
    waiting: list[Command] = []
    for command in content.commands:
        if command.quantity == "bank":
            waiting.append(command)
        elif command.message.kind == "program":
            selects[id(command)], waiting = waiting if storage.bank_select else [], []
    return [
        _slot(number, command, tuple(selects[id(command)]), None)
        for number, command in _numbered(content.programs, storage, storage.program_channels)
    ]


def _controls(content: Content, storage: Storage) -> list[SlotData]:
    """Return the control slots; where programs have no bank select, it takes a control slot."""
    commands = tuple(
        command
        for command in content.commands
        if command.message.kind == "control"
        and (command.quantity != "bank" or not storage.bank_select)
    )
    return [
        _slot(number, command, (), command.message.data[1])
        for number, command in _numbered(commands, storage, storage.control_channels)
    ]


def _numbered(
    commands: tuple[Command, ...], storage: Storage, channels: list[int]
) -> Iterator[tuple[int, Command]]:
    """Yield each command with its slot, counted from 1; fixed channels say which slot it is."""
    free = dict(enumerate(channels, 1))
    for index, command in enumerate(commands, 1):
        number = index
        if not storage.on_any_channel:
            fits = [slot for slot, channel in free.items() if channel == command.message.channel]
            number = fits[0] if fits else index
            free.pop(number, None)
        yield number, command


def _slot(index: int, command: Command, banks: tuple[Command, ...], value: int | None) -> SlotData:
    selects = {bank.message.data[0]: bank.message.data[1] for bank in banks}
    return SlotData(
        slot=index,
        unit=command.unit,
        channel=command.message.channel,
        kind=command.message.kind,
        number=command.message.data[0],
        shown=command.shown,
        value=value,
        bank_msb=selects.get(0),
        bank_lsb=selects.get(32),
        sets=command.quantity,
        meaning=command.meaning,
        name=command.name,
        asked=_amount(command.asked),
        given=_amount(command.given) if command.given != command.asked else None,
    )


def _amount(amount: Amount | str | None) -> AmountData | None:
    match amount:
        case None:
            return None
        case Amount():
            value = float(amount.value)
            return AmountData(words=in_words(amount), value=round(value, 6), unit=amount.unit)
        case _:
            return AmountData(words=amount, value=None, unit=None)


def _ms(value: Fraction) -> float:
    return round(float(value), 3)
