"""Every check finds what is planted, at the exact text, and is silent one token beside it."""

from __future__ import annotations

from pathlib import Path

import pytest

from setwright.compiler.binding.states import Cause
from setwright.compiler.checks.listed import CHECKS
from setwright.compiler.checks.phases import EARLIER
from setwright.scenes.explained import Explained
from tests import corpus
from tests.conftest import ROOT
from tests.corpus import Near, Planted

WITH_CASES = [*(check.explained for check in CHECKS), *EARLIER]
PLANTED = [case for code in corpus.codes() for case in corpus.cases(code)[0]]
NEAR = [case for code in corpus.codes() for case in corpus.cases(code)[1]]


def test_the_tuple_holds_every_check_of_the_folder() -> None:
    folder = ROOT / "compiler" / "checks"
    found = {
        path.stem.replace("_", "-")
        for path in folder.glob("*.py")
        if "\nCHECK = " in path.read_text(encoding="utf-8")
    }
    listed = [check.explained.code for check in CHECKS]
    assert len(listed) == len(set(listed))
    assert set(listed) == found


def test_nothing_is_wrong_with_the_base() -> None:
    assert corpus.findings(corpus.base()) == []


@pytest.mark.parametrize("code", [one.code for one in WITH_CASES])
def test_every_check_has_cases(code: str) -> None:
    planted, near = corpus.cases(code)
    assert len(planted) >= 3
    assert len(near) >= 3
    assert {case.code for case in planted} == {code}


@pytest.mark.parametrize("case", PLANTED, ids=lambda case: case.name)
def test_what_is_planted_is_found(case: Planted) -> None:
    assert corpus.is_found(case) == ""


@pytest.mark.parametrize("case", NEAR, ids=lambda case: f"{case.name} {case.change}")
def test_what_is_near_is_silent(case: Near) -> None:
    assert corpus.is_silent(case) == ""


def test_a_case_that_is_wrong_is_noticed() -> None:
    (first, *_), _ = corpus.cases(PLANTED[0].name.partition("/")[0])
    assert "0 findings" in corpus.is_found(first._replace(files=corpus.base()))
    assert "wanted" in corpus.is_found(first._replace(line=first.line + 1))
    assert "does not say" in corpus.is_found(first._replace(says=("the moon",)))
    assert "second places" in corpus.is_found(first._replace(also=(("rig.yaml", 1, "rig"),)))


@pytest.mark.parametrize("explained", WITH_CASES, ids=lambda one: one.code)
def test_an_example_is_taken_from_a_case(explained: Explained) -> None:
    texts = [
        path.read_text(encoding="utf-8")
        for path in (Path(corpus.CASES) / explained.code).glob("*.txt")
    ]
    plain = [[corpus.plain(line).strip() for line in text.splitlines()] for text in texts]
    wanted = [line.strip() for line in explained.example.splitlines() if line.strip()]
    assert wanted
    assert any(all(line in lines for line in wanted) for lines in plain)


def test_every_cause_is_reported_by_somebody() -> None:
    """What cannot be known is counted as not proven; a finding has to say what it is."""
    told = "".join(
        path.read_text(encoding="utf-8")
        for path in [
            *(ROOT / "compiler" / "checks").glob("*.py"),
            ROOT / "compiler" / "binding" / "bind.py",
        ]
    )
    unsaid = [cause.name for cause in Cause if cause and f"Cause.{cause.name}" not in told]
    # What hears nothing, what was not meant for it, or all twice, is found on the cables; where a
    # program cannot be known, that is found of the program itself; what is let pass is a note.
    assert unsaid == ["DEAF", "DISTURBED", "PROGRAM", "TWICE", "PASSED"]
