"""The table of contents: open, identify, aim, resolve, bind, lower and prove, place, check.

`compile_night` runs the phases in order and gives one record to the commands and outputs.
Phases are total: what one of them finds wrong is left out of the next.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from pathlib import Path

from setwright.compiler.binding.aim import aim
from setwright.compiler.binding.bind import Binder
from setwright.compiler.binding.bound import BoundScene, BoundSong
from setwright.compiler.binding.kept import kept_scenes
from setwright.compiler.binding.playings import told_apart
from setwright.compiler.binding.taps import with_taps
from setwright.compiler.binding.target import COMPUTER
from setwright.compiler.checks.common.full_presets import too_full
from setwright.compiler.checks.run import run_checks
from setwright.compiler.compiled import Compiled, Unopened
from setwright.compiler.lowering.preset import Address
from setwright.compiler.mark import mark_of
from setwright.compiler.placement.banks import Placement, assign, name_of
from setwright.compiler.placement.held import Held, held_by
from setwright.compiler.placement.requests import crowded_out
from setwright.compiler.placement.wanted import SceneKey, key_of
from setwright.compiler.proving.baking import bake
from setwright.compiler.proving.bank_moves import if_the_foot_waits, waits
from setwright.compiler.proving.by_hand import settled_by_hand
from setwright.compiler.proving.passed import without_what_passed
from setwright.compiler.proving.presses import in_time
from setwright.compiler.proving.prove import Prover
from setwright.compiler.proving.proved import LoweredScene, Lowering
from setwright.compiler.proving.routing import Lines
from setwright.compiler.proving.stretches import Moves
from setwright.compiler.proving.tonight import verdicts_of_tonight
from setwright.compiler.proving.traffic import Sending, traffic
from setwright.compiler.signal.faults import PathFaults, faults_of
from setwright.compiler.signal.graph import signal_of
from setwright.compiler.signal.silence import Listener
from setwright.scenes.book import Book, open_night
from setwright.scenes.finding import Finding, Severity, in_order, worst
from setwright.scenes.identities import identify
from setwright.scenes.resolve import Resolver
from setwright.scenes.songs import Song


def compile_night(
    path: Path,
    without: frozenset[str] = frozenset(),
    *,
    fresh: bool = False,
    stored: Mapping[Path, str] | None = None,
) -> Compiled | Unopened:
    """Compile the night at ``path``, doing without the units named in ``without``.

    With ``fresh`` the songs are placed as if nothing were known of what the switcher holds;
    ``stored`` holds texts that are read in place of the files of what switchers hold.
    """
    opened = open_night(path, stored)
    book = opened.book
    if book is None:
        return Unopened(in_order(opened.findings), opened.unreadable, opened.sought)
    identified = identify(book)
    target, aimed = aim(book, without)
    lines = Lines(book.rig, book.switcher, target.gone)
    broken = book.is_broken(("rig", "path")) or book.has_broken(("rig", "path"))
    signal = signal_of(book.rig, target.gone, broken=broken)
    prover = Prover(lines, target.units)
    held, nowhere = held_by(book)
    lying = {} if fresh else held
    crowded: frozenset[int] = frozenset()
    while True:
        resolver = Resolver(book)
        binder = Binder(target, resolver)
        songs = _bind_all(book, binder, crowded)
        kept = kept_scenes(binder)
        _read_the_others(book, songs, resolver)
        derived = [*identified, *aimed, *nowhere, *binder.done(), *resolver.done()]
        lowering = Lowering(target, prover)
        scenes = _lower(lowering, [*songs, kept] if kept else songs)
        baked = bake(target, prover, lowering, scenes)
        if baked.scenes:
            songs = _with_scenes(songs, baked.scenes)
            kept = None if kept is None else _with_scenes([kept], baked.scenes)[0]
            scenes |= {key: lowering.scene(key, one) for key, one in baked.scenes.items()}
        if worst([*opened.findings, *derived]) is Severity.ERROR:
            break
        contents = {key: one.content for key, one in scenes.items()}
        more = crowded_out(target, songs, contents, lying)
        if not more:
            break
        crowded |= more  # and then the general scenes need room, too
    compiled = Compiled(
        book,
        target,
        lines,
        signal,
        PathFaults(),
        Listener(target, signal),
        songs,
        binder.feet,
        scenes,
        Placement(),
        (),
        [],
        kept=kept,
        held=held,
        fresh=fresh,
    )
    if worst([*opened.findings, *derived]) is not Severity.ERROR:
        compiled.scenes, compiled.set_by_hand = settled_by_hand(
            prover, verdicts_of_tonight(scenes, target.units)
        )
        compiled.set_by_hand += baked.by_hand
        derived += _place(compiled, lying)
        busy = waits(book.switcher, compiled.scenes, target.units)
        compiled.wait_at_banks = max(busy.values(), default=None)
        moves = Moves(book.switcher, compiled.placement.of_scene, compiled.wait_at_banks)
        compiled.scenes, compiled.too_soon = in_time(
            compiled.songs, compiled.scenes, moves, target.units
        )
        compiled.scenes = if_the_foot_waits(compiled.scenes, busy)
        compiled.traffic = traffic(lines, _sendings(compiled, prover))
        compiled.path_faults = faults_of(signal, compiled.asked)
        found, compiled.passed = run_checks(compiled)
        compiled.scenes = without_what_passed(compiled.scenes, compiled.passed)
        derived += found
    compiled.findings += in_order(_without_consequences([*opened.findings, *derived], derived))
    return compiled


def compile_song(compiled: Compiled, song: Song) -> tuple[BoundSong, dict[SceneKey, LoweredScene]]:
    """Return a song that is not played tonight, and its scenes, on the rig of ``compiled``.

    General scenes at its own tempo can differ from tonight's; then they are its own.
    """
    (bound,) = with_taps(
        [Binder(compiled.target, Resolver(compiled.book)).song(song)], compiled.target.units
    )
    for name, scene in bound.scenes.items():
        tonight = compiled.scenes.get(key_of(bound, name))
        if tonight is not None and tonight.bound.recipe != scene.recipe:
            bound = bound._replace(owner=song.identity)
            break
    prover = Prover(compiled.lines, compiled.target.units)
    return bound, _lower(Lowering(compiled.target, prover), [bound])


def _bind_all(book: Book, binder: Binder, crowded: frozenset[int]) -> list[BoundSong]:
    """Bind tonight's songs; those at ``crowded`` are requests without room for their scenes."""
    songs: list[BoundSong] = []
    for number, playing in enumerate(book.played(), 1):
        song = book.by_name.get(playing.name)
        if song is not None:
            songs.append(binder.song(song, playing, number))
    for playing in book.night.if_asked:
        song = book.by_name.get(playing.name)
        if song is not None:
            songs.append(binder.song(song, playing, 0, crowded=len(songs) in crowded))
    return told_apart(
        list(with_taps(songs, binder.target.units)), {song.identity for song in book.songs}
    )


def _read_the_others(book: Book, songs: list[BoundSong], resolver: Resolver) -> None:
    """Look through songs that are not played tonight: for their names, not for this rig."""
    played = {id(one.song) for one in songs}
    for song in book.songs:
        if id(song) not in played:
            resolver.song(song)


def _lower(lowering: Lowering, songs: list[BoundSong]) -> dict[SceneKey, LoweredScene]:
    scenes: dict[SceneKey, LoweredScene] = {}
    for song in songs:
        for name, scene in song.scenes.items():
            key = key_of(song, name)
            if key not in scenes:
                scenes[key] = lowering.scene(key, scene)
    return scenes


def _with_scenes(songs: list[BoundSong], scenes: dict[SceneKey, BoundScene]) -> list[BoundSong]:
    """Return ``songs`` with other scenes in the place of some of theirs."""
    return [
        song._replace(
            scenes={
                name: scenes.get(key_of(song, name), scene) for name, scene in song.scenes.items()
            }
        )
        for song in songs
    ]


def _place(compiled: Compiled, lying: dict[Address, Held]) -> list[Finding]:
    """Fill ``placement``; return what does not fit into the switcher."""
    contents = {key: scene.content for key, scene in compiled.scenes.items()}
    songs = compiled.songs
    found = assign(compiled.target, songs, contents, lying, as_noted=not compiled.fresh)
    compiled.placement = found.placement
    if found.placement.as_noted and mark_of(compiled) != _noted_state(compiled):
        # It is not the night that was noted, so what moves is looked for anew.
        found = assign(compiled.target, songs, contents, lying, as_noted=False)
    compiled.placement, compiled.songs = found.placement, found.songs
    for key, shared in found.copies.items():
        compiled.scenes[key] = compiled.scenes[shared]._replace(key=key)
    return [*too_full(compiled), *found.findings]


def _noted_state(compiled: Compiled) -> str:
    assert compiled.book.stored is not None
    return compiled.book.stored.placed[name_of(compiled.target)].state


def _sendings(compiled: Compiled, prover: Prover) -> Iterator[Sending]:
    """Yield what is sent on the night: by whoever sends scenes, and by a computer beside it.

    A computer with a line of its own sends the same messages by the direct route, and calls
    presets.
    """
    different = compiled.different_scenes
    apart = COMPUTER in compiled.lines.first
    told = {one.command.unit for scene in different for one in scene.lowered.direct.commands}
    # A computer whose line leads to none of these units has other things to send.
    tells = apart and not told.isdisjoint(compiled.lines.listening(COMPUTER))
    for sender in dict.fromkeys((prover.sender, COMPUTER if tells else prover.sender)):
        stored = [(one.bound, one.lowered.stored) for one in different]
        direct = [(one.bound, one.lowered.direct) for one in different]
        routes = [direct if sender == COMPUTER else stored]
        if not apart:
            routes.append(direct)  # by a computer in the switcher's place
        harmed = [prover.bystanders.harmed(route, sender) for route in routes]
        for one, (_, sent), *units in zip(different, routes[0], *harmed, strict=True):
            commands = tuple(timed.command for timed in sent.commands)
            yield Sending(sender, one.called, one.bound.path, commands, frozenset().union(*units))
    if COMPUTER in compiled.lines.first:
        for one in compiled.scenes.values():
            recall = compiled.recall_of(one.key) or ()
            yield Sending(COMPUTER, one.called, one.bound.path, recall, None)


def _without_consequences(findings: list[Finding], derived: list[Finding]) -> list[Finding]:
    """Leave out warnings that may only follow from an error; they come back if they do not."""
    if worst(findings) is not Severity.ERROR:
        return findings
    waiting = {id(finding) for finding in derived if finding.severity is not Severity.ERROR}
    return [finding for finding in findings if id(finding) not in waiting]
