"""The JSON Schema of ``night.json``, for whoever reads it with a program."""

from __future__ import annotations

import json
from typing import Any

from pydantic.json_schema import GenerateJsonSchema

from setwright.compiler.outputs.data import FORMAT
from setwright.compiler.outputs.night_json import NightFile

KIND = "night-data"
"""What its schema is called beside those of the files that a book is made of."""


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
