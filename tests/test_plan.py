"""What has to be typed after a change, that it is noted, and that nothing is left to do then."""

from __future__ import annotations

import json
import shutil
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path

import pytest

from setwright.compiler.compiled import Compiled
from setwright.compiler.lowering.preset import Address
from setwright.compiler.mark import mark_of
from setwright.compiler.outputs.done import done
from setwright.compiler.pipeline import compile_night
from setwright.compiler.placement.held import address_of, held_by, show, typed_of
from setwright.compiler.plan import Plan, plan_of
from tests.conftest import DEMO, ROOT

COMMAND = [sys.executable, "-m", "setwright.compiler"]


def setwright(*words: str | Path) -> subprocess.CompletedProcess[str]:
    return subprocess.run(
        [*COMMAND, *map(str, words)], capture_output=True, encoding="utf-8", check=False, cwd=ROOT
    )


def compiled_of(night: Path, without: frozenset[str] = frozenset()) -> Compiled:
    found = compile_night(night, without)
    assert isinstance(found, Compiled)
    return found


def planned(night: Path, without: frozenset[str] = frozenset()) -> Plan:
    return plan_of(compiled_of(night, without))


@pytest.fixture
def demo(tmp_path: Path) -> Path:
    """Return the folder of the demo, with the Granary night typed in."""
    folder = tmp_path / "demo"
    shutil.copytree(DEMO, folder)
    night = folder / "granary-night.yaml"
    compiled = compiled_of(night)
    assert done(compiled, plan_of(compiled)).problem is None
    assert planned(night).steps == ()
    return folder


def edit(old: str, new: str, file: str = "granary-night.yaml") -> Callable[[Path], None]:
    def change(folder: Path) -> None:
        path = folder / file
        text = path.read_text(encoding="utf-8")
        assert text.count(old) == 1, old
        path.write_text(text.replace(old, new), encoding="utf-8")

    return change


def moved_request(folder: Path) -> None:
    edit("if asked: [The Lark in the Morning, ", "if asked: [")(folder)
    edit(
        "      - The Minstrel Boy\n", "      - The Minstrel Boy\n      - The Lark in the Morning\n"
    )(folder)


def swapped(folder: Path) -> None:
    edit(
        "      - Dan Rogers' Jig\n      - The Minstrel Boy\n",
        "      - The Minstrel Boy\n      - Dan Rogers' Jig\n",
    )(folder)


def two_tempi(folder: Path) -> None:
    edit(
        "      - Dan Rogers' Jig\n",
        "      - {song: Dan Rogers' Jig, tempo: dotted quarter = 100}\n",
    )(folder)
    edit("      - Garryowen\n", "      - {song: Garryowen, tempo: dotted quarter = 101}\n")(folder)


CHANGES = [
    # what is changed, units left out, and the most presets that it may take to type
    ("a song is dropped", edit("      - Planxty Fanny Powers\n", ""), frozenset(), 0),
    ("two songs are swapped", swapped, frozenset(), 0),
    (
        "a song is added",
        edit("      - The Minstrel Boy\n", "      - The Minstrel Boy\n      - Haste to the Wedding\n"),
        frozenset(),
        0,
    ),
    ("a request moves into a set", moved_request, frozenset(), 6),
    ("two tempi", two_tempi, frozenset(), 2),
    ("a pedal is swapped", edit("  squeezer:\n    loop: 4", "  squeezer:\n    loop: 7", "granary.yaml"),
     frozenset(), 96),
    ("a box stays at home", lambda folder: None, frozenset({"barn"}), 35),
]  # fmt: skip


@pytest.mark.parametrize(
    ("change", "without", "most"), [one[1:] for one in CHANGES], ids=[one[0] for one in CHANGES]
)
def test_what_differs_is_listed_and_nothing_else(
    change: Callable[[Path], None], without: frozenset[str], most: int, demo: Path
) -> None:
    change(demo)
    night = demo / "granary-night.yaml"
    stored = demo / "floor.stored.yaml"
    before = stored.read_text(encoding="utf-8").splitlines()
    compiled = compiled_of(night, without)
    plan = plan_of(compiled)
    assert len(plan.steps) <= most
    # Exactly what differs between what is there and what has to be, compared anew.
    there = {at: (one.typed, one.name) for at, one in compiled.held.items()}
    differs = {
        preset.slot
        for preset in compiled.placement.presets
        if there.get(preset.slot) != (typed_of(preset.content), preset.name)
    }
    assert {step.address for step in plan.steps} == differs
    assert done(compiled, plan).presets == len(plan.steps)
    assert planned(night, without).steps == ()
    assert planned(night, without).mark == plan.mark
    after = stored.read_text(encoding="utf-8").splitlines()
    # Only the lines of what was typed have changed.
    changed = {line.split(":")[0].strip() for line in set(after) - set(before)}
    places = {show(compiled.book, step.address) for step in plan.steps}
    assert changed <= places | {"barn", "wobbler", "Granary"}


@pytest.mark.parametrize("aim", ["the feet", "the hands"])
def test_half_of_a_plan_leaves_the_other_half(aim: str, demo: Path) -> None:
    """Whatever was typed first, the rest of the plan stays what it was, until all is typed."""
    edit("rig: granary.yaml\n", f"rig: granary.yaml\nbest for: {aim}\n")(demo)
    night = demo / "granary-night.yaml"
    (demo / "floor.stored.yaml").unlink()
    whole = planned(night)
    left = {step.address for step in whole.steps}
    for some in (whole.steps[-1:], whole.steps[5:45], whole.steps[:3]):
        compiled = compiled_of(night)
        only = [step.address for step in some]
        assert done(compiled, plan_of(compiled), only).presets == len(only)
        left -= set(only)
        plan = planned(night)
        assert plan.mark == whole.mark
        assert {step.address for step in plan.steps} == left
    compiled = compiled_of(night)
    assert done(compiled, plan_of(compiled)).presets == len(left)
    assert planned(night).steps == ()
    assert planned(night).mark == whole.mark


def test_a_night_that_changes_while_it_is_typed_is_planned_over_what_is_there(demo: Path) -> None:
    night = demo / "granary-night.yaml"
    (demo / "floor.stored.yaml").unlink()
    compiled = compiled_of(night)
    plan = plan_of(compiled)
    done(compiled, plan, [step.address for step in plan.steps[:20]])
    edit("      - Planxty Fanny Powers\n", "")(demo)
    compiled = compiled_of(night)
    assert not compiled.placement.as_noted
    assert done(compiled, plan_of(compiled)).problem is None
    assert planned(night).steps == ()


def test_done_says_of_which_state_a_part_is(demo: Path) -> None:
    (demo / "floor.stored.yaml").unlink()
    night = demo / "granary-night.yaml"
    mark = planned(night).mark
    text = setwright("done", night, "1/1").stdout
    assert text == f"noted in floor.stored.yaml: 1 preset, of state {mark}\n"
    # What is there already is nothing to note.
    assert setwright("done", night, "1/1").stdout.startswith("nothing to note")


def test_one_rig_leaves_the_banks_of_the_other_alone(demo: Path) -> None:
    parlour = demo / "parlour-night.yaml"
    compiled = compiled_of(parlour)
    assert done(compiled, plan_of(compiled)).problem is None
    assert planned(parlour).steps == ()
    assert planned(demo / "granary-night.yaml").steps == ()


def test_the_mark_is_that_of_what_is_to_be_held(demo: Path) -> None:
    night = demo / "granary-night.yaml"
    mark = mark_of(compiled_of(night))
    assert len(mark) == 4
    assert mark == mark_of(compiled_of(DEMO / "granary-night.yaml"))
    two_tempi(demo)
    assert mark_of(compiled_of(night)) != mark


def test_what_the_switcher_holds_is_read_from_the_file(demo: Path) -> None:
    book = compiled_of(demo / "granary-night.yaml").book
    held, findings = held_by(book)
    assert findings == []
    at = address_of(book, "1/1")
    assert at == Address(0, 0)
    assert held[at].name == "Start"
    assert address_of(book, "1/99") is None
    assert address_of(book, "1") is None


def test_the_commands(tmp_path: Path) -> None:
    folder = tmp_path / "demo"
    shutil.copytree(DEMO, folder)
    night = folder / "granary-night.yaml"
    first = setwright("plan", night)
    assert (first.returncode, first.stderr) == (0, "")
    lines = first.stdout.splitlines()
    assert lines[1] == "nothing is known of what floor holds"
    assert "  wobbler: 42 tremolo" in lines
    assert any(line.startswith("to type: 96 presets, ") for line in lines)
    assert any(line.startswith("  1/1 Start: ") for line in lines)
    noted = setwright("done", night, "1/1", "2/3")
    assert (noted.returncode, noted.stdout) == (
        0,
        f"noted in floor.stored.yaml: 2 presets, of state {lines[0].rpartition(' ')[2]}\n",
    )
    data = json.loads(setwright("plan", night, "--format", "json").stdout)
    assert len(data["changes"]) == 94
    assert "1/1" not in {one["at"] for one in data["changes"]}
    assert setwright("done", night).stdout == "noted in floor.stored.yaml: 94 presets\n"
    data = json.loads(setwright("plan", night, "--format", "json").stdout)
    assert (data["changes"], data["programs"]) == ([], [])
    assert setwright("plan", night).stdout.endswith("nothing to do\n")
    assert setwright("done", night).stdout == "nothing to note: all of it is there already\n"


REFUSED = [
    (["done", "NIGHT", "1/99"], "the switcher has no ‘1/99’: write bank and switch, for example"),
    (["done", "NIGHT", "17/1"], "nothing of tonight lies at ‘17/1’"),
    (["plan", "NIGHT", "--without", "nobody"], "nobody"),
    (["plan", "nowhere.yaml"], "nowhere.yaml"),
]


@pytest.mark.parametrize(("words", "said"), REFUSED)
def test_what_is_refused(words: list[str], said: str, demo: Path) -> None:
    night = str(demo / "granary-night.yaml")
    ended = setwright(*(night if word == "NIGHT" else word for word in words))
    assert ended.returncode != 0
    assert said in ended.stderr
    assert "Traceback" not in ended.stderr


BAD = [
    ("stored: plank\n", "stored-of-another"),
    ("stored: floor\nformat: 7\n", "stored-newer"),
    ("stored: floor\npresets:\n  1/99: {name: x}\n", "stored-nowhere"),
    ("stored: floor\npresets:\n  1/1: {name: x, messages: [zz]}\n", "not-a-message"),
    ("stored: floor\npresets:\n  1/1: {naem: x}\n", "unknown-key"),
    ("stored: floor\npresets: {\n", "yaml-syntax"),
    ("", "file-empty"),
    ("night: What\nrig: x.yaml\nsongs: y.yaml\n", "wrong-kind-of-file"),
]


@pytest.mark.parametrize(("text", "code"), BAD)
def test_a_stored_file_with_a_slip(text: str, code: str, demo: Path) -> None:
    stored = demo / "floor.stored.yaml"
    stored.write_text(text, encoding="utf-8")
    ended = setwright("plan", demo / "granary-night.yaml")
    assert ended.returncode == 1
    assert f"[{code}]" in ended.stderr
    assert "nothing is placed" in ended.stderr
    ended = setwright("done", demo / "granary-night.yaml")
    assert ended.returncode == 1
    assert stored.read_text(encoding="utf-8") == text


def test_a_stored_file_that_is_no_file(demo: Path) -> None:
    stored = demo / "floor.stored.yaml"
    stored.unlink()
    stored.mkdir()
    ended = setwright("plan", demo / "granary-night.yaml")
    assert ended.returncode == 1
    assert "floor.stored.yaml" in ended.stderr


def test_two_at_once_lose_nothing(demo: Path) -> None:
    """Both nights are noted by real processes at the same time."""
    (demo / "floor.stored.yaml").unlink()
    nights = [demo / "granary-night.yaml", demo / "parlour-night.yaml"]
    running = [
        subprocess.Popen([*COMMAND, "done", str(night)], cwd=ROOT, stdout=subprocess.PIPE)
        for night in nights
    ]
    assert [process.wait(timeout=60) for process in running] == [0, 0]
    for process in running:
        assert process.stdout is not None
        process.stdout.close()
    assert [planned(night).steps for night in nights] == [(), ()]


def test_check_does_not_load_the_solver() -> None:
    script = (
        "import sys; from pathlib import Path\n"
        "from setwright.compiler.pipeline import compile_night\n"
        f"compile_night(Path({str(DEMO / 'granary-night.yaml')!r}))\n"
        "print('highspy' in sys.modules, 'numpy' in sys.modules)\n"
    )
    ended = subprocess.run(
        [sys.executable, "-c", script], capture_output=True, text=True, check=True, cwd=ROOT
    )
    assert ended.stdout == "False False\n"


def test_forty_minutes_before_the_night(demo: Path) -> None:
    (demo / "floor.stored.yaml").unlink()
    night = demo / "granary-night.yaml"
    text = setwright("plan", night, "--minutes", "20", "--entry", "5", "--preset", "10")
    assert text.returncode == 0
    assert text.stdout.startswith("Winter dance on Granary in 20 minutes: ")
    data = json.loads(setwright("plan", night, "--minutes", "20", "--format", "json").stdout)
    assert data["seconds"] <= 1200
    assert 0 < data["presses_right"] < data["presses"]
    assert len(data["changes"]) + len(data["instead"]) == 96
    all_of_it = json.loads(setwright("plan", night, "--minutes", "600", "--format", "json").stdout)
    assert (all_of_it["presses_right"], all_of_it["instead"]) == (data["presses"], [])
    ended = setwright("plan", night, night, "--minutes", "20")
    assert ended.returncode == 2
    assert "--minutes is about one night" in ended.stderr


def test_a_season_is_planned_night_by_night(demo: Path) -> None:
    """The second night is planned over what the first one leaves; rigs have banks of their own."""
    granary, parlour = demo / "granary-night.yaml", demo / "parlour-night.yaml"
    (demo / "floor.stored.yaml").unlink()
    later = demo / "later-night.yaml"
    later.write_text(granary.read_text(encoding="utf-8"), encoding="utf-8")
    edit("      - Planxty Fanny Powers\n", "", "later-night.yaml")(demo)
    data = json.loads(
        setwright("plan", granary, later, parlour, granary, "--format", "json").stdout
    )
    counts = [len(one["changes"]) for one in data["nights"]]
    assert counts == [96, 0, len(planned(parlour).steps), 0]
    text = setwright("plan", granary, later, parlour).stdout
    assert f"all 3 nights: {96 + counts[2]} presets to type" in text


def test_place(demo: Path) -> None:
    night = demo / "granary-night.yaml"
    text = setwright("place", night)
    assert (text.returncode, text.stderr) == (0, "")
    lines = text.stdout.splitlines()
    assert lines[0] == (
        "Winter dance on Granary, for the feet: 96 presets in 16 banks, 14 bank presses"
    )
    assert "bank  3  3 Drowsy Maggie | 4 The Harvest Home" in lines
    assert "HiGHS" not in text.stdout
    data = json.loads(setwright("place", night, "--fresh", "--format", "json").stdout)
    assert data["the hands"]["presets"] == data["fewest_presets"] == 80
    assert data["the feet"] == {"to_type": 0, "presets": 96, "banks": 16, "presses": 14}
    assert data["fewest_presets_is_proven"]
    assert data["least_typing_is_proven"]


def without_encore_and_requests(folder: Path) -> None:
    """Make it the night that another solver once measured: nothing twice, and no requests."""
    path = folder / "granary-night.yaml"
    text = path.read_text(encoding="utf-8")
    begin, end = text.index("      - song: The Boys of Bluehill\n"), text.index("if asked:")
    path.write_text(text[:begin] + text[end:].split("\n", 1)[1], encoding="utf-8")


def test_for_the_hands(tmp_path: Path) -> None:
    """75 presets in 12 banks: the least that an independent solver found for these songs."""
    folder = tmp_path / "demo"
    shutil.copytree(DEMO, folder)
    without_encore_and_requests(folder)
    edit("rig: granary.yaml\n", "rig: granary.yaml\nbest for: the hands\n")(folder)
    compiled = compiled_of(folder / "granary-night.yaml")
    presets = compiled.placement.presets
    assert len(presets) == 75
    assert len({one.slot.bank for one in presets}) == 12
    packed = compiled.placement.packed
    assert packed is not None
    assert packed.proven
    text = setwright("place", folder / "granary-night.yaml").stdout
    assert "for the hands: 75 presets in 12 banks" in text.splitlines()[0]
    assert "10 banks at the least, for no two of these share one: " in text
    assert "no placement has fewer than 75 presets" in text


def test_the_small_rig_for_the_hands(tmp_path: Path) -> None:
    """61 presets in 10 banks, by the same solver; with one song of the general scenes."""
    folder = tmp_path / "demo"
    shutil.copytree(DEMO, folder)
    path = folder / "parlour-night.yaml"
    text = path.read_text(encoding="utf-8")
    begin, end = text.index("      - song: Haste to the Wedding\n"), text.index("if asked:")
    text = text[:begin] + "if asked: [The Rakes Of Mallow]\n" + text[end:].split("\n", 1)[1]
    path.write_text(text + "best for: the hands\n", encoding="utf-8")
    compiled = compiled_of(path)
    presets = compiled.placement.presets
    assert (len(presets), len({one.slot.bank for one in presets})) == (61, 10)


def test_the_rig_may_say_the_aim_and_the_night_says_another(tmp_path: Path) -> None:
    folder = tmp_path / "demo"
    shutil.copytree(DEMO, folder)
    rig = folder / "granary.yaml"
    rig.write_text(rig.read_text(encoding="utf-8") + "best for: the hands\n", encoding="utf-8")
    assert len(compiled_of(folder / "granary-night.yaml").placement.presets) == 80
    edit("rig: granary.yaml\n", "rig: granary.yaml\nbest for: the feet\n")(folder)
    assert len(compiled_of(folder / "granary-night.yaml").placement.presets) == 96


@pytest.mark.parametrize(
    "change",
    [edit("      - Planxty Fanny Powers\n", ""), swapped, two_tempi, moved_request],
    ids=["dropped", "swapped", "tempi", "request"],
)
def test_for_the_hands_nothing_is_typed_twice(
    change: Callable[[Path], None], tmp_path: Path
) -> None:
    folder = tmp_path / "demo"
    shutil.copytree(DEMO, folder)
    edit("rig: granary.yaml\n", "rig: granary.yaml\nbest for: the hands\n")(folder)
    night = folder / "granary-night.yaml"
    compiled = compiled_of(night)
    assert done(compiled, plan_of(compiled)).presets == 80
    assert planned(night).steps == ()
    change(folder)
    compiled = compiled_of(night)
    assert compiled.placement.over is not None
    assert compiled.placement.over.proven
    plan = plan_of(compiled)
    other = [
        step
        for step in plan.steps
        if step.address not in compiled.held
        or compiled.held[step.address].typed != step.wanted.typed
    ]
    assert len(other) <= compiled.placement.over.least <= 4
    assert done(compiled, plan).problem is None
    assert planned(night).steps == ()


def test_the_bound_of_a_season_is_about_each_switcher(demo: Path) -> None:
    """Both nights are typed in, each on a switcher of its own: nothing is to be typed."""
    for name in ("floor", "parlour"):
        text = (demo / f"{name}.yaml").read_text(encoding="utf-8")
        text = text.replace("switcher: floor\n", "switcher: floor2\n")
        text = text.replace("file: floor.yaml", "file: floor2.yaml")
        (demo / f"{name}2.yaml").write_text(text, encoding="utf-8")
    night = demo / "parlour-night.yaml"
    text = night.read_text(encoding="utf-8").replace("rig: parlour.yaml", "rig: parlour2.yaml")
    night.write_text(text, encoding="utf-8")
    compiled = compiled_of(night)
    assert done(compiled, plan_of(compiled)).problem is None
    text = setwright("plan", demo / "granary-night.yaml", night).stdout
    assert "all 2 nights: 0 presets to type, 0 entries; no way has fewer than 0" in text


def test_a_season_is_what_the_nights_really_get(demo: Path) -> None:
    (demo / "floor.stored.yaml").unlink()
    first, second = demo / "first-night.yaml", demo / "granary-night.yaml"
    text = second.read_text(encoding="utf-8")
    first.write_text(text.replace("rig:", "bank presses: 20\nrig:", 1), encoding="utf-8")
    states = [
        one["state"]
        for one in json.loads(setwright("plan", first, second, "--format", "json").stdout)["nights"]
    ]
    compiled = compiled_of(first)
    plan = plan_of(compiled)
    assert plan.mark == states[0]
    assert done(compiled, plan).problem is None
    assert planned(second).mark == states[1]


def test_what_is_kept_in_every_bank_is_counted(demo: Path) -> None:
    """Sixteen banks, and one preset more in each of them."""
    edit("switch 8: Tuner", "switch 8: {name: Mute, effects: [], silent: yes}", "granary.yaml")(
        demo
    )
    (demo / "floor.stored.yaml").unlink()
    night = demo / "granary-night.yaml"
    data = json.loads(setwright("place", night, "--format", "json").stdout)
    assert data["presets"] == data["the feet"]["to_type"] == len(planned(night).steps) == 96 + 16
    assert "what is kept in every bank comes on top" in setwright("place", night).stdout


def test_place_and_plan_count_alike(demo: Path) -> None:
    two_tempi(demo)
    moved_request(demo)
    night = demo / "granary-night.yaml"
    data = json.loads(setwright("place", night, "--format", "json").stdout)
    assert data["the feet"]["to_type"] == len(planned(night).steps) > 0


def test_a_number_that_stands_twice_is_one(demo: Path) -> None:
    stored = demo / "floor.stored.yaml"
    text = stored.read_text(encoding="utf-8")
    assert "1/1: {name: Start, loops: [4]" in text
    stored.write_text(
        text.replace("1/1: {name: Start, loops: [4]", "1/1: {name: Start, loops: [4, 4]")
    )
    assert planned(demo / "granary-night.yaml").steps == ()
