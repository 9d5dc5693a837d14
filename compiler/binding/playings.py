"""Which playing is which: a song may be played more than once on a night.

Runs once all songs are bound. Playings whose scenes are made in the same way share them, and
their presets; one that is played in another way (at another tempo, say) has scenes of its own.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from itertools import chain, count

from setwright.compiler.binding.bound import BoundSong

Recipes = dict[str, tuple[object, ...]]
"""Scene → how it is made."""


def told_apart(songs: list[BoundSong], identities: set[str]) -> list[BoundSong]:
    """Return ``songs`` with what each is called, and the owner of its scenes.

    ``identities`` are those of all songs of the book. No two playings are called the same, and
    no owner is another song's identity.
    """
    called: set[str] = set()
    owners = set(identities)
    known: dict[str, dict[str, Recipes]] = {}
    result = []
    for song in songs:
        name = _unused(called, _names(song))
        recipes = {scene: bound.recipe for scene, bound in song.scenes.items()}
        ways = known.setdefault(song.owner, {song.owner: {}})
        owner = next((owner for owner, way in ways.items() if _agree(way, recipes)), None)
        if owner is None:
            # A song's title may look like what a playing of another one is called.
            owner = _unused(owners, chain([name], _names(song._replace(called=name))))
        ways.setdefault(owner, {}).update(recipes)
        result.append(song._replace(owner=owner, called=name))
    return result


def _agree(way: Recipes, recipes: Recipes) -> bool:
    return all(way.get(scene, recipe) == recipe for scene, recipe in recipes.items())


def _names(song: BoundSong) -> Iterator[str]:
    """Yield what a playing may be called, the best name first."""
    mark = str(song.number) if song.number else "if asked"
    yield f"{mark} {song.called}"
    for again in count(2):
        yield f"{mark} {again} {song.called}"


def _unused(used: set[str], names: Iterable[str]) -> str:
    """Return the first of ``names`` that is not used yet, and note that it is now."""
    name = next(name for name in names if name not in used)
    used.add(name)
    return name
