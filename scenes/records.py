"""What a record is: declared fields, what may be said in short, and the validator of both.

`Record` is the base of everything that a file can hold. A record class knows nothing of files
and findings: `setwright.scenes.reading` reads documents by it.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field
from functools import cache
from types import UnionType
from typing import (
    Annotated,
    Any,
    ClassVar,
    NoReturn,
    Self,
    Union,
    cast,
    dataclass_transform,
    get_args,
    get_origin,
)

# Only the core of pydantic: its model classes would double the time that it takes to start.
from pydantic_core import (
    CoreSchema,
    PydanticCustomError,
    SchemaValidator,
    core_schema,
)

from setwright.scenes import fields
from setwright.scenes.finding import Place
from setwright.scenes.names import suggestion
from setwright.scenes.places import KeyPath, Spot
from setwright.scenes.quantities import Slip, quoted
from setwright.scenes.wording import with_article

TEXT_OR_NUMBER: dict[str, Any] = {"type": ["string", "number"]}
"""JSON Schema of a scalar that editors may take for a number (YAML 1.2.2, core schema)."""


@dataclass(frozen=True, eq=False)
class Reads:
    """Field metadata: how the text of a scalar becomes a value, and what editors are told.

    ``parse`` takes the typed text and raises `Slip`; ``schema`` is a JSON Schema fragment.
    """

    parse: Callable[[str], Any]
    schema: dict[str, Any] = field(default_factory=lambda: dict(TEXT_OR_NUMBER))
    # A book says the same tempos, forms and names many times over; values are immutable.
    _known: dict[str, Any] = field(default_factory=dict)

    def read(self, value: Any) -> Any:
        """Return what ``value``, a text, stands for; raises the error that a validator collects."""
        if not isinstance(value, str):
            raise _shape_error("one value", value)
        known = self._known.get(value)
        if known is not None:
            return known
        if not value.strip():
            raise slip_error(
                Slip("empty-value", "nothing stands here", "write a value, or delete the line")
            )
        try:
            result = self._known[value] = self.parse(value)
        except Slip as slip:
            raise slip_error(slip) from None
        return result


def slip_error(slip: Slip) -> PydanticCustomError:
    """Return ``slip`` as the error that pydantic collects."""
    return PydanticCustomError(
        "slip", "{message}", {"code": slip.code, "message": slip.message, "help": slip.way_out}
    )


def one_of(*choices: str) -> Reads:
    """Return the metadata of a field that takes one of a few words."""

    def parse(text: str) -> str:
        word = " ".join(text.split()).lower()
        if word in choices:
            return word
        raise Slip(
            "unknown-choice",
            f"{quoted(text)} is none of {', '.join(choices)}",
            suggestion(word, choices, ""),
        )

    return Reads(parse, {"enum": list(choices)})


_PATH = "key path"
"""Where a record keeps its key path: no field, so it takes no part in comparing records."""


@dataclass_transform(kw_only_default=True, frozen_default=True, field_specifiers=(fields.field,))
class Record:
    """A frozen record that keeps its key path; its place stands in the file's place table.

    Its fields are declared with `setwright.scenes.fields.field`; `model_validate` reads them
    from plain data.
    """

    # The validator fills these in for every model class.
    __slots__ = (
        "__dict__",
        "__pydantic_extra__",
        "__pydantic_fields_set__",
        "__pydantic_private__",
    )

    model_fields: ClassVar[dict[str, fields.Field]] = {}
    """The declared fields, by attribute name."""
    noun: ClassVar[str] = "entry"
    """What this record is called in sentences."""
    short: ClassVar[str | None] = None
    """The key whose value may stand for the whole record (``Lift: frost``), if any."""
    alternatives: ClassVar[tuple[str, ...]] = ()
    """Keys of which a record has one: where files are joined, one shuts out the others."""

    @property
    def path(self) -> KeyPath:
        """The key path, from the part of the book (night, rig, switcher, songs) on."""
        path: KeyPath = self.__dict__[_PATH]
        return path

    @classmethod
    def expand(cls, data: Any) -> Any:
        """Return ``data`` with everything that may be said in short said at length."""
        if cls.short is not None and isinstance(data, str) and data.strip():
            return {cls.short: data}
        return data

    def __init_subclass__(cls) -> None:
        """Collect the declared fields; no class attribute stays where a value is missing."""
        cls.model_fields = {
            name: declared.of(name, annotation)
            for name, annotation in cls.__annotations__.items()
            if isinstance(declared := cls.__dict__.get(name), fields.Field)
        }
        for name in cls.model_fields:
            delattr(cls, name)

    def __init__(self, **said: Any) -> None:
        """Make a record of values that are known to fit, by attribute name.

        TypeError for a name that is no field; what is not said takes its default.
        """
        unknown = said.keys() - type(self).model_fields.keys()
        if unknown:
            raise TypeError(f"{type(self).__name__} has no {', '.join(sorted(unknown))}")
        for name, declared in type(self).model_fields.items():
            self.__dict__[name] = said[name] if name in said else declared.unsaid()

    @classmethod
    def model_validate(cls, data: Any) -> Self:
        """Return ``data``, as a file holds it, as a record; ValidationError if it does not fit."""
        # Type checkers take no plain class for hashable where it stands for an argument.
        hashable: Any = cls
        return cast("Self", _validator(hashable).validate_python(data))

    def __setattr__(self, name: str, value: object) -> NoReturn:
        raise AttributeError(f"{with_article(self.noun)} is frozen: {name} cannot be set")

    def __delattr__(self, name: str) -> NoReturn:
        raise AttributeError(f"{with_article(self.noun)} is frozen: {name} cannot be deleted")

    def __eq__(self, other: object) -> bool:
        # Many fields are lists and mappings: like those, a record has a value but no hash.
        if not isinstance(other, Record):
            return NotImplemented
        return type(self) is type(other) and self._values() == other._values()

    def __repr__(self) -> str:
        said = zip(type(self).model_fields, self._values(), strict=True)
        return f"{type(self).__name__}({', '.join(f'{name}={value!r}' for name, value in said)})"

    def _values(self) -> tuple[Any, ...]:
        return tuple(self.__dict__[name] for name in type(self).model_fields)

    @classmethod
    def _expand_and_check_keys(cls, data: Any) -> Any:
        data = cls.expand(data)
        if isinstance(data, str) and not data.strip():
            raise slip_error(
                Slip(
                    "empty-value",
                    f"nothing stands where {with_article(cls.noun)} belongs",
                    "write it, indented below, or delete the line",
                )
            )
        if not isinstance(data, dict):
            raise _shape_error(f"{with_article(cls.noun)} (names with values)", data)
        known = keys_of(cls)
        unknown = [key for key in data if key not in known]
        if unknown:
            # All at once: with one a round the whole file would be read for each of them.
            raise PydanticCustomError(
                "unknown_key",
                "unknown key",
                {
                    "keys": unknown,
                    "noun": cls.noun,
                    "known": list(known),
                    "free": [name for name in known if name not in data],
                },
            )
        return data


_KEYS: dict[Any, dict[str, str]] = {}


def keys_of(cls: Any) -> dict[str, str]:
    """Return the keys that ``cls`` knows in files, each with its attribute's name."""
    keys = _KEYS.get(cls)
    if keys is None:
        keys = _KEYS[cls] = {info.key: name for name, info in cls.model_fields.items()}
    return keys


@cache
def record_keys(cls: Any) -> tuple[tuple[str, str], ...]:
    """Return (key, attribute's name) of the fields of ``cls`` that may hold records."""
    return tuple(
        (key, name)
        for key, name in keys_of(cls).items()
        if _may_hold_records(cls.model_fields[name].annotation)
    )


def _may_hold_records(annotation: Any) -> bool:
    if isinstance(annotation, type) and issubclass(annotation, Record):
        return True
    return any(map(_may_hold_records, getattr(annotation, "__args__", ())))


@cache
def _validator(cls: Any) -> SchemaValidator:
    return SchemaValidator(record_schema(cls))


def record_schema(cls: type[Record]) -> CoreSchema:
    """Return the core schema of ``cls``: what pydantic's core validates by."""
    made = {name: _field_schema(declared) for name, declared in cls.model_fields.items()}
    return core_schema.model_schema(
        cls,
        core_schema.no_info_before_validator_function(
            cls._expand_and_check_keys,
            core_schema.model_fields_schema(made, model_name=cls.__name__),
        ),
    )


def _field_schema(declared: fields.Field) -> core_schema.ModelField:
    schema = _value_schema(declared.annotation)
    if declared.default_factory is not None:
        schema = core_schema.with_default_schema(schema, default_factory=declared.default_factory)
    elif not declared.required:
        schema = core_schema.with_default_schema(schema, default=declared.default)
    return core_schema.model_field(schema, validation_alias=declared.key)


def _value_schema(annotation: Any) -> CoreSchema:
    """Return the core schema of a field's annotation; TypeError for what no field may be."""
    origin, arguments = get_origin(annotation), get_args(annotation)
    if origin is Annotated:
        inner, how = arguments
        if isinstance(how, Reads):
            return core_schema.no_info_plain_validator_function(how.read)
        assert isinstance(how, fields.Before), how
        return core_schema.no_info_before_validator_function(how.func, _value_schema(inner))
    if origin in (Union, UnionType) and type(None) in arguments:
        return core_schema.nullable_schema(_value_schema(_without_none(annotation)))
    if origin is list:
        return core_schema.list_schema(_value_schema(arguments[0]))
    if origin is dict:
        return core_schema.dict_schema(*map(_value_schema, arguments))
    if annotation is str:
        return core_schema.str_schema()
    if isinstance(annotation, type) and issubclass(annotation, Record):
        return record_schema(annotation)
    raise TypeError(f"no field can be {annotation!r}")


def set_paths(value: Any, path: KeyPath) -> None:
    """Give ``value``, and all that is in it, its key path."""
    if isinstance(value, Record):
        value.__dict__[_PATH] = path
        hashable: Any = type(value)
        for key, name in record_keys(hashable):
            inner = getattr(value, name)
            if inner is not None:
                set_paths(inner, (*path, key))
    elif isinstance(value, dict):
        for key, inner in value.items():
            set_paths(inner, (*path, key))
    elif isinstance(value, list | tuple):
        for index, inner in enumerate(value):
            if not isinstance(inner, str):
                set_paths(inner, (*path, index))


def place_for(spot: Spot, path: KeyPath, owner: type[Record] | None, key: str) -> Place:
    """Return where ``key`` of the record at ``path`` would stand: after which other key.

    The usual order is that of the record's fields; where nothing that usually follows is
    there, it would stand at the end.
    """
    node: Spot | None = spot
    for step in path:
        node = node.child(step) if node is not None else None
    present = list(node.keys or ()) if node is not None else []
    if node is None or not node.keys or owner is None:
        return spot.find_key(path) if path else spot.place
    usual = list(keys_of(owner))
    at = usual.index(key)
    before = [name for name in usual[:at] if name in present]
    after = [name for name in usual[at + 1 :] if name in present]
    neighbour = present[-1] if not after else before[-1] if before else present[0]
    return node.keys[neighbour].place


def record_at(cls: type[Record], path: KeyPath) -> type[Record] | None:
    """Return the record class of the value at ``path`` within ``cls``, if it is a record."""
    current: Any = cls
    for part in path:
        if isinstance(current, type) and issubclass(current, Record):
            name = keys_of(current).get(str(part))
            current = current.model_fields[name].annotation if name else None
        else:
            current = _inner(current)
        current = _without_none(current)
    return current if isinstance(current, type) and issubclass(current, Record) else None


def _inner(annotation: Any) -> Any:
    """Return what a list or mapping annotation holds."""
    arguments = getattr(annotation, "__args__", ())
    return arguments[-1] if arguments and arguments[-1] is not ... else next(iter(arguments), None)


def _without_none(annotation: Any) -> Any:
    arguments = [a for a in getattr(annotation, "__args__", ()) if a is not type(None)]
    is_union = type(None) in getattr(annotation, "__args__", ())
    return arguments[0] if is_union and arguments else annotation


NAMES_WITH_VALUES = "names with values"
_SHAPES: dict[type[Any], str] = {str: "a single value", list: "a list", dict: NAMES_WITH_VALUES}


def _shape_error(wanted: str, value: Any) -> PydanticCustomError:
    return slip_error(
        Slip(
            "wrong-shape",
            misplaced(value, wanted),
            f"write {wanted}",
        )
    )


def misplaced(value: Any, wanted: str) -> str:
    """Return the sentence about a value that is no ``wanted``."""
    found = _SHAPES.get(type(value), "something else")
    stands = "stand" if found == NAMES_WITH_VALUES else "stands"
    return (
        f"{found} {stands} where {wanted} {'belong' if wanted == NAMES_WITH_VALUES else 'belongs'}"
    )


def one_or_many(data: Any) -> Any:
    """Return a list: a single text is a list of one (``add: lead``)."""
    return [data] if isinstance(data, str) and data.strip() else data


def entry(data: Any) -> Any:
    """Return ``{name: {}}`` for a bare name, so that list items are always one-entry mappings."""
    if isinstance(data, str) and data.strip():
        return {data: {}}
    if isinstance(data, dict) and len(data) != 1:
        raise slip_error(
            Slip(
                "wrong-shape",
                "one name with one value belongs into each item of this list",
                "begin every item with - on a line of its own; put details in braces: "
                "- Name: {at: round 2 A}",
            )
        )
    return data
