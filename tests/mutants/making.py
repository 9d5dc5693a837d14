"""Making mutants: one change by a listed operator to the syntax tree of one module.

What only people read is left alone (see `people`).
"""

from __future__ import annotations

import ast
import copy
import random
from collections.abc import Iterable, Iterator
from functools import cache
from itertools import islice, zip_longest
from typing import NamedTuple

from tests.conftest import ROOT
from tests.mutants.equal import EQUIVALENT
from tests.mutants.people import (
    PROSE,
    arguments_judged,
    is_read_only_by_people,
    no_message_tells,
)
from tests.mutants.rooms import Room


class Mutant(NamedTuple):
    """One fault: in which file of which room, by which operator, in which line; its new text."""

    room: str
    file: str
    operator: str
    line: int
    change: str
    text: str
    source: str = ""

    @property
    def argued(self) -> str:
        """Why it changes nothing that can be noticed; nothing if nobody argued so."""
        for operator in ("", self.operator):
            if (self.room, operator, self.source) in EQUIVALENT:
                return EQUIVALENT[self.room, operator, self.source]
        return ""

    @property
    def name(self) -> str:
        return f"{self.room}: {self.change}"


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


OPPOSITE = {"max": "min", "min": "max", "any": "all", "all": "any"}
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
        case ast.Compare(left=left, ops=[one, other], comparators=[middle, right]):
            for first, second in (
                (COMPARE[type(one)], type(other)),
                (type(one), COMPARE[type(other)]),
            ):
                yield "negate", ast.Compare(left, [first(), second()], [middle, right])
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
                if keywords[index].arg not in PROSE:
                    yield "drop", ast.Call(func, args, [*keywords[:index], *keywords[index + 1 :]])
            if isinstance(func, ast.Name) and func.id in OPPOSITE:
                opposite = ast.Name(OPPOSITE[func.id], ast.Load())
                yield "swap", ast.Call(opposite, args, keywords)
            # The greater of two is the same either way round.
            ordered = not (isinstance(func, ast.Name) and func.id in OPPOSITE)
            for index in range(len(args) - 1 if ordered else 0):
                swapped = [*args[:index], args[index + 1], args[index], *args[index + 2 :]]
                yield "swap", ast.Call(func, swapped, keywords)
        case ast.Expr(value=ast.Call() | ast.Yield() | ast.YieldFrom()):
            yield "drop", ast.Pass()
        case ast.AugAssign() | ast.Continue():
            yield "drop", ast.Pass()


class _Candidate(NamedTuple):
    """A change that could be made: by which operator, and the how manieth of its spot."""

    file: str
    spot: Spot
    operator: str
    number: int


def mutants(room: Room) -> list[Mutant]:
    """Return every mutant of the files of one room, each once."""
    return list(_made(room, _candidates(room)))


def sample(room: Room, count: int, seed: int) -> list[Mutant]:
    """Return ``count`` mutants of a room, spread evenly over operators; all where it is whole."""
    if room.whole:
        return mutants(room)
    pick = random.Random(f"{seed} {room.name}")
    by_operator: dict[str, list[_Candidate]] = {}
    for candidate in _candidates(room):
        by_operator.setdefault(candidate.operator, []).append(candidate)
    for some in by_operator.values():
        pick.shuffle(some)
    in_turn = zip_longest(*(by_operator[operator] for operator in sorted(by_operator)))
    return list(islice(_made(room, (one for some in in_turn for one in some if one)), count))


def _candidates(room: Room) -> list[_Candidate]:
    return [
        _Candidate(file, spot, operator, number)
        for file in room.files
        for spot in _spots(_read(file).tree, by_receivers=room.by_receivers)
        for number, (operator, _) in enumerate(variants(_get(spot), _read(file).strings))
    ]


class _File(NamedTuple):
    tree: ast.Module
    lines: list[str]
    strings: list[str]
    text: str


@cache
def _read(file: str) -> _File:
    written = (ROOT / file).read_text(encoding="utf-8")
    tree = ast.parse(written)
    return _File(tree, written.splitlines(), _strings(tree), ast.unparse(tree))


def _made(room: Room, candidates: Iterable[_Candidate]) -> Iterator[Mutant]:
    """Yield the mutants that differ from the original and from one another, and compile."""
    seen = {_read(file).text for file in room.files}
    for file, spot, operator, number in candidates:
        tree, lines, strings, _ = _read(file)
        node = _get(spot)
        new = list(variants(node, strings))[number][1]
        _set(spot, ast.fix_missing_locations(ast.copy_location(new, node)))
        try:
            text = ast.unparse(tree)
        finally:
            _set(spot, node)
        if text in seen or not _compiles(text):
            continue
        seen.add(text)
        line = getattr(node, "lineno", getattr(spot.parent, "lineno", 0))
        change = f"{_short(node)} → {_short(new)} (line {line})"
        if len(room.files) > 1:
            change = f"{file.rpartition('/')[2]}: {change}"
        yield Mutant(room.name, file, operator, line, change, text, lines[line - 1].strip())


def _spots(tree: ast.Module, *, by_receivers: bool) -> Iterator[Spot]:
    left_out = no_message_tells if by_receivers else is_read_only_by_people
    waiting: list[ast.AST] = [tree]
    while waiting:
        node = waiting.pop()
        judged = None if by_receivers else arguments_judged(node)
        for field, value in ast.iter_fields(node):
            if field in {"annotation", "returns", "decorator_list", "bases", "type_params"}:
                continue
            several = value if isinstance(value, list) else [value]
            for index, child in enumerate(several):
                if not isinstance(child, ast.AST) or left_out(child, node):
                    continue
                if judged is not None:
                    name = child.arg if isinstance(child, ast.keyword) else index
                    if field not in {"args", "keywords"} or name not in judged:
                        continue
                waiting.append(child)
                if by_receivers or arguments_judged(child) is None:
                    yield Spot(node, field, index if isinstance(value, list) else None)


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
