"""JSON Schema of the four kinds of files, so that editors help while a book is typed.

Made from the records themselves, so that it cannot drift from what the reader accepts. What
the reader accepts, a schema never refuses, once a scalar is taken as the YAML 1.2.2 core
schema takes it (section 10.3); the other way round it is looser, for ‘setwright check’ knows
more than an editor can. There is one exception: plain ``true``, ``false`` and ``null`` are no
text to an editor, so a name of that kind needs quotes there.

The dialect is JSON Schema 2020-12: there a description may stand beside a ``$ref``. The
keywords ``errorMessage``, ``patternErrorMessage`` and ``doNotSuggest`` are read by editors and
mean nothing to others (JSON Schema Core 2020-12, section 6.5: unknown keywords are
annotations).
"""

from __future__ import annotations

import inspect
import json
import re
from typing import TYPE_CHECKING, Any, Final, cast

from pydantic.json_schema import GenerateJsonSchema, JsonRef

from setwright.scenes.night import Night, Playing
from setwright.scenes.records import Reads, Record, entry, record_schema
from setwright.scenes.rig import Rig
from setwright.scenes.songs import SongBook
from setwright.scenes.switcher import Switcher

if TYPE_CHECKING:
    from collections.abc import Callable

    from pydantic_core import core_schema


Schema = dict[str, Any]

_RECORDS: Final[dict[str, type[Record]]] = {
    "songs": SongBook,
    "switcher": Switcher,
    "rig": Rig,
    "night": Night,
}
KINDS: Final = tuple(_RECORDS)
"""The kinds of files that a book is made of."""
DIALECT: Final = "https://json-schema.org/draft/2020-12/schema"


def schema_of(kind: str) -> Schema:
    """Return the JSON Schema (2020-12) of one of `KINDS`; KeyError for any other word."""
    made = _ForEditors(_RECORDS[kind]).generate(record_schema(_RECORDS[kind]))
    definitions = made.pop("$defs", {})
    made["title"] = title(kind)
    if kind == "rig":
        made |= _whole_unless_included(made, definitions)
    made = {"$schema": DIALECT, **made, "$defs": dict(sorted(definitions.items()))}
    return cast("Schema", _with_portable_patterns(made))


def title(kind: str) -> str:
    """Return what the schema of ``kind`` calls itself."""
    return f"Setwright: {kind}"


def file_name(kind: str) -> str:
    """Return the name of the file that holds the schema of ``kind``."""
    return f"{kind}.schema.json"


def schema_text(kind: str) -> str:
    """Return the text of that file; the same for the same version of Setwright."""
    return json.dumps(schema_of(kind), ensure_ascii=False, indent=2) + "\n"


# Making a schema from records.

_TEXT: Final = "x"
"""A text to try out what stands for what where something is said in short."""
_SCALAR: Final = ("string", "number", "integer", "boolean")


class _ForEditors(GenerateJsonSchema):
    """The JSON Schema of records as files hold them, with what may be said in short."""

    def sort(self, value: Any, parent_key: str | None = None) -> Any:
        """Keep the order of the records: editors offer the keys in it."""
        return value

    def __init__(self, root: type[Record]) -> None:
        super().__init__(by_alias=True)
        self._root = root

    def generate_inner(self, schema: Any) -> Schema:
        """Return the schema of anything; one of a few words is taken in any letters.

        Every record but that of the whole file gets a definition of its own.
        """
        if schema["type"] == "model" and schema["cls"] is not self._root:
            schema = schema | {"ref": schema["cls"].__name__}
        made = super().generate_inner(schema)
        return _in_any_letters(made) if "enum" in made else made

    def field_title_should_be_set(self, schema: Any) -> bool:
        """Return False: a field has no title, editors show that of its record instead."""
        return False

    def nullable_schema(self, schema: core_schema.NullableSchema) -> Schema:
        """Return what stands there if it is not left out; empty it may not be."""
        return self.generate_inner(schema["schema"])

    def default_schema(self, schema: core_schema.WithDefaultSchema) -> Schema:
        """Return the schema alone: the description says the default, editors would type it in."""
        return self.generate_inner(schema["schema"])

    def dict_schema(self, schema: core_schema.DictSchema) -> Schema:
        """Return names with values; the names are restricted only where they are numbers.

        Of a plain number as a key, editors know only patternProperties.
        """
        keys = self.generate_inner(schema["keys_schema"])
        value = self.generate_inner(schema["values_schema"])
        made: Schema = {"type": "object", "additionalProperties": value}
        if "integer" in _types(keys):
            made["additionalProperties"] = False
            made["patternProperties"] = {portable(keys["pattern"]): value}
        return made

    def model_schema(self, schema: core_schema.ModelSchema) -> Schema:
        """Return a record: its noun as title, and hover text for every key."""
        made = self.generate_inner(schema["schema"])
        cls = cast("type[Record]", schema["cls"])
        # What is said in short by one of a few words is an alternative, beside what is at length.
        at_length = next(one for one in made.get("anyOf", [made]) if "properties" in one)
        at_length["title"] = cls.noun
        at_length["description"] = inspect.cleandoc(cls.__doc__ or "")
        at_length["additionalProperties"] = False
        for info in cls.model_fields.values():
            key = at_length["properties"][info.key]
            key["description"] = info.in_full
            # A name of one's own shows what such names are for.
            for inner in (key.get("items"), key.get("additionalProperties")):
                if isinstance(inner, dict) and "$ref" not in inner:
                    inner.setdefault("description", key["description"])
        return made

    def function_plain_schema(self, schema: core_schema.PlainValidatorFunctionSchema) -> Schema:
        """Return what the reader of a text tells editors."""
        reads = cast("Reads", cast("Any", schema["function"]["function"]).__self__)
        return dict(reads.schema)

    def function_before_schema(self, schema: core_schema.BeforeValidatorFunctionSchema) -> Schema:
        """Return what is said at length or, where a function turns that into this, in short.

        The function itself is asked what it makes of a text and of a list.
        """
        function = cast("Callable[[Any], Any]", schema["function"]["function"])
        at_length = self.generate_inner(schema["schema"])
        record: type[Record] | None = getattr(function, "__self__", None)
        expand = record.expand if record is not None else function
        alternatives = [at_length]
        for said, kinds in ((_TEXT, _SCALAR), ([_TEXT], ("array",))):
            meant = expand(said)
            if meant != said:
                whole = self._place_of(said, meant, at_length, schema["schema"])
                alternatives.append(self._only(whole, kinds))
        made = _either(alternatives)
        if function is entry:
            made |= {"minProperties": 1, "maxProperties": 1}
        if record is Playing:
            made |= _ONE_OF_TWO_KEYS
        return made

    def _place_of(self, said: Any, meant: Any, at_length: Schema, core: Any) -> Schema:
        """Return the schema of the place where ``said`` came to stand within ``meant``."""
        if meant == [said]:
            return cast("Schema", at_length["items"])
        ((key, value),) = meant.items()
        if key == _TEXT and value == {}:
            names = self.generate_inner(core["keys_schema"])
            return names if said == _TEXT else {"type": "array", "items": names}
        properties = at_length.get("properties", {})
        return cast("Schema", properties.get(key) or at_length["additionalProperties"])

    def _only(self, schema: Schema, kinds: tuple[str, ...]) -> Schema:
        """Return the part of ``schema`` that takes values of ``kinds``."""
        if "$ref" in schema:
            found = self.get_schema_from_definitions(JsonRef(schema["$ref"]))
            assert found is not None, schema
            schema = found
        if "anyOf" in schema:
            return {"anyOf": schema["anyOf"]}
        words = ("items",) if kinds == ("array",) else _SCALAR_WORDS
        types = [one for one in _types(schema) if one in kinds]
        return {"type": types} | {word: schema[word] for word in words if word in schema}


_SCALAR_WORDS: Final = (
    "pattern",
    "minimum",
    "maximum",
    "examples",
    "errorMessage",
    "patternErrorMessage",
)

_ONE_OF_TWO_KEYS: Final[Schema] = {
    "if": {"type": "object", "not": {"required": ["straight into"]}},
    "then": {"required": ["song"]},
    "dependentSchemas": {"song": {"properties": {"straight into": False}}},
}
"""A song to play is named by ``song`` or by ``straight into``, by exactly one of them."""


def _types(schema: Schema) -> list[str]:
    types = schema.get("type", [])
    return [types] if isinstance(types, str) else list(types)


def _either(alternatives: list[Schema]) -> Schema:
    """Return what takes any of ``alternatives``, which differ in their types.

    Almost every keyword looks at values of one type only (JSON Schema Validation 2020-12,
    section 6), so they fit into one flat schema, for which editors have exact messages and
    offers; with anyOf they have to guess which alternative was meant.
    """
    if len(alternatives) == 1:
        return alternatives[0]
    if any("anyOf" in one for one in alternatives):
        return {"anyOf": [inner for one in alternatives for inner in one.get("anyOf", [one])]}
    made: Schema = {}
    for one in alternatives:
        assert not set(made).intersection(one) - {"type"}, (made, one)
        made |= one | {"type": _types(made) + _types(one)}
    if "errorMessage" in made:
        # It would stand for every error of the list or mapping, too.
        made["patternErrorMessage"] = made.pop("errorMessage")
    return made


def _in_any_letters(schema: Schema) -> Schema:
    """Return the schema of one of a few words, which the reader takes in any letters.

    The words stand in an enum of their own, for editors to offer; what the second
    alternative takes must not be in the first, or the hover text comes twice.
    """
    plain = "|".join(schema["enum"])
    spaced = plain.replace(" ", r"\s+")
    letters = {
        "title": " or ".join(schema["enum"]),
        "type": "string",
        "pattern": rf"^(?!({plain})$)\s*(?i:{spaced})\s*$",
    }
    return {"anyOf": [{"enum": schema["enum"]}, letters]}


def _with_portable_patterns(value: Any) -> Any:
    if isinstance(value, list):
        return [_with_portable_patterns(one) for one in value]
    if not isinstance(value, dict):
        return value
    return {
        key: portable(inner)
        if key == "pattern" and isinstance(inner, str)
        else _with_portable_patterns(inner)
        for key, inner in value.items()
    }


def portable(pattern: str) -> str:
    r"""Return ``pattern`` with each ``(?i:…)`` spelt out, letter by letter: ``[Mm][Ss]``.

    JSON Schema patterns are ECMA-262 regular expressions (JSON Schema Core 2020-12, section
    6.4), which had no such groups before 2025. Escapes and ``[…]`` stay as they are.
    """
    begin = pattern.find("(?i:")
    if begin < 0:
        return pattern
    end, depth = begin + len("(?i:"), 1
    while depth:
        depth += {"(": 1, ")": -1}.get(pattern[end], 0)
        end += 1
    inner = pattern[begin + len("(?i:") : end - 1]
    spelt = re.sub(r"(\\.|\[(?:\\.|[^]])*\])|([A-Za-z])", _both_letters, inner)
    return f"{pattern[:begin]}({spelt}){portable(pattern[end:])}"


def _both_letters(match: re.Match[str]) -> str:
    kept, letter = match.groups()
    return kept or f"[{letter.upper()}{letter.lower()}]"


def _whole_unless_included(schema: Schema, definitions: dict[str, Schema]) -> Schema:
    """Move what a rig must say, in every depth, to where it applies only to a whole rig.

    A rig that includes another file says only what differs, key by key; and a file without a
    switcher is no rig by itself, so it is there to be included. What such files leave out may
    stand in the other one.
    """
    must = _must(schema, definitions)
    for one in (schema, *definitions.values()):
        one.pop("required", None)
    whole = {"required": ["switcher"], "not": {"required": ["include"]}}
    return {"if": whole, "then": must}


def _must(schema: Schema, definitions: dict[str, Schema]) -> Schema:
    """Return nothing but the required keys of ``schema``, at their depths.

    ``doNotSuggest`` keeps editors from offering the keys on the way there a second time.
    """
    if "$ref" in schema:
        schema = definitions[schema["$ref"].removeprefix("#/$defs/")]
    made: Schema = {word: schema[word] for word in ("required",) if word in schema}
    inner = {
        key: must | {"doNotSuggest": True}
        for key, value in schema.get("properties", {}).items()
        if (must := _must(value, definitions))
    }
    if inner:
        made["properties"] = inner
    for word in ("items", "additionalProperties"):
        value = schema.get(word)
        if isinstance(value, dict) and (must := _must(value, definitions)):
            made[word] = must
    return made
