"""Several files read as one: songs from many files, and units that stand in files of their own.

Runs on documents, before records are made, so that everything keeps the place in the file
where it was typed.
"""

from __future__ import annotations

from typing import Any

from setwright.scenes.finding import Finding, Related, Severity
from setwright.scenes.places import Spot
from setwright.scenes.quantities import quoted
from setwright.scenes.text import Document


def append(first: Document, second: Document) -> None:
    """Add ``second`` to ``first``: lists follow one another, equal names are a finding."""
    _join(first.data, first.spot, second.data, second.spot, first.findings, clash=True)
    first.findings += second.findings


def underlay(top: Document, base: Document) -> None:
    """Put ``base`` under ``top``: what ``top`` says wins, key by key, however deep."""
    _join(top.data, top.spot, base.data, base.spot, top.findings, clash=False)
    top.findings += base.findings


def _join(
    data: Any, spot: Spot, other: Any, other_spot: Spot, findings: list[Finding], *, clash: bool
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
            _join(data[key], spot.entries[key], value, incoming, findings, clash=clash)
        elif isinstance(data[key], list) and isinstance(value, list) and clash:
            data[key] += value
            (spot.entries[key].items or []).extend(incoming.items or [])
        elif clash:
            findings.append(
                Finding(
                    "name-twice",
                    Severity.ERROR,
                    f"{quoted(key)} stands in two files",
                    incoming_key.place,
                    "rename one of them, or delete it",
                    (Related("the first one", spot.keys[key].place),),
                )
            )
