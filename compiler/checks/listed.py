"""All checks, in one tuple, and how they are run on a compiled night.

The runner gives a fault its place in the files, its code and its way out, and lets it pass where
the book says so: a record may hold ``let pass: {CODE: REASON}``, and what that code then finds
in it is a note that ends with the reason.
"""

from __future__ import annotations

from collections.abc import Iterator

from setwright.compiler.checks import (
    bank_select_lacking,
    beyond_end,
    beyond_recall,
    channel_collision,
    control_is_bank_select,
    control_twice,
    deaf_unit,
    display_disagrees,
    fed_twice,
    flip_not_known,
    length_disagrees,
    midi_loop,
    no_clock,
    omni_hears_others,
    order_out_of_time,
    other_sender,
    power_in_circle,
    program_two_numbers,
    repeat_ignored,
    sent_in_vain,
    sent_twice,
    set_too_long,
    slow_change,
    stays_as_left,
    steps_not_known,
    supply_kind,
    supply_overloaded,
    supply_polarity,
    supply_voltage,
    tails_cut,
    time_rounded,
    two_clocks,
    two_into_one,
    unreached_unit,
)
from setwright.compiler.checks.check import Check, Fault
from setwright.compiler.compiled import Compiled
from setwright.scenes.book import Book
from setwright.scenes.finding import Finding, Related, Severity
from setwright.scenes.names import suggestion
from setwright.scenes.places import KeyPath
from setwright.scenes.quantities import quoted
from setwright.scenes.records import Record

CHECKS: tuple[Check, ...] = (
    channel_collision.CHECK,
    omni_hears_others.CHECK,
    deaf_unit.CHECK,
    unreached_unit.CHECK,
    length_disagrees.CHECK,
    midi_loop.CHECK,
    two_into_one.CHECK,
    other_sender.CHECK,
    sent_twice.CHECK,
    two_clocks.CHECK,
    no_clock.CHECK,
    control_twice.CHECK,
    control_is_bank_select.CHECK,
    bank_select_lacking.CHECK,
    beyond_recall.CHECK,
    program_two_numbers.CHECK,
    display_disagrees.CHECK,
    flip_not_known.CHECK,
    steps_not_known.CHECK,
    stays_as_left.CHECK,
    repeat_ignored.CHECK,
    sent_in_vain.CHECK,
    slow_change.CHECK,
    tails_cut.CHECK,
    time_rounded.CHECK,
    order_out_of_time.CHECK,
    beyond_end.CHECK,
    set_too_long.CHECK,
    supply_overloaded.CHECK,
    supply_voltage.CHECK,
    supply_kind.CHECK,
    supply_polarity.CHECK,
    fed_twice.CHECK,
    power_in_circle.CHECK,
)


def run_checks(compiled: Compiled) -> list[Finding]:
    """Run every check on ``compiled``, whose scenes must have been lowered and placed."""
    book = compiled.book
    assert book is not None
    passing = _LetPass(book)
    findings = [passing.judge(check, fault) for check in CHECKS for fault in check.run(compiled)]
    return [*findings, *passing.findings()]


class _LetPass:
    """What the book lets pass: by the key path of the record that says so, then by code."""

    def __init__(self, book: Book) -> None:
        self.book = book
        self.said = dict(_said(book))
        self.used: set[tuple[KeyPath, str]] = set()

    def judge(self, check: Check, fault: Fault) -> Finding:
        """Return the finding of a fault, as a note where it is let pass."""
        book, rule = self.book, check.explained
        find = book.place_of_key if fault.at_key else book.place
        finding = Finding(
            rule.code,
            rule.severity,
            fault.message,
            fault.place or find(fault.path),
            (fault.help or rule.do) + (f"; {rule.beware}" if rule.beware else ""),
            tuple(
                Related(
                    other.message,
                    book.place_of_key(other.path) if other.at_key else book.place(other.path),
                )
                for other in fault.also
            ),
        )
        reason = self._reason(fault, rule.code) if self.said and rule.can_pass else None
        if reason is None:
            return finding
        return finding._replace(
            severity=Severity.NOTE, message=f"{fault.message} (let pass: {reason})"
        )

    def _reason(self, fault: Fault, code: str) -> str | None:
        for path in (fault.path, *(other.path for other in fault.also)):
            for length in range(len(path), 0, -1):
                reason = self.said.get(path[:length], {}).get(code)
                if reason is not None:
                    self.used.add((path[:length], code))
                    return reason
        return None

    def findings(self) -> Iterator[Finding]:
        """Yield what is let pass that no check is called, or that no check finds."""
        known = [check.explained.code for check in CHECKS]
        never = {check.explained.code for check in CHECKS if not check.explained.can_pass}
        for path, reasons in self.said.items():
            for code in reasons:
                place = self.book.place_of_key((*path, "let pass", code))
                if code not in known:
                    yield Finding(
                        "unknown-check",
                        Severity.ERROR,
                        f"there is no check {quoted(code)} whose findings could pass",
                        place,
                        suggestion(code, known, "‘setwright checks’ lists them"),
                    )
                elif code in never:
                    yield Finding(
                        "not-to-let-pass",
                        Severity.ERROR,
                        f"{quoted(code)} cannot be let pass: it can destroy a box or start a fire",
                        place,
                        "if the label on the box allows it, write in power: what the label says",
                    )
                elif (path, code) not in self.used and path[0] == "night":
                    # A song, a unit or a switcher serves other nights, too.
                    yield Finding(
                        "nothing-to-let-pass",
                        Severity.NOTE,
                        f"{quoted(code)} finds nothing here, so there is nothing to let pass",
                        place,
                        "delete it, so that it cannot hide a fault of tomorrow",
                    )


def _said(book: Book) -> Iterator[tuple[KeyPath, dict[str, str]]]:
    records: list[Record] = [book.night, book.rig, book.switcher]
    records += [*book.night.sets, *book.rig.units.values(), *book.rig.supply.values()]
    records += book.rig.general.values()
    for song in book.songs:
        records.append(song)
        records += song.scenes.values()
    for record in records:
        reasons: dict[str, str] = getattr(record, "let_pass", {})
        if reasons:
            yield record.path, reasons
