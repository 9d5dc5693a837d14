"""Programs that make several effects at once: which are chosen, and when."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import combinations as subsets
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from setwright.compiler.binding.combined import combinations, members_of, merged
from setwright.compiler.binding.target import Combined
from setwright.compiler.compiled import Compiled
from setwright.compiler.pipeline import compile_night
from tests.mini import bound, compile_mini, quantity, write_night

UNITS = """
cloud:
  channel: 7
  loop: 1
  display: 0 to 99
  programs: {echo: 10, hall: 11, shimmer: 12, echo in hall: 20, all three: 21, hall and shimmer: 22}
  acts only on: what is declared
squeezer: {loop: 2}
"""
ALONE = """
compression: squeezer
dark echo: {cloud: echo}
hall: {cloud: hall}
shimmer: {cloud: shimmer}
"""
PAIRS = """
dark echo + hall: {cloud: echo in hall}
hall + shimmer: {cloud: hall and shimmer}
"""
THREE = "hall + shimmer + dark echo: {cloud: all three}"

CHOSEN = [
    # what the scene asks for, effects of the rig, the program that is loaded, what is played
    ("[dark echo]", ALONE + PAIRS, "echo", ("dark echo",)),
    ("[dark echo, hall]", ALONE + PAIRS, "echo in hall", ("dark echo + hall",)),
    ("[hall, dark echo]", ALONE + PAIRS, "echo in hall", ("dark echo + hall",)),
    (
        "[hall, compression, dark echo]",
        ALONE + PAIRS,
        "echo in hall",
        ("dark echo + hall", "compression"),
    ),
    (
        "[dark echo, hall, shimmer]",
        ALONE + PAIRS + THREE,
        "all three",
        ("hall + shimmer + dark echo",),
    ),
    ("[hall, shimmer]", ALONE + PAIRS + THREE, "hall and shimmer", ("hall + shimmer",)),
    # None of them is made alone.
    ("[hall, shimmer]", "compression: squeezer\n" + PAIRS, "hall and shimmer", ("hall + shimmer",)),
]


@pytest.mark.parametrize(("asked", "effects", "program", "played"), CHOSEN)
def test_which_program_is_loaded(
    asked: str, effects: str, program: str, played: tuple[str, ...], tmp_path: Path
) -> None:
    compiled = compile_mini(tmp_path, units=UNITS, effects=effects, scenes=f"Far: {asked}")
    scene = bound(compiled, "Far")
    assert scene.effects == played
    assert getattr(quantity(scene, "cloud", "program").value, "name", None) == program


CLASHES = [
    # Two of three can be put together, but the third wants the unit for itself.
    ("[dark echo, hall, shimmer]", ALONE + PAIRS, "effects-clash"),
    ("[dark echo, shimmer]", ALONE + PAIRS + THREE, "effects-clash"),
    # What is only made together cannot be had alone.
    ("[hall]", "compression: squeezer\ndark echo: {cloud: echo}\n" + PAIRS, "unknown-effect"),
]


@pytest.mark.parametrize(("asked", "effects", "code"), CLASHES)
def test_what_no_combination_helps(asked: str, effects: str, code: str, tmp_path: Path) -> None:
    night = write_night(tmp_path, units=UNITS, effects=effects, scenes=f"Far: {asked}")
    found = [one.code for one in compile_night(night).findings]
    assert [one for one in found if one != "effect-not-asked"] == [code]


def test_a_stand_in_is_combined_too(tmp_path: Path) -> None:
    compiled = compile_mini(
        tmp_path,
        units=UNITS,
        effects=ALONE + PAIRS,
        scenes="Far: [dark echo, cathedral]",
        rig="instead of: {cathedral: hall}",
    )
    scene = bound(compiled, "Far")
    assert scene.effects == ("dark echo + hall",)
    assert scene.replaced == (("cathedral", "hall"),)


def test_what_is_left_out_comes_back_together_with_a_stand_in(tmp_path: Path) -> None:
    """The spring's own box is at home; the cloud makes its sound together with the hall."""
    night = write_night(
        tmp_path,
        units=UNITS + "coil: {loop: 3}\n",
        effects=ALONE + "spring: coil\nspring + hall: {cloud: all three}\n",
        scenes="Far: [cathedral, spring]",
        rig="instead of: {cathedral: hall}",
    )
    compiled = compile_night(night, frozenset({"coil"}))
    assert isinstance(compiled, Compiled)
    scene = bound(compiled, "Far")
    assert scene.effects == ("spring + hall",)
    assert scene.replaced == (("cathedral", "hall"),)
    assert "song-suffers" not in {one.code for one in compiled.findings}


def test_without_the_unit_both_are_lost(tmp_path: Path) -> None:
    night = write_night(
        tmp_path,
        units=UNITS,
        effects="compression: squeezer\n" + PAIRS,
        scenes="Far: [compression, hall, dark echo]",
    )
    found = compile_night(night, frozenset({"cloud"})).findings
    (suffers,) = [one for one in found if one.code == "song-suffers"]
    assert "Far: hall is lost; Far: dark echo is lost" in suffers.message


NAMES = [
    ("dark echo + hall", ("dark echo", "hall")),
    ("a + b + c", ("a", "b", "c")),
    ("tone+drive", ()),
    ("dark echo+hall", ("dark echo", "hall")),
    ("C+", ()),
    ("+ hall", ("", "hall")),
]


@pytest.mark.parametrize(("name", "members"), NAMES)
def test_what_is_a_combination(name: str, members: tuple[str, ...]) -> None:
    assert members_of(name, ("dark echo", "hall")) == members


SLIPS = [
    # a line of the rig, what is found, and the text that it points at
    ("dark eco + hall: {cloud: echo in hall}", "unknown-effect", "dark eco"),
    ("hall + dark echo + hall: {cloud: all three}", "not-a-combination", None),
    ("hall + dark echo: {cloud: all three}", "key-twice", None),
    ("compression + hall: {cloud: hall}", "combined-in-vain", None),
]


@pytest.mark.parametrize(("line", "code", "text"), SLIPS)
def test_slips(line: str, code: str, text: str | None, tmp_path: Path) -> None:
    night = write_night(
        tmp_path,
        units=UNITS,
        effects=ALONE + PAIRS + line,
        scenes="Far: [compression, dark echo, hall]\nWide: [hall, shimmer]",
    )
    (found,) = compile_night(night).findings
    place = found.place
    underlined = place.source.line(place.line)[place.column - 1 : place.end_column - 1]
    assert (found.code, underlined) == (code, text or line.split(":")[0])


LETTERS = "abcdef"


@given(
    st.lists(st.sampled_from(LETTERS), unique=True),
    st.lists(st.sets(st.sampled_from(LETTERS), min_size=2, max_size=3), max_size=5),
    st.sets(st.sampled_from(LETTERS)),
    st.sets(st.tuples(st.sampled_from(LETTERS), st.sampled_from(LETTERS))),
)
def test_no_other_way_of_combining_is_better(
    asked: list[str], sets: list[set[str]], alone: set[str], foes: set[tuple[str, str]]
) -> None:
    """Beside every choice of combinations, written out: they are few."""
    known = list(combinations([" + ".join(sorted(one)) for one in sets]))

    def clash(names: Sequence[str]) -> bool:
        return any((one, other) in foes for one in names for other in names)

    def worth(names: list[str], used: tuple[Combined, ...]) -> tuple[bool, bool, int, int]:
        single = [name for name in names if name in asked]
        return (
            any(name not in alone for name in single),
            clash(names),
            len(single),
            len(used),
        )

    ways = []
    for count in range(len(known) + 1):
        for used in subsets(dict.fromkeys(known), count):
            inside = [member for one in used for member in one.members]
            if len(set(inside)) == len(inside) and set(inside) <= set(asked):
                rest = [name for name in asked if name not in inside]
                ways.append(worth([*rest, *(one.name for one in used)], used))
    found = merged(asked, known, alone, clash)
    used = tuple(one for one in dict.fromkeys(known) if one.name in found)
    assert sorted(
        [name for name in found if name in asked] + [name for one in used for name in one.members]
    ) == sorted(asked)
    assert worth(found, used) == min(ways)
