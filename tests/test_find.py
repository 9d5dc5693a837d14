"""What stands on the cue sheet can be asked for: explain, trace and send take its very words."""

from __future__ import annotations

import tempfile
from functools import cache
from pathlib import Path
from textwrap import dedent

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from setwright.compiler.compiled import Compiled
from setwright.compiler.outputs.collect import night_data
from setwright.compiler.outputs.cued import Card
from setwright.compiler.outputs.cues import sheet_of
from setwright.compiler.outputs.data import NightData
from setwright.compiler.outputs.filled import shown
from setwright.compiler.outputs.sent import SceneData
from setwright.compiler.reports.explain import explain
from setwright.compiler.reports.find import Found, find_scene, heading, offered
from setwright.compiler.reports.trace import trace
from setwright.compiler.sending.port.problem import Problem
from setwright.compiler.sending.send import Plan, plan
from tests.conftest import DEMO
from tests.mini import compile_mini
from tests.nights import whole
from tests.test_playings import BOOK, CASES, compiled_case, on_the_wire


@cache
def night(name: str) -> tuple[Compiled, NightData]:
    compiled = compiled_case(name)[0] if name in CASES else whole(DEMO / f"{name}-night.yaml")
    return compiled, night_data(compiled)


def printed(card: Card) -> list[tuple[str, str, str]]:
    """Return every scene on a card of the cue sheet as it is printed: name, bank, switch."""
    bank = card.bank.shown
    lines = []
    for press in card.presses:
        bank = press.new_bank or bank
        lines.append((shown(press.scene), bank, press.switch))
    for choice in card.choices:
        lines.append((shown(choice.scene), choice.bank or card.bank.shown, choice.switch))
    return lines


def check_cue_sheet(compiled: Compiled, data: NightData) -> int:
    """Ask for every scene on the cue sheet, by its number and title; return how many there are."""
    sheet = sheet_of(data)
    cards = [(f"{card.number} ", card) for one in sheet.sets for card in one.songs]
    cards += [("if asked ", card) for card in sheet.asked]
    assert len(cards) == len(data.songs)
    count = 0
    for (mark, card), song in zip(cards, data.songs, strict=True):
        for scene, bank, switch in printed(card):
            typed = f"{mark}{shown(card.title)}/{scene}"
            found = find_scene(compiled, typed)
            if isinstance(found, str):  # two requests of one title, by their ids then
                assert not card.number
                # … or one whose title and scene are written alike, with a slash in them.
                assert f"‘{song.called}/{scene}’" in found or "give one of the songs an id" in found
                found = find_scene(compiled, f"{song.called}/{scene}")
            if isinstance(found, str) and not card.number:
                assert "give one of the songs an id" in found
                continue
            assert isinstance(found, Found), (typed, found)
            check_found(
                compiled, found, bank, switch, data.scene(song.owner, found.scene.bound.name)
            )
            assert shown(found.scene.bound.name) == scene
            # The name that a playing has for itself means the same.
            again = find_scene(compiled, f"{song.called}/{scene}")
            assert isinstance(again, Found)
            assert again.song.called == song.called
            assert again.scene.bound.name == found.scene.bound.name
            # Two requests of one title may share their scenes; a number is one playing's alone.
            assert again.song.owner == found.song.owner
            assert not card.number or found.song.called == song.called
            count += 1
    return count


def check_found(
    compiled: Compiled, found: Found, bank: str, switch: str, expected: SceneData
) -> None:
    """Compare what is explained, followed and sent with what was printed and is in the data."""
    direct = [message.hex for message in expected.direct.messages]
    stored = [message.hex for message in expected.stored.messages]
    assert expected.recall is not None
    said = list(explain(compiled, found))
    assert f"  bank {bank}, switch {switch}" in said
    bytes_said = [line.split("  ")[1] for line in said if line[:2] == "  " and line[4:5] == " "]
    assert bytes_said == [*(one.hex for one in expected.recall.messages), *stored, *direct]
    traced = [line.split(" ms: ")[1] for line in trace(compiled, found) if " ms: " in line]
    assert [line.split(",")[0] for line in traced] == stored
    for route, wire in (("direct", direct), ("", [one.hex for one in expected.recall.messages])):
        planned = plan(compiled, found, direct=bool(route))
        assert isinstance(planned, Plan)
        assert [line.split("  ")[0] for line in planned.lines()] == wire


@pytest.mark.parametrize("name", [*CASES, "granary", "parlour"])
def test_every_scene_on_the_cue_sheet_is_found(name: str) -> None:
    compiled, data = night(name)
    pressed = {(song.called, moment.scene) for song in data.songs for moment in song.moments}
    chosen = {(song.called, scene) for song in data.songs for scene in song.scenes} - pressed
    presses = sum(len(song.moments) for song in data.songs)
    assert check_cue_sheet(compiled, data) == presses + len(chosen) > 0


@pytest.mark.parametrize("name", [*CASES, "granary", "parlour"])
def test_everything_that_is_offered_is_found_and_every_playing_is_offered(name: str) -> None:
    compiled, _ = night(name)
    found = [find_scene(compiled, one) for one in offered(compiled)]
    assert [one for one in found if isinstance(one, str)] == []
    reached = {(one.song.called, one.scene.bound.name) for one in found if isinstance(one, Found)}
    assert reached == {(song.called, name) for song in compiled.songs for name in song.scenes}


TITLES = ["Reel", "2 Reel", "1 2 Reel", "Reel/Lift", "if asked Reel", "Re  el", "R\u2066el", "7"]
SCENES = ["Lift", "Lift/Lift", "Reel", "Start", "Wash"]


@st.composite
def books(draw: st.DrawFn) -> dict[str, str]:
    """Return a book of songs that are called much alike, and a night that plays them often."""
    titles = draw(st.lists(st.sampled_from(TITLES), min_size=1, max_size=4))
    songs, names = ["songs:"], []
    for index, title in enumerate(titles):
        twice = titles.count(title) > 1
        names.append(f"no. {index}" if twice else title)
        songs.append(f'- title: "{title}"' + (f"\n  id: no. {index}" if twice else ""))
        songs.append(f"  tempo: quarter = {draw(st.sampled_from([60, 100, 120]))}")
        scenes = draw(st.lists(st.sampled_from(SCENES), max_size=3, unique=True))
        if scenes:
            songs.append("  scenes:")
            songs += [f"    {one}: {{effects: [long echo], echo: quarter}}" for one in scenes]
    tempos = st.sampled_from(["", ", tempo: quarter = 150"])
    played = draw(st.lists(st.sampled_from(names), min_size=1, max_size=5))
    asked = draw(st.lists(st.sampled_from(names), max_size=3, unique=True))

    def entries(drawn: list[str]) -> str:
        return ", ".join(f'{{song: "{name}"{draw(tempos)}}}' for name in drawn)

    return {
        **BOOK,
        "songs.yaml": "\n".join(songs) + "\n",
        "night.yaml": "night: Alike\nrig: rig.yaml\nsongs: songs.yaml\nsets:\n"
        f"- play: [{entries(played)}]\nif asked: [{entries(asked)}]\n",
    }


@settings(max_examples=60, deadline=None)
@given(books())
def test_songs_that_are_called_alike_are_all_found(book: dict[str, str]) -> None:
    with tempfile.TemporaryDirectory() as folder:
        for name, text in book.items():
            (Path(folder) / name).write_text(dedent(text), encoding="utf-8")
        compiled = whole(Path(folder) / "night.yaml")
    assert [one.message for one in compiled.findings if one.severity == "error"] == []
    check_cue_sheet(compiled, night_data(compiled))


@pytest.mark.parametrize(
    ("name", "typed", "called"),
    [
        ("other tempo", "Reel/Lift", "1 Reel"),  # the first playing
        ("other tempo", "2 Reel/Lift", "2 Reel"),
        ("left out first, at another tempo", "Reel/Lift", "2 Reel"),  # the first that has it
        ("left out first, at another tempo", "Reel/Turn", "1 Reel"),
        ("asked for too", "Reel/Lift", "1 Reel"),
        ("asked for too", "if asked Reel/Lift", "if asked Reel"),
        ("asked for at another tempo", "Air/Wash", "1 Air"),
        ("one title", "March/Lift", None),
        ("one title", "slow march/Lift", "1 slow march"),
        ("one title", "2 March/Lift", "2 quick march"),
        ("one title", "3 March/Lift", "3 slow march"),
        ("one title", "March/Out", "1 slow march"),  # only one of the two has it
        ("a title that begins with a number", "2 Reel/Lift", "2 Reel"),  # number 2 tonight
        ("a title that begins with a number", "1 2 Reel/Lift", "1 2 Reel"),
        ("other tempo", " 2  Reel / Lift ", "2 Reel"),
        ("once", "Air/Wash", "Air"),  # not played tonight
    ],
)
def test_which_playing_a_name_means(name: str, typed: str, called: str | None) -> None:
    compiled, _ = night(name)
    found = find_scene(compiled, typed)
    assert (found.song.called if isinstance(found, Found) else None) == called


@pytest.mark.parametrize(
    ("name", "typed", "sentence"),
    [
        (
            "one title",
            "March/Lift",
            "this means more than one scene; write ‘1 slow march/Lift’ or ‘2 quick march/Lift’",
        ),
        ("general twice", "3 Air/Plain", "‘Plain’ is left out tonight"),
        ("other tempo", "3 Reel/Lift", "the book has no song ‘3 Reel’: did you mean ‘2 Reel’?"),
        ("other tempo", "2 Reel/Lifts", "‘2 Reel’ has no scene ‘Lifts’: did you mean ‘Lift’?"),
        ("asked for too", "if asked Reel/Wash", "‘if asked Reel’ has no scene ‘Wash’"),
    ],
)
def test_why_a_name_means_nothing(name: str, typed: str, sentence: str) -> None:
    compiled, _ = night(name)
    found = find_scene(compiled, typed)
    assert isinstance(found, str)
    assert found.startswith(sentence)


def test_the_heading_says_which_playing_it_is_where_there_are_several() -> None:
    compiled, _ = night("other tempo")
    for song, number in zip(compiled.songs, ("1 Reel", "2 Reel"), strict=True):
        assert heading(compiled, song) == number
        found = Found(song, compiled.scene(song, "Lift"))
        assert next(iter(explain(compiled, found))) == f"{number} / Lift on Attic"
        assert next(iter(trace(compiled, found))) == f"{number} / Lift on Attic"
    compiled, _ = night("once")
    assert heading(compiled, compiled.songs[0]) == "Reel"


def test_general_scenes_of_a_song_that_is_not_played_have_its_own_tempo() -> None:
    """A quarter is 1000 ms at 60; no preset of the night, where it is 750 ms and 600 ms, has it."""
    compiled, _ = night("general twice")
    found = find_scene(compiled, "Hymn/Wash")
    assert isinstance(found, Found)
    direct = plan(compiled, found, direct=True)
    assert isinstance(direct, Plan)
    assert [line.split("  ")[0] for line in direct.lines()] == on_the_wire(1000)
    stored = plan(compiled, found, direct=False)
    assert isinstance(stored, Problem)
    assert stored.code == "scene-not-placed"
    assert not any("bank" in line for line in explain(compiled, found))
    # What sounds the same whatever the tempo lies where it lies for all.
    plain = find_scene(compiled, "Hymn/Plain")
    assert isinstance(plain, Found)
    assert plain.scene.content == compiled.scenes["", "Plain"].content


def test_songs_that_only_an_id_can_tell_apart(tmp_path: Path) -> None:
    songs = """
    songs:
    - {title: Tune, scenes: {A: [near]}}
    - {title: Jig, scenes: {B/C: [near]}}
    - {title: Jig/B, scenes: {C: [near]}}
    """
    compiled = compile_mini(
        tmp_path, units="one: {loop: 1}", effects="near: one", songs=dedent(songs)
    )
    assert find_scene(compiled, "Jig/B/C") == (
        "this means more than one scene; give one of the songs an id: without a slash"
    )


def test_a_copy_of_a_night_with_other_scenes_finds_those() -> None:
    _, data = night("once")
    before = data.scene("Reel", "Lift")
    after = before.model_copy(update={"place": None})
    other = data.model_copy(update={"scenes": (after,)})
    assert other.scene("Reel", "Lift").place is None
    assert data.scene("Reel", "Lift") == before
    assert before.place is not None
