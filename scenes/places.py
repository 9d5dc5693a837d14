"""The place table: key path → where in which file a value was typed."""

from __future__ import annotations

from typing import Protocol

from setwright.scenes.finding import Place, Source

KeyPath = tuple[str | int, ...]
"""The way from a file's top to a value: mapping keys as text, list positions from 0."""


class Mark(Protocol):
    """A point in the text, 0-based, as the parser gives it."""

    @property
    def line(self) -> int:
        """Lines before the point."""

    @property
    def column(self) -> int:
        """Characters before the point on its line."""


class Spot:
    """A node of the place table: where a value stands, and the spots of what it holds.

    ``closed`` is where a collection in brackets ends; that of a block runs past comments.
    """

    __slots__ = (
        "by_text",
        "closed",
        "end",
        "entries",
        "items",
        "keys",
        "size",
        "source",
        "start",
        "text",
    )

    def __init__(self, source: Source, start: Mark, end: Mark, text: str | None = None) -> None:
        self.source = source
        self.start = start
        self.end = end
        self.text = text
        self.closed = end
        self.entries: dict[str, Spot] | None = None
        self.keys: dict[str, Spot] | None = None
        self.items: list[Spot] | None = None
        self.by_text: tuple[int, dict[str | None, Spot]] | None = None
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
        for index, step in enumerate(path):
            child = node.child(step)
            if child is None:
                # A list may stand for the whole of which it is one entry.
                if node.items is not None and isinstance(next(iter(path[index + 1 :]), ""), int):
                    continue
                break
            node, key = child, node.keys.get(str(step)) if node.keys else None
        if key is not None and (node.text is None or not node.text):
            return key.place
        return node.place

    def find_key(self, path: KeyPath) -> Place:
        """Return the place of the key at the end of ``path`` (of its value, in a list)."""
        node = self
        for step in path[:-1]:
            child = node.child(step)
            if child is None:
                return node.place
            node = child
        key = (node.keys or {}).get(str(path[-1])) if path else None
        return key.place if key is not None else self.find(path)

    def holds(self, path: KeyPath) -> bool:
        """Tell whether the text holds a value at exactly this path."""
        node: Spot | None = self
        for step in path:
            node = node.child(step) if node is not None else None
        return node is not None

    def child(self, step: str | int) -> Spot | None:
        """Return the spot one step further: by key, by position, or by an item's own text."""
        if self.entries is not None:
            return self.entries.get(str(step))
        if self.items is not None:
            if isinstance(step, int):
                return self.items[step] if step < len(self.items) else None
            return self._item_called(step, self.items)
        return None

    def _item_called(self, text: str, items: list[Spot]) -> Spot | None:
        # A list of units can be long, and each of them may be asked for; items come and go
        # only in numbers.
        if self.by_text is None or self.by_text[0] != len(items):
            self.by_text = len(items), {item.text: item for item in reversed(items)}
        return self.by_text[1].get(text)


def end_of(source: Source) -> Place:
    """Return the last line of ``source`` on which something is written."""
    lines = [number for number, line in enumerate(source.lines, 1) if line.strip()]
    last = lines[-1] if lines else 1
    text = source.line(last)
    start = len(text) - len(text.lstrip()) + 1
    return Place.at(source, last, start, last, max(start, len(text.rstrip()) + 1))


def is_cut(source: Source) -> bool:
    """Tell whether ``source`` ends in the middle of a line, as a half-saved file does."""
    return bool(source.text) and not source.text.endswith(("\n", "\r"))
