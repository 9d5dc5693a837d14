"""Which files of a folder are nights, for commands that leave NIGHT out."""

from __future__ import annotations

import re
from pathlib import Path
from typing import NamedTuple

from setwright.scenes.files import read_bytes
from setwright.scenes.finding import Finding

_HEAD = 64 * 1024
"""Bytes in which ``night:`` stands, whatever comments come before it."""
_NIGHT = re.compile(rb"""^(?:night|'night'|"night")[ \t]*:(?=\s|\Z)""", re.MULTILINE)


class Nights(NamedTuple):
    """The names of the nights in a folder, and of what could not be read, with the reason."""

    names: tuple[str, ...]
    unreadable: tuple[tuple[str, str], ...]


def nights_in(folder: Path) -> Nights:
    """Look at every .yaml file of ``folder``; never raises, never blocks."""
    names, unreadable = [], []
    try:
        paths = sorted(path for path in folder.glob("*.yaml"))
    except OSError as error:
        return Nights((), ((str(folder), (error.strerror or "it cannot be read").lower()),))
    for path in paths:
        head = read_bytes(path, path.name, _HEAD)
        if isinstance(head, Finding):
            unreadable.append((path.name, head.message))
        # Lines may end as on any system (YAML 1.2.2, section 5.4).
        elif _NIGHT.search(head.replace(b"\r", b"\n")):
            names.append(path.name)
    return Nights(tuple(names), tuple(unreadable))
