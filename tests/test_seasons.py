"""Nights drawn at random, typed in, changed, and typed in again: whole books through the pipeline."""

from __future__ import annotations

from itertools import pairwise
from pathlib import Path
from typing import NamedTuple

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from setwright.compiler.compiled import Compiled
from setwright.compiler.outputs.done import done
from setwright.compiler.pipeline import compile_night
from setwright.compiler.placement.held import typed_of
from setwright.compiler.placement.wanted import key_of
from setwright.compiler.plan import plan_of
from setwright.scenes.finding import Severity, worst
from tests.mini import write_night

UNITS = "\n".join(f"u{n}: {{loop: {n}}}" for n in range(1, 5))
EFFECTS = "\n".join(f"e{n}: u{n}" for n in range(1, 5))
TITLES = ("One", "Two", "Three", "Four", "Five", "Six")


class Drawn(NamedTuple):
    """A night: scenes of each song, which songs each set plays, requests, aim and pins."""

    songs: dict[str, dict[str, str]]
    sets: list[list[str]]
    asked: list[str]
    aim: str
    pin: bool
    kept: bool
    number: bool


SCENES = st.dictionaries(
    st.sampled_from("ABCD"),
    st.lists(st.sampled_from(["e1", "e2", "e3", "e4"]), unique=True, max_size=3).map(
        lambda effects: f"[{', '.join(effects)}]"
    ),
    min_size=1,
    max_size=4,
)
PLAYED = st.lists(st.sampled_from(TITLES), min_size=1, max_size=5)
NIGHTS = st.builds(
    Drawn,
    st.fixed_dictionaries(dict.fromkeys(TITLES, SCENES)),
    st.lists(PLAYED, min_size=1, max_size=3),
    st.lists(st.sampled_from(TITLES), max_size=2, unique=True),
    st.sampled_from(["the feet", "the hands"]),
    st.booleans(),
    st.booleans(),
    st.booleans(),
)


def written(folder: Path, drawn: Drawn) -> Path:
    lines = ["songs:"]
    for title, scenes in drawn.songs.items():
        lines.append(f"- title: {title}\n  scenes:")
        lines += [f"    {name}: {{effects: {effects}}}" for name, effects in scenes.items()]
    night = write_night(folder, units=UNITS, effects=EFFECTS, songs="\n".join(lines) + "\n")
    rig, board = folder / "rig.yaml", folder / "board.yaml"
    use = "{file: board.yaml"
    use += ", always on: {A: switch 2}" if drawn.pin else ""
    use += ", every bank: {switch 5: {name: Hush, effects: [e4]}}" if drawn.kept else ""
    text = rig.read_text(encoding="utf-8").replace("switcher: board.yaml", f"switcher: {use}}}")
    rig.write_text(text, encoding="utf-8")
    by = "bank moves: {by: number}\n" if drawn.number else ""
    text = board.read_text(encoding="utf-8")
    board.write_text(text + by + "copies presets: yes\n", encoding="utf-8")
    sets = "".join(f"- play: [{', '.join(one)}]\n" for one in drawn.sets)
    asked = f"if asked: [{', '.join(drawn.asked)}]\n" if drawn.asked else ""
    night.write_text(
        f"night: Test\nrig: rig.yaml\nsongs: songs.yaml\nbest for: {drawn.aim}\n{asked}sets:\n{sets}",
        encoding="utf-8",
    )
    return night


def compiled_of(night: Path) -> Compiled | None:
    """Return the night; None where it does not fit into the switcher, and nothing else is wrong."""
    found = compile_night(night)
    assert isinstance(found, Compiled)
    errors = {one.code for one in found.findings if one.severity is Severity.ERROR}
    assert errors <= {"banks-too-few", "bank-too-small"}
    return None if worst(found.findings) is Severity.ERROR else found


@pytest.mark.parametrize("count", [2])
@settings(
    max_examples=40, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture]
)
@given(st.data())
def test_typed_in_there_is_nothing_to_do(
    count: int, tmp_path_factory: pytest.TempPathFactory, data: st.DataObject
) -> None:
    folder = tmp_path_factory.mktemp("book")
    for _ in range(count):
        drawn = data.draw(NIGHTS)
        night = written(folder, drawn)
        compiled = compiled_of(night)
        if compiled is None:
            continue
        look_at(compiled, drawn)
        plan = plan_of(compiled)
        differs = {
            preset.slot
            for preset in compiled.placement.presets
            if preset.slot not in compiled.held
            or compiled.held[preset.slot].typed != typed_of(preset.content)
        }
        assert differs <= {step.address for step in plan.steps}
        left = {step.address for step in plan.steps}
        for _ in range(data.draw(st.integers(0, 2))):
            some = data.draw(st.sets(st.sampled_from(sorted(left)))) if left else set()
            if some:
                assert done(compiled, plan_of(compiled), some).presets == len(some)
                left -= some
                partly = compiled_of(night)
                assert partly is not None
                compiled = partly
                assert plan_of(compiled).mark == plan.mark
                assert {step.address for step in plan_of(compiled).steps} == left
        assert done(compiled, plan_of(compiled)).problem is None
        again = compiled_of(night)
        assert again is not None
        assert plan_of(again).steps == ()
        assert plan_of(again).mark == plan.mark


def look_at(compiled: Compiled, drawn: Drawn) -> None:
    """Find a placement wrong by what is written alone."""
    placement, lies = compiled.placement, compiled.placement.of_scene
    slots = [preset.slot for preset in placement.presets]
    assert len(slots) == len(set(slots))
    assert all(slot.switch < (4 if drawn.kept else 5) for slot in slots)
    by_slot = {preset.slot: preset for preset in placement.presets}
    playings = [title for one in drawn.sets for title in one] + drawn.asked
    assert [song.song.title for song in compiled.songs] == playings
    way: list[list[int]] = []
    at = 0
    for one in drawn.sets:
        way.append([])
        for _ in one:
            song = compiled.songs[at]
            banks = {lies[key_of(song, name)].bank for name in song.scenes}
            assert len(banks) == 1, "a song lies in one bank"
            way[-1].append(banks.pop())
            at += 1
    for song in compiled.songs:
        assert set(song.scenes) == set(drawn.songs[song.song.title])
        for name in song.scenes:
            slot = lies[key_of(song, name)]
            effects = drawn.songs[song.song.title][name].strip("[]")
            loops = tuple(sorted(int(one.strip()[1:]) for one in effects.split(",") if one))
            assert by_slot[slot].content.loops == loops
            assert not drawn.pin or name != "A" or slot.switch == 1
    moves = sum(
        min(abs(a - b), 1) if drawn.number else abs(a - b) for one in way for a, b in pairwise(one)
    )
    assert placement.presses == moves
    if drawn.aim == "the feet" and placement.in_order:
        assert all(one == sorted(one) for one in way)
        assert placement.asked is not None
        assert moves >= placement.asked.fewest_presses
