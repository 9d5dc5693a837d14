"""How examples are kept: the text that says a field, and what is said in short."""

from __future__ import annotations

from typing import NamedTuple

Examples = dict[str, dict[str, str]]
"""Record class → key → the text that says it."""


class Short(NamedTuple):
    """Two texts that mean the same, in short and at length, and what the short one is."""

    what: str
    short: str
    length: str
