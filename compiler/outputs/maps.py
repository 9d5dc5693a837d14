"""Who listens where, and which scene uses which program and control: maps to keep at hand.

Three maps, each as CSV for a spreadsheet and as JSON for programs:

* ``programs``: every program that is sent, as its unit's display shows it and on the wire, with
  the scenes that ask for it; the switcher's presets too, where a message recalls them.
* ``controls``: every control and value that is sent, with its scenes.
* ``channels``: who listens on which channel, and what is sent there tonight.

CSV has one row for each use, so that it can be filtered; JSON has each program and control once,
with a list of uses. Songs go by what they are known by, their id or title, with its number in the
night in front where one is played again in another way; a general scene belongs to no song:
``(general)`` in CSV, null in JSON.

A spreadsheet takes some texts for formulas, numbers or dates, and acts on them. In CSV, and
there alone, such a cell gets an apostrophe in front: whatever begins with ``=``, ``+``, ``-``,
``@``, a tab or a line end (OWASP, "CSV Injection"; from memory), and what looks like a number
or a date but would not be shown as it is: ``007``, ``1-2``, ``12:30``. Control characters, with
which a text could act on a terminal, are shown escaped; joiners, with which some scripts and
emoji are written, stay.
"""

from __future__ import annotations

import csv
import io
import json
import re
from collections.abc import Iterable, Iterator, Mapping
from typing import Any

from setwright.compiler.binding.target import SWITCHER
from setwright.compiler.outputs.data import NightData
from setwright.compiler.outputs.sent import MessageData, SceneData
from setwright.scenes.finding import visible

GENERAL = "(general)"
"""Stands in CSV for the song of a general scene."""
OMNI = "omni"
"""Stands in CSV for the channel of a unit that listens on all of them."""

_FORMULA = tuple("=+-@\t\r\n＝＋－＠")  # full-width forms do the same in some spreadsheets
# A whole number without zeros in front; more than 15 digits are rounded, for a spreadsheet
# counts in binary64 (IEEE 754-2019, table 3.5: 53 bits).
_SHOWN_AS_IT_IS = re.compile(r"0|[1-9][0-9]{0,14}")
_LIKE_A_NUMBER = re.compile(r"[\d.,][\d\s.,:/%+eE-]*")

Row = dict[str, Any]
"""A line of a map by column, or an object of its JSON."""

# Column of the CSV → key of the JSON.
_PROGRAM = {
    "unit": "unit",
    "channel": "channel",
    "display": "shown",
    "program on the wire": "number",
    "bank select MSB": "bank_msb",
    "bank select LSB": "bank_lsb",
    "meaning": "meaning",
}
_CONTROL = {
    "unit": "unit",
    "channel": "channel",
    "sets": "sets",
    "control": "number",
    "value": "value",
    "meaning": "meaning",
}
_USE = {"song": "song", "scene": "scene", "bank": "bank", "switch": "switch"}
_LISTENER = ("channel", "unit", "display", "different programs", "different controls")


def map_files(data: NightData) -> dict[str, bytes]:
    """Return the maps of a night by name: ``maps/programs.csv``, ``maps/programs.json``.

    CSV is UTF-8 without a byte order mark, its lines end in LF; JSON is ASCII. The same night
    always gives the same bytes.
    """
    programs = _collected(data, _programs(data))
    controls = _collected(data, _controls(data))
    channels = list(_channels(data, programs, controls))
    return {
        "maps/programs.csv": csv_of([*_PROGRAM, *_USE], _uses(_PROGRAM, programs)),
        "maps/programs.json": _json(data, "programs", programs),
        "maps/controls.csv": csv_of([*_CONTROL, *_USE], _uses(_CONTROL, controls)),
        "maps/controls.json": _json(data, "controls", controls),
        "maps/channels.csv": csv_of(_LISTENER, map(_listener, channels)),
        "maps/channels.json": _json(data, "channels", channels),
    }


def _programs(data: NightData) -> Iterator[tuple[Row, Row]]:
    """Yield every program of every scene with its use."""
    for scene in data.scenes_and_kept:
        place = scene.place
        for message, banks in _with_banks(data.sent(scene).messages):
            yield _program(message, banks, message.shown), _use(scene)
        if scene.recall is not None and place is not None:
            where = f"bank {place.bank_shown}, switch {place.switch_shown}"
            for message, banks in _with_banks(scene.recall.messages):
                yield _program(message, banks, where), _use(scene)


def _with_banks(messages: Iterable[MessageData]) -> Iterator[tuple[MessageData, dict[int, int]]]:
    """Yield every program with the bank selects sent before it: control (0, 32) → value."""
    banks: dict[int, int] = {}
    for message in messages:
        if message.sets == "bank" and message.value is not None:
            banks[message.number] = message.value
        elif message.kind == "program":
            yield message, banks
            banks = {}


def _program(message: MessageData, banks: dict[int, int], shown: str | None) -> Row:
    return {
        "unit": message.unit,
        "channel": message.channel,
        "shown": shown,
        "number": message.number,
        "bank_msb": banks.get(0),
        "bank_lsb": banks.get(32),
        "meaning": message.meaning,
    }


def _controls(data: NightData) -> Iterator[tuple[Row, Row]]:
    """Yield every control of every scene with its use; bank selects belong to programs."""
    for scene in data.scenes_and_kept:
        for message in data.sent(scene).messages:
            if message.kind == "control" and message.sets != "bank":
                yield (
                    {
                        "unit": message.unit,
                        "channel": message.channel,
                        "sets": message.sets,
                        "number": message.number,
                        "value": message.value,
                        "meaning": message.meaning,
                    },
                    _use(scene),
                )


def _use(scene: SceneData) -> Row:
    place = scene.place
    return {
        "song": scene.song,
        "scene": scene.scene,
        "bank": place.bank_shown if place is not None else None,
        "switch": place.switch_shown if place is not None else None,
    }


def _collected(data: NightData, found: Iterable[tuple[Row, Row]]) -> list[Row]:
    """Return each thing once with all its uses: by unit, then by bank, number and value."""
    things: dict[tuple[Any, ...], Row] = {}
    for thing, use in found:
        entry = things.setdefault(tuple(thing.values()), {**thing, "scenes": []})
        if use not in entry["scenes"]:
            entry["scenes"].append(use)
    command = {one.unit: index for index, one in enumerate(data.units)}

    def rank(thing: Row) -> tuple[int, ...]:
        numbers = ("bank_msb", "bank_lsb", "number", "value")
        unit = command.get(thing["unit"], len(command))  # the switcher is the last
        return (unit, *(-1 if thing.get(key) is None else thing[key] for key in numbers))

    return sorted(things.values(), key=rank)


def _channels(data: NightData, programs: list[Row], controls: list[Row]) -> Iterator[Row]:
    """Yield who listens, by channel; who listens on all of them comes first."""
    listeners = [(one.channel, one.unit, one.display) for one in data.units]
    switcher = data.switcher
    if switcher.recall_channel is not None:
        shows = f"bank {switcher.banks}, switch {switcher.switches}"
        listeners.append((switcher.recall_channel, SWITCHER, shows))
    for channel, unit, display in sorted(listeners, key=lambda one: one[0] or 0):
        loaded = {
            (one["bank_msb"] or 0, one["bank_lsb"] or 0, one["number"])
            for one in programs
            if one["unit"] == unit
        }
        yield {
            "channel": channel,
            "unit": unit,
            "display": display,
            "programs": [
                {"bank_msb": msb, "bank_lsb": lsb, "number": number}
                for msb, lsb, number in sorted(loaded)
            ],
            "controls": sorted({one["number"] for one in controls if one["unit"] == unit}),
        }


def _uses(columns: dict[str, str], things: Iterable[Row]) -> Iterator[Row]:
    for thing in things:
        row = {column: thing[key] for column, key in columns.items()}
        for use in thing["scenes"]:
            yield row | {column: use[key] for column, key in _USE.items()} | _song(use)


def _song(use: Row) -> Row:
    return {} if use["song"] is not None else {"song": GENERAL}


def _listener(one: Row) -> Row:
    return {
        "channel": OMNI if one["channel"] is None else one["channel"],
        "unit": one["unit"],
        "display": one["display"],
        "different programs": len(one["programs"]),
        "different controls": len(one["controls"]),
    }


def csv_of(columns: Iterable[str], rows: Iterable[Mapping[str, str | int | None]]) -> bytes:
    """Return a CSV file: a heading of ``columns``, then ``rows`` with a cell for each column."""
    text = io.StringIO()
    writer = csv.DictWriter(text, list(columns), lineterminator="\n")
    writer.writeheader()
    writer.writerows({column: cell(value) for column, value in row.items()} for row in rows)
    return text.getvalue().encode("utf-8")


def cell(value: str | int | None) -> str:
    """Return a value as a cell of a CSV file that a spreadsheet shows and never acts on."""
    if not isinstance(value, str):
        return "" if value is None else str(value)
    shown = value
    if not value.isprintable():
        shown = "".join(sign if sign in "\u200c\u200d" else visible(sign) for sign in value)
    looks_odd = _LIKE_A_NUMBER.fullmatch(shown) and not _SHOWN_AS_IT_IS.fullmatch(shown)
    return f"'{shown}" if looks_odd or value.startswith(_FORMULA) else shown


def _json(data: NightData, what: str, rows: list[Row]) -> bytes:
    whole = {"night": data.night, "rig": data.rig, what: rows}
    return (json.dumps(whole, ensure_ascii=True, indent=2) + "\n").encode("ascii")
