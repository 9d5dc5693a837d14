"""YAML text → plain data, and one side table from key path to place.

Runs on each file after `files`. The data are only ``str``, ``list`` and ``dict`` with string
keys: our resolver leaves every scalar the text that was typed, so that ``on``, ``no``,
``12:30``, ``010``, ``1_000`` and dates are read later by the kind of their field and not by
guess. Syntax follows YAML 1.2.2; where a construct has no use in a book (tags, merge keys,
several documents), it is one finding.

The parser's events are read one at a time with our own stack: nesting, aliases and size are
capped before they can cost anything, and no recursion depends on the text.
"""

from __future__ import annotations

import re
from dataclasses import dataclass, field
from typing import Any, Protocol

from setwright.scenes.finding import Finding, Place, Related, Severity, Source

KeyPath = tuple[str | int, ...]
"""The way from a file's top to a value: mapping keys as text, list positions from 0."""

DEEPEST = 32
"""Levels of nesting; the language itself needs seven."""
MOST_NODES = 1_000_000
"""Nodes after aliases are followed; a book of 2,000 songs has about 150,000."""


class Mark(Protocol):
    """A point in the text, 0-based, as the parser gives it."""

    @property
    def line(self) -> int:
        """Lines before the point."""

    @property
    def column(self) -> int:
        """Characters before the point on its line."""


class Spot:
    """A node of the place table: where a value stands, and the spots of what it holds."""

    __slots__ = ("end", "entries", "items", "keys", "size", "source", "start", "text")

    def __init__(self, source: Source, start: Mark, end: Mark, text: str | None = None) -> None:
        self.source = source
        self.start = start
        self.end = end
        self.text = text
        self.entries: dict[str, Spot] | None = None
        self.keys: dict[str, Spot] | None = None
        self.items: list[Spot] | None = None
        self.size = 1

    @property
    def place(self) -> Place:
        """Where this node's own text stands; for a collection, its first key or item.

        The parser's end marks of block collections run past comments, so a collection is
        never underlined as a whole.
        """
        node: Spot = self
        while node.text is None:
            inner = next(iter((node.keys or {}).values()), None) or next(
                iter(node.items or ()), None
            )
            if inner is None:
                break
            node = inner
        start, end = node.start, node.end
        if end.line > start.line and node.text is not None:
            # A scalar over several lines is underlined to the end of its first line.
            stop = len(node.source.line(start.line + 1).rstrip())
            return Place.at(
                node.source, start.line + 1, start.column + 1, start.line + 1, max(stop, 1) + 1
            )
        return Place.at(node.source, start.line + 1, start.column + 1, end.line + 1, end.column + 1)

    def find(self, path: KeyPath) -> Place:
        """Return the place of the value at ``path``.

        Where the text says in short what the path says at length, the place is that of the
        longest part of the path which the text does hold. Within a list, a name finds the
        item with that text.
        """
        node, key = self, None
        for step in path:
            child = node._child(step)
            if child is None:
                break
            node, key = child, node.keys.get(str(step)) if node.keys else None
        if key is not None and (node.text is None or not node.text):
            return key.place
        return node.place

    def find_key(self, path: KeyPath) -> Place:
        """Return the place of the key at the end of ``path`` (of its value, in a list)."""
        node = self
        for step in path[:-1]:
            child = node._child(step)
            if child is None:
                return node.place
            node = child
        key = (node.keys or {}).get(str(path[-1])) if path else None
        return key.place if key is not None else self.find(path)

    def holds(self, path: KeyPath) -> bool:
        """Tell whether the text holds a value at exactly this path."""
        node: Spot | None = self
        for step in path:
            node = node._child(step) if node is not None else None
        return node is not None

    def _child(self, step: str | int) -> Spot | None:
        if self.entries is not None:
            return self.entries.get(str(step))
        if self.items is not None:
            if isinstance(step, int):
                return self.items[step] if step < len(self.items) else None
            return next((item for item in self.items if item.text == step), None)
        return None


@dataclass(slots=True)
class Document:
    """One file as data, with its places. ``data`` is None where nothing could be read."""

    data: Any
    spot: Spot
    findings: list[Finding] = field(default_factory=list)


def read_document(source: Source) -> Document:
    """Parse ``source``. Never raises for what a text can hold; total in its length."""
    return _Reader(source).read()


def _parser(text: str) -> tuple[Any, Any, type[Exception]]:
    """Return a parser of ``text``, ruamel.yaml's event module, and the error it raises."""
    from ruamel.yaml import events
    from ruamel.yaml.error import YAMLError

    try:
        from _ruamel_yaml import CParser

        return CParser(text), events, YAMLError
    except ImportError:
        from ruamel.yaml import YAML

        yaml = YAML(typ="safe", pure=True)
        _, parser = yaml.get_constructor_parser(text)
        return parser, events, YAMLError


class _Reader:
    """Builds data and spots from the events of one source."""

    def __init__(self, source: Source) -> None:
        self.source = source
        self.findings: list[Finding] = []
        self.tabs = "\t" in source.text
        self.repeating: set[int] = set()
        self.top = Spot(source, _Point(0, 0), _Point(0, 0), "")

    def read(self) -> Document:
        data: Any = None
        try:
            data = self._build()
        except _Stop as stop:
            self.findings.append(stop.finding)
            data = None
        return Document(data, self.top, self.findings)

    def _build(self) -> Any:
        source = self.source
        parser, kinds, yaml_error = _parser(source.text)
        scalar, alias = kinds.ScalarEvent, kinds.AliasEvent
        mapping, sequence = kinds.MappingStartEvent, kinds.SequenceStartEvent
        ends = (kinds.MappingEndEvent, kinds.SequenceEndEvent)
        anchors: dict[str, tuple[Any, Spot] | None] = {}
        # Each open collection: its data, its spot, the key that waits for its value, anchor.
        stack: list[list[Any]] = []
        nodes = 0
        documents = 0
        result: Any = None
        while True:
            try:
                event = parser.get_event()
            except yaml_error as error:
                raise _Stop(_syntax_finding(source, error)) from None
            except (RecursionError, ValueError) as error:
                raise _Stop(self._finding("yaml-syntax", str(error), self.top.place, "")) from None
            kind = type(event)
            if kind is scalar:
                if event.tag is not None and event.tag != "!":
                    raise _Stop(self._tag(event))
                data: Any = event.value
                spot = Spot(source, event.start_mark, event.end_mark, data)
            elif kind is mapping or kind is sequence:
                if event.tag is not None:
                    raise _Stop(self._tag(event))
                data = {} if kind is mapping else []
                spot = Spot(source, event.start_mark, event.end_mark)
                if kind is mapping:
                    spot.entries, spot.keys = {}, {}
                else:
                    spot.items = []
                if event.anchor is not None:
                    anchors[event.anchor] = None
                if len(stack) >= DEEPEST:
                    raise _Stop(
                        self._finding(
                            "nested-too-deep",
                            f"more than {DEEPEST} levels stand inside one another here",
                            _place_of(source, event),
                            "close the brackets, or check the indentation",
                        )
                    )
                stack.append([data, spot, None, event.anchor])
                continue
            elif kind in ends:
                data, spot, _, anchor = stack.pop()
                if anchor is not None:
                    anchors[anchor] = (data, spot)
            elif kind is alias:
                data, spot = self._alias(event, anchors)
            elif kind is kinds.DocumentStartEvent:
                documents += 1
                if documents > 1:
                    raise _Stop(
                        self._finding(
                            "second-document",
                            "a second document begins here; a file holds one",
                            _place_of(source, event),
                            "put it in a file of its own, or delete the line of dashes",
                        )
                    )
                continue
            elif kind is kinds.StreamEndEvent:
                return result
            else:
                continue
            if kind is scalar and event.anchor is not None:
                anchors[event.anchor] = (data, spot)
            nodes += spot.size if kind is alias else 1
            if nodes > MOST_NODES:
                raise _Stop(
                    self._finding(
                        "too-much-text",
                        f"with its aliases followed this file holds over {MOST_NODES:,} values",
                        _place_of(source, event),
                        "write the values out instead of repeating them with *",
                    )
                )
            if kind is scalar:
                self._look_at_scalar(event)
            if not stack:
                result, self.top = data, spot
                continue
            frame = stack[-1]
            holder, holder_spot, waiting = frame[0], frame[1], frame[2]
            holder_spot.size += spot.size
            if holder_spot.items is not None:
                holder.append(data)
                holder_spot.items.append(spot)
            elif waiting is None:
                frame[2] = self._key(data, spot, event)
            else:
                frame[2] = None
                self._put(holder, holder_spot, waiting, data, spot)

    def _key(self, data: Any, spot: Spot, event: Any) -> Spot:
        if not isinstance(data, str):
            raise _Stop(
                self._finding(
                    "key-not-text",
                    "a list or mapping stands where a name belongs",
                    spot.place,
                    "put a name and a colon here; text that begins with [ or { needs quotes",
                )
            )
        if data == "<<":
            raise _Stop(
                self._finding(
                    "merge-key",
                    "merge keys (<<) have no meaning in a book",
                    spot.place,
                    "name a sound once under sounds:, or say like: and the other scene's name",
                )
            )
        return spot

    def _put(self, holder: Any, holder_spot: Spot, key: Spot, data: Any, spot: Spot) -> None:
        name = key.text or ""
        assert holder_spot.keys is not None
        assert holder_spot.entries is not None
        if self.tabs and key.end.line == spot.start.line:
            line = self.source.line(key.end.line + 1)
            if "\t" in line[key.end.column : spot.start.column]:
                self.findings.append(
                    self._finding(
                        "tab",
                        f"a tab stands between {name!r} and its value",
                        key.place,
                        "put a space there: some readers of YAML refuse a tab",
                        Severity.WARNING,
                    )
                )
        if name in holder_spot.keys:
            # One missing line can make a whole record repeat; that is one slip.
            first = holder_spot.keys[name]
            if id(holder_spot) not in self.repeating:
                self.repeating.add(id(holder_spot))
                self.findings.append(
                    Finding(
                        "key-twice",
                        Severity.ERROR,
                        f"{name!r} stands here a second time",
                        key.place,
                        "delete one of the two; or is a line between them missing that begins "
                        "the next entry?",
                        (Related("the first one", first.place),),
                    )
                )
            return
        holder[name] = data
        holder_spot.keys[name] = key
        holder_spot.entries[name] = spot

    def _alias(self, event: Any, anchors: dict[str, tuple[Any, Spot] | None]) -> tuple[Any, Spot]:
        if event.anchor not in anchors:
            raise _Stop(
                self._finding(
                    "alias-unknown",
                    f"*{event.anchor} stands for nothing: there is no &{event.anchor} above it",
                    _place_of(self.source, event),
                    "write the value out; text that begins with * needs quotes",
                )
            )
        known = anchors[event.anchor]
        if known is None:
            raise _Stop(
                self._finding(
                    "alias-loop",
                    f"*{event.anchor} stands inside the very thing that it stands for",
                    _place_of(self.source, event),
                    "write the value out",
                )
            )
        return known

    def _look_at_scalar(self, event: Any) -> None:
        """Warn where ``#`` cut a plain value short, as in ``key: F #minor``."""
        if event.style is not None or not event.value:
            return
        end = event.end_mark
        if end.line != event.start_mark.line:
            return
        tail = self.source.line(end.line + 1)[end.column :]
        if "#" in tail and (cut := re.match(r"\s+(#[^\s#!].*)", tail)):
            self.findings.append(
                Finding(
                    "cut-by-comment",
                    Severity.WARNING,
                    f"{event.value!r} ends before {cut.group(1).rstrip()!r}: "
                    "after a space, # begins a comment",
                    Place.at(
                        self.source,
                        end.line + 1,
                        end.column + cut.start(1) + 1,
                        end.line + 1,
                        end.column + len(tail.rstrip()) + 1,
                    ),
                    "put quotes around the whole value; if it is a comment, put a space after #",
                )
            )

    def _tag(self, event: Any) -> Finding:
        return self._finding(
            "yaml-tag",
            f"the tag {str(event.tag)!r} has no meaning in a book",
            _place_of(self.source, event),
            "delete it; text that begins with ! needs quotes",
        )

    def _finding(
        self,
        code: str,
        message: str,
        place: Place,
        way_out: str,
        severity: Severity = Severity.ERROR,
    ) -> Finding:
        return Finding(code, severity, message, place, way_out)


@dataclass(frozen=True, slots=True)
class _Point:
    line: int
    column: int


class _Stop(Exception):  # noqa: N818 (no error: it carries a finding out of the loop)
    """Carries the finding that ends the reading of one file up to `_Reader.read`."""

    def __init__(self, finding: Finding) -> None:
        super().__init__(finding.message)
        self.finding = finding


def _place_of(source: Source, event: Any) -> Place:
    start, end = event.start_mark, event.end_mark
    if end.line != start.line or end.column <= start.column:
        return Place.at(source, start.line + 1, start.column + 1, start.line + 1, start.column + 2)
    return Place.at(source, start.line + 1, start.column + 1, end.line + 1, end.column + 1)


# What the parsers say, as a piece of their sentence → what a musician can do about it:
# (piece, sentence, way out, whether the slip is where the parser began and not where it gave up).
_SYNTAX = (
    (
        "mapping values are not allowed",
        "a colon stands where no name can begin",
        "check the line above: is its colon missing, or its quotes? If the colon belongs to "
        "the text, put quotes around it",
        False,
    ),
    (
        "could not find expected ':'",
        "this line has no colon after its name",
        "write name: value",
        True,
    ),
    (
        "unexpected end of stream",
        "a quotation mark is opened here and never closed",
        "close it, or double an apostrophe inside single quotes",
        True,
    ),
    (
        "unexpected document indicator",
        "a quotation mark is opened here and never closed",
        "close it",
        True,
    ),
    (
        "expected ',' or ']'",
        "the list that opens with [ is not closed",
        "close it with ], and put commas between its items",
        True,
    ),
    (
        "expected ',' or '}'",
        "the braces that open with { are not closed",
        "close them with }, and put commas between the entries",
        True,
    ),
    (
        "cannot start any token",
        "this character cannot begin a value",
        "put quotes around the text; indent with spaces, never with tabs",
        False,
    ),
    (
        "did not find expected key",
        "this line does not fit under the lines above it",
        "indent it exactly as its neighbours; text that begins with a quotation mark must "
        "end with it",
        False,
    ),
    (
        "expected <block end>",
        "this line does not fit under the lines above it",
        "indent it exactly as its neighbours; text that begins with a quotation mark must "
        "end with it",
        False,
    ),
    (
        "did not find expected '-' indicator",
        "this line does not fit into the list above it",
        "begin it with - at the same indentation as the other items, or indent it further",
        False,
    ),
    (
        "block sequence entries are not allowed",
        "a list item cannot begin here",
        "begin the list on a line of its own",
        False,
    ),
    (
        "unknown escape character",
        "a backslash within double quotes means something else here",
        "use single quotes around text with backslashes",
        False,
    ),
    (
        "found duplicate anchor",
        "two values are marked with the same &name",
        "give each its own",
        False,
    ),
)


def _syntax_finding(source: Source, error: Exception) -> Finding:
    """Turn a parser's exception into a finding in our own words."""
    problem = " ".join(
        str(part)
        for part in (getattr(error, "context", None), getattr(error, "problem", None))
        if part
    )
    begun, given_up = getattr(error, "context_mark", None), getattr(error, "problem_mark", None)
    sentence, way_out, at_begin = (
        "this is not YAML" + (f" ({problem})" if problem else ""),
        "check brackets, quotes, colons and indentation here",
        False,
    )
    for piece, said, out, begin in _SYNTAX:
        if piece in problem:
            sentence, way_out, at_begin = said, out, begin
            break
    mark = (begun if at_begin and begun is not None else given_up) or begun or _Point(0, 0)
    line, column = mark.line, mark.column
    lines = source.lines
    # The end of the file is an empty line that nobody can see: point at the last one written.
    while line > 0 and (line >= len(lines) or not lines[line].strip()):
        line -= 1
        column = len(lines[line].rstrip()) if line < len(lines) else 0
    text = source.line(line + 1)
    if not at_begin and "\t" in text[: column + 1]:
        column = text.index("\t")
        sentence, way_out = (
            "a tab stands where only spaces may",
            "indent with spaces",
        )
        code = "tab"
    else:
        code = "yaml-syntax"
    length = max(1, len(text.rstrip()) - column) if at_begin else 1
    return Finding(
        code,
        Severity.ERROR,
        sentence,
        Place.at(source, line + 1, column + 1, line + 1, column + 1 + length),
        way_out,
    )
