"""The commands: nothing but words and exit codes.

Exit 0: nothing found, or notes alone. 1: any error or warning. 2: wrong usage, a file named on
the command line that cannot be opened, or a fault of our own. How they are cut short:
`setwright.compiler.terminal`.
"""

from __future__ import annotations

import sys
from contextlib import suppress

import click

from setwright.compiler.audit import audit
from setwright.compiler.console import (
    FORMATS,
    SCHEMAS,
    asked,
    code_to_explain,
    compile_typed,
    exit_code,
    fail,
    night_and_scene,
    print_findings,
    print_json,
    say_errors,
    say_notices,
    songs_of_list,
    summed_up,
    without_units,
    word_to_explain,
)
from setwright.compiler.floor import done, place, plan
from setwright.compiler.folder import build
from setwright.compiler.follow import follow
from setwright.compiler.listen import listen
from setwright.compiler.rehearse import rehearse
from setwright.compiler.terminal import INTERRUPTED, Commands, after
from setwright.compiler.watch import watch


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

    compiled = compile_typed(night, without)
    print_findings(compiled, form)
    if form == "text" and isinstance(compiled, Compiled):
        for line in summed_up(compiled):
            click.echo(line)
    sys.exit(exit_code(compiled))


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

    compiled, found = asked(words, without)
    if form == "json":
        print_json(explain_json(compiled, found))
    else:
        for line in lines_of(compiled, found):
            click.echo(visible(line))
    say_errors(compiled)


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

    compiled, found = asked(words, without)
    for line in lines_of(compiled, found, direct=direct):
        click.echo(visible(line))
    say_errors(compiled)


@main.command()
@code_to_explain
@click.option("--page", is_flag=True, help="Print the reference page of all of them (Markdown).")
def checks(code: str | None, page: bool) -> None:
    """List every code that a finding may have; or explain CODE in full.

    "setwright checks proof" says what ‘proven’ means, and what it rests on.
    """
    from setwright.compiler.reports import basis
    from setwright.compiler.reports import checks as pages
    from setwright.scenes.finding import visible
    from setwright.scenes.names import suggestion

    if page:
        click.echo(pages.page(), nl=False)
        return
    lines = pages.listed()
    if code == pages.PROOF:
        lines = basis.in_full()
    elif code is not None:
        known = {one.code: one for one in pages.all_explained()}
        if code not in known:
            topics = [*known, pages.PROOF]
            fail(visible(f"there is no code ‘{code}’: {suggestion(code, topics, '')}"))
        lines = pages.in_full(known[code])
    for line in lines:
        click.echo(line)


@main.command()
@word_to_explain
@click.option("--page", is_flag=True, help="Print the reference of the language (Markdown).")
def words(word: tuple[str, ...], page: bool) -> None:
    """List every word that a book is written in; or explain WORD, with an example."""
    from setwright.compiler.reports import words as pages
    from setwright.scenes.finding import visible
    from setwright.scenes.names import suggestion

    if page:
        click.echo(pages.page(), nl=False)
        return
    lines = pages.listed()
    if word:
        asked_for = " ".join(word)
        found = pages.find(asked_for)
        if not found:
            near = suggestion(asked_for, pages.all_names(), "")
            fail(visible(f"there is no word ‘{asked_for}’: {near}"))
        lines = pages.in_full(found)
    for line in lines:
        click.echo(line)


main.add_command(build)
main.add_command(watch)
main.add_command(follow)
main.add_command(place)
main.add_command(plan)
main.add_command(done)
main.add_command(audit)
main.add_command(rehearse)


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
    from setwright.compiler.sending.port.problem import Problem
    from setwright.scenes.finding import visible

    compiled, found = asked(words, without, sending=True)
    planned = sending.plan(compiled, found, direct=direct)
    if isinstance(planned, Problem):
        fail(str(planned))
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
        fail(str(sent))
    if isinstance(sent, sending.Interrupted):
        fail(str(sent), INTERRUPTED)
    with after(str(sent)):
        click.echo(str(sent))


@main.command()
def ports() -> None:
    """List the MIDI ports that are there now, one a line: outputs to send to, inputs to hear."""
    from setwright.compiler.sending.port.ports import WAYS, no_ports
    from setwright.compiler.sending.port.problem import Problem
    from setwright.compiler.sending.port.request import list_ports
    from setwright.scenes.finding import visible

    for way in WAYS:
        found = list_ports(way)
        if isinstance(found, Problem):
            fail(str(found))
        if not found:
            click.echo(str(no_ports(way)), err=True)
        for port in found:
            click.echo(f"{way} {visible(port.name)}")


main.add_command(listen)


@main.command()
@click.argument("folder", type=click.Path())
@click.option("--songs", type=click.Path(), help="Make it of these songs: a CSV or an ABC file.")
def new(folder: str, songs: str | None) -> None:
    """Write a small working book into FOLDER, which must be empty or not there yet.

    With --songs it holds the songs of a list: a CSV file with a heading above each column (title,
    key, tempo, meter, capo, length, guitar, note; others become comments), or tunes in ABC
    notation. A value that cannot be read becomes a comment beside its song.
    """
    from setwright.compiler.new_book import write_new_book

    problem = write_new_book(folder, None if songs is None else songs_of_list(songs))
    if isinstance(problem, str):
        fail(problem)
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
        from setwright.compiler.outputs.night_schema import night_schema

        print_json(night_schema())
        return
    if kind is not None:
        print_json(schema_of(kind))
        return
    assert out is not None
    from pathlib import Path

    from setwright.compiler.outputs.schemas import write_schemas
    from setwright.scenes.finding import visible

    written = write_schemas(out)
    say_notices(written.notices)
    if written.problem is not None:
        fail(str(written.problem), INTERRUPTED if written.interrupted else 2)
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
        fail(f"completion for {shell} is not known here")
    click.echo(made(main, {}, "setwright", "_SETWRIGHT_COMPLETE").source())


def run() -> None:
    """Run the commands as a program of their own, which ends with the one that was typed.

    A book makes no cycles worth collecting, and looking for them takes a tenth of the time; nor
    is it worth taking apart, object by object, once all is written and closed.
    """
    import gc
    import os

    gc.disable()
    try:
        main(prog_name="setwright")
    except SystemExit as end:
        if not isinstance(end.code, int) or sys.stderr is None:
            raise
        with suppress(OSError):
            sys.stderr.flush()  # `Commands` has flushed the other
        os._exit(end.code)
    except Exception:  # noqa: BLE001
        # What nobody foresaw is no finding about a book, and must not look like one.
        import traceback

        traceback.print_exc()
        fail("this is a fault of Setwright's own, and not of your book; please report it")
