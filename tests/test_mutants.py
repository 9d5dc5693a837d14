"""The faults that are put into the compiler are faults, and the judges notice them."""

from __future__ import annotations

import ast

from tests.conftest import ROOT
from tests.mutants import MODULES, judge, mutants, sample


def test_there_are_enough_of_them() -> None:
    chosen = sample(220, 1903)
    assert len({(one.module, one.text) for one in chosen}) == 220
    assert {one.module for one in chosen} == set(MODULES)
    assert {one.operator for one in chosen} == {"drop", "swap", "constant", "negate"}


def test_each_is_a_program_of_its_own() -> None:
    for module in MODULES:
        path = ROOT / MODULES[module]
        original = ast.unparse(ast.parse(path.read_text(encoding="utf-8")))
        for mutant in mutants(module):
            assert mutant.text != original
            ast.parse(mutant.text)
            assert mutant.line > 0, mutant


def test_they_are_noticed() -> None:
    """One of each module, that does harm without an exception."""
    harm = [
        ("lower", "not on → on"),
        ("wire", "MILLISECONDS_A_BYTE"),
        ("midi", "message.channel - 1 →"),
        ("bind", "demand.quantity == 'use'"),
    ]
    chosen = [
        next(one for one in mutants(module) if change in one.change) for module, change in harm
    ]
    outcome = judge(chosen, try_without=False)
    assert all(outcome.values()), outcome
