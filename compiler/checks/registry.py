"""The registry of codes: every code that is ever printed, in one table.

It is put together from the tables of the rooms that print them: each check has its own, and so
have the phases of the compiler and the reading of a book. Only explaining needs it, and so
nothing imports it before it has to.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from functools import cache
from types import MappingProxyType
from typing import NamedTuple

from setwright.compiler.checks.aimed import AIMED
from setwright.compiler.checks.listed import CHECKS
from setwright.compiler.checks.phases import EARLIER, PASSED
from setwright.scenes.explained import Explained
from setwright.scenes.slips import books, files, lists, music, songs, texts, values


class Group(NamedTuple):
    """Codes that are found in one go, under a title."""

    title: str
    codes: tuple[Explained, ...]


GROUPS: tuple[Group, ...] = (
    Group("What the checks find", tuple(check.explained for check in CHECKS)),
    Group("Found while the rig is aimed at and scenes are bound", (*EARLIER, *AIMED)),
    Group("What a book lets pass", PASSED),
    Group("What is empty, and which file is where", books.EXPLAINED),
    Group("Slips of writing: songs and their scenes", (*songs.EXPLAINED, *music.EXPLAINED)),
    Group("Slips of writing: values and names", values.EXPLAINED),
    Group("Slips of writing: files and text", (*files.EXPLAINED, *texts.EXPLAINED)),
    Group("Found in a list of songs that a new book is made of", lists.EXPLAINED),
)


@cache
def registered() -> Mapping[str, Explained]:
    """Return everything that can be explained, by code, in the order of the groups."""
    return by_code(one for group in GROUPS for one in group.codes)


def by_code(explained: Iterable[Explained]) -> Mapping[str, Explained]:
    """Return ``explained`` by code; ValueError where a code stands twice."""
    table: dict[str, Explained] = {}
    for one in explained:
        if one.code in table:
            raise ValueError(f"{one.code} is explained twice")
        table[one.code] = one
    return MappingProxyType(table)
