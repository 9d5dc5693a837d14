"""The switcher of a compiled night, and what of it the rig uses → plain data."""

from __future__ import annotations

from collections.abc import Iterable

from setwright.compiler.compiled import Compiled
from setwright.compiler.outputs.collect_songs import pressed_first, rounded
from setwright.compiler.outputs.data import SwitcherData
from setwright.scenes.rig import parse_kept_switch
from setwright.scenes.unit import Unit


def switcher_of(compiled: Compiled) -> SwitcherData:
    """Return the switcher, with the loops, relays and taps that have units on them tonight."""
    book, switcher = compiled.book, compiled.book.switcher
    use = book.rig.switcher
    count = switcher.banks.count
    first, last = use.banks if use is not None and use.banks is not None else (1, count)
    gone = compiled.target.gone
    units = [(name, unit) for name, unit in compiled.target.units.items() if name not in gone]
    loops, relays = by_loop(units), _by_relay(units)
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


def by_loop(units: Iterable[tuple[str, Unit]]) -> dict[int, list[str]]:
    """Return the units in each loop, in the order of the rig."""
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
