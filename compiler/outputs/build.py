"""A compiled night → a folder: all outputs together, and nothing at all while there are errors."""

from __future__ import annotations

from pathlib import Path
from typing import NamedTuple

from setwright.compiler.compiled import Compiled
from setwright.compiler.outputs.collect import night_data
from setwright.compiler.outputs.disk import named
from setwright.compiler.outputs.manifest import broken_off
from setwright.compiler.outputs.night_json import NIGHT_JSON, night_json
from setwright.compiler.outputs.write import write_outputs
from setwright.scenes.finding import Severity, how_many
from setwright.scenes.wording import number_of


class Built(NamedTuple):
    """What a build did; names are relative to its folder, with forward slashes.

    ``wrote`` are the files that are new now, ``unchanged`` those that were already as they
    should be, ``pending`` those that are still as before because of the ``problem``,
    ``removed`` those of an earlier build that are gone, ``kept`` the names under which files that
    a user had changed are kept. ``interrupted`` tells whether the user wished it to end.
    ``problem`` is one line that says what is wrong and what to do, or None.
    """

    wrote: tuple[str, ...] = ()
    unchanged: tuple[str, ...] = ()
    pending: tuple[str, ...] = ()
    removed: tuple[str, ...] = ()
    kept: tuple[str, ...] = ()
    notices: tuple[str, ...] = ()
    interrupted: bool = False
    problem: str | None = None


def build(compiled: Compiled, out: Path, *, utf8: bool = False, paper: str = "a4") -> Built:
    """Write everything that a night becomes into the folder ``out``.

    ``utf8`` has the texts of MIDI files in UTF-8 instead of ASCII, ``paper`` is the size of
    printed sheets: a4 or letter. Warnings do not stop a
    build, errors do. The same book gives the same bytes, wherever and whenever it is built.
    """
    errors = how_many(compiled.findings, Severity.ERROR)
    if errors or compiled.book is None:
        count = number_of(errors, "error")
        return Built(problem=f"nothing is built from a book with {count}; check it and mend them")
    files, notices = output_files(compiled, utf8=utf8, paper=paper)
    written = write_outputs(out, files, compiled.book.files)
    problem = None if written.problem is None else str(written.problem)
    return Built(*written._replace(notices=(*notices, *written.notices))[:-1], problem)


def left_unfinished(out: Path) -> tuple[str, ...]:
    """Return what there is to say of a folder when nothing can be built into it now.

    That is a sentence if the last build there was broken off, else nothing.
    """
    try:
        unfinished = broken_off(out, named(out))
    except (OSError, ValueError):
        return ()
    return (f"{unfinished}; build again when the errors are mended",) if unfinished else ()


class Outputs(NamedTuple):
    """Every file of a build by its relative name, `NIGHT_JSON` the last, and what to say."""

    files: dict[str, bytes]
    notices: tuple[str, ...]


def output_files(compiled: Compiled, *, utf8: bool = False, paper: str = "a4") -> Outputs:
    """Return every file of a build; ``compiled`` must be without errors."""
    # Not before they are needed: a templating library takes as long to load as a book to read.
    from setwright.compiler.outputs.cue_sheet import cue_sheet_files
    from setwright.compiler.outputs.maps import map_files
    from setwright.compiler.outputs.midi_file import midi_files
    from setwright.compiler.outputs.paper import paper_files
    from setwright.compiler.outputs.preset_sheet import preset_sheet_files
    from setwright.compiler.outputs.stage_page import stage_page_files

    data = night_data(compiled)
    on_paper = paper_files(data, paper)
    files: dict[str, bytes] = {}
    for made in (
        midi_files(data, utf8=utf8),
        map_files(data),
        preset_sheet_files(data),
        cue_sheet_files(data),
        stage_page_files(data),
        on_paper.files,
    ):
        assert not files.keys() & made.keys(), sorted(files.keys() & made.keys())
        files |= made
    files[NIGHT_JSON] = night_json(data, files)
    return Outputs(files, on_paper.notices)
