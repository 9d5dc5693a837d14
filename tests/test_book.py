"""What is left out of a book, and what kind of file its keys tell."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest

from setwright.scenes.book import open_night
from setwright.scenes.kinds import kind_of
from setwright.scenes.night import Night
from setwright.scenes.places import KeyPath
from setwright.scenes.rig import Rig
from setwright.scenes.songs import SongBook
from setwright.scenes.switcher import Switcher
from tests.mini import compile_mini, write_night


@pytest.mark.parametrize(
    ("left_out", "asked", "at_or_above", "at_or_below"),
    [
        ((), ("rig", "units"), False, False),
        ((("rig",),), ("rig",), True, True),
        ((("rig",),), ("rig", "units"), True, False),
        ((("rig", "units"),), ("rig",), False, True),
        ((("rig", "units"),), ("rig", "units"), True, True),
        ((("rig", "units", "a"),), ("rig", "units", "b"), False, False),
        ((("rig", "units", "a"),), ("rig", "units", "a", "loop"), True, False),
        ((("rig", "units", "a"), ("songs",)), ("rig", "units"), False, True),
        ((("songs", "songs", 1),), ("songs", "songs", 2), False, False),
    ],
)
def test_what_is_left_out(
    tmp_path: Path,
    left_out: tuple[KeyPath, ...],
    asked: KeyPath,
    at_or_above: bool,
    at_or_below: bool,
) -> None:
    book = compile_mini(
        tmp_path, units="one: {loop: 1}", effects="near: one", scenes="A: [near]"
    ).book
    assert not book.has_broken(asked)  # and what is left out later is known, too
    book.leave_out(*left_out)
    assert (book.is_broken(asked), book.has_broken(asked)) == (at_or_above, at_or_below)


def test_what_was_left_out_below_each_once(tmp_path: Path) -> None:
    book = compile_mini(
        tmp_path, units="one: {loop: 1}", effects="near: one", scenes="A: [near]"
    ).book
    book.leave_out(("rig", "units", "b", "loop"), ("rig", "units", "a"), ("rig", "units", "b"))
    assert sorted(map(str, book.broken_below(("rig", "units")))) == ["a", "b"]
    assert list(book.broken_below(("songs",))) == []


@pytest.mark.parametrize(
    ("data", "kind"),
    [
        ({"songs": [{"title": "Tune"}]}, SongBook),
        ({"sounds": {"plain": ["near"]}}, SongBook),
        ({"songs": "songs.yaml"}, Night),
        ({"songs": ["one.yaml", "two.yaml"]}, Night),
        ({"sets": [{"play": ["Tune"]}]}, Night),
        ({"rig": "rig.yaml", "songs": "songs.yaml"}, Night),
        ({"units": {}, "effects": {}}, Rig),
        ({"midi": []}, Rig),
        ({"banks": 10, "switches": 5}, Switcher),
        ({"loops": 4, "nonsense": 1}, Switcher),
        # What several kinds have, or none, tells nothing.
        ({"note": "mine"}, None),
        ({"include": "more.yaml"}, None),
        ({"nonsense": 1}, None),
        ({"songs": []}, None),
        ({"songs": ""}, None),
        ({}, None),
        ([], None),
        ("songs", None),
        (None, None),
    ],
)
def test_the_keys_of_a_file_tell_its_kind(data: Any, kind: type[object] | None) -> None:
    assert kind_of(data) is kind


@pytest.mark.parametrize(
    ("rig", "songs", "sought"),
    [
        ("", "songs.yaml", ["board.stored.yaml", "board.yaml", "songs.yaml"]),
        ("", "more/songs.yaml", ["board.stored.yaml", "board.yaml", "more/songs.yaml"]),
        (
            "include: [units/echo.yaml, ./units/../fuzz.yaml]",
            "songs.yaml",
            ["board.stored.yaml", "board.yaml", "fuzz.yaml", "songs.yaml", "units/echo.yaml"],
        ),
        ("", "../songs.yaml", ["board.stored.yaml", "board.yaml"]),
        ("", "/songs.yaml", ["board.stored.yaml", "board.yaml"]),
        ("include: [", "songs.yaml", ["songs.yaml"]),
    ],
    ids=["all there", "not there", "includes that are not there", "outside", "absolute", "broken"],
)
@pytest.mark.parametrize("typed", [".", "book", "book/../book"])
def test_all_files_that_are_looked_for_are_known(
    rig: str,
    songs: str,
    sought: list[str],
    typed: str,
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    (tmp_path / "book").mkdir()
    night = write_night(
        tmp_path / "book", units="one: {loop: 1}", effects="near: one", scenes="A: [near]", rig=rig
    )
    text = night.read_text(encoding="utf-8")
    night.write_text(text.replace("songs.yaml", songs), encoding="utf-8")
    monkeypatch.chdir(tmp_path / "book" if typed == "." else tmp_path)
    opened = open_night(Path(typed) / "night.yaml")
    names = [path.relative_to(typed).as_posix() for path in opened.sought]
    assert sorted(names) == sorted([*sought, "night.yaml", "rig.yaml"])
    assert opened.book is None or opened.book.sought == opened.sought


def test_a_night_that_is_not_there_is_looked_for(tmp_path: Path) -> None:
    assert open_night(tmp_path / "night.yaml").sought == (tmp_path / "night.yaml",)
