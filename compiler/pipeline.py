"""The table of contents: open, identify, aim, resolve, bind, lower, place.

`compile_night` runs the phases in order and gives one record to the commands and outputs.
Phases are total: what one of them finds wrong is left out of the next.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from pathlib import Path
from typing import NamedTuple

from setwright.compiler.bind import Binder, BoundScene, BoundSong
from setwright.compiler.lower import Lowered, lower
from setwright.compiler.orders import Order
from setwright.compiler.place import Placement, SceneKey, key_of, place
from setwright.compiler.recall import recall
from setwright.compiler.stored import Content, content, does_not_fit, in_vain
from setwright.compiler.target import Target, aim
from setwright.scenes.book import Book, open_night
from setwright.scenes.finding import Finding, Related, Severity, in_order, worst
from setwright.scenes.identities import identify
from setwright.scenes.places import KeyPath
from setwright.scenes.quantities import quoted
from setwright.scenes.records import place_for
from setwright.scenes.resolve import Resolver
from setwright.scenes.switcher import Switcher


class LoweredScene(NamedTuple):
    """A scene of the night as messages and as a preset's content."""

    key: SceneKey
    bound: BoundScene
    lowered: Lowered
    content: Content


@dataclass(slots=True)
class Compiled:
    """A night, bound to its rig, and everything that was found on the way.

    ``songs`` are those of the sets in playing order, then those kept for requests; ``scenes``
    what each of their scenes becomes, by its key; ``placement`` where it lies. ``book`` and
    ``target`` are None where the files could not be read; ``unreadable`` tells that it was the
    night's own file that could not be opened.
    """

    book: Book | None
    target: Target | None
    songs: list[BoundSong]
    findings: list[Finding]
    unreadable: bool = False
    binder: Binder | None = None
    scenes: dict[SceneKey, LoweredScene] = field(default_factory=dict)
    placement: Placement = field(default_factory=Placement)

    @property
    def scene_count(self) -> int:
        """How many scenes are bound."""
        return sum(len(song.scenes) for song in self.songs)

    def scene(self, song: BoundSong, name: str) -> LoweredScene:
        """Return a scene of ``song``, lowered; also of a song that is not played tonight."""
        key = key_of(song, name)
        if key in self.scenes:
            return self.scenes[key]
        assert self.target is not None
        return _lower_scene(self.target, key, song.scenes[name], {})

    def recall_of(self, key: SceneKey) -> tuple[Order, ...] | None:
        """Return the orders that make the switcher load a scene; None where none can."""
        slot = self.placement.of_scene.get(key)
        if slot is None or self.book is None:
            return None
        return recall(self.book.switcher, slot)


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
    compiled = Compiled(book, target, songs, [], binder=binder)
    if worst([*opened.findings, *derived]) is not Severity.ERROR:
        derived += _lower_and_place(compiled)
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
    known: dict[tuple[object, ...], tuple[Lowered, Content]] = {}
    for song in compiled.songs:
        for name, scene in song.scenes.items():
            key = key_of(song, name)
            if key not in compiled.scenes:
                compiled.scenes[key] = _lower_scene(compiled.target, key, scene, known)
    findings = [*_too_full(compiled), *_sent_too_early(compiled)]
    contents = {key: scene.content for key, scene in compiled.scenes.items()}
    compiled.placement, too_many = place(compiled.target, compiled.songs, contents)
    return findings + too_many


def _lower_scene(
    target: Target,
    key: SceneKey,
    scene: BoundScene,
    known: dict[tuple[object, ...], tuple[Lowered, Content]],
) -> LoweredScene:
    if scene.recipe not in known:
        lowered = lower(target, scene)
        known[scene.recipe] = (lowered, content(target, scene, lowered))
    return LoweredScene(key, scene, *known[scene.recipe])


def _too_full(compiled: Compiled) -> list[Finding]:
    """Find presets that hold more than the switcher can store: one finding for each kind."""
    assert compiled.book is not None
    book = compiled.book
    storage = book.switcher.each_preset_stores
    if not book.spot.holds(("switcher", "each preset stores")) and any(
        does_not_fit(scene.content, storage) for scene in compiled.scenes.values()
    ):
        return [
            Finding(
                "preset-full",
                Severity.ERROR,
                "it is not said what a preset of this switcher stores, and the scenes send "
                "programs or controls",
                place_for(book.spot, ("switcher",), Switcher, "each preset stores"),
                "add each preset stores: {programs: …, controls: …}, as its manual says",
            )
        ]
    why_not: dict[int, str | None] = {}
    places: dict[str, dict[KeyPath, str]] = {}
    for scene in compiled.scenes.values():
        if id(scene.content) not in why_not:
            why_not[id(scene.content)] = does_not_fit(scene.content, storage)
        reason = why_not[id(scene.content)]
        if reason is not None:
            places.setdefault(reason, {})[scene.bound.path] = scene.bound.name
    return [
        Finding(
            "preset-full",
            Severity.ERROR,
            f"{quoted(next(iter(paths.values())))} cannot be stored: {reason}"
            + (f" (so it is with {len(paths)} scenes)" if len(paths) > 1 else ""),
            book.place_of_key(next(iter(paths))),
            "leave an effect out, put a unit into a loop, or use a program that has the "
            "settings built in",
            (
                *(Related("this one too", book.place_of_key(path)) for path in list(paths)[1:4]),
                Related(
                    "what a preset stores",
                    book.place_of_key(("switcher", "each preset stores")),
                ),
            ),
        )
        for reason, paths in places.items()
    ]


def _sent_too_early(compiled: Compiled) -> list[Finding]:
    """Find messages that a preset sends in vain: to a unit that is busy, or before its program."""
    assert compiled.book is not None
    book = compiled.book
    seen: set[int] = set()
    places: dict[str, dict[KeyPath, str]] = {}
    for scene in compiled.scenes.values():
        if id(scene.lowered) in seen:
            continue
        seen.add(id(scene.lowered))
        for reason in in_vain(scene.lowered.stored, book.rig.units):
            places.setdefault(reason, {})[scene.bound.path] = scene.bound.name
    return [
        Finding(
            "sent-in-vain",
            Severity.WARNING,
            f"the preset of {quoted(next(iter(paths.values())))} {reason}",
            book.place_of_key(next(iter(paths))),
            "use a program that has the setting built in; a switcher cannot wait",
            tuple(Related("this one too", book.place_of_key(path)) for path in list(paths)[1:4]),
        )
        for reason, paths in places.items()
    ]


def _without_consequences(findings: list[Finding], derived: list[Finding]) -> list[Finding]:
    """Leave out warnings that may only follow from an error; they come back if they do not."""
    if worst(findings) is not Severity.ERROR:
        return findings
    waiting = {id(finding) for finding in derived if finding.severity is not Severity.ERROR}
    return [finding for finding in findings if id(finding) not in waiting]
