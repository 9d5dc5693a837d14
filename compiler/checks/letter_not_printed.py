"""A text with letters that the fonts of printed sheets lack."""

from __future__ import annotations

import unicodedata
from collections.abc import Iterator
from typing import NamedTuple

from setwright.compiler.binding.bound import GENERAL
from setwright.compiler.checks.check import Check, Explained, Fault
from setwright.compiler.compiled import Compiled
from setwright.compiler.lettered import lacking
from setwright.scenes.finding import Severity
from setwright.scenes.forms import Vamp
from setwright.scenes.places import KeyPath
from setwright.scenes.quantities import quoted
from setwright.scenes.songs import Scene, Song
from setwright.scenes.wording import joined, number_of

EXPLAINED = Explained(
    code="letter-not-printed",
    severity=Severity.WARNING,
    sometimes=(Severity.NOTE,),
    brief="A text with letters that the fonts of printed sheets lack.",
    finds="A title, the name of a scene, a cue, a note or another text that is printed tonight has "
    "letters that no font of the sheets as PDF has; they stand there by number. A sign that is "
    "no letter, such as a small picture, is a note.",
    hurts="On stage nobody reads a title that is made of numbers.",
    do="write it in letters that they have (Latin, Greek, Cyrillic, Hebrew, Arabic among them), or "
    "read stage.html, which shows them",
    example="""\
        - title: 風の歌
    """,
)
_MOST = 5


class _Text(NamedTuple):
    """A text that is printed, and where it stands."""

    text: str | None
    path: KeyPath
    at_key: bool = False


def run(compiled: Compiled) -> Iterator[Fault]:
    """Yield one fault for each text, in the order of the sheets."""
    for one in _printed(compiled):
        if one.text is None or not (gone := lacking(one.text)):
            continue
        signs = [f"{letter} (\\u{{{ord(letter):x}}})" for letter in gone[:_MOST]]
        if len(gone) > _MOST:
            signs.append(f"{len(gone) - _MOST} more")
        letters = any(unicodedata.category(letter)[0] in "LMN" for letter in gone)
        yield Fault(
            one.path,
            f"the fonts of printed sheets lack {number_of(len(gone), 'letter')} of "
            f"{quoted(one.text)}, so there stands by number: {joined(signs)}",
            at_key=one.at_key,
            severity=None if letters else Severity.NOTE,
        )


def _printed(compiled: Compiled) -> Iterator[_Text]:
    book = compiled.book
    night, rig, use = book.night, book.rig, book.rig.switcher
    yield _Text(night.night, ("night", "night"))
    yield _Text(night.date, ("night", "date"))
    yield _Text(night.note, ("night", "note"))
    for part in night.sets:
        yield _Text(part.name, (*part.path, "name"))
        yield _Text(part.note, (*part.path, "note"))
        yield from (_Text(one.note, (*one.path, "note")) for one in part.play)
    yield from (_Text(one.note, (*one.path, "note")) for one in night.if_asked)
    scenes: dict[int, set[str]] = {}
    for bound in compiled.songs:
        scenes.setdefault(id(bound.song), set()).update(() if bound.general else bound.scenes)
    general = any(owner == GENERAL for owner, _ in compiled.scenes)
    for song in book.songs:
        if id(song) in scenes:
            yield from _song(song, scenes[id(song)])
        elif general:  # it may be asked for, and then has the general scenes
            yield _Text(song.title, (*song.path, "title"))
    if general:
        yield from _scenes(rig.general, set(rig.general))
    yield _Text(rig.rig, ("rig", "rig"))
    yield _Text(book.switcher.switcher, ("switcher", "switcher"))
    for key, kept in (use.every_bank if use is not None else {}).items():
        yield _Text(kept.name, ("rig", "switcher", "every bank", key, "name"))
    yield from (_Text(name, ("rig", "supply", name), at_key=True) for name in rig.supply)
    yield from _units(compiled)


def _song(song: Song, played: set[str]) -> Iterator[_Text]:
    for key, text in (
        ("title", song.title),
        ("key", song.key),
        ("form", str(song.form) if song.form is not None else None),
        ("guitar", song.guitar),
        ("note", song.note),
    ):
        yield _Text(text, (*song.path, key))
    for part, bars in song.bars.items():
        if isinstance(bars, Vamp):
            yield _Text(bars.until, (*song.path, "bars", *((part,) if part else ())))
    yield from _scenes(song.scenes, played)
    for entry in song.order:
        for name, step in entry.items():
            if name in played:
                yield _Text(step.cue, (*step.path, "cue"))
                yield _Text(step.guitar, (*step.path, "guitar"))


def _scenes(scenes: dict[str, Scene], played: set[str]) -> Iterator[_Text]:
    for name, scene in scenes.items():
        if name in played:
            yield _Text(name, scene.path, at_key=True)
            yield _Text(scene.note, (*scene.path, "note"))


def _units(compiled: Compiled) -> Iterator[_Text]:
    """Yield the names of units, and of those of their states that are said tonight."""
    said: str | None = None
    for name, unit in compiled.book.rig.units.items():
        path = ("rig", "units", name)
        yield _Text(name, path, at_key=True)
        states = [
            *(_Text(one, (*path, "programs", one), at_key=True) for one in unit.programs),
            *(_Text(one, (*path, "controls", one), at_key=True) for one in unit.controls),
            *(
                _Text(one, (*path, "controls", control, "positions", one), at_key=True)
                for control, asked in unit.controls.items()
                for one in asked.positions or ()
            ),
            *(_Text(one, (*path, "by foot", at)) for at, one in enumerate(unit.by_foot)),
            *(
                _Text(one, (*path, "relays", relay, "states", one), at_key=True)
                for relay, contacts in unit.relays.items()
                for one in contacts.states
            ),
        ]
        if unit.relay is not None:
            states.append(_Text(unit.relay.open, (*path, "relay", "open")))
            states.append(_Text(unit.relay.closed, (*path, "relay", "closed")))
        for state in states:
            if state.text is not None and lacking(state.text):
                said = _said(compiled) if said is None else said
                if state.text in said:
                    yield state


def _said(compiled: Compiled) -> str:
    """Return all that presets, feet and hands are told tonight, in one text."""
    words = [one.value for one in compiled.set_by_hand]
    words += [move.position for song in compiled.songs for one in song.feet for move in one]
    for scene in compiled.different_scenes:
        words += [command.meaning for command in scene.content.commands]
        words += [str(wanted.value) for wanted in scene.proved]
    return "\n".join(words)


CHECK = Check(EXPLAINED, run)
