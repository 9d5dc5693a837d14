"""The reference of the language: every word stands in it, and the command says the same."""

from __future__ import annotations

import pytest

from setwright.compiler.reports import words
from setwright.scenes.schema import KINDS, schema_of
from tests.conftest import ROOT
from tests.test_cli import setwright
from tests.test_fields import kinds


def test_every_record_and_every_field_stands_in_it_once() -> None:
    found = [
        (entry.record, word.key) for entry in words.entries() for word in words.words_of(entry)
    ]
    assert len(found) == len(set(found))
    assert set(found) == {
        (kind, declared.key) for kind in kinds() for declared in kind.model_fields.values()
    }


WRITTEN_BY_DONE = "list of what a switcher holds"
"""The one kind of file for which editors have no schema."""


def test_what_editors_offer_stands_in_it() -> None:
    """The schemas are made by another library, from the validators."""
    offered: set[str] = set()
    for kind in KINDS:
        schema = schema_of(kind)
        for record in (schema, *schema["$defs"].values()):
            for alternative in record.get("anyOf", [record]):
                offered |= set(alternative.get("properties", {}))
    written = [entry for entry in words.entries() if entry.file != WRITTEN_BY_DONE]
    assert offered == {word.key for entry in written for word in words.words_of(entry)}


PLACES = [
    ("song", ["under songs: - in a file of songs"]),
    (
        "scene",
        ["under songs: - scenes: NAME: in a file of songs, under general: NAME: in a rig's file"],
    ),
    (
        "control",
        [
            "under units: NAME: controls: NAME: in a rig's file, under units: NAME: time:, "
            "under units: NAME: tap:"
        ],
    ),
    ("Night's file", ["a night's file"]),
]


@pytest.mark.parametrize(("word", "where"), PLACES)
def test_where_a_record_stands(word: str, where: list[str]) -> None:
    found = [one for one in words.find(word) if isinstance(one, words.Entry)]
    assert [one.where for one in found] == where


def test_a_word_of_several_records() -> None:
    ended = setwright("words", "let", "pass:")
    lines = ended.stdout.splitlines()
    of = [line.split(" (")[0] for line in lines if line.startswith("let pass: of ")]
    assert (ended.returncode, ended.stderr) == (0, "")
    assert {"let pass: of a song", "let pass: of a unit", "let pass: of a night"} <= set(of)
    assert "    let pass: {order-out-of-time: it is a short one}" in lines


BUSY = """\
busy after program: of a unit (under units: NAME: in a rig's file)
  How long after a program change it loses what is sent to it: 120 ms. If not said: 0 ms.
  takes a time: 120 ms or 1.8 s
  for example
    busy after program: 120 ms
"""


def test_one_word() -> None:
    assert setwright("words", "Busy after program").stdout == BUSY


def test_the_list_names_every_word() -> None:
    ended = setwright("words")
    listed = " ".join(ended.stdout.replace("\n", " ").split())
    for entry in words.entries():
        assert f"{entry.title} ({entry.where})" in listed
        assert ", ".join(word.key for word in words.words_of(entry)) in listed


def test_a_word_that_is_none() -> None:
    ended = setwright("words", "tempoo")
    assert (ended.returncode, ended.stdout) == (2, "")
    assert "there is no word ‘tempoo’" in ended.stderr
    assert "tempo" in ended.stderr.split("tempoo’")[1]


def test_the_page_is_up_to_date(request: pytest.FixtureRequest) -> None:
    page = words.page()
    path = ROOT / "templates" / "words.md"
    if request.config.getoption("--renew"):
        path.write_text(page, encoding="utf-8", newline="\n")
    assert path.read_text(encoding="utf-8") == page, "renew it: setwright words --page"
    assert setwright("words", "--page").stdout == page
