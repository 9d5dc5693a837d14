"""The schemas take what the reader takes, and refuse the slips that an editor can see."""

from __future__ import annotations

import json
import re
from collections.abc import Iterator
from pathlib import Path
from typing import Any, get_args

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from jsonschema import Draft202012Validator
from ruamel.yaml import YAML
from ruamel.yaml.nodes import MappingNode, ScalarNode, SequenceNode

from setwright.compiler.new_book import write_new_book
from setwright.scenes.book import open_night
from setwright.scenes.finding import Source
from setwright.scenes.night import Playing
from setwright.scenes.reading import read_record
from setwright.scenes.records import Record
from setwright.scenes.schema import KINDS, portable, schema_of, schema_text
from setwright.scenes.text import read_document
from tests.legal_documents import (
    RECORDS,
    WRONG,
    accepted_texts,
    documents,
    editor_data,
    editor_value,
    fields,
    places,
    to_yaml,
)

ROOT = Path(__file__).resolve().parents[1]
SCHEMAS = {kind: schema_of(kind) for kind in KINDS}
VALIDATORS = {kind: Draft202012Validator(schema) for kind, schema in SCHEMAS.items()}


def as_editor_reads(text: str) -> Any:
    """Return a file as an editor hands it to a schema: only plain scalars have types."""
    return _value(YAML(pure=True).compose(text))


def _value(node: Any) -> Any:
    if isinstance(node, MappingNode):
        return {key.value: _value(value) for key, value in node.value}
    if isinstance(node, SequenceNode):
        return [_value(one) for one in node.value]
    assert isinstance(node, ScalarNode)
    return editor_value(node.value) if node.style is None else node.value


def refusals(kind: str, data: Any) -> list[str]:
    return [f"{list(one.path)}: {one.message}" for one in VALIDATORS[kind].iter_errors(data)]


def reader_says(kind: str, text: str) -> list[tuple[int, str]]:
    reading = read_record(RECORDS[kind], read_document(Source("a.yaml", text)), kind)
    return [(one.place.line, one.message) for one in reading.findings]


# -- what a schema looks like ---------------------------------------------------------------------


@pytest.mark.parametrize("kind", KINDS)
def test_is_a_schema_with_a_title_and_no_address(kind: str) -> None:
    schema = SCHEMAS[kind]
    Draft202012Validator.check_schema(schema)
    assert schema["$schema"] == "https://json-schema.org/draft/2020-12/schema"
    assert schema["title"] == f"Setwright: {kind}"
    assert schema["description"]
    assert "$id" not in json.dumps(schema)


def _objects(schema: Any) -> Iterator[dict[str, Any]]:
    if isinstance(schema, dict):
        if "properties" in schema and "object" in schema.get("type", ()):
            yield schema
        for value in schema.values():
            yield from _objects(value)
    if isinstance(schema, list):
        for value in schema:
            yield from _objects(value)


@pytest.mark.parametrize("kind", KINDS)
def test_every_key_is_described_and_no_other_is_taken(kind: str) -> None:
    seen = 0
    for one in _objects(SCHEMAS[kind]):
        assert one["additionalProperties"] is False
        assert one["title"]
        assert one["description"]
        for key, value in one["properties"].items():
            seen += 1
            assert value["description"].endswith("."), key
    assert seen > 5


def _strings(value: Any, key: str) -> Iterator[str]:
    for name, inner in value.items() if isinstance(value, dict) else enumerate(value):
        if name == key and isinstance(inner, str):
            yield inner
        elif isinstance(inner, dict | list):
            yield from _strings(inner, key)


@pytest.mark.parametrize("kind", KINDS)
def test_there_are_no_nulls_no_defaults_and_no_patterns_of_one_dialect(kind: str) -> None:
    schema = SCHEMAS[kind]
    text = json.dumps(schema)
    assert '"null"' not in text
    assert '"default"' not in text
    for pattern in _strings(schema, "pattern"):
        assert not re.search(r"\(\?(?![:=!])", pattern), pattern
        assert not re.search(r"\\[ \-/:=%]", pattern), f"no escape in ECMA-262: {pattern}"


def test_the_keys_of_a_record_are_those_of_the_schema() -> None:
    definitions = SCHEMAS["rig"]["$defs"]
    assert {"switched by", "same program again", "busy after program"} <= set(
        definitions["Unit"]["properties"]
    )
    for kind, cls in RECORDS.items():
        assert list(SCHEMAS[kind]["properties"]) == [key for key, _, _ in fields(cls)]


def test_what_holds_if_it_is_not_said_is_in_the_description() -> None:
    unit = SCHEMAS["rig"]["$defs"]["Unit"]["properties"]
    assert unit["same program again"]["description"].endswith("If not said: reloads.")
    assert unit["thru"]["description"].endswith("If not said: yes.")
    assert unit["settles in"]["description"].endswith("If not said: 0 ms.")
    assert "If not said" not in unit["loop"]["description"]


@pytest.mark.parametrize(
    ("pattern", "spelt"),
    [
        (r"^\s*a$", r"^\s*a$"),
        (r"(?i:ms|s)", "([Mm][Ss]|[Ss])"),
        (r"x(?i:a\s+(b|1)[x-]?)y(?i:c)", r"x([Aa]\s+([Bb]|1)[x-]?)y([Cc])"),
    ],
)
def test_groups_for_any_letters_are_spelt_out(pattern: str, spelt: str) -> None:
    assert portable(pattern) == spelt


# -- the copies, and writing them -----------------------------------------------------------------


@pytest.mark.parametrize("kind", KINDS)
def test_the_committed_copy_is_the_schema(kind: str) -> None:
    path = ROOT / "templates" / "schemas" / f"{kind}.schema.json"
    assert path.read_text(encoding="utf-8") == schema_text(kind), (
        "renew it with: setwright schema --out templates/schemas"
    )


# -- what the reader takes, a schema takes --------------------------------------------------------

_MODELINE = re.compile(r"# yaml-language-server: \$schema=(\S+)")
_OURS = [*ROOT.glob("examples/winter-dance/*.yaml"), *ROOT.glob("templates/new/*.yaml")]


def _kind_of(text: str) -> str:
    keys = as_editor_reads(text)
    return next(kind for kind in KINDS if set(keys) <= set(SCHEMAS[kind]["properties"]))


@pytest.mark.parametrize("path", _OURS, ids=lambda path: f"{path.parent.name}/{path.name}")
def test_our_own_files(path: Path) -> None:
    text = path.read_text(encoding="utf-8")
    kind = _kind_of(text)
    assert refusals(kind, as_editor_reads(text)) == []
    assert reader_says(kind, text) == []
    modeline = _MODELINE.match(text)
    if modeline:
        assert Path(modeline.group(1)).name == f"{kind}.schema.json"
        if "templates" not in path.parts[-3:-1]:
            assert (path.parent / modeline.group(1)).resolve().is_file()


LEGAL = {
    "scenes as text, list and mapping": (
        "songs",
        "songs:\n- title: 4\n  scenes: {1: plain, on: [a, 7], off: {sound: x}, no: []}\n",
    ),
    "sounds as text and list": ("songs", "sounds:\n  plain: lead\n  2: [1, 1.10]\n  none: []\n"),
    "an effect to add as text or list": (
        "songs",
        "songs:\n- title: a\n  scenes: {A: {like: B, add: lead, drop: [x, y]}}\n",
    ),
    "moments as text or mapping": (
        "songs",
        "songs:\n- title: a\n  order: [A, 1, {A: 1:05}, {B: {cue: 4}}, {2: {}}]\n",
    ),
    "bars as a number or by part": (
        "songs",
        "songs:\n- {title: a, bars: 010}\n- {title: b, bars: {A: 8, b: '16'}}\n",
    ),
    "text that looks like something else": (
        "songs",
        "songs:\n- title: 1_000\n  id: 0x1F\n  key: 'null'\n  guitar: 2026-01-01\n  note: .inf\n",
    ),
    "anchors": ("songs", "sounds: {a: &x [lead], b: *x}\nsongs: []\n"),
    "text over several lines": ("songs", "songs:\n- title: >-\n    a\n    b\n  note: |\n    1\n"),
    "numbers in quotes": (
        "switcher",
        "switcher: 1\nbanks: '20'\nswitches: A to E\nloops: '07'\nvolume loop: '3'\n",
    ),
    "yes and no in all their words": (
        "switcher",
        "switcher: f\nbanks: 1\nswitches: 1\neach preset stores: {on any channel: on}\n"
        "passes on MIDI: No\nrecalled by bank select: MSB\nbank moves: {loads at once: FALSE}\n",
    ),
    "one relay, one channel": (
        "switcher",
        "switcher: f\nbanks: 0 to 9\nswitches: 4\nrelays: hold\n"
        "each preset stores: {program channels: 4, control channels: [1, '2']}\n",
    ),
    "the switcher as text": ("rig", "switcher: floor.yaml\n"),
    "effects in every form": (
        "rig",
        "switcher: f\neffects:\n  a: u\n  b: [u, 2]\n  c: {u: s}\n  d: {u: 4, v: {set: {x: 1}}}\n"
        "  e: {u: {}}\n  f: []\n",
    ),
    "points with plain and quoted keys": (
        "rig",
        "switcher: f\nunits: {u: {time: {cc: 1, points: {0: 1, '64': 2 ms, 127: 3 ms}}}}\n",
    ),
    "a supply by number": ("rig", "switcher: f\nsupply: {1: {gives: 1 A, volts: 9V}}\n"),
    "names that are words of YAML": (
        "rig",
        "switcher: f\nunits: {on: {}, no: {by foot: [on, off], at start: on}, 5: {}}\n",
    ),
    "MIDI lines": ("rig", "switcher: f\nmidi:\n- [switcher, {echo: {thru: off}}, 4]\n"),
    "standing in": ("rig", "switcher: f\ninstead of: {a: nothing, b: [c, nothing]}\n"),
    "songs to play": (
        "night",
        "night: 1\nrig: r\nsongs: [a, b]\nsets: [{play: [A, 4, {song: x, capo: 0}, "
        "{straight into: y, leave out: Z, tempo: quarter = 60}]}]\nif asked: 5\n",
    ),
    "songs asked for in a list": (
        "night",
        "night: a\nrig: r\nsongs: s\nif asked: [A, {song: B}, {straight into: C}]\n",
    ),
}


@pytest.mark.parametrize("case", LEGAL)
def test_odd_but_legal(case: str) -> None:
    kind, text = LEGAL[case]
    assert reader_says(kind, text) == []
    assert refusals(kind, as_editor_reads(text)) == []


def _records(cls: type[Record]) -> set[type[Record]]:
    found: set[type[Record]] = set()
    todo: list[Any] = [cls]
    while todo:
        one = todo.pop()
        if isinstance(one, type) and issubclass(one, Record):
            if one in found:
                continue
            found.add(one)
            todo += [kind for _, kind, _ in fields(one)]
        todo += get_args(one)
    return found


def _keys_of_records() -> Iterator[Any]:
    for kind, top in RECORDS.items():
        for cls in sorted(_records(top), key=lambda one: one.__name__):
            for key, annotation, _ in fields(cls):
                if list(places(annotation)):
                    yield pytest.param(kind, cls, key, annotation, id=f"{cls.__name__}.{key}")


@pytest.mark.parametrize(("kind", "cls", "key", "annotation"), list(_keys_of_records()))
def test_every_text_that_a_field_takes(
    kind: str, cls: type[Record], key: str, annotation: Any
) -> None:
    schema = SCHEMAS[kind]
    where = schema if cls is RECORDS[kind] else schema["$defs"][cls.__name__]
    at_length = next(way for way in where.get("anyOf", [where]) if "properties" in way)
    one = Draft202012Validator({**at_length["properties"][key], "$defs": schema["$defs"]})
    for reads, wrap in places(annotation):
        texts = accepted_texts(reads)
        assert texts, "no text to try: add some to legal_documents"
        for text in texts:
            for value in (text, editor_value(text)):
                assert one.is_valid(wrap(value)), wrap(value)


@pytest.mark.parametrize("kind", KINDS)
@settings(max_examples=100, deadline=None)
@given(data=st.data())
def test_whole_files_that_the_reader_takes(kind: str, data: st.DataObject) -> None:
    drawn = data.draw(documents(kind))
    text = to_yaml(drawn)
    assert reader_says(kind, text) == []
    assert refusals(kind, editor_data(drawn)) == [], text
    assert refusals(kind, drawn) == [], text
    assert refusals(kind, as_editor_reads(text)) == [], text


def test_true_false_and_null_are_no_text_to_an_editor() -> None:
    for word in ("true", "False", "null", "~"):
        text = f"songs:\n  - title: {word}\n"
        assert reader_says("songs", text) == []
        assert refusals("songs", as_editor_reads(text)) != []
        assert refusals("songs", as_editor_reads(f"songs:\n  - title: '{word}'\n")) == []


def test_a_rig_of_several_files(tmp_path: Path) -> None:
    assert isinstance(write_new_book(str(tmp_path)), list)
    whole = (tmp_path / "rig.yaml").read_text(encoding="utf-8")
    base = whole.replace("switcher: switcher.yaml", "").replace("cc: 81, ", "")
    top = (
        "include: base.yaml\nrig: Both\nswitcher: {file: switcher.yaml, banks: 1 to 4}\n"
        "units: {repeats: {time: {cc: 82}, power: {volts: 12 V}}}\n"
    )
    assert base != whole
    (tmp_path / "base.yaml").write_text(base, encoding="utf-8")
    (tmp_path / "rig.yaml").write_text(top, encoding="utf-8")
    assert open_night(tmp_path / "night.yaml").findings == []
    assert refusals("rig", as_editor_reads(base)) == []
    assert refusals("rig", as_editor_reads(top)) == []


# -- what is wrong --------------------------------------------------------------------------------


@pytest.mark.parametrize("case", WRONG)
def test_slips_are_refused(case: str) -> None:
    kind, text = WRONG[case]
    assert refusals(kind, as_editor_reads(text)), text
    # Where exactly the reader points is tested with its findings; here, that it minds too.
    assert len(reader_says(kind, text)) == 1


def test_a_slip_has_words_of_its_own() -> None:
    tempo = SCHEMAS["songs"]["$defs"]["Song"]["properties"]["tempo"]
    assert tempo["errorMessage"].startswith("write the note that it counts")


def test_playing_needs_exactly_one_name() -> None:
    definition = SCHEMAS["night"]["$defs"][Playing.__name__]
    one = Draft202012Validator(definition)
    assert one.is_valid({"song": "a"})
    assert one.is_valid({"straight into": "a"})
    assert not one.is_valid({"song": "a", "straight into": "b"})
    assert not one.is_valid({"capo": 2})


def test_a_whole_rig_must_say_what_it_needs() -> None:
    text = "units:\n  echo: {time: {at rest: 4 ms}}\n"
    assert refusals("rig", as_editor_reads(text)) == []
    whole = "switcher: floor.yaml\n" + text
    assert refusals("rig", as_editor_reads(whole)) == [
        "['units', 'echo', 'time']: 'cc' is a required property"
    ]
    assert refusals("rig", as_editor_reads("include: other.yaml\n" + whole)) == []
