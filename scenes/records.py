"""From plain data to frozen, typed records, with one finding for each slip.

`Record` is the base of everything that a file can hold. `read_record` validates a document
against a record class; what does not fit becomes a finding at its exact place and is left
out, so that the rest of the file is still read and judged in the same run.
"""

from __future__ import annotations

import re
from collections.abc import Callable
from dataclasses import dataclass, field
from functools import cache
from types import UnionType
from typing import (
    Annotated,
    Any,
    ClassVar,
    Generic,
    NoReturn,
    Self,
    TypeVar,
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
    ValidationError,
    core_schema,
)

from setwright.scenes import fields
from setwright.scenes.finding import Finding, Place, Severity
from setwright.scenes.names import Nearest, nearest, suggestion
from setwright.scenes.places import KeyPath, Spot
from setwright.scenes.quantities import Slip, quoted
from setwright.scenes.text import Document
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
        known = _keys(cls)
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


def _keys(cls: Any) -> dict[str, str]:
    """Return the keys that ``cls`` knows in files, each with its attribute's name."""
    keys = _KEYS.get(cls)
    if keys is None:
        keys = _KEYS[cls] = {info.key: name for name, info in cls.model_fields.items()}
    return keys


@cache
def _record_keys(cls: Any) -> tuple[tuple[str, str], ...]:
    """Return (key, attribute's name) of the fields of ``cls`` that may hold records."""
    return tuple(
        (key, name)
        for key, name in _keys(cls).items()
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


R = TypeVar("R", bound=Record)


@dataclass(slots=True)
class Reading(Generic[R]):
    """What came out of one file: the record (None if nothing fits), places and findings.

    ``broken`` holds the key paths that were left out because of a finding, so that later
    phases do not complain about what is missing there; ``removed`` holds what stood there;
    ``overruled`` is the document's.
    """

    record: R | None
    spot: Spot
    findings: list[Finding]
    root: str
    broken: set[KeyPath] = field(default_factory=set)
    removed: list[tuple[KeyPath, Any]] = field(default_factory=list)
    overruled: list[tuple[KeyPath, Spot]] = field(default_factory=list)


def read_record(cls: type[R], document: Document, root: str) -> Reading[R]:
    """Validate ``document`` as ``cls``; never raises, total in the size of the document.

    ``root`` becomes the first step of the key path of every record in it.
    """
    reading: Reading[R] = Reading(None, document.spot, list(document.findings), root)
    reading.overruled = [((root, *path), spot) for path, spot in document.overruled]
    data = document.data
    if data is None:
        reading.broken.add((root,))
        return reading
    if data == "" or data == {}:
        reading.broken.add((root,))
        reading.findings.append(
            Finding(
                "file-empty",
                Severity.ERROR,
                f"this file holds no {cls.noun}",
                Place.at(document.spot.source, 1, 1, 1, 1),
                "write one: ‘setwright new FOLDER’ makes files to begin with",
            )
        )
        return reading
    # Each round takes at least one faulty value out, so the loop ends.
    while True:
        try:
            record = cls.model_validate(data)
        except ValidationError as error:
            if not _take_out(cls, data, reading, error):
                return reading
        else:
            _set_paths(record, (root,))
            reading.record = record
            return reading


def _set_paths(value: Any, path: KeyPath) -> None:
    if isinstance(value, Record):
        value.__dict__[_PATH] = path
        hashable: Any = type(value)
        for key, name in _record_keys(hashable):
            inner = getattr(value, name)
            if inner is not None:
                _set_paths(inner, (*path, key))
    elif isinstance(value, dict):
        for key, inner in value.items():
            _set_paths(inner, (*path, key))
    elif isinstance(value, list | tuple):
        for index, inner in enumerate(value):
            if not isinstance(inner, str):
                _set_paths(inner, (*path, index))


def _take_out(cls: type[Record], data: Any, reading: Reading[Any], error: ValidationError) -> bool:
    """Make findings of ``error`` and take what is faulty out of ``data``.

    Returns False when nothing is left to validate.
    """
    doomed: list[KeyPath] = []
    broken = _by_holder(reading)
    missing: dict[KeyPath, list[str]] = {}
    empty: list[KeyPath] = []
    for item in error.errors(include_url=False, include_input=True):
        path: KeyPath = tuple(part for part in item["loc"] if part != "[key]")
        context = item.get("ctx", {})
        if item["type"] == "unknown_key":
            for key in context["keys"]:
                near = _unknown_key(reading, path, key, context)
                if near is None:
                    doomed.append((*path, key))
                else:
                    context["free"].remove(near)
                    _rename(data, reading.spot, path, key, near)
            continue
        if item["type"] == "missing":
            # What was there and did not fit has been found; that it is gone is no news.
            if not _follows(broken, (reading.root, *path)):
                missing.setdefault(path[:-1], []).append(str(path[-1]))
            doomed.append(path[:-1])
            continue
        place = reading.spot.find(path)
        if item["type"] == "slip":
            code, message, way_out = context["code"], context["message"], context["help"]
        else:
            code, message, way_out = _shape_sentence(item["type"], item.get("input"))
        reading.findings.append(Finding(code, Severity.ERROR, message, place, way_out))
        doomed.append(path)
        if code == "empty-value":
            empty.append(path)
    for path, keys in missing.items():
        # A record that breaks off with an empty value goes on nowhere: that is one slip.
        if not any(other[:-1] == path for other in empty):
            reading.findings.append(_missing(cls, reading, path, keys))
    alive = True
    # Later list items first, so that the earlier indices stay right.
    for path in sorted(set(doomed), key=_deepest_last_item_first, reverse=True):
        alive = _delete(data, reading, path) and alive
    return alive


def _by_holder(reading: Reading[Any]) -> dict[KeyPath, list[str | int]]:
    """Return what was left out so far: the path of what held it → its keys there."""
    result: dict[KeyPath, list[str | int]] = {}
    for path in reading.broken:
        result.setdefault(path[:-1], []).append(path[-1])
    return result


def _follows(broken: dict[KeyPath, list[str | int]], path: KeyPath) -> bool:
    """Tell whether the key at the end of ``path`` is missing only because of another finding.

    It stood there and did not fit; or a key that this record does not know, and that is like
    it, was taken out (``volts:9 V`` for ``volts: 9 V``).
    """
    siblings = broken.get(path[:-1], ())
    wanted = str(path[-1])
    return path[-1] in siblings or any(
        nearest(re.split(r"[:\s]", str(one))[0], [wanted]) for one in siblings
    )


def _deepest_last_item_first(path: KeyPath) -> tuple[tuple[int, str], ...]:
    return tuple((part, "") if isinstance(part, int) else (-1, part) for part in path)


def _unknown_key(reading: Reading[Any], path: KeyPath, key: str, context: Any) -> str | None:
    """Make the finding; return the key that was probably meant, if its value can be read."""
    known, free = context["known"], context["free"]
    name, colon, rest = key.partition(":")
    likely = Nearest(free)
    near = likely.to(name.strip())
    way_out = suggestion(
        name.strip(), known, "", likely if near else None, listed=len(context["known"])
    )
    if colon and near and rest:
        way_out = f"put a space after the colon: {near}: {rest.strip()}"
    reading.findings.append(
        Finding(
            "unknown-key",
            Severity.ERROR,
            f"{with_article(context['noun'])} has no {quoted(key)}",
            reading.spot.find_key((*path, key)),
            way_out,
        )
    )
    value = reading.spot
    for step in (*path, key):
        value = value.child(step) or value
    return None if colon or value.text == "" else near


def _missing(cls: type[Record], reading: Reading[Any], path: KeyPath, keys: list[str]) -> Finding:
    owner = record_at(cls, path)
    noun = owner.noun if owner is not None else "entry"
    lacking = " and no ".join(quoted(key) for key in keys)
    return Finding(
        "missing-key",
        Severity.ERROR,
        f"this {noun} has no {lacking}",
        place_for(reading.spot, path, owner, keys[0]),
        f"add {' and '.join(f'{key}:' for key in keys)} below this line, with what belongs there",
    )


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
    usual = list(_keys(owner))
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
            name = _keys(current).get(str(part))
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


def _rename(data: Any, spot: Spot, path: KeyPath, old: str, new: str) -> None:
    """Read ``old`` as if ``new`` had been typed, so that one slip gives one finding."""
    holder, place = _walk(data, spot, path)
    if not isinstance(holder, dict) or old not in holder or new in holder:
        return
    holder[new] = holder.pop(old)
    if place is not None and place.keys is not None and place.entries is not None:
        place.keys[new] = place.keys.pop(old)
        place.entries[new] = place.entries.pop(old)


def _walk(data: Any, spot: Spot | None, path: KeyPath) -> tuple[Any, Spot | None]:
    for part in path:
        try:
            data = data[part]
        except (KeyError, IndexError, TypeError):
            return None, None
        spot = spot.child(part) if spot is not None else None
    return data, spot


def _delete(data: Any, reading: Reading[Any], path: KeyPath) -> bool:
    """Take the value at ``path`` out of data and place table; False if that is everything.

    A path that exists only in the long form of something said in short takes out the short
    form as a whole.
    """
    while path:
        holder, spot = _walk(data, reading.spot, path[:-1])
        last = path[-1]
        if isinstance(holder, dict) and last in holder:
            reading.removed.append(((reading.root, *path), holder.pop(last)))
            reading.broken.add((reading.root, *path))
            if spot is not None and spot.entries is not None and spot.keys is not None:
                spot.entries.pop(str(last), None)
                spot.keys.pop(str(last), None)
            if holder or len(path) == 1:
                return True
            # With its only entry gone, the holder would only give a second finding.
            path = path[:-1]
            continue
        if isinstance(holder, list) and isinstance(last, int) and last < len(holder):
            reading.removed.append(((reading.root, *path), holder.pop(last)))
            if spot is not None and spot.items is not None:
                spot.items.pop(last)
            return True
        path = path[:-1]
    reading.broken.add((reading.root,))
    return False


NAMES_WITH_VALUES = "names with values"
_SHAPES: dict[type[Any], str] = {str: "a single value", list: "a list", dict: NAMES_WITH_VALUES}


def _shape_error(wanted: str, value: Any) -> PydanticCustomError:
    return slip_error(
        Slip(
            "wrong-shape",
            _misplaced(value, wanted),
            f"write {wanted}",
        )
    )


def _misplaced(value: Any, wanted: str) -> str:
    """Return the sentence about a value that is no ``wanted``."""
    found = _SHAPES.get(type(value), "something else")
    stands = "stand" if found == NAMES_WITH_VALUES else "stands"
    return (
        f"{found} {stands} where {wanted} {'belong' if wanted == NAMES_WITH_VALUES else 'belongs'}"
    )


def _shape_sentence(kind: str, value: Any) -> tuple[str, str, str]:
    wanted = {
        "list_type": "a list",
        "tuple_type": "a list",
        "dict_type": NAMES_WITH_VALUES,
        "model_type": NAMES_WITH_VALUES,
        "string_type": "a single value",
    }.get(kind)
    if wanted is None:
        return "wrong-shape", "this does not belong here", "see ‘setwright schema’ for what may"
    if isinstance(value, str) and not value.strip():
        return "empty-value", "nothing stands here", f"write {wanted}, or delete the line"
    return "wrong-shape", _misplaced(value, wanted), f"write {wanted}"


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
