"""What has been proven of a whole night, in numbers and in one line."""

from __future__ import annotations

from fractions import Fraction
from typing import NamedTuple

from setwright.compiler.binding.states import Verdict
from setwright.compiler.compiled import Compiled
from setwright.compiler.proving.proved import LoweredScene
from setwright.compiler.signal.silence import Listener
from setwright.scenes.finding import Severity, worst
from setwright.scenes.quantities import plain_number
from setwright.scenes.wording import number_of


class Proof(NamedTuple):
    """How much was proven.

    ``scenes`` are all of the night, ``messages`` those in their presets (or a computer's, where
    that alone sends), ``units`` the boxes that can hear them. ``not_known`` counts scenes with
    something that cannot be known, ``feet`` those that hold only if feet do as printed.
    ``slowest`` is the scene that takes longest, with its ms from the press to the new sound;
    ``passed`` are the codes that are let pass and keep scenes from being proven. ``not_heard``
    counts the other scenes in which the guitar comes to no amplifier, to the end of a song, and
    nobody means it.
    """

    scenes: int
    messages: int
    units: int
    not_known: int
    feet: int
    slowest: tuple[LoweredScene, Fraction] | None
    passed: tuple[str, ...] = ()
    not_heard: int = 0

    @property
    def pairs(self) -> int:
        """How often one scene can come after another."""
        return self.scenes * (self.scenes - 1)

    def __str__(self) -> str:
        count = self.scenes - self.not_known - self.not_heard
        which = f"all {count:,}" if count == self.scenes else f"{count:,} of {self.scenes:,}"
        line = (
            f"proven: {which} scenes after any other ({number_of(self.pairs, 'pair')}), with "
            f"{number_of(self.messages, 'message')} to {number_of(self.units, 'unit')}"
        )
        if self.feet and count:
            line += f"; {self.feet:,} of them if feet and start are as printed"
        if self.not_known:
            line += f"; {self.not_known:,} cannot be known"
            if self.passed:
                line += f" (let pass: {', '.join(self.passed)})"
        if self.not_heard:
            line += f"; {self.not_heard:,} not heard"
        if self.slowest is not None:
            scene, takes = self.slowest
            line += f"; slowest: {scene.called}, {plain_number(round(takes, 1))} ms"
        return line


def proof(compiled: Compiled) -> Proof | None:
    """Return what has been proven of ``compiled``; None while there are errors."""
    if compiled.target is None or worst(compiled.findings) is Severity.ERROR:
        return None
    unheard = {
        (one.song.called, name)
        for one in Listener(compiled.target, compiled.signal).not_ended(compiled.songs)
        for name in one.scenes
    }
    pressed = [
        (compiled.scene(song, name), (song.called, name) not in unheard)
        for song in compiled.songs
        for name in song.scenes
    ]
    scenes = [scene for scene, _ in pressed]
    verdicts: dict[int, frozenset[Verdict]] = {}
    for scene in scenes:
        if id(scene.proved) not in verdicts:
            verdicts[id(scene.proved)] = frozenset(one.verdict for one in scene.proved)
    known = [
        (verdicts[id(scene.proved)], heard)
        for scene, heard in pressed
        if Verdict.UNKNOWN not in verdicts[id(scene.proved)]
    ]
    slowest = max(scenes, key=lambda scene: scene.lowered.sent.sound, default=None)
    return Proof(
        len(scenes),
        sum(len(scene.lowered.sent.commands) for scene in scenes),
        len(compiled.lines.listening(compiled.lines.sender)),
        len(scenes) - len(known),
        sum(heard and Verdict.FEET in found for found, heard in known),
        None if slowest is None else (slowest, slowest.lowered.sent.sound),
        tuple(dict.fromkeys(one.code for one in compiled.passed)),
        sum(not heard for _, heard in known),
    )
