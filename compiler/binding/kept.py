"""What is kept on its switch in every bank, bound as scenes that no song presses."""

from __future__ import annotations

from setwright.compiler.binding.bind import Binder
from setwright.compiler.binding.bound import EVERY_BANK, KEPT, BoundSong
from setwright.scenes.length import length_of
from setwright.scenes.records import set_paths
from setwright.scenes.resolve import ResolvedSong
from setwright.scenes.rig import kept_names
from setwright.scenes.songs import Song


def kept_scenes(binder: Binder) -> BoundSong | None:
    """Bind what the rig says that kept switches hold; None where it says nothing of that.

    It is called a song, for whoever asks for it by name; it has no moments, no tempo and no number.
    """
    resolved = binder.resolver.kept()
    use = binder.target.book.rig.switcher
    if not resolved or use is None:
        return None
    names = kept_names(use)
    written = {names[key]: one.scene for key, one in use.every_bank.items()}
    song = Song(
        title=EVERY_BANK,
        scenes={name: scene for name, scene in written.items() if scene is not None},
    )
    set_paths(song, ("rig", "switcher", "every bank"))
    scenes = {names[key]: one._replace(name=names[key]) for key, one in resolved.items()}
    bound = {name: binder.scene(song, one) for name, one in scenes.items()}
    return BoundSong(
        ResolvedSong(song, song.shape, scenes, (), length_of(song, song.shape)),
        None,
        "",
        {name: one for name, one in bound.items() if one is not None},
        (),
        (),
        binder.feet.walk((), {}, request=True),
        False,
        0,
        None,
        frozenset(),
        KEPT,
        EVERY_BANK,
    )
