"""The kinds of files that a build makes: who makes each, and by which names they are known.

The one table of them. Every file of a build but the list itself is of exactly one kind, by its
name alone: so files of an earlier build are told apart that this book would not make.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable
from typing import TYPE_CHECKING, NamedTuple

if TYPE_CHECKING:
    from setwright.compiler.outputs.data import NightData


class Wish(NamedTuple):
    """How files are wished: texts of MIDI files in UTF-8 or ASCII, and the paper of sheets."""

    utf8: bool = False
    paper: str = "a4"


class Made(NamedTuple):
    """Files by their relative names, and what there is to say of them, a sentence each."""

    files: dict[str, bytes]
    notices: tuple[str, ...] = ()


class Kind(NamedTuple):
    """What a kind of files is in words, how their names begin, and what makes them."""

    what: str
    names: tuple[str, ...]
    make: Callable[[NightData, Wish], Made]


# A maker is imported when it is needed: a templating library takes as long to load as a book to
# read, and the commands offer the names of this table.


def _sheets(data: NightData, wish: Wish) -> Made:
    from setwright.compiler.outputs.cue_sheet import cue_sheet_files
    from setwright.compiler.outputs.paper import paper_files
    from setwright.compiler.outputs.preset_sheet import preset_sheet_files

    on_paper = paper_files(data, wish.paper)
    files = {**preset_sheet_files(data), **cue_sheet_files(data), **on_paper.files}
    return Made(files, on_paper.notices)


def _midi(data: NightData, wish: Wish) -> Made:
    from setwright.compiler.outputs.midi_file import midi_files

    return Made(midi_files(data, utf8=wish.utf8))


def _maps(data: NightData, wish: Wish) -> Made:
    from setwright.compiler.outputs.maps import map_files

    return Made(map_files(data))


def _page(data: NightData, wish: Wish) -> Made:
    from setwright.compiler.outputs.stage_page import stage_page_files

    return Made(stage_page_files(data))


KINDS = {
    "sheets": Kind(
        "cue sheets and preset sheets",
        ("cue-sheet.", "cue-sheet-", "band-list.", "preset-sheet.", "preset-sheet-"),
        _sheets,
    ),
    "midi": Kind("MIDI files", ("stored/", "direct/"), _midi),
    "maps": Kind("maps of programs and controls", ("maps/",), _maps),
    "page": Kind("the stage page", ("stage.",), _page),
}
"""Every kind by the name that is typed, in the order in which they are made."""


def kind_of(name: str) -> str:
    """Return the kind of a file by its relative name; nothing where it is of none known here."""
    return next((kind for kind, one in KINDS.items() if name.startswith(one.names)), "")


def kinds_of(names: Iterable[str]) -> list[str]:
    """Return the kinds of some files, each once, in the order of the table.

    A file of no known kind stands for itself, behind them.
    """
    found = {kind_of(name) or name for name in names}
    return [kind for kind in KINDS if kind in found] + sorted(found - KINDS.keys())


_AS_USUAL = Wish()


def make(data: NightData, kind: str, wish: Wish = _AS_USUAL) -> Made:
    """Return the files of one kind by their relative names."""
    made = KINDS[kind].make(data, wish)
    strangers = sorted(name for name in made.files if kind_of(name) != kind)
    assert not strangers, f"{kind} makes {strangers}"
    return made
