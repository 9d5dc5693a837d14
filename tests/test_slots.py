"""The slots of presets: each unit in the same one, as long as the order of sending allows it."""

from __future__ import annotations

from pathlib import Path
from textwrap import dedent

from hypothesis import given
from hypothesis import strategies as st

from setwright.compiler.lowering.commands import Command
from setwright.compiler.midi import Message
from setwright.compiler.outputs.collect import night_data
from setwright.compiler.outputs.slots import fixed_slots, sent_by
from tests.books import write_files
from tests.conftest import DEMO
from tests.nights import whole


def control(unit: str) -> Command:
    """Return a command of a unit, by its letter."""
    number = 20 + "abcdef".index(unit)
    return Command(unit, "mix", Message("control", 1, (number, 5)), "")


def slots(*presets: str, holds: int = 9) -> dict[str, int]:
    found = fixed_slots([[control(unit) for unit in one] for one in presets], holds)
    return {sent.unit: slot for sent, slot in found.items()}


def test_each_unit_has_its_own() -> None:
    assert slots("abc", "ac", "b") == {"a": 1, "b": 2, "c": 3}
    assert slots("cb", "ba", "ca") == {"c": 1, "b": 2, "a": 3}
    assert slots("", "b", "a") == {"a": 1, "b": 2}
    assert slots() == {}


def test_where_orders_disagree_there_is_none() -> None:
    assert slots("ab", "ba") == {}
    assert slots("ab", "bc", "ca") == {}


def test_where_there_are_too_few_there_is_none() -> None:
    assert slots("ab", "cd", holds=3) == {}
    assert slots("ab", "cd", holds=4) == {"a": 1, "b": 2, "c": 3, "d": 4}


def test_twice_in_one_preset_is_none() -> None:
    assert slots("aba") == {}


@given(st.lists(st.permutations("abcdef").map(lambda p: p[:3]), max_size=5), st.integers(0, 7))
def test_the_order_of_sending_stays(presets: list[list[str]], holds: int) -> None:
    found = slots(*("".join(one) for one in presets), holds=holds)
    if found:
        for one in presets:
            numbers = [found[unit] for unit in one]
            assert numbers == sorted(set(numbers))
            assert all(1 <= number <= holds for number in numbers)


def test_programs_are_told_by_their_unit() -> None:
    first = Command("a", "program", Message("program", 1, (5,)), "")
    other = Command("a", "program", Message("program", 1, (9,)), "")
    assert sent_by(first) == sent_by(other)


def test_on_the_sheets_of_the_demo_each_has_its_own() -> None:
    data = night_data(whole(DEMO / "granary-night.yaml"))
    places: dict[tuple[str, str, str], set[int]] = {}
    for preset in data.presets:
        for slot in (*preset.programs, *preset.controls):
            places.setdefault((slot.kind, slot.unit, slot.sets), set()).add(slot.slot)
        for kind in (preset.programs, preset.controls):
            numbers = [slot.slot for slot in kind]
            assert numbers == sorted(set(numbers))
    assert len(places) >= 5
    assert all(len(numbers) == 1 for numbers in places.values())


BOOK = {
    "board.yaml": """\
        switcher: board
        banks: 4
        switches: 4
        loops: 2
        each preset stores: {programs: 2, controls: 0, program channels: [5, 4]}
    """,
    "rig.yaml": """\
        rig: Shed
        switcher: board.yaml
        units:
          one: {channel: 4, programs: {display: 0 to 9, low: 1, high: 2}}
          two: {channel: 5, programs: {display: 0 to 9, low: 1, high: 2}}
          combo: {is: amplifier}
        effects: {a: {one: low}, b: {one: high}, c: {two: low}, d: {two: high}}
        path: [[guitar, one, two, combo]]
        midi: [[switcher, one, two]]
    """,
    "songs.yaml": """\
        songs:
          - title: Rise
            scenes: {A: [a, c], B: [b, d]}
    """,
    "night.yaml": """\
        night: Shed dance
        rig: rig.yaml
        songs: songs.yaml
        sets: [{play: [Rise]}]
    """,
}


def test_where_slots_have_channels_these_say_which(tmp_path: Path) -> None:
    write_files(tmp_path, {name: dedent(text) for name, text in BOOK.items()})
    data = night_data(whole(tmp_path / "night.yaml"))
    for preset in data.presets:
        assert {slot.channel: slot.slot for slot in preset.programs} == {5: 1, 4: 2}
