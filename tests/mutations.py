"""Books with one slip in them: what a finger or a half-saved file does to a text.

Every mutated book is made from `small_book`, in which nothing is wrong, by one change to one
file. ``python -m tests.mutations`` prints, of the books that break, how many give exactly one
finding and how many show the slip where it was made; ``--list`` adds the ones that do not.
"""

from __future__ import annotations

import argparse
import json
import random
import sys
import tempfile
from collections import Counter
from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from click.testing import CliRunner

from setwright.compiler.cli import main as setwright
from setwright.scenes.finding import Source
from tests.books import small_book, write_files

SEED = 1903
EACH = 20
"""Books for each kind of slip in each file."""

# What lies under a guitarist's fingers: letters and digits more than signs.
_KEYS = "etaoinshrdlucmwyfgpbvkjxqz" * 2 + "0123456789" + " :,-.'\"[]{}()#&*!?|>%@`/=_\t\n"


@dataclass(frozen=True, slots=True)
class Mutation:
    """One slip: ``first`` to ``last`` are the lines, from 1, in the new ``text`` that it touched.

    ``before`` and ``after`` are these lines as they were and as they are.
    """

    kind: str
    file: str
    text: str
    first: int
    last: int
    before: str
    after: str


@dataclass(frozen=True, slots=True)
class Outcome:
    """What the check said of a mutated book; ``findings`` as its JSON has them."""

    mutation: Mutation
    code: int
    findings: list[dict[str, Any]]
    error: BaseException | None

    @property
    def breaks(self) -> bool:
        return self.code != 0

    @property
    def single(self) -> bool:
        return len(self.findings) == 1

    @property
    def placed(self) -> bool:
        """Whether the first finding stands on the lines of the slip or on the one after."""
        return bool(self.findings) and self._near(self.findings[0])

    @property
    def shown(self) -> bool:
        """The same, but any place counts that any of the findings shows."""
        return any(
            self._near(place)
            for finding in self.findings
            for place in (finding, *finding["related"])
        )

    def _near(self, place: dict[str, Any]) -> bool:
        at_file = Path(place["file"]).name == self.mutation.file
        return at_file and self.mutation.first <= place["line"] <= self.mutation.last + 1


def _line(text: str, at: int) -> int:
    return text.count("\n", 0, at) + 1


def _lines(text: str, first: int, last: int) -> str:
    return "\n".join(text.split("\n")[max(first, 1) - 1 : last])


def _change(kind: str, file: str, text: str, start: int, old: str, new: str) -> Mutation:
    """Replace ``old``, which stands at ``start``, by ``new``."""
    changed = text[:start] + new + text[start + len(old) :]
    first = _line(text, start)
    last = first + new.count("\n")
    before = _lines(text, first, first + old.count("\n"))
    return Mutation(kind, file, changed, first, last, before, _lines(changed, first, last))


def _delete(file: str, text: str, dice: random.Random) -> Mutation:
    at = dice.randrange(len(text))
    return _change("delete", file, text, at, text[at], "")


def _insert(file: str, text: str, dice: random.Random) -> Mutation:
    at = dice.randrange(len(text))
    # Every second time the finger hits the same key twice.
    return _change("insert", file, text, at, "", dice.choice((text[at], dice.choice(_KEYS))))


def _replace(file: str, text: str, dice: random.Random) -> Mutation:
    at = dice.randrange(len(text))
    key = dice.choice([key for key in _KEYS if key != text[at]])
    return _change("replace", file, text, at, text[at], key)


def _swap(file: str, text: str, dice: random.Random) -> Mutation:
    at = dice.choice([at for at in range(len(text) - 1) if text[at] != text[at + 1]])
    return _change("swap", file, text, at, text[at : at + 2], text[at + 1] + text[at])


def _delete_line(file: str, text: str, dice: random.Random) -> Mutation:
    lines = text.removesuffix("\n").split("\n")
    at = dice.randrange(len(lines))
    gone = lines.pop(at)
    # Nothing stands there any more: the lines on both sides of the gap count.
    return Mutation(
        "delete line", file, "\n".join(lines) + "\n", at, at, gone, _lines("\n".join(lines), at, at)
    )


def _swap_lines(file: str, text: str, dice: random.Random) -> Mutation:
    lines = text.removesuffix("\n").split("\n")
    at = dice.choice([at for at in range(len(lines) - 1) if lines[at] != lines[at + 1]])
    before = "\n".join(lines[at : at + 2])
    lines[at], lines[at + 1] = lines[at + 1], lines[at]
    after = "\n".join(lines[at : at + 2])
    return Mutation("swap lines", file, "\n".join(lines) + "\n", at + 1, at + 2, before, after)


def _truncate(file: str, text: str, dice: random.Random) -> Mutation:
    cut = dice.randrange(1, len(text))
    left = text[:cut]
    # The end of the file is the last line on which something is written.
    last = _line(left, len(left))
    first = _line(left, len(left.rstrip()))
    return Mutation(
        "truncate", file, left, first, last, _lines(text, first, last), _lines(left, first, last)
    )


KINDS: tuple[Callable[[str, str, random.Random], Mutation], ...] = (
    _delete,
    _insert,
    _replace,
    _swap,
    _delete_line,
    _swap_lines,
    _truncate,
)


def mutations(each: int = EACH, seed: int = SEED) -> Iterator[Mutation]:
    """Yield ``each`` slips of every kind for every file of the book; no two texts are equal."""
    for file, text in small_book().items():
        for make in KINDS:
            dice = random.Random(f"{seed} {file} {make.__name__}")
            seen = {text}
            # A short file has only so many lines to delete.
            for _ in range(each * 50):
                mutation = make(file, text, dice)
                if mutation.text not in seen:
                    seen.add(mutation.text)
                    yield mutation
                if len(seen) > each:
                    break


def judge(folder: Path, mutation: Mutation) -> Outcome:
    """Check the book in ``folder`` with the one file of ``mutation`` changed."""
    file = folder / mutation.file
    whole = file.read_bytes()
    file.write_bytes(mutation.text.encode("utf-8"))
    try:
        result = CliRunner().invoke(
            setwright, ["check", str(folder / "night.yaml"), "--format", "json"]
        )
    finally:
        file.write_bytes(whole)
    error = result.exception if not isinstance(result.exception, SystemExit) else None
    findings = [] if error else json.loads(result.stdout)
    return Outcome(mutation, result.exit_code, findings, error)


def misplaced(outcome: Outcome) -> str | None:
    """Say which finding stands outside the text of its file, if one does."""
    texts = small_book() | {outcome.mutation.file: outcome.mutation.text}
    for finding in outcome.findings:
        for place in (finding, *finding["related"]):
            source = Source("", texts.get(Path(place["file"]).name, ""))
            line, column = place["line"], place["column"]
            end = (place["end_line"], place["end_column"])
            if not 1 <= line <= len(source.lines) or not 1 <= column <= len(source.line(line)) + 1:
                return f"{place['file']}:{line}:{column} is outside the text"
            # A caret may stand right behind the last character of a line.
            if end < (line, column) or end[1] > len(source.line(end[0])) + 2:
                return f"{place['file']}:{line}:{column} ends at {end[0]}:{end[1]}"
    return None


def run(each: int = EACH, seed: int = SEED) -> list[Outcome]:
    """Judge all mutated books, one after the other."""
    with tempfile.TemporaryDirectory() as folder:
        write_files(Path(folder), small_book())
        return [judge(Path(folder), mutation) for mutation in mutations(each, seed)]


def share(outcomes: Iterable[Outcome], holds: Callable[[Outcome], bool]) -> float:
    """Return the share, 0 to 1, of the broken books for which ``holds`` is true."""
    broken = [outcome for outcome in outcomes if outcome.breaks]
    return sum(map(holds, broken)) / len(broken) if broken else 1.0


def _table(title: str, groups: dict[str, list[Outcome]]) -> Iterator[str]:
    yield f"{title:14} books broken  one finding  on its line  shown at all"
    for name, some in groups.items():
        broken = sum(outcome.breaks for outcome in some)
        yield (
            f"{name:14} {len(some):5} {broken:6} {share(some, lambda o: o.single):12.1%} "
            f"{share(some, lambda o: o.placed):12.1%} {share(some, lambda o: o.shown):13.1%}"
        )


def report(outcomes: list[Outcome], *, listed: bool) -> Iterator[str]:
    """Yield the figures, and with ``listed`` every book that gives more or other than wanted."""
    kinds: dict[str, list[Outcome]] = {}
    files: dict[str, list[Outcome]] = {}
    for outcome in outcomes:
        kinds.setdefault(outcome.mutation.kind, []).append(outcome)
        files.setdefault(outcome.mutation.file, []).append(outcome)
    yield from _table("kind", kinds)
    yield ""
    yield from _table("file", files)
    yield ""
    yield from _table("", {"all": outcomes})
    if not listed:
        return
    bad = [o for o in outcomes if o.error or (o.breaks and not (o.single and o.placed))]
    classes = Counter(_class(outcome) for outcome in bad)
    for name, count in classes.most_common():
        yield f"\n=== {count} × {name}"
        for outcome in (outcome for outcome in bad if _class(outcome) == name):
            yield from _case(outcome)


def _class(outcome: Outcome) -> str:
    if outcome.error:
        return f"crash {outcome.error!r}"
    faults = [] if outcome.single else ["several"]
    faults += [] if outcome.placed else ["elsewhere"]
    codes = Counter(finding["code"] for finding in outcome.findings)
    return f"{', '.join(faults)}: " + ", ".join(f"{code} {n}" for code, n in sorted(codes.items()))


def _case(outcome: Outcome) -> Iterator[str]:
    mutation = outcome.mutation
    yield f"--- {mutation.kind}, {mutation.file}:{mutation.first}"
    yield from (f"  - {line}" for line in mutation.before.split("\n"))
    yield from (f"  + {line}" for line in mutation.after.split("\n"))
    for finding in outcome.findings[:4]:
        where = f"{Path(finding['file']).name}:{finding['line']}:{finding['column']}"
        yield f"    {where} {finding['code']}: {finding['message']}"
        for other in finding["related"][:2]:
            at = f"{Path(other['file']).name}:{other['line']}:{other['column']}"
            yield f"        {at} {other['message']}"
    if len(outcome.findings) > 4:
        yield f"    and {len(outcome.findings) - 4} more"


def main() -> None:
    parser = argparse.ArgumentParser(prog="python -m tests.mutations", description=__doc__)
    parser.add_argument("--each", type=int, default=EACH, help="books a kind and file")
    parser.add_argument("--seed", type=int, default=SEED)
    parser.add_argument("--list", action="store_true", help="show the books that miss the aim")
    wanted = parser.parse_args()
    for line in report(run(wanted.each, wanted.seed), listed=wanted.list):
        sys.stdout.write(line + "\n")


if __name__ == "__main__":
    main()
