"""The schemas of a book's four kinds of files, into a folder: ``setwright schema --out FOLDER``.

What stands there and calls itself one of our schemas is replaced; anything else of that name
is kept beside it.
"""

from __future__ import annotations

import json
from pathlib import Path

from setwright.compiler.outputs.disk import read, sha256
from setwright.compiler.outputs.write import Written, write_files
from setwright.scenes.schema import KINDS, file_name, schema_text, title


def schema_files() -> dict[str, bytes]:
    """Return the file of every schema by its name."""
    return {file_name(kind): schema_text(kind).encode() for kind in KINDS}


def write_schemas(folder: str) -> Written:
    """Write all four schemas into ``folder``, which is made if it is not there."""
    return write_files(Path(folder), schema_files(), _known_in)


def _known_in(root: Path) -> dict[str, str]:
    known = {}
    for kind in KINDS:
        content = read(root / file_name(kind))
        try:
            ours = json.loads(content)["title"] == title(kind)
        except (ValueError, TypeError, LookupError, RecursionError):
            ours = False
        known[file_name(kind)] = sha256(content) if ours else ""
    return known
