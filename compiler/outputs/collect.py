"""A compiled night → plain data, for the outputs to be made from."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from fractions import Fraction
from typing import NamedTuple

from setwright.compiler.binding.bound import KEPT
from setwright.compiler.binding.described import describe, in_words
from setwright.compiler.binding.states import Wanted
from setwright.compiler.binding.target import Pace
from setwright.compiler.compiled import Compiled
from setwright.compiler.legible import CUE, REST, TITLE, capitals_mm
from setwright.compiler.lowering.commands import Command
from setwright.compiler.lowering.preset import Address, Content
from setwright.compiler.lowering.wire import Transmission, transmit
from setwright.compiler.midi import encode
from setwright.compiler.outputs.collect_songs import (
    owner_of,
    place_of,
    rounded,
    songs_of,
)
from setwright.compiler.outputs.collect_switcher import by_loop, switcher_of
from setwright.compiler.outputs.collect_typing import programs_of, steps_of
from setwright.compiler.outputs.collect_wiring import wiring_of
from setwright.compiler.outputs.data import (
    ByHandData,
    NightData,
    SetData,
    SightData,
    UnitUse,
)
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
from setwright.compiler.outputs.slots import Sent, fixed_slots, sent_by
from setwright.compiler.placement.banks import Preset
from setwright.compiler.plan import plan_of
from setwright.compiler.proving.proved import LoweredScene
from setwright.scenes.quantities import Amount
from setwright.scenes.rig import kept_names, parse_kept_switch
from setwright.scenes.sight import Sight
from setwright.scenes.songs import Scene
from setwright.scenes.switcher import Storage


def night_data(compiled: Compiled) -> NightData:
    """Return ``compiled``, which must be without errors, as plain data."""
    book = compiled.book
    plan = plan_of(compiled)
    slots = _slots(compiled)
    numbers = iter(range(1, 1 + sum(len(one.play) for one in book.night.sets)))
    sets = tuple(
        SetData(
            name=one.name or f"Set {index}",
            at_most_seconds=rounded(one.at_most),
            begins_minutes=one.begins,
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
        state=plan.mark,
        switcher=switcher_of(compiled),
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
        between_songs_seconds=rounded(book.night.between_songs),
        sight=_sight(book.night.cue_sheet or book.rig.cue_sheet or Sight.model_validate({})),
        sets=sets,
        songs=tuple(songs_of(compiled)),
        others=tuple(_others(compiled)),
        scenes=tuple(
            _scene(compiled, scene) for scene in compiled.scenes.values() if scene.key[0] != KEPT
        ),
        presets=tuple(_preset(compiled, preset, slots) for preset in compiled.placement.presets),
        typing=tuple(steps_of(compiled, plan)),
        programs=tuple(programs_of(compiled, plan)),
        kept=tuple(_kept(compiled, slots)),
        wiring=wiring_of(compiled),
    )


def _sight(sight: Sight) -> SightData:
    return SightData(
        eyes_above_cm=float(sight.eyes_above),
        ahead_cm=float(sight.ahead),
        faces_you=sight.faces_you,
        cue_mm=round(capitals_mm(CUE, sight), 3),
        title_mm=round(capitals_mm(TITLE, sight), 3),
        rest_mm=round(capitals_mm(REST, sight), 3),
    )


def _others(compiled: Compiled) -> Iterator[str]:
    """Yield the titles of songs that are in the book and not tonight's."""
    tonight = {id(song.song) for song in compiled.songs}
    yield from (song.title for song in compiled.book.songs if id(song) not in tonight)


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


class _Slots(NamedTuple):
    """The slot of each thing that presets send, where all of them can have it in the same one."""

    programs: Mapping[Sent, int]
    controls: Mapping[Sent, int]


def _slots(compiled: Compiled) -> _Slots:
    storage = compiled.book.switcher.each_preset_stores
    if not storage.on_any_channel:
        return _Slots({}, {})
    contents = [preset.content for preset in compiled.placement.presets]
    if compiled.kept is not None:
        kept = compiled.kept
        contents += [compiled.scene(kept, name).content for name in kept.scenes]
    return _Slots(
        fixed_slots((one.programs for one in contents), storage.programs),
        fixed_slots((_in_controls(one, storage) for one in contents), storage.controls),
    )


def _preset(compiled: Compiled, preset: Preset, slots: _Slots) -> PresetData:
    book = compiled.book
    names = book.switcher.each_preset_stores.names
    target = compiled.target
    loops = by_loop((name, unit) for name, unit in target.units.items() if name not in target.gone)
    return PresetData(
        place=place_of(compiled, preset.slot),
        name=names.show(preset.name),
        loops=preset.content.loops,
        loop_units=tuple(name for loop in preset.content.loops for name in loops[loop]),
        relays=preset.content.relays,
        tempo=_tempo(preset.content.tempo),
        programs=tuple(_programs(preset.content, book.switcher.each_preset_stores, slots)),
        controls=tuple(_controls(preset.content, book.switcher.each_preset_stores, slots)),
        scenes=tuple((owner_of(owner), scene) for owner, scene in preset.scenes),
    )


def _tempo(pace: Pace | None) -> AmountData | None:
    if pace is None:
        return None
    return AmountData(words=str(pace), value=round(float(pace.often), 6), unit="BPM")


def _kept(compiled: Compiled, slots: _Slots) -> Iterator[KeptData]:
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
            preset=_preset(compiled, Preset(slot, one.name, scene.content, ()), slots),
            scene=_scene(compiled, scene),
        )


def _programs(content: Content, storage: Storage, slots: _Slots) -> list[SlotData]:
    """Return the program slots; a bank select is part of its program's if the switcher can."""
    selects: dict[int, list[Command]] = {}
    waiting: list[Command] = []
    for command in content.commands:
        if command.quantity == "bank":
            waiting.append(command)
        elif command.message.kind == "program":
            selects[id(command)], waiting = waiting if storage.bank_select else [], []
    numbered = _numbered(content.programs, slots.programs, storage, storage.program_channels)
    return [
        _slot(number, command, tuple(selects[id(command)]), None) for number, command in numbered
    ]


def _controls(content: Content, storage: Storage, slots: _Slots) -> list[SlotData]:
    numbered = _numbered(
        _in_controls(content, storage), slots.controls, storage, storage.control_channels
    )
    return [_slot(number, command, (), command.message.data[1]) for number, command in numbered]


def _in_controls(content: Content, storage: Storage) -> tuple[Command, ...]:
    """Return what takes control slots; where programs have no bank select, it is among them."""
    return tuple(
        command
        for command in content.commands
        if command.message.kind == "control"
        and (command.quantity != "bank" or not storage.bank_select)
    )


def _numbered(
    commands: tuple[Command, ...],
    fixed: Mapping[Sent, int],
    storage: Storage,
    channels: list[int],
) -> Iterator[tuple[int, Command]]:
    """Yield each command with its slot, counted from 1.

    Where slots have fixed channels, these say which it is; else ``fixed``, where it can.
    """
    free = dict(enumerate(channels, 1))
    for index, command in enumerate(commands, 1):
        number = fixed.get(sent_by(command), index)
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
