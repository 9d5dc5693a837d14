"""The file of what a switcher holds, changed line by line: all other bytes stay as they are.

A preset's value is exchanged where it stands, however it is written there; one that is new gets a
line of its own behind the one that comes before it. What comes out is read again and must say
what is meant; a file that is written so that this does not come true is left alone.
"""

from __future__ import annotations

import json
import re
from collections.abc import Mapping
from typing import NamedTuple

from setwright.compiler.placement.held import Typed, as_typed
from setwright.scenes.finding import Source
from setwright.scenes.places import Spot
from setwright.scenes.reading import read_record
from setwright.scenes.stored import FORMAT, Stored
from setwright.scenes.text import read_document

INDENT = "  "


class NotEditableError(Exception):
    """The file is written in a way in which no line of it can be exchanged."""


class Lies(NamedTuple):
    """Where a night lies: the state that it takes, the bank of each song, and its bank presses."""

    state: str
    banks: tuple[str, ...]
    presses: int


class News(NamedTuple):
    """What is noted.

    ``presets`` are name and content by address as it is shown, ``programs`` names by unit and
    display, ``placed`` where nights lie by rig. ``order`` tells where an address belongs.
    """

    presets: Mapping[str, tuple[str, Typed]]
    programs: Mapping[str, Mapping[str, str]]
    placed: Mapping[str, Lies]
    order: Mapping[str, int]


def with_news(text: str, switcher: str, news: News) -> str:
    """Return the file ``text`` (empty if there is none) with ``news`` in it.

    Raises `NotEditableError`.
    """
    if not text.strip():
        text = (
            f"# What {switcher} holds. ‘setwright done’ writes this; ‘setwright plan’ reads it.\n"
            f"stored: {_scalar(switcher)}\nformat: {FORMAT}\n"
        )
    presets = {key: _preset(*one) for key, one in news.presets.items()}
    text = _with(text, "presets", presets, news.order)
    text = _with(text, "programs", {unit: _flow(one) for unit, one in news.programs.items()}, {})
    text = _with(text, "placed", {rig: _lies(one) for rig, one in news.placed.items()}, {})
    _look_again(text, news)
    return text


def _lies(one: Lies) -> str:
    banks = ", ".join(map(_scalar, one.banks))
    return f"{{state: {_scalar(one.state)}, banks: [{banks}], presses: {one.presses}}}"


def _with(text: str, section: str, values: Mapping[str, str], order: Mapping[str, int]) -> str:
    """Return ``text`` with entries of a section exchanged or added."""
    if not values:
        return text
    document = read_document(Source("", text))
    if document.data is None:
        raise NotEditableError
    newline = "\r\n" if "\r\n" in text else "\n"
    keys = sorted(values, key=lambda one: order.get(one, 0))
    lines = {key: f"{INDENT}{_scalar(key)}: {values[key]}" for key in keys}
    holder = document.spot.child(section)
    if holder is None:
        return newline.join((_ended(text, newline) + f"{section}:", *lines.values(), ""))
    if not holder.entries:
        return _first(text, document.spot, section, newline.join(lines.values()), newline)
    starts = _line_starts(text)
    edits: list[tuple[int, int, str]] = []
    for key in keys:
        known = holder.entries.get(key)
        if known is not None:
            begin_at, end = _span(text, starts, known)
            edits.append((begin_at, end, values[key] + _comments(text, begin_at, end)))
        elif _is_flow(text, starts, holder):
            _, end = _span(text, starts, list(holder.entries.values())[-1])
            edits.append((end, end, f", {_scalar(key)}: {values[key]}"))
        else:
            at, margin = _place_for(text, starts, holder, order, key)
            begin = newline if at == len(text) and not text.endswith("\n") else ""
            edits.append((at, at, f"{begin}{margin}{lines[key].strip()}{newline}"))
    # From the end, so that what is before stays where it is; what goes to one place, in order.
    numbered = sorted(((one, number) for number, one in enumerate(edits)), key=_from_the_end)
    for (at, end, new), _ in numbered:
        text = text[:at] + new + text[end:]
    return text


_COMMENT = re.compile(r"\s(#.*)$", re.MULTILINE)


def _comments(text: str, begin: int, end: int) -> str:
    """Return the comments within a value, to stand behind what comes in its place.

    Raises `NotEditableError` where something else stands behind it.
    """
    found = [match[1].strip() for match in _COMMENT.finditer(text[begin:end])]
    if not found:
        return ""
    stop = text.find("\n", end)
    if text[end : stop if stop >= 0 else len(text)].strip():
        raise NotEditableError
    return "  " + " ".join(found)


def _from_the_end(edit: tuple[tuple[int, int, str], int]) -> tuple[int, int, int]:
    (at, end, _), number = edit
    return (-at, -end, -number)


def _place_for(
    text: str, starts: list[int], holder: Spot, order: Mapping[str, int], key: str
) -> tuple[int, str]:
    """Return where a new line belongs, and its margin: behind the entry that comes before it."""
    keys = holder.keys or {}
    before = [one for one in holder.entries or {} if one in order and order[one] < order[key]]
    if not before and order:
        first = next(iter(keys.values())).start
        return starts[first.line], text[starts[first.line] : starts[first.line] + first.column]
    nearest = max(before, key=lambda one: order[one]) if before else list(keys)[-1]
    _, end = _span(text, starts, (holder.entries or {})[nearest])
    stop = text.find("\n", end)
    margin = " " * keys[nearest].start.column
    return (len(text) if stop < 0 else stop + 1), margin


def _first(text: str, top: Spot, section: str, lines: str, newline: str) -> str:
    """Return ``text`` with the first entries of a section that is there and empty."""
    key = (top.keys or {}).get(section)
    if key is None:
        raise NotEditableError
    starts = _line_starts(text)
    start = starts[key.end.line] + key.end.column
    at = text.find("\n", start)
    at = len(text) if at < 0 else at
    written = text[start:at].strip()
    if re.fullmatch(r":\s*(#.*)?", written):
        return _ended(text[:at], newline) + f"{lines}{newline}" + text[at + 1 :]
    if re.fullmatch(r":\s*\{\s*\}\s*(#.*)?", written):
        rest = written[written.index("}") + 1 :].rstrip()
        return f"{text[:start]}:{rest}{newline}{lines}{newline}" + text[at + 1 :]
    raise NotEditableError


def _line_starts(text: str) -> list[int]:
    return [0, *(match.end() for match in re.finditer("\n", text))]


def _is_flow(text: str, starts: list[int], holder: Spot) -> bool:
    return text[starts[holder.start.line] + holder.start.column] == "{"


def _span(text: str, starts: list[int], spot: Spot) -> tuple[int, int]:
    """Return where a value begins and ends; a block's comments behind it are none of it."""
    begin = starts[spot.start.line] + spot.start.column
    if text[begin : begin + 1] in ("{", "[") and spot.text is None:
        return begin, starts[spot.closed.line] + spot.closed.column
    if spot.text is not None:
        return begin, starts[spot.end.line] + spot.end.column
    inner = (*(spot.entries or {}).values(), *(spot.items or ()))
    if not inner:
        raise NotEditableError
    return begin, max(_span(text, starts, one)[1] for one in inner)


def _ended(text: str, newline: str) -> str:
    return text if text.endswith("\n") or not text else text + newline


def _preset(name: str, typed: Typed) -> str:
    said = [f"name: {_scalar(name)}"]
    if typed.loops:
        said.append(f"loops: [{', '.join(map(str, typed.loops))}]")
    if typed.relays:
        said.append(f"relays: [{', '.join(map(str, typed.relays))}]")
    if typed.messages:
        said.append(f"messages: [{', '.join(one.hex(' ') for one in typed.messages)}]")
    if typed.tempo:
        said.append(f"tempo: {_scalar(typed.tempo)}")
    return "{" + ", ".join(said) + "}"


def _flow(names: Mapping[str, str]) -> str:
    return "{" + ", ".join(f"{_scalar(key)}: {_scalar(name)}" for key, name in names.items()) + "}"


_PLAIN = re.compile(r"[^\W_](?:[\w/=.'’ -]*[\w/.'’])?")


def _scalar(text: str) -> str:
    """Return ``text`` as YAML has it, in quotes where it might mean something else."""
    return text if _PLAIN.fullmatch(text) else json.dumps(text, ensure_ascii=False)


def _look_again(text: str, news: News) -> None:
    """Raise `NotEditableError` if ``text`` does not say what it should."""
    reading = read_record(Stored, read_document(Source("", text)), "stored")
    record = reading.record
    if record is None or reading.findings:
        raise NotEditableError
    presets = {
        key: (one.name or "", as_typed(one))
        for key, one in record.presets.items()
        if key in news.presets
    }
    placed = {
        rig: Lies(one.state, tuple(one.banks), one.presses)
        for rig, one in record.placed.items()
        if rig in news.placed
    }
    programs = {unit: one for unit, one in record.programs.items() if unit in news.programs}
    if (presets, placed, programs) != (news.presets, news.placed, news.programs):
        raise NotEditableError
