"""The commands: nothing but words and exit codes.

Exit 0: nothing found, or notes alone. 1: any error or warning. 2: wrong usage, a file named on
the command line that cannot be opened, or a fault of our own. How they are cut short:
`setwright.compiler.terminal`.
"""

from __future__ import annotations

import sys
from typing import TYPE_CHECKING, NoReturn

import click

from setwright.compiler.terminal import INTERRUPTED, Commands, after, say

if TYPE_CHECKING:
    from click.shell_completion import CompletionItem

    from setwright.compiler.compiled import Compiled, Unopened
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

    compiled = _compile(typed[0], ())
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

    from setwright.compiler.reports.checks import all_explained

    codes = (one.code for one in all_explained())
    return [CompletionItem(code) for code in codes if code.startswith(incomplete)]


@click.group(cls=Commands, context_settings={"help_option_names": ["-h", "--help"]})
@click.version_option(package_name="setwright", message="setwright %(version)s")
def main() -> None:
    """Compile a guitarist's night: songs, scenes and rigs in plain text.

    Begin with ‘setwright new FOLDER’, then ‘setwright check FOLDER/night.yaml’.
    """
    # A terminal or pipe that cannot show a sign of ours gets another one, never a traceback.
    for stream in (sys.stdout, sys.stderr):
        reconfigure = getattr(stream, "reconfigure", None)
        if reconfigure is not None:
            reconfigure(errors="replace")


@main.command()
@click.argument("night", type=click.Path())
@without_units
@click.option("--format", "form", type=FORMATS, default="text", help="How to print findings.")
def check(night: str, without: tuple[str, ...], form: str) -> None:
    """Read NIGHT with its rig and songs, and say everything that is wrong with it."""
    from setwright.compiler.compiled import Compiled

    compiled = _compile(night, without)
    _print_findings(compiled, form)
    if form == "text" and isinstance(compiled, Compiled):
        from setwright.scenes.finding import summary

        size = f"{_counted(len(compiled.songs), 'song')}, {_counted(compiled.scene_count, 'scene')}"
        rig = compiled.book.rig.rig or compiled.book.night.rig
        click.echo(f"{size} on {rig}: {summary(compiled.findings)}")
        click.echo(_proven(compiled))
    sys.exit(_exit_code(compiled))


@main.command()
@night_and_scene
@without_units
@click.option("--format", "form", type=FORMATS, default="text", help="How to print it.")
def explain(words: tuple[str, ...], without: tuple[str, ...], form: str) -> None:
    """Say what a scene becomes on this rig: each unit's state, why, and whether it is proven.

    NIGHT may be left out where the folder holds only one. Where a song is played more than once,
    its number tonight says which time: "7 SONG/SCENE"; "if asked SONG/SCENE" is a song kept for
    requests. A title with a slash in it is written as it is: every slash is tried until a song
    and a scene of it are found.
    """
    from setwright.compiler.reports.explain import explain as lines_of
    from setwright.compiler.reports.explain import explain_json
    from setwright.scenes.finding import visible

    compiled, found = _asked(words, without)
    if form == "json":
        _print_json(explain_json(compiled, found))
    else:
        for line in lines_of(compiled, found):
            click.echo(visible(line))
    _say_errors(compiled)


@main.command()
@night_and_scene
@click.option("--direct", is_flag=True, help="Follow what a computer sends past the switcher.")
@without_units
def trace(words: tuple[str, ...], direct: bool, without: tuple[str, ...]) -> None:
    """Draw who hears what in a scene: every message, cable by cable, and who acts on it.

    NIGHT may be left out where the folder holds only one.
    """
    from setwright.compiler.reports.trace import trace as lines_of
    from setwright.scenes.finding import visible

    compiled, found = _asked(words, without)
    for line in lines_of(compiled, found, direct=direct):
        click.echo(visible(line))
    _say_errors(compiled)


@main.command()
@click.argument("code", required=False, shell_complete=_complete_codes)
@click.option("--page", is_flag=True, help="Print the reference page of all of them (Markdown).")
def checks(code: str | None, page: bool) -> None:
    """List every code that a finding may have; or explain CODE in full."""
    from setwright.compiler.reports import checks as pages
    from setwright.scenes.finding import visible
    from setwright.scenes.names import suggestion

    if page:
        click.echo(pages.page(), nl=False)
        return
    lines = pages.listed()
    if code is not None:
        known = {one.code: one for one in pages.all_explained()}
        if code not in known:
            _fail(visible(f"there is no code ‘{code}’: {suggestion(code, known, '')}"))
        lines = pages.in_full(known[code])
    for line in lines:
        click.echo(line)


@main.command()
@click.argument("night", type=click.Path())
@click.option(
    "--out", required=True, type=click.Path(), metavar="DIR", help="The folder to write into."
)
@without_units
@click.option("--utf8", is_flag=True, help="Write the text of MIDI files in UTF-8, not ASCII.")
def build(night: str, out: str, without: tuple[str, ...], utf8: bool) -> None:
    """Write everything for NIGHT into DIR: MIDI files, maps, sheets and data.

    Nothing is written while the book has errors. Files of an earlier build are replaced, each
    wholly or not at all. One that you have changed since, with a note on a sheet perhaps, is kept
    beside it as NAME.yours (then NAME.yours.2, and so on), whether this night still has it or
    not; nothing called that is ever touched. Files that are not ours are left alone.
    """
    from pathlib import Path

    from setwright.compiler.compiled import Compiled
    from setwright.compiler.outputs.build import build as build_night
    from setwright.compiler.outputs.build import left_unfinished
    from setwright.scenes.finding import Severity, summary, visible, worst

    compiled = _compile(night, without)
    _print_findings(compiled, "text")
    if not isinstance(compiled, Compiled) or worst(compiled.findings) is Severity.ERROR:
        click.echo(f"nothing is written: {summary(compiled.findings)}", err=True)
        _say_notices(left_unfinished(Path(out)))
        sys.exit(_exit_code(compiled))
    built = build_night(compiled, Path(out), utf8=utf8)
    _say_notices(built.notices)
    if built.problem is not None:
        _fail(visible(built.problem), INTERRUPTED if built.interrupted else 2)
    folder = visible(click.format_filename(out))
    right = f", {len(built.unchanged)} were already right" if built.unchanged else ""
    with after(f"the files in ‘{folder}’ are written"):
        click.echo(f"wrote {_counted(len(built.wrote), 'file')} into {folder}{right}")
        if built.removed:
            gone = _counted(len(built.removed), "file")
            click.echo(f"removed {gone} that this night no longer has")
    sys.exit(_exit_code(compiled))


@main.command()
@night_and_scene
@click.option("--direct", is_flag=True, help="Send what the units need, past the switcher.")
@click.option("--port", metavar="NAME", help="The output port, or a part of its name.")
@click.option("--dry-run", is_flag=True, help="Print the messages instead; nothing is sent.")
@without_units
def send(
    words: tuple[str, ...], direct: bool, port: str | None, dry_run: bool, without: tuple[str, ...]
) -> None:
    """Send one scene to the rig.

    CAUTION: a scene can be much louder than the one before it. Turn the amplifier down first,
    and wear no headphones.

    Without --direct the switcher is told to load the scene's preset, which must be programmed;
    with it every unit is told itself, and the switcher's loops stay as they are. NIGHT may be
    left out where the folder holds only one.
    """
    from setwright.compiler.sending import send as sending
    from setwright.compiler.sending.ports import Problem
    from setwright.scenes.finding import visible

    compiled, found = _asked(words, without, sending=True)
    planned = sending.plan(compiled, found, direct=direct)
    if isinstance(planned, Problem):
        _fail(str(planned))
    if not dry_run and planned.route.commands:
        click.echo(sending.CAUTION, err=True)
    if planned.not_sent:
        click.echo(f"note: {visible(planned.not_sent)}", err=True)
    if not planned.route.commands:
        click.echo("nothing to send: no unit needs a message for this scene", err=True)
        return
    if dry_run:
        for line in planned.lines():
            click.echo(line)
        return
    sent = sending.send(planned, port)
    if isinstance(sent, Problem):
        _fail(str(sent))
    if isinstance(sent, sending.Interrupted):
        _fail(str(sent), INTERRUPTED)
    with after(str(sent)):
        click.echo(str(sent))


@main.command()
def ports() -> None:
    """List the MIDI output ports that are there now, one a line."""
    from setwright.compiler.sending.ports import Problem, list_ports, no_ports
    from setwright.scenes.finding import visible

    found = list_ports()
    if isinstance(found, Problem):
        _fail(str(found))
    if not found:
        click.echo(str(no_ports()), err=True)
    for port in found:
        click.echo(visible(port.name))


@main.command()
@click.argument("folder", type=click.Path())
def new(folder: str) -> None:
    """Write a small working book into FOLDER, which must be empty or not there yet."""
    from setwright.compiler.new_book import write_new_book

    problem = write_new_book(folder)
    if isinstance(problem, str):
        _fail(problem)
    import shlex

    night = shlex.quote(f"{click.format_filename(folder)}/night.yaml")
    with after("the book is written"):
        for name in problem:
            click.echo(f"wrote {name}")
        click.echo(f"now try: setwright check {night}")


@main.command()
@click.argument("kind", type=SCHEMAS, required=False)
@click.option("--out", type=click.Path(), help="Write all four schemas into this folder instead.")
def schema(kind: str | None, out: str | None) -> None:
    """Print the JSON Schema of one KIND of file, for editors; or write all four.

    night-data is the schema of the file night.json that build writes.
    """
    from setwright.scenes.schema import schema_of

    if (kind is None) == (out is None):
        raise click.UsageError("name one KIND, or give --out FOLDER for all four")
    if kind == "night-data":
        from setwright.compiler.outputs.night_json import night_schema

        _print_json(night_schema())
        return
    if kind is not None:
        _print_json(schema_of(kind))
        return
    assert out is not None
    from pathlib import Path

    from setwright.compiler.outputs.schemas import write_schemas
    from setwright.scenes.finding import visible

    written = write_schemas(out)
    _say_notices(written.notices)
    if written.problem is not None:
        _fail(str(written.problem), INTERRUPTED if written.interrupted else 2)
    with after("the schemas are written"):
        for name in sorted({*written.wrote, *written.unchanged}):
            click.echo(f"wrote {visible(str(Path(out) / name))}")


@main.command()
@click.argument("shell", type=click.Choice(["bash", "zsh", "fish"]))
def completion(shell: str) -> None:
    """Print what SHELL needs to complete commands, files and scenes.

    For bash, put this into ~/.bashrc: eval "$(setwright completion bash)"
    """
    from click.shell_completion import get_completion_class

    made = get_completion_class(shell)
    if made is None:
        _fail(f"completion for {shell} is not known here")
    click.echo(made(main, {}, "setwright", "_SETWRIGHT_COMPLETE").source())


def _asked(
    words: tuple[str, ...], without: tuple[str, ...], *, sending: bool = False
) -> tuple[Compiled, Found]:
    """Return the night and the scene that [NIGHT] SONG/SCENE names; stop where there is none.

    With ``sending`` a book with errors is a reason to stop too.
    """
    from setwright.compiler.compiled import Compiled
    from setwright.compiler.reports.find import find_scene
    from setwright.scenes.finding import Severity, summary, visible, worst

    if len(words) > 2:
        raise click.UsageError("write NIGHT and SONG/SCENE, in quotes if there are spaces in it")
    compiled = _compile(words[0] if len(words) == 2 else _only_night(), without)
    if not isinstance(compiled, Compiled) or not compiled.songs:
        _print_findings(compiled, "text", to_stderr=True)
        sys.exit(_exit_code(compiled))
    if sending and worst(compiled.findings) is Severity.ERROR:
        click.echo(f"nothing is sent: {summary(compiled.findings)}; run check", err=True)
        sys.exit(_exit_code(compiled))
    found = find_scene(compiled, words[-1])
    if isinstance(found, str):
        _fail(visible(found))
    return compiled, found


def _say_errors(compiled: Compiled) -> None:
    from setwright.scenes.finding import Severity, how_many

    errors = how_many(compiled.findings, Severity.ERROR)
    if errors:
        click.echo(f"the book has {_counted(errors, 'error')}; run check", err=True)


def _say_notices(notices: tuple[str, ...]) -> None:
    for notice in notices:
        click.echo(f"note: {notice}", err=True)


def _proven(compiled: Compiled) -> str:
    from setwright.compiler.reports.summary import proof
    from setwright.scenes.finding import visible

    proven = proof(compiled)
    return visible(str(proven)) if proven else "nothing is proven yet: mend the errors first"


def _counted(number: int, what: str) -> str:
    from setwright.scenes.wording import number_of

    return number_of(number, what)


def _compile(night: str, without: tuple[str, ...]) -> Compiled | Unopened:
    import gc
    import os
    from pathlib import Path

    # A book makes no cycles worth collecting, and looking for them takes a tenth of the time.
    collecting = gc.isenabled()
    gc.disable()
    # A book is read the same whatever else is installed; and to look for plugins of pydantic
    # takes as long as to read a small book.
    os.environ.setdefault("PYDANTIC_DISABLE_PLUGINS", "__all__")

    from setwright.compiler.pipeline import compile_night

    try:
        return compile_night(Path(night), frozenset(without))
    finally:
        if collecting:
            gc.enable()


def _print_findings(compiled: Compiled | Unopened, form: str, *, to_stderr: bool = False) -> None:
    if form == "json":
        _print_json([finding.to_json() for finding in compiled.findings])
        return
    import os

    from setwright.scenes.finding import render

    stream = sys.stderr if to_stderr else sys.stdout
    colour = getattr(stream, "isatty", bool)() and not os.environ.get("NO_COLOR")
    for finding in compiled.findings:
        click.echo(render(finding, colour=colour) + "\n", err=to_stderr, color=colour)


def _print_json(data: object) -> None:
    import json

    click.echo(json.dumps(data, ensure_ascii=True, indent=2))


def _exit_code(compiled: Compiled | Unopened) -> int:
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


def _fail(message: str, code: int = 2) -> NoReturn:
    say(message)
    sys.exit(code)
