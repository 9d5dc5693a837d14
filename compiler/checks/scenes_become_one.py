"""Scenes of one song that are written in different ways, and that this rig plays as one."""

from __future__ import annotations

from collections.abc import Iterator

from setwright.compiler.binding.bound import BoundSong
from setwright.compiler.binding.target import NOTHING
from setwright.compiler.checks.check import Check, Explained, Fault
from setwright.compiler.compiled import Compiled
from setwright.compiler.placement.wanted import key_of
from setwright.scenes.finding import Severity
from setwright.scenes.quantities import quoted

EXPLAINED = Explained(
    code="scenes-become-one",
    severity=Severity.NOTE,
    brief="Scenes that differ in the song, and are one preset on this rig.",
    finds="Scenes of one song ask for different things, and with what stands in for them "
    "(instead of:, or --without) they are the same preset.",
    hurts="A press from one of them to the other changes nothing.",
    do="leave it so, if that will do; or let something else stand in, under instead of:",
    example="""\
        scenes:
          Far: [great echo]
    """,
)


def run(compiled: Compiled) -> Iterator[Fault]:
    """Yield one fault for each song, however many of its scenes became one."""
    seen = set()
    for song in compiled.songs:
        if song.owner in seen:
            continue
        seen.add(song.owner)
        if not any(scene.replaced for scene in song.scenes.values()):
            continue
        alike = [names for names in _alike(compiled, song) if len(names) > 1]
        if not alike:
            continue
        whose = "the general scenes" if song.general else quoted(song.song.title)
        which = "; ".join(" and ".join(map(quoted, names)) for names in alike)
        second = song.scenes[alike[0][1]]
        yield Fault(
            second.path,
            f"with what stands in on this rig, scenes of {whose} are one preset: {which}",
            at_key=True,
        )


def _alike(compiled: Compiled, song: BoundSong) -> Iterator[list[str]]:
    """Yield the scenes that became the same, in the order of the song: one name for each way.

    Scenes that are written alike are meant to be one, and so are those without a stand-in. An
    effect for which there is none is a finding of its own.
    """
    groups: dict[tuple[object, ...], dict[tuple[object, ...], str]] = {}
    replaced: set[tuple[object, ...]] = set()
    for name, scene in song.scenes.items():
        values = frozenset(
            (one.unit, one.quantity, str(one.value))
            for one in scene.wanted
            if one.value is not None
        )
        became: tuple[object, ...] = (compiled.placement.of_scene.get(key_of(song, name)), values)
        groups.setdefault(became, {}).setdefault(scene.recipe, name)
        if any(
            played != NOTHING or NOTHING in compiled.book.rig.instead_of.get(asked, ())
            for asked, played in scene.replaced
        ):
            replaced.add(became)
    for became, ways in groups.items():
        if became in replaced:
            yield list(ways.values())


CHECK = Check(EXPLAINED, run)
