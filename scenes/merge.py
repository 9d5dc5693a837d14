"""Several files read as one: songs from many files, and units that stand in files of their own.

Runs on documents, before records are made, so that everything keeps the place in the file
where it was typed. What may be said in short is known from the records alone: whichever of two
files says something in short and whichever at length, they are joined as if both had said it at
length.
"""

from __future__ import annotations

from types import UnionType
from typing import Annotated, Any, NamedTuple, Union, get_args, get_origin

from setwright.scenes.fields import Before
from setwright.scenes.finding import Finding, Related, Severity
from setwright.scenes.places import KeyPath, Spot
from setwright.scenes.quantities import quoted
from setwright.scenes.records import Record
from setwright.scenes.text import Document


def append(first: Document, second: Document) -> None:
    """Add ``second`` to ``first``: songs follow one another, equal names are a finding."""
    mine, other = _Held(first.data, first.spot), _Held(second.data, second.spot)
    if isinstance(first.data, dict) and isinstance(second.data, dict):
        for key in list(second.data):
            if isinstance(first.data.get(key), list) and isinstance(second.data[key], list):
                _items(mine.entry(key).spot).extend(_items(other.entry(key).spot))
                first.data[key] += second.data.pop(key)
        for key, value in second.data.items():
            if isinstance(value, dict) and isinstance(first.data.get(key), dict):
                _unite(first, mine.entry(key), other.entry(key))
            elif value == "":
                first.findings.append(_empty(key, other))
            elif key in first.data and first.data[key] != "":
                first.findings.append(_twice(key, other, mine))
            elif key not in first.data:
                _put(mine, key, other)
    first.findings += second.findings


def underlay(top: Document, base: Document, kind: type[Record]) -> None:
    """Put ``base`` under ``top``: what ``top`` says wins, key by key, however deep.

    ``kind`` is the record that both files hold. A list is never joined, nor the names of a
    mapping that may be written as a list (the units of an effect): there ``top`` wins as a
    whole. Of keys that shut one another out (`Record.alternatives`), those of ``top`` alone stay.
    """
    if isinstance(top.data, dict) and isinstance(base.data, dict):
        _join(top, _Held(top.data, top.spot), _Held(base.data, base.spot), kind, ())
    top.findings += base.findings
    top.overruled += base.overruled


class _Held(NamedTuple):
    """A value of a document, and where it stands."""

    data: Any
    spot: Spot

    def entry(self, key: str) -> _Held:
        return _Held(self.data[key], (self.spot.entries or {}).get(key, self.spot))


def _items(spot: Spot) -> list[Spot]:
    assert spot.items is not None
    return spot.items


def _put(into: _Held, key: str, other: _Held) -> None:
    """Take over ``key`` with its value and both their places."""
    into.data[key] = other.data[key]
    for mine, its in (
        (into.spot.entries, other.spot.entries),
        (into.spot.keys, other.spot.keys),
    ):
        if mine is not None and its is not None and key in its:
            mine[key] = its[key]


def _unite(first: Document, mine: _Held, other: _Held) -> None:
    """Take over the names of ``other``; one that both have is a finding."""
    for name in other.data:
        if name in mine.data:
            first.findings.append(_twice(name, other, mine))
        else:
            _put(mine, name, other)


def _empty(key: str, other: _Held) -> Finding:
    """Return what the record would say, had the other file not said it rightly."""
    place = other.spot.find_key((key,))
    way_out = "write what belongs here, or delete the line"
    return Finding("empty-value", Severity.ERROR, "nothing stands here", place, way_out)


def _twice(name: str, other: _Held, mine: _Held) -> Finding:
    return Finding(
        "name-twice",
        Severity.ERROR,
        f"{quoted(name)} stands in two files",
        other.spot.find_key((name,)),
        "rename one of them, or delete it",
        (Related("the first one", mine.spot.find_key((name,))),),
    )


def _join(into: Document, top: _Held, base: _Held, holder: Any, path: KeyPath) -> None:
    """Put the mapping ``base`` under the mapping ``top``; ``holder`` is what both of them are."""
    shut_out = _shut_out(holder, top.data)
    for key in base.data:
        if key not in top.data:
            if key not in shut_out:
                _put(top, key, base)
            continue
        inner, whole = _value_of(holder, key)
        mine, its = top.entry(key), base.entry(key)
        long_mine, long_its = _at_length(mine, inner), _at_length(its, inner)
        if isinstance(long_mine.data, dict) and isinstance(long_its.data, dict):
            if whole:
                both = {n: value for n, value in long_its.data.items() if n in long_mine.data}
                long_its = long_its._replace(data=both)
            # An alias may stand for the same mapping elsewhere, which is not to be joined.
            long_mine = _Held(dict(long_mine.data), _copied(long_mine.spot))
            top.data[key] = long_mine.data
            if top.spot.entries is not None:
                top.spot.entries[key] = long_mine.spot
            _join(into, long_mine, long_its, _bare(inner), (*path, key))
        elif isinstance(mine.data, str) and isinstance(its.data, str) and mine.data != its.data:
            into.overruled.append(((*path, key), its.spot))


def _copied(spot: Spot) -> Spot:
    made = Spot(spot.source, spot.start, spot.end, spot.text)
    made.entries, made.keys = dict(spot.entries or {}), dict(spot.keys or {})
    return made


def _shut_out(holder: Any, said: dict[str, Any]) -> frozenset[str]:
    """Return the keys that what is ``said`` leaves no room for."""
    if not _is_record(holder) or not any(key in said for key in holder.alternatives):
        return frozenset()
    return frozenset(holder.alternatives)


def _is_record(annotation: Any) -> bool:
    return isinstance(annotation, type) and issubclass(annotation, Record)


def _value_of(holder: Any, key: str) -> tuple[Any, bool]:
    """Return what ``key`` of a ``holder`` holds, and whether its names stand as a whole."""
    if _is_record(holder):
        fields = (field for field in holder.model_fields.values() if field.key == key)
        annotation = next((field.annotation for field in fields), None)
    else:
        bare = _bare(holder)
        annotation = get_args(bare)[-1] if get_origin(bare) is dict else None
    bare = _bare(annotation)
    return annotation, get_origin(bare) is dict and bool(_shorts(annotation))


def _bare(annotation: Any) -> Any:
    """Return ``annotation`` without ``None`` and without metadata."""
    while True:
        origin, arguments = get_origin(annotation), get_args(annotation)
        if origin is Annotated:
            annotation = arguments[0]
        elif origin in (Union, UnionType) and type(None) in arguments:
            annotation = next(one for one in arguments if one is not type(None))
        else:
            return annotation


def _shorts(annotation: Any) -> list[Before]:
    """Return what turns a short form of ``annotation`` into the long one."""
    if get_origin(annotation) in (Union, UnionType):
        return _shorts(next((o for o in get_args(annotation) if o is not type(None)), None))
    return [one for one in get_args(annotation)[1:] if isinstance(one, Before)]


def _at_length(held: _Held, annotation: Any) -> _Held:
    """Return what ``held`` says in short as the mapping that it stands for, if it does."""
    data, bare = held.data, _bare(annotation)
    if isinstance(data, dict):
        return held
    try:
        for short in _shorts(annotation):
            data = short.func(data)
        if _is_record(bare):
            data = bare.expand(data)
    except ValueError:  # it is a slip, and will be found where the record is made
        return held
    return _Held(data, _spot_at_length(data, held)) if isinstance(data, dict) else held


def _spot_at_length(data: Any, short: _Held) -> Spot:
    """Return the places of ``data``, which stands at length for ``short``.

    Whatever the short form does not hold itself stands where the short form does.
    """
    if data is short.data:
        return short.spot
    made = Spot(short.spot.source, short.spot.start, short.spot.end)
    if isinstance(data, dict):
        made.entries, made.keys = {}, {}
        for key, value in data.items():
            named = short.spot.child(key) if short.spot.items is not None else None
            made.keys[key] = named or short.spot
            made.entries[key] = _spot_at_length(value, short._replace(spot=made.keys[key]))
    elif isinstance(data, list):
        made.items = [_spot_at_length(item, short) for item in data]
    return made
