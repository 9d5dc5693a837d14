"""A small working book to begin with: ``setwright new FOLDER``.

Everything is written aside first and moved into place at the end; where anything fails,
nothing is left behind and nothing that was there is touched.
"""

from __future__ import annotations

import secrets
import shutil
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from importlib.resources import files
from pathlib import Path
from typing import Final

from setwright.scenes.finding import visible
from setwright.scenes.schema import KINDS, file_name, schema_text

FILES: Final = ("night.yaml", "songs.yaml", "rig.yaml", "switcher.yaml")
"""The files of the book, in the order in which a newcomer reads them."""
SCHEMAS: Final = ".schemas"
"""The folder of the schemas beside them; the first line of each file names its own."""


def write_new_book(folder: str) -> list[str] | str:
    """Write the book into ``folder``, which must be empty or not there yet.

    Returns the paths written, or a sentence where that cannot be done. An empty folder stays
    the same folder, with its permissions, for the user may be standing in it: the files are
    moved into it. A folder that is not there yet appears with everything in it.
    """
    shown = f"‘{visible(folder)}’"
    try:
        at = Path(folder)
        if not folder:
            return "a book needs a folder; name one that is empty or not there yet"
        if at.is_dir():
            inside = sorted(one.name for one in at.iterdir())
            if inside:
                more = f" and {len(inside) - 1} more" if inside[1:] else ""
                return (
                    f"{shown} is not empty, it holds ‘{visible(inside[0])}’{more}; "
                    "name a folder that is empty or not there yet"
                )
            _fill(at)
        elif at.exists() or at.is_symlink():
            return f"{shown} is no folder; name one that is empty or not there yet"
        else:
            _make(at)
    except OSError as error:
        reason = (error.strerror or "it cannot be written").lower()
        return f"cannot write a book into {shown}: {reason}"
    except ValueError:
        return f"cannot write a book into {shown}: no folder can have this name"
    schemas = (f"{SCHEMAS}/{file_name(kind)}" for kind in KINDS)
    return [visible(str(at / name)) for name in (*FILES, *schemas)]


def _make(at: Path) -> None:
    """Write the book into a folder that is not there, nor perhaps those above it."""
    with _folders_above(at), _written_aside(at.parent) as draft:
        draft.rename(at)


def _fill(at: Path) -> None:
    """Write the book into a folder that is there and empty."""
    moved: list[str] = []
    with _written_aside(at) as draft:
        try:
            for name in (SCHEMAS, *FILES):
                (draft / name).rename(at / name)
                moved.append(name)
        except BaseException:
            for name in moved:
                (at / name).rename(draft / name)
            raise


@contextmanager
def _written_aside(folder: Path) -> Iterator[Path]:
    """Write the book into a passing folder within ``folder``, on the same disk."""
    draft = folder / f".setwright-{secrets.token_hex(4)}"
    draft.mkdir()
    try:
        for name in FILES:
            (draft / name).write_bytes(_template(name))
        (draft / SCHEMAS).mkdir()
        for kind in KINDS:
            schema = draft / SCHEMAS / file_name(kind)
            schema.write_text(schema_text(kind), encoding="utf-8", newline="\n")
        yield draft
    finally:
        # Where all went well only an empty folder is left of it, or nothing at all.
        shutil.rmtree(draft, ignore_errors=True)


@contextmanager
def _folders_above(at: Path) -> Iterator[None]:
    """Make the folders that lead to ``at``; take those away again if what follows fails."""
    missing = [above for above in at.parents if not above.exists()]
    made: list[Path] = []
    try:
        for above in reversed(missing):
            above.mkdir()
            made.append(above)
        yield
    except BaseException:
        for above in reversed(made):
            with suppress(OSError):  # somebody else has put something into it meanwhile
                above.rmdir()
        raise


def _template(name: str) -> bytes:
    return (files("setwright.templates") / "new" / name).read_bytes()
