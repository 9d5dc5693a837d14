"""A night walked through scene by scene: what each key does, without ports, clocks or screens.

The steps are those of the cue sheet, in its order: the moments of each song, behind them the
scenes that can be chosen at any time, and the songs kept for requests at the end. A key gives a
`Deed`: what is sent for it, always the whole message list of a scene, and what is left to do by
hand. Where the sheet says that the foot stays, nothing is sent either.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field
from fractions import Fraction
from typing import NamedTuple

from setwright.compiler.binding.target import COMPUTER
from setwright.compiler.compiled import Compiled
from setwright.compiler.lowering.preset import Address
from setwright.compiler.proving.proved import LoweredScene
from setwright.compiler.reports.find import Found
from setwright.compiler.sending.port.problem import Problem
from setwright.compiler.sending.rehearsing.silencing import silencing
from setwright.compiler.sending.rehearsing.steps import Step, every_scene, steps_of
from setwright.compiler.sending.send import Plan, plan
from setwright.scenes.wording import joined


class Deed(NamedTuple):
    """What a key does.

    ``planned`` is what is sent, None where nothing is; ``settles`` says how many ms after its
    first message the sound is there. ``by_hand`` is left to the player, ``word`` a sentence about
    it, if there is anything to say. ``quiet`` tells that it is the silence and no scene.
    """

    step: Step | None
    planned: Plan | None = None
    settles: Fraction = Fraction(0)
    by_hand: tuple[str, ...] = ()
    word: str = ""
    quiet: bool = False


@dataclass
class Rehearsal:
    """Where one is in the night, by which route scenes are sent, and what has been sent.

    ``at`` is None before the first step, ``scenes`` how many different ones there are; ``resent``
    are the names of those that were asked for again, with how often.
    """

    compiled: Compiled
    direct: bool = False
    steps: tuple[Step, ...] = field(init=False)
    scenes: int = field(init=False)
    at: int | None = None
    resent: dict[str, int] = field(default_factory=dict)
    _feet: dict[str, str] = field(default_factory=dict)
    """Where pedals stand if the player did what was said, and what was tapped."""
    _loaded: Address | None = None
    """The switch whose preset the rig has, as far as we sent it; None where nobody knows."""

    def __post_init__(self) -> None:
        """Read the cue sheet."""
        self.steps = steps_of(self.compiled)
        self.scenes = len(every_scene(self.steps))

    @property
    def step(self) -> Step | None:
        """The step at which one is."""
        return None if self.at is None else self.steps[self.at]

    @property
    def following(self) -> Step | None:
        """The step that comes next; None behind the last."""
        at = 0 if self.at is None else self.at + 1
        return self.steps[at] if at < len(self.steps) else None

    @property
    def route(self) -> str:
        """The route in words."""
        return "direct" if self.direct or self._by_computer else "stored"

    @property
    def _by_computer(self) -> bool:
        """Whether presets hold no messages, so that there is only one route."""
        return any(one.lowered.by_computer for one in self.compiled.scenes.values())

    def next(self) -> Deed:
        """Go one step on."""
        following = self.following
        if following is None:
            return Deed(self.step, word="that was the last step of the night")
        came_from, self.at = self.at, following.at
        return self._arrive(in_order=came_from is not None)

    def back(self) -> Deed:
        """Go one step back."""
        if not self.at:
            return Deed(self.step, word="this is the beginning of the night")
        self.at -= 1
        return self._arrive()

    def go(self, index: int) -> Deed:
        """Go to a step by its index."""
        in_order = self.at is not None and index == self.at + 1
        self.at = index
        return self._arrive(in_order=in_order)

    def again(self) -> Deed:
        """Send the scene once more."""
        step = self.step
        if step is None:
            return Deed(None, word="nothing has been sent yet")
        if step.found is not None:
            self.resent[step.name] = self.resent.get(step.name, 0) + 1
        return self._deed(step, by_hand=self._hands(step))

    def silence(self) -> Deed:
        """Bypass and mute what messages can; what they cannot is said."""
        found = None if self.step is None else self.step.found
        scene = None if found is None else found.scene
        quiet = silencing(self.compiled, scene, direct=self.route == "direct")
        self._loaded = None
        self._feet.clear()  # a pedal may have been closed
        settles = quiet.route.sound
        return Deed(
            self.step,
            Plan(quiet.route) if quiet.route.commands else None,
            settles,
            quiet.by_hand,
            quiet.word,
            quiet=True,
        )

    def switch_route(self) -> str:
        """Take the other route from now on, where there is one; return a sentence about it."""
        if self.direct:
            reason = self.no_stored_route()
            if reason is not None:
                return f"there is only the direct route: {reason}"
            self.direct = False
            return "stored route from the next scene on: the switcher loads its preset"
        if self._by_computer:
            return "there is only the direct route: presets hold no messages on this rig"
        self.direct = True
        return "direct route from the next scene on: every unit is told; loops and relays by hand"

    def no_stored_route(self) -> Problem | None:
        """Say why no scene of the night can be recalled; None where any can."""
        first: Problem | None = None
        for step in self.steps:
            if step.found is not None:
                planned = plan(self.compiled, step.found, direct=False)
                if isinstance(planned, Plan):
                    return None
                first = first or planned
        return first

    def _arrive(self, *, in_order: bool = False) -> Deed:
        step = self.step
        assert step is not None
        if in_order and step.stay and self._slot(step) == self._loaded is not None:
            hands = self._hands(step, in_order=True)
            return Deed(step, by_hand=hands, word="nothing is pressed: the same switch stays")
        return self._deed(step, by_hand=self._hands(step, in_order=in_order))

    def _hands(self, step: Step, *, in_order: bool = False) -> tuple[str, ...]:
        """Return what the player does: coming from the step before, or else how all has to stand.

        What the step before did not say, for one came there from elsewhere, is said now.
        """
        there, self._feet = self._feet, {**self._feet, **dict(step.stands)}
        if not in_order:
            guitar = (f"guitar: {step.guitar}",) if step.guitar else ()
            return (*guitar, *(f"foot: {one}" for one in step.stands))
        there |= dict(step.afterwards)
        missing = [
            str(one)
            for one in step.stands
            if there.get(one.unit) != one.position and str(one) not in step.feet
        ]
        back = (f"after the song before: {one}" for one in step.afterwards)
        gear = (f"take {step.gear}",) if step.gear else ()
        return (*back, *gear, *(f"foot: {one}" for one in (*step.feet, *missing)))

    def _deed(self, step: Step, *, by_hand: tuple[str, ...]) -> Deed:
        if step.found is None:
            word = "nothing is pressed here: the sound of before goes on"
            return Deed(step, by_hand=by_hand, word=word)
        planned = plan(self.compiled, step.found, direct=self.direct)
        if isinstance(planned, Problem):
            self._loaded = None
            return Deed(step, by_hand=by_hand, word=str(planned))
        self._loaded = self._slot(step)
        if self.route == "direct":
            by_hand = (*by_hand, *_not_told(self.compiled, step.found.scene))
        if step.look:
            by_hand = (*by_hand, "on the night: press only if it is not on")
        word = "" if planned.route.commands else "no unit needs a message for this scene"
        return Deed(step, planned, self._sound(step.found, planned), by_hand, word)

    def _slot(self, step: Step) -> Address | None:
        found = step.found
        return None if found is None else self.compiled.placement.of_scene.get(found.scene.key)

    def _sound(self, found: Found, planned: Plan) -> Fraction:
        """Return how many ms after the first message the sound is there.

        A preset that is recalled sends what it holds once its recall is through.
        """
        lowered = found.scene.lowered
        if self.direct or lowered.by_computer:
            return planned.route.sound
        return planned.route.ms + lowered.stored.sound


def _not_told(compiled: Compiled, scene: LoweredScene) -> Iterator[str]:
    """Yield what no message of the direct route does: loops and relays, units without a cable."""
    hear = compiled.lines.reach(COMPUTER)
    told = dict.fromkeys(timed.command.unit for timed in scene.lowered.direct.commands)
    deaf = [unit for unit in told if unit not in hear]
    if deaf:
        yield f"no cable of this rig leads from the computer to {joined(deaf)}"
    loops: dict[int, list[str]] = {}
    relays: dict[int, list[str]] = {}
    for name, unit in compiled.target.units.items():
        if unit.loop is not None:
            loops.setdefault(unit.loop, []).append(name)
        for number in (one for switched in unit.switched.values() for one in switched.numbers):
            relays.setdefault(number, []).append(name)
    for all_of, there, what, rest in (
        (loops, scene.content.loops, "loops in", "all others out"),
        (relays, scene.content.relays, "relays closed", "all others open"),
    ):
        if all_of:
            on = [f"{number} {' + '.join(all_of.get(number, ()))}".strip() for number in there]
            yield f"{what}: {', '.join(on) or 'none'}; {rest}"
