"""Controls of 14 bits: MSB, then LSB (MIDI 1.0 Detailed Specification 4.2.1, control change).

A value is 128 · coarse + fine; the tables here were worked out by hand.
"""

from __future__ import annotations

from fractions import Fraction
from io import BytesIO
from pathlib import Path

import mido
import pytest

from setwright.compiler.binding.described import describe
from setwright.compiler.binding.settings import value_on
from setwright.compiler.binding.states import Cause, Verdict
from setwright.compiler.binding.target import Setting
from setwright.compiler.compiled import Compiled
from setwright.compiler.lowering.commands import Command
from setwright.compiler.lowering.fine_parts import without_room
from setwright.compiler.midi import control
from setwright.compiler.outputs.collect import night_data
from setwright.compiler.outputs.maps import map_files
from setwright.compiler.outputs.midi_file import midi_files
from setwright.compiler.outputs.preset_sheet import preset_sheet_files
from setwright.compiler.proving.proved import LoweredScene
from setwright.scenes.control import Control
from setwright.scenes.quantities import Amount
from setwright.scenes.switcher import Storage
from tests.mini import SWITCHER, compile_mini, told

STRAIGHT = {"cc": "20", "fine cc": "52", "linear": "0 ms to 1270 ms"}
BENT = {"cc": "20", "fine cc": "52", "points": {"0": "0 ms", "64": "320 ms", "127": "1580 ms"}}
FALLING = {"cc": "20", "fine cc": "52", "linear": "1270 ms to 0 ms"}


@pytest.mark.parametrize(
    ("curve", "asked", "coarse", "fine", "given", "alone"),
    [
        # A step is 10 ms, a fine one 10 ÷ 128 = 0.078125 ms.
        (STRAIGHT, "0", 0, 0, "0", 0),
        (STRAIGHT, "330", 33, 0, "330", 33),
        (STRAIGHT, "335", 33, 64, "335", 33),
        (STRAIGHT, "336", 33, 77, "336.015625", 34),
        (STRAIGHT, "339.99", 34, 0, "340", 34),
        (STRAIGHT, "1269.9", 126, 127, "1269.921875", 127),
        (STRAIGHT, "1270", 127, 0, "1270", 127),
        # 5 ms a step up to 320 ms, then 1260 ÷ 63 = 20 ms.
        (BENT, "302.5", 60, 64, "302.5", 60),
        (BENT, "320", 64, 0, "320", 64),
        (BENT, "325", 64, 32, "325", 64),
        (BENT, "333", 64, 83, "332.96875", 65),
        (BENT, "1580", 127, 0, "1580", 127),
        # Of two that are equally near, the lower value.
        (FALLING, "1235", 3, 64, "1235", 3),
        (FALLING, "1234", 3, 77, "1233.984375", 4),
    ],
)
def test_the_values_of_both_parts(
    curve: dict[str, object], asked: str, coarse: int, fine: int, given: str, alone: int
) -> None:
    declared = Control.model_validate(curve)
    setting = value_on(declared, Amount(Fraction(asked), "ms"))
    assert setting is not None
    assert (setting.value, setting.fine) == (coarse, fine)
    assert setting.given == Amount(Fraction(given), "ms")
    assert setting.alone is not None
    assert (setting.alone.value, setting.alone.fine) == (alone, 0)


def test_beyond_the_curve_there_is_no_fine_part_either() -> None:
    declared = Control.model_validate(STRAIGHT)
    assert value_on(declared, Amount(Fraction("1270.01"), "ms")) is None


UNITS = """
echo:
  channel: 9
  always on: yes
  time: {cc: 20, fine cc: 52, linear: 0 ms to 1270 ms, after a program: kept, at rest: 400 ms}
  controls:
    mix: {cc: 21, fine cc: 53, linear: 0 % to 127 %, at rest: 30.5 %}
    shape: {cc: 22, fine cc: 54, positions: {round: 0, square: 127}, at rest: round}
"""
EFFECTS = "long echo: echo\nslap echo: {echo: {set: {time: 118 ms}}}"
SCENES = "Far: {effects: [long echo], echo: 335 ms}\nNear: {effects: [slap echo]}"


def night(tmp_path: Path, controls: int) -> Compiled:
    switcher = SWITCHER.replace("controls: 4", f"controls: {controls}, sends: as listed")
    return compile_mini(tmp_path, units=UNITS, effects=EFFECTS, scenes=SCENES, switcher=switcher)


def scene(compiled: Compiled, name: str) -> LoweredScene:
    return compiled.scene(compiled.songs[0], name)


FULL = "b8 14 21 b8 34 40 b8 15 1e b8 35 40 b8 16 00"


@pytest.mark.parametrize(
    ("controls", "stored"),
    [
        (5, FULL),
        # Of two fine parts the delay time's comes first; 30.5 % alone is 30 %.
        (4, "b8 14 21 b8 34 40 b8 15 1e b8 16 00"),
        (3, "b8 14 21 b8 15 1e b8 16 00"),
    ],
)
def test_both_routes(tmp_path: Path, controls: int, stored: str) -> None:
    far = scene(night(tmp_path, controls), "Far")
    assert far.lowered.direct.stream == bytes.fromhex(FULL)
    assert far.lowered.stored.stream == bytes.fromhex(stored)


@pytest.mark.parametrize(
    ("controls", "time", "mix"),
    [
        (5, "335 ms (value 33, fine 64)", "30.5 % (value 30, fine 64)"),
        (4, "335 ms (value 33, fine 64)", "30.5 % (value 30, gives 30 %)"),
        (3, "335 ms (value 33, gives 330 ms)", "30.5 % (value 30, gives 30 %)"),
    ],
)
def test_what_is_rounded_is_shown(tmp_path: Path, controls: int, time: str, mix: str) -> None:
    far = scene(night(tmp_path, controls), "Far")
    found = {one.quantity: describe(one.value, one.quantity) for one in far.proved}
    assert (found["time"], found["mix"]) == (time, mix)


def test_what_no_scene_of_tonight_sends_is_0(tmp_path: Path) -> None:
    """No preset has room for any fine part, so nothing moves them: 0 if they are set so."""
    compiled = night(tmp_path, 3)
    assert told(compiled) == []
    verdicts = {one.quantity: one.verdict for one in scene(compiled, "Far").proved}
    assert verdicts == {"shape": Verdict.PROVEN, "time": Verdict.FEET, "mix": Verdict.FEET}


def test_what_another_scene_sends_may_stay(tmp_path: Path) -> None:
    """One preset has a slot left, the other has not: a switch more is sent there."""
    units = UNITS + "barn: {loop: 2, channel: 5, controls: {size: {cc: 30, at rest: 64}}}\n"
    compiled = compile_mini(
        tmp_path,
        units=units,
        effects=EFFECTS + "\nhall: barn",
        scenes="Far: {effects: [long echo], echo: 335 ms}\n"
        "Wide: {effects: [long echo, hall], echo: 335 ms}",
        switcher=SWITCHER,
    )
    assert [one.code for one in told(compiled)] == ["fine-part-left"]
    wide = scene(compiled, "Wide")
    (time,) = [one for one in wide.proved if one.quantity == "time"]
    assert isinstance(time.value, Setting)
    assert (time.verdict, time.cause, time.value.value) == (Verdict.UNKNOWN, Cause.FINE, 33)
    (mix,) = [one for one in wide.proved if one.quantity == "mix"]
    # No scene has room for its fine part, and no program brings one: it is set by hand.
    assert mix.verdict is Verdict.FEET
    assert ("echo", "fine part", "mix fine part 0") in compiled.set_by_hand


def part(unit: str, quantity: str, channel: int, *, fine: bool = False) -> Command:
    return Command(unit, quantity, control(channel, 52 if fine else 20, 1), "", fine=fine)


@pytest.mark.parametrize(
    ("storage", "left_out"),
    [
        ({"controls": "6"}, set()),
        ({"controls": "5"}, {("one", "mix")}),
        ({"controls": "4"}, {("one", "mix"), ("two", "time")}),
        ({"controls": "3"}, {("one", "mix"), ("one", "time"), ("two", "time")}),
        ({"controls": "1"}, {("one", "mix"), ("one", "time"), ("two", "time")}),
        (
            {"controls": "6", "on any channel": "no", "control channels": list("112233")},
            {("one", "mix"), ("one", "time")},
        ),
        (
            {"controls": "6", "on any channel": "no", "control channels": list("111233")},
            {("one", "mix"), ("two", "time")},
        ),
    ],
)
def test_which_fine_parts_find_a_slot(
    storage: dict[str, object], left_out: set[tuple[str, str]]
) -> None:
    """Delay times first, then in the order of sending; a fixed channel serves its own."""
    commands = [
        part("one", "mix", 1),
        part("one", "mix", 1, fine=True),
        part("one", "time", 1),
        part("one", "time", 1, fine=True),
        part("two", "time", 2),
        part("two", "time", 2, fine=True),
    ]
    held = Storage.model_validate({"programs": "0"} | storage)
    assert without_room(commands, held) == left_out


def test_the_sheets_and_files_show_it(tmp_path: Path) -> None:
    data = night_data(night(tmp_path, 5))
    sheet = preset_sheet_files(data)["preset-sheet.csv"].decode()
    rows = [line for line in sheet.splitlines() if ",Far,control," in line]
    assert rows[:2] == [
        "1,1,Far,control,1,echo,9,,,,20,33,time 335 ms",
        "1,1,Far,control,2,echo,9,,,,52,64,fine part of time 335 ms",
    ]
    controls = map_files(data)["maps/controls.csv"].decode()
    assert "echo,9,time,52,64,fine part of time 335 ms,Tune,Far,1,1\n" in controls


def test_a_midi_file_sends_one_behind_the_other(tmp_path: Path) -> None:
    songs = (
        "songs:\n- title: Tune\n  tempo: quarter = 120\n  form: AB\n  order: [Far]\n"
        "  scenes: {Far: {effects: [long echo], echo: 335 ms}}\n"
    )
    data = night_data(compile_mini(tmp_path, units=UNITS, effects=EFFECTS, songs=songs))
    (file,) = [file for name, file in midi_files(data).items() if name == "direct/1-01-tune.mid"]
    sent = [
        (one.control, one.value)
        for one in mido.MidiFile(file=BytesIO(file))
        if one.type == "control_change"
    ]
    assert sent[:4] == [(20, 33), (52, 64), (21, 30), (53, 64)]
