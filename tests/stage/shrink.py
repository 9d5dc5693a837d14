"""Make a book with a broken promise as small as it gets, by leaving out whatever it can do without.

``python -m tests.stage.shrink SEED WHAT QUANTITY`` prints the small book and what is broken.
"""

from __future__ import annotations

import argparse
import json
import sys
from collections.abc import Iterator
from typing import Any

from tests.stage.draw import draw
from tests.stage.judge import Judge, Wrong
from tests.stage.said import Book

STUMBLES = (
    AssertionError,
    AttributeError,
    LookupError,
    StopIteration,
    TypeError,
    ValueError,
)
"""What an account of a book that is not whole may raise."""

Path = tuple[str | int, ...]


def broken(
    book: Book, seed: int, what: str, quantity: str, because: str | None, plays: int
) -> Wrong | None:
    """Return a broken promise of this kind; None without one, or where the book has errors."""
    judge = Judge(book, seed)
    try:
        if judge.compile():
            judge.play(plays)
    except STUMBLES:
        return None
    return next(
        (
            one
            for one in judge.wrong
            if (one.what, one.quantity) == (what, quantity) and because in (None, one.because)
        ),
        None,
    )


def _paths(data: Any, path: Path = ()) -> Iterator[Path]:
    items: Any = ()
    if isinstance(data, dict):
        items = data.items()
    elif isinstance(data, list):
        items = reversed(list(enumerate(data)))
    for key, value in items:
        yield (*path, key)
        yield from _paths(value, (*path, key))


def _without(files: dict[str, Any], path: Path) -> dict[str, Any] | None:
    copied = json.loads(json.dumps(files))
    there = copied
    try:
        for key in path[:-1]:
            there = there[key]
        del there[path[-1]]
    except STUMBLES:
        return None
    return copied  # type: ignore[no-any-return]


def shrink(
    book: Book, seed: int, what: str, quantity: str, because: str | None, plays: int
) -> Book:
    """Return a smaller book that breaks the same kind of promise."""
    files = book.files
    smaller = True
    while smaller:
        smaller = False
        for path in list(_paths(files)):
            if len(path) < 2:
                continue
            tried = _without(files, path)
            if tried is not None and broken(Book(tried), seed, what, quantity, because, plays):
                files, smaller = tried, True
    return Book(files)


def main() -> None:
    parser = argparse.ArgumentParser(prog="python -m tests.stage.shrink", description=__doc__)
    parser.add_argument("seed", type=int)
    parser.add_argument("what")
    parser.add_argument("quantity")
    parser.add_argument("--because")
    parser.add_argument("--plays", type=int, default=14)
    options = parser.parse_args()
    wanted = (options.seed, options.what, options.quantity, options.because, options.plays)
    small = shrink(draw(options.seed), *wanted)
    for name, data in small.files.items():
        sys.stdout.write(f"{name}.yaml: {json.dumps(data)}\n")
    sys.stdout.write(f"{broken(small, *wanted)}\n")


if __name__ == "__main__":
    main()
