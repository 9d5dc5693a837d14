"""The scene that a person asks for by name, in the words of the cue sheet.

``SONG/SCENE`` is the scene of the first playing of a song that has it; ``7 SONG/SCENE`` that of
the song with number 7 tonight, and ``if asked SONG/SCENE`` that of a song kept for requests. A
song goes by its title or its id.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from typing import NamedTuple

from setwright.compiler.binding.bound import BoundSong
from setwright.compiler.compiled import Compiled
from setwright.compiler.pipeline import compile_song
from setwright.compiler.placement.wanted import SceneKey, key_of
from setwright.compiler.proving.proved import LoweredScene
from setwright.scenes.finding import visible
from setwright.scenes.names import suggestion
from setwright.scenes.quantities import quoted


class Found(NamedTuple):
    """A scene that was asked for by name."""

    song: BoundSong
    scene: LoweredScene


class Choice(NamedTuple):
    """A song that may be meant, as it is played, with the scenes of its night by their keys."""

    song: BoundSong
    scenes: dict[SceneKey, LoweredScene]


def find_scene(compiled: Compiled, text: str) -> Found | str:
    """Return the scene that ``text`` names, or a sentence that says why there is none.

    A title may have slashes of its own: every slash is tried, and the one that leaves a song
    and one of its scenes is taken.
    """
    typed = as_printed(text)
    splits = [
        (typed[:at].strip(), typed[at + 1 :].strip())
        for at, sign in enumerate(typed)
        if sign == "/"
    ]
    if not splits:
        return "write SONG/SCENE, with a slash between the song's title and the scene's name"
    tonight = [Choice(song, compiled.scenes) for song in compiled.with_kept]
    songs = [*tonight, *_not_played(compiled, splits)]
    # What the cue sheet prints means that playing, whatever else might be called so.
    for names in (_called, _numbered, _known_as, _titled):
        found = _meant(compiled, songs, splits, names)
        if len(found) == 1:
            return found[0]
        if found:
            return _ambiguous(found, typed)
    return _missing(compiled, songs, splits)


def offered(compiled: Compiled) -> Iterator[str]:
    """Yield a name for every scene of the night, then those of every playing by its number."""
    yield from dict.fromkeys(
        f"{song.song.identity}/{scene}" for song in compiled.with_kept for scene in song.scenes
    )
    for song in compiled.songs:
        yield from (f"{song.called}/{scene}" for scene in song.scenes)


def heading(compiled: Compiled, song: BoundSong) -> str:
    """Return a song's title; its number in front where several playings have that title."""
    same = [one for one in compiled.songs if one.song.title == song.song.title]
    return f"{_mark(song)} {song.song.title}" if song in same and len(same) > 1 else song.song.title


def as_printed(name: str) -> str:
    """Return a name as the sheets print it: on one line, what is invisible escaped."""
    return visible(" ".join(name.split()))


Names = Callable[[Compiled, BoundSong], set[str]]
"""What a playing may be called."""


def _called(_: Compiled, song: BoundSong) -> set[str]:
    return {song.called} if song.playing is not None else set()


def _numbered(_: Compiled, song: BoundSong) -> set[str]:
    return {f"{_mark(song)} {song.song.title}"} if song.playing is not None else set()


def _known_as(compiled: Compiled, song: BoundSong) -> set[str]:
    known = compiled.book.by_name
    names = {song.song.identity, song.song.title}
    return {name for name in names if name in known and known[name] is song.song}


def _titled(_: Compiled, song: BoundSong) -> set[str]:
    return {song.song.title}


def _mark(song: BoundSong) -> str:
    return str(song.number) if song.number else "if asked"


def _not_played(compiled: Compiled, splits: list[tuple[str, str]]) -> list[Choice]:
    """Return the songs that may be meant and are not played tonight, as this rig plays them."""
    played = {one.song.identity for one in compiled.songs}
    heads = {head for head, _ in splits}
    return [
        Choice(*compile_song(compiled, song))
        for song in compiled.book.songs
        if song.identity not in played
        and heads & {as_printed(song.identity), as_printed(song.title)}
    ]


def _meant(
    compiled: Compiled, songs: list[Choice], splits: list[tuple[str, str]], names: Names
) -> list[Found]:
    """Return the scenes that are meant, one alone where all are the same.

    Of a song's playings it is the first that has the scene.
    """
    found: dict[tuple[str, str], Found] = {}
    for head, name in splits:
        for song, scenes in _named(compiled, songs, head, names):
            for scene in song.scenes:
                if as_printed(scene) == name:
                    one = Found(song, scenes[key_of(song, scene)])
                    found.setdefault((song.song.identity, scene), one)
    different = {one.scene.key for one in found.values()}
    # Songs that share one scene mean the same; where there is another, each has to be told.
    return list(found.values())[: None if len(different) > 1 else 1]


def _named(compiled: Compiled, songs: list[Choice], head: str, names: Names) -> Iterator[Choice]:
    for one in songs:
        if head in map(as_printed, names(compiled, one.song)):
            yield one


def _ambiguous(found: list[Found], typed: str) -> str:
    choices = [as_printed(f"{one.song.called}/{one.scene.bound.name}") for one in found]
    if len(set(choices)) < len(choices) or typed in choices:
        return "this means more than one scene; give one of the songs an id: without a slash"
    return f"this means more than one scene; write {' or '.join(map(quoted, choices))}"


def _missing(compiled: Compiled, songs: list[Choice], splits: list[tuple[str, str]]) -> str:
    """Say why there is no such scene; the last slash is most likely the one that was meant."""
    reason = ""
    for head, name in splits:
        same = list(
            dict.fromkeys(
                id(one.song)
                for names in (_called, _numbered, _known_as, _titled)
                for one in _named(compiled, songs, head, names)
            )
        )
        playings = [one.song for one in songs if id(one.song) in same]
        if playings:
            reason = _no_scene(playings, head, name)
    head = splits[-1][0]
    known = (*compiled.book.by_name, *(song.called for song in compiled.with_kept))
    return reason or f"the book has no song {quoted(head)}: " + suggestion(
        head, known, "it holds no songs"
    )


def _no_scene(playings: list[BoundSong], head: str, name: str) -> str:
    """Say why none of ``playings``, which ``head`` names, has the scene ``name``."""
    if any(name in map(as_printed, song.left_out) for song in playings):
        return f"{quoted(name)} is left out tonight"
    known = list(dict.fromkeys(scene for song in playings for scene in song.scenes))
    own = {as_printed(scene) for song in playings for scene in song.song.scenes}
    if name not in own:
        return f"{quoted(head)} has no scene {quoted(name)}: " + (
            suggestion(name, known, "it has none at all")
        )
    if all(song.general for song in playings):
        return (
            f"{quoted(head)} is kept for requests tonight, and the banks have no room for its "
            f"scenes, so it has the rig's general ones: {', '.join(known)}"
        )
    return f"{quoted(name)} has findings, so it has no state yet; run check"
