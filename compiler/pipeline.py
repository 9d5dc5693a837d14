"""The table of contents: open, identify, aim, resolve, bind.

`compile_night` runs the phases in order and gives one record to the commands. Phases are
total: what one of them finds wrong is left out of the next.
"""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

from setwright.compiler.bind import Binder, BoundSong
from setwright.compiler.target import Target, aim
from setwright.scenes.book import Book, open_night
from setwright.scenes.finding import Finding, Severity, in_order, worst
from setwright.scenes.identities import identify
from setwright.scenes.resolve import Resolver


@dataclass(slots=True)
class Compiled:
    """A night, bound to its rig, and everything that was found on the way.

    ``songs`` are those of the sets in playing order, then those kept for requests. ``book``
    and ``target`` are None where the files could not be read; ``unreadable`` tells that it
    was the night's own file that could not be opened.
    """

    book: Book | None
    target: Target | None
    songs: list[BoundSong]
    findings: list[Finding]
    unreadable: bool = False
    binder: Binder | None = None

    @property
    def scene_count(self) -> int:
        """How many scenes are bound."""
        return sum(len(song.scenes) for song in self.songs)


def compile_night(path: Path, without: frozenset[str] = frozenset()) -> Compiled:
    """Compile the night at ``path``, doing without the units named in ``without``."""
    opened = open_night(path)
    book = opened.book
    if book is None:
        return Compiled(None, None, [], in_order(opened.findings), opened.unreadable)
    identified = identify(book)
    target, aimed = aim(book, without)
    resolver = Resolver(book)
    binder = Binder(target, resolver)
    songs: list[BoundSong] = []
    for number, playing in enumerate(book.played(), 1):
        song = book.by_name.get(playing.name)
        if song is not None:
            songs.append(binder.song(song, playing, number))
    for playing in book.night.if_asked:
        song = book.by_name.get(playing.name)
        if song is not None:
            songs.append(binder.song(song, playing, 0))
    played = {id(one.song) for one in songs}
    for song in book.songs:
        # Songs that are not played tonight are checked for their names, not for this rig.
        if id(song) not in played:
            resolver.song(song)
    derived = [*identified, *aimed, *binder.done(), *resolver.done()]
    findings = in_order(_without_consequences([*opened.findings, *derived], derived))
    return Compiled(book, target, songs, findings, binder=binder)


def _without_consequences(findings: list[Finding], derived: list[Finding]) -> list[Finding]:
    """Leave out warnings that may only follow from an error; they come back if they do not."""
    if worst(findings) is not Severity.ERROR:
        return findings
    waiting = {id(finding) for finding in derived if finding.severity is not Severity.ERROR}
    return [finding for finding in findings if id(finding) not in waiting]
