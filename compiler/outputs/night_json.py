"""``night.json``: the whole night as data, and the list of the files that were made from it.

Beside what `NightData` holds it has the version of Setwright that wrote it and, for every other
file of the build, its SHA-256 (FIPS 180-4), so that anybody can tell whether a folder is whole.
"""

from __future__ import annotations

import hashlib
import json
from collections.abc import Mapping
from importlib.metadata import version
from typing import Annotated, Any

from pydantic import Field, StringConstraints
from pydantic.json_schema import GenerateJsonSchema

from setwright.compiler.outputs.data import FORMAT, NightData

NIGHT_JSON = "night.json"
"""The name of the file."""
KIND = "night-data"
"""What its schema is called beside those of the files that a book is made of."""

_ZEROS = "0" * 64

Digest = Annotated[str, StringConstraints(pattern="^[0-9a-f]{64}$")]


class NightFile(NightData):
    """A night on its rig, from songs to bytes, and the files that were made from it."""

    setwright: str = Field(description="The version of Setwright that wrote it.")
    files: dict[str, Digest] = Field(
        description="Every other file of the build: its path below the folder of this file, "
        "with forward slashes, and its SHA-256 in lower-case hexadecimal."
    )
    itself: Digest = Field(
        description="The SHA-256 of this file as it would be with 64 zeros here, in lower-case "
        "hexadecimal: so anybody can tell whether it was changed."
    )


def night_json(data: NightData, files: Mapping[str, bytes]) -> bytes:
    """Return the content of ``night.json``: ASCII, the same bytes for the same night and files.

    ``files`` holds every other file of the build by its path below the folder.
    """
    night = data.model_dump(mode="json")
    whole = {
        "format": night.pop("format"),
        "setwright": version("setwright"),
        **night,
        "files": {name: hashlib.sha256(files[name]).hexdigest() for name in sorted(files)},
        "itself": _ZEROS,
    }
    content = (json.dumps(whole, ensure_ascii=True, indent=1) + "\n").encode("ascii")
    return _with_itself(content, hashlib.sha256(content).hexdigest())


def is_as_written(content: bytes, itself: object) -> bool:
    """Tell whether a ``night.json`` that says ``itself`` of itself was not changed since."""
    blank = _with_itself(content, _ZEROS, str(itself))
    return hashlib.sha256(blank).hexdigest() == itself


def _with_itself(content: bytes, new: str, old: str = _ZEROS) -> bytes:
    """Return ``content`` with another digest of itself; it is the last thing in it."""
    before, _, after = content.rpartition(old.encode())
    return before + new.encode() + after


class _WithoutTitles(GenerateJsonSchema):
    """JSON Schema in which a field goes by its name alone."""

    def field_title_should_be_set(self, schema: Any) -> bool:
        """Return False."""
        return False


def night_schema() -> dict[str, Any]:
    """Return the JSON Schema (2020-12) of ``night.json``."""
    made = NightFile.model_json_schema(mode="serialization", schema_generator=_WithoutTitles)
    made["title"] = f"Setwright: {KIND}"
    made["properties"]["format"] = {"const": FORMAT, "description": "Version of this format."}
    made["required"] = list(made["properties"])
    definitions = made.pop("$defs")
    return {
        "$schema": "https://json-schema.org/draft/2020-12/schema",
        **made,
        "$defs": dict(sorted(definitions.items())),
    }


def night_schema_text() -> str:
    """Return the text of the schema's file, ``night-data.schema.json``."""
    return json.dumps(night_schema(), ensure_ascii=False, indent=2) + "\n"
