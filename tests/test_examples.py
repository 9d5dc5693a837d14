"""Every field has its example, and every example is read as it says."""

from __future__ import annotations

from typing import Any

import pytest
from ruamel.yaml import YAML

from setwright.scenes.examples.every import every_example, every_short
from setwright.scenes.records import Record, keys_of
from tests.test_fields import kinds

KINDS = {kind.__name__: kind for kind in kinds()}
EXAMPLES = every_example()
FIELDS = [(name, key) for name, keys in EXAMPLES.items() for key in keys]
SHORT = [(name, short) for name, some in every_short().items() for short in some]


def plain(text: str) -> Any:
    """Return ``text`` as data whose scalars are all text, read by another room than ours."""
    return YAML(typ="base", pure=True).load(text)


def record(name: str, data: Any) -> Record:
    """Return ``data`` as a record, with examples in place of what must be said besides."""
    if isinstance(data, dict):
        for declared in KINDS[name].model_fields.values():
            if declared.required and declared.key not in data:
                data = plain(EXAMPLES[name][declared.key]) | data
    return KINDS[name].model_validate(data)


def test_every_field_has_one_and_nothing_else_has() -> None:
    assert {name: list(keys) for name, keys in EXAMPLES.items()} == {
        name: list(keys_of(KINDS[name])) for name in EXAMPLES
    }
    assert EXAMPLES.keys() == KINDS.keys()


@pytest.mark.parametrize(("name", "key"), FIELDS)
def test_an_example_says_what_its_field_takes(name: str, key: str) -> None:
    text = EXAMPLES[name][key]
    data = plain(text)
    assert list(data) == [key]
    if name == "Playing" and key != "straight into":
        data = {"song": "Drowsy Maggie"} | data
    attribute = keys_of(KINDS[name])[key]
    declared = KINDS[name].model_fields[attribute]
    said = getattr(record(name, data), attribute)
    assert declared.required or said != declared.unsaid(), "it says what holds anyhow"


@pytest.mark.parametrize(("name", "short"), SHORT)
def test_short_and_at_length_mean_the_same(name: str, short: Any) -> None:
    assert short.short != short.length
    assert record(name, plain(short.short)) == record(name, plain(short.length))
