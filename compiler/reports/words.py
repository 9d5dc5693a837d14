"""The words of the language: every file, every record in it and every field, from the records.

`setwright words` lists them, explains one, or prints the reference page. What a field takes and
what holds if it is not said comes from its declaration, the example from `scenes.examples`.
"""

from __future__ import annotations

import inspect
from collections.abc import Iterator
from textwrap import fill, indent
from typing import Annotated, Any, NamedTuple, get_args, get_origin

from setwright.scenes.examples.every import every_example, every_short
from setwright.scenes.fields import Field
from setwright.scenes.night import Night
from setwright.scenes.records import Reads, Record
from setwright.scenes.rig import Rig
from setwright.scenes.songs import SongBook
from setwright.scenes.stored import Stored
from setwright.scenes.switcher import Switcher
from setwright.scenes.texts import ONE_VALUE
from setwright.scenes.wording import with_article

WIDTH = 96

FILES: tuple[tuple[str, type[Record]], ...] = (
    ("file of songs", SongBook),
    ("switcher's file", Switcher),
    ("rig's file", Rig),
    ("night's file", Night),
    ("list of what a switcher holds", Stored),
)
"""The kinds of files, in the order in which a book is begun, and what each holds."""


class Entry(NamedTuple):
    """One record in the language: the kind of file that it stands in, and where in it.

    ``way`` are the keys that lead to it, as they are written: ``units: NAME:``; empty for the
    file itself. ``also`` are other ways to a record of this kind, with their files.
    """

    file: str
    way: str
    record: type[Record]
    also: tuple[tuple[str, str], ...] = ()

    @property
    def title(self) -> str:
        """What the record is called."""
        return self.record.noun

    @property
    def where(self) -> str:
        """Where it stands, in words."""
        if not self.way:
            return f"a {self.file}"
        ways = [f"under {self.way} in a {self.file}"]
        for file, way in self.also:
            ways.append(f"under {way}" + ("" if file == self.file else f" in a {file}"))
        return ", ".join(ways)

    @property
    def about(self) -> str:
        """What the record is, as its own description says."""
        text = " ".join(inspect.cleandoc(self.record.__doc__ or "").split())
        return text.split(". ")[0].rstrip(".") + "."


class Word(NamedTuple):
    """One field of a record."""

    entry: Entry
    declared: Field

    @property
    def key(self) -> str:
        """The word that is written."""
        return self.declared.key

    @property
    def example(self) -> str:
        """A text that says it, as it stands in a file."""
        return every_example()[self.entry.record.__name__][self.key]

    @property
    def takes(self) -> str:
        """What may stand behind the word; empty where the description tells."""
        reads = _reads(self.declared.annotation)
        if "enum" in reads:
            return f"one of: {', '.join(reads['enum'])}"
        if "anyOf" in reads:
            return "yes or no"
        message = str(reads.get("errorMessage", ""))
        return "" if message == ONE_VALUE["errorMessage"] else message.removeprefix("write ")

    @property
    def about(self) -> str:
        """What it says, whether it must be said, and what holds if it is not."""
        must = " It must be said." if self.declared.required else ""
        return f"{self.declared.in_full}{must}"


def entries() -> tuple[Entry, ...]:
    """Return every record that a book can hold, each once, file by file from the outside in."""
    found: dict[type[Record], Entry] = {}
    for file, root in FILES:
        waiting = [Entry(file, "", root)]
        while waiting:
            entry = waiting.pop(0)
            if entry.record in found:
                first = found[entry.record]
                also = (*first.also, (entry.file, entry.way))
                found[entry.record] = first._replace(also=also)
                continue
            found[entry.record] = entry
            inner = []
            for declared in entry.record.model_fields.values():
                inside = _record_in(declared.annotation)
                if inside is not None:
                    record, names = inside
                    inner.append(Entry(file, f"{entry.way} {declared.key}:{names}".strip(), record))
            waiting = [*inner, *waiting]
    return tuple(found.values())


def words_of(entry: Entry) -> tuple[Word, ...]:
    """Return the fields of a record in their order."""
    return tuple(Word(entry, declared) for declared in entry.record.model_fields.values())


def find(word: str) -> list[Word | Entry]:
    """Return everything that is called ``word``: records by their nouns, fields by their keys."""
    wanted = " ".join(word.split()).removesuffix(":").casefold()
    result: list[Word | Entry] = []
    for entry in entries():
        if wanted in (entry.title.casefold(), "" if entry.way else entry.file):
            result.append(entry)
        result += [one for one in words_of(entry) if one.key.casefold() == wanted]
    return result


def all_names() -> list[str]:
    """Return every word that `find` knows."""
    known = {one.key: None for entry in entries() for one in words_of(entry)}
    return list(known | {entry.title: None for entry in entries()})


def listed() -> Iterator[str]:
    """Yield every record with its words: what there is, at a glance."""
    for number, entry in enumerate(entries()):
        if number:
            yield ""
        yield f"{entry.title} ({entry.where})"
        yield from _filled(", ".join(word.key for word in words_of(entry)))
    yield ""
    yield "‘setwright words WORD’ explains one, with an example"


def in_full(found: list[Word | Entry]) -> Iterator[str]:
    """Yield the lines that explain what `find` has found."""
    for number, one in enumerate(found):
        if number:
            yield ""
        if isinstance(one, Word):
            yield from _word(one)
        else:
            yield from _record(one)


def _record(entry: Entry) -> Iterator[str]:
    yield f"{entry.title} ({entry.where})"
    yield from _filled(entry.about)
    yield from _filled(f"words: {', '.join(word.key for word in words_of(entry))}")
    for short in every_short().get(entry.record.__name__, ()):
        yield ""
        yield f"  in short, {short.what}:"
        yield from indent(short.short, "    ").split("\n")
        yield "  means:"
        yield from indent(short.length, "    ").split("\n")


def _word(word: Word) -> Iterator[str]:
    entry = word.entry
    yield f"{word.key}: of {with_article(entry.title)} ({entry.where})"
    yield from _filled(word.about)
    if word.takes:
        yield from _filled(f"takes {word.takes}")
    yield "  for example"
    yield from indent(word.example, "    ").split("\n")


def _filled(text: str) -> list[str]:
    return fill(
        text, WIDTH, initial_indent="  ", subsequent_indent="  ", break_on_hyphens=False
    ).split("\n")


def _marked(entry: Entry) -> str:
    """Return where a record stands, with the ways as code."""
    ways = [f"under `{entry.way}`"]
    for file, way in entry.also:
        ways.append(f"under `{way}`" + ("" if file == entry.file else f" in a {file}"))
    return " and ".join(ways)


def page() -> str:
    """Return the reference of the language as Markdown."""
    lines = [
        "# What is written",
        "",
        "Every word of the four kinds of files. `setwright words` lists them, `setwright words",
        "WORD` explains one, and an editor that reads the schemas of `setwright schema` shows the",
        "same while you type. Files are YAML 1.2; but `on`, `no`, `12:30`, `010` and dates stay",
        "the text that you typed. What can be left out may be left out. [What is",
        "checked](checks.md) stands beside this.",
    ]
    file = ""
    for entry in entries():
        if entry.file != file:
            file = entry.file
            lines += ["", f"## A {file}"]
        if entry.way:
            lines += ["", f"### {entry.title[0].upper()}{entry.title[1:]}", ""]
            lines += [fill(f"{entry.about} It stands {_marked(entry)}.", WIDTH)]
        else:
            lines += ["", entry.about]
        for short in every_short().get(entry.record.__name__, ()):
            lines += [
                "",
                f"In short, {short.what}:",
                "",
                "```yaml",
                *short.short.split("\n"),
                "```",
            ]
            lines += ["", "means:", "", "```yaml", *short.length.split("\n"), "```"]
        for word in words_of(entry):
            takes = f" *Takes {word.takes}.*" if word.takes else ""
            text = f"**`{word.key}`** {word.about}{takes}"
            lines += ["", fill(text, WIDTH, break_on_hyphens=False)]
            lines += ["", "```yaml", *word.example.split("\n"), "```"]
    return "\n".join(lines) + "\n"


# What annotations tell.


def _record_in(annotation: Any) -> tuple[type[Record], str] | None:
    """Return the record that a field holds, and how it is reached from the field's key."""
    if isinstance(annotation, type) and issubclass(annotation, Record):
        return annotation, ""
    origin, arguments = get_origin(annotation), get_args(annotation)
    if origin is Annotated:
        return _record_in(arguments[0])
    for argument in reversed(arguments):
        inner = _record_in(argument)
        if inner is not None:
            record, names = inner
            step = {list: " -", dict: " NAME:"}.get(origin, "")
            return record, f"{step}{names}"
    return None


def _reads(annotation: Any) -> dict[str, Any]:
    """Return what editors are told of the texts in a field; empty for records and names."""
    if _record_in(annotation) is not None:
        return {}
    origin, arguments = get_origin(annotation), get_args(annotation)
    if origin is Annotated:
        inner, how = arguments
        return how.schema if isinstance(how, Reads) else _reads(inner)
    for argument in reversed(arguments):
        if found := _reads(argument):
            return found
    return {}
