"""A small working book to begin with: ``setwright new FOLDER``; or one of a list of songs.

Where anything fails, nothing is left behind and nothing that was there is touched.
"""

from __future__ import annotations

from collections.abc import Sequence
from importlib.resources import files
from pathlib import Path
from typing import Final

from setwright.compiler.lists.listed_song import ListedSong
from setwright.compiler.lists.written import night_file, songs_file
from setwright.compiler.outputs.disk import named
from setwright.compiler.outputs.lock import LOCK
from setwright.compiler.outputs.manifest import SCHEMAS, TRACE
from setwright.compiler.outputs.schemas import schema_files
from setwright.compiler.outputs.survey import Problem, Survey
from setwright.compiler.outputs.write import write_files
from setwright.scenes.finding import visible

FILES: Final = ("night.yaml", "songs.yaml", "rig.yaml", "switcher.yaml")
"""The files of the book, in the order in which a newcomer reads them.

The first line of each names its schema, which lies in a folder beside them.
"""


def write_new_book(folder: str, songs: Sequence[ListedSong] | None = None) -> list[str] | str:
    """Write the book into ``folder``, which must be empty or not there yet.

    With ``songs`` it holds these and a night that plays them, instead of those for a beginner.
    Returns the paths written, or a sentence where that cannot be done. An empty folder stays
    the same folder, with its permissions, for the user may be standing in it. KeyboardInterrupt:
    the user wished it to end; everything is there or nothing.
    """
    if not folder:
        return "a book needs a folder; name one that is empty or not there yet"
    book = {name: _template(name) for name in FILES}
    if songs is not None:
        book["songs.yaml"] = songs_file(_head("songs.yaml"), songs)
        book["night.yaml"] = night_file(_head("night.yaml"), songs)
    book |= {f"{SCHEMAS}/{name}": content for name, content in schema_files().items()}
    written = write_files(Path(folder), book, all_or_nothing=True, refuse=_not_empty)
    if written.interrupted:
        raise KeyboardInterrupt
    if written.problem is not None:
        return str(written.problem)
    return [visible(str(Path(folder) / name)) for name in book]


def _not_empty(survey: Survey) -> Problem | None:
    """Refuse a folder that holds anything, but for what another of us has left unfinished."""
    if not survey.root.exists():
        return None
    ours = {LOCK, TRACE, f"{TRACE}.new"}
    if survey.left is not None:
        tops = {name.split("/")[0] for name in survey.left.moving}
        ours |= tops | {f".{name}.{survey.left.token}" for name in tops}
    inside = sorted({one.name for one in survey.root.iterdir()} - ours)
    if not inside:
        return None
    more = f" and {len(inside) - 1} more" if inside[1:] else ""
    return Problem(
        f"{survey.shown()} is not empty, it holds {named(inside[0])}{more}",
        "name a folder that is empty or not there yet",
    )


def _head(name: str) -> str:
    """Return what stands above the songs of a list, in the file ``name``."""
    return (files("setwright.templates") / "listed" / name).read_text(encoding="utf-8")


def _template(name: str) -> bytes:
    return (files("setwright.templates") / "new" / name).read_bytes()
