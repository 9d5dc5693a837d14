"""The demo: one book of traditional tunes, compiled for two rigs.

Titles, keys and meters are checked against F. O'Neill, O'Neill's Music of Ireland, Chicago
1903, in the headers of its ABC transcription (`tests/oneill/headers.tsv`). Tempos, rounds,
guitars, scenes and cues are invented, as is the band.
"""

from __future__ import annotations

import re
import subprocess
import sys
from collections import Counter
from dataclasses import dataclass, replace
from fractions import Fraction
from functools import cache
from pathlib import Path
from typing import Any

import pytest

from setwright.compiler.binding.bind import Binder
from setwright.compiler.binding.bound import BoundScene, BoundSong
from setwright.compiler.binding.states import Verdict
from setwright.compiler.compiled import Compiled
from setwright.scenes.book import Book
from setwright.scenes.finding import Finding
from setwright.scenes.forms import AtBar, AtPart, AtTime
from setwright.scenes.musical_time import parse_meter
from setwright.scenes.night import Playing
from setwright.scenes.resolve import Resolver
from setwright.scenes.songs import Song
from tests.nights import whole
from tests.oneill.headers import Header, read_headers

FOLDER = Path(__file__).parents[1] / "examples" / "winter-dance"
RIGS = {"granary": "Granary", "parlour": "Parlour"}
SWITCHES_FOR_SCENES = 7
"""Eight switches in a bank, one of them kept for the tuner."""

SceneKey = tuple[str, str]
State = frozenset[tuple[str, str, object]]


@dataclass(frozen=True)
class Demo:
    """A night of the demo, and the whole book bound to its rig, song by song."""

    compiled: Compiled
    book: Book
    songs: dict[str, BoundSong]
    found_in_all: list[Finding]
    """What binding every song finds, also those that are not played."""

    @property
    def scenes(self) -> dict[SceneKey, BoundScene]:
        """The scenes that songs have of their own."""
        return {
            (title, name): scene
            for title, song in self.songs.items()
            if not song.general
            for name, scene in song.scenes.items()
        }


@cache
def demo(rig: str) -> Demo:
    compiled = whole(FOLDER / f"{rig}-night.yaml")
    binder = Binder(compiled.target, Resolver(compiled.book))
    songs = {song.title: binder.song(song) for song in compiled.book.songs}
    return Demo(compiled, compiled.book, songs, binder.done())


def the_songs() -> list[Song]:
    return demo("granary").book.songs


# The tunes


def plain_title(title: str) -> str:
    """Return a title without trailing full stops, its article in front."""
    title = title.rstrip(".")
    name, comma, article = title.rpartition(", ")
    return f"{article} {name.rstrip('.')}" if comma and article in {"The", "A"} else title


@pytest.mark.parametrize(
    ("in_the_book", "title"),
    [
        ("Drowsy Maggie", "Drowsy Maggie"),
        ("Harvest Home, The", "The Harvest Home"),
        ("Kid on the Mountain., The", "The Kid on the Mountain"),
        ("Dan Rogers' Jig.", "Dan Rogers' Jig"),
        ("Cheer Up, Old Hag.", "Cheer Up, Old Hag"),
        ("The Rakes Of Mallow", "The Rakes Of Mallow"),
    ],
)
def test_a_title_may_lose_its_full_stop_and_take_its_article_in_front(
    in_the_book: str, title: str
) -> None:
    assert plain_title(in_the_book) == title


@cache
def all_headers() -> tuple[Header, ...]:
    return read_headers()


def headers_of(song: Song) -> list[Header]:
    """Return the settings of a tune that agree with the song in title, key and meter."""
    return [
        header
        for header in all_headers()
        if (plain_title(header.title), header.key, header.meter)
        == (song.title, song.key, str(song.meter))
    ]


def test_titles_keys_and_meters_agree_with_oneill() -> None:
    songs = the_songs()
    strangers = [(song.title, song.key, str(song.meter)) for song in songs if not headers_of(song)]
    assert strangers == []
    # The comparison can fail: the same tunes a meter or a key off are strangers.
    for change in ({"meter": parse_meter("5/8")}, {"key": "F# locrian"}, {"title": "Nowhere"}):
        for song in songs:
            said: dict[str, Any] = {name: getattr(song, name) for name in Song.model_fields}
            assert not headers_of(Song(**said | change))


def test_there_are_tunes_of_many_kinds() -> None:
    songs = the_songs()
    assert len({song.title for song in songs}) == len(songs) >= 24
    kinds = Counter(headers_of(song)[0].kind for song in songs)
    assert kinds >= Counter(
        {"double jig": 4, "reel": 4, "hornpipe": 4, "air": 2, "Carolan piece": 3, "slip jig": 2}
        | {"march or other": 3, "waltz": 1, "slide": 1}
    )


# The scenes


def test_two_songs_are_left_to_the_general_scenes_of_the_rig() -> None:
    for rig in RIGS:
        general = [song for song in demo(rig).songs.values() if song.general]
        assert [song.song.title for song in general] == ["The Rakes Of Mallow", "The Cuckoo's Nest"]
        for song in general:
            assert list(song.scenes) == list(demo(rig).book.rig.general)


def test_there_are_enough_scenes_and_they_fit_a_bank() -> None:
    sizes = [len(song.scenes) for song in the_songs() if song.scenes]
    assert sum(sizes) >= 90
    assert len(sizes) >= 22
    assert min(sizes) >= 3
    assert max(sizes) <= SWITCHES_FOR_SCENES


def test_scene_names_fit_the_switchers_display() -> None:
    width = demo("granary").book.switcher.each_preset_stores.names.characters
    assert width == 8
    assert [key for key in demo("granary").scenes if len(key[1]) > width] == []


def test_every_scene_is_pressed_and_in_the_order_of_time() -> None:
    for title, song in demo("granary").songs.items():
        if song.general:
            continue
        moments = song.resolved.moments
        assert {moment.scene for moment in moments} == set(song.song.scenes), title
        seconds = [moment.seconds for moment in moments]
        known = [second for second in seconds if second is not None]
        assert known == sorted(set(known)), title
        assert len(known) == len(seconds), title
        assert known[-1] < length_of(song.song), title


def test_places_are_said_in_every_way() -> None:
    places = [
        moment.position
        for song in demo("granary").songs.values()
        for moment in song.resolved.moments
    ]
    assert {type(place) for place in places} == {AtPart, AtBar, AtTime, type(None)}
    assert any(isinstance(place, AtPart) and place.nth > 1 for place in places)


def test_every_sound_is_used_and_every_effect() -> None:
    book = demo("granary").book
    used = {scene.sound for song in book.songs for scene in song.scenes.values()} - {None}
    assert used == set(book.song_book.sounds)
    asked = {
        effect
        for song in demo("granary").songs.values()
        for scene in song.resolved.scenes.values()
        for effect in scene.effect_names
    }
    assert asked == set(book.rig.effects)


def test_whoever_closes_the_swell_opens_it_again_before_the_end() -> None:
    closing = 0
    for title, song in demo("granary").songs.items():
        moves = [move.position for moves in song.feet for move in moves if move.unit == "swell"]
        closing += "closed" in moves
        assert moves[-1:] in ([], ["open"]), title
    assert closing >= 3


# The nights


@pytest.mark.parametrize("rig", RIGS)
def test_the_whole_book_compiles_without_a_finding(rig: str) -> None:
    one = demo(rig)
    assert one.compiled.findings == []
    assert one.found_in_all == []
    own = {(song.title, name) for song in one.book.songs for name in song.scenes}
    assert set(one.scenes) == own


@pytest.mark.parametrize(("rig", "name"), RIGS.items())
def test_check_prints_the_summary_alone(rig: str, name: str) -> None:
    night = FOLDER / f"{rig}-night.yaml"
    ended = subprocess.run(
        [sys.executable, "-m", "setwright.compiler", "check", str(night)],
        capture_output=True,
        encoding="utf-8",
        check=False,
    )
    assert re.fullmatch(
        rf"\d+ songs, \d+ scenes on {name}: nothing found\nproven: in all \d+ scenes .*\n"
        rf"rests on: boxes and cables as the file of {name} says, .*\n",
        ended.stdout,
    )
    assert (ended.stderr, ended.returncode) == ("", 0)


def test_both_nights_read_the_same_songs_and_the_same_switcher() -> None:
    granary, parlour = demo("granary").book, demo("parlour").book
    assert granary.night.songs == parlour.night.songs == ["songs.yaml"]
    for part in ("songs", "switcher"):
        sources = [book.place_of_key((part,)).source for book in (granary, parlour)]
        assert sources[0].name == sources[1].name
        assert sources[0].text == sources[1].text
    assert [granary.rig.rig, parlour.rig.rig] == list(RIGS.values())


def length_of(song: Song, playing: Playing | None = None) -> Fraction:
    """Return how long a song takes in seconds, at tonight's tempo if there is one."""
    shape = song.shape
    if playing is not None and playing.tempo is not None:
        shape = replace(shape, tempo=playing.tempo)
    seconds = song.lasts or shape.seconds_in_all
    assert seconds is not None, f"{song.title} does not say how long it takes"
    return seconds


@pytest.mark.parametrize("rig", RIGS)
def test_the_sets_keep_to_their_time(rig: str) -> None:
    book = demo(rig).book
    assert [one.name for one in book.night.sets] == ["Before soup", "After soup"]
    for one in book.night.sets:
        music = sum(length_of(book.by_name[playing.name], playing) for playing in one.play)
        # Half a minute to tune and to talk, unless the next tune follows at once.
        pauses = 30 * sum(playing.song is not None for playing in one.play[1:])
        assert one.at_most is not None
        assert 25 * 60 < music + pauses <= one.at_most


@pytest.mark.parametrize(
    ("rig", "title", "numbers"),
    [("granary", "The Boys of Bluehill", [11, 25]), ("parlour", "Haste to the Wedding", [10, 22])],
)
def test_one_song_is_played_again_at_the_end_and_none_is_missing(
    rig: str, title: str, numbers: list[int]
) -> None:
    book, songs = demo(rig).book, demo(rig).compiled.songs
    names = [playing.name for playing in (*book.played(), *book.night.if_asked)]
    assert Counter(names) - Counter(set(names)) == Counter([title])
    playings = [song for song in songs if song.song.title == title]
    assert [song.number for song in playings] == numbers
    first, again = playings
    assert numbers[1] == sum(1 for _ in book.played())
    # Faster than before, so it has scenes of its own.
    assert first.tempo is not None
    assert again.tempo is not None
    assert again.tempo.bpm > first.tempo.bpm
    assert first.owner != again.owner
    if rig == "granary":
        assert [len(one.play) for one in book.night.sets] == [12, 13]
        assert len(book.night.if_asked) == 2
        assert set(names) == set(book.by_name)


def test_the_granary_night_has_something_of_everything() -> None:
    played = list(demo("granary").book.played())
    assert sum(one.straight_into is not None for one in played) == 2
    assert [(one.name, one.capo) for one in played if one.capo is not None] == [
        ("Off To California", 3)
    ]
    assert [(one.name, one.leave_out) for one in played if one.leave_out] == [
        ("The Kid on the Mountain", ["Swirl"])
    ]
    assert [(one.name, str(one.tempo)) for one in played if one.tempo] == [
        ("The Boys of Bluehill", "quarter = 80"),
        ("The Boys of Bluehill", "quarter = 92"),
    ]


# Two rigs


def state_of(scene: BoundScene) -> State:
    """Return what is settled in a scene; what nobody cares about is not in it.

    Nor is where the foot left the swell: that depends on the moment, not on the scene.
    """
    return frozenset(
        (wanted.unit, wanted.quantity, wanted.value)
        for wanted in scene.wanted
        if wanted.verdict is not Verdict.FREE and wanted.unit != "swell"
    )


@pytest.mark.parametrize("rig", RIGS)
def test_nothing_in_any_scene_is_left_to_chance(rig: str) -> None:
    unsettled = [
        (key, wanted.unit, wanted.quantity)
        for key, scene in demo(rig).scenes.items()
        for wanted in scene.wanted
        if wanted.verdict is Verdict.UNKNOWN
    ]
    assert unsettled == []


@pytest.mark.parametrize("rig", RIGS)
def test_no_two_scenes_of_a_song_are_the_same_on_either_rig(rig: str) -> None:
    for title, song in demo(rig).songs.items():
        states = [state_of(scene) for scene in song.scenes.values()]
        assert len(set(states)) == len(states), title


def test_the_rigs_do_not_make_the_scenes_in_the_same_way() -> None:
    """What a scene adds to the bare guitar differs, unless it is compression alone.

    Both rigs have one compressor of the same name in a loop, so its scenes must come out
    equal: the comparison can tell.
    """
    differ: dict[SceneKey, bool] = {}
    bare = {rig: state_of(demo(rig).scenes["Blind Mary", "Bare"]) for rig in RIGS}
    for key in demo("granary").scenes:
        granary, parlour = (state_of(demo(rig).scenes[key]) - bare[rig] for rig in RIGS)
        differ[key] = granary != parlour
        asked = demo("granary").scenes[key].effects
        assert differ[key] == bool(set(asked) - {"compression"}), key
    assert sum(differ.values()) >= 80
    assert sum(not one for one in differ.values()) >= 5


def test_many_scenes_sound_otherwise_or_need_a_foot_on_the_other_rig() -> None:
    """Differences that the player meets: another effect stands in, or a foot must help."""
    different = []
    for key, granary in demo("granary").scenes.items():
        parlour = demo("parlour").scenes[key]
        by_foot = any(
            wanted.quantity == "foot" and wanted.value == "boosting" for wanted in parlour.wanted
        )
        assert by_foot == ("boost" in granary.effects), key
        assert parlour.replaced == ((("crunch", "lead"),) if "crunch" in granary.effects else ())
        assert granary.replaced == ()
        if by_foot or parlour.replaced:
            different.append(key)
    assert len(different) >= 30
