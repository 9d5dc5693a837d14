"""The whole O'Neill collection, read and bound on both rigs of the demo.

Source of titles, keys and meters: F. O'Neill, O'Neill's Music of Ireland, Chicago 1903; see
`tests.oneill.headers`.
"""

from __future__ import annotations

import subprocess
import sys
from collections import Counter
from pathlib import Path

import pytest

from setwright.compiler.compiled import Compiled
from tests.conftest import ROOT
from tests.nights import whole
from tests.oneill.book import KINDS, NIGHTS, names, write_oneill
from tests.oneill.headers import read_headers

HEADERS = read_headers()
SCENES = 9_389
"""Scenes of all tunes: three to six each, by kind."""


@pytest.fixture(scope="module")
def compiled(tmp_path_factory: pytest.TempPathFactory) -> dict[str, Compiled]:
    nights = write_oneill(tmp_path_factory.mktemp("oneill"))
    return {rig: whole(night) for rig, night in zip(NIGHTS, nights, strict=True)}


@pytest.mark.parametrize("rig", NIGHTS)
def test_every_tune_is_bound(compiled: dict[str, Compiled], rig: str) -> None:
    night = compiled[rig]
    assert [finding.message for finding in night.findings] == []
    tunes, scenes = len(night.songs), night.scene_count
    assert (tunes, scenes) == (2009, SCENES)
    assert [song.number for song in night.songs] == list(range(1, 2010))


def test_the_number_of_scenes_follows_from_the_kinds() -> None:
    kinds = Counter(header.kind for header in HEADERS)
    assert sum(KINDS[kind].scenes * times for kind, times in kinds.items()) == SCENES
    assert {kind.scenes for kind in KINDS.values()} == {3, 4, 5, 6}


def test_every_title_key_and_meter_comes_back(compiled: dict[str, Compiled]) -> None:
    for header, bound in zip(HEADERS, compiled["granary"].songs, strict=True):
        song = bound.song
        assert song.title == " ".join(header.title.split())
        assert (song.key or "") == header.key
        assert str(song.meter) == header.meter


def test_titles_that_trip_up_readers_are_among_them() -> None:
    """A comma, an apostrophe, quotation marks, a full stop, two spaces in a row."""
    titles = {header.title for header in HEADERS}
    assert {
        "Job of Journey Work, The",
        "The Swallow's Tail",
        'Paddy "Go Easy"',
        "The Kinnegad Slashers.",
        "McFadden's  Own Reel",
    } <= titles


def test_an_id_stands_only_where_a_title_repeats() -> None:
    times = Counter(" ".join(title.split()) for title, _ in names(HEADERS))
    for title, identity in names(HEADERS):
        assert bool(identity) == (times[" ".join(title.split())] > 1)
    identities = [identity or " ".join(title.split()) for title, identity in names(HEADERS)]
    assert len(set(identities)) == len(identities) == 2009


def test_the_book_can_be_written_by_hand(tmp_path: Path) -> None:
    ended = subprocess.run(
        [sys.executable, "-m", "tests.oneill.book", str(tmp_path)],
        capture_output=True,
        encoding="utf-8",
        cwd=ROOT,
        check=True,
    )
    assert ended.stdout.count("wrote ") == 2
    assert {path.name for path in tmp_path.iterdir()} == {
        *(f"{rig}-night.yaml" for rig in NIGHTS),
        *(f"{rig}.yaml" for rig in NIGHTS),
        "floor.yaml",
        "songs.yaml",
    }
