"""The command that turns the stage page when the switcher is pressed."""

from __future__ import annotations

import sys
import time
from typing import TYPE_CHECKING

import click

from setwright.compiler.console import (
    compile_typed,
    counted,
    exit_code,
    fail,
    print_findings,
    say_notices,
    without_units,
)
from setwright.compiler.terminal import Interrupts, end_line

if TYPE_CHECKING:
    from collections.abc import Iterator

    from setwright.compiler.compiled import Compiled
    from setwright.compiler.sending.incoming.expected import Expected, Tonight

_NAMED = 6  # presets in one note


@click.command()
@click.argument("night", type=click.Path())
@click.option("--port", metavar="NAME", help="The input port, or a part of its name.")
@without_units
@click.option("--light", is_flag=True, help="Begin in black on white.")
@click.option("--open", "opens", is_flag=True, help="Open the page in this machine's browser.")
def follow(
    night: str, port: str | None, without: tuple[str, ...], light: bool, opens: bool
) -> None:
    """Show the stage page of NIGHT, and turn it when the switcher is pressed.

    Lead the switcher's MIDI OUT into this machine. The address that is printed is for a browser on
    this machine alone: a phone or another tablet cannot reach it, for those there is stage.html,
    which build writes. Whoever has the address can read the page, so keep it to yourself.

    Where a preset serves several moments, the next one from where you are is meant. A guess that
    is wrong is mended by turning the page, or by pressing the scene's name on it. Without a press
    the page never moves. Ctrl-C ends it.
    """
    try:
        with Interrupts() as interrupts:
            _follow(_compiled(night, without), port, light, opens, interrupts)
    except KeyboardInterrupt:
        end_line()
        sys.exit(0)


def _compiled(night: str, without: tuple[str, ...]) -> Compiled:
    """Return the night that was typed; stop where it has errors."""
    from setwright.compiler.compiled import Compiled
    from setwright.scenes.finding import Severity, summary, worst

    compiled = compile_typed(night, without)
    if not isinstance(compiled, Compiled) or not compiled.songs:
        print_findings(compiled, "text", to_stderr=True)
        sys.exit(exit_code(compiled))
    if worst(compiled.findings) is Severity.ERROR:
        click.echo(f"nothing is followed: {summary(compiled.findings)}; run check", err=True)
        sys.exit(exit_code(compiled))
    return compiled


def _follow(
    compiled: Compiled, port: str | None, light: bool, opens: bool, interrupts: Interrupts
) -> None:
    import gc

    from setwright.compiler.outputs.collect import night_data
    from setwright.compiler.outputs.stage_page import followed_page
    from setwright.compiler.sending.following.follow import Follower
    from setwright.compiler.sending.following.listening import listen
    from setwright.compiler.sending.following.page_server import PageServer
    from setwright.compiler.sending.incoming.expected import tonight
    from setwright.compiler.sending.incoming.presses import Presses
    from setwright.compiler.sending.port.ear import Ear
    from setwright.compiler.sending.port.problem import Problem
    from setwright.scenes.finding import visible

    expected = tonight(compiled)
    if not any(one.commands for one in expected.presets):
        fail("no preset of this rig sends a message, so nothing is heard when one is pressed")
    data = night_data(compiled)
    page = followed_page(data, light=light)
    ear = Ear.open(port)
    if isinstance(ear, Problem):
        fail(str(ear))
    gap = compiled.book.switcher.gap_between_messages
    with ear:
        try:
            server = PageServer(page.html, page.policy)
        except OSError as error:
            fail(f"the page cannot be served: {visible(error.strerror or str(error))}")
        try:
            follower = Follower(data, expected, server.tell)
            server.start(follower.turned)
            say_notices(tuple(map(visible, _unheard(expected))))
            click.echo(f"the page: {server.address}")
            click.echo(visible(f"listening to ‘{ear.port}’; Ctrl-C ends it"), err=True)
            if opens:
                _open(server.address)
            gc.freeze()
            gc.enable()  # which `run` in `cli` leaves to whoever goes on for long
            listen(
                ear,
                lambda name: Ear.open(port if port is not None else name),
                lambda: Presses(expected, gap),
                follower,
                lambda line: click.echo(visible(f"{time.strftime('%H:%M:%S')} {line}")),
                interrupts.heed,
            )
        finally:
            server.close()


def _open(address: str) -> None:
    import webbrowser

    if not webbrowser.open(address):
        say_notices(("no browser was found; open the address yourself",))


def _unheard(expected: Tonight) -> Iterator[str]:
    """Yield what cannot be followed, or not surely."""
    silent = [one for one in expected.presets if not one.commands]
    if silent:
        yield (
            f"nothing is heard of {counted(len(silent), 'preset')}, which send no message: "
            f"{_named(silent)}"
        )
    by_messages: dict[tuple[bytes, ...], list[Expected]] = {}
    for one in expected.presets:
        if one.commands:
            by_messages.setdefault(one.messages, []).append(one)
    alike = sum(len(same) for same in by_messages.values() if len({o.serves for o in same}) > 1)
    if alike:
        yield (
            f"{counted(alike, 'preset')} of {len(expected.presets)} send what another one sends, "
            "too; which is meant is told by where the night is"
        )


def _named(presets: list[Expected]) -> str:
    more = f", and {len(presets) - _NAMED} more" if len(presets) > _NAMED else ""
    return f"{', '.join(map(str, presets[:_NAMED]))}{more}"
