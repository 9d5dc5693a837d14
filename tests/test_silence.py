"""Feet and silence along whole nights: worked out by hand, and against a player who reads.

The player has the printed sheet alone, as data: what stands before every song, at each press,
with the first note and after the last. Where its foot then stands is compared with what the
proof takes for granted.
"""

from __future__ import annotations

import tempfile
from pathlib import Path
from textwrap import dedent, indent
from typing import NamedTuple

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from setwright.compiler.binding.foot import AS_BEFORE
from setwright.compiler.compiled import Compiled
from setwright.compiler.outputs.collect import night_data
from setwright.compiler.outputs.cues import sheet_of
from setwright.compiler.outputs.data import NightData, SongData
from setwright.compiler.reports.explain import explain
from setwright.compiler.reports.find import Found
from setwright.compiler.reports.summary import proof
from setwright.compiler.signal.silence import Listener
from setwright.scenes.finding import Finding
from tests.conftest import DEMO
from tests.corpus import underlined
from tests.nights import whole

FILES = {
    "board.yaml": "switcher: board\nbanks: 10\nswitches: 5\nloops: 4\n",
    "rig.yaml": """\
        rig: Attic
        switcher: board.yaml
        units:
          swell: {is: volume, by foot: [closed, open], at start: open}
          heel: {is: volume, by foot: [closed, open], at start: closed}
          booster: {by foot: [resting, boosting], at rest: resting}
          squeezer: {loop: 1}
          needle: {loop: 2, silent when: on}
          combo: {is: amplifier}
        effects:
          press: squeezer
          boost: {booster: boosting}
          tuning: needle
        general:
          Plain: [press]
          Loud: [press, boost]
        path:
        - [guitar, swell, heel, squeezer, needle, booster, combo]
        """,
    "songs.yaml": """\
        songs:
        - title: Air
          meter: 4/4
          tempo: quarter = 120
          form: AB, 2 rounds
          scenes: {Bare: [press], Full: [press], Tune: {effects: [tuning], silent: yes}}
          order:
          - Bare: {foot: heel open}
          - Full: round 2 A
          - Bare: {at: bar 33, foot: swell closed}
        - title: Jig
          meter: 6/8
          form: AB, 2 rounds
          scenes: {Low: [press], High: [press, boost]}
          order:
          - Low
          - High: round 2 A
        - title: Reel
          meter: 4/4
          form: AB, 2 rounds
          scenes: {Late: [press]}
          order:
          - Late: round 1 B
        - title: Polka
          meter: 2/4
        """,
    "night.yaml": """\
        night: Test
        rig: rig.yaml
        songs: songs.yaml
        sets:
        - play:
          - Air
          - straight into: Jig
          - straight into: Reel
          - Polka
        - play:
          - straight into: Jig
          - straight into: Polka
          - {song: Air, leave out: Bare}
          - Jig
        if asked: [Reel]
        """,
}


def book(folder: Path, **changed: tuple[str, ...]) -> Compiled:
    """Compile the book above; ``changed`` exchanges texts of a file: ``songs=(old, new)``."""
    for name, text in FILES.items():
        text = dedent(text)
        pairs = iter(changed.get(name.removesuffix(".yaml"), ()))
        for old, new in zip(pairs, pairs, strict=True):
            assert text.count(old) == 1, old
            text = text.replace(old, new)
        (folder / name).write_text(text, encoding="utf-8")
    return whole(folder / "night.yaml")


class Printed(NamedTuple):
    """What is printed of the foot in one song: with the first note, at each press, afterwards."""

    song: str
    first: str
    moments: list[str]
    after: str


# Worked out by hand, song by song.
NIGHT = [
    # The heel is closed when the night begins, and stays as it was left from then on.
    Printed("1 Air", "", ["heel open", "", "swell closed"], ""),
    # No time after Air: its swell is opened at the first press of Jig.
    Printed("2 Jig", "", ["swell open", "booster boosting"], ""),
    # Nothing is pressed where Reel begins, and there is no time before: with the first note.
    Printed("3 Reel", "booster resting", [""], ""),
    # One of its scenes may have boosted.
    Printed("4 Polka", "", [], "booster resting"),
    # What follows a break does not follow straight on.
    Printed("5 Jig", "", ["", "booster boosting"], ""),
    Printed("6 Polka", "booster resting", [], "booster resting"),
    # Bare is left out: what it does to the heel comes with Full, where the heel is open already;
    # that the swell is closed on the final bar line falls away.
    Printed("7 Air", "", [""], ""),
    Printed("8 Jig", "", ["", "booster boosting"], "booster resting"),
    Printed("if asked Reel", "", [""], ""),
]


def test_what_is_printed_of_the_feet_through_the_night(tmp_path: Path) -> None:
    data = night_data(book(tmp_path))
    assert data.feet == {"swell": "open", "booster": "resting"}
    assert data.feet_at_start == {"heel": "closed"}
    assert [
        Printed(
            song.called,
            ", ".join(map(str, song.feet_first)),
            [", ".join(map(str, moment.feet)) for moment in song.moments],
            ", ".join(map(str, song.feet_after)),
        )
        for song in data.songs
    ] == NIGHT


def test_what_is_found_in_that_night(tmp_path: Path) -> None:
    found = [(one.code, underlined(one)) for one in book(tmp_path).findings]
    assert sorted(found) == [
        ("begins-late", "Bare"),
        ("begins-late", "round 1 B"),
        ("foot-move-lost", "Bare"),
    ]


def test_the_cue_sheet_says_what_sounds_where_nothing_is_pressed(tmp_path: Path) -> None:
    sheet = sheet_of(night_data(book(tmp_path)))
    songs = {song.number: song for one in sheet.sets for song in one.songs}
    (kept, late) = songs[3].presses
    assert (kept.where, kept.kept, kept.feet) == ("beginning", True, ("booster resting",))
    assert (late.where, late.kept) == ("round 1 B", False)
    # A song with general scenes keeps nothing: one of them is pressed.
    (first,) = songs[6].presses
    assert (first.where, first.kept, first.feet) == ("beginning", False, ("booster resting",))
    assert sheet.before == ("heel closed",)


def test_explain_says_of_general_scenes_what_the_cue_sheet_says(tmp_path: Path) -> None:
    compiled = book(tmp_path)
    song = compiled.songs[3]
    text = "\n".join(explain(compiled, Found(song, compiled.scene(song, "Plain"))))
    assert "swell\n  foot: open, as printed\n" in text
    assert "booster\n  foot: resting, as printed\n" in text
    # Where it stands hangs on the song before.
    assert "heel\n  foot: don't care (the foot decides)\n" in text


def test_a_rest_gives_way_to_what_the_song_writes(tmp_path: Path) -> None:
    compiled = book(
        tmp_path, rig=("at start: open}", "at start: open, at rest: open}"),
    )  # fmt: skip
    scene = compiled.songs[0].scenes["Bare"]
    (swell,) = [one for one in scene.wanted if (one.unit, one.quantity) == ("swell", "foot")]
    assert swell.why == "open, then closed, as printed at each moment"


OPEN_AND_SHUT = (
    "- Low\n",
    "- Low: {foot: heel open}\n",
    "- High: round 2 A",
    "- High: {at: round 2 A, foot: heel closed}",
    "scenes: {Late: [press]}",
    "scenes: {Late: [press, let in]}",
)
LET_IN = (
    "tuning: needle\n",
    "tuning: needle\n  let in: {heel: open}\n",
    "Loud: [press, boost]",
    "Loud: [press, let in]",
)


@pytest.mark.parametrize(
    ("songs", "after"),
    [
        # Between all songs the heel stands open, and there the scene with ‘let in’ wants it.
        pytest.param((), "", id="the same between all songs"),
        pytest.param(OPEN_AND_SHUT, "heel as before", id="it differs"),
    ],
)
def test_a_song_asked_for_leaves_the_feet_as_it_found_them(
    tmp_path: Path, songs: tuple[str, ...], after: str
) -> None:
    night = ("  - straight into: Jig\n  - straight into: Reel\n  - Polka\n", "  - Jig\n  - Reel\n",
             "  - straight into: Jig\n  - straight into: Polka\n", "")  # fmt: skip
    data = night_data(book(tmp_path, rig=LET_IN, songs=songs, night=night))
    (asked,) = [one for one in data.songs if not one.number]
    assert ", ".join(map(str, asked.feet_after)) == after


SWELL_CLOSED = "- Full: {at: round 2 A, foot: swell closed}"


@pytest.mark.parametrize(
    ("changed", "found"),
    [
        pytest.param(
            {"songs": ("- Full: round 2 A", SWELL_CLOSED)},
            [("silence-not-ended", "swell closed")],
            id="closed in the middle, and only closed again at the end; twice that night",
        ),
        pytest.param(
            {"songs": ("{foot: heel open}", "{cue: lamp}")},
            [("silence-not-ended", "closed")],
            id="closed when the night begins, and never opened",
        ),
        pytest.param(
            {"songs": ("foot: swell closed", "foot: heel closed")},
            [("silence-not-ended", "heel closed")],
            id="closed on the final bar line, and what follows does not open it",
        ),
        pytest.param(
            {"songs": ("{at: bar 33, foot: swell closed}", "bar 33")},
            [],
            id="nothing is closed",
        ),
        pytest.param(
            {"songs": ("- High: round 2 A", "- High: {at: round 2 A, foot: heel closed}")},
            [("silence-not-ended", "heel closed")],
            id="closed in the middle, and the songs after it are silent, too",
        ),
        pytest.param(
            {"songs": ("- Full: round 2 A", "- Tune: round 2 A")},
            [],
            id="a tuner whose scene says that silence is meant",
        ),
        pytest.param(
            {"songs": ("silent: yes", "silent: no"), "night": ("Air, leave out: Bare", "Air")},
            [],
            id="a tuner that no order presses",
        ),
        pytest.param(
            {"rig": ("Plain: [press]", "Plain: {effects: [press], silent: yes}")},
            [("not-silent", "yes")],
            id="a general scene that is heard",
        ),
        pytest.param(
            {"songs": ("- Low\n", "- Low: {silent: yes}\n")},
            [("not-silent", "yes")],
            id="a moment that is heard",
        ),
        pytest.param(
            {"rig": ("[guitar, swell, heel,", "[guitar, swell,"),
             "songs": ("- Full: round 2 A", SWELL_CLOSED)},
            [("silence-not-ended", "swell closed")],
            id="the heel does not lie in the path",
        ),
        pytest.param(
            {"songs": ("High: [press, boost]", "High: {effects: [tuning], silent: yes}",
                       "- Late: round 1 B", "- Late: bar 33")},
            [("silence-not-ended", "High")],
            id="the tuner stays in from the song before, for nothing is pressed until the end",
        ),
    ],
)  # fmt: skip
def test_silence(
    tmp_path: Path, changed: dict[str, tuple[str, ...]], found: list[tuple[str, str]]
) -> None:
    assert said(book(tmp_path, **changed).findings) == found


ABOUT_SILENCE = {"silence-not-ended", "not-silent"}


def said(findings: list[Finding]) -> list[tuple[str, str]]:
    """Return what was found of silence: code and underlined words."""
    return sorted((one.code, underlined(one)) for one in findings if one.code in ABOUT_SILENCE)


def test_what_nobody_hears_is_not_called_proven(tmp_path: Path) -> None:
    """Closed from Full on, and the air is played twice; the second time Full is all of it."""
    found = proof(book(tmp_path, songs=("- Full: round 2 A", SWELL_CLOSED)))
    assert found is not None
    # 3 + 2 + 1 + 2, then 2 + 2 + 2 + 2, and 1 for the song asked for; two of them are Full.
    assert (found.scenes, found.not_known, found.not_heard, found.feet) == (17, 0, 2, 15)
    assert found.lines[0].startswith("proven: in 15 of 17 scenes every box stands as written")
    assert "; 2 not heard" in found.lines[0]


def test_without_a_path_nothing_is_said_of_silence(tmp_path: Path) -> None:
    path = "path:\n- [guitar, swell, heel, squeezer, needle, booster, combo]\n"
    compiled = book(tmp_path, rig=(path, ""), songs=("- Full: round 2 A", SWELL_CLOSED))
    assert said(compiled.findings) == []


def test_who_deletes_an_opening_from_the_demo_is_told_where_it_was_closed(tmp_path: Path) -> None:
    songs = (DEMO / "songs.yaml").read_text(encoding="utf-8")
    for path in DEMO.glob("*.yaml"):
        (tmp_path / path.name).write_bytes(path.read_bytes())
    opening = "foot: swell open"
    at = [number for number, line in enumerate(songs.splitlines()) if opening in line]
    assert len(at) >= 4
    for number in at:
        lines = songs.splitlines()
        lines[number] = lines[number].replace(f", {opening}", "")
        (tmp_path / "songs.yaml").write_text("\n".join(lines) + "\n", encoding="utf-8")
        (finding,) = whole(tmp_path / "granary-night.yaml").findings
        assert (finding.code, underlined(finding)) == ("silence-not-ended", "swell closed")
        # It was closed at the moment before.
        assert finding.place.line == number
        assert whole(tmp_path / "parlour-night.yaml").findings == []


def test_the_final_bar_line_is_no_place_for_a_fault(tmp_path: Path) -> None:
    songs = (DEMO / "songs.yaml").read_text(encoding="utf-8")
    for path in DEMO.glob("*.yaml"):
        (tmp_path / path.name).write_bytes(path.read_bytes())
    # Garryowen: 5 rounds of 4 parts of 8 bars; what follows bar 160 is the final bar line.
    last = "      - Last: round 5 B\n\n  - title: The Rocky Road"
    assert songs.count(last) == 1
    closed = last.replace("\n\n", "\n      - Last: {at: bar 161, foot: swell closed}\n\n")
    (tmp_path / "songs.yaml").write_text(songs.replace(last, closed), encoding="utf-8")
    compiled = whole(tmp_path / "granary-night.yaml")
    assert compiled.findings == []
    (song,) = [one for one in night_data(compiled).songs if one.title == "Garryowen"]
    assert [str(move) for move in song.feet_after] == ["swell open"]


# A player who has the printed sheet alone.


class Player:
    """Puts every unit where the sheet says, and remembers where that is."""

    def __init__(self, data: NightData) -> None:
        self.data = data
        self.feet: dict[str, str] = {**data.feet, **data.feet_at_start}

    def play(self, song: SongData, *, straight: bool) -> list[dict[str, str]]:
        """Return where the feet stand from the first note, and then from each press."""
        if not straight:
            self.feet.update(self.data.feet)
        self.feet.update((move.unit, move.position) for move in song.feet_first)
        stands = [dict(self.feet)]
        for moment in song.moments:
            self.feet.update((move.unit, move.position) for move in moment.feet)
            stands.append(dict(self.feet))
        return stands

    def puts_back(self, song: SongData, before: dict[str, str]) -> None:
        for move in song.feet_after:
            known = move.position != AS_BEFORE
            self.feet[move.unit] = move.position if known else before[move.unit]


@st.composite
def books(draw: st.DrawFn) -> dict[str, str]:
    """Draw a night whose feet do as they like."""
    rest = draw(st.sampled_from(["", ", at rest: open", ", at rest: closed"]))
    start = draw(st.sampled_from(["open", "closed"]))
    feet = st.sampled_from(["", "swell open", "swell closed", "booster boosting"])
    songs, titles = [], []
    for number in range(draw(st.integers(2, 4))):
        title = f"Tune {number}"
        titles.append(title)
        lines = [f"- title: {title}", "  meter: 4/4", "  form: ABCD, 1 round"]
        if draw(st.integers(0, 4)):
            lines.append("  scenes: {One: [press], Two: [press, boost], Three: [tuning]}")
            lines.append("  order:")
            places = draw(st.lists(st.sampled_from(range(5)), min_size=1, max_size=4, unique=True))
            for place in sorted(places):
                at = f"round 1 {'ABCD'[place]}" if place < 4 else "bar 33"
                scene = draw(st.sampled_from(["One", "Two", "Three"]))
                foot = draw(feet) if scene != "Two" else draw(st.sampled_from(["", "swell open"]))
                lines.append(f"  - {scene}: {{at: {at}{', foot: ' + foot if foot else ''}}}")
        songs += lines
    played = []
    for _ in range(draw(st.integers(1, 5))):
        title = draw(st.sampled_from(titles))
        key = draw(st.sampled_from(["song", "song", "straight into"]))
        out = draw(st.sampled_from(["", "", "", ", leave out: One", ", leave out: Three"]))
        own = "\n".join(songs).split(f"- title: {title}\n")[1].split("- title:")[0]
        out = out if out.removeprefix(", leave out: ") in own and "scenes" in own else ""
        played.append(f"- {{{key}: {title}{out}}}")
    break_at = draw(st.integers(0, len(played)))
    sets = [one for one in (played[:break_at], played[break_at:]) if one]
    rig = dedent(FILES["rig.yaml"])
    rig = rig.replace("at start: open}", f"at start: {start}{rest}}}")
    rig = rig.replace("at start: closed}", "at start: open}", 1 if start == "open" else 0)
    return {
        "rig.yaml": rig.replace("swell, heel,", "swell,").replace("  heel: ", "  unused: "),
        "songs.yaml": "songs:\n" + "\n".join(songs) + "\n",
        "night.yaml": "night: Test\nrig: rig.yaml\nsongs: songs.yaml\nsets:\n"
        + "".join(f"- play:\n{indent(chr(10).join(one), '  ')}\n" for one in sets)
        + f"if asked: [{titles[0]}]\n",
    }


@settings(max_examples=150, deadline=None)
@given(books(), st.data())
def test_who_does_as_printed_stands_where_the_proof_has_it(
    files: dict[str, str], data: st.DataObject
) -> None:
    with tempfile.TemporaryDirectory() as folder:
        for name, text in (FILES | files).items():
            Path(folder, name).write_text(dedent(text), encoding="utf-8")
        compiled = whole(Path(folder, "night.yaml"))
    night = night_data(compiled)
    player = Player(night)
    *songs, asked = night.songs
    first_of_set = {one.songs[0] for one in night.sets}
    silent: dict[str, bool] = {}
    loaded = ""
    for at, song in enumerate(songs):
        straight = song.straight_into and song.number not in first_of_set
        if not straight and at and data.draw(st.booleans()):
            before = dict(player.feet)
            player.play(asked, straight=False)
            # One of its scenes was pressed, and that may have moved what it needs.
            player.feet["booster"] = data.draw(st.sampled_from(["resting", "boosting"]))
            player.puts_back(asked, before)
        before = dict(player.feet)
        stands = player.play(song, straight=straight)
        for moment, feet in zip(song.moments, stands[1:], strict=True):
            for one in night.scene(song.owner, moment.scene).units:
                if one.quantity == "foot" and one.value is not None:
                    assert feet[one.unit] == one.value
        # Nobody hears a closed swell, or the tuner; what is done on the final bar line is over.
        ends = [(loaded if song.moments and song.begins_late else "", stands[0])]
        ends += [
            (moment.scene, feet)
            for moment, feet in zip(song.moments, stands[1:], strict=True)
            if moment.bars is not None and moment.bars < 32
        ]
        if len(ends) == 1 and song.moments and not song.begins_late:
            ends = []
        silent[song.called] = bool(ends) and (
            ends[-1][0] == "Three" or ends[-1][1].get("swell") == "closed"
        )
        loaded = song.moments[-1].scene if song.moments else ""
        if song.general and data.draw(st.booleans()):
            player.feet["booster"] = "boosting"
        player.puts_back(song, before)
        following = songs[at + 1 : at + 2]
        if not any(one.straight_into and one.number not in first_of_set for one in following):
            assert player.feet.items() >= night.feet.items()
    listener = Listener(compiled.target, compiled.signal)
    heard = {one.song.called for one in listener.not_ended(compiled.songs)}
    assert {called for called, nothing in silent.items() if nothing} == {
        called for called in heard if not called.startswith("if asked")
    }
