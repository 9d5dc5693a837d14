"""Every code that the sources can print, with its severities, read out of their syntax trees.

A class with a field ``code`` (`Finding`, `Slip`, `Names`) is where a code begins its way. Each
call of one is looked up, and what stands for the code and the severity is followed to the
literals that it can be: through the two branches of a condition, local names, constants, f-strings,
parameters (to every caller) and what functions return. What stands in another finding's or
slip's ``.code`` has been found where that one was made. An expression that cannot be followed
is an error: then write the code so that a person can follow it too.
"""

from __future__ import annotations

import ast
from collections import defaultdict
from collections.abc import Iterator
from functools import cache
from itertools import product
from pathlib import Path
from typing import NamedTuple

from tests.conftest import ROOT

PASSED_ON = frozenset({"code", "severity"})
"""Attributes and keys that hold what was said where the finding or slip was made."""
ELSEWHERE = {
    "Explained": "the registry itself",
    "Problem": "why nothing was sent or written: its sentence is printed, its code is not",
}
"""Classes with a field ``code`` that print none."""

Function = ast.FunctionDef | ast.AsyncFunctionDef


class Module(NamedTuple):
    """One source file: its name for messages, and its tree."""

    name: str
    tree: ast.Module


class Scope(NamedTuple):
    """Where an expression stands: its module, and the functions around it, innermost last."""

    module: Module
    functions: tuple[Function, ...]
    owner: str = ""


class Call(NamedTuple):
    """A call with the scope in which it stands."""

    node: ast.Call
    scope: Scope


class UnreadableError(Exception):
    """An expression that stands for a code and cannot be followed."""


class Sources:
    """The modules of the product, their calls and functions by name."""

    def __init__(self, modules: list[Module]) -> None:
        self.modules = modules
        self.calls: dict[str, list[Call]] = defaultdict(list)
        self.functions: dict[str, list[tuple[Function, Scope]]] = defaultdict(list)
        self.fields: dict[str, list[str]] = {}
        for module in modules:
            self._walk(module.tree, Scope(module, ()))

    def _walk(self, node: ast.AST, scope: Scope) -> None:
        for child in ast.iter_child_nodes(node):
            inner = scope
            if isinstance(child, ast.ClassDef):
                self.fields[child.name] = _fields(child)
                inner = scope._replace(owner=child.name)
            elif isinstance(child, Function):
                self.functions[child.name].append((child, scope))
                inner = scope._replace(functions=(*scope.functions, child))
            elif isinstance(child, ast.Call):
                self.calls[_called(child)].append(Call(child, scope))
            self._walk(child, inner)

    def codes(self) -> dict[str, set[str]]:
        """Return every code with the severities with which it is printed."""
        found: dict[str, set[str]] = defaultdict(set)
        for name, fields in self.fields.items():
            if "code" not in fields or name in ELSEWHERE:
                continue
            for call in self.calls[name]:
                code = self._argument(call, fields, "code")
                severity = (
                    self._argument(call, fields, "severity") if "severity" in fields else {"ERROR"}
                )
                for one in code:
                    found[one] |= severity
        return dict(found)

    def replaced(self) -> set[tuple[str, str]]:
        """Return where a code or a severity is put in place of another: (module, which)."""
        return {
            (call.scope.module.name, keyword.arg)
            for call in self.calls["_replace"]
            for keyword in call.node.keywords
            if keyword.arg in PASSED_ON
        }

    def _argument(self, call: Call, fields: list[str], name: str) -> set[str]:
        for keyword in call.node.keywords:
            if keyword.arg == name:
                return self._values(keyword.value, call.scope)
        index = fields.index(name)
        if index < len(call.node.args):
            return self._values(call.node.args[index], call.scope)
        raise self._unreadable(call.node, call.scope)

    def _values(self, node: ast.expr, scope: Scope, seen: tuple[object, ...] = ()) -> set[str]:
        """Return the literals that ``node`` can be; none where they are found elsewhere."""
        if (node, scope) in seen:
            return set()
        seen = (*seen, (node, scope))
        match node:
            case ast.Constant(value=str(text)):
                return {text}
            case ast.IfExp():
                return self._values(node.body, scope, seen) | self._values(node.orelse, scope, seen)
            case ast.Attribute(value=ast.Name(id="Severity"), attr=severity):
                return {severity}
            case ast.Attribute(attr=attribute) if attribute in PASSED_ON:
                return set()
            case ast.Subscript(slice=ast.Constant(value=str(key))) if key in PASSED_ON:
                return set()
            case ast.JoinedStr():
                parts = [self._values(part, scope, seen) for part in node.values]
                return {"".join(chosen) for chosen in product(*parts)}
            case ast.FormattedValue():
                return self._values(node.value, scope, seen)
            case ast.Name():
                return self._named(node, scope, seen)
        raise self._unreadable(node, scope)

    def _named(self, node: ast.Name, scope: Scope, seen: tuple[object, ...]) -> set[str]:
        for depth in range(len(scope.functions), 0, -1):
            around = scope._replace(functions=scope.functions[:depth])
            function = around.functions[-1]
            assigned = [*_assigned(function, node.id), *self._looped(function, node.id, around)]
            values: set[str] = set()
            for value, index in assigned:
                values |= self._item(value, index, around, seen)
            parameters = _parameters(function)
            if node.id in parameters:
                return values | self._from_callers(function, node.id, scope, seen)
            if assigned:
                return values
        here = self._constant(node.id, scope)
        if here is None:
            raise self._unreadable(node, scope)
        return self._item(*here, seen)

    def _constant(self, name: str, scope: Scope) -> tuple[ast.expr, int | None, Scope] | None:
        """Return what a constant of this module, or one that it imports, is."""
        for module in (scope.module, *self.modules):
            for value, index in _assigned(module.tree, name, deep=False):
                return value, index, Scope(module, ())
        return None

    def _looped(
        self, function: Function, name: str, scope: Scope
    ) -> Iterator[tuple[ast.expr, int | None]]:
        """Yield what ``name`` is in turn, where it runs over a table that is written out."""
        for one in ast.walk(function):
            if isinstance(one, ast.For | ast.comprehension):
                index = _index_in(one.target, name)
                if index is not False:
                    for row in self._rows(one.iter, scope):
                        yield row, index

    def _rows(self, node: ast.expr, scope: Scope) -> list[ast.expr]:
        match node:
            case ast.Tuple() | ast.List() | ast.Set():
                return node.elts
            case ast.Call(func=ast.Attribute(value=ast.expr() as table, attr="items")):
                found = self._table(table, scope)
                if isinstance(found, ast.Dict) and None not in found.keys:
                    pairs = zip(found.keys, found.values, strict=True)
                    return [ast.Tuple([key, value]) for key, value in pairs if key is not None]
            case ast.Name():
                found = self._table(node, scope)
                if found is not None and found is not node:
                    return self._rows(found, scope)
        raise self._unreadable(node, scope)

    def _table(self, node: ast.expr, scope: Scope) -> ast.expr | None:
        if not isinstance(node, ast.Name):
            return node
        found = self._constant(node.id, scope)
        return None if found is None else found[0]

    def _item(
        self, node: ast.expr, index: int | None, scope: Scope, seen: tuple[object, ...]
    ) -> set[str]:
        """Return the literals of ``node``, or of its item ``index`` where it is unpacked."""
        if index is None:
            return self._values(node, scope, seen)
        if isinstance(node, ast.Tuple):
            return self._values(node.elts[index], scope, seen)
        if isinstance(node, ast.Call):
            values: set[str] = set()
            for function, around in self.functions[_called(node)]:
                inner = around._replace(functions=(*around.functions, function))
                for one in ast.walk(function):
                    if isinstance(one, ast.Return) and one.value is not None:
                        values |= self._item(one.value, index, inner, seen)
            return values
        raise self._unreadable(node, scope)

    def _from_callers(
        self, function: Function, name: str, scope: Scope, seen: tuple[object, ...]
    ) -> set[str]:
        parameters = _parameters(function)
        index = parameters.index(name)
        default = _defaults(function).get(name)
        called = scope.owner if function.name == "__init__" else function.name
        values: set[str] = set()
        for call in self.calls[called]:
            given = [keyword.value for keyword in call.node.keywords if keyword.arg == name]
            given += call.node.args[index : index + 1]
            if given:
                values |= self._values(given[0], call.scope, seen)
            elif default is not None:
                values |= self._values(default, scope._replace(functions=()), seen)
        return values

    def _unreadable(self, node: ast.expr, scope: Scope) -> UnreadableError:
        where = f"{scope.module.name}:{node.lineno}"
        return UnreadableError(f"{where}: which code or severity is this? {ast.unparse(node)}")


def _called(call: ast.Call) -> str:
    match call.func:
        case ast.Name(id=name) | ast.Attribute(attr=name):
            return name
    return ""


def _fields(node: ast.ClassDef) -> list[str]:
    """Return what the constructor of a class takes, in order."""
    for one in node.body:
        if isinstance(one, Function) and one.name == "__init__":
            return _parameters(one)
    return [
        one.target.id
        for one in node.body
        if isinstance(one, ast.AnnAssign) and isinstance(one.target, ast.Name)
    ]


def _parameters(function: Function) -> list[str]:
    """Return the names of the parameters as a caller counts them: without self and cls."""
    found = function.args
    names = [one.arg for one in (*found.posonlyargs, *found.args, *found.kwonlyargs)]
    return names[1:] if names[:1] in (["self"], ["cls"]) else names


def _defaults(function: Function) -> dict[str, ast.expr]:
    found = function.args
    positional = [one.arg for one in (*found.posonlyargs, *found.args)]
    pairs = dict(zip(reversed(positional), reversed(found.defaults), strict=False))
    keyed = zip(found.kwonlyargs, found.kw_defaults, strict=True)
    return pairs | {one.arg: value for one, value in keyed if value is not None}


def _index_in(target: ast.expr, name: str) -> int | bool | None:
    """Return where ``name`` stands in a target: None for all of it, False for nowhere."""
    if isinstance(target, ast.Tuple):
        for index, item in enumerate(target.elts):
            if isinstance(item, ast.Name) and item.id == name:
                return index
        return False
    return None if isinstance(target, ast.Name) and target.id == name else False


def _assigned(
    node: ast.AST, name: str, *, deep: bool = True
) -> Iterator[tuple[ast.expr, int | None]]:
    """Yield what is assigned to ``name`` in ``node``, with its index where it is unpacked."""
    for one in ast.walk(node) if deep else ast.iter_child_nodes(node):
        if isinstance(one, ast.Assign):
            for target in one.targets:
                index = _index_in(target, name)
                if index is not False:
                    yield one.value, index
        elif (
            isinstance(one, ast.AnnAssign)
            and isinstance(one.target, ast.Name)
            and one.target.id == name
            and one.value is not None
        ):
            yield one.value, None


def read(text: str, name: str = "text") -> Sources:
    """Return the sources that consist of one module with ``text``."""
    return Sources([Module(name, ast.parse(text))])


@cache
def sources() -> Sources:
    """Return the sources of the product."""
    paths: list[Path] = [
        path for folder in ("scenes", "compiler") for path in sorted((ROOT / folder).rglob("*.py"))
    ]
    return Sources(
        [
            Module(path.relative_to(ROOT).as_posix(), ast.parse(path.read_text(encoding="utf-8")))
            for path in paths
        ]
    )


@cache
def printed() -> dict[str, set[str]]:
    """Return every code of the product with the severities with which it is printed."""
    return sources().codes()
