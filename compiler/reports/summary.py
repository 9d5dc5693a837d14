"""What has been proven of a whole night, and what that rests on, in two lines."""

from __future__ import annotations

from fractions import Fraction
from typing import NamedTuple

from setwright.compiler.binding.states import Verdict
from setwright.compiler.compiled import Compiled
from setwright.compiler.proving.proved import LoweredScene
from setwright.scenes.finding import Severity, worst
from setwright.scenes.quantities import plain_number
from setwright.scenes.wording import number_of


class Proof(NamedTuple):
    """How much was proven, and on what that rests.

    ``scenes`` are all of the night. ``not_known`` counts scenes with something that cannot be
    known; ``passed`` are the codes that are let pass and keep scenes from being proven;
    ``not_heard`` counts the other scenes in which the guitar comes to no amplifier, to the end of
    a song, and nobody means it. Of the rest, ``feet`` hold only if feet and start are as printed,
    ``whole_messages`` only if a busy box loses whole messages and not single bytes. ``slowest``
    is the scene that takes longest, with its ms from the press to the new sound. ``path`` tells
    whether the rig says the way of its signal, ``places`` whether a song says when scenes are
    pressed; ``rig`` is what the rig is called.
    """

    scenes: int
    not_known: int
    feet: int
    slowest: tuple[LoweredScene, Fraction] | None
    passed: tuple[str, ...] = ()
    not_heard: int = 0
    whole_messages: int = 0
    path: bool = True
    places: bool = False
    rig: str = "the rig"

    @property
    def proven(self) -> int:
        """How many scenes are proven."""
        return self.scenes - self.not_known - self.not_heard

    @property
    def lines(self) -> tuple[str, ...]:
        """What is proven, and what it rests on; one line where there is nothing to prove."""
        if not self.scenes:
            return ("nothing is proven: there is no scene to press",)
        return self._proven(), self._rests_on()

    def _proven(self) -> str:
        which = number_of(self.scenes, "scene")
        if self.proven < self.scenes:
            which = f"{self.proven:,} of {which}"
        elif self.scenes > 1:
            which = f"all {which}"
        line = f"proven: in {which} every box stands as written, whichever scene came before, " + (
            "and the guitar is heard" if self.path else "but nothing is known of the signal"
        )
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

    def _rests_on(self) -> str:
        grounds = [f"boxes and cables as the file of {self.rig} says"]
        if self.feet:
            grounds.append(f"feet and start as printed ({number_of(self.feet, 'scene')})")
        grounds.append(
            "presses at their places" if self.places else "each press finding the rig at rest"
        )
        if self.whole_messages:
            grounds.append(
                "busy boxes losing whole messages, not single bytes "
                f"({number_of(self.whole_messages, 'scene')})"
            )
        return f"rests on: {', '.join(grounds)}; more: setwright checks proof"


def proof(compiled: Compiled) -> Proof | None:
    """Return what has been proven of ``compiled``; None while there are errors."""
    if worst(compiled.findings) is Severity.ERROR:
        return None
    listener = compiled.listener
    unheard = {
        (one.song.called, name) for one in listener.not_ended(compiled.songs) for name in one.scenes
    }
    unheard |= {
        (song.called, name)
        for song, _, scenes in listener.not_said(compiled.songs)
        for name in scenes
    }
    if listener.is_deaf:
        unheard = {(song.called, name) for song in compiled.with_kept for name in song.scenes}
    pressed = [
        (compiled.scene(song, name), (song.called, name) not in unheard)
        for song in compiled.with_kept
        for name in song.scenes
    ]
    scenes = [scene for scene, _ in pressed]
    verdicts: dict[int, frozenset[Verdict]] = {}
    for scene in scenes:
        if id(scene.proved) not in verdicts:
            verdicts[id(scene.proved)] = frozenset(one.verdict for one in scene.proved)
    known = [
        (scene, heard)
        for scene, heard in pressed
        if Verdict.UNKNOWN not in verdicts[id(scene.proved)]
    ]
    proven = [scene for scene, heard in known if heard]
    slowest = max(scenes, key=lambda scene: scene.lowered.sent.sound, default=None)
    return Proof(
        len(scenes),
        len(scenes) - len(known),
        sum(Verdict.FEET in verdicts[id(scene.proved)] for scene in proven),
        None if slowest is None else (slowest, slowest.lowered.sent.sound),
        tuple(dict.fromkeys(one.code for one in compiled.passed)),
        len(known) - len(proven),
        sum(bool(scene.whole_messages) for scene in proven),
        compiled.signal.known,
        any(
            moment.seconds is not None and not moment.assumed
            for song in compiled.songs
            for moment in song.moments
        ),
        compiled.book.rig.rig or "the rig",
    )
