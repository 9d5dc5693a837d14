"""Faults put into the compiler itself, and whether the receivers notice: ``python -m tests.mutants``.

Mutants of bind, lower, wire and midi are made from the syntax tree by listed operators, each in a
copy of the tree; there only those tests run that judge by model receivers. A mutant is noticed
when they fail, or run for ever. Printed is module × operator × mutants × noticed, then the
survivors with their line and change.

Left out, because no receiver can notice them: docstrings and type annotations; what only people
read (texts, findings, meanings of orders, names of kinds in sentences); and functions that no
message depends on (`NO_MESSAGE`).
"""

from __future__ import annotations

import argparse
import ast
import copy
import os
import random
import shutil
import subprocess
import sys
import tempfile
from collections import Counter
from collections.abc import Callable, Iterator
from concurrent.futures import ThreadPoolExecutor
from functools import cache
from pathlib import Path
from typing import NamedTuple

from tests.conftest import ROOT

MODULES = {
    "bind": "compiler/binding/bind.py",
    "lower": "compiler/lowering/lower.py",
    "wire": "compiler/lowering/wire.py",
    "midi": "compiler/midi.py",
}
"""Name → file of every module that faults are put into."""
NO_MESSAGE = frozenset(
    {
        # bind: findings, words for people, and where a foot stands, which no message tells.
        "done",
        "place_in_words",
        "song_as_written",
        "_with_feet",
        "_is_loss",
        "_suffer",
        "_suffering_findings",
        "_unknown_effects",
        "_unreached_times",
        "_clash",
        "_plain",
        "_guitar_tonight",
        # midi: a message as text.
        "__str__",
    }
)
ONLY_FINDINGS = frozenset(
    {
        # bind: what lies under these conditions does nothing but find fault, scene by scene.
        "any(map(self.lacking.is_loss, asked))",
        "self._cache[key] is None and (again := self._play(song, scene))",
        "any((one.cause is Cause.TIME for one in wanted))",
        "name not in known and playing is not None",
        "self.lacking.is_loss(effect.name)",
        "effect.name not in self.target.broken_effects",
    }
)
WORDS = frozenset(
    {
        "AskedEffect",
        "BoundSong",
        "Finding",
        "Related",
        "suggestion",
        "quoted",
        "describe",
        "Names",
        "ValueError",
    }
)
"""Calls whose arguments only people read (of a bound song the receivers hear the scenes alone)."""
JUDGES = (
    "tests/test_sequences.py",
    "tests/test_receive.py",
    "tests/test_demo_scenes.py",
    "tests/test_pairs.py",
)
"""The tests that judge by receivers, the quickest to find fault first."""
SECONDS = 150

_GUARD = "a guard for the type checker: what is proven of a switch has these values"
_STATUS = "any number that is no status byte does: nothing was sent before"
EQUIVALENT: dict[tuple[str, str, str], str] = {
    ("bind", "swap", "key = (asked, str(milliseconds), str(scene.echo), scene.echo_of_song)"): (
        "the key of a cache, in any order"
    ),
    ("lower", "drop", "if switch is None or switch.on is None or switch.off is None:"): _GUARD,
    ("lower", "drop", 'if one.quantity == "switch" and isinstance(one.value, bool):'): _GUARD,
    (
        "lower",
        "drop",
        'if one.quantity == "program" and isinstance(one.value, Program) and _reachable(one):',
    ): ("a guard for the type checker"),
    ("bind", "drop", "if stand_in is None and effect.name not in self.target.lost:"): (
        "an effect that the rig lacks is an error: nothing is sent then"
    ),
    ("bind", "drop", "if self.feet.at_rest:"): "where a foot stands is told by no message",
    ("bind", "swap", "for name in (*self.target.makes, *self.target.lost):"): (
        "the order in which names are known decides nothing that is sent"
    ),
    ("wire", "drop", "last = -1"): _STATUS,
    (
        "bind",
        "constant",
        "playable = False",
    ): "an effect that the rig lacks is an error: nothing is sent then",
    (
        "bind",
        "constant",
        "def song(self, song: Song, playing: Playing | None = None, number: int = 0) -> BoundSong:",
    ): ("the number of a song that is not played tonight: anything does"),
    ("wire", "constant", "last = -1"): _STATUS,
    ("midi", "constant", "last = -1"): _STATUS,
    (
        "lower",
        "constant",
        "zero = (0, 0)",
    ): "units that load nothing come before those that load, as before",
    (
        "lower",
        "constant",
        'return (2, busy, settles, order.quantity == "switch")',
    ): "the last rank stays last",
    (
        "lower",
        "constant",
        "channel = unit.channel if isinstance(unit.channel, int) else 1",
    ): "a unit on every channel hears any channel",
    ("midi", "swap", "KINDS: tuple[Kind, ...] = ("): "the order of the table does not matter",
}
"""Module, operator (any, if empty) and line of survivors that change nothing that can be heard.

It holds for what this module makes of the line: `python -m tests.mutants` prints every one.
"""


class Mutant(NamedTuple):
    """One fault: in which module, by which operator, in which line, the new text of the module."""

    module: str
    operator: str
    line: int
    change: str
    text: str
    source: str = ""

    @property
    def argued(self) -> str:
        """Why it changes nothing that can be heard; nothing if nobody argued so."""
        for operator in ("", self.operator):
            if (self.module, operator, self.source) in EQUIVALENT:
                return EQUIVALENT[self.module, operator, self.source]
        return ""

    @property
    def name(self) -> str:
        return f"{self.module}: {self.change}"


Edit = Callable[[ast.AST], ast.AST | None]


class Spot(NamedTuple):
    """A place of the tree that an operator can change: which field of which parent."""

    parent: ast.AST
    field: str
    position: int | None


COMPARE: dict[type[ast.cmpop], type[ast.cmpop]] = {
    ast.Eq: ast.NotEq,
    ast.NotEq: ast.Eq,
    ast.Lt: ast.LtE,
    ast.LtE: ast.Lt,
    ast.Gt: ast.GtE,
    ast.GtE: ast.Gt,
    ast.In: ast.NotIn,
    ast.NotIn: ast.In,
    ast.Is: ast.IsNot,
    ast.IsNot: ast.Is,
}
ARITHMETIC: dict[type[ast.operator], type[ast.operator]] = {
    ast.Add: ast.Sub,
    ast.Sub: ast.Add,
    ast.Mult: ast.FloorDiv,
    ast.Div: ast.Mult,
    ast.FloorDiv: ast.Mult,
    ast.BitOr: ast.BitAnd,
    ast.BitAnd: ast.BitOr,
    ast.LShift: ast.RShift,
    ast.RShift: ast.LShift,
}


COMMUTES = (ast.Add, ast.Mult, ast.BitOr, ast.BitAnd)


def variants(node: ast.AST, strings: list[str]) -> Iterator[tuple[str, ast.AST]]:
    """Yield every (operator, replacement) of one node."""
    match node:
        case ast.Constant(value=bool(value)):
            yield "constant", ast.Constant(not value)
        case ast.Constant(value=int(value)):
            yield "constant", ast.Constant(value + 1)
            yield "constant", ast.Constant(value - 1)
        case ast.Constant(value=str(value)) if value in strings:
            other = strings[(strings.index(value) + 1) % len(strings)]
            yield "constant", ast.Constant(other)
        case ast.Compare(left=left, ops=[op], comparators=[right]):
            new = ast.Compare(left, [COMPARE[type(op)]()], [right])
            yield "negate", new
            if isinstance(op, ast.Lt | ast.LtE | ast.Gt | ast.GtE):
                yield "swap", ast.Compare(right, [op], [left])
        case ast.BoolOp(op=op, values=values):
            yield "negate", ast.BoolOp(ast.And() if isinstance(op, ast.Or) else ast.Or(), values)
            if len(values) > 1:
                for index in range(len(values)):
                    kept = [*values[:index], *values[index + 1 :]]
                    yield "drop", kept[0] if len(kept) == 1 else ast.BoolOp(op, kept)
        case ast.UnaryOp(op=ast.Not(), operand=operand):
            yield "negate", operand
        case ast.UnaryOp(op=ast.USub(), operand=operand):
            yield "drop", operand
        case ast.BinOp(left=left, op=op, right=right) if type(op) in ARITHMETIC:
            yield "negate", ast.BinOp(left, ARITHMETIC[type(op)](), right)
            by_name = isinstance(left, ast.Name) and isinstance(right, ast.Name)
            if (by_name and isinstance(op, ast.Add)) or not isinstance(op, COMMUTES):
                # Sums of numbers are the same either way round; lists by name are not.
                yield "swap", ast.BinOp(right, op, left)
        case ast.IfExp(test=test, body=body, orelse=orelse):
            yield "swap", ast.IfExp(test, orelse, body)
        case ast.If(test=test, body=body, orelse=orelse):
            yield "negate", ast.If(ast.UnaryOp(ast.Not(), test), body, orelse)
            yield "drop", ast.Pass()
        case ast.comprehension(target=target, iter=iterated, ifs=[test], is_async=is_async):
            yield "drop", ast.comprehension(target, iterated, [], is_async)
            yield (
                "negate",
                ast.comprehension(target, iterated, [ast.UnaryOp(ast.Not(), test)], is_async),
            )
        case ast.List(elts=parts) | ast.Tuple(elts=parts) if len(parts) > 1:
            made = type(node)
            for index in range(len(parts)):
                yield "drop", made([*parts[:index], *parts[index + 1 :]], ast.Load())
            # Names of data bytes are words, of which only the number counts.
            words = all(
                isinstance(one, ast.Constant) and isinstance(one.value, str) for one in parts
            )
            for index in range(0 if words else len(parts) - 1):
                swapped = [*parts[:index], parts[index + 1], parts[index], *parts[index + 2 :]]
                yield "swap", made(swapped, ast.Load())
        case ast.Call(func=func, args=args, keywords=keywords):
            for index in range(len(keywords)):
                yield "drop", ast.Call(func, args, [*keywords[:index], *keywords[index + 1 :]])
            # The greater of two is the same either way round.
            ordered = not (isinstance(func, ast.Name) and func.id in {"max", "min"})
            for index in range(len(args) - 1 if ordered else 0):
                swapped = [*args[:index], args[index + 1], args[index], *args[index + 2 :]]
                yield "swap", ast.Call(func, swapped, keywords)
        case ast.Expr(value=ast.Call() | ast.Yield() | ast.YieldFrom()):
            yield "drop", ast.Pass()
        case ast.AugAssign() | ast.Continue():
            yield "drop", ast.Pass()


@cache
def mutants(module: str) -> list[Mutant]:
    """Return every mutant of one module, each once."""
    path = ROOT / MODULES[module]
    written = path.read_text(encoding="utf-8")
    tree, lines = ast.parse(written), written.splitlines()
    strings = _strings(tree)
    original = ast.unparse(tree)
    found: dict[str, Mutant] = {}
    for spot in _spots(tree):
        node = _get(spot)
        for operator, new in variants(node, strings):
            _set(spot, ast.fix_missing_locations(ast.copy_location(new, node)))
            try:
                text = ast.unparse(tree)
            finally:
                _set(spot, node)
            line = getattr(node, "lineno", getattr(spot.parent, "lineno", 0))
            change = f"{_short(node)} → {_short(new)} (line {line})"
            if text != original and _compiles(text):
                source = lines[line - 1].strip()
                found.setdefault(text, Mutant(module, operator, line, change, text, source))
    return list(found.values())


def sample(count: int, seed: int) -> list[Mutant]:
    """Return ``count`` mutants, spread evenly over modules and operators."""
    pick = random.Random(seed)
    chosen: list[Mutant] = []
    for number, module in enumerate(MODULES):
        share = count // len(MODULES) + (number < count % len(MODULES))
        by_operator: dict[str, list[Mutant]] = {}
        for mutant in mutants(module):
            by_operator.setdefault(mutant.operator, []).append(mutant)
        for some in by_operator.values():
            pick.shuffle(some)
        taken = 0
        while taken < share and any(by_operator.values()):
            for operator in sorted(by_operator):
                if by_operator[operator] and taken < share:
                    chosen.append(by_operator[operator].pop())
                    taken += 1
    pick.shuffle(chosen)  # so that both processes get as much to do
    return chosen


def _spots(tree: ast.Module) -> Iterator[Spot]:
    waiting: list[ast.AST] = [tree]
    while waiting:
        node = waiting.pop()
        for field, value in ast.iter_fields(node):
            if field in {"annotation", "returns", "decorator_list", "bases", "type_params"}:
                continue
            several = value if isinstance(value, list) else [value]
            for index, child in enumerate(several):
                if not isinstance(child, ast.AST) or _is_for_people(child, node):
                    continue
                yield Spot(node, field, index if isinstance(value, list) else None)
                waiting.append(child)


def _is_for_people(node: ast.AST, parent: ast.AST) -> bool:
    match node:
        case ast.FunctionDef(name=name):
            return name in NO_MESSAGE
        case ast.Import() | ast.ImportFrom() | ast.JoinedStr() | ast.Assert() | ast.Raise():
            return True
        case ast.Expr(value=ast.Constant()):
            return True
        case ast.Expr(value=ast.Call(func=ast.Attribute(value=ast.Attribute(attr="findings")))):
            return True
        case ast.Expr(value=ast.Call(func=ast.Attribute(value=ast.Name(id="replaced")))):
            return True  # what stands in for what is told to people
        case ast.Call(func=ast.Name(id="Kind"), args=[ast.Constant(value=name), *_]):
            return name not in {"control", "program"}  # no unit of ours listens to the others
        case ast.Call(func=ast.Name(id=name)):
            return name in WORDS
        case ast.If(test=test) if ast.unparse(test) in ONLY_FINDINGS:
            return True
        case ast.Call(func=ast.Attribute(attr=name)):
            return name in {"define", "find", "place", "place_of_key"} or name.startswith(
                ("suffer", "_clash")
            )
        case ast.Subscript() if isinstance(parent, ast.Assign):
            return True
        case ast.Assign(targets=[ast.Name(id=name)]):
            # Aliases of types, and what receivers have no use for: other messages than theirs.
            return name in {"Encoded", "UNDEFINED_CONTROLS", "CLOCKS_A_QUARTER", "MANY"}
    return False


def _strings(tree: ast.Module) -> list[str]:
    """Return the strings that decide something: compared, looked up, or named as a quantity."""
    found: dict[str, None] = {}
    for node in ast.walk(tree):
        inner: list[ast.expr] = []
        match node:
            case ast.Compare(comparators=comparators):
                inner = list(comparators)
            case ast.Dict(keys=keys):
                inner = [key for key in keys if key is not None]
            case ast.Call(func=ast.Name(id="Message" | "Kind"), args=args):
                inner = args[:1]
        for one in inner:
            for leaf in ast.walk(one):
                if isinstance(leaf, ast.Constant) and isinstance(leaf.value, str):
                    found[leaf.value] = None
    return sorted(found)


def _get(spot: Spot) -> ast.AST:
    value = getattr(spot.parent, spot.field)
    node: ast.AST = value if spot.position is None else value[spot.position]
    return node


def _set(spot: Spot, node: ast.AST) -> None:
    if spot.position is None:
        setattr(spot.parent, spot.field, node)
    else:
        getattr(spot.parent, spot.field)[spot.position] = node


def _short(node: ast.AST) -> str:
    text = "" if isinstance(node, ast.Pass) else ast.unparse(copy.deepcopy(node))
    first = " ".join(text.split())
    return first if len(first) < 70 else f"{first[:67]}..."


def _compiles(text: str) -> bool:
    try:
        compile(text, "mutant", "exec")
    except SyntaxError:
        return False
    return True


class Copy:
    """A copy of the tree, importable as ``setwright``, in which one module is exchanged."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        self.original = {module: (ROOT / path).read_bytes() for module, path in MODULES.items()}
        for name in ("scenes", "compiler", "templates", "tests", "examples"):
            shutil.copytree(
                ROOT / name, folder / name, ignore=shutil.ignore_patterns("__pycache__", "golden")
            )
        shutil.copy(ROOT / "pyproject.toml", folder)
        (folder / "on" / "setwright").mkdir(parents=True)
        for name in ("scenes", "compiler", "templates"):
            (folder / "on" / "setwright" / name).symlink_to(folder / name)

    def noticed(self, mutant: Mutant | None) -> str:
        """Run the judges on ``mutant``; return the one that notices, or an empty text."""
        for module, text in self.original.items():
            (self.folder / MODULES[module]).write_bytes(text)
        if mutant is not None:
            path = self.folder / MODULES[mutant.module]
            path.write_text(mutant.text, encoding="utf-8")
        for judge in JUDGES:
            try:
                ended = subprocess.run(
                    [sys.executable, "-m", "pytest", "-q", "-x", "-p", "no:cacheprovider", judge],
                    cwd=self.folder,
                    env={
                        **os.environ,
                        "PYTHONPATH": str(self.folder / "on"),
                        "PYTHONDONTWRITEBYTECODE": "1",
                        "SETWRIGHT_BOOKS": "200",
                    },
                    capture_output=True,
                    check=False,
                    timeout=SECONDS,
                )
            except subprocess.TimeoutExpired:
                return f"{judge} (for ever)"
            if ended.returncode not in (0, 5):
                return judge
        return ""


def judge(
    chosen: list[Mutant], processes: int = 2, *, try_without: bool = True
) -> dict[Mutant, str]:
    """Return for each mutant what noticed it; several copies of the tree run side by side.

    With ``try_without`` the judges have to pass without any mutant first.
    """
    with tempfile.TemporaryDirectory() as folder:
        copies = [Copy(Path(folder) / str(number)) for number in range(processes)]
        if try_without:
            assert copies[0].noticed(None) == "", "the judges fail without any mutant"
        with ThreadPoolExecutor(processes) as pool:
            runs = [
                pool.submit(_judged, tree, share)
                for tree, share in zip(
                    copies, (chosen[n::processes] for n in range(processes)), strict=True
                )
            ]
            return {mutant: by for run in runs for mutant, by in run.result()}


def _judged(tree: Copy, share: list[Mutant]) -> list[tuple[Mutant, str]]:
    found = []
    for mutant in share:
        by = tree.noticed(mutant)
        sys.stderr.write(f"{by or 'NOBODY':30} {mutant.name}\n")
        sys.stderr.flush()
        found.append((mutant, by))
    return found


def main() -> None:
    parser = argparse.ArgumentParser(prog="python -m tests.mutants", description=__doc__)
    parser.add_argument("--count", type=int, default=220, help="how many mutants")
    parser.add_argument("--seed", type=int, default=1903, help="which ones")
    parser.add_argument("--list", action="store_true", help="only list them")
    wanted = parser.parse_args()
    chosen = sample(wanted.count, wanted.seed)
    say = sys.stdout.write
    if wanted.list:
        for mutant in chosen:
            say(f"{mutant.operator:9} {mutant.name}\n")
        return
    outcome = judge(chosen)
    made = Counter((one.module, one.operator) for one in chosen)
    noticed = Counter((one.module, one.operator) for one, by in outcome.items() if by)
    say(f"{'module':8} {'operator':10} {'mutants':>8} {'noticed':>8}\n")
    for key in sorted(made):
        say(f"{key[0]:8} {key[1]:10} {made[key]:8} {noticed[key]:8}\n")
    count, found = len(chosen), sum(noticed.values())
    say(f"{'all':19} {count:8} {found:8}  {100 * found / count:.1f} %\n")
    argued = sum(bool(one.argued) for one, by in outcome.items() if not by)
    say(f"{'without those argued to be equal':36}  {100 * found / (count - argued):.1f} %\n")
    for mutant, by in outcome.items():
        if not by:
            say(f"survives  {mutant.operator:9} {mutant.name}\n")
            say(f"          {mutant.argued or 'NOT ARGUED'}\n")


if __name__ == "__main__":
    main()
