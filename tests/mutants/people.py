"""What only people read, and what no message depends on: no fault is put there.

Where receivers judge (see `rooms`), that is everything that no message tells. Elsewhere it is
sentences, ways out, second places of findings, docstrings, annotations and guards for the type
checker; the place of a finding is judged, and so is whether it may be let pass.
"""

from __future__ import annotations

import ast

NO_MESSAGE = frozenset(
    {
        # bind: findings, words for people, and where a foot stands, which no message tells.
        "done",
        "position_in_words",
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

JUDGED: dict[str, tuple[int | str, ...]] = {
    "Finding": (3,),
    "Fault": (0, "at_key"),
    "Explained": ("can_pass",),
    "Also": (),
    "Related": (),
    "Slip": (),
}
"""Calls that make a finding → the arguments that more depends on than what people read."""
PROSE = frozenset({"description", "help", "also", "finds", "hurts", "do", "example", "brief"})
"""Keywords whose value is a text for people."""


def no_message_tells(node: ast.AST, parent: ast.AST) -> bool:
    """Tell whether receivers cannot notice what is changed in ``node``."""
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


def is_read_only_by_people(node: ast.AST, parent: ast.AST) -> bool:
    """Tell whether ``node`` is a text, an annotation, or a guard for the type checker."""
    match node:
        case ast.Import() | ast.ImportFrom() | ast.JoinedStr() | ast.Assert() | ast.Raise():
            return True
        case ast.Expr(value=ast.Constant()):
            return True
        case ast.If(test=ast.Name(id="TYPE_CHECKING")):
            return True
        case ast.keyword(arg=name):
            return name in PROSE
        case ast.Call(func=ast.Name(id="quoted" | "Names" | "ValueError" | "TypeError" | "cast")):
            return True
        case ast.Subscript() | ast.BinOp() if isinstance(parent, ast.Assign):
            return _is_alias(parent)
        case ast.IfExp(body=body, orelse=orelse):
            return _is_text(body) and _is_text(orelse)
        case ast.BinOp(left=left, op=ast.Add(), right=right):
            return _is_text(left) or _is_text(right)
    return False


def arguments_judged(node: ast.AST) -> tuple[int | str, ...] | None:
    """Return which arguments of a call are judged; None if it is no call that makes a finding."""
    match node:
        case ast.Call(func=ast.Name(id=name)):
            return JUDGED.get(name)
    return None


def _is_alias(node: ast.Assign) -> bool:
    """Tell whether ``node`` names a type: ``Moved = set[str]``."""
    (target, *_) = node.targets
    return isinstance(target, ast.Name) and target.id[:1].isupper() and not target.id.isupper()


def _is_text(node: ast.AST) -> bool:
    match node:
        case ast.JoinedStr():
            return True
        case ast.Constant(value=str(text)):
            return " " in text or text in {"", "s", "es", "a", "an"}
        case ast.BinOp(left=left, op=ast.Add(), right=right):
            return _is_text(left) or _is_text(right)
    return False
