"""The command that walks through a night on the real rig, and the line check of the rig."""

from __future__ import annotations

import math
import os
import sys
from contextlib import nullcontext, suppress
from typing import TYPE_CHECKING, NamedTuple, NoReturn

import click

from setwright.compiler.console import fail, with_songs, without_units

if TYPE_CHECKING:
    from setwright.compiler.compiled import Compiled
    from setwright.compiler.sending.port.ear import Ear
    from setwright.compiler.sending.rehearsing.deliveries import Output
    from setwright.compiler.sending.rehearsing.footsteps import Feet
    from setwright.compiler.sending.rehearsing.live import Live

_HANGUP = 129  # 128 and the number of SIGHUP, as shells report it


class Wish(NamedTuple):
    """How one wants to walk; ``auto`` is seconds for each scene, None for a walk by keys."""

    direct: bool
    clock: bool
    with_start: bool
    auto: float | None
    pairs: bool


@click.command()
@click.argument("night", type=click.Path())
@without_units
@click.option("--port", metavar="NAME", help="The output port, or a part of its name.")
@click.option("--direct", is_flag=True, help="Begin on the direct route: every unit is told.")
@click.option("--clock", is_flag=True, help="Send a MIDI clock at each song's tempo.")
@click.option(
    "--with-start", is_flag=True, help="Send start and stop with the clock, song by song."
)
@click.option(
    "--auto",
    type=click.FloatRange(min=0, min_open=True, max=3600),
    metavar="PACE",
    help="Walk by itself, every scene once, PACE seconds each; any key stops it.",
)
@click.option("--pairs", is_flag=True, help="With --auto: every change between two neighbours.")
@click.option("--foot", metavar="INPUT", help="Step by what comes in by this port.")
@click.option("--on", metavar="MESSAGE", help="What steps on: ‘control 64’, ‘note 60 channel 2’.")
@click.option("--back", metavar="MESSAGE", help="What steps back.")
@click.option("--plain", is_flag=True, help="Plain lines, for screen readers and pipes.")
@click.option("--rig", is_flag=True, help="Check the lines of the rig instead, one by one.")
@click.option("--report", type=click.Path(), metavar="FILE", help="Write what came of it.")
@click.option("--dry-run", is_flag=True, help="Walk without a rig; nothing is sent.")
def rehearse(
    night: str,
    without: tuple[str, ...],
    port: str | None,
    direct: bool,
    clock: bool,
    with_start: bool,
    auto: float | None,
    pairs: bool,
    foot: str | None,
    on: str | None,
    back: str | None,
    plain: bool,
    rig: bool,
    report: str | None,
    dry_run: bool,
) -> None:
    """Walk through NIGHT on the real rig, scene by scene, or check the rig's lines with --rig.

    CAUTION: a scene can be much louder than the one before it. Turn the amplifiers down first,
    protect your hearing, wear no headphones, and never switch a valve amplifier on without its
    loudspeaker or a proper load.

    Space or a pedal's page key steps on, and the scene is sent: the switcher loads its preset, or
    with --direct every unit is told itself. Ctrl-C or q ends it.
    """
    if with_start and not clock:
        raise click.UsageError("--with-start is about the clock: give --clock, too")
    if pairs and auto is None:
        raise click.UsageError("--pairs is about a walk by itself: give --auto PACE, too")
    if auto is not None and math.isnan(auto):
        raise click.BadParameter("nan is no number of seconds", param_hint="--auto")
    if (on or back) and foot is None:
        raise click.UsageError("--on and --back are about a pedal: give --foot INPUT, too")
    if rig and (clock or auto is not None or foot is not None):
        raise click.UsageError("--rig checks lines: leave --clock, --auto and --foot out")
    if dry_run and port is not None:
        raise click.UsageError("--dry-run sends nothing: leave --port out")
    feet = _feet(on, back)
    compiled = with_songs(night, without, sending=True)
    line = _line(port, dry_run)
    ear = _ear(foot, line)
    wish = Wish(direct, clock, with_start, auto, pairs)
    live = _check(compiled, line, direct) if rig else _walk(compiled, line, ear, feet, wish)
    problem = None
    try:
        code = _run(live, line, ear, plain)
    finally:
        live.close()
        if ear is not None:
            ear.close()
        # However it ended, and whether or not anything can still be printed.
        if report is not None:
            problem = _written(report, live.summary())
    _end(live, problem, code)


def _feet(on: str | None, back: str | None) -> Feet:
    """Return what steps on and back; stop where that is no message."""
    from setwright.compiler.sending.port.problem import Problem
    from setwright.compiler.sending.rehearsing.footsteps import ANY, Feet, parse_trigger

    found = [None if text is None else parse_trigger(text) for text in (on, back)]
    for one in found:
        if isinstance(one, Problem):
            fail(str(one))
    forward, backward = found
    assert not isinstance(forward, Problem)
    assert not isinstance(backward, Problem)
    return Feet(forward or ANY, backward)


def _line(port: str | None, dry_run: bool) -> Output:
    """Open the output port; stop where there is none."""
    from setwright.compiler.sending.port.line import Line
    from setwright.compiler.sending.port.problem import Problem
    from setwright.compiler.sending.rehearsing.deliveries import Nowhere

    if dry_run:
        return Nowhere()
    line = Line.open(port)
    if isinstance(line, Problem):
        fail(str(line))
    return line


def _ear(foot: str | None, line: Output) -> Ear | None:
    """Open the input port of a pedal, where one is named; stop where there is none."""
    from setwright.compiler.sending.port.ear import Ear
    from setwright.compiler.sending.port.problem import Problem

    if foot is None:
        return None
    ear = Ear.open(foot)
    if isinstance(ear, Problem):
        line.close()
        fail(str(ear))
    return ear


def _walk(compiled: Compiled, line: Output, ear: Ear | None, feet: Feet, wish: Wish) -> Live:
    from setwright.compiler.sending.rehearsing.deliveries import Deliveries
    from setwright.compiler.sending.rehearsing.rehearsal import Rehearsal
    from setwright.compiler.sending.rehearsing.steps import every_pair, every_scene
    from setwright.compiler.sending.rehearsing.walk import Auto, Walk

    rehearsal = Rehearsal(compiled, wish.direct)
    auto, word = None, ""
    if wish.auto is not None:
        steps = every_pair(rehearsal.steps) if wish.pairs else every_scene(rehearsal.steps)
        auto = Auto(steps, wish.auto)
    if not wish.direct and (reason := rehearsal.no_stored_route()) is not None:
        rehearsal.direct, word = True, f"there is only the direct route: {reason}"
    pedal = "" if ear is None else ear.port
    out = Deliveries(line)
    return Walk(rehearsal, out, feet, wish.clock, wish.with_start, auto, pedal, word)


def _check(compiled: Compiled, line: Output, direct: bool) -> Live:
    from setwright.compiler.sending.rehearsing.check_walk import CheckWalk
    from setwright.compiler.sending.rehearsing.deliveries import Deliveries
    from setwright.compiler.sending.rehearsing.line_check import LineCheck

    return CheckWalk(LineCheck(compiled, direct), Deliveries(line))


def _run(live: Live, line: Output, ear: Ear | None, plain: bool) -> int:
    """Run it on a full screen, or in plain lines where that is asked for or all there is."""
    if not plain and _has_screen():
        try:
            from setwright.compiler.sending.rehearsing import screen
        except ModuleNotFoundError:
            click.echo(
                f"note: plain lines, for a full screen needs prompt_toolkit: {sys.executable} "
                "-m pip install prompt_toolkit",
                err=True,
            )
        else:
            return screen.run(live, line, ear)
    from setwright.compiler.sending.rehearsing import plain as lines

    return lines.run(live, line, ear)


def _has_screen() -> bool:
    """Tell whether we have a terminal to ourselves that can do more than write lines."""
    streams = (sys.stdin, sys.stdout)
    if not all(stream is not None and stream.isatty() for stream in streams):
        return False
    return os.environ.get("TERM") != "dumb"


def _end(live: Live, problem: str | None, code: int) -> NoReturn:
    """Print what came of it, and why that could not be written, if it could not; exit."""
    hung_up = code == _HANGUP
    with suppress(OSError) if hung_up else nullcontext():
        for said in live.summary():
            click.echo(said)
        if problem is not None:
            fail(problem)
    if hung_up:
        # The streams lead nowhere any more, and what they hold must not be tried again.
        os._exit(code)
    sys.exit(code)


def _written(report: str, summary: list[str]) -> str | None:
    """Write ``summary`` into a file, wholly or not at all; return why that could not be."""
    from pathlib import Path

    from setwright.compiler.outputs.one_file import exchange
    from setwright.scenes.finding import visible

    text = "".join(f"{line}\n" for line in summary).encode()
    problem = exchange(Path(report), lambda before: text)
    return None if problem is None else visible(str(problem))
