"""The command that writes a night into a folder."""

from __future__ import annotations

import sys
from typing import TYPE_CHECKING

import click

from setwright.compiler.console import (
    compile_typed,
    counted,
    exit_code,
    print_findings,
    say_notices,
    without_units,
)
from setwright.compiler.outputs.kinds import KINDS, Wish
from setwright.compiler.progress import Progress
from setwright.compiler.terminal import INTERRUPTED, after, say

if TYPE_CHECKING:
    from setwright.compiler.compiled import Compiled, Unopened

only_kinds = click.option(
    "--only",
    multiple=True,
    type=click.Choice(list(KINDS)),
    help="Make only this kind of files; may be given again for another.",
)
"""The option of the commands that build: the kinds of files that are made."""

in_utf8 = click.option(
    "--utf8", is_flag=True, help="Write the text of MIDI files in UTF-8, not ASCII."
)
"""The option of the commands that build about the text of MIDI files."""

on_paper = click.option(
    "--paper",
    type=click.Choice(["a4", "letter"]),
    default="a4",
    help="The paper that sheets are printed on.",
)
"""The option of the commands that build about the size of printed sheets."""


@click.command()
@click.argument("night", type=click.Path())
@click.option(
    "--out", required=True, type=click.Path(), metavar="DIR", help="The folder to write into."
)
@only_kinds
@without_units
@in_utf8
@on_paper
def build(
    night: str, out: str, only: tuple[str, ...], without: tuple[str, ...], utf8: bool, paper: str
) -> None:
    """Write everything for NIGHT into DIR: MIDI files, maps, sheets and data.

    Nothing is written while the book has errors. Files of an earlier build are replaced, each
    wholly or not at all. One that you have changed since, with a note on a sheet perhaps, is kept
    beside it as NAME.yours (then NAME.yours.2, and so on), whether this night still has it or
    not; nothing called that is ever touched. Files that are not ours are left alone.

    With --only, the files of other kinds stay as an earlier build made them; if the book was
    another one then, that is said.
    """
    with Progress() as progress:
        progress.doing("the book", 1, len(only or KINDS) + 2)
        compiled = compile_typed(night, without)
        progress.pause()
        print_findings(compiled, "text")
        code = build_into(out, compiled, only, Wish(utf8, paper), progress)
    sys.exit(code)


def build_into(
    out: str, compiled: Compiled | Unopened, only: tuple[str, ...], wish: Wish, progress: Progress
) -> int:
    """Build into the folder that was typed, say what was done, and return the exit code."""
    from pathlib import Path

    from setwright.compiler.compiled import Compiled
    from setwright.scenes.finding import Severity, summary, visible, worst

    if not isinstance(compiled, Compiled) or worst(compiled.findings) is Severity.ERROR:
        from setwright.compiler.outputs.build import left_unfinished

        click.echo(f"nothing is written: {summary(compiled.findings)}", err=True)
        say_notices(left_unfinished(Path(out)))
        return exit_code(compiled)
    from setwright.compiler.outputs.build import build as build_night

    built = build_night(
        compiled,
        Path(out),
        utf8=wish.utf8,
        paper=wish.paper,
        only=only,
        doing=lambda what, number, of: progress.doing(what, number + 1, of + 1),
    )
    progress.pause()
    say_notices(built.notices)
    if built.problem is not None:
        say(visible(built.problem))
        return INTERRUPTED if built.interrupted else 2
    folder = visible(click.format_filename(out))
    right = f", {len(built.unchanged)} were already right" if built.unchanged else ""
    with after(f"the files in ‘{folder}’ are written"):
        click.echo(f"wrote {counted(len(built.wrote), 'file')} into {folder}{right}")
        if built.removed:
            gone = counted(len(built.removed), "file")
            click.echo(f"removed {gone} that this night no longer has")
    return exit_code(compiled)
