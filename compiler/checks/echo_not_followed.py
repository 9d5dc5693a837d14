"""An echo that is asked for and that no delay in the scene can follow."""

from __future__ import annotations

from collections.abc import Iterator
from typing import NamedTuple

from setwright.compiler.binding.bound import BoundScene, BoundSong
from setwright.compiler.binding.states import Verdict
from setwright.compiler.checks.check import Also, Check, Explained, Fault
from setwright.compiler.compiled import Compiled
from setwright.scenes.finding import Severity
from setwright.scenes.musical_time import NoteValue
from setwright.scenes.places import KeyPath
from setwright.scenes.quantities import quoted
from setwright.scenes.unit import Unit
from setwright.scenes.wording import number_of

EXPLAINED = Explained(
    code="echo-not-followed",
    severity=Severity.WARNING,
    brief="An echo that is asked for and that no delay in the scene can follow.",
    finds="A scene, or a song for its scenes, says echo:, and no unit that sounds there takes its "
    "delay time from it: none of them has a time: or a tempo from:, or the one that has takes its "
    "time elsewhere, from its program or from a setting of its own. A time in ms cannot be "
    "followed by a delay on the clock either.",
    hurts="The repeats come at whatever time the delay had before, beside the beat.",
    do="let the scene ask for an effect that is made by a delay with time: or tempo from: tap, or "
    "delete the echo:; a rig that does without says let pass: {echo-not-followed: why}",
    example="""\
        Far: {effects: [compression, tremolo], echo: quarter}
    """,
)


MANY = 4
"""So many causes on one rig are one: it makes its echoes with something that is no delay."""


class _Asked(NamedTuple):
    """An echo that is asked for at ``path``, and the scenes that take it."""

    path: KeyPath
    scenes: list[tuple[BoundSong, BoundScene]]


def run(compiled: Compiled) -> Iterator[Fault]:
    """Yield one fault for each cause for which echoes are not followed.

    That is a delay that takes its time elsewhere, a sound without a delay, or the echo itself;
    where there are `MANY` of these, or the rig has no delay at all, it is the rig.
    """
    delays = [unit for unit in compiled.book.rig.units.values() if _is_delay(unit)]
    by_unit: dict[str, list[_Asked]] = {}
    by_scene: dict[object, list[_Asked]] = {}
    for asked in _asked(compiled):
        if not asked.scenes:
            yield _general(asked)
        elif not any(_may_be_followed(compiled, *one) for one in asked.scenes):
            unit = next(
                (one for _, scene in asked.scenes for one in _delays_in(compiled, scene)), ""
            )
            if unit:
                by_unit.setdefault(unit, []).append(asked)
            else:
                by_scene.setdefault(_sound(compiled, asked) or asked.path, []).append(asked)
    for unit, same in by_unit.items():
        yield _elsewhere(compiled, unit, same)
    if by_scene and not delays:
        also = Also("none of these units is said to have a delay time", ("rig", "units"), True)
        yield _no_delay([one for same in by_scene.values() for one in same], also)
    elif len(by_scene) >= MANY:
        others = [Also("nor this one", same[0].path) for same in list(by_scene.values())[1:4]]
        yield _no_delay([one for same in by_scene.values() for one in same], *others)
    else:
        for cause, same in by_scene.items():
            sound = ("songs", "sounds", cause) if isinstance(cause, str) else None
            yield _no_delay(same, *((Also("the sound", sound, True),) if sound else ()))


def _general(asked: _Asked) -> Fault:
    return Fault(
        asked.path,
        "the song is played with the rig's general scenes, which take no echo from it",
        "write echo: in the general scenes, or give the song scenes of its own",
    )


def _no_delay(same: list[_Asked], *also: Also) -> Fault:
    return Fault(
        same[0].path, f"{_where(same)} no delay sounds that could follow this echo", "", also
    )


def _elsewhere(compiled: Compiled, unit: str, same: list[_Asked]) -> Fault:
    declared = compiled.target.units[unit]
    source = declared.tempo_from or "control"
    what = {
        "program": "takes its time from its program",
        "global": "has one tempo for all, set on the unit",
        "clock": "follows the clock, which knows of no milliseconds",
        "control": "does not take its time in the program that is loaded",
    }[source]
    path = ("rig", "units", unit, "time" if source == "control" else "tempo from")
    return Fault(
        same[0].path,
        f"{_where(same)} no delay can follow this echo: {quoted(unit)} {what}",
        also=(Also("the delay", path, at_key=source == "control"),),
    )


def _where(same: list[_Asked]) -> str:
    """Return words for the first scene, and how many more there are."""
    song, scene = same[0].scenes[0]
    count = sum(len(one.scenes) for one in same) - 1
    more = f" (and {number_of(count, 'more scene')})" if count else ""
    return f"in {quoted(scene.name)} of {quoted(song.song.title)}{more}"


def _sound(compiled: Compiled, asked: _Asked) -> str:
    """Return the sound that the first scene with this echo begins from; an empty text if none."""
    song, scene = asked.scenes[0]
    scenes = compiled.book.rig.general if song.general else song.song.scenes
    start = scenes[scene.name]
    while start.like is not None and start.sound is None:
        start = scenes[start.like]
    return start.sound or ""


def _asked(compiled: Compiled) -> list[_Asked]:
    """Return every echo that tonight's scenes take, and those of songs that no scene takes."""
    found: dict[KeyPath, _Asked] = {}
    for song in compiled.songs:
        for scene in song.scenes.values():
            if scene.echo_path:
                asked = found.setdefault(scene.echo_path, _Asked(scene.echo_path, []))
                asked.scenes.append((song, scene))
        if song.song.echo is not None and not song.song.scenes:
            path = (*song.song.path, "echo")
            found.setdefault(path, _Asked(path, []))
    return list(found.values())


def _may_be_followed(compiled: Compiled, song: BoundSong, scene: BoundScene) -> bool:
    """Tell whether a delay follows the echo in ``scene``, or would if all were played tonight."""
    if song.left_out or any(_is_by_delay(compiled, asked) for asked, _ in scene.replaced):
        return True
    in_time = isinstance(_echo(compiled, song, scene), NoteValue)
    return any(
        compiled.target.units[unit].tempo_from == "clock" and in_time
        for unit in _delays_in(compiled, scene)
    ) or any(
        one.verdict is not Verdict.FREE
        for one in scene.wanted
        if one.quantity == "time" and one.unit in _delays_in(compiled, scene)
    )


def _echo(compiled: Compiled, song: BoundSong, scene: BoundScene) -> object:
    """Return the echo that ``scene`` takes: a note, or ms."""
    path = scene.echo_path
    if path[0] == "rig":
        return compiled.book.rig.general[str(path[-2])].echo
    if path == (*song.song.path, "echo"):
        return song.song.echo
    return song.song.scenes[str(path[-2])].echo


def _is_by_delay(compiled: Compiled, effect: str) -> bool:
    """Tell whether ``effect``, which is replaced, may be made by a delay.

    What this rig has no way to make may be anything.
    """
    rig = compiled.book.rig
    if effect not in rig.effects:
        return True
    return any(_is_delay(rig.units[unit]) for unit in rig.effects[effect] if unit in rig.units)


def _is_delay(unit: Unit) -> bool:
    return unit.time is not None or unit.tempo_from is not None


def _delays_in(compiled: Compiled, scene: BoundScene) -> list[str]:
    """Return the delays that the effects of ``scene`` use."""
    used = (
        demand.unit
        for effect in scene.effects
        for demand in compiled.target.makes[effect]
        if demand.quantity == "use"
    )
    return [unit for unit in dict.fromkeys(used) if _is_delay(compiled.target.units[unit])]


CHECK = Check(EXPLAINED, run)
