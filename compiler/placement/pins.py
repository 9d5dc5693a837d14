"""Scenes that lie on the same switch in every bank, as the rig wants it.

A pin names a scene, or a sound that scenes name and nothing else. What several scenes of one song
would want on one switch, the first of them gets.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping

from setwright.compiler.binding.bound import BoundSong
from setwright.compiler.binding.target import Target
from setwright.scenes.rig import parse_kept_switch
from setwright.scenes.songs import Scene


def pins_of(target: Target) -> dict[str, int]:
    """Return what has a switch of its own: name of a scene or sound → switch, counted from 0."""
    use, switches = target.book.rig.switcher, target.book.switcher.switches
    marks = {switches.show(number).casefold(): number for number in range(switches.count)}
    pins = use.always_on if use is not None else {}
    return {
        name: marks[mark]
        for name, switch in pins.items()
        if (mark := parse_kept_switch(switch).casefold()) in marks
    }


def sound_of(scene: Scene) -> str | None:
    """Return the sound that a scene is, with nothing added and nothing left out; else None."""
    return scene.sound if not scene.add and not scene.drop else None


def pinned(
    target: Target, song: BoundSong, names: Iterable[str], pins: Mapping[str, int]
) -> dict[str, int]:
    """Return those scenes of ``song`` among ``names`` that are pinned, and to which switch."""
    if not pins:
        return {}
    names = list(names)
    written = target.book.rig.general if song.general else song.song.scenes
    found = {name: pins[name] for name in names if name in pins}
    for name in names:
        sound = sound_of(written[name])
        if sound is None or name in found or sound not in pins:
            continue
        if pins[sound] not in found.values():
            found[name] = pins[sound]
    return found
