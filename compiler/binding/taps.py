"""Delays that only a foot can set: what it taps, and when.

Runs on the songs of a night in their order, once they are bound. At a press of a scene that uses
such a delay the foot taps the echo that is asked for, else the song's beat; unless it was tapped
so before and nothing else since. That is remembered from press to press, and into a song that
follows straight on. Before any other song nobody can be sure what was played last, for a set list
changes on the stage, so its first tap is always said; so is that of a scene that is pressed as
one likes.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping

from setwright.compiler.binding.bound import BoundSong
from setwright.compiler.binding.foot import FootMove
from setwright.compiler.binding.target import Program, Tap
from setwright.scenes.unit import Unit


def with_taps(songs: Iterable[BoundSong], units: Mapping[str, Unit]) -> Iterator[BoundSong]:
    """Yield ``songs`` with what is tapped among the moves of the foot.

    A program brings a time of its own, unless the unit keeps what it has or ignores a repeat.
    """
    tapped: dict[str, str] = {}
    loaded: dict[str, tuple[int, int]] = {}
    for song in songs:
        if not song.is_straight:
            tapped, loaded = {}, {}
        taps = {name: list(_taps(song, name)) for name in song.scenes}
        in_order = bool(song.song.order)
        feet = []
        before = ""
        for moment, moves in zip(song.moments, song.feet, strict=True):
            if moment.scene in song.scenes and moment.scene != before:
                for unit, program in _programs(song, moment.scene):
                    if not _keeps_time(units[unit], loaded.get(unit), program):
                        tapped.pop(unit, None)
                    loaded[unit] = program
            before = moment.scene
            new = [
                move
                for move in taps.get(moment.scene, ())
                if not in_order or tapped.get(move.unit) != move.position
            ]
            tapped.update(new)
            feet.append((*moves, *new))
        pressed = {moment.scene for moment in song.moments}
        chosen = [(name, move) for name in taps if name not in pressed for move in taps[name]]
        if chosen or (not in_order and any(taps.values())):
            tapped = {}  # which of them was pressed last, nobody knows
        yield song._replace(feet=tuple(feet), taps=tuple(chosen))


def _taps(song: BoundSong, scene: str) -> Iterator[FootMove]:
    for wanted in song.scenes[scene].wanted:
        if isinstance(wanted.value, Tap):
            yield FootMove(wanted.unit, wanted.value.at(song.resolved.tempo_in(scene)))


def _programs(song: BoundSong, scene: str) -> Iterator[tuple[str, tuple[int, int]]]:
    for wanted in song.scenes[scene].wanted:
        if isinstance(wanted.value, Program):
            yield wanted.unit, wanted.value.on_wire


def _keeps_time(unit: Unit, before: tuple[int, int] | None, program: tuple[int, int]) -> bool:
    """Tell whether a unit goes on with what was tapped when it is sent ``program``."""
    if unit.time is not None and unit.time.after_a_program == "kept":
        return True
    return unit.same_program_again == "ignored" and before == program
