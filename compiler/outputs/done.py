"""What was typed is noted: the plan's presets go into the file of what the switcher holds."""

from __future__ import annotations

from codecs import BOM_UTF8
from collections.abc import Collection
from typing import NamedTuple

from setwright.compiler.compiled import Compiled
from setwright.compiler.lowering.preset import Address
from setwright.compiler.outputs.one_file import exchange
from setwright.compiler.outputs.stored_text import Lies, News, NotEditableError, with_news
from setwright.compiler.outputs.survey import Problem
from setwright.compiler.placement.banks import name_of
from setwright.compiler.placement.held import show
from setwright.compiler.plan import Plan


class Noted(NamedTuple):
    """How many presets are noted as typed, or why none is."""

    presets: int
    problem: Problem | None = None


def done(compiled: Compiled, plan: Plan, only: Collection[Address] = ()) -> Noted:
    """Note that ``plan`` is typed in, or of it the presets ``only``.

    Where the songs of the night lie is noted besides, so that the rest of the plan stays what it
    is, and nothing moves until the night changes.
    """
    book = compiled.book
    assert book.stored_at is not None
    news = _news(compiled, plan, only)
    if not any(news[:3]):
        return Noted(0)

    def change(before: bytes) -> bytes | Problem:
        try:
            after = with_news(before.decode("utf-8-sig"), book.switcher.switcher, news)
        except (UnicodeDecodeError, NotEditableError):
            return Problem(
                f"{book.stored_at} is written in a way in which its lines cannot be exchanged; "
                "nothing was changed",
                "write one preset to a line, or move the file away",
            )
        mark = BOM_UTF8 if before.startswith(BOM_UTF8) else b""
        return mark + after.encode("utf-8")

    problem = exchange(book.stored_at, change)
    return Noted(0 if problem else len(news.presets), problem)


def text_after(compiled: Compiled, plan: Plan, text: str) -> str:
    """Return what the file ``text`` says once the whole of ``plan`` is noted.

    Raises `NotEditableError`.
    """
    return with_news(text, compiled.book.switcher.switcher, _news(compiled, plan, ()))


def _news(compiled: Compiled, plan: Plan, only: Collection[Address]) -> News:
    book, stored = compiled.book, compiled.book.stored
    wanted = {step.address: step.wanted for step in plan.steps}
    typed = {address: one for address, one in wanted.items() if not only or address in only}
    known = list(stored.presets) if stored is not None else []
    spelt = {_same(key): key for key in known}

    def key_of(address: Address) -> str:
        shown = show(book, address)
        return spelt.get(_same(shown), shown)

    presets = {key_of(at): (plan.names[at], one.typed) for at, one in sorted(typed.items())}
    order = _order(compiled)
    order |= {key: order[_same(key)] for key in known if _same(key) in order}
    order |= {key: order[_same(key)] for key in presets}
    programs: dict[str, dict[str, str]] = {}
    if not only:
        there = stored.programs if stored is not None else {}
        for program in plan.programs:
            names = programs.setdefault(program.unit, dict(there.get(program.unit, {})))
            names[program.shown] = program.name
    rig, placement = name_of(compiled.target), compiled.placement
    lies = Lies(
        plan.mark,
        tuple(book.switcher.banks.show(bank) for bank in placement.banks),
        # Songs that lie anywhere say nothing of how many presses a night may take.
        placement.presses if placement.in_order else 0,
    )
    last = stored.placed.get(rig) if stored is not None else None
    same = last is not None and Lies(last.state, tuple(last.banks), last.presses) == lies
    return News(presets, programs, {} if same else {rig: lies}, order)


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
