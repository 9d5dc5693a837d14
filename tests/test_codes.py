"""Every code that is printed is explained, and every explanation is true."""

from __future__ import annotations

import subprocess
import sys

import pytest
from click.testing import CliRunner

from setwright.compiler.checks.listed import CHECKS
from setwright.compiler.checks.registry import by_code, registered
from setwright.compiler.cli import main as setwright
from setwright.scenes.explained import Explained
from setwright.scenes.finding import Severity, render
from tests import codes, corpus, planting

IN_CHECKS = {check.explained.code for check in CHECKS}
WITHOUT_CASES = [one for one in registered().values() if one.code not in corpus.codes()]


def test_every_code_is_explained_and_every_explanation_has_its_code() -> None:
    printed = set(codes.printed())
    assert printed - registered().keys() == set(), "printed, and explained nowhere"
    assert registered().keys() - printed - IN_CHECKS == set(), "explained, and never printed"
    assert printed & IN_CHECKS == set(), "printed by a phase and by a check"


@pytest.mark.parametrize("code", sorted(codes.printed()))
def test_a_code_weighs_what_its_explanation_says(code: str) -> None:
    one = registered()[code]
    assert codes.printed()[code] == {weight.name for weight in (one.severity, *one.sometimes)}
    assert one.severity is min((one.severity, *one.sometimes), key=list(Severity).index)


@pytest.mark.parametrize(
    ("text", "found"),
    [
        ('Slip("plain", "", "")', {"plain": {"ERROR"}}),
        ('def f(code="first"):\n  Slip(code, "", "")\nf()\nf("second")',
         {"first": {"ERROR"}, "second": {"ERROR"}}),
        ('def f(*, code):\n  Slip(code, "", "")\nf(code="x" if a else "y")',
         {"x": {"ERROR"}, "y": {"ERROR"}}),
        ('class A:\n  def f(self, kind, heavy):\n    s = Severity.NOTE if heavy else Severity.ERROR\n'
         '    Finding(f"{kind}-lost", s)\n  def g(self):\n    self.f("cat", 1)\n    self.f("dog", 0)',
         {"cat-lost": {"NOTE", "ERROR"}, "dog-lost": {"NOTE", "ERROR"}}),
        ('def f():\n  return "one", 1\ncode, number = f()\nSlip(code, "", "")', {"one": {"ERROR"}}),
        ('NAME = "constant"\nFinding(NAME, severity=Severity.WARNING)', {"constant": {"WARNING"}}),
        ('TABLE = (("one", 1), ("two", 2))\ndef f():\n  for code, number in TABLE:\n    Slip(code, "", "")',
         {"one": {"ERROR"}, "two": {"ERROR"}}),
        ('TABLE = {"lost": Severity.NOTE}\ndef f():\n  return [Finding(c, s) for c, s in TABLE.items()]',
         {"lost": {"NOTE"}}),
        ('try:\n  pass\nexcept Slip as slip:\n  Finding(slip.code, Severity.ERROR)', {}),
    ],
)  # fmt: skip
def test_codes_are_followed_to_where_they_are_written(
    text: str, found: dict[str, set[str]]
) -> None:
    classes = (
        "class Finding(NamedTuple):\n  code: str\n  severity: Severity\n"
        "class Slip(ValueError):\n  def __init__(self, code, message, way_out): ...\n"
    )
    assert codes.read(classes + text).codes() == found


def test_a_code_that_cannot_be_followed_is_an_error() -> None:
    text = "class Finding:\n  code: str\nFinding(codes[number])"
    with pytest.raises(codes.UnreadableError, match=r"text:3.*codes\[number\]"):
        codes.read(text).codes()


def test_only_what_is_let_pass_weighs_less_than_it_was_made() -> None:
    assert codes.sources().replaced() == {("compiler/checks/run.py", "severity")}


# What text alone cannot hold: files that are no text, or too large. Bytes by file name.
SETUPS: dict[str, dict[str, bytes]] = {
    "file-too-large": {"recording.wav": b"x" * (8 * 1024 * 1024 + 1)},
    "wrong-encoding": {"songs.yaml": "songs:\n  - title: Planxty Café\n".encode("latin-1")},
    "not-text": {"photo.yaml": b"\x89PNG\r\n\x1a\n\0\0\0\rIHDR"},
    "include-too-deep": {
        f"gear{n}.yaml": f"include: gear{n + 1}.yaml\n".encode() for n in range(1, 33)
    },
    "control-character": {"rig.yaml": b"rig: She\x07d\n"},
}

# What cannot but be found as well: code → the others, each with the reason.
COMPANIONS: dict[str, set[str]] = {}


@pytest.mark.parametrize("one", WITHOUT_CASES, ids=lambda one: one.code)
def test_an_example_gives_its_code_and_no_other(one: Explained) -> None:
    laid = planting.lay(one.example, corpus.base())
    found = planting.findings(laid, SETUPS.get(one.code))
    shown = "\n".join(map(render, found))
    assert {finding.code for finding in found} == {one.code} | COMPANIONS.get(one.code, set()), (
        shown
    )
    assert {finding.severity for finding in found} <= {one.severity, *one.sometimes}


def test_an_example_is_laid_where_it_says() -> None:
    files = {"rig.yaml": "rig: Shed\nunits:\n  one:\n    loop: 1\n    thru: no\n  two: {loop: 2}\n"}
    example = """\
        # in rig.yaml, compiled --without two
        units:
          one:
            loop: 3
            note: …
          two: {loop: 4}
        # all of more.yaml
        a: b
        # at the end of more.yaml
        c: d
    """
    laid = planting.lay(example.replace("…", "here"), files)
    assert laid.without == {"two"}
    assert laid.files == {
        "rig.yaml": "rig: Shed\nunits:\n  one:\n    loop: 3\n    thru: no\n    note: here\n"
        "  two: {loop: 4}\n",
        "more.yaml": "a: b\nc: d\n",
    }
    with pytest.raises(ValueError, match="# in FILE"):
        planting.lay("units: {}", files)


def test_a_code_that_stands_twice_is_refused() -> None:
    one = registered()["tab"]
    assert dict(by_code([one])) == {"tab": one}
    with pytest.raises(ValueError, match="tab is explained twice"):
        by_code([one, registered()["midi-loop"], one])


def test_what_cannot_pass_though_a_check_finds_it_is_dangerous() -> None:
    """The sentence that refuses it says so."""
    assert {
        check.explained.code for check in CHECKS if not check.explained.can_pass
    } == {"supply-voltage", "supply-kind", "supply-polarity", "amplifier-on-supply"}  # fmt: skip
    assert all(check.explained.caution for check in CHECKS if not check.explained.can_pass)
    assert not any(one.can_pass for one in registered().values() if one.code not in IN_CHECKS)


def test_completion_offers_every_code(monkeypatch: pytest.MonkeyPatch) -> None:
    words = {
        "_SETWRIGHT_COMPLETE": "bash_complete",
        "COMP_WORDS": "setwright checks ",
        "COMP_CWORD": "2",
    }
    ended = CliRunner().invoke(setwright, [], env=words, prog_name="setwright")
    offered = {line.partition(",")[2] for line in ended.output.splitlines()}
    assert offered >= registered().keys()


@pytest.mark.parametrize(
    ("code", "near"),
    [("chanel-colision", "channel-collision"), ("unkown-key", "unknown-key"), ("tap", "tab")],
)
def test_an_unknown_code_gets_the_nearest(code: str, near: str) -> None:
    ended = CliRunner().invoke(setwright, ["checks", code])
    assert ended.exit_code == 2
    assert f"did you mean ‘{near}’?" in ended.output


def test_compiling_a_book_loads_no_explanation_of_slips() -> None:
    """They would take their time at every start, and nothing but explaining needs them."""
    ask = (
        "import sys, setwright.compiler.pipeline, setwright.compiler.cli\n"
        "print(*(name for name in sys.modules if 'slips' in name or name.endswith('registry')))"
    )
    ended = subprocess.run(
        [sys.executable, "-c", ask], capture_output=True, text=True, check=True, timeout=60
    )
    assert ended.stdout.split() == []
