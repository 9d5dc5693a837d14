"""What is typed and what is printed: arguments, completion, findings, exit codes.

The commands in `cli` share these. Exit 0: nothing found, or notes alone. 1: any error or
warning. 2: wrong usage, a file named on the command line that cannot be opened, or a fault of our
own. How commands are cut short: `setwright.compiler.terminal`.
"""

from __future__ import annotations

import sys
from typing import TYPE_CHECKING, NoReturn

import click

from setwright.compiler.terminal import say

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping, Sequence
    from pathlib import Path

    from click.shell_completion import CompletionItem

    from setwright.compiler.compiled import Compiled, Unopened
    from setwright.compiler.lists.listed_song import ListedSong
    from setwright.compiler.reports.find import Found

FORMATS = click.Choice(["text", "json"])
SCHEMAS = click.Choice(["songs", "switcher", "rig", "night", "night-data"])

without_units = click.option(
    "--without",
    multiple=True,
    metavar="UNIT",
    help="Do without this unit tonight; may be given again for another.",
)
"""The option of every command that compiles a night."""


from_nothing = click.option(
    "--fresh", is_flag=True, help="Place the songs as if the switcher held nothing of them."
)
"""The option of the commands that place a night over what the switcher holds."""


def _complete_words(
    context: click.Context, parameter: click.Parameter, incomplete: str
) -> list[CompletionItem]:
    """Complete a file for the first word, then the scenes of that night."""
    from click.shell_completion import CompletionItem

    from setwright.compiler.compiled import Compiled

    typed = context.params.get("words") or ()
    if not typed:
        return [CompletionItem(incomplete, type="file")]
    from setwright.compiler.reports.find import offered

    compiled = compile_typed(typed[0], ())
    names = offered(compiled) if isinstance(compiled, Compiled) else ()
    return [CompletionItem(name) for name in names if name.startswith(incomplete)]


night_and_scene = click.argument(
    "words",
    nargs=-1,
    required=True,
    metavar="[NIGHT] SONG/SCENE",
    shell_complete=_complete_words,
)
"""The argument of every command that is about one scene."""


def _complete_codes(
    context: click.Context, parameter: click.Parameter, incomplete: str
) -> list[CompletionItem]:
    """Complete a code."""
    from click.shell_completion import CompletionItem

    from setwright.compiler.reports.checks import PROOF, all_explained

    codes = (*(one.code for one in all_explained()), PROOF)
    return [CompletionItem(code) for code in codes if code.startswith(incomplete)]


def _complete_keys(
    context: click.Context, parameter: click.Parameter, incomplete: str
) -> list[CompletionItem]:
    """Complete a word of the language."""
    from click.shell_completion import CompletionItem

    from setwright.compiler.reports.words import all_names

    return [CompletionItem(name) for name in all_names() if name.startswith(incomplete)]


word_to_explain = click.argument("word", nargs=-1, shell_complete=_complete_keys)
"""The argument of the command that explains words: one word, which may have spaces in it."""

code_to_explain = click.argument("code", required=False, shell_complete=_complete_codes)
"""The argument of the command that explains codes."""


def asked(
    words: tuple[str, ...], without: tuple[str, ...], *, sending: bool = False
) -> tuple[Compiled, Found]:
    """Return the night and the scene that [NIGHT] SONG/SCENE names; stop where there is none.

    With ``sending`` a book with errors is a reason to stop too.
    """
    from setwright.compiler.reports.find import find_scene
    from setwright.scenes.finding import visible

    if len(words) > 2:
        raise click.UsageError("write NIGHT and SONG/SCENE, in quotes if there are spaces in it")
    night = words[0] if len(words) == 2 else _only_night()
    compiled = with_songs(night, without, sending=sending)
    found = find_scene(compiled, words[-1])
    if isinstance(found, str):
        fail(visible(found))
    return compiled, found


def with_songs(night: str, without: tuple[str, ...], *, sending: bool) -> Compiled:
    """Return the night that was typed; stop where it cannot be read, or has no songs.

    With ``sending`` a book with errors is a reason to stop too.
    """
    from setwright.compiler.compiled import Compiled
    from setwright.scenes.finding import Severity, summary, worst

    compiled = compile_typed(night, without)
    if not isinstance(compiled, Compiled) or not compiled.songs:
        print_findings(compiled, "text", to_stderr=True)
        sys.exit(exit_code(compiled))
    if sending and worst(compiled.findings) is Severity.ERROR:
        click.echo(f"nothing is sent: {summary(compiled.findings)}; run check", err=True)
        sys.exit(exit_code(compiled))
    return compiled


def say_errors(compiled: Compiled) -> None:
    """Say on the error output that the book has errors, if it has."""
    from setwright.scenes.finding import Severity, how_many

    errors = how_many(compiled.findings, Severity.ERROR)
    if errors:
        click.echo(f"the book has {counted(errors, 'error')}; run check", err=True)


def say_notices(notices: tuple[str, ...]) -> None:
    """Print each notice as one line on the error output."""
    for notice in notices:
        click.echo(f"note: {notice}", err=True)


def summed_up(compiled: Compiled) -> Iterator[str]:
    """Yield the last lines of a check: how much there is, what is proven, what that rests on."""
    from setwright.compiler.reports.summary import proof
    from setwright.scenes.finding import summary, visible

    size = f"{counted(len(compiled.songs), 'song')}, {counted(compiled.scene_count, 'scene')}"
    rig = compiled.book.rig.rig or compiled.book.night.rig
    yield f"{size} on {rig}: {summary(compiled.findings)}"
    proven = proof(compiled)
    if proven is None:
        yield "nothing is proven yet: mend the errors first"
    else:
        yield from map(visible, proven.lines)


def counted(number: int, what: str) -> str:
    """Return a number with its noun: 1 file, 2 files."""
    from setwright.scenes.wording import number_of

    return number_of(number, what)


def compile_typed(
    night: str,
    without: tuple[str, ...],
    *,
    fresh: bool = False,
    stored: Mapping[Path, str] | None = None,
) -> Compiled | Unopened:
    """Compile the night whose file was typed; the options are those of `compile_night`."""
    import os
    from pathlib import Path

    # A book is read the same whatever else is installed; and to look for plugins of pydantic
    # takes as long as to read a small book.
    os.environ.setdefault("PYDANTIC_DISABLE_PLUGINS", "__all__")

    from setwright.compiler.pipeline import compile_night

    return compile_night(Path(night), frozenset(without), fresh=fresh, stored=stored)


def print_findings(compiled: Compiled | Unopened, form: str, *, to_stderr: bool = False) -> None:
    """Print the findings as text or as JSON."""
    if form == "json":
        print_json([finding.to_json() for finding in compiled.findings])
        return
    import os

    from setwright.scenes.finding import render

    stream = sys.stderr if to_stderr else sys.stdout
    colour = getattr(stream, "isatty", bool)() and not os.environ.get("NO_COLOR")
    for finding in compiled.findings:
        click.echo(render(finding, colour=colour) + "\n", err=to_stderr, color=colour)


def songs_of_list(typed: str) -> Sequence[ListedSong]:
    """Return the songs of the list that was typed, and print what there is to say about it.

    Stops where nothing can be made of it: 2 if it cannot be opened, else 1.
    """
    from pathlib import Path

    from setwright.compiler.lists.song_list import read_list
    from setwright.scenes.finding import in_order, render

    read = read_list(Path(typed), typed)
    for finding in in_order(read.findings):
        click.echo(render(finding) + "\n", err=True)
    if not read.songs:
        cannot_open = {"file-missing", "file-unreadable"}
        sys.exit(2 if {finding.code for finding in read.findings} & cannot_open else 1)
    return read.songs


def print_json(data: object) -> None:
    """Print ``data`` as JSON, in ASCII."""
    import json

    click.echo(json.dumps(data, ensure_ascii=True, indent=2))


def exit_code(compiled: Compiled | Unopened) -> int:
    """Return the exit code that the findings give."""
    from setwright.compiler.compiled import Compiled
    from setwright.scenes.finding import Severity, worst

    if not isinstance(compiled, Compiled) and compiled.unreadable:
        return 2
    return 1 if worst(compiled.findings) in {Severity.ERROR, Severity.WARNING} else 0


def _only_night() -> str:
    from pathlib import Path

    from setwright.scenes.finding import visible
    from setwright.scenes.nights import nights_in

    found = nights_in(Path())
    if len(found.names) == 1:
        return found.names[0]
    shown = [*found.names, *(f"{name} cannot be read: {why}" for name, why in found.unreadable)]
    listed = f" ({', '.join(shown[:8])}{' …' if shown[8:] else ''})" if shown else ""
    raise click.UsageError(
        visible(f"this folder holds {len(found.names)} nights{listed}: name one first")
    )


def fail(message: str, code: int = 2) -> NoReturn:
    """Print one line on the error output, and exit with ``code``."""
    say(message)
    sys.exit(code)
