"""Banks that load a preset as they are moved to: how long the foot waits, and what that proves.

A program change takes two bytes, a control change three, 0.32 ms each (MIDI 1.0 Detailed Specification 4.2.1, hardware).
"""

from __future__ import annotations

from fractions import Fraction
from pathlib import Path

import pytest

from setwright.compiler.binding.states import Verdict
from setwright.compiler.compiled import Compiled
from setwright.compiler.lowering.preset import Address
from setwright.compiler.outputs.behaviour import behaviour, wait_in_words
from setwright.compiler.outputs.collect import night_data
from setwright.compiler.outputs.cue_sheet import cue_sheet_files
from setwright.compiler.proving.bank_moves import steps
from setwright.scenes.switcher import Switcher
from tests.mini import SWITCHER, write_night
from tests.nights import whole

UNITS = """\
wobbler:
  loop: 1
  channel: 6
  display: 0 to 99
  programs: {warm: 1, thin: 2}
  acts only on: what is declared
  busy after program: BUSY
echo:
  channel: 9
  switched by: {cc: 28, on: 127, off: 0}
  acts only on: what is declared
"""
EFFECTS = "warm: {wobbler: warm}\nthin: {wobbler: thin}\nlong echo: echo"
SONGS = """\
songs:
- title: Tune
  scenes: {Plain: [], Warm: [warm], Far: [warm, long echo], Thin: [thin]}
- title: Other
  scenes: {Thin: [thin], Plain: [long echo]}
"""


def night(folder: Path, moves: str, busy: str = "310 ms", *, switches: int = 4) -> Compiled:
    """Return a night of two songs, which lie in one bank only if it has six switches."""
    board = SWITCHER.replace("switches: 5", f"switches: {switches}") + f"bank moves: {moves}\n"
    path = write_night(
        folder,
        units=UNITS.replace("BUSY", busy),
        effects=EFFECTS,
        songs=SONGS,
        switcher=board,
    )
    text = path.read_text(encoding="utf-8").replace("[Tune]", "[Tune, Other]")
    path.write_text(text, encoding="utf-8")
    return whole(path)


AT_ONCE = "{by: up and down, loads at once: yes}"


@pytest.mark.parametrize(
    ("moves", "busy", "switches", "wait"),
    [
        # The longest preset is a program and a control, through after 1.6 ms.
        pytest.param(AT_ONCE, "310 ms", 4, Fraction("311.6"), id="at once"),
        pytest.param("{by: number, loads at once: yes}", "310 ms", 4, Fraction("311.6"), id="by number"),
        pytest.param("{by: up and down}", "310 ms", 4, None, id="not before a switch is pressed"),
        pytest.param(AT_ONCE, "0 ms", 4, None, id="no box is busy"),
        pytest.param(AT_ONCE, "310 ms", 6, Fraction("311.6"), id="one bank is used"),
    ],
)  # fmt: skip
def test_how_long_the_foot_waits(
    tmp_path: Path, moves: str, busy: str, switches: int, wait: Fraction | None
) -> None:
    compiled = night(tmp_path, moves, busy, switches=switches)
    assert compiled.wait_at_banks == wait
    verdicts = {
        (one.unit, one.quantity): one.verdict
        for one in compiled.scene(compiled.songs[0], "Far").proved
    }
    assert verdicts == {
        ("wobbler", "loop"): Verdict.PROVEN,
        ("wobbler", "program"): Verdict.PROVEN if wait is None else Verdict.FEET,
        ("echo", "switch"): Verdict.PROVEN,
    }


@pytest.mark.parametrize(
    ("moves", "before", "after", "count"),
    [
        ("up and down", (1, 0), (4, 2), 3),
        ("up and down", (4, 2), (1, 0), 3),
        ("up and down", (2, 0), (2, 3), 0),
        ("number", (1, 0), (4, 2), 1),
        ("both", (4, 0), (1, 2), 1),
        ("number", (1, 0), (1, 2), 0),
        ("up and down", None, (4, 2), 0),
        ("up and down", (4, 2), None, 0),
    ],
)
def test_the_banks_on_the_way(
    moves: str, before: tuple[int, int] | None, after: tuple[int, int] | None, count: int
) -> None:
    def of(at_once: str) -> Switcher:
        return Switcher.model_validate(
            {
                "switcher": "board",
                "banks": "10",
                "switches": "4",
                "bank moves": {"by": moves, "loads at once": at_once},
            }
        )

    there = [one and Address(*one) for one in (before, after)]
    assert steps(of("yes"), *there) == count
    assert steps(of("no"), *there) == 0


def test_the_slowest_preset_counts(tmp_path: Path) -> None:
    """Thin is a program alone, Far a program and a control; whichever comes last in the night."""
    songs = SONGS.replace("{Thin: [thin], Plain: [long echo]}", "{Far: [warm, long echo]}")
    for number, text in enumerate(
        (songs, songs.replace("Warm: [warm], Far: [warm, long echo], ", ""))
    ):
        folder = tmp_path / str(number)
        folder.mkdir()
        night(folder, AT_ONCE)
        (folder / "songs.yaml").write_text(text, encoding="utf-8")
        assert whole(folder / "night.yaml").wait_at_banks == Fraction("311.6")


TIMED = """\
songs:
- title: Tune
  meter: 4/4
  tempo: quarter = 120
  form: AB, 2 rounds
  scenes: {Plain: [], Warm: [warm], Far: [warm, long echo], Thin: [thin]}
  order: [Plain, Thin: bar 32]
- title: Other
  scenes: {Thin: [thin], Plain: [long echo]}
  order: [Plain]
"""


@pytest.mark.parametrize(
    ("moves", "busy", "missing"),
    [
        # Bar 32 of 32 begins two seconds before the end; Other lies one bank further. Thin's
        # program is through after 0.64 ms; from then on the wobbler is busy, and once more with
        # what the bank loads.
        pytest.param(AT_ONCE, "1.2 s", Fraction("402.24"), id="no time to wait"),
        pytest.param(AT_ONCE, "998 ms", None, id="just time"),
        pytest.param("{by: number}", "1.9 s", None, id="nothing to wait for"),
    ],
)
def test_a_segue_into_another_bank(
    tmp_path: Path, moves: str, busy: str, missing: Fraction | None
) -> None:
    (tmp_path / "first").mkdir()
    night(tmp_path / "first", moves, busy)
    path = tmp_path / "first" / "night.yaml"
    (path.parent / "songs.yaml").write_text(TIMED, encoding="utf-8")
    text = path.read_text(encoding="utf-8").replace("Other]", "{straight into: Other}]")
    path.write_text(text, encoding="utf-8")
    found = [one for one in whole(path).too_soon if one.banks]
    assert [(one.banks, one.missing) for one in found] == ([(1, missing)] if missing else [])
    codes = [one.code for one in whole(path).findings]
    assert codes.count("pressed-too-soon") == len(found)


@pytest.mark.parametrize(
    ("milliseconds", "words"), [(300, "0.3 s"), (300.1, "0.4 s"), (1000, "1 s"), (0.64, "0.1 s")]
)
def test_a_wait_is_never_too_short(milliseconds: float, words: str) -> None:
    assert wait_in_words(milliseconds) == words


def test_the_sheets_say_it(tmp_path: Path) -> None:
    data = night_data(night(tmp_path, AT_ONCE))
    said = "Wait 0.4 s at each bank, for a box that is busy with one preset does not hear the next."
    assert said in list(behaviour(data.switcher))
    page = cue_sheet_files(data)["cue-sheet.html"].decode()
    assert "at each bank on the way wait <b>0.4 s</b>" in page
    quiet = night_data(night(tmp_path, "{by: up and down}"))
    assert not any(line.startswith("Wait") for line in behaviour(quiet.switcher))
    assert "at each bank on the way" not in cue_sheet_files(quiet)["cue-sheet.html"].decode()
