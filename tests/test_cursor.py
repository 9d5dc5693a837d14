"""Which moment is meant by a press: tables by hand, and what holds of any night.

A night is written as songs with a switch a letter: ``PQP`` is pressed in that order, what stands
behind ``+`` is there to choose, ``.`` presses nothing, and a song with ``?`` is kept for requests.
"""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from setwright.compiler.lowering.preset import Address
from setwright.compiler.sending.following.cursor import (
    BEFORE,
    Cursor,
    Song,
    Spot,
    begin,
    following,
    heard,
    put,
    turned,
)


def at(letter: str) -> Address | None:
    return None if letter == "." else Address(ord(letter) - ord("A"), 0)


def night(text: str, first: str = ".") -> Cursor:
    songs = []
    for one in text.split():
        moments, _, others = one.removeprefix("?").partition("+")
        lines = tuple(map(at, moments + others))
        songs.append(Song(lines, len(moments), asked=one.startswith("?")))
    return begin(tuple(songs), at(first))


def step(cursor: Cursor, word: str) -> Cursor:
    """Press ``P`` (``PQ`` is either), turn to song ``>2``, or say that we are at ``@2.1``."""
    if word.startswith(">"):
        return turned(cursor, int(word[1:]))
    if word.startswith("@"):
        return put(cursor, Spot(*map(int, word[1:].split("."))))
    return heard(cursor, [one for one in map(at, word) if one is not None])


def shown(cursor: Cursor) -> str:
    """Say what is on the page: ``song.line`` that sounds, or ``song`` and nothing."""
    if cursor.sounds is None or cursor.sounds.song != cursor.shown.song:
        return str(cursor.shown.song)
    return f"{cursor.sounds.song}.{cursor.sounds.line}"


@pytest.mark.parametrize(
    ("songs", "words", "wanted"),
    [
        # In playing order.
        ("PQR ST", "P Q R S T", "0.0 0.1 0.2 1.0 1.1"),
        # The same preset twice in a song: the next one; what is passed over is left behind.
        ("PQP ST", "P Q P S", "0.0 0.1 0.2 1.0"),
        ("PQRQ ST", "P R Q S", "0.0 0.2 0.3 1.0"),
        # Pressed twice by a nervous foot: nothing moves, whatever lies under it later.
        ("PQPR ST", "P P Q", "0.0 0.0 0.1"),
        ("PQPR ST", "P Q Q P", "0.0 0.1 0.1 0.2"),
        # Back within the song: from its beginning.
        ("PQR ST", "P Q R P Q", "0.0 0.1 0.2 0.0 0.1"),
        # A song begins on the preset on which the one before it ends.
        ("PQ QR ST", "P Q Q R", "0.0 0.1 1.0 1.1"),
        ("PQP PR ST", "P Q P P R", "0.0 0.1 0.2 1.0 1.1"),
        # Nothing is pressed where the preset is on already: that is no guess.
        ("P.Q P.R", "P Q P R", "0.0 0.2 1.0 1.2"),
        ("PQ. QR", "P Q Q", "0.0 0.1 1.0"),
        # The next song, then the nearest, the later of two.
        ("P Q P R", "P R", "0.0 3.0"),
        ("P X Q P X Y", ">2 X", "2 1.0"),
        ("X P Q R X S", ">2 X", "2 4.0"),
        ("S P Q R S", ">2 S", "2 4.0"),
        ("S P X Q P X", ">3 X", "3 2.0"),
        # A song is left out, and one is gone back to.
        ("PQ RS TU", "P Q T U R", "0.0 0.1 2.0 2.1 1.0"),
        # A moment of this song comes before one of another, and before its other scenes.
        ("PQ+R RS", "P R R Q", "0.0 0.2 0.2 0.1"),
        ("PQ+P RS", "P Q P", "0.0 0.1 0.0"),
        ("PQ RP", "Q P", "0.1 0.0"),
        # Either of two: what comes next is what is meant.
        ("PQ RS", "PQ PQ RS RS", "0.0 0.1 1.0 1.1"),
        ("PQ RS", "PR QS RP", "0.0 0.1 1.0"),
        # Turned by hand: from the beginning of that song.
        ("PQ PQ PQ", ">1 P Q >0 P", "1 1.0 1.1 0 0.0"),
        ("PQ PQ PQ", "Q >2 Q", "0.1 2 2.1"),
        # A look at the next page, and back: the place is still there.
        ("PQPR SP", "P Q >1 >0 P", "0.0 0.1 1 0.1 0.2"),
        # A wrong guess, and one turn back.
        ("PQRQ ST QX", "P R X >0 Q", "0.0 0.2 2.1 0 0.3"),
        # Somebody says where we are.
        ("PQPR ST", "P @0.2 R", "0.0 0.2 0.3"),
        ("PQ STS", "@1.1 S", "1.1 1.2"),
        # A request: its own order, then the set goes on where it was.
        ("PQR ST ?XYX", "P Q X Y X R", "0.0 0.1 2.0 2.1 2.2 0.2"),
        ("PQ PR ?PX", "P Q X P", "0.0 0.1 2.1 2.0"),
        ("PQ PR ?XY", "P Q X P", "0.0 0.1 2.0 1.0"),
        ("PQ PR ?X+Y", "P Q Y R", "0.0 0.1 2.1 1.1"),
        ("PQR ST ?XP", ">2 P R", "2 2.1 0.2"),
        # Other scenes: shown, and the place stays.
        ("PQP+X ST", "P X Q X P", "0.0 0.3 0.1 0.3 0.2"),
        ("PQP ST ST+X", "P Q X P", "0.0 0.1 2.2 0.2"),
        # Songs that press nothing in an order: as one likes, and the next one when it is its own.
        ("PQ +XY RS", "P Q Y X R", "0.0 0.1 1.1 1.0 2.0"),
        ("PQ +XY +XZ RS", "P Q Y X Z X R", "0.0 0.1 1.1 1.0 2.1 2.0 3.0"),
        ("PQ RS +XY", "P X Q R", "0.0 2.0 0.1 1.0"),
        # What lies under no song is shown, and the place stays: a tuner, and back.
        ("PQPR ST", "P Z P Q P Z R", "0.0 0 0.0 0.1 0.2 0 0.3"),
        ("PQ RS", "P Q Z R", "0.0 0.1 0 1.0"),
        ("PQ", "Z P", "0 0.0"),
        # Nothing but requests.
        ("?PQ ?RP", "P R P Q", "0.0 1.0 1.1 0.1"),
    ],
)  # fmt: skip
def test_which_moment_is_meant(songs: str, words: str, wanted: str) -> None:
    cursor = night(songs)
    found = []
    for word in words.split():
        cursor = step(cursor, word)
        found.append(shown(cursor))
    assert " ".join(found) == wanted


def test_what_wakes_the_switcher_belongs_to_no_song() -> None:
    """It is pressed before the first song, and only then: later it is what it is."""
    cursor = step(night("PQ RS", first="R"), "R")
    assert (shown(cursor), cursor.place) == ("0", Spot(0, BEFORE))
    assert shown(step(step(cursor, "P"), "R")) == "1.0"
    assert shown(step(step(night("PQ RS", first="R"), "P"), "R")) == "1.0"


@pytest.mark.parametrize(
    ("songs", "words", "wanted"),
    [
        ("PQ RS", "", (0, 0)),
        ("PQ RS", "P", (0, 1)),
        ("P.Q RS", "P", (0, 1)),
        ("PQ RS", "P Q", (1, 0)),
        ("PQ +X RS", "P Q", (1, BEFORE)),
        ("PQ RS", ">1", (1, 0)),
        ("PQ RS ?XY", "P X", (2, 1)),
        ("PQ RS ?XY", "P Y", (0, 1)),
        ("PQ RS ?XY", "P Q Y", (1, 0)),
        ("PQ RS", "S", None),
        ("PQ RS ?XY", "S Y", None),
    ],
)
def test_what_comes_next(songs: str, words: str, wanted: tuple[int, int] | None) -> None:
    cursor = night(songs)
    for word in words.split():
        cursor = step(cursor, word)
    assert following(cursor) == (None if wanted is None else Spot(*wanted))


LETTERS = "ABCD"
SONGS = st.lists(
    st.tuples(st.text(LETTERS + ".", max_size=5), st.text(LETTERS, max_size=2), st.booleans())
    .filter(lambda one: bool(one[0] or one[1]))
    .map(lambda one: f"{'?' if one[2] else ''}{one[0]}{'+' if one[1] else ''}{one[1]}"),
    min_size=1,
    max_size=6,
).map(lambda songs: " ".join(sorted(songs, key=lambda one: one.startswith("?"))))
WORDS = st.lists(st.one_of(st.text(LETTERS + "Z", min_size=1, max_size=2), st.integers(0, 5)))


def wandered(songs: str, words: list[str | int]) -> Cursor:
    cursor = night(songs)
    for word in words:
        turn = f">{min(word, len(cursor.songs) - 1)}" if isinstance(word, int) else word
        cursor = step(cursor, turn)
    return cursor


@given(SONGS, WORDS, st.text(LETTERS + "Z", min_size=1, max_size=2))
def test_a_press_finds_what_it_presses(songs: str, words: list[str | int], pressed: str) -> None:
    """Whatever came before: a line that presses it, if there is any; else all stays."""
    before = wandered(songs, words)
    after = step(before, pressed)
    presets = {at(one) for one in pressed}
    known = {one for song in before.songs for one in song.lines}
    if presets & known:
        assert after.sounds is not None
        assert after.songs[after.sounds.song].lines[after.sounds.line] in presets
        assert after.shown.song == after.sounds.song
        assert step(after, pressed).sounds is not None
    else:
        assert after.sounds is None
        assert (after.place, after.shown) == (before.place, before.shown)
    assert not after.songs[after.place.song].asked or all(one.asked for one in after.songs)


@given(SONGS, st.data())
def test_who_plays_in_order_is_followed(songs: str, data: st.DataObject) -> None:
    """From the first press to the last, even where each sends what another one sends, too.

    Not where the first press of the night lies under a song behind it as well, or a song that
    presses nothing stands between: nobody could know then.
    """
    cursor = night(songs)
    for number, song in enumerate(cursor.songs):
        if song.asked:
            continue
        lines = [one for one in range(song.moments) if song.lines[one] is not None]
        if not lines or (cursor.shown.line == BEFORE and cursor.shown.song != number):
            cursor = turned(cursor, number)
        for line in lines:
            other = data.draw(st.sampled_from(LETTERS), label="sends the same")
            pressed = [one for one in (song.lines[line], at(other)) if one is not None]
            if cursor.shown == Spot(number, BEFORE):
                pressed = pressed[:1]
            cursor = heard(cursor, pressed)
            assert cursor.sounds == cursor.place == Spot(number, line)


@given(SONGS, WORDS, st.integers(0, 5))
def test_a_turn_and_back_loses_nothing(songs: str, words: list[str | int], to: int) -> None:
    before = wandered(songs, words)
    to = min(to, len(before.songs) - 1)
    after = turned(turned(before, to), before.shown.song)
    assert after.shown == before.shown or before.shown.line == BEFORE or before.shown.song == to


@given(SONGS, WORDS, st.data())
def test_it_is_where_one_says(songs: str, words: list[str | int], data: st.DataObject) -> None:
    before = wandered(songs, words)
    song = data.draw(st.integers(0, len(before.songs) - 1))
    line = data.draw(st.integers(0, len(before.songs[song].lines) - 1))
    after = put(before, Spot(song, line))
    assert after.sounds == Spot(song, line)
    assert after.shown.song == song
