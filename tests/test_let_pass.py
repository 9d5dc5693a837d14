"""Findings that a player has looked at and lets pass, with a reason that is printed."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest
from click.testing import CliRunner

from setwright.compiler.binding.states import Cause, Verdict
from setwright.compiler.checks.listed import CHECKS
from setwright.compiler.cli import main as setwright
from setwright.compiler.compiled import Compiled
from setwright.compiler.proving.passed import Passed, without_what_passed
from setwright.compiler.reports.summary import proof
from setwright.scenes.finding import Severity
from tests import corpus
from tests.corpus import Files
from tests.nights import whole


def check(folder: Path, files: Files) -> tuple[int, list[dict[str, Any]]]:
    for name, text in files.items():
        (folder / name).write_text(text, encoding="utf-8")
    words = ["check", str(folder / "night.yaml"), "--format", "json"]
    ended = CliRunner().invoke(setwright, words)
    return ended.exit_code, json.loads(ended.output)


def planted(name: str) -> Files:
    """Return the book of a case, without its comments."""
    code, _, stem = name.partition("/")
    text = (corpus.CASES / code / f"{stem}.txt").read_text(encoding="utf-8")
    lines = [corpus.plain(line).rstrip() for line in text.splitlines()]
    return corpus.read("\n".join(lines) + "\n")


def change(files: Files, file: str, old: str, new: str) -> Files:
    assert old in files[file], f"{old!r} is not in {file}"
    return files | {file: files[file].replace(old, new, 1)}


RIG, SONGS, NIGHT, BOARD = "rig.yaml", "songs.yaml", "night.yaml", "board.yaml"


@pytest.mark.parametrize(
    ("case", "file", "old", "new"),
    [
        pytest.param(
            "channel-collision/two-program-units",
            RIG,
            "  barn:\n",
            "  barn:\n    let pass: {channel-collision: it is meant}\n",
            id="the unit",
        ),
        pytest.param(
            "channel-collision/two-program-units",
            RIG,
            "  wobbler:\n",
            "  wobbler:\n    let pass: {channel-collision: it is meant}\n",
            id="the other unit",
        ),
        pytest.param(
            "channel-collision/two-program-units",
            RIG,
            "rig: Shed\n",
            "rig: Shed\nlet pass: {channel-collision: it is meant}\n",
            id="the rig",
        ),
        pytest.param(
            "order-out-of-time/rounds",
            SONGS,
            "    meter: 2/4\n",
            "    meter: 2/4\n    let pass: {order-out-of-time: it is meant}\n",
            id="the song",
        ),
        pytest.param(
            "sent-in-vain/busy",
            SONGS,
            "      Shake: [compression, tremolo]",
            "      Shake: {effects: [compression, tremolo], let pass: {sent-in-vain: it is meant}}",
            id="the scene",
        ),
        pytest.param(
            "set-too-long/two-songs",
            NIGHT,
            "  - name: Only set\n",
            "  - name: Only set\n    let pass: {set-too-long: it is meant}\n",
            id="the set",
        ),
        pytest.param(
            "set-too-long/two-songs",
            NIGHT,
            "rig: rig.yaml\n",
            "rig: rig.yaml\nlet pass: {set-too-long: it is meant}\n",
            id="the night",
        ),
        pytest.param(
            "beyond-recall/first-program",
            BOARD,
            "banks: 30\n",
            "banks: 30\nlet pass: {beyond-recall: it is meant}\n",
            id="the switcher",
        ),
        pytest.param(
            "supply-overloaded/two-on-one",
            RIG,
            "feeds: echo}",
            "feeds: echo, let pass: {supply-overloaded: it is meant}}",
            id="the output",
        ),
    ],
)
def test_what_is_let_pass_is_a_note_with_its_reason(
    tmp_path: Path, case: str, file: str, old: str, new: str
) -> None:
    files = planted(case)
    before = check(tmp_path, files)[1]
    exit_code, after = check(tmp_path, change(files, file, old, new))
    assert exit_code == 0
    (was,), (now,) = before, after
    assert now["severity"] == "note"
    assert now["code"] == was["code"]
    assert now["message"] == f"{was['message']} (let pass: it is meant)"


def test_the_reason_is_printed_with_the_result(tmp_path: Path) -> None:
    files = change(
        planted("tails-cut/in-a-loop"),
        RIG,
        "    tails: stay",
        "    tails: stay\n    let pass: {tails-cut: I like it so}",
    )
    for name, text in files.items():
        (tmp_path / name).write_text(text, encoding="utf-8")
    ended = CliRunner().invoke(setwright, ["check", str(tmp_path / "night.yaml")])
    assert ended.exit_code == 0
    assert "its loop goes out (let pass: I like it so) [tails-cut]" in ended.output
    assert ": 1 note\n" in ended.output


def test_another_units_fault_does_not_pass(tmp_path: Path) -> None:
    files = change(
        planted("channel-collision/two-program-units"),
        RIG,
        "  echo:\n",
        "  echo:\n    let pass: {channel-collision: not this one}\n",
    )
    exit_code, found = check(tmp_path, files)
    assert exit_code == 1
    assert [(one["code"], one["severity"]) for one in found] == [("channel-collision", "error")]


@pytest.mark.parametrize(
    ("said", "code", "severity", "exit_code", "words"),
    [
        ("{chanel-collision: it is meant}", "unknown-check", "error", 1, "channel-collision"),
        ("{preset-full: it is meant}", "not-to-let-pass", "error", 1, "mend what it finds: use a"),
        ("{bank-too-small: I like it}", "not-to-let-pass", "error", 1, "mend what it finds: take"),
        ("{unknown-key: it is meant}", "not-to-let-pass", "error", 1, "mend what it finds: write"),
        ("{midi-loop: }", "empty-value", "error", 1, "write a value"),
        ("midi-loop", "wrong-shape", "error", 1, ""),
        ("{supply-voltage: it lives}", "not-to-let-pass", "error", 1, "what the label says"),
    ],
)
def test_what_cannot_be_let_pass(
    tmp_path: Path, said: str, code: str, severity: str, exit_code: int, words: str
) -> None:
    files = change(corpus.base(), RIG, "  echo:\n", f"  echo:\n    let pass: {said}\n")
    code_of, found = check(tmp_path, files)
    (one,) = found
    assert (one["code"], one["severity"], code_of) == (code, severity, exit_code)
    assert words in one["help"]
    assert one["line"] == 13


@pytest.mark.parametrize(
    ("code", "why"),
    [
        ("supply-voltage", "it can destroy a box or start a fire"),
        ("supply-polarity", "it can destroy a box or start a fire"),
        ("preset-full", "no check finds it, and only what checks find can"),
        ("nothing-to-let-pass", "no check finds it, and only what checks find can"),
        ("tab", "no check finds it, and only what checks find can"),
    ],
)
def test_why_it_cannot_be_let_pass_is_true_for_it(tmp_path: Path, code: str, why: str) -> None:
    said = f"  echo:\n    let pass: {{{code}: it is meant}}\n"
    _, (one,) = check(tmp_path, change(corpus.base(), RIG, "  echo:\n", said))
    assert one["message"] == f"‘{code}’ cannot be let pass: {why}"


def test_what_can_destroy_a_box_cannot_be_let_pass() -> None:
    """The wrong voltage, kind of current or polarity; too great a draw or a fuse does not."""
    never = {check.explained.code for check in CHECKS if not check.explained.can_pass}
    assert never == {
        "supply-voltage",
        "supply-kind",
        "supply-polarity",
        "amplifier-on-supply",
    }


def test_what_a_night_lets_pass_for_nothing_is_said(tmp_path: Path) -> None:
    files = change(
        corpus.base(), NIGHT, "rig: rig.yaml\n", "rig: rig.yaml\nlet pass: {midi-loop: no}\n"
    )
    exit_code, (one,) = check(tmp_path, files)
    assert (exit_code, one["code"], one["severity"]) == (0, "nothing-to-let-pass", "note")
    assert one["line"] == 3


def test_what_a_rig_lets_pass_may_be_for_another_night(tmp_path: Path) -> None:
    files = change(
        corpus.base(), RIG, "rig: Shed\n", "rig: Shed\nlet pass: {set-too-long: often so}\n"
    )
    assert check(tmp_path, files) == (0, [])


def passed(folder: Path, case: str, record: str, says: str) -> Compiled:
    """Compile a case whose fault is let pass in ``record``, a line of its rig."""
    files = planted(case)
    code = case.partition("/")[0]
    indent = " " * (len(record) - len(record.lstrip()) + (2 if record.startswith(" ") else 0))
    line = f"{indent}let pass: {{{code}: {says}}}\n"
    for name, text in change(files, RIG, record, record + line).items():
        (folder / name).write_text(text, encoding="utf-8")
    compiled = whole(folder / "night.yaml")
    assert [(one.code, one.severity) for one in compiled.findings] == [(code, Severity.NOTE)]
    return compiled


@pytest.mark.parametrize(
    ("case", "record", "unknown", "units"),
    [
        pytest.param("channel-collision/two-program-units", "  barn:\n", {"Shake", "Rise"},
                     {"wobbler", "barn"}, id="both that share a channel, where one is heard"),
        pytest.param("omni-hears-others/program-unit", "  barn:\n", set(), set(),
                     id="a unit of which nothing was proven anyway"),
        pytest.param("omni-hears-others/echo-on-omni", "  echo:\n", {"*"}, {"echo"},
                     id="not those whose messages it hears"),
        pytest.param("deaf-unit/left-out-of-the-line", "  echo:\n", {"*"}, {"echo"},
                     id="a unit that hears nothing"),
        pytest.param("deaf-unit/thru-off-in-the-line", "rig: Shed\n", {"*"}, {"echo"},
                     id="behind a box that is at fault"),
        pytest.param("other-sender/keyboard-and-echo", "rig: Shed\n", {"*"}, {"echo"},
                     id="who obeys another sender, and not the sender"),
        pytest.param("heard-twice/diamond", "rig: Shed\n", {"*"}, {"echo"},
                     id="what is behind two ways"),
        pytest.param("midi-loop/two-boxes", "rig: Shed\n", {"*"}, {"wobbler", "echo"},
                     id="all in a circle"),
        pytest.param("channel-collision/switcher-hears-itself", "rig: Shed\n", {"*"},
                     {"squeezer", "wobbler", "echo"}, id="everything, where presets are called"),
        pytest.param("other-sender/calls-presets", "rig: Shed\n", {"*"},
                     {"squeezer", "wobbler", "echo"}, id="by whomever"),
        pytest.param("two-clocks/one-line", "rig: Shed\n", {"*"}, {"echo"},
                     id="who follows two clocks"),
        pytest.param("sent-twice/merged", "rig: Shed\n", set(), set(), id="what changes no sound"),
    ],
)  # fmt: skip
def test_what_is_let_pass_is_not_proven(
    tmp_path: Path, case: str, record: str, unknown: set[str], units: set[str]
) -> None:
    compiled = passed(tmp_path, case, record, "I know it")
    doubted = {
        (key[1], one.unit): one
        for key, scene in compiled.scenes.items()
        for one in scene.proved
        if one.cause is Cause.PASSED
    }
    every = {key[1] for key in compiled.scenes}
    assert {scene for scene, _ in doubted} == (every if unknown == {"*"} else unknown)
    assert {unit for _, unit in doubted} == units
    code = case.partition("/")[0]
    assert {one.reason for one in doubted.values()} <= {
        f"{code} is let pass (I know it), so nothing here is proven"
    }
    assert {one.verdict for one in doubted.values()} <= {Verdict.UNKNOWN}
    proven = proof(compiled)
    assert proven is not None
    assert proven.not_known == len(every if unknown == {"*"} else unknown)
    assert (f"{proven.not_known} cannot be known (let pass: {code})" in proven.lines[0]) is bool(
        unknown
    )


@pytest.mark.parametrize(
    ("cause", "afterwards"),
    [
        (Cause.LEFT, Cause.LEFT),
        (Cause.BUSY, Cause.BUSY),
        (Cause.DEAF, Cause.PASSED),
        (Cause.DISTURBED, Cause.PASSED),
        (Cause.TWICE, Cause.PASSED),
    ],
)
def test_what_cannot_be_known_for_another_reason_keeps_it(
    tmp_path: Path, cause: Cause, afterwards: Cause
) -> None:
    """A finding of its own says what to do about it."""
    for name, text in corpus.base().items():
        (tmp_path / name).write_text(text, encoding="utf-8")
    key, scene = next(iter(whole(tmp_path / "night.yaml").scenes.items()))
    one = next(one for one in scene.proved if (one.unit, one.quantity) == ("echo", "switch"))
    doubted = one._replace(verdict=Verdict.UNKNOWN, cause=cause)
    fault = Passed("channel-collision", "I know it", frozenset({"echo"}))
    now = without_what_passed({key: scene._replace(proved=(doubted,))}, (fault,))
    assert [one.cause for one in now[key].proved] == [afterwards]


def test_what_is_let_pass_is_told_where_it_matters(tmp_path: Path) -> None:
    passed(tmp_path, "channel-collision/two-program-units", "  barn:\n", "they wobble alike")
    ended = CliRunner().invoke(setwright, ["check", str(tmp_path / "night.yaml")])
    assert "2 cannot be known (let pass: channel-collision)" in ended.output
    words = ["explain", str(tmp_path / "night.yaml"), "Blind Mary/Rise"]
    ended = CliRunner().invoke(setwright, words)
    reason = "channel-collision is let pass (they wobble alike), so nothing here is proven"
    assert f"cannot be known: {reason}" in ended.output
    words[-1] = "Blind Mary/Bare"
    assert "cannot be known" not in CliRunner().invoke(setwright, words).output


def test_a_code_that_changes_a_sound_can_pass() -> None:
    flagged = {one.explained.code for one in CHECKS if one.explained.changes_sound}
    assert flagged == {
        "channel-collision", "omni-hears-others", "other-sender", "heard-twice", "two-clocks",
        "control-is-bank-select", "control-twice", "midi-loop", "two-into-one", "deaf-unit",
        "set-and-moved",
    }  # fmt: skip
    assert all(one.explained.can_pass for one in CHECKS if one.explained.changes_sound)
