"""The file of what a switcher holds, changed line by line: all other bytes stay as they are.

A preset's value is exchanged where it stands, however it is written there; one that is new gets a
line of its own behind the one that comes before it. What comes out is read again and must say
what is meant; a file that is written so that this does not come true is left alone.
"""

from __future__ import annotations

import json
import re
from collections.abc import Mapping

from setwright.compiler.placement.held import Typed
from setwright.scenes.finding import Source
from setwright.scenes.places import Spot
from setwright.scenes.reading import read_record
from setwright.scenes.stored import FORMAT, Stored
from setwright.scenes.text import read_document

INDENT = "  "


class NotEditableError(Exception):
    """The file is written in a way in which no line of it can be exchanged."""


def with_presets(
    text: str,
    switcher: str,
    presets: Mapping[str, tuple[str, Typed]],
    programs: Mapping[str, Mapping[str, str]],
    presses: Mapping[str, int],
    order: Mapping[str, int],
) -> str:
    """Return the file ``text`` (empty if there is none) with ``presets`` and ``programs`` in it.

    ``presets`` are name and content by address as it is shown; ``programs`` names by unit and
    display; ``presses`` the bank presses by rig; ``order`` tells where an address belongs.
    Raises `NotEditableError`.
    """
    if not text.strip():
        text = (
            f"# What {switcher} holds. ‘setwright done’ writes this; ‘setwright plan’ reads it.\n"
            f"stored: {_scalar(switcher)}\nformat: {FORMAT}\n"
        )
    text = _with(text, "presets", {key: _preset(*one) for key, one in presets.items()}, order)
    text = _with(text, "programs", {unit: _flow(names) for unit, names in programs.items()}, {})
    text = _with(text, "bank presses", {rig: str(one) for rig, one in presses.items()}, {})
    _look_again(text, presets, programs, presses)
    return text


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
            edits.append((*_span(text, starts, known), values[key]))
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


def _look_again(
    text: str,
    presets: Mapping[str, tuple[str, Typed]],
    programs: Mapping[str, Mapping[str, str]],
    presses: Mapping[str, int],
) -> None:
    """Raise `NotEditableError` if ``text`` does not say what it should."""
    reading = read_record(Stored, read_document(Source("", text)), "stored")
    if reading.record is None or reading.findings:
        raise NotEditableError
    for key, (name, typed) in presets.items():
        one = reading.record.presets.get(key)
        if one is None or (one.name or "", _typed(one)) != (name, typed):
            raise NotEditableError
    for unit, names in programs.items():
        if reading.record.programs.get(unit) != dict(names):
            raise NotEditableError
    if any(reading.record.bank_presses.get(rig) != one for rig, one in presses.items()):
        raise NotEditableError


def _typed(one: object) -> Typed:
    from setwright.scenes.stored import StoredPreset

    assert isinstance(one, StoredPreset)
    return Typed(tuple(one.loops), tuple(one.relays), tuple(one.messages), one.tempo or "")
