"""The commands about what is typed into the switcher: what to type, and that it is done."""

from __future__ import annotations

import sys
from typing import TYPE_CHECKING

import click

from setwright.compiler.console import (
    FORMATS,
    compile_typed,
    counted,
    exit_code,
    fail,
    from_nothing,
    print_findings,
    print_json,
    without_units,
)
from setwright.compiler.terminal import after

if TYPE_CHECKING:
    from collections.abc import Mapping
    from pathlib import Path

    from setwright.compiler.compiled import Compiled
    from setwright.compiler.lowering.preset import Address
    from setwright.compiler.plan import Plan


@click.command()
@click.argument("nights", nargs=-1, required=True, type=click.Path(), metavar="NIGHT...")
@without_units
@from_nothing
@click.option("--minutes", type=click.IntRange(1, 1440), help="Type in no longer than this.")
@click.option(
    "--entry", type=click.IntRange(1, 600), default=5, help="Your seconds an entry (5 if unsaid)."
)
@click.option(
    "--preset",
    type=click.IntRange(0, 600),
    default=10,
    help="Your seconds for each preset besides (10 if unsaid).",
)
@click.option("--format", "form", type=FORMATS, default="text", help="How to print it.")
def plan(
    nights: tuple[str, ...],
    without: tuple[str, ...],
    fresh: bool,
    minutes: int | None,
    entry: int,
    preset: int,
    form: str,
) -> None:
    """Say what has to be typed into the switcher for NIGHT: the least that there is, in order.

    What it holds already stands in a file beside the switcher's own (floor.stored.yaml beside
    floor.yaml), which "setwright done" writes. Without one, everything is to be typed.

    With --minutes: what to type in that time so that most presses of the night are right, and what
    to press instead of the rest. Of several nights, in the order in which they are played, each is
    planned over what the one before has left.
    """
    from setwright.compiler.placement.hurry import Pace
    from setwright.compiler.plan import plan_of, plan_within
    from setwright.compiler.reports import plan as words
    from setwright.scenes.finding import visible

    if minutes is not None and len(nights) > 1:
        raise click.UsageError("--minutes is about one night")
    stored: dict[Path, str] = {}
    plans = []
    for night in nights:
        compiled = _placed(night, without, fresh=fresh, stored=stored)
        found = plan_of(compiled)
        plans.append((compiled, found))
        if len(nights) > 1:
            _note(compiled, found, stored)
    if minutes is not None:
        compiled, found = plans[0]
        hurry = plan_within(compiled, minutes * 60, Pace(entry, preset))
        if form == "json":
            print_json(words.hurry_json(compiled, found, hurry))
            return
        for line in words.hurry_lines(compiled, found, hurry, minutes):
            click.echo(visible(line))
        return
    if form == "json":
        data = [words.plan_json(*one) for one in plans]
        print_json(data[0] if len(data) == 1 else {"nights": data})
        return
    for number, (compiled, found) in enumerate(plans):
        if number:
            click.echo()
        for line in words.plan_lines(compiled, found):
            click.echo(visible(line))
    if len(plans) > 1:
        click.echo()
        for line in words.season_lines(plans):
            click.echo(visible(line))


@click.command()
@click.argument("night", type=click.Path())
@click.argument("presets", nargs=-1, metavar="[BANK/SWITCH]...")
@without_units
@from_nothing
def done(night: str, presets: tuple[str, ...], without: tuple[str, ...], fresh: bool) -> None:
    """Note that the plan of NIGHT is typed in, or of it the presets at BANK/SWITCH.

    The options have to be those of the plan. Only the lines of these presets change in the file
    of what the switcher holds; it is there as it was, or as it should be, whatever happens.
    """
    from setwright.compiler.outputs.done import done as note
    from setwright.compiler.plan import plan_of
    from setwright.scenes.finding import visible

    compiled = _placed(night, without, fresh=fresh)
    found = plan_of(compiled)
    only = [_address(compiled, found.wanted, text) for text in presets]
    noted = note(compiled, found, only)
    if noted.problem is not None:
        fail(visible(str(noted.problem)))
    at = compiled.book.stored_at
    name = visible(at.name if at is not None else "")
    if not noted.presets:
        click.echo("nothing to note: all of it is there already")
        return
    with after(f"{name} is written"):
        state = f", of state {found.mark}" if presets else ""
        click.echo(f"noted in {name}: {counted(noted.presets, 'preset')}{state}")


@click.command()
@click.argument("night", type=click.Path())
@without_units
@from_nothing
@click.option("--format", "form", type=FORMATS, default="text", help="How to print it.")
def place(night: str, without: tuple[str, ...], fresh: bool, form: str) -> None:
    """Show in which banks the songs of NIGHT lie, what that costs, and why it is the least.

    Both aims stand beside each other: for the feet, the fewest presses from bank to bank; for the
    hands, the fewest presets to type. The night or its rig says which one it is: best for.
    """
    from setwright.compiler.reports.places import place_json, place_lines, ways_of
    from setwright.scenes.finding import visible

    compiled = _placed(night, without, fresh=fresh)
    ways = ways_of(compiled)
    if form == "json":
        print_json(place_json(compiled, ways))
        return
    for line in place_lines(compiled, ways):
        click.echo(visible(line))


def _note(compiled: Compiled, found: Plan, stored: dict[Path, str]) -> None:
    """Put into ``stored`` what the switcher's file will say once a plan is typed in."""
    from setwright.compiler.outputs.done import text_after
    from setwright.compiler.outputs.stored_text import NotEditableError

    at = compiled.book.stored_at
    assert at is not None
    before = stored.get(at)
    if before is None:
        before = at.read_text(encoding="utf-8-sig") if at.exists() else ""
    try:
        stored[at] = text_after(compiled, found, before)
    except NotEditableError:
        fail(
            f"{at} is written in a way in which its lines cannot be exchanged; write one preset "
            "to a line"
        )


def _placed(
    night: str,
    without: tuple[str, ...],
    *,
    fresh: bool,
    stored: Mapping[Path, str] | None = None,
) -> Compiled:
    """Return the night; where its book has errors, say them and end.

    ``stored`` holds what files of what switchers hold will say by then.
    """
    from setwright.compiler.compiled import Compiled
    from setwright.scenes.finding import Severity, summary, worst

    compiled = compile_typed(night, without, fresh=fresh, stored=stored)
    if not isinstance(compiled, Compiled) or worst(compiled.findings) is Severity.ERROR:
        print_findings(compiled, "text", to_stderr=True)
        click.echo(f"nothing is placed: {summary(compiled.findings)}", err=True)
        sys.exit(exit_code(compiled))
    return compiled


def _address(compiled: Compiled, wanted: object, text: str) -> Address:
    from setwright.compiler.placement.held import address_of, show
    from setwright.scenes.finding import visible

    book = compiled.book
    address = address_of(book, text)
    first = compiled.placement.presets[0].slot if compiled.placement.presets else None
    example = f", for example {show(book, first)}" if first is not None else ""
    if address is None:
        fail(visible(f"the switcher has no ‘{text}’: write bank and switch{example}"))
    assert isinstance(wanted, dict)
    if address not in wanted:
        fail(visible(f"nothing of tonight lies at ‘{text}’; ‘setwright plan’ lists what does"))
    return address
