"""Which of the five kinds of file a text is, told by the keys at its top.

A file that is named where another kind belongs (``rig: floor.yaml``, the switcher) would give
one finding for every key in it; what is wrong is its name alone.
"""

from __future__ import annotations

from typing import Any, Final

from setwright.scenes.finding import Finding, Place, Severity
from setwright.scenes.night import Night
from setwright.scenes.records import Record
from setwright.scenes.rig import Rig
from setwright.scenes.songs import SongBook
from setwright.scenes.stored import Stored
from setwright.scenes.switcher import Switcher

_WANTED: Final[dict[type[Record], str]] = {
    Night: "a night",
    SongBook: "a file of songs",
    Rig: "a rig",
    Switcher: "a switcher",
    Stored: "a list of what a switcher holds",
}
"""What each kind is called in sentences."""

_BELONGS: Final[dict[type[Record], str]] = {
    Night: "a night is named on the command line",
    SongBook: "songs are named in the night, after songs:",
    Rig: "a rig is named in the night, after rig:",
    Switcher: "a switcher is named in the rig, after switcher:",
    Stored: "what a switcher holds lies beside its own file",
}


def kind_of(data: Any) -> type[Record] | None:
    """Return what the file that holds ``data`` is; None where its keys do not tell.

    They tell where one kind alone knows the most of them, and either all of them or one that
    no other kind has.
    """
    if not isinstance(data, dict):
        return None
    known = {kind: {key for key in data if _fits(kind, key, data[key])} for kind in _WANTED}
    best = max(known, key=lambda kind: len(known[kind]))
    others = set[str]().union(*(keys for kind, keys in known.items() if kind is not best))
    if not known[best] or any(
        kind is not best and len(keys) == len(known[best]) for kind, keys in known.items()
    ):
        return None
    return best if len(known[best]) == len(data) or known[best] - others else None


def _fits(kind: type[Record], key: str, value: Any) -> bool:
    if key == "songs":
        # A night names files under songs:, a file of songs writes them there.
        empty = value in ("", [])
        names = isinstance(value, str) or (isinstance(value, list) and _all_texts(value))
        return (kind is Night and names) or (kind is SongBook and (empty or not names))
    return any(field.key == key for field in kind.model_fields.values())


def _all_texts(value: list[Any]) -> bool:
    return all(isinstance(item, str) for item in value)


def wrong_kind(
    data: Any, wanted: type[Record], name: str, asked_at: Place | None, top: Place
) -> Finding | None:
    """Return what is wrong if the file called ``name`` is not of the kind that is ``wanted``.

    The finding stands where the file is named, or at the ``top`` of it if that is nowhere.
    """
    kind = kind_of(data)
    if kind is None or kind is wanted:
        return None
    if asked_at is None:
        message = f"this is {_WANTED[kind]}, and {_WANTED[wanted]} is wanted"
        way_out = f"name {_WANTED[wanted]}; {_BELONGS[kind]}"
    else:
        message = f"{name} is {_WANTED[kind]}, and {_WANTED[wanted]} belongs here"
        way_out = f"name {_WANTED[wanted]} here; {_BELONGS[kind]}"
    return Finding("wrong-kind-of-file", Severity.ERROR, message, asked_at or top, way_out)
