"""When a preset has too few slots: settings that are stored in new programs of a unit instead.

A program that brings its settings along needs one message where the settings need one each. Which
scenes get such a program, and for which of their settings, is chosen so that the fewest programs
have to be stored: every choice for a scene that fits is looked at, and two scenes that want the
same share one. That a program brings what is stored in it is asked of the model receivers; what
comes out is proven if the start is as printed, for there it says what to store.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from itertools import combinations
from typing import NamedTuple

from setwright.compiler.binding.bound import BoundScene
from setwright.compiler.binding.described import in_words
from setwright.compiler.binding.states import Verdict, Wanted
from setwright.compiler.binding.target import Program, Setting, Target
from setwright.compiler.lowering.preset import does_not_fit
from setwright.compiler.placement.wanted import SceneKey
from setwright.compiler.proving.by_hand import ByHand
from setwright.compiler.proving.prove import Prover
from setwright.compiler.proving.proved import LoweredScene, Lowering
from setwright.scenes.wording import joined

MOST_SETTINGS = 8
"""Settings of one scene of which every choice is looked at."""
MOST_STEPS = 20_000
"""Choices for all scenes together that are looked at; then the best one known is taken."""


class Recipe(NamedTuple):
    """A program that is to be stored: a copy of ``base`` with ``settings`` (by control) in it."""

    unit: str
    base: Program
    settings: tuple[tuple[str, Setting], ...]

    @property
    def name(self) -> str:
        """What it is called: the program that it begins as, and what is set in it."""
        what = joined([f"{control} {in_words(one.asked)}" for control, one in self.settings])
        return f"{self.base.name} with {what}"


class Baked(NamedTuple):
    """Scenes that fit, by their keys; what is to be stored; and whether fewer cannot do."""

    scenes: dict[SceneKey, BoundScene]
    stored: tuple[tuple[Recipe, Program], ...]
    fewest: bool

    @property
    def by_hand(self) -> tuple[ByHand, ...]:
        """What has to be stored, as what is set before the night."""
        return tuple(
            ByHand(recipe.unit, "program", f"{program.shown}: {recipe.name}")
            for recipe, program in self.stored
        )


NOTHING_BAKED = Baked({}, (), True)

Choice = frozenset[Recipe]


def bake(
    target: Target, prover: Prover, lowering: Lowering, scenes: dict[SceneKey, LoweredScene]
) -> Baked:
    """Return what becomes of scenes whose presets are too full, where free programs help."""
    if not any(target.free_programs.values()):
        return NOTHING_BAKED
    storage = target.book.switcher.each_preset_stores
    full: dict[tuple[object, ...], LoweredScene] = {}
    for scene in scenes.values():
        shortage = does_not_fit(scene.content, storage)
        if shortage is not None and not shortage.select_for:
            full.setdefault(scene.bound.recipe, scene)
    kitchen = _Kitchen(target, prover, lowering)
    choices = {recipe: kitchen.choices(scene) for recipe, scene in full.items()}
    choices = {recipe: found for recipe, found in choices.items() if found}
    chosen, fewest = _fewest(list(choices.values()), target)
    if chosen is None:
        return NOTHING_BAKED._replace(fewest=False)
    numbers = _numbered(chosen, target)
    baked: dict[SceneKey, BoundScene] = {}
    for key, scene in scenes.items():
        if scene.bound.recipe in choices:
            choice = chosen[list(choices).index(scene.bound.recipe)]
            baked[key] = with_programs(scene.bound, {one: numbers[one] for one in choice})
    return Baked(baked, tuple(numbers.items()), fewest)


@dataclass(slots=True)
class _Kitchen:
    target: Target
    prover: Prover
    lowering: Lowering

    def choices(self, scene: LoweredScene) -> list[Choice]:
        """Return the ways to make a scene fit, those that bring the least first.

        One that brings more than it has to may be what another scene needs, too.
        """
        settings = list(self._settings(scene.bound))[:MOST_SETTINGS]
        ways = (
            _recipes(some)
            for size in range(1, len(settings) + 1)
            for some in combinations(settings, size)
        )
        return [choice for choice in ways if self._fits(scene, choice)]

    def _settings(self, scene: BoundScene) -> Iterator[tuple[str, Program, str, Setting]]:
        """Yield what a program of a unit could bring: unit, program, control, setting."""
        for one in scene.wanted:
            unit = self.target.units[one.unit]
            control = unit.control(one.quantity)
            program = next(
                (
                    other.value
                    for other in scene.of(one.unit)
                    if isinstance(other.value, Program) and other.verdict is Verdict.PROVEN
                ),
                None,
            )
            if (
                isinstance(one.value, Setting)
                and one.verdict is Verdict.PROVEN
                and control is not None
                and control.fine_cc is None  # what a box does with it then, nobody says
                and control.after_a_program == "from the program"
                and program is not None
                and program.name not in unit.silences  # its copy would be silent, too
                and self.target.free_programs.get(one.unit)
            ):
                yield one.unit, program, one.quantity, one.value

    def _fits(self, scene: LoweredScene, choice: Choice) -> bool:
        numbers = {one: self.target.free_programs[one.unit][0] for one in choice}
        tried = self.lowering.scene(scene.key, with_programs(scene.bound, numbers))
        storage = self.target.book.switcher.each_preset_stores
        return does_not_fit(tried.content, storage) is None and all(
            self.prover.brings(tried.lowered.sent, recipe.unit, control, numbers[recipe].on_wire)
            for recipe in choice
            for control, _ in recipe.settings
        )


def _recipes(settings: Iterable[tuple[str, Program, str, Setting]]) -> Choice:
    together: dict[tuple[str, Program], list[tuple[str, Setting]]] = {}
    for unit, program, control, setting in settings:
        together.setdefault((unit, program), []).append((control, setting))
    return frozenset(Recipe(unit, program, tuple(own)) for (unit, program), own in together.items())


def with_programs(scene: BoundScene, programs: dict[Recipe, Program]) -> BoundScene:
    """Return a scene that loads the new ``programs`` and sends nothing of what they bring."""
    by_unit = {recipe.unit: (recipe, program) for recipe, program in programs.items()}

    def changed(one: Wanted) -> Wanted:
        if one.unit not in by_unit:
            return one
        recipe, program = by_unit[one.unit]
        if isinstance(one.value, Program):
            return one._replace(value=program._replace(name=recipe.name))
        if one.quantity in dict(recipe.settings):
            reason = f"program {program.shown} brings it, once it is stored as printed"
            return one._replace(verdict=Verdict.FEET, reason=reason)
        return one

    stored = tuple(
        sorted((recipe.unit, program.shown, recipe.name) for recipe, program in programs.items())
    )
    return scene._replace(
        wanted=tuple(map(changed, scene.wanted)), recipe=(*scene.recipe, "baked", stored)
    )


def _fewest(choices: list[list[Choice]], target: Target) -> tuple[list[Choice] | None, bool]:
    """Return a choice for each scene, so that the fewest programs are stored; None without any.

    And whether that is certain.
    """
    if not choices:
        return None, True
    order = sorted(range(len(choices)), key=lambda at: (len(choices[at]), at))
    best: list[Choice] | None = None
    least = float("inf")
    steps = 0

    def choose(at: int, taken: frozenset[Recipe], so_far: dict[int, Choice]) -> None:
        nonlocal best, least, steps
        steps += 1
        if len(taken) >= least or steps > MOST_STEPS:
            return
        if at == len(order):
            best, least = [so_far[number] for number in range(len(choices))], len(taken)
            return
        number = order[at]
        for choice in sorted(
            choices[number], key=lambda one: (len(one - taken), _size(one), _words(one))
        ):
            more = taken | choice
            if _has_room(more, target):
                choose(at + 1, more, {**so_far, number: choice})

    choose(0, frozenset(), {})
    return best, steps <= MOST_STEPS


def _size(choice: Choice) -> int:
    return sum(len(one.settings) for one in choice)


def _words(choice: Choice) -> list[str]:
    return sorted(f"{one.unit} {one.name}" for one in choice)


def _has_room(recipes: frozenset[Recipe], target: Target) -> bool:
    count: dict[str, int] = {}
    for recipe in recipes:
        count[recipe.unit] = count.get(recipe.unit, 0) + 1
    return all(many <= len(target.free_programs[unit]) for unit, many in count.items())


def _numbered(chosen: list[Choice], target: Target) -> dict[Recipe, Program]:
    """Return the free program that each recipe is stored on, as the night comes to them."""
    free = {unit: iter(programs) for unit, programs in target.free_programs.items()}
    numbers: dict[Recipe, Program] = {}
    for choice in chosen:
        for recipe in sorted(choice, key=lambda one: (one.unit, one.name)):
            if recipe not in numbers:
                numbers[recipe] = next(free[recipe.unit])._replace(name=recipe.name)
    return numbers
