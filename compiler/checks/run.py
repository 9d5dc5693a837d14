"""How the checks are run on a compiled night, and what the book lets pass.

The runner gives a fault its place in the files, its code and its way out, and lets it pass where
the book says so: a record may hold ``let pass: {CODE: REASON}``, and what that code then finds
in it is a note that ends with the reason.
"""

from __future__ import annotations

from collections.abc import Iterator

from setwright.compiler.checks.check import Check, Fault
from setwright.compiler.checks.listed import CHECKS
from setwright.compiler.compiled import Compiled
from setwright.compiler.proving.passed import Passed
from setwright.scenes.book import Book
from setwright.scenes.finding import Finding, Place, Related, Severity
from setwright.scenes.names import suggestion
from setwright.scenes.places import KeyPath
from setwright.scenes.quantities import quoted
from setwright.scenes.records import Record


def run_checks(compiled: Compiled) -> tuple[list[Finding], tuple[Passed, ...]]:
    """Run every check on ``compiled``, whose scenes must have been lowered and placed.

    Returns the findings, and what is let pass of those that may change a sound.
    """
    book = compiled.book
    passing = _LetPass(book)
    findings = [passing.judge(check, fault) for check in CHECKS for fault in check.run(compiled)]
    return [*findings, *passing.findings()], tuple(passing.passed)


class _LetPass:
    """What the book lets pass: by the key path of the record that says so, then by code."""

    def __init__(self, book: Book) -> None:
        self.book = book
        self.said = dict(_said(book))
        self.used: set[tuple[KeyPath, str]] = set()
        self.passed: list[Passed] = []

    def judge(self, check: Check, fault: Fault) -> Finding:
        """Return the finding of a fault, as a note where it is let pass."""
        book, rule = self.book, check.explained
        find = book.place_of_key if fault.at_key else book.place
        finding = Finding(
            rule.code,
            rule.severity if fault.severity is None else fault.severity,
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
        if fault.severity is not None:
            finding = finding._replace(severity=fault.severity)
        reason = self._reason(fault, rule.code) if self.said and rule.can_pass else None
        if reason is None:
            return finding
        if rule.changes_sound:
            self.passed.append(Passed(rule.code, reason, _concerned(fault)))
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
        passing = [check.explained.code for check in CHECKS if check.explained.can_pass]
        for path, reasons in self.said.items():
            for code in reasons:
                place = self.book.place_of_key((*path, "let pass", code))
                if code not in passing:
                    yield _refused(code, place, passing)
                elif (path, code) not in self.used and path[0] == "night":
                    # A song, a unit or a switcher serves other nights, too.
                    yield Finding(
                        "nothing-to-let-pass",
                        Severity.NOTE,
                        f"{quoted(code)} finds nothing here, so there is nothing to let pass",
                        place,
                        "delete it, so that it cannot hide a fault of tomorrow",
                    )


def _concerned(fault: Fault) -> frozenset[str] | None:
    """Return the units whose sound a fault may change; None where the switcher's may change."""
    if fault.units:
        return frozenset(fault.units)
    paths = [fault.path, *(other.path for other in fault.also)]
    if any(path[0] == "switcher" for path in paths):
        return None
    return frozenset(str(path[2]) for path in paths if path[:2] == ("rig", "units"))


def _refused(code: str, place: Place, passing: list[str]) -> Finding:
    """Return the finding that ``code`` is none, or none that can pass."""
    from setwright.compiler.checks.registry import registered

    explained = registered().get(code)
    if explained is None:
        return Finding(
            "unknown-check",
            Severity.ERROR,
            f"there is no check {quoted(code)} whose findings could pass",
            place,
            suggestion(code, passing, "‘setwright checks’ lists them"),
        )
    if explained.caution:
        why = "it can destroy a box or start a fire"
        way_out = "if the label on the box allows it, write in power: what the label says"
    else:
        why = "no check finds it, and only what checks find can"
        way_out = f"delete this, and mend what it finds: {explained.do}"
    return Finding(
        "not-to-let-pass",
        Severity.ERROR,
        f"{quoted(code)} cannot be let pass: {why}",
        place,
        way_out,
    )


def _said(book: Book) -> Iterator[tuple[KeyPath, dict[str, str]]]:
    records: list[Record] = [book.night, book.rig, book.switcher]
    records += [*book.night.sets, *book.rig.units.values(), *book.rig.supply.values()]
    records += book.rig.general.values()
    if book.rig.switcher is not None:
        records += book.rig.switcher.every_bank.values()
    for song in book.songs:
        records.append(song)
        records += song.scenes.values()
    for record in records:
        reasons: dict[str, str] = getattr(record, "let_pass", {})
        if reasons:
            yield record.path, reasons
