"""Small books of which "proven" was once said, or that no command could read, worked out by hand."""

from __future__ import annotations

from pathlib import Path

import pytest
from click.testing import CliRunner

from setwright.compiler.cli import main as setwright
from setwright.compiler.compiled import Compiled
from setwright.compiler.reports.explain import explain
from setwright.compiler.reports.find import Found, find_scene
from setwright.compiler.reports.summary import Proof, proof
from tests.mini import write_night
from tests.nights import whole


def night(
    folder: Path, units: str, effects: str, song: str, rig: str, without: str = ""
) -> Compiled:
    path = write_night(
        folder, units=units, effects=effects, rig=rig, songs=f"songs:\n- title: Tune\n{song}"
    )
    return whole(path, frozenset([without] if without else []))


def proven(compiled: Compiled) -> Proof:
    found = proof(compiled)
    assert found is not None
    return found


MULTI = (
    "multi: {loop: 1, channel: 3, display: 0 to 9, programs: {mute: 1, chorus: 2}, "
    "silent when: mute, acts only on: what is declared}\ncombo: {is: amplifier}"
)
WAY = "path: [[guitar, multi, combo]]\n"
BARS = "  meter: 4/4\n  tempo: quarter = 120\n  form: AB, 2 rounds\n"


@pytest.mark.parametrize(
    ("last", "not_heard"),
    [
        # It is in again, with any program: with the one of the scene before, which mutes.
        pytest.param("Body", 1, id="the program stays"),
        pytest.param("Chorus", 0, id="another is loaded"),
        pytest.param("Bare", 0, id="its loop is out"),
    ],
)
def test_a_program_that_mutes_stays(tmp_path: Path, last: str, not_heard: int) -> None:
    compiled = night(
        tmp_path,
        MULTI,
        "hush: {multi: mute}\nchorus: {multi: chorus}\nbody: multi",
        BARS + "  scenes: {Start: [chorus], Hush: {effects: [hush], silent: yes}, Body: [body], "
        f"Chorus: [chorus], Bare: []}}\n  order: [Start, Hush: bar 9, {last}: bar 17]\n",
        WAY,
    )
    codes = [one.code for one in compiled.findings]
    assert codes == ["silence-not-ended"] * not_heard
    # From Hush on, which is said to be silent, and what follows it.
    assert proven(compiled).not_heard == 2 * not_heard


@pytest.mark.parametrize(
    ("units", "path", "without"),
    [
        pytest.param("combo: {is: amplifier}", "[guitar, box, combo]", "combo", id="it is missing"),
        pytest.param("combo: {note: a box}", "[guitar, box, combo]", "", id="it is none"),
        pytest.param("combo: {is: amplifier, loop: 2}", "[guitar, box, combo]", "", id="out"),
    ],
)
def test_what_reaches_no_amplifier_is_not_proven(
    tmp_path: Path, units: str, path: str, without: str
) -> None:
    compiled = night(
        tmp_path,
        f"box: {{loop: 1}}\n{units}",
        "a: box",
        "  scenes: {On: [a]}\n",
        f"path: [{path}]\n",
        without,
    )
    found = proven(compiled)
    assert (found.proven, found.not_heard) == (0, 1)
    assert compiled.findings


def test_a_mute_ends_the_way_that_is_explained(tmp_path: Path) -> None:
    compiled = night(
        tmp_path,
        MULTI,
        "hush: {multi: mute}",
        "  scenes: {Hush: {effects: [hush], silent: yes}}\n",
        WAY,
    )
    found = find_scene(compiled, "Tune/Hush")
    assert isinstance(found, Found)
    assert "  signal: guitar → multi (mute, lets nothing through)" in list(explain(compiled, found))


DELAY = (
    "delay: {loop: 1, channel: 3, display: 0 to 9, programs: {x: 1, y: 2}, tempo from: tap, "
    "acts only on: what is declared%s}\ncombo: {is: amplifier}"
)


@pytest.mark.parametrize(
    ("said", "taps"),
    [
        # Each program brings a time of its own, x the second time too.
        pytest.param("", [1, 1, 1], id="brought"),
        pytest.param(
            ", time: {cc: 20, linear: 0 ms to 1270 ms, after a program: kept}", [1, 0, 0], id="kept"
        ),
        pytest.param(", same program again: ignored", [1, 1, 1], id="two in turn"),
    ],
)
def test_a_program_brings_its_time_and_what_was_tapped_is_gone(
    tmp_path: Path, said: str, taps: list[int]
) -> None:
    compiled = night(
        tmp_path,
        DELAY % said,
        "x: {delay: x}\ny: {delay: y}",
        BARS + "  echo: quarter\n  scenes: {One: [x], Two: [y]}\n"
        "  order: [One, Two: bar 9, One: bar 17]\n",
        "path: [[guitar, delay, combo]]\n",
    )
    assert [len(moves) for moves in compiled.songs[0].feet] == taps


def test_a_loop_is_shared_through_others(tmp_path: Path) -> None:
    compiled = night(
        tmp_path,
        "one: {loop: 1}\ntwo: {shares with: one}\nthree: {shares with: two}\ncombo: {is: amplifier}",
        "a: three",
        "  scenes: {On: [a]}\n",
        "path: [[guitar, one, two, three, combo]]\n",
    )
    assert compiled.findings == []
    (scene,) = compiled.scenes.values()
    assert scene.content.loops == (1,)


LADDER = 24
"""Stages of a splitter and a mixer, with two ways each: 16,777,216 ways in all."""


@pytest.mark.parametrize(
    ("units", "path", "without"),
    [
        pytest.param("", "[[box, guitar, combo]]", "", id="a guitar in the middle"),
        pytest.param("wye: {clock: x}\n", "[[guitar, wye, box, combo]]", "wye", id="a slip in it"),
        pytest.param(
            "".join(f"s{n}: {{is: splitter}}\nm{n}: {{is: mixer}}\n" for n in range(LADDER)),
            f"[[guitar, s0], [m{LADDER - 1}, box], [guitar, combo]"
            + "".join(f", [s{n}, m{n}], [s{n}, m{n}]" for n in range(LADDER))
            + "".join(f", [m{n}, s{n + 1}]" for n in range(LADDER - 1))
            + "]",
            "",
            id="ways without number",
        ),
        pytest.param(
            "".join(f"u{n}: {{is: effect}}\n" for n in range(1500)),
            f"[[guitar, {', '.join(f'u{n}' for n in range(1500))}, box, combo]]",
            "",
            id="a very long way",
        ),
    ],
)
def test_no_path_is_too_odd_to_be_read(tmp_path: Path, units: str, path: str, without: str) -> None:
    file = write_night(
        tmp_path,
        units=f"box: {{loop: 1}}\ncombo: {{is: amplifier}}\n{units}",
        effects="a: box",
        songs="songs:\n- title: Tune\n  scenes: {On: [a]}\n",
        rig=f"path: {path}\n",
    )
    option = ["--without", without] if without else []
    for command in (["check", str(file)], ["explain", str(file), "Tune/On"]):
        ended = CliRunner().invoke(setwright, [*command, *option])
        assert ended.exit_code in {0, 1}, ended.output[-500:]
        assert ended.exception is None or isinstance(ended.exception, SystemExit)
