"""Several files read as one: songs from many files, and units that stand in files of their own.

Runs on documents, before records are made, so that everything keeps the place in the file
where it was typed.
"""

from __future__ import annotations

from typing import Any

from setwright.scenes.finding import Finding, Related, Severity
from setwright.scenes.places import KeyPath, Spot
from setwright.scenes.quantities import quoted
from setwright.scenes.text import Document


def append(first: Document, second: Document) -> None:
    """Add ``second`` to ``first``: songs follow one another, equal names are a finding."""
    for key, value in list(second.data.items()) if isinstance(second.data, dict) else ():
        mine = first.data.get(key) if isinstance(first.data, dict) else None
        if isinstance(mine, list) and isinstance(value, list):
            mine += second.data.pop(key)
            _entry(first.spot, key).extend(_entry(second.spot, key))
    _join(first, first.data, first.spot, second.data, second.spot, (), clash=True)
    first.findings += second.findings


def underlay(top: Document, base: Document) -> None:
    """Put ``base`` under ``top``: what ``top`` says wins, key by key, however deep."""
    _join(top, top.data, top.spot, base.data, base.spot, (), clash=False)
    top.findings += base.findings
    top.overruled += base.overruled


_SHORT = {"switcher": "file"}
"""Keys of a rig whose value may be one text, and the entry that the text is short for."""


def _entry(spot: Spot, key: str) -> list[Spot]:
    items = (spot.entries or {})[key].items
    assert items is not None
    return items


def _join(
    into: Document,
    data: Any,
    spot: Spot,
    other: Any,
    other_spot: Spot,
    path: KeyPath,
    *,
    clash: bool,
) -> None:
    if not isinstance(data, dict) or not isinstance(other, dict):
        return
    for key, value in other.items():
        incoming = (other_spot.entries or {}).get(key)
        incoming_key = (other_spot.keys or {}).get(key)
        if incoming is None or incoming_key is None or spot.entries is None or spot.keys is None:
            continue
        if key not in data:
            data[key] = value
            spot.entries[key] = incoming
            spot.keys[key] = incoming_key
        elif isinstance(data[key], dict) and isinstance(value, dict):
            _join(into, data[key], spot.entries[key], value, incoming, (*path, key), clash=clash)
        elif key in _SHORT and isinstance(data[key], dict) and isinstance(value, str):
            # Said in short below, at length above: the short form is one entry of the other.
            at = spot.entries[key]
            if at.entries is not None and at.keys is not None and _SHORT[key] not in data[key]:
                data[key][_SHORT[key]] = value
                at.entries[_SHORT[key]], at.keys[_SHORT[key]] = incoming, incoming_key
        elif clash:
            into.findings.append(
                Finding(
                    "name-twice",
                    Severity.ERROR,
                    f"{quoted(key)} stands in two files",
                    incoming_key.place,
                    "rename one of them, or delete it",
                    (Related("the first one", spot.keys[key].place),),
                )
            )
        elif isinstance(data[key], str) and isinstance(value, str) and data[key] != value:
            into.overruled.append(((*path, key), incoming))
