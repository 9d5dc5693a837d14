"""File names: what any title becomes, on any system."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from setwright.compiler.outputs.collect import night_data
from setwright.compiler.outputs.data import NightData, SongData
from setwright.compiler.outputs.names import (
    LONGEST,
    ascii_text,
    is_safe,
    slug,
    stem_of_set,
    stem_of_song,
)
from tests.conftest import DEMO
from tests.nights import whole


@pytest.mark.parametrize(
    ("text", "plain"),
    [
        ("The Kid on the Mountain", "The Kid on the Mountain"),
        ("Soldier’s Joy – “slow”…", 'Soldier\'s Joy - "slow"...'),
        ("B♭ F♯ → C × 2", "Bb F# -> C x 2"),
        ("Ça va, Señor Müller", "Ca va, Senor Muller"),
        ("Ærø Łódź Þórr ß Œuvre ǽ ı", "Aero Lodz Thorr ss Oeuvre ae i"),
        ("ﬁddle ½", "fiddle 1?2"),
        ("夜 🎸", "? ?"),
        ("\x1b[31m\t\u202ex", "?[31m??x"),
    ],
)
def test_text_in_ascii(text: str, plain: str) -> None:
    assert ascii_text(text) == plain


@pytest.mark.parametrize(
    ("title", "name"),
    [
        ("Haste to the Wedding", "haste-to-the-wedding"),
        ("Miss McLeod's Reel", "miss-mcleods-reel"),
        ("Soldier’s Joy", "soldiers-joy"),
        ("../../x", "x"),
        ("/etc/passwd", "etc-passwd"),
        ("a/b\\c:d", "a-b-c-d"),
        ("CON", "con-"),
        ("nul", "nul-"),
        ("COM¹", "com1-"),
        ("con.mid", "con-mid"),
        ("LPT 1", "lpt-1"),
        (".", "untitled"),
        ("..", "untitled"),
        ("", "untitled"),
        ("🎸", "untitled"),
        ("夜", "untitled"),
        ("<b>bold</b>", "b-bold-b"),
        ("=1+1", "1-1"),
        ("\x1b]0;x\x07", "0-x"),
        ("-rf *", "rf"),
        ("a" * 300, "a" * LONGEST),
        ("a" * (LONGEST - 1) + " b", "a" * (LONGEST - 1)),
    ],
)
def test_titles_as_names(title: str, name: str) -> None:
    assert slug(title) == name
    assert is_safe(name)


@given(st.text(max_size=400), st.integers(4, 100))
def test_every_title_makes_a_name_that_every_system_can_hold(title: str, longest: int) -> None:
    name = slug(title, longest)
    assert is_safe(name)
    assert is_safe(f"{name}.mid")
    assert 0 < len(name.encode("ascii")) <= longest
    assert name == name.lower()


@pytest.mark.parametrize(
    ("name", "safe"),
    [
        ("night.json", True),
        ("maps/programs.csv", True),
        ("a/b/c_d-e.2.mid", True),
        ("", False),
        ("/etc/passwd", False),
        ("a//b", False),
        ("a/", False),
        (".", False),
        ("..", False),
        ("../x", False),
        ("a/../../x", False),
        (".hidden", False),
        ("maps/.hidden", False),
        ("ends.", False),
        ("with space", False),
        ("back\\slash", False),
        ("C:x", False),
        ("nul", False),
        ("maps/COM3.csv", False),
        ("aux.tar.gz", False),
        ("é", False),
        ("a\nb", False),
        ("a\x00", False),
    ],
)
def test_names_that_lead_nowhere_else(name: str, safe: bool) -> None:
    assert is_safe(name) is safe


DEMO_DATA = night_data(whole(DEMO / "granary-night.yaml"))


def with_songs(titles: list[list[str]], asked: list[str]) -> NightData:
    """Return a night with these titles in its sets, and those kept for requests."""
    like = DEMO_DATA.songs[0]
    songs: list[SongData] = []
    sets = []
    for index, one in enumerate(titles):
        numbers = range(len(songs) + 1, len(songs) + 1 + len(one))
        sets.append(
            DEMO_DATA.sets[0].model_copy(update={"name": str(index), "songs": tuple(numbers)})
        )
        songs += [
            like.model_copy(update={"number": number, "title": title, "id": title})
            for number, title in zip(numbers, one, strict=True)
        ]
    songs += [like.model_copy(update={"number": 0, "title": title, "id": title}) for title in asked]
    return DEMO_DATA.model_copy(update={"sets": tuple(sets), "songs": tuple(songs)})


@pytest.mark.parametrize(
    ("titles", "asked", "stems"),
    [
        ([["Jig", "JIG!"], ["jig"]], ["Jig?"], ["1-01-jig", "1-02-jig", "2-01-jig", "0-01-jig"]),
        ([["夜", "🎸"]], [], ["1-01-untitled", "1-02-untitled"]),
        ([[]], ["CON", "con"], ["0-01-con-", "0-02-con-"]),
        ([["x" * 200]], [], [f"1-01-{'x' * 44}"]),
    ],
)
def test_names_of_songs(titles: list[list[str]], asked: list[str], stems: list[str]) -> None:
    data = with_songs(titles, asked)
    assert [stem_of_song(data, song) for song in data.songs] == stems


@given(
    st.lists(st.lists(st.text(max_size=5), max_size=4), max_size=12),
    st.lists(st.text(max_size=5), max_size=3, unique=True),
)
def test_names_differ_and_sort_in_playing_order(titles: list[list[str]], asked: list[str]) -> None:
    data = with_songs(titles, asked)
    stems = [stem_of_song(data, song) for song in data.songs]
    assert len({stem.casefold() for stem in stems}) == len(stems)
    assert all(is_safe(f"stored/{stem}.mid") and len(f"{stem}.mid") <= LONGEST for stem in stems)
    played = stems[: len(stems) - len(asked)]
    assert sorted(stems) == [*stems[len(played) :], *played]


def test_many_sets_and_many_songs_sort_too() -> None:
    data = with_songs([["a"] * 120, *[["b"]] * 10], ["c"])
    stems = [stem_of_song(data, song) for song in data.songs]
    assert stems[0] == "01-001-a"
    assert stems[119] == "01-120-a"
    assert stems[-2:] == ["11-001-b", "00-001-c"]
    assert sorted(stems[:-1]) == stems[:-1]


def test_names_of_sets() -> None:
    assert stem_of_set(1, "Before soup") == "set-1-before-soup"
    assert stem_of_set(2, "../…") == "set-2-untitled"
    assert len(stem_of_set(1, "x" * 200)) <= LONGEST - len(".mid")
