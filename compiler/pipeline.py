"""The table of contents: open, identify, aim, resolve, bind, lower and prove, place, check.

`compile_night` runs the phases in order and gives one record to the commands and outputs.
Phases are total: what one of them finds wrong is left out of the next.
"""

from __future__ import annotations

from pathlib import Path

from setwright.compiler.binding.aim import aim
from setwright.compiler.binding.bind import Binder
from setwright.compiler.binding.bound import BoundSong
from setwright.compiler.checks.common.overfull import too_full
from setwright.compiler.checks.run import run_checks
from setwright.compiler.compiled import Compiled
from setwright.compiler.placement.banks import key_of, place
from setwright.compiler.proving.prove import Prover
from setwright.compiler.proving.routing import Lines
from setwright.compiler.proving.tonight import settled
from setwright.compiler.proving.traffic import Sent, traffic
from setwright.scenes.book import Book, open_night
from setwright.scenes.finding import Finding, Severity, in_order, worst
from setwright.scenes.identities import identify
from setwright.scenes.resolve import Resolver


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
    songs = _bind_all(book, binder)
    played = {id(one.song) for one in songs}
    for song in book.songs:
        # Songs that are not played tonight are checked for their names, not for this rig.
        if id(song) not in played:
            resolver.song(song)
    derived = [*identified, *aimed, *binder.done(), *resolver.done()]
    prover = Prover(Lines(book.rig, book.switcher, target.gone), target.units)
    compiled = Compiled(book, target, songs, [], binder=binder, prover=prover)
    if worst([*opened.findings, *derived]) is not Severity.ERROR:
        derived += _lower_and_place(compiled)
        compiled.traffic = _follow(compiled)
        derived += run_checks(compiled)
    findings = _without_consequences([*opened.findings, *derived], derived)
    compiled.findings = in_order(findings)
    return compiled


def _bind_all(book: Book, binder: Binder) -> list[BoundSong]:
    songs: list[BoundSong] = []
    for number, playing in enumerate(book.played(), 1):
        song = book.by_name.get(playing.name)
        if song is not None:
            songs.append(binder.song(song, playing, number))
    for playing in book.night.if_asked:
        song = book.by_name.get(playing.name)
        if song is not None:
            songs.append(binder.song(song, playing, 0))
    return _tell_playings_apart(songs)


def _tell_playings_apart(songs: list[BoundSong]) -> list[BoundSong]:
    """Give a song that is played again in another way (tempo, say) places of its own."""
    known: dict[str, dict[str, tuple[object, ...]]] = {}
    result = []
    for song in songs:
        recipes = {name: scene.recipe for name, scene in song.scenes.items()}
        owner, number = song.owner, 1
        while any(
            known.get(owner, {}).get(name, recipe) != recipe for name, recipe in recipes.items()
        ):
            number += 1
            owner = f"{song.owner} ({number})"
        if not song.general:
            known.setdefault(owner, {}).update(recipes)
        result.append(song if owner == song.owner else song._replace(owner=owner))
    return result


def _lower_and_place(compiled: Compiled) -> list[Finding]:
    """Fill ``scenes`` and ``placement``; return what does not fit into the switcher."""
    assert compiled.target is not None
    for song in compiled.songs:
        for name, scene in song.scenes.items():
            key = key_of(song, name)
            if key not in compiled.scenes:
                compiled.scenes[key] = compiled.lower(key, scene)
    compiled.scenes = settled(compiled.scenes)
    contents = {key: scene.content for key, scene in compiled.scenes.items()}
    compiled.placement, too_many = place(compiled.target, compiled.songs, contents)
    return [*too_full(compiled), *too_many]


def _follow(compiled: Compiled) -> tuple[Sent, ...]:
    """Follow everything that is sent along the cables."""
    different = compiled.different_scenes
    return traffic(
        compiled.lines,
        ((one.called, one.bound.path, one.content.orders) for one in different),
        (
            (one.called, one.bound.path, compiled.recall_of(one.key) or ())
            for one in compiled.scenes.values()
        ),
    )


def _without_consequences(findings: list[Finding], derived: list[Finding]) -> list[Finding]:
    """Leave out warnings that may only follow from an error; they come back if they do not."""
    if worst(findings) is not Severity.ERROR:
        return findings
    waiting = {id(finding) for finding in derived if finding.severity is not Severity.ERROR}
    return [finding for finding in findings if id(finding) not in waiting]
