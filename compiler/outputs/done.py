"""What was typed is noted: the plan's presets go into the file of what the switcher holds."""

from __future__ import annotations

from codecs import BOM_UTF8
from collections.abc import Collection
from typing import NamedTuple

from setwright.compiler.compiled import Compiled
from setwright.compiler.lowering.preset import Address
from setwright.compiler.outputs.one_file import exchange
from setwright.compiler.outputs.stored_text import NotEditableError, with_presets
from setwright.compiler.outputs.survey import Problem
from setwright.compiler.placement.banks import name_of
from setwright.compiler.placement.held import show
from setwright.compiler.plan import Plan


class Noted(NamedTuple):
    """How many presets are noted as typed, or why none is."""

    presets: int
    problem: Problem | None = None


def done(compiled: Compiled, plan: Plan, only: Collection[Address] = ()) -> Noted:
    """Note that ``plan`` is typed in, or of it the presets ``only``."""
    book = compiled.book
    assert book.stored_at is not None
    typed = {step.address: step.wanted.typed for step in plan.steps}
    if only:
        typed = {address: plan.wanted[address].typed for address in only}
    presets = {show(book, at): (plan.names[at], one) for at, one in sorted(typed.items())}
    known = list(book.stored.presets) if book.stored is not None else []
    spelt = {_same(key): key for key in known}
    presets = {spelt.get(_same(key), key): one for key, one in presets.items()}
    programs: dict[str, dict[str, str]] = {}
    if not only:
        before = book.stored.programs if book.stored is not None else {}
        for one in plan.programs:
            names = programs.setdefault(one.unit, dict(before.get(one.unit, {})))
            names[one.shown] = one.name
    rig, took = name_of(compiled.target), compiled.placement.presses
    before_that = book.stored.bank_presses if book.stored is not None else {}
    # Songs that lie anywhere say nothing of how many presses a night may take.
    same = before_that.get(rig) == took or not compiled.placement.in_order
    presses = {} if same else {rig: took}
    if not presets and not programs and not presses:
        return Noted(0)
    order = _order(compiled)
    order |= {key: order[_same(key)] for key in known if _same(key) in order}
    order |= {key: order[_same(key)] for key in presets}

    def change(before: bytes) -> bytes | Problem:
        try:
            text = before.decode("utf-8-sig")
            after = with_presets(text, book.switcher.switcher, presets, programs, presses, order)
        except (UnicodeDecodeError, NotEditableError):
            return Problem(
                f"{book.stored_at} is written in a way in which its lines cannot be exchanged; "
                "nothing was changed",
                "write one preset to a line, or move the file away",
            )
        mark = BOM_UTF8 if before.startswith(BOM_UTF8) else b""
        return mark + after.encode("utf-8")

    problem = exchange(book.stored_at, change)
    return Noted(0 if problem else len(presets), problem)


def _same(key: str) -> str:
    bank, _, switch = key.rpartition("/")
    return f"{bank.strip()}/{switch.strip()}".casefold()


def _order(compiled: Compiled) -> dict[str, int]:
    """Return the place of every address of the switcher, by how it is shown."""
    switcher = compiled.book.switcher
    size = switcher.switches.count
    return {
        _same(show(compiled.book, Address(bank, switch))): bank * size + switch
        for bank in range(switcher.banks.count)
        for switch in range(size)
    }
