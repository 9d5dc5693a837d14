"""``night.json``: the whole night as data, and the list of the files that were made from it.

Beside what `NightData` holds it has the version of Setwright that wrote it and, for every other
file of the build, its SHA-256 (FIPS 180-4), so that anybody can tell whether a folder is whole.
A build of some kinds of files alone leaves the others as an earlier build made them: they stay in
the list, and those that were made from another state of the book are named.
"""

from __future__ import annotations

import hashlib
import re
from collections.abc import Mapping
from importlib.metadata import version
from typing import Annotated, NamedTuple

from pydantic import Field, StringConstraints
from pydantic_core import to_json

from setwright.compiler.outputs.data import NightData

NIGHT_JSON = "night.json"
"""The name of the file."""

_ZEROS = "0" * 64
# JSON has none of these but within its texts (RFC 8259, 7).
_BEYOND_ASCII = re.compile("[^\\x00-\\x7e]")

Digest = Annotated[str, StringConstraints(pattern="^[0-9a-f]{64}$")]


class NightFile(NightData):
    """A night on its rig, from songs to bytes, and the files that were made from it."""

    setwright: str = Field(description="The version of Setwright that wrote it.")
    files: dict[str, Digest] = Field(
        description="Every other file of the build: its path below the folder of this file, "
        "with forward slashes, and its SHA-256 in lower-case hexadecimal."
    )
    made_from: Digest = Field(
        description="The SHA-256 of what this file says but for its lists of files: two builds of "
        "one state of the book have the same."
    )
    older: dict[str, str] = Field(
        description="Which of the files an earlier build made from another state of the book, as "
        "this one made some kinds of files alone: made_from of that build, or nothing where nobody "
        "knows it. Where none is named, all files belong together."
    )
    itself: Digest = Field(
        description="The SHA-256 of this file as it would be with 64 zeros here, in lower-case "
        "hexadecimal: so anybody can tell whether it was changed."
    )


class Staying(NamedTuple):
    """A file of an earlier build that stays as it is: its SHA-256, and what it was made from.

    ``made_from`` is nothing where nobody knows.
    """

    digest: str
    made_from: str


def night_json(
    data: NightData, files: Mapping[str, bytes], staying: Mapping[str, Staying] | None = None
) -> bytes:
    """Return the content of ``night.json``: ASCII, the same bytes for the same night and files.

    ``files`` holds every other file of the build by its path below the folder; ``staying`` those
    of an earlier build that this one leaves as they are.
    """
    night = data.model_dump(mode="json")
    says = {"format": night.pop("format"), "setwright": version("setwright"), **night}
    made_from = hashlib.sha256(to_json(says)).hexdigest()
    stay = staying or {}
    digests = {name: one.digest for name, one in stay.items()}
    digests |= {name: hashlib.sha256(content).hexdigest() for name, content in files.items()}
    older = {name: one.made_from for name, one in stay.items() if one.made_from != made_from}
    whole = {
        **says,
        "files": dict(sorted(digests.items())),
        "made_from": made_from,
        "older": dict(sorted(older.items())),
        "itself": _ZEROS,
    }
    content = _ascii_json(whole)
    return _with_itself(content, hashlib.sha256(content).hexdigest())


def _ascii_json(whole: object) -> bytes:
    """Return ``whole`` as JSON in ASCII, indented by one; the library's own writer is quick."""
    text = to_json(whole, indent=1).decode("utf-8")
    return (_BEYOND_ASCII.sub(_escape, text) + "\n").encode("ascii")


def _escape(match: re.Match[str]) -> str:
    """Return one sign as JSON escapes it: in UTF-16, so twice beyond U+FFFF (RFC 8259, 7)."""
    units = match.group().encode("utf-16-be").hex()
    return "".join(f"\\u{units[at : at + 4]}" for at in range(0, len(units), 4))


def is_as_written(content: bytes, itself: object) -> bool:
    """Tell whether a ``night.json`` that says ``itself`` of itself was not changed since."""
    blank = _with_itself(content, _ZEROS, str(itself))
    return hashlib.sha256(blank).hexdigest() == itself


def _with_itself(content: bytes, new: str, old: str = _ZEROS) -> bytes:
    """Return ``content`` with another digest of itself; it is the last thing in it."""
    before, _, after = content.rpartition(old.encode())
    return before + new.encode() + after
