"""The whole night as plain data: what ``night.json`` holds and every other output is made from.

Numbers: channels and slots count from 1; programs on the wire and control values are 0 to 127;
times within a song are seconds, on the wire milliseconds; ``hex`` is lower case with single
spaces. What nobody cares about or nobody knows is null.
"""

from __future__ import annotations

from collections.abc import Iterator
from fractions import Fraction
from typing import Any

from pydantic import BaseModel, ConfigDict, Field

from setwright.compiler.bind import BoundSong
from setwright.compiler.compiled import Compiled, LoweredScene
from setwright.compiler.midi import encode
from setwright.compiler.orders import Order
from setwright.compiler.place import GENERAL, Preset, SceneKey, key_of
from setwright.compiler.states import Wanted, describe
from setwright.compiler.stored import Content
from setwright.compiler.wire import Transmission, transmit
from setwright.scenes.rig import parse_kept_switch
from setwright.scenes.switcher import Storage

FORMAT = 1
"""Version of the format of ``night.json``; it grows when a field changes its meaning."""


class Data(BaseModel):
    """A frozen record of plain values."""

    model_config = ConfigDict(frozen=True, extra="forbid", defer_build=True)


class MessageData(Data):
    """One MIDI message."""

    unit: str = Field(description="The unit that it is meant for.")
    sets: str = Field(description="What it sets: program, bank, switch, time, a control's name.")
    kind: str = Field(description="program or control.")
    channel: int = Field(description="1 to 16.", ge=1, le=16)
    number: int = Field(description="The program or control on the wire.", ge=0, le=127)
    value: int | None = Field(description="The control's value; null for programs.")
    hex: str = Field(description="Its bytes, for example c5 2a.")
    meaning: str = Field(description="What it does, in words.")
    starts_ms: float = Field(description="Milliseconds from the press to its first bit.")
    ends_ms: float = Field(description="Milliseconds from the press to its last bit.")


class RouteData(Data):
    """The messages of one route, in the order of sending."""

    messages: tuple[MessageData, ...]
    bytes: int = Field(description="Bytes without running status.")
    bytes_running: int = Field(description="Bytes with running status.")
    ms: float = Field(description="Milliseconds until the last byte is through.")
    ms_running: float = Field(description="The same with running status.")
    sound_ms: float = Field(description="Milliseconds until the last unit has settled.")


class UnitData(Data):
    """One quantity of one unit in one scene."""

    unit: str
    quantity: str
    value: str | None = Field(description="In words; null where nobody cares or knows.")
    why: str
    verdict: str
    reason: str


class PlaceData(Data):
    """A switch of the switcher."""

    bank: int = Field(description="Counted from 1.", ge=1)
    switch: int = Field(description="Counted from 1.", ge=1)
    bank_shown: str = Field(description="As the switcher shows it.")
    switch_shown: str = Field(description="As the switcher shows it.")


class SceneData(Data):
    """One scene as this rig plays it."""

    song: str | None = Field(description="The song's id or title; null for general scenes.")
    scene: str
    effects: tuple[str, ...]
    replaced: tuple[tuple[str, str], ...] = Field(
        description="Effects that this rig plays otherwise: asked for, played."
    )
    place: PlaceData | None
    units: tuple[UnitData, ...]
    recall: RouteData | None = Field(description="What makes the switcher load the preset.")
    stored: RouteData = Field(description="What the preset sends when it is loaded.")
    direct: RouteData = Field(description="What a computer sends instead.")


class SlotData(Data):
    """One message slot of a preset."""

    slot: int = Field(description="Counted from 1 in the order of sending.")
    unit: str
    channel: int
    kind: str
    number: int = Field(description="On the wire.")
    shown: str | None = Field(description="The program as its unit's display shows it.")
    value: int | None
    bank_msb: int | None = Field(description="Bank select control 0 sent before it, if any.")
    bank_lsb: int | None = Field(description="Bank select control 32 sent before it, if any.")
    meaning: str


class PresetData(Data):
    """One preset, as it is typed into the switcher."""

    place: PlaceData
    name: str = Field(description="As the switcher can show it.")
    loops: tuple[int, ...] = Field(description="Loops that are in, counted from 1.")
    loop_units: tuple[str, ...] = Field(description="The units in these loops.")
    relays: tuple[int, ...] = Field(description="Relays whose contact is closed.")
    programs: tuple[SlotData, ...]
    controls: tuple[SlotData, ...]
    scenes: tuple[tuple[str | None, str], ...] = Field(
        description="The scenes that it serves: song (null for general scenes) and scene."
    )


class MomentData(Data):
    """A press within a song."""

    scene: str
    position: str | None = Field(description="As written; null where the song does not say.")
    place: str | None = Field(description="Where it is, or is assumed to be, in words.")
    bar: int | None = Field(description="The bar in which it lies, counted from 1.")
    bars: float | None = Field(description="Bars that have passed.")
    seconds: float | None = Field(description="Seconds that have passed.")
    assumed: bool
    cue: str
    feet: tuple[str, ...] = Field(description="What the foot does besides, unit and position.")
    stay: bool = Field(description="Whether the same switch was pressed last in this song.")


class TempoData(Data):
    """A tempo."""

    beat: str
    bpm: float
    quarters_per_minute: float


class SongData(Data):
    """A song as it is played tonight."""

    number: int = Field(description="Its number in the night; 0 for songs kept for requests.")
    title: str
    id: str = Field(description="By which it is known: its id, else its title.")
    key: str | None
    meter: str | None
    tempo: TempoData | None
    form: str | None
    guitar: str
    note: str
    straight_into: bool = Field(description="Whether it follows the song before without a pause.")
    general: bool = Field(description="Whether it has the rig's general scenes.")
    bars: int | None = Field(description="Bars from first to last note.")
    seconds: float | None
    scenes: tuple[str, ...]
    moments: tuple[MomentData, ...]
    owner: str | None = Field(
        default=None,
        description="The name under which its scenes are listed, where that is not its id: it is "
        "played again tonight in another way.",
    )


class SetData(Data):
    """The songs between two breaks."""

    name: str
    at_most_seconds: float | None
    note: str
    songs: tuple[int, ...] = Field(description="Numbers of its songs.")


class SwitcherData(Data):
    """The switcher and what of it this rig uses."""

    name: str
    banks: str = Field(description="How its banks are shown.")
    switches: str = Field(description="How the switches of a bank are shown.")
    bank_count: int
    switch_count: int
    first_bank: int = Field(description="The rig's first bank, counted from 1.")
    last_bank: int
    recall_channel: int | None
    kept: dict[str, str] = Field(description="Switches kept the same in every bank.")
    loops: int
    loop_units: dict[str, str] = Field(description="Loop, counted from 1, and its unit.")
    relay_units: dict[str, str]
    holds_programs: int
    holds_controls: int


class UnitUse(Data):
    """A unit on the MIDI line."""

    unit: str
    channel: int | None = Field(description="1 to 16; null for omni.")
    display: str | None


class NightData(Data):
    """A night on its rig, from songs to bytes."""

    format: int = FORMAT
    night: str
    date: str
    note: str
    rig: str
    switcher: SwitcherData
    units: tuple[UnitUse, ...] = Field(description="Units that listen to MIDI.")
    feet: dict[str, str] = Field(
        description="Units that a foot works, and how each stands before every song."
    )
    sets: tuple[SetData, ...]
    songs: tuple[SongData, ...]
    scenes: tuple[SceneData, ...]
    presets: tuple[PresetData, ...]

    def scene(self, song: SongData, name: str) -> SceneData:
        """Return a scene of a song; KeyError if the song has none of that name."""
        return _by_name(self.scenes)[None if song.general else song.owner or song.id, name]


_last: list[tuple[tuple[SceneData, ...], dict[tuple[str | None, str], SceneData]]] = []


def _by_name(scenes: tuple[SceneData, ...]) -> dict[tuple[str | None, str], SceneData]:
    """Return ``scenes`` by song and name; those of the night asked for last are kept at hand."""
    if not _last or _last[0][0] is not scenes:
        _last[:] = [(scenes, {(scene.song, scene.scene): scene for scene in scenes})]
    return _last[0][1]


def night_data(compiled: Compiled) -> NightData:
    """Return ``compiled``, which must be without errors, as plain data."""
    assert compiled.book is not None
    assert compiled.target is not None
    assert compiled.binder is not None
    book = compiled.book
    numbers = iter(range(1, 1 + sum(len(one.play) for one in book.night.sets)))
    sets = tuple(
        SetData(
            name=one.name or f"Set {index}",
            at_most_seconds=_number(one.at_most),
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
            unit: position
            for unit, position in compiled.binder.feet.at_rest.items()
            if position is not None
        },
        sets=sets,
        songs=tuple(_song(compiled, song) for song in compiled.songs),
        scenes=tuple(_scene(compiled, scene) for scene in compiled.scenes.values()),
        presets=tuple(_preset(compiled, preset) for preset in compiled.placement.presets),
    )


def _switcher(compiled: Compiled) -> SwitcherData:
    assert compiled.book is not None
    assert compiled.target is not None
    book, switcher = compiled.book, compiled.book.switcher
    use = book.rig.switcher
    count = switcher.banks.count
    first, last = use.banks if use is not None and use.banks is not None else (1, count)
    gone = compiled.target.gone
    units = [(name, unit) for name, unit in book.rig.units.items() if name not in gone]
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
            parse_kept_switch(key): what for key, what in (use.every_bank if use else {}).items()
        },
        loops=switcher.loops,
        loop_units={str(unit.loop): name for name, unit in sorted(units, key=_loop) if unit.loop},
        relay_units={str(unit.relay.number): name for name, unit in units if unit.relay},
        holds_programs=switcher.each_preset_stores.programs,
        holds_controls=switcher.each_preset_stores.controls,
    )


def _loop(item: tuple[str, Any]) -> int:
    return int(item[1].loop or 0)


def _song(compiled: Compiled, bound: BoundSong) -> SongData:
    song, playing, length = bound.song, bound.playing, bound.resolved.length
    notes = [note for note in (song.note, playing.note if playing else None) if note]
    tempo = bound.tempo
    return SongData(
        number=bound.number,
        title=song.title,
        id=song.identity,
        key=song.key,
        meter=str(song.meter) if song.meter else None,
        tempo=None
        if tempo is None
        else TempoData(
            beat=tempo.beat.name,
            bpm=float(tempo.bpm),
            quarters_per_minute=float(tempo.quarters_per_minute),
        ),
        form=str(song.form) if song.form else None,
        guitar=bound.guitar,
        note="; ".join(notes),
        straight_into=bool(playing and playing.straight_into),
        general=bound.general,
        owner=bound.owner if bound.owner != song.identity else None,
        bars=length.bars,
        seconds=_number(length.seconds),
        scenes=tuple(bound.scenes),
        moments=tuple(_moments(compiled, bound)),
    )


def _moments(compiled: Compiled, bound: BoundSong) -> list[MomentData]:
    result = []
    last = None
    for moment, moves in zip(bound.moments, bound.feet, strict=True):
        if moment.scene not in bound.scenes:
            continue
        slot = compiled.placement.of_scene.get(key_of(bound, moment.scene))
        result.append(
            MomentData(
                scene=moment.scene,
                position=str(moment.position) if moment.position is not None else None,
                place=bound.place_in_words(moment),
                bar=int(moment.bars) + 1 if moment.bars is not None else None,
                bars=_number(moment.bars),
                seconds=_number(moment.seconds),
                assumed=moment.assumed,
                cue=moment.cue,
                feet=tuple(map(str, moves)),
                stay=slot is not None and slot == last,
            )
        )
        last = slot
    return result


def _scene(compiled: Compiled, scene: LoweredScene) -> SceneData:
    slot = compiled.placement.of_scene.get(scene.key)
    recall = compiled.recall_of(scene.key)
    return SceneData(
        song=_owner(scene.key),
        scene=scene.bound.name,
        effects=scene.bound.effects,
        replaced=scene.bound.replaced,
        place=_place(compiled, slot.bank, slot.switch) if slot is not None else None,
        units=tuple(_unit(wanted) for wanted in scene.proved),
        recall=_route_of(recall) if recall is not None else None,
        stored=_route(scene.lowered.stored),
        direct=_route(scene.lowered.direct),
    )


def _owner(key: SceneKey) -> str | None:
    return None if key[0] == GENERAL else key[0]


def _place(compiled: Compiled, bank: int, switch: int) -> PlaceData:
    assert compiled.book is not None
    switcher = compiled.book.switcher
    return PlaceData(
        bank=bank + 1,
        switch=switch + 1,
        bank_shown=switcher.banks.show(bank),
        switch_shown=switcher.switches.show(switch),
    )


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


def _route_of(orders: tuple[Order, ...]) -> RouteData:
    return _route(transmit(orders, wait=False))


def _route(route: Transmission) -> RouteData:
    return RouteData(
        messages=tuple(_message(timed.order, timed.starts, timed.ends) for timed in route.orders),
        bytes=route.size,
        bytes_running=route.size_running,
        ms=_ms(route.ms),
        ms_running=_ms(route.ms_running),
        sound_ms=_ms(route.sound),
    )


def _message(order: Order, starts: Fraction, ends: Fraction) -> MessageData:
    message = order.message
    return MessageData(
        unit=order.unit,
        sets=order.quantity,
        kind=message.kind,
        channel=message.channel,
        number=message.data[0],
        value=message.data[1] if len(message.data) > 1 else None,
        hex=encode(message).hex(" "),
        meaning=order.meaning,
        starts_ms=_ms(starts),
        ends_ms=_ms(ends),
    )


def _preset(compiled: Compiled, preset: Preset) -> PresetData:
    assert compiled.book is not None
    book = compiled.book
    width = book.switcher.each_preset_stores.names
    units = {unit.loop: name for name, unit in book.rig.units.items() if unit.loop}
    return PresetData(
        place=_place(compiled, preset.slot.bank, preset.slot.switch),
        name=preset.name[:width] if width else preset.name,
        loops=preset.content.loops,
        loop_units=tuple(units[loop] for loop in preset.content.loops),
        relays=preset.content.relays,
        programs=tuple(_programs(preset.content, book.switcher.each_preset_stores)),
        controls=tuple(_controls(preset.content, book.switcher.each_preset_stores)),
        scenes=tuple((_owner(key), key[1]) for key in preset.scenes),
    )


def _programs(content: Content, storage: Storage) -> list[SlotData]:
    """Return the program slots; a bank select is part of its program's if the switcher can."""
    selects: dict[int, list[Order]] = {}
    waiting: list[Order] = []
    for order in content.orders:
        if order.quantity == "bank":
            waiting.append(order)
        elif order.message.kind == "program":
            selects[id(order)], waiting = waiting if storage.bank_select else [], []
    return [
        _slot(number, order, tuple(selects[id(order)]), None)
        for number, order in _numbered(content.programs, storage, storage.program_channels)
    ]


def _controls(content: Content, storage: Storage) -> list[SlotData]:
    """Return the control slots; where programs have no bank select, it takes a control slot."""
    orders = tuple(
        order
        for order in content.orders
        if order.message.kind == "control" and (order.quantity != "bank" or not storage.bank_select)
    )
    return [
        _slot(number, order, (), order.message.data[1])
        for number, order in _numbered(orders, storage, storage.control_channels)
    ]


def _numbered(
    orders: tuple[Order, ...], storage: Storage, channels: list[int]
) -> Iterator[tuple[int, Order]]:
    """Yield each order with its slot, counted from 1; fixed channels say which slot it is."""
    free = dict(enumerate(channels, 1))
    for index, order in enumerate(orders, 1):
        number = index
        if not storage.on_any_channel:
            fits = [slot for slot, channel in free.items() if channel == order.message.channel]
            number = fits[0] if fits else index
            free.pop(number, None)
        yield number, order


def _slot(index: int, order: Order, banks: tuple[Order, ...], value: int | None) -> SlotData:
    selects = {bank.message.data[0]: bank.message.data[1] for bank in banks}
    return SlotData(
        slot=index,
        unit=order.unit,
        channel=order.message.channel,
        kind=order.message.kind,
        number=order.message.data[0],
        shown=order.shown,
        value=value,
        bank_msb=selects.get(0),
        bank_lsb=selects.get(32),
        meaning=order.meaning,
    )


def _ms(value: Fraction) -> float:
    return round(float(value), 3)


def _number(value: Fraction | None) -> float | None:
    return None if value is None else round(float(value), 6)
