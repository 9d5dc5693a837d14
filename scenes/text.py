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
from typing import Any

from setwright.scenes.finding import Finding, Place, Related, Severity, Source
from setwright.scenes.places import KeyPath, Spot
from setwright.scenes.quantities import quoted
from setwright.scenes.syntax import Point, is_colon_in_braces, syntax_finding

DEEPEST = 32
"""Levels of nesting; the language itself needs seven."""
MOST_NODES = 1_000_000
"""Nodes after aliases are followed; a book of 2,000 songs has about 150,000."""


_CUT = re.compile(r"[ \t]#[^\s#!]")
_TAIL = re.compile(r"\s+(#[^\s#!].*)")


@dataclass(slots=True)
class Document:
    """One file as data, with its places. ``data`` is None where nothing could be read.

    ``overruled`` holds what included files say and this one says otherwise: key path and spot.
    """

    data: Any
    spot: Spot
    findings: list[Finding] = field(default_factory=list)
    overruled: list[tuple[KeyPath, Spot]] = field(default_factory=list)


def read_document(source: Source) -> Document:
    """Parse ``source``. Never raises for what a text can hold; total in its length."""
    reader = _Reader(source)
    document = reader.read()
    if reader.stopped_at_colon:
        # ``{at: 1:05}`` is good YAML 1.2 (section 7.3.3, plain style) that only the slower
        # parser reads.
        return _Reader(source, pure=True).read()
    return document


def _parser(text: str, *, pure: bool = False) -> tuple[Any, Any, type[Exception]]:
    """Return a parser of ``text``, ruamel.yaml's event module, and the error it raises.

    The C parser is used where it is installed, unless ``pure`` asks for the other one.
    """
    from ruamel.yaml import events
    from ruamel.yaml.error import YAMLError

    if not pure:
        try:
            from _ruamel_yaml import CParser

            return CParser(text), events, YAMLError
        except ImportError:
            pass
    from ruamel.yaml import YAML

    _, parser = YAML(typ="safe", pure=True).get_constructor_parser(text)
    return parser, events, YAMLError


class _Reader:
    """Builds data and spots from the events of one source."""

    def __init__(self, source: Source, *, pure: bool = False) -> None:
        self.source = source
        self.pure = pure
        self.findings: list[Finding] = []
        self.top = Spot(source, Point(0, 0), Point(0, 0), "")
        self.data: Any = None
        self.tabs = "\t" in source.text
        # Lines on which a comment sign stands right before text, as in ``key: F #minor``.
        self.cut_lines = (
            {number for number, line in enumerate(source.lines) if _CUT.search(line)}
            if _CUT.search(source.text)
            else set()
        )
        self.repeating: set[int] = set()
        # What is marked with &; None while it is still open.
        self.anchors: dict[str, tuple[Any, Spot] | None] = {}
        self.stack: list[_Open] = []
        self.nodes = 0
        self.stopped_at_colon = False

    def read(self) -> Document:
        try:
            self._events()
            # A text that holds nothing is an empty one, not one that could not be read.
            self.data = "" if self.data is None else self.data
        except _Stop as stop:
            self.findings.append(stop.finding)
            self.data = None
        return Document(self.data, self.top, self.findings)

    def _events(self) -> None:
        parser, kinds, yaml_error = _parser(self.source.text, pure=self.pure)
        source, stack, next_event = self.source, self.stack, parser.get_event
        scalar = kinds.ScalarEvent
        begin = {kinds.MappingStartEvent: True, kinds.SequenceStartEvent: False}
        end = {kinds.MappingEndEvent, kinds.SequenceEndEvent}
        documents = 0
        last = None
        while True:
            try:
                event = next_event()
            except yaml_error as error:
                self.stopped_at_colon = is_colon_in_braces(source, error)
                raise _Stop(syntax_finding(source, error, last)) from None
            except Exception:  # noqa: BLE001
                # A fault within a parser, at depths, numbers or versions that it did not expect.
                raise self._stop(
                    "yaml-syntax",
                    "behind this the text is too much for the reader of YAML",
                    self.top.place if last is None else _place_of(source, last),
                    "delete lines that begin with %, or write it more simply",
                ) from None
            kind = type(event)
            if kind is scalar:
                text, last = event.value, event
                spot = Spot(source, event.start_mark, event.end_mark, text)
                if event.tag is not None and event.tag != "!":
                    raise self._tag(event)
                if event.anchor is not None:
                    self.anchors[event.anchor] = (text, spot)
                if self.cut_lines and spot.end.line in self.cut_lines:
                    self._warn_of_cut(event)
                self._add(text, spot, 1)
            elif kind in begin:
                self._open(event, is_mapping=begin[kind])
            elif kind in end:
                closed = stack.pop()
                closed.spot.closed = event.end_mark
                if closed.anchor is not None:
                    self.anchors[closed.anchor] = (closed.data, closed.spot)
                self._add(closed.data, closed.spot, 1)
            elif kind is kinds.AliasEvent:
                data, known = self._alias(event)
                self._add(data, known, known.size, event)
            elif kind is kinds.DocumentStartEvent:
                documents += 1
                if documents > 1:
                    raise self._stop(
                        "second-document",
                        "a second document begins here; a file holds one",
                        _place_of(source, event),
                        "put it in a file of its own, or delete the line of dashes",
                    )
            elif kind is kinds.StreamEndEvent:
                return

    def _open(self, event: Any, *, is_mapping: bool) -> None:
        if event.tag is not None:
            raise self._tag(event)
        if len(self.stack) >= DEEPEST:
            raise self._stop(
                "nested-too-deep",
                f"more than {DEEPEST} levels stand inside one another here",
                _place_of(self.source, event),
                "close the brackets, or check the indentation",
            )
        spot = Spot(self.source, event.start_mark, event.end_mark)
        if is_mapping:
            spot.entries, spot.keys = {}, {}
        else:
            spot.items = []
        if event.anchor is not None:
            self.anchors[event.anchor] = None
        self.stack.append(_Open({} if is_mapping else [], spot, event.anchor))

    def _add(self, data: Any, spot: Spot, nodes: int, event: Any = None) -> None:
        """Put a finished value into the collection that is open, or make it the top."""
        self.nodes += nodes
        if self.nodes > MOST_NODES:
            raise self._stop(
                "too-much-text",
                f"with its aliases followed this file holds over {MOST_NODES:,} values",
                spot.place if event is None else _place_of(self.source, event),
                "write the values out instead of repeating them with *",
            )
        if not self.stack:
            self.data, self.top = data, spot
            return
        holder = self.stack[-1]
        holder.spot.size += spot.size
        if holder.spot.items is not None:
            holder.data.append(data)
            holder.spot.items.append(spot)
        elif holder.key is None:
            holder.key = self._key(data, spot)
        else:
            key, holder.key = holder.key, None
            self._put(holder.data, holder.spot, key, data, spot)

    def _key(self, data: Any, spot: Spot) -> Spot:
        if not isinstance(data, str):
            raise self._stop(
                "key-not-text",
                "a list or mapping stands where a name belongs",
                spot.place,
                "put a name and a colon here; text that begins with [ or { needs quotes",
            )
        if data == "<<":
            raise self._stop(
                "merge-key",
                "merge keys (<<) have no meaning in a book",
                spot.place,
                "name a sound once under sounds:, or say like: and the other scene's name",
            )
        return spot

    def _put(self, holder: Any, place: Spot, key: Spot, data: Any, spot: Spot) -> None:
        name = key.text or ""
        assert place.keys is not None
        assert place.entries is not None
        if self.tabs:
            self._warn_of_tab(name, key, spot)
        if name not in place.keys:
            holder[name] = data
            place.keys[name] = key
            place.entries[name] = spot
        elif id(place) not in self.repeating:
            # One missing line can make a whole record repeat; that is one slip.
            self.repeating.add(id(place))
            self.findings.append(
                Finding(
                    "key-twice",
                    Severity.ERROR,
                    f"{quoted(name)} stands here a second time",
                    key.place,
                    "delete one of the two; or is a line between them missing that begins "
                    "the next entry?",
                    (Related("the first one", place.keys[name].place),),
                )
            )

    def _alias(self, event: Any) -> tuple[Any, Spot]:
        name = event.anchor
        if name not in self.anchors:
            raise self._stop(
                "alias-unknown",
                f"*{name} stands for nothing: there is no &{name} above it",
                _place_of(self.source, event),
                "write the value out; text that begins with * needs quotes",
            )
        known = self.anchors[name]
        if known is None:
            raise self._stop(
                "alias-loop",
                f"*{name} stands inside the very thing that it stands for",
                _place_of(self.source, event),
                "write the value out",
            )
        return known

    def _warn_of_tab(self, name: str, key: Spot, spot: Spot) -> None:
        if key.end.line != spot.start.line:
            return
        line = self.source.line(key.end.line + 1)
        if "\t" in line[key.end.column : spot.start.column]:
            self.findings.append(
                Finding(
                    "tab",
                    Severity.WARNING,
                    f"a tab stands between {quoted(name)} and its value",
                    key.place,
                    "put a space there: some readers of YAML refuse a tab",
                )
            )

    def _warn_of_cut(self, event: Any) -> None:
        """Warn where ``#`` cut a plain value short, as in ``key: F #minor``."""
        end = event.end_mark
        # The C parser says '' for a plain scalar, the other one None.
        if event.style or not event.value or end.line != event.start_mark.line:
            return
        text = self.source.line(end.line + 1)
        if cut := _TAIL.match(text, end.column):
            line, column = end.line + 1, cut.start(1) + 1
            self.findings.append(
                Finding(
                    "cut-by-comment",
                    Severity.WARNING,
                    f"{quoted(event.value)} ends before {quoted(cut.group(1).rstrip())}: "
                    "after a space, # begins a comment",
                    Place.at(self.source, line, column, line, len(text.rstrip()) + 1),
                    "put quotes around the whole value; if it is a comment, put a space after #",
                )
            )

    def _tag(self, event: Any) -> _Stop:
        return self._stop(
            "yaml-tag",
            f"the tag {quoted(str(event.tag))} has no meaning in a book",
            _place_of(self.source, event),
            "delete it; text that begins with ! needs quotes",
        )

    def _stop(self, code: str, message: str, place: Place, way_out: str) -> _Stop:
        return _Stop(Finding(code, Severity.ERROR, message, place, way_out))


@dataclass(slots=True)
class _Open:
    """A collection whose end has not come yet; ``key`` waits for its value."""

    data: Any
    spot: Spot
    anchor: str | None
    key: Spot | None = None


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
