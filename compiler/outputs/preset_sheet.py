"""The preset sheet: what a person types into the switcher by hand, bank by bank.

``preset-sheet.html`` is one file that loads nothing and runs nothing, printed on A4 in black on
white: stage and workshop light may be coloured, so shape and words alone carry meaning. No
preset is parted by the edge of a page, and each page says night, rig and bank.

``preset-sheet.csv`` has the same things one to a line, for sorting and ticking off, written as
the maps are (`maps.cell`): what a spreadsheet would take for a formula or a date gets an
apostrophe in front.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator
from itertools import groupby

from setwright.compiler.outputs.behaviour import behaviour
from setwright.compiler.outputs.data import NightData, SongData
from setwright.compiler.outputs.drawings.drawn import drawings_of
from setwright.compiler.outputs.filled import render
from setwright.compiler.outputs.maps import csv_of
from setwright.compiler.outputs.sent import PresetData, SceneData, SlotData
from setwright.compiler.outputs.typed import (
    Bank,
    Box,
    Held,
    Kept,
    Other,
    Preset,
    Sheet,
    Slot,
    Step,
    Use,
    Way,
)
from setwright.scenes.displays import parse_display
from setwright.scenes.wording import number_of

COLUMNS = (
    "bank", "switch", "preset", "what", "number", "unit", "channel", "bank select MSB",
    "bank select LSB", "display", "on the wire", "value", "meaning",
)  # fmt: skip
"""Columns of the table. ``number`` is that of a loop, a relay or a slot, ``on the wire`` the
program or control as it is sent; channels, loops, relays and slots count from 1."""


def preset_sheet_files(data: NightData) -> dict[str, bytes]:
    """Return the preset sheet as a page and as a table: file name → bytes.

    The same data gives the same bytes.
    """
    from markupsafe import Markup

    sheet = sheet_of(data)
    # Within HTML, SVG needs no namespace (HTML Living Standard, 13.1.2).
    drawings = [
        one._replace(svg=Markup(one.svg.replace(' xmlns="http://www.w3.org/2000/svg"', "", 1)))
        for one in drawings_of(data)
    ]
    return {
        "preset-sheet.html": render("preset-sheet.html.j2", sheet=sheet, drawings=drawings),
        "preset-sheet.csv": csv_of(COLUMNS, _rows(sheet)),
    }


def sheet_of(data: NightData) -> Sheet:
    """Return what stands on the preset sheet, in the order of banks and switches."""
    presets = sorted(data.presets, key=lambda one: (one.place.bank, one.place.switch))
    titles = _titles(data)
    banks = tuple(
        _bank(data, titles, shown_as, list(group))
        for shown_as, group in groupby(presets, key=lambda one: one.place.bank_shown)
    )
    return Sheet(
        night=data.night,
        date=data.date,
        note=data.note,
        rig=data.rig,
        without=data.without,
        state=data.state,
        switcher=data.switcher.name,
        summary=f"{number_of(len(presets), 'preset')} in {number_of(len(banks), 'bank')}.",
        behaviour=tuple(behaviour(data.switcher)),
        sender=data.sender,
        banks=banks,
        kept=Kept(_banks_in_words(data, presets), tuple(_kept(data))),
        boxes=tuple(_boxes(data)),
        by_hand=data.before,
        steps=tuple(_steps(data, titles)),
    )


def _boxes(data: NightData) -> Iterator[Box]:
    """Yield the units on the MIDI line, and those of which presets load programs."""
    for one in data.units:
        programs = [program for program in data.programs if program.unit == one.unit]
        yield Box(
            one.unit,
            "omni" if one.channel is None else str(one.channel),
            one.display or "",
            tuple(Held(program.shown, program.name, program.stored) for program in programs),
        )


def _steps(data: NightData, titles: dict[str | None, str]) -> Iterator[Step]:
    presets = {(one.place.bank, one.place.switch): one for one in data.presets}
    for step in data.typing:
        preset = presets.get((step.place.bank, step.place.switch))
        uses = _uses(titles, preset) if preset is not None else (Use("every bank", step.name),)
        copied = step.copied_from
        yield Step(
            bank=step.place.bank_shown,
            switch=step.place.switch_shown,
            name=step.name,
            copy="" if copied is None else f"{copied.bank_shown} – {copied.switch_shown}",
            from_nothing=step.from_nothing,
            entries=step.entries,
            uses="; ".join(f"{use.song}: {use.scenes}" for use in uses),
        )


def _banks_in_words(data: NightData, presets: list[PresetData]) -> str:
    """Return which banks are filled tonight: those are where kept switches are typed."""
    shown_as = list(dict.fromkeys(preset.place.bank_shown for preset in presets))
    return " to ".join(dict.fromkeys((*shown_as[:1], *shown_as[-1:])))


def _kept(data: NightData) -> Iterator[Preset]:
    for one in data.kept:
        use = Use("every bank", "silent" if one.silent else one.preset.name)
        yield _typed(data, one.preset, [one.scene], (use,))


def _titles(data: NightData) -> dict[str | None, str]:
    """Return what to call the owners of scenes: the song's title.

    Where that may mean several, its numbers in the night stand in front, as on the cue sheet.
    """
    playings: dict[str | None, list[SongData]] = {}
    for song in data.songs:
        playings.setdefault(song.owner, []).append(song)
    playings.pop(None, None)
    count = Counter(same[0].title for same in playings.values())
    labels: dict[str | None, str] = {None: "songs without scenes of their own"}
    for owner, same in playings.items():
        title = same[0].title
        several = count[title] > 1 or same[0].general
        labels[owner] = f"{_numbers(same)} {title}" if several else title
    return labels


def _numbers(playings: list[SongData]) -> str:
    numbers = [str(song.number) for song in playings if song.number]
    return ", ".join(numbers) or "if asked"


def _bank(
    data: NightData, titles: dict[str | None, str], shown_as: str, presets: list[PresetData]
) -> Bank:
    kept = {mark.casefold(): what for mark, what in data.switcher.kept.items()}
    ours = {one.preset.place.switch_shown: "as in every bank" for one in data.kept}
    display = parse_display(data.switcher.switches)
    switches = [display.show(number) for number in range(data.switcher.switch_count)]
    taken = {preset.place.switch_shown for preset in presets} | {
        switch for switch in switches if switch.casefold() in kept
    }
    return Bank(
        shown_as,
        tuple(_preset(data, titles, preset) for preset in presets),
        tuple(
            Other(switch, f"{kept[switch.casefold()]}: {ours.get(switch, 'leave it as it is')}")
            for switch in switches
            if switch.casefold() in kept
        ),
        tuple(Other(switch, "not used tonight") for switch in switches if switch not in taken),
    )


def _preset(data: NightData, titles: dict[str | None, str], preset: PresetData) -> Preset:
    scenes = [data.scene(owner, scene) for owner, scene in preset.scenes]
    return _typed(data, preset, scenes, tuple(_uses(titles, preset)))


def _typed(
    data: NightData, preset: PresetData, scenes: list[SceneData], uses: tuple[Use, ...]
) -> Preset:
    switcher = data.switcher
    return Preset(
        switch=preset.place.switch_shown,
        name=preset.name,
        loops=tuple(
            Way(
                number,
                " + ".join(
                    (
                        switcher.loop_units.get(str(number), ""),
                        *switcher.loop_shared.get(str(number), ()),
                    )
                ),
                number in preset.loops,
                "in" if number in preset.loops else "out",
            )
            for number in range(1, switcher.loops + 1)
        ),
        relays=tuple(
            _relay(data, preset, scenes, int(number), unit)
            for number, unit in sorted(switcher.relay_units.items(), key=lambda item: int(item[0]))
        ),
        slots=(
            *(_slot(slot) for slot in preset.programs),
            *(_slot(slot) for slot in preset.controls),
        ),
        empty={
            "program": _empty(preset.programs, switcher.holds_programs),
            "control": _empty(preset.controls, switcher.holds_controls),
        },
        uses=uses,
        tempo="" if preset.tempo is None else preset.tempo.words.rpartition(" = ")[2],
        tempo_means="" if preset.tempo is None else preset.tempo.words,
    )


def _relay(
    data: NightData, preset: PresetData, scenes: list[SceneData], number: int, unit: str
) -> Way:
    closed = number in preset.relays
    state = "closed" if closed else "open"
    values = (
        quantity.value
        for scene in scenes
        for quantity in scene.units
        if (quantity.unit, quantity.quantity)
        == (unit, data.switcher.relay_works.get(str(number), "relay"))
    )
    units = " + ".join((unit, *data.switcher.relay_shared.get(str(number), ())))
    return Way(number, units, closed, state, next(values, None) or "")


def _slot(slot: SlotData) -> Slot:
    return Slot(
        kind=slot.kind,
        slot=slot.slot,
        unit=slot.unit,
        channel=slot.channel,
        bank_msb=slot.bank_msb,
        bank_lsb=slot.bank_lsb,
        shown=slot.shown or "",
        number=slot.number,
        value=slot.value,
        meaning=_meaning(slot),
    )


def _meaning(slot: SlotData) -> str:
    """Return what a slot does; display and value have columns of their own."""
    if slot.name is not None:
        return f"load {slot.name}"
    if slot.asked is None:
        return slot.meaning
    differs = slot.given is not None and slot.given.words != slot.asked.words
    given = f" (gives {slot.given.words})" if slot.given is not None and differs else ""
    return f"{slot.sets} {slot.asked.words}{given}"


def _empty(slots: tuple[SlotData, ...], holds: int) -> tuple[int, ...]:
    filled = {slot.slot for slot in slots}
    return tuple(number for number in range(1, holds + 1) if number not in filled)


def _uses(titles: dict[str | None, str], preset: PresetData) -> Iterator[Use]:
    scenes: dict[str | None, list[str]] = {}
    for song, scene in preset.scenes:
        scenes.setdefault(song, []).append(scene)
    for song, names in scenes.items():
        yield Use(titles[song], ", ".join(names))


Row = dict[str, str | int | None]


def _rows(sheet: Sheet) -> Iterator[Row]:
    """Yield the lines of the table below its heading, in the order of the page."""
    for preset in sheet.kept.presets:
        start: Row = {"bank": "every", "switch": preset.switch, "preset": preset.name}
        yield from (start | row for row in _rows_of(preset))
    for bank in sheet.banks:
        for preset in bank.presets:
            head: Row = {"bank": bank.shown, "switch": preset.switch, "preset": preset.name}
            yield from (head | row for row in _rows_of(preset))
        for what, others in (("kept", bank.kept), ("not used", bank.unused)):
            for other in others:
                yield {
                    "bank": bank.shown,
                    "switch": other.switch,
                    "what": what,
                    "meaning": other.what,
                }


def _rows_of(preset: Preset) -> Iterator[Row]:
    for what, ways in (("loop", preset.loops), ("relay", preset.relays)):
        for way in ways:
            meaning = f"{way.state}: {way.meaning}" if way.meaning else way.state
            yield {"what": what, "number": way.number, "unit": way.unit, "meaning": meaning}
    for slot in preset.slots:
        yield {
            "what": slot.kind,
            "number": slot.slot,
            "unit": slot.unit,
            "channel": slot.channel,
            "bank select MSB": slot.bank_msb,
            "bank select LSB": slot.bank_lsb,
            "display": slot.shown,
            "on the wire": slot.number,
            "value": slot.value,
            "meaning": slot.meaning,
        }
    if preset.tempo:
        value = int(preset.tempo) if preset.tempo.isdecimal() else preset.tempo
        yield {"what": "tempo", "value": value, "meaning": preset.tempo_means}
    for kind, numbers in preset.empty.items():
        for number in numbers:
            yield {"what": kind, "number": number, "meaning": "empty"}
    for use in preset.uses:
        yield {"what": "used by", "meaning": f"{use.song}: {use.scenes}"}
