"""The random rigs draw every behaviour that a unit can declare, with every choice that it has.

What a unit does decides what is proven; a behaviour that no random rig has is judged by nobody.
"""

from __future__ import annotations

import json
from collections import defaultdict
from collections.abc import Iterator
from functools import cache
from typing import Annotated, Any, Union, get_args, get_origin

import pytest
from hypothesis import HealthCheck, Phase, given, settings

from setwright.scenes.control import Control, Steps, SwitchedBy
from setwright.scenes.records import Reads, Record
from setwright.scenes.unit import BankSelect, Unit
from tests.rigs import Book, books

RECORDS: tuple[type[Record], ...] = (Unit, Control, SwitchedBy, Steps, BankSelect)

NO_BEHAVIOUR = {
    "Unit.is": "what kind of box it is changes nothing that it does with a message",
    "Unit.sends": "another sender on the line has checks of its own",
    "Unit.thru": "cables have tests of their own, with every way through a box",
    "Unit.tails": "what goes on sounding is no state of the unit",
    "Unit.power": "power has tests of its own",
    "Unit.inputs": "the signal's way is no state of the unit",
    "Unit.outputs": "the signal's way is no state of the unit",
    "Unit.own power": "power has tests of its own",
    "Unit.silent when": "the signal's way is no state of the unit",
    "Unit.effects loop": "the signal's way is no state of the unit",
    "Unit.by foot": "a foot sends nothing; `tests/test_demo.py` walks songs with feet",
    "Unit.at start": "a foot sends nothing",
    "Unit.tempo from": "a unit that takes its tempo elsewhere is sent no time",
    "Unit.tap output": "the switcher taps it, by no message; `tests/test_tapped.py` has songs",
    "Unit.foot sends": "a foot moves it; `tests/test_pedals.py` has the tables",
    "Control.presses": "no message sets it; `tests/test_pedals.py` has the tables",
    "Unit.relays": "relays are the preset's own; `tests/test_contacts.py` has the tables",
    "Unit.free programs": "`tests/test_baking.py` draws presets that are too full",
    "Unit.tap": "nothing taps a tempo by a message yet",
    "Unit.note": "words",
    "Unit.let pass": "words",
}
"""Fields that a random rig need not draw, and why."""

SEEDS = 250
"""Rigs that are drawn, the same ones each time."""


@cache
def drawn() -> dict[str, set[str]]:
    """Return what random rigs say: field → the values, as they are written."""
    said: dict[str, set[str]] = defaultdict(set)

    @settings(
        max_examples=SEEDS,
        derandomize=True,
        database=None,
        deadline=None,
        phases=[Phase.generate],
        suppress_health_check=list(HealthCheck),
    )
    @given(books())
    def look(book: Book) -> None:
        for unit in json.loads(book.files["rig.yaml"])["units"].values():
            for name, value in _said(Unit, unit):
                said[name].add(value)

    look()
    return said


def _said(kind: type[Record], values: Any) -> Iterator[tuple[str, str]]:
    if not isinstance(values, dict):
        return
    inner = {
        "controls": Control,
        "time": Control,
        "switched by": SwitchedBy,
        "reached by": Steps,
        "bank select": BankSelect,
    }
    for key, value in values.items():
        yield f"{kind.__name__}.{key}", str(value)
        if kind is Unit and key == "controls":
            for control in value.values():
                yield from _said(Control, control)
        elif kind is Unit and key in inner:
            yield from _said(inner[key], value)


def behaviours() -> list[str]:
    """Return every field that is a behaviour, with its record."""
    fields = [
        f"{kind.__name__}.{declared.key}"
        for kind in RECORDS
        for declared in kind.model_fields.values()
    ]
    return [field for field in fields if field not in NO_BEHAVIOUR]


def choices(name: str) -> list[str]:
    """Return the words that a field can have, the usual one left out; empty if it is free."""
    record = next(kind for kind in RECORDS if kind.__name__ == name.partition(".")[0])
    declared = next(
        one for one in record.model_fields.values() if one.key == name.partition(".")[2]
    )
    found = list(_enums(declared.annotation))
    return [word for word in found if word != declared.default]


def _enums(annotation: Any) -> Iterator[str]:
    if get_origin(annotation) is Annotated:
        inner, how = get_args(annotation)
        if isinstance(how, Reads):
            yield from how.schema.get("enum", ())
        yield from _enums(inner)
    elif get_origin(annotation) is Union or type(None) in get_args(annotation):
        for one in get_args(annotation):
            yield from _enums(one)


@pytest.mark.parametrize("field", behaviours())
def test_a_behaviour_is_drawn(field: str) -> None:
    assert field in drawn(), f"draw it in tests/rigs.py, and tell its oracle what {field} does"


@pytest.mark.parametrize("field", [field for field in behaviours() if choices(field)])
def test_every_choice_of_it_is_drawn(field: str) -> None:
    assert set(choices(field)) <= drawn()[field]


def test_what_need_not_be_drawn_is_there() -> None:
    declared = {
        f"{kind.__name__}.{one.key}" for kind in RECORDS for one in kind.model_fields.values()
    }
    assert NO_BEHAVIOUR.keys() <= declared
