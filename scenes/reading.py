"""From a document to a frozen, typed record, with one finding for each slip.

`read_record` validates a document against a record class; what does not fit becomes a finding
at its exact place and is left out, so that the rest of the file is still read and judged in
the same run.
"""

from __future__ import annotations

import re
from dataclasses import dataclass, field
from typing import Any, Generic, TypeVar

from pydantic_core import ValidationError

from setwright.scenes.finding import Finding, Place, Severity
from setwright.scenes.names import Nearest, nearest, suggestion
from setwright.scenes.places import KeyPath, Spot
from setwright.scenes.quantities import quoted
from setwright.scenes.records import (
    NAMES_WITH_VALUES,
    Record,
    misplaced,
    place_for,
    record_at,
    set_paths,
)
from setwright.scenes.syntax import QUOTE
from setwright.scenes.text import Document
from setwright.scenes.wording import with_article

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
            set_paths(record, (root,))
            reading.record = record
            return reading


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
    elif not near and _behind_a_comma(reading.spot, (*path, key)):
        way_out = f"if a comma in a text comes before this, {QUOTE}; {way_out}"
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


def _behind_a_comma(spot: Spot, path: KeyPath) -> bool:
    """Tell whether the key at ``path`` stands within braces behind a comma, without a colon."""
    at = spot.find_key(path)
    line = at.source.line(at.line)
    return line[: at.column - 1].rstrip().endswith(",") and line[at.end_column - 1 :].lstrip()[
        :1
    ] in {",", "}"}


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
    return "wrong-shape", misplaced(value, wanted), f"write {wanted}"


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
