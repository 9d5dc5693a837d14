"""Presets with too few slots: settings that are stored in new programs of a unit."""

from __future__ import annotations

import tempfile
from itertools import chain, combinations, product
from pathlib import Path

import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st

from setwright.compiler.binding.states import Verdict
from setwright.compiler.compiled import Compiled
from setwright.compiler.outputs.collect import night_data
from setwright.compiler.outputs.cues import sheet_of
from setwright.compiler.pipeline import compile_night
from setwright.compiler.plan import plan_of
from setwright.compiler.proving.by_hand import ByHand
from setwright.compiler.proving.receiver import Receiver
from tests.mini import SWITCHER, told, write_night
from tests.rigs import messages

UNITS = """
cloud:
  channel: 7
  loop: 1
  display: 1 to 128
  programs: {echo: 10, hall: 11}
  free programs: [61, 62]
  controls:
    mix: {cc: 21, linear: 0 % to 100 %}
    tone: {cc: 22, linear: 0 % to 100 %}
    wet: {cc: 23, linear: 0 % to 100 %}
  acts only on: what is declared
box:
  channel: 8
  loop: 2
  controls: {drive: {cc: 30, linear: 0 % to 100 %, after a program: kept}}
  acts only on: what is declared
"""
EFFECTS = """
soft: {cloud: {state: echo, set: {mix: 20 %, tone: 30 %}}}
loud: {cloud: {state: echo, set: {mix: 80 %, tone: 30 %}}}
plain: {cloud: echo}
drive: {box: {set: {drive: 50 %}}}
"""


def switcher(controls: int) -> str:
    return SWITCHER.replace("controls: 4", f"controls: {controls}")


def night(
    folder: Path, scenes: str, controls: int = 2, old: str = "", new: str = "", effects: str = ""
) -> Compiled:
    assert not old or UNITS.count(old) == 1, old
    found = compile_night(
        write_night(
            folder,
            units=UNITS.replace(old, new) if old else UNITS,
            effects=effects or EFFECTS,
            scenes=scenes,
            switcher=switcher(controls),
        )
    )
    assert isinstance(found, Compiled)
    return found


def sent(compiled: Compiled, scene: str) -> list[str]:
    content = compiled.scene(compiled.songs[0], scene).content
    return [str(command.message) for command in content.commands]


def test_two_scenes_share_a_program(tmp_path: Path) -> None:
    """With the tone built in, one program serves both; with the mix it would take two."""
    compiled = night(tmp_path, "A: [soft, drive]\nB: [loud, drive]\nC: [soft]")
    assert told(compiled) == []
    assert compiled.set_by_hand == (ByHand("cloud", "program", "61: echo with tone 30 %"),)
    assert sent(compiled, "A") == [
        "channel 7 program 60",
        "channel 7 control 21 value 25",
        "channel 8 control 30 value 63",
    ]
    assert sent(compiled, "B")[0] == "channel 7 program 60"
    # What has room enough stays as it is.
    assert sent(compiled, "C")[0] == "channel 7 program 9"
    tone = next(
        one
        for one in compiled.scene(compiled.songs[0], "A").proved
        if one.quantity == "tone" and one.unit == "cloud"
    )
    assert tone.verdict is Verdict.FEET
    assert tone.reason == "program 61 brings it, once it is stored as printed"


def test_the_sheets_and_the_plan_say_what_to_store(tmp_path: Path) -> None:
    compiled = night(tmp_path, "A: [soft, drive]\nB: [loud, drive]")
    assert "cloud 61: echo with tone 30 %" in sheet_of(night_data(compiled)).before
    programs = plan_of(compiled).programs
    assert [(one.unit, one.shown, one.name) for one in programs] == [
        ("cloud", "61", "echo with tone 30 %")
    ]


def test_both_where_one_is_not_enough(tmp_path: Path) -> None:
    compiled = night(tmp_path, "A: [soft, drive]", controls=1)
    assert told(compiled) == []
    assert compiled.set_by_hand == (
        ByHand("cloud", "program", "61: echo with mix 20 % and tone 30 %"),
    )
    assert sent(compiled, "A") == ["channel 7 program 60", "channel 8 control 30 value 63"]


def test_what_is_kept_in_every_bank_may_be_too_full_as_well(tmp_path: Path) -> None:
    path = write_night(
        tmp_path, units=UNITS, effects=EFFECTS, scenes="A: [plain]", switcher=switcher(2)
    )
    rig = tmp_path / "rig.yaml"
    use = "{file: board.yaml, every bank: {switch 5: {name: Loud, effects: [loud, drive]}}}"
    text = rig.read_text(encoding="utf-8").replace("switcher: board.yaml", f"switcher: {use}")
    rig.write_text(text, encoding="utf-8")
    compiled = compile_night(path)
    assert isinstance(compiled, Compiled)
    assert "preset-full" not in {one.code for one in compiled.findings}
    assert [one.quantity for one in compiled.set_by_hand] == ["program"]
    assert compiled.kept is not None
    scene = compiled.scene(compiled.kept, "Loud")
    assert scene.bound is compiled.kept.scenes["Loud"]
    assert len(scene.content.controls) == 2


REFUSED = [
    # what is exchanged, and why no program helps
    ("  free programs: [61, 62]\n", "", "nothing is free"),
    (
        "mix: {cc: 21, linear: 0 % to 100 %}\n    tone: {cc: 22, linear: 0 % to 100 %}",
        "mix: {cc: 21, linear: 0 % to 100 %, after a program: kept}\n"
        "    tone: {cc: 22, linear: 0 % to 100 %, after a program: kept}",
        "programs bring nothing",
    ),
    ("  free programs: [61, 62]\n", "  free programs: [61]\n  same program again: ignored\n",
     "a program that is there may not be loaded again"),
]  # fmt: skip


@pytest.mark.parametrize(("old", "new"), [one[:2] for one in REFUSED], ids=[o[2] for o in REFUSED])
def test_what_does_not_help(old: str, new: str, tmp_path: Path) -> None:
    compiled = night(tmp_path, "A: [soft, drive]", old=old, new=new)
    assert "preset-full" in {one.code for one in compiled.findings}
    assert compiled.set_by_hand == ()


def test_too_few_free_programs(tmp_path: Path) -> None:
    """Three different pairs have to be stored, and two programs are free."""
    effects = EFFECTS + "".join(
        f"s{n}: {{cloud: {{state: echo, set: {{mix: {n}0 %, tone: {n}5 %}}}}}}\n" for n in (1, 2, 3)
    )
    scenes = "A: [s1, drive]\nB: [s2, drive]\nC: [s3, drive]"
    compiled = night(tmp_path, scenes, controls=1, effects=effects)
    assert "preset-full" in {one.code for one in compiled.findings}


PERCENT = st.sampled_from([10, 20, 30])
SETTINGS = st.dictionaries(st.sampled_from(["mix", "tone", "wet"]), PERCENT, min_size=1)
SCENES = st.lists(st.tuples(st.sampled_from(["echo", "hall"]), SETTINGS), min_size=1, max_size=4)


@settings(max_examples=60, deadline=None)
@given(SCENES, st.integers(0, 2))
# What one scene has to bring along serves another that could do with less.
@example([("hall", {"mix": 10, "tone": 10}), ("hall", {"mix": 10, "tone": 10, "wet": 10})], 1)
# Either could do with one setting alone; one program with both serves both.
@example([("hall", {"mix": 10, "tone": 10, "wet": 20}), ("hall", {"mix": 10, "tone": 10})], 0)
def test_no_choice_stores_fewer(scenes: list[tuple[str, dict[str, int]]], controls: int) -> None:
    """Against every choice of settings for every scene; and the bytes, on a box that stores it."""
    effects = "".join(
        f"e{n}: {{cloud: {{state: {program}, set: {{"
        + ", ".join(f"{name}: {value} %" for name, value in own.items())
        + "}}}\n"
        for n, (program, own) in enumerate(scenes)
    )
    free = ", ".join(str(number) for number in range(61, 73))
    with tempfile.TemporaryDirectory() as folder:
        compiled = night(
            Path(folder),
            "\n".join(f"S{n}: [e{n}]" for n in range(len(scenes))),
            controls,
            "free programs: [61, 62]",
            f"free programs: [{free}]",
            effects,
        )
    assert "preset-full" not in {one.code for one in compiled.findings}
    # Where one scene sets what another leaves as it is, that is found, and no matter here.
    assert len([one for one in compiled.set_by_hand if one.quantity == "program"]) == least(
        scenes, controls
    )
    stored = {one.value.split(":")[0]: one.value for one in compiled.set_by_hand}
    for n, (program, own) in enumerate(scenes):
        scene = compiled.scene(compiled.songs[0], f"S{n}")
        assert len(scene.content.controls) <= controls
        receiver = Receiver(compiled.target.units["cloud"])
        for message in messages(scene.lowered.stored.stream):
            receiver.take(message)
        assert isinstance(receiver.program, tuple)
        said = stored.get(str(receiver.program[1] + 1), "")
        assert (f": {program} with " in said) == (receiver.program[1] > 20)
        for name, value in own.items():
            number = {"mix": 21, "tone": 22, "wet": 23}[name]
            held = receiver.value(number)
            if isinstance(held, int):
                assert abs(held - value * 127 / 100) <= 0.5
            else:
                assert f"{name} {value} %" in said


def least(scenes: list[tuple[str, dict[str, int]]], controls: int) -> int:
    """Return the fewest programs that have to be stored, by trying everything."""
    ways = []
    for program, own in scenes:
        if len(own) <= controls:
            continue
        pairs = sorted(own.items())
        some = chain.from_iterable(combinations(pairs, size) for size in range(len(pairs) + 1))
        ways.append([(program, one) for one in some if len(pairs) - len(one) <= controls])
    return min(len(set(choice)) for choice in product(*ways))
