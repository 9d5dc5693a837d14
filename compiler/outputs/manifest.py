"""What we wrote into a folder: the list of a whole build, and the trace of one broken off.

``night.json`` lists every file with its SHA-256. Before the first file is moved into place,
``.setwright-unfinished`` says which files are to be moved; it goes after the last. So a folder
that has it was left in the middle, and what stands there tells how far that was.
"""

from __future__ import annotations

import json
from collections.abc import Mapping
from pathlib import Path
from types import MappingProxyType
from typing import Any, NamedTuple

from setwright.compiler.outputs.disk import (
    digest,
    is_kept_name,
    kind,
    listed,
    named,
    read,
    reason,
    sha256,
)
from setwright.compiler.outputs.names import is_safe
from setwright.compiler.outputs.night_json import NIGHT_JSON, Staying, is_as_written

TRACE = ".setwright-unfinished"
"""What a build that could not finish leaves behind: its files, and their SHA-256."""

SCHEMAS = ".schemas"
"""The only hidden folder that we ever write: that of the schemas beside a new book."""


class Manifest(NamedTuple):
    """What a ``night.json`` says of its folder: whose it is, and each file's SHA-256.

    ``itself`` is its own, or nothing where somebody has changed it. ``made_from`` stands for the
    state of the book; ``older`` are files of another one, each with what stands for that.
    """

    whose: str
    files: dict[str, str]
    itself: str
    made_from: str = ""
    older: Mapping[str, str] = MappingProxyType({})

    @property
    def known(self) -> dict[str, str]:
        """Every file of the build, the list too."""
        return {**self.files, NIGHT_JSON: self.itself}

    def staying(self, name: str) -> Staying:
        """Return a file as what it is if a build leaves it alone.

        What a list says that somebody has changed is not believed.
        """
        made_from = self.older.get(name, self.made_from) if self.itself else ""
        return Staying(self.files[name], made_from)


def read_manifest(out: Path) -> Manifest | None:
    """Return what the ``night.json`` of a folder lists; None where there is none of ours.

    OSError: it cannot be read.
    """
    return manifest_of(read(out / NIGHT_JSON))


def manifest_of(content: bytes) -> Manifest | None:
    """Return what the content of a ``night.json`` lists; None where it is none of ours."""
    data = _json_object(content)
    files = data.get("files")
    if not isinstance(data.get("setwright"), str) or not isinstance(files, dict):
        return None
    night, rig = (named(data.get(key)) for key in ("night", "rig"))
    mine = {name: one for name, one in files.items() if may_be_ours(name) and isinstance(one, str)}
    # Builds of long ago say nothing of the list itself; it is taken for what we wrote.
    as_written = "itself" not in data or is_as_written(content, data["itself"])
    made_from, older = data.get("made_from"), data.get("older")
    return Manifest(
        f"{night} on {rig}",
        mine,
        sha256(content) if as_written else "",
        made_from if isinstance(made_from, str) else "",
        {name: str(one) for name, one in older.items() if name in mine}
        if isinstance(older, dict)
        else {},
    )


def may_be_ours(name: str) -> bool:
    """Tell whether we ever write ``name``: nothing that leads elsewhere, is hidden or was kept."""
    return is_safe(name.removeprefix(f"{SCHEMAS}/")) and not is_kept_name(name)


class Trace(NamedTuple):
    """What an unfinished build left: the mark of its temporary files, and its files.

    Each of ``files`` may be there as that build made it, or as one before it did which could
    not finish either: hence several digests for one name. ``moving`` are those that it had to
    move into place; ``mixed`` tells whether the folder was already mixed when it began.
    """

    token: str
    files: dict[str, list[str]]
    moving: dict[str, str]
    mixed: bool = False

    def content(self) -> bytes:
        """Return the content of the file."""
        what = "a build into this folder that was not finished; build again"
        return json.dumps({"what": what, **self._asdict()}, indent=1).encode("ascii")


def read_trace(root: Path) -> Trace | None:
    """Return the trace in a folder; None where it was cut off, so that nothing came after it."""
    data = _json_object(read(root / TRACE))
    token, files, moving = data.get("token"), data.get("files"), data.get("moving", {})
    if not isinstance(token, str) or not token.isalnum() or not isinstance(files, dict):
        return None
    if not isinstance(moving, dict):
        return None
    return Trace(
        token,
        {
            name: [one for one in digests if isinstance(one, str)]
            for name, digests in files.items()
            if may_be_ours(name) and isinstance(digests, list)
        },
        {name: one for name, one in moving.items() if may_be_ours(name) and isinstance(one, str)},
        data.get("mixed") is True,
    )


class Unfinished(NamedTuple):
    """How far a build came that was broken off: its files that are there, and those that are not.

    ``older`` tells whether a file of another build stands where one of its own is not yet;
    ``before`` whether what stood there was no whole build already when it began.
    """

    new: list[str]
    not_yet: list[str]
    older: bool
    before: bool

    @property
    def state(self) -> str:
        """What the sheets are now: mixed, incomplete, or nothing where they are neither."""
        if not self.not_yet or not (self.new or self.before):
            return ""
        return "mixed" if self.older else "incomplete"

    def __str__(self) -> str:
        if self.new and self.not_yet:
            return f"in the middle (new: {listed(self.new)}; not yet: {listed(self.not_yet)})"
        if self.new:
            return "when every file was in place and only tidying up was left"
        if self.before:
            return "before it replaced a file, and so was one before it in the middle"
        return "before it replaced a file"


def how_far(root: Path, trace: Trace) -> Unfinished:
    """Return how far the build came that left ``trace``, by looking at its files."""
    new = [name for name, one in trace.moving.items() if digest(root / name) == one]
    not_yet = [name for name in trace.moving if name not in new]
    older = any(kind(root / name) != "nothing" for name in not_yet)
    return Unfinished(new, not_yet, older, trace.mixed)


def broken_off(root: Path, shown: str) -> str:
    """Return a sentence if the last build into a folder was broken off, else nothing.

    It says how far that build came, and whether the sheets that stand there belong together.
    ``shown`` is the folder as the user calls it. OSError, ValueError: nobody can tell.
    """
    if kind(root / TRACE) != "file":
        return ""
    trace = read_trace(root)
    last = f"the last build into {shown} was broken off"
    if trace is None:
        return f"{last}, nobody knows where"
    far = how_far(root, trace)
    return f"{last} {far}, so its sheets are {far.state}" if far.state else f"{last} {far}"


def check_folder(out: Path) -> list[str]:
    """Return what is wrong with the build in ``out``, in sentences; nothing if it is whole."""
    shown = named(out)
    try:
        unfinished = broken_off(out, shown)
        manifest = read_manifest(out)
        files = manifest.files if manifest is not None else {}
        wrong = [name for name, one in sorted(files.items()) if digest(out / name) != one]
        missing = [name for name in wrong if kind(out / name) == "nothing"]
    except (OSError, ValueError) as error:
        return [f"cannot read {shown}: {reason(error)}"]
    if manifest is None and not unfinished:
        return [f"{shown} holds no build; name the folder that you built into"]
    changed = [name for name in wrong if name not in missing]
    sentences = [f"{unfinished}; build again"] if unfinished else []
    if missing:
        sentences.append(f"missing in {shown}: {listed(missing)}; build again")
    if changed:
        sentences.append(f"not as built in {shown}: {listed(changed)}; build again")
    if manifest is not None and manifest.older:
        older = listed(sorted(manifest.older))
        sentences.append(f"older than the rest in {shown}: {older}; build again")
    return sentences


def _json_object(content: bytes) -> dict[str, Any]:
    try:
        data = json.loads(content)
    except (ValueError, RecursionError):
        return {}
    return data if isinstance(data, dict) else {}
