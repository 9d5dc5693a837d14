"""Every field of every record has a reader: what the musician may say is not said in vain.

Records are watched while the functions behind the commands run over books that between them say
every field. A field that only the making of records looks at (their checking, merging, comparing,
their schema) has no reader.
"""

from __future__ import annotations

import sys
import tempfile
from collections import defaultdict
from collections.abc import Iterator
from pathlib import Path
from typing import Any, NamedTuple

import pytest

from setwright.compiler.compiled import Compiled
from setwright.compiler.outputs.build import output_files
from setwright.compiler.outputs.done import done
from setwright.compiler.plan import plan_of
from setwright.compiler.reports.explain import explain, explain_json
from setwright.compiler.reports.find import Found
from setwright.compiler.reports.plan import plan_json
from setwright.compiler.reports.summary import proof
from setwright.compiler.reports.trace import trace
from setwright.compiler.sending.send import plan
from setwright.scenes.fields import field as record_field
from setwright.scenes.finding import Severity, worst
from setwright.scenes.records import Record
from tests.conftest import DEMO, ROOT
from tests.corpus import BASE
from tests.nights import whole

FOLDER = ROOT / "tests" / "every_field"


class Told(NamedTuple):
    """A book that is compiled: its night, and the units that are left at home."""

    night: Path
    without: frozenset[str] = frozenset()


EVERY_FIELD = Told(FOLDER / "night.yaml")
"""A book that says every field that there is."""

BOOKS = (
    Told(DEMO / "granary-night.yaml"),
    Told(DEMO / "parlour-night.yaml"),
    Told(BASE / "night.yaml", frozenset({"echo"})),
    EVERY_FIELD,
)


# Taken out of a file before there is a record of it.
TAKEN_BEFORE = frozenset({"Rig.include", "SongBook.include"})

# Records are made and compared there; that is no reading.
MAKERS = frozenset(
    f"setwright.scenes.{room}" for room in ("records", "fields", "merge", "schema", "text")
)


class Watched(NamedTuple):
    """What was seen: who read each field, and which fields a book said."""

    readers: dict[str, set[str]]
    said: set[str]


def kinds() -> list[type[Record]]:
    """Return all records that a file can hold."""
    return [kind for kind in _below(Record) if kind.__module__.startswith("setwright.scenes.")]


def _below(kind: type[Record]) -> Iterator[type[Record]]:
    for one in kind.__subclasses__():
        yield one
        yield from _below(one)


def fields() -> set[str]:
    """Return every field as ``Record.attribute``."""
    return {f"{kind.__name__}.{name}" for kind in kinds() for name in kind.model_fields}


def run_everything(compiled: Compiled) -> None:
    """Run what the commands run on a compiled night, but for sending and writing."""
    proof(compiled)
    for song in compiled.songs:
        for scene in song.scenes.values():
            found = Found(song, compiled.scene(song, scene.name))
            list(explain(compiled, found))
            explain_json(compiled, found)
            for direct in (False, True):
                list(trace(compiled, found, direct=direct))
                plan(compiled, found, direct=direct)
    output_files(compiled)
    wanted = plan_of(compiled)
    plan_json(compiled, wanted)
    with tempfile.TemporaryDirectory() as folder:
        compiled.book.stored_at = Path(folder) / "board.stored.yaml"
        done(compiled, wanted)


def spy_on(patch: pytest.MonkeyPatch) -> dict[str, set[str]]:
    """Return what fills with every field that is read, and the modules that read it."""
    readers: dict[str, set[str]] = defaultdict(set)
    plain = Record.__getattribute__

    def spy(record: Record, name: str) -> Any:
        kind = type(record)
        if name in kind.model_fields:
            reader = sys._getframe(1).f_globals["__name__"]
            if reader not in MAKERS:
                readers[f"{kind.__name__}.{name}"].add(reader)
        return plain(record, name)

    patch.setattr(Record, "__getattribute__", spy, raising=False)
    return readers


def watch(*books: Told) -> Watched:
    """Compile ``books`` and make everything of them, noting each field that is read."""
    said: set[str] = set()
    with pytest.MonkeyPatch.context() as patch:
        readers = spy_on(patch)
        for told in books:
            compiled = whole(told.night, told.without)
            assert worst(compiled.findings) is not Severity.ERROR
            run_everything(compiled)
            book = compiled.book
            assert book is not None
            for part in (book.night, book.rig, book.switcher, book.song_book, book.stored):
                said |= set(_said(part))
    return Watched(readers, said)


def _said(value: Any) -> Iterator[str]:
    """Yield every field that is said in a record, and in all that it holds."""
    if isinstance(value, Record):
        for name in getattr(value, "__pydantic_fields_set__"):  # noqa: B009 (a slot without a type)
            yield f"{type(value).__name__}.{name}"
            yield from _said(value.__dict__[name])
    elif isinstance(value, dict | list | tuple):
        for inner in value.values() if isinstance(value, dict) else value:
            yield from _said(inner)


@pytest.fixture(scope="module")
def watched() -> Watched:
    return watch(*BOOKS)


def test_the_book_says_every_field(watched: Watched) -> None:
    assert fields() - watched.said - TAKEN_BEFORE == set(), "say them in tests/every_field"


def test_every_field_has_a_reader(watched: Watched) -> None:
    unread = fields() - watched.readers.keys() - TAKEN_BEFORE
    assert unread == set(), "declared, and nothing reads it"


def test_what_is_taken_before_there_is_a_record_was_read() -> None:
    book = whole(EVERY_FIELD.night).book
    assert book is not None
    names = {path.name for path in book.files}
    assert {"units.yaml", "more.yaml"} <= names
    assert "wobbler" in book.rig.units
    assert [song.title for song in book.songs][-1] == "Sheebeg"


class Pocket(Record):
    """A record with a field that nothing reads."""

    used: str = record_field(description="Read.")
    idle: str = record_field(description="Not read.")


def test_a_field_that_nothing_reads_is_noticed(monkeypatch: pytest.MonkeyPatch) -> None:
    readers = spy_on(monkeypatch)
    pocket, other = (Pocket(used="a", idle="b") for _ in range(2))
    assert pocket == other
    assert "idle='b'" in repr(pocket)
    assert dict(readers) == {}
    assert pocket.used == "a"
    assert dict(readers) == {"Pocket.used": {__name__}}
