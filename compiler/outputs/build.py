"""A compiled night → a folder: all outputs together, and nothing at all while there are errors."""

from __future__ import annotations

from collections.abc import Callable, Collection, Iterable
from pathlib import Path
from typing import NamedTuple

from setwright.compiler.compiled import Compiled
from setwright.compiler.outputs.collect import night_data
from setwright.compiler.outputs.data import NightData
from setwright.compiler.outputs.disk import named
from setwright.compiler.outputs.kinds import KINDS, Wish, kind_of, kinds_of, make
from setwright.compiler.outputs.manifest import Manifest, broken_off, manifest_of
from setwright.compiler.outputs.night_json import NIGHT_JSON, night_json
from setwright.compiler.outputs.write import Written, write_outputs
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


def build(
    compiled: Compiled,
    out: Path,
    *,
    utf8: bool = False,
    paper: str = "a4",
    only: Collection[str] = (),
    doing: Callable[[str, int, int], None] = lambda what, number, of: None,
) -> Built:
    """Write everything that a night becomes into the folder ``out``.

    ``utf8`` has the texts of MIDI files in UTF-8 instead of ASCII, ``paper`` is the size of
    printed sheets: a4 or letter. Warnings do not stop a
    build, errors do. The same book gives the same bytes, wherever and whenever it is built.

    With ``only``, nothing but these kinds of files (`KINDS`) is made. What an earlier build made of
    the others stays as it is, and in the list; where that was of another state of the book, a
    notice says so. ``doing`` is told what is being made: what, its number, and how many there are.
    """
    errors = how_many(compiled.findings, Severity.ERROR)
    if errors or compiled.book is None:
        count = number_of(errors, "error")
        return Built(problem=f"nothing is built from a book with {count}; check it and mend them")
    kinds = [kind for kind in KINDS if kind in only or not only]
    data = night_data(compiled)
    wish = Wish(utf8, paper)
    files: dict[str, bytes] = {}
    notices: list[str] = []
    for number, kind in enumerate(kinds, 1):
        doing(kind, number, len(kinds) + 1)
        made = make(data, kind, wish)
        files |= made.files
        notices += made.notices
    doing("files into their folder", len(kinds) + 1, len(kinds) + 1)
    if only:
        built = _built_in_part(out, data, files, kinds, compiled.book.files)
    else:
        files[NIGHT_JSON] = night_json(data, files)
        built = _built(write_outputs(out, files, compiled.book.files))
    return built._replace(notices=(*notices, *built.notices))


def _built_in_part(
    out: Path, data: NightData, files: dict[str, bytes], kinds: list[str], sources: Iterable[Path]
) -> Built:
    """Write the ``files`` of some ``kinds``, and say which of the others are older."""
    content = b""

    def part(held: Manifest | None) -> bytes:
        nonlocal content
        others = [] if held is None else [one for one in held.files if kind_of(one) not in kinds]
        staying = {name: held.staying(name) for name in others} if held is not None else {}
        content = night_json(data, files, staying)
        return content

    built = _built(write_outputs(out, files, sources, part=part))
    written = manifest_of(content)
    if built.problem is not None or written is None or not written.older:
        return built
    behind = ", ".join(kinds_of(written.older))
    notice = (
        f"{named(out)} holds files that are older than this book: {behind}; "
        "a build without --only makes them anew"
    )
    return built._replace(notices=(*built.notices, notice))


def _built(written: Written) -> Built:
    problem = None if written.problem is None else str(written.problem)
    return Built(*written[:-1], problem)


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
    data = night_data(compiled)
    made = [make(data, kind, Wish(utf8, paper)) for kind in KINDS]
    files: dict[str, bytes] = {}
    for one in made:
        files |= one.files
    files[NIGHT_JSON] = night_json(data, files)
    return Outputs(files, tuple(notice for one in made for notice in one.notices))
