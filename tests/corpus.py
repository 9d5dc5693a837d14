"""Books with one planted fault, and books one token away from it: ``python -m tests.corpus``.

A case is a text file ``tests/cases/CODE/NAME.txt`` with one or more files of a book, each below a
line ``=== FILE``; what it does not hold comes from ``tests/cases/base``, in which nothing is
wrong. Beside the line at fault stands what has to be found, and where exactly::

    channel: 6        # FAULT channel-collision: 6

and beside any line, a near miss: the same book with one token of that line exchanged, in which
nothing at all may be found::

    channel: 6        # FAULT channel-collision: 6 # FINE 6 => 7

Words that the sentence or its way out must hold may stand behind them, and beside the second places the text
that is underlined there; if one of these stands in a case, all of them must::

    channel: 6        # FAULT channel-collision: 6 # SAYS reaches ‘hall’
    channel: 6        # ALSO 6

Printed is, for every check: faults planted, faults found as the only finding at exactly that
text, near misses, and near misses in which something was found. ``--list`` adds what went wrong.
"""

from __future__ import annotations

import argparse
import re
import sys
import tempfile
from collections.abc import Iterator
from pathlib import Path
from typing import NamedTuple

from setwright.compiler.pipeline import compile_night
from setwright.scenes.finding import Finding, Place, render
from tests.conftest import ROOT

CASES = ROOT / "tests" / "cases"
BASE = CASES / "base"
_END = r"\s*(?=# (?:FAULT|FINE|SAYS|ALSO) |$)"
_FAULT = re.compile(rf"# FAULT ([a-z-]+): (.+?){_END}")
_FINE = re.compile(rf"# FINE (.+?) => (.*?){_END}")
_SAYS = re.compile(rf"# SAYS (.+?){_END}")
_ALSO = re.compile(rf"# ALSO (.+?){_END}")
_MARK = re.compile(r"# (?:FAULT|FINE|SAYS|ALSO) ")

Files = dict[str, str]


class Planted(NamedTuple):
    """A book with one fault: what has to be found, in which file, line, and at which text.

    ``says`` are words of its sentence or way out, ``also`` file, line and text of its second places; where
    there are none, these are not compared.
    """

    name: str
    files: Files
    code: str
    file: str
    line: int
    text: str
    says: tuple[str, ...] = ()
    also: tuple[tuple[str, int, str], ...] = ()


class Near(NamedTuple):
    """A book in which nothing may be found; ``change`` is the token that makes it so."""

    name: str
    code: str
    files: Files
    change: str


def base() -> Files:
    """Return the book in which nothing is wrong."""
    return {path.name: path.read_text(encoding="utf-8") for path in sorted(BASE.iterdir())}


def codes() -> list[str]:
    """Return the codes for which there are cases."""
    return sorted(path.name for path in CASES.iterdir() if path.is_dir() and path != BASE)


def cases(code: str) -> tuple[list[Planted], list[Near]]:
    """Return the planted books and the near misses of one code."""
    planted: list[Planted] = []
    near: list[Near] = []
    for path in sorted((CASES / code).glob("*.txt")):
        files = read(path.read_text(encoding="utf-8"))
        name = f"{code}/{path.stem}"
        faults = list(_faults(name, files))
        assert len(faults) == 1, f"{name} plants {len(faults)} faults, not one"
        planted += faults
        near += _near(name, code, files)
    return planted, near


def read(text: str) -> Files:
    """Return the files of a case, laid over those of the base."""
    parts = re.split(r"^=== (\S+)\n", text, flags=re.MULTILINE)
    assert parts[0].strip() == "", "a case begins with === and a file's name"
    return base() | dict(zip(parts[1::2], parts[2::2], strict=True))


def _faults(name: str, files: Files) -> Iterator[Planted]:
    lines = [
        (file, number, line)
        for file, text in files.items()
        for number, line in enumerate(text.splitlines(), 1)
    ]
    also = tuple((file, number, text) for file, number, at in lines for text in _ALSO.findall(at))
    for file, number, line in lines:
        if found := _FAULT.search(line):
            says = tuple(_SAYS.findall(line))
            yield Planted(name, files, found[1], file, number, found[2], says, also)


def _near(name: str, code: str, files: Files) -> Iterator[Near]:
    for file, text in files.items():
        lines = text.splitlines(keepends=True)
        for index, line in enumerate(lines):
            body = plain(line)
            for old, new in _FINE.findall(line):
                assert body.count(old) == 1, f"{name}: {old!r} is not once in {body!r}"
                changed = [*lines[:index], body.replace(old, new) + "\n", *lines[index + 1 :]]
                yield Near(name, code, files | {file: "".join(changed)}, f"{old} => {new}")


def plain(line: str) -> str:
    """Return a line of a case without what has to be found there."""
    mark = _MARK.search(line)
    return line[: mark.start()] if mark else line


ASIDE = frozenset({"effect-not-asked"})
"""Notes that count in their own cases alone: a planted rig often makes more than is asked for."""


def findings(files: Files, code: str = "") -> list[Finding]:
    """Compile a book and return everything that was found in it; of `ASIDE`, ``code`` alone."""
    with tempfile.TemporaryDirectory() as folder:
        for name, text in files.items():
            path = Path(folder) / name
            path.parent.mkdir(exist_ok=True)
            path.write_text(text, encoding="utf-8")
        found = compile_night(Path(folder) / "night.yaml").findings
    return [one for one in found if one.code == code or one.code not in ASIDE]


def underlined(finding: Finding) -> str:
    """Return the text that a finding points at."""
    return _text_at(finding.place)


def _text_at(place: Place) -> str:
    return place.source.line(place.line)[place.column - 1 : place.end_column - 1]


def is_found(case: Planted) -> str:
    """Return what is wrong with the findings of a planted book; nothing if they are right."""
    found = findings(case.files, case.code)
    if len(found) != 1:
        return f"{len(found)} findings instead of one:\n" + "\n".join(map(render, found))
    (one,) = found
    at = (one.code, Path(one.place.file).name, one.place.line, underlined(one))
    wanted = (case.code, Path(case.file).name, case.line, case.text)
    if at != wanted:
        return f"found {at}, wanted {wanted}:\n{render(one)}"
    said = f"{one.message}; {one.help}"
    if lacking := [words for words in case.says if words not in said]:
        return f"does not say {lacking}:\n{render(one)}"
    places = [other.place for other in one.related]
    also = sorted((Path(where.file).name, where.line, _text_at(where)) for where in places)
    if case.also and also != sorted(case.also):
        return f"second places are {also}, wanted {sorted(case.also)}:\n{render(one)}"
    return ""


def is_silent(case: Near) -> str:
    """Return what was found in a near miss; nothing if nothing was."""
    return "\n".join(map(render, findings(case.files, case.code)))


def main() -> None:
    parser = argparse.ArgumentParser(prog="python -m tests.corpus", description=__doc__)
    parser.add_argument("--list", action="store_true", help="add what went wrong")
    parser.add_argument("codes", nargs="*", help="only these checks")
    wanted = parser.parse_args()
    say = sys.stdout.write
    say(f"{'check':28} {'planted':>7} {'found':>7} {'near':>7} {'false':>7}\n")
    total = [0, 0, 0, 0]
    for code in wanted.codes or codes():
        planted, near = cases(code)
        wrong = {case.name: why for case in planted if (why := is_found(case))}
        false = {f"{case.name} {case.change}": why for case in near if (why := is_silent(case))}
        row = [len(planted), len(planted) - len(wrong), len(near), len(false)]
        total = [one + other for one, other in zip(total, row, strict=True)]
        say(f"{code:28} {row[0]:7} {row[1]:7} {row[2]:7} {row[3]:7}\n")
        if wanted.list:
            for name, why in (wrong | false).items():
                say(f"  {name}\n    " + why.replace("\n", "\n    ") + "\n")
    say(f"{'all':28} {total[0]:7} {total[1]:7} {total[2]:7} {total[3]:7}\n")
    sys.exit(total[0] != total[1] or total[3] != 0)


if __name__ == "__main__":
    main()
