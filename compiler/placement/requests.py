"""Songs that are kept for requests: which of them find room for scenes of their own.

The songs of the sets are placed first, then the requests in their order. Where the banks do not
hold them all, the last ones have the rig's general scenes. Runs before scenes are placed for good.
"""

from __future__ import annotations

from collections.abc import Mapping

from setwright.compiler.binding.bound import BoundSong
from setwright.compiler.binding.target import Target
from setwright.compiler.lowering.preset import Address, Content
from setwright.compiler.placement.banks import assign
from setwright.compiler.placement.held import Held
from setwright.compiler.placement.wanted import SceneKey


def crowded_out(
    target: Target,
    songs: list[BoundSong],
    contents: dict[SceneKey, Content],
    held: Mapping[Address, Held],
) -> frozenset[int]:
    """Return which of ``songs``, by index, are requests that find no room: none where all do.

    Nothing is crowded out where the rig has no general scenes, and nothing that has them already.
    What the general scenes take is not counted, so the caller looks again once they are bound.
    """
    own = [n for n, song in enumerate(songs) if not song.number and not song.general]
    if not own or not target.book.rig.general or _fit(target, songs, contents, held):
        return frozenset()
    too_large = frozenset(n for n in own if not _fit(target, [songs[n]], contents, held))
    if too_large:
        return too_large

    def is_enough(kept: int) -> bool:
        out = own[kept:]
        return _fit(target, [song for n, song in enumerate(songs) if n not in out], contents, held)

    low, high = 0, len(own) - 1  # how many may stay; all of them are too many
    while low < high:
        middle = (low + high + 1) // 2
        low, high = (middle, high) if is_enough(middle) else (low, middle - 1)
    return frozenset(own[low:])


def _fit(
    target: Target,
    songs: list[BoundSong],
    contents: dict[SceneKey, Content],
    held: Mapping[Address, Held],
) -> bool:
    return not assign(target, songs, contents, held, as_noted=True).findings
