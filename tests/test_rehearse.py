"""A night walked through: each key, each way to step, silence, clock, and both interfaces."""

from __future__ import annotations

import os
import pty
import random
import re
import shlex
import signal
import subprocess
import sys
import unicodedata
from collections.abc import Sequence
from copy import copy
from fractions import Fraction
from functools import cache
from itertools import pairwise
from pathlib import Path
from typing import Any

import pytest
from click.testing import CliRunner
from hypothesis import given, settings
from hypothesis import strategies as st

from setwright.compiler.cli import main
from setwright.compiler.compiled import Compiled
from setwright.compiler.midi import encode
from setwright.compiler.outputs.collect import night_data
from setwright.compiler.outputs.cued import Sheet
from setwright.compiler.outputs.cues import sheet_of
from setwright.compiler.sending.port.ear import Dropped, Heard
from setwright.compiler.sending.port.line import News, Restarted
from setwright.compiler.sending.port.problem import Problem
from setwright.compiler.sending.port.schedule import Begun, Bundle, Done, Skipped
from setwright.compiler.sending.rehearsing.deliveries import Deliveries
from setwright.compiler.sending.rehearsing.footsteps import Feet, Trigger, parse_trigger
from setwright.compiler.sending.rehearsing.rehearsal import Rehearsal
from setwright.compiler.sending.rehearsing.steps import Step, every_pair, every_scene
from setwright.compiler.sending.rehearsing.walk import KEYS, Auto, Walk
from setwright.compiler.sending.rehearsing.whereto import whereto
from tests.conftest import DEMO
from tests.mini import write_night
from tests.nights import whole
from tests.stage.draw import draw
from tests.test_cli import setwright

GRANARY, PARLOUR = NIGHTS = ("granary-night.yaml", "parlour-night.yaml")
VANISHED = Problem("port-vanished", "the port went away", "plug it in")


@cache
def demo(night: str) -> Compiled:
    return whole(DEMO / night)


@cache
def sheet(night: str) -> Sheet:
    return sheet_of(night_data(demo(night)))


class Fake:
    """An output that remembers; it tells nothing by itself."""

    port, real_time = "box", True

    def __init__(self) -> None:
        self.sent: list[bytes] = []
        self.settles: list[float] = []
        self.clocks: list[tuple[Fraction | None, bool, bool]] = []
        self.news: list[News] = []
        self.closed = False

    def send(self, bundles: Sequence[Bundle], *, settles: float = 0.0) -> int:
        assert not self.closed
        self.sent.append(b"".join(one for _, messages in bundles for one in messages))
        self.settles.append(settles)
        return len(self.sent)

    def clock(self, bpm: Fraction | None, *, start: bool = False, stop: bool = False) -> None:
        assert not self.closed
        self.clocks.append((bpm, start, stop))

    def get(self, timeout: float) -> News | None:
        return self.news.pop(0) if self.news else None

    def close(self) -> Problem | None:
        self.closed = True
        return None


@cache
def _read(night: str) -> Rehearsal:
    return Rehearsal(demo(night))


def rehearsal_of(night: str | Compiled) -> Rehearsal:
    """Return a rehearsal at its beginning; the demo's cue sheets are read but once."""
    if isinstance(night, Compiled):
        return Rehearsal(night)
    fresh = copy(_read(night))
    fresh.resent, fresh._feet = {}, {}
    return fresh


def walk_of(
    night: str | Compiled, *, direct: bool = False, line: Fake | None = None, **others: Any
) -> tuple[Walk, Fake]:
    line = line or Fake()
    rehearsal = rehearsal_of(night)
    rehearsal.direct = direct
    walk = Walk(rehearsal, Deliveries(line), **others)
    walk.begin(0.0)
    return walk, line


def facts(walk: Walk, label: str) -> list[str]:
    return [one.text for one in walk.facts() if one.label == label]


# The walk is the cue sheet.


def printed(of: Sheet) -> list[tuple[str, str, tuple[str, ...]]]:
    """Return title, scene and feet of every line of the cue sheet that a person would play."""
    lines = []
    cards = [(card, str(card.number)) for part in of.sets for card in part.songs]
    cards += [(card, "") for card in of.asked]
    for card, number in cards:
        title = f"{number}. {card.title}" if number else card.title
        lines += [(title, press.scene, press.feet) for press in card.presses]
        lines += [(title, choice.scene, choice.feet) for choice in card.choices]
    return lines


@pytest.mark.parametrize("night", NIGHTS)
def test_the_walk_is_the_cue_sheet(night: str) -> None:
    rehearsal = rehearsal_of(night)
    walked = []
    for _ in range(len(rehearsal.steps)):
        deed = rehearsal.next()
        assert deed.step is not None
        walked.append((deed.step.title, deed.step.scene, deed.step.feet))
        if deed.step.at:
            feet = [one for one in deed.by_hand if one.startswith("foot: ")]
            assert feet == [f"foot: {one}" for one in deed.step.feet]
    assert walked == printed(sheet(night))
    assert rehearsal.following is None
    assert rehearsal.next().word == "that was the last step of the night"
    assert rehearsal.next().planned is None


def test_what_the_foot_moved_goes_back_after_the_song() -> None:
    """The Lark in the Morning ends with the booster on; the sheet puts it back at the next."""
    rehearsal = rehearsal_of(PARLOUR)
    last = next(
        one
        for one in rehearsal.steps
        if one.title == "8. Off To California" and one.scene == "Last"
    )
    rehearsal.go(last.at)
    deed = rehearsal.next()
    assert deed.step is not None
    assert deed.step.title == "9. The Harvest Home"
    assert deed.by_hand == ("after the song before: booster resting", "take steel, drop D")


def test_whoever_comes_from_elsewhere_is_told_where_everything_stands() -> None:
    rehearsal = rehearsal_of(GRANARY)
    at = whereto(rehearsal.steps, "swallow / turn", None)
    assert isinstance(at, int)
    assert rehearsal.go(at).by_hand == ("guitar: steel, capo 2", "foot: swell open")
    assert rehearsal.back().by_hand == ("guitar: steel, capo 2", "foot: swell open")
    start = whereto(rehearsal.steps, "swallow / start", None)
    assert isinstance(start, int)
    assert rehearsal.go(start).by_hand == ("guitar: steel, capo 2", "foot: swell closed")
    # And who comes in order hears of what changes alone.
    assert rehearsal.next().by_hand == ("foot: swell open",)


@pytest.mark.parametrize("direct", [False, True])
@pytest.mark.parametrize("night", NIGHTS)
def test_a_whole_night_sends_every_scene_whole(night: str, direct: bool) -> None:
    """The bytes are taken from night.json's account: recall or direct, message by message."""
    data = night_data(demo(night))
    owners = {song.called: song.owner for song in data.songs}
    walk, line = walk_of(night, direct=direct)
    for step in walk.rehearsal.steps:
        before = len(line.sent)
        walk.press("next", 0.0)
        if step.stay:
            assert len(line.sent) == before
            continue
        assert step.found is not None
        scene = data.scene(owners[step.found.song.called], step.scene)
        route = scene.direct if direct else scene.recall
        assert route is not None
        expected = bytes.fromhex("".join(one.hex for one in route.messages))
        assert line.sent[before:] == ([expected] if expected else [])
    assert any(step.stay for step in walk.rehearsal.steps)


def test_a_preset_that_is_called_sounds_once_it_has_sent_its_own() -> None:
    walk, line = walk_of(GRANARY)
    step = next(one for one in walk.rehearsal.steps if one.scene == "Blaze")
    walk.press("go", 0.0, "2/blaze")
    assert step.found is not None
    # Bank select and program change: five bytes of 0.32 ms; then the preset's own messages.
    assert line.settles == [pytest.approx(5 * 0.32 + float(step.found.scene.lowered.stored.sound))]


@cache
def message_lists(night: str) -> set[bytes]:
    """Return the whole message list of every scene, by both routes."""
    compiled = demo(night)
    return {
        b"".join(encode(one.command.message) for one in scene.lowered.direct.commands)
        for scene in compiled.scenes.values()
    } | {
        b"".join(encode(one.message) for one in compiled.recall_of(key) or ())
        for key in compiled.scenes
    }


NAMES = [key.name for key in KEYS if key.name != "end"]


@settings(max_examples=60, deadline=None)
@given(
    st.sampled_from(NIGHTS),
    st.lists(
        st.tuples(
            st.sampled_from(NAMES),
            st.text(max_size=6),
            st.sampled_from(["", "tell", "lose", "skip"]),
        ),
        max_size=40,
    ),
    st.booleans(),
)
def test_any_keys_in_any_order(night: str, keys: list[tuple[str, str, str]], clocked: bool) -> None:
    """Nothing fails, and whatever is sent is all of one scene, or a silence without mode messages."""
    walk, line = walk_of(night, clocked=clocked, start=clocked)
    whole_lists = message_lists(night)
    for key, text, news in keys:
        before = len(line.sent)
        walk.press(key, 0.0, text)
        walk.tick(0.0)
        for sent in line.sent[before:]:
            assert sent in whole_lists if key != "silence" else _is_quiet(sent)
        number = len(line.sent)
        told: dict[str, list[News]] = {
            "": [],
            "tell": [Begun(number, 1.0), Done(number, 1, 2.0)],
            "lose": [VANISHED, Restarted(VANISHED)],
            "skip": [Skipped(number)],
        }
        for one in told[news]:
            walk.hear(one)
        at = walk.rehearsal.at
        assert at is None or 0 <= at < len(walk.rehearsal.steps)
        assert not any(_moves_the_cursor(one.text) for one in walk.facts())
    walk.close()
    assert walk.summary()[0].startswith("Winter dance")


def _moves_the_cursor(text: str) -> bool:
    """Tell whether there are controls, formats or separators of lines in it (Unicode)."""
    return bool({unicodedata.category(one) for one in text} & {"Cc", "Cf", "Zl", "Zp"})


def _is_quiet(sent: bytes) -> bool:
    """Tell whether there is no mode message (controls 120 to 127) in ``sent``, and no note."""
    return not any(
        (one & 0xF0 == 0xB0 and sent[at + 1] >= 120) or one & 0xF0 in {0x80, 0x90}
        for at, one in enumerate(sent)
        if one >= 0x80
    )


# By itself.


@pytest.mark.parametrize("night", NIGHTS)
def test_by_itself_every_scene_comes_once(night: str) -> None:
    steps = rehearsal_of(night).steps
    way = every_scene(steps)
    keys = [_key(steps[at]) for at in way]
    assert len(keys) == len(set(keys))
    assert set(keys) == {_key(step) for step in steps}
    assert way == sorted(way)


@pytest.mark.parametrize("night", NIGHTS)
def test_by_itself_every_change_comes_once(night: str) -> None:
    steps = rehearsal_of(night).steps
    wanted = {(_key(one), _key(two)) for one, two in pairwise(steps) if _key(one) != _key(two)}
    way = every_pair(steps)
    gone = [(_key(steps[one]), _key(steps[two])) for one, two in pairwise(way)]
    assert wanted <= set(gone)
    assert all(gone.count(pair) == 1 for pair in wanted) or len(gone) < 2 * len(wanted)


def _key(step: Step) -> object:
    assert step.found is not None
    return step.found.scene.key


def test_a_walk_by_itself_stops_at_any_key() -> None:
    walk, line = walk_of(GRANARY, auto=Auto(every_scene(rehearsal_of(GRANARY).steps), 4.0))
    for now in (0.0, 0.1, 3.9, 4.0, 4.1, 8.0):
        walk.tick(now)
    assert len(line.sent) == 3
    walk.press("next", 8.5)
    assert len(line.sent) == 3
    assert walk.auto is None
    walk.tick(12.0)
    assert len(line.sent) == 3
    assert facts(walk, "word") == ["stopped; go on by hand"]
    walk.press("next", 13.0)
    assert len(line.sent) == 4


@pytest.mark.parametrize(
    ("news", "said"),
    [
        ([], "the end came before it had begun"),
        ([Begun(1, 0.0)], "the rig is between two scenes"),
        ([Begun(1, 0.0), Done(1, 2, 0.1)], ""),
        ([Begun(1, 0.0), Problem("port-vanished", "it went away", "see to it")], "nobody knows"),
    ],
)
def test_an_end_in_the_middle_of_a_scene_is_said(news: list[News], said: str) -> None:
    """A slow unit may need longer than the end waits, and then the rest is not sent."""
    walk, line = walk_of(GRANARY)
    walk.press("next", 0.0)
    line.news += news
    walk.close()
    ends = ("the end came", "between two", "nobody knows")
    found = [one for one in walk.summary() if any(end in one for end in ends)]
    assert len(found) == bool(said), found
    assert said in "".join(found)


def test_a_walk_by_itself_ends() -> None:
    walk, line = walk_of(GRANARY, auto=Auto([0, 1], 1.0))
    for now in range(5):
        walk.tick(float(now))
    assert len(line.sent) == 2
    assert walk.auto is None
    assert facts(walk, "word") == ["the end: every step of the way was sent"]


# Where to.

WHERETO = [
    ("2", "2. The Swallow's Tail", "Start"),
    ("02", "2. The Swallow's Tail", "Start"),
    ("minstrel", "8. The Minstrel Boy", "Start"),
    ("THE MINSTREL BOY", "8. The Minstrel Boy", "Start"),
    ("2 blaze", "2. The Swallow's Tail", "Blaze"),
    ("swallow/bl", "2. The Swallow's Tail", "Blaze"),
    ("hush", "2. The Swallow's Tail", "Hush"),
    ("cuckoo", "The Cuckoo's Nest", "Plain"),
    ("bluehill", "11. The Boys of Bluehill", "Start"),
    ("25", "25. The Boys of Bluehill", "Start"),
    ("walk", "3. Drowsy Maggie", "Walk"),
]


@pytest.mark.parametrize(("typed", "title", "scene"), WHERETO)
def test_whereto(typed: str, title: str, scene: str) -> None:
    steps = rehearsal_of(GRANARY).steps
    at = next(one.at for one in steps if one.title == "2. The Swallow's Tail")
    found = whereto(steps, typed, at)
    assert isinstance(found, int), found
    assert (steps[found].title, steps[found].scene) == (title, scene)


@pytest.mark.parametrize(
    ("typed", "says"),
    [
        ("", "type a song's number"),
        ("  ", "type a song's number"),
        ("99", "there is no song 99 tonight"),
        ("the", "several are called so: The Swallow's Tail, The Harvest Home"),
        ("xyzzy", "nothing tonight is called ‘xyzzy’"),
        ("swalow", "nothing tonight is called ‘swalow’"),
    ],
)
def test_whereto_nowhere(typed: str, says: str) -> None:
    found = whereto(rehearsal_of(GRANARY).steps, typed, None)
    assert isinstance(found, str)
    assert found.startswith(says)


# Pedals.


@pytest.mark.parametrize(
    ("text", "means"),
    [
        ("control 64", Trigger("control", 64)),
        ("CC 64", Trigger("control", 64)),
        (" Program  3  channel 2 ", Trigger("program", 3, 2)),
        ("note", Trigger("note on")),
        ("note 60 channel 16", Trigger("note on", 60, 16)),
        ("control channel 3", Trigger("control", None, 3)),
    ],
)
def test_a_trigger_is_read(text: str, means: Trigger) -> None:
    assert parse_trigger(text) == means


@pytest.mark.parametrize(
    ("text", "code"),
    [
        ("", "not-a-trigger"),
        ("pedal", "not-a-trigger"),
        ("control 64 64", "not-a-trigger"),
        ("control 120", "trigger-out-of-range"),  # a mode message
        ("note 128", "trigger-out-of-range"),
        ("note 60 channel 0", "trigger-out-of-range"),
        ("note 60 channel 17", "trigger-out-of-range"),
        ("note -1", "not-a-trigger"),
        ("\x1b[31m", "not-a-trigger"),
    ],
)
def test_a_trigger_that_is_none(text: str, code: str) -> None:
    problem = parse_trigger(text)
    assert isinstance(problem, Problem)
    assert problem.code == code
    assert str(problem).isprintable()


# By hand, from MIDI 1.0 Detailed Specification 4.2.1, tables I and II, and running status.
PACKETS = [
    ("90 3c 40", "next"),
    ("90 3c 00", ""),  # velocity 0 is a note off
    ("80 3c 40", ""),
    ("c5 2a", "next"),
    ("b0 40 7f", "next"),
    ("b0 40 40", "next"),
    ("b0 40 3f", ""),
    ("b0 7b 7f", ""),  # a mode message
    ("e0 00 40", ""),
    ("f8", ""),
    ("90 3c 40 3c 00 3e 40", "next next"),  # running status
    ("90 f8 3c f8 40", "next"),  # real time anywhere
    ("90 3c f0 40 f7 40", ""),  # exclusive ends what was begun
    ("3c 40", ""),  # data without a status
]


@pytest.mark.parametrize(("packet", "does"), PACKETS)
def test_what_steps_on(packet: str, does: str) -> None:
    assert Feet().steps(0.0, bytes.fromhex(packet)) == does.split()


@settings(deadline=None)
@given(st.lists(st.sampled_from([one for one, _ in PACKETS if one != "3c 40"])), st.randoms())
def test_a_stream_may_come_in_any_pieces(packets: list[str], rand: random.Random) -> None:
    stream = bytes.fromhex("".join(packets))
    at_once, feet = Feet().steps(0.0, stream), Feet()
    pieces: list[str] = []
    while stream:
        size = rand.randint(1, len(stream))
        pieces, stream = [*pieces, *feet.steps(0.0, stream[:size])], stream[size:]
    assert pieces == at_once


@given(st.binary())
def test_garbage_steps_nowhere_that_fails(data: bytes) -> None:
    assert set(Feet(back=Trigger("note on", 1)).steps(0.0, data)) <= {"next", "back"}


def test_one_pedal_on_and_one_back() -> None:
    feet = Feet(Trigger("control", 64), Trigger("control", 65, 2))
    assert feet.steps(0.0, bytes.fromhex("b0 40 7f b1 41 7f b0 41 7f c0 01")) == ["next", "back"]
    # What steps back does not step on, even where anything else does.
    assert Feet(back=Trigger("program", 1)).steps(0.0, bytes.fromhex("c0 01 c0 02")) == [
        "back",
        "next",
    ]


def test_a_pedal_waits_for_the_caution() -> None:
    line = Fake()
    walk = Walk(rehearsal_of(GRANARY), Deliveries(line), Feet(), pedal="pedal")
    assert facts(walk, "pedal") == ["‘pedal’ is there"]
    walk.step_by_foot(Heard(1.0, b"\xc0\x01"))
    assert not line.sent
    walk.begin(2.0)
    walk.step_by_foot(Heard(3.0, b"\xc0\x01"))
    assert len(line.sent) == 1
    walk.step_by_foot(Dropped(3))
    walk.step_by_foot(VANISHED)
    assert facts(walk, "pedal") == ["the port went away: plug it in"]
    assert [one.partition(" ")[2][9:] for one in walk.summary()[1:]] == [
        "3 packets of the pedal came too fast",
        "the pedal: the port went away: plug it in",
    ]


# The clock.

SONGS = """\
songs:
- title: Tune
  meter: 4/4
  tempo: quarter = 120
  form: AB, 2 rounds
  scenes: {Low: [near], High: {effects: [near], tempo: quarter = 60}, End: [near]}
  order: [Low, {High: round 1 B}, {End: round 2 A}]
- title: Air
  tempo: free
  scenes: {Bare: [near]}
- title: Jig
  meter: 6/8
  tempo: dotted quarter = 100
  form: A, 2 rounds
  scenes: {Start: [near], Last: []}
  order: [Start, {Last: round 2 A}]
- title: Plain
  scenes: {Only: [near]}
- title: Reel
  meter: 4/4
  tempo: quarter = 150
  scenes: {Go: [near]}
"""
UNIT = "box: {channel: 1, switched by: {cc: 28, on: 127, off: 0}, acts only on: what is declared}"


@pytest.fixture(scope="module")
def tempos(tmp_path_factory: pytest.TempPathFactory) -> Compiled:
    folder = tmp_path_factory.mktemp("tempos")
    night = write_night(folder, units=UNIT, effects="near: box", songs=SONGS)
    text = night.read_text(encoding="utf-8").replace("[Tune]", "[Tune, Air, Jig, Plain, Reel]")
    night.write_text(text, encoding="utf-8")
    return whole(night)


# Quarter notes a minute by hand: dotted quarter = 100 is 150 quarters.
PLAIN_CLOCK = [
    ("120", False, False),
    ("60", False, False),
    ("120", False, False),
    (None, False, False),
    ("150", False, False),
    (None, False, False),
    ("150", False, False),
]
WITH_START = [
    ("120", True, False),
    ("60", False, False),
    ("120", False, False),
    (None, False, True),
    ("150", True, False),
    (None, False, True),
    ("150", True, False),
]


@pytest.mark.parametrize(("start", "expected"), [(False, PLAIN_CLOCK), (True, WITH_START)])
def test_the_clock_follows_the_songs(
    start: bool, expected: list[tuple[str | None, bool, bool]], tempos: Compiled
) -> None:
    walk, line = walk_of(tempos, clocked=True, start=start)
    said = []
    for _ in walk.rehearsal.steps:
        walk.press("next", 0.0)
        said += facts(walk, "route")
    assert line.clocks == [
        (None if bpm is None else Fraction(bpm), begin, end) for bpm, begin, end in expected
    ]
    end = ", with start and stop" if start else ""
    assert [one.partition("clock: ")[2] for one in said] == [
        f"quarter = 120{end}",
        f"quarter = 60{end}",
        f"quarter = 120{end}",
        "none here: the tempo is free",
        f"dotted quarter = 100 (quarter = 150){end}",
        f"dotted quarter = 100 (quarter = 150){end}",
        "none here: the song has no tempo",
        f"quarter = 150{end}",
    ]


def test_each_song_starts_its_clock_anew(tempos: Compiled) -> None:
    walk, line = walk_of(tempos, clocked=True, start=True)
    walk.press("go", 0.0, "3")
    walk.press("go", 0.0, "5")
    jig = Fraction(150)
    assert line.clocks == [(jig, True, False), (None, False, True), (jig, True, False)]
    walk.press("again", 0.0)
    assert len(line.clocks) == 3
    walk.close()
    assert line.clocks[3:] == [(None, False, True)]


def test_the_clock_is_switched_by_a_key(tempos: Compiled) -> None:
    walk, line = walk_of(tempos)
    walk.press("next", 0.0)
    assert line.clocks == []
    walk.press("clock", 0.0)
    assert line.clocks == [(Fraction(120), False, False)]
    walk.press("clock", 0.0)
    assert line.clocks[1:] == [(None, False, False)]
    walk.press("next", 0.0)
    assert len(line.clocks) == 2


# Silence.

SILENCES = [
    # A tuner that silences while it is on is switched on, and is no effect to bypass.
    (
        """
        tuner: {channel: 3, switched by: {cc: 10, on: 127, off: 0}, silent when: [on], acts only on: what is declared}
        echo: {channel: 4, switched by: {cc: 11, on: 1, off: 2}, acts only on: what is declared}
        """,
        "far: echo",
        ["b2 0a 7f", "b3 0b 02"],
        "muted: tuner",
        [],
    ),
    # A program at rest is a bypass; the pedal and the amplifier are left to the player.
    (
        """
        many: {channel: 5, display: 0 to 9, programs: {through: 0, big: 3}, at rest: through, acts only on: what is declared}
        swell: {is: volume, by foot: [closed, open], at start: open}
        """,
        "far: {many: big}",
        ["c4 00"],
        "bypassed: many; no message can mute the guitar on this rig",
        ["foot: swell closed", "turn down ‘amplifier’: the guitar still comes there"],
    ),
    # A flip can be told nothing, a loop belongs to the switcher.
    (
        """
        flipper: {channel: 6, switched by: {cc: 12, any value flips: yes}, acts only on: what is declared}
        fuzz: {loop: 1}
        """,
        "far: fuzz",
        [],
        "no message can mute the guitar on this rig",
        [
            "turn down ‘amplifier’: the guitar still comes there",
            "no message from here bypasses flipper and fuzz",
        ],
    ),
    # What the switcher alone can silence is the player's.
    (
        """
        tuner: {loop: 3, silent when: [on]}
        killer: {relay: {number: 1, open: through, closed: dead}, silent when: [dead]}
        fuzz: {loop: 1}
        """,
        "far: fuzz",
        [],
        "no message can mute the guitar on this rig",
        [
            "loop 3 in: nothing comes through tuner",
            "killer dead, by its relay",
            "turn down ‘amplifier’: the guitar still comes there",
            "no message from here bypasses fuzz",
        ],
    ),
    # A program in which nothing comes through mutes.
    (
        """
        many: {channel: 5, display: 0 to 9, programs: {off air: 7, big: 3}, silent when: [off air], acts only on: what is declared}
        """,
        "far: {many: big}",
        ["c4 07"],
        "muted: many",
        [],
    ),
]


@pytest.mark.parametrize(("units", "effects", "sent", "word", "by_hand"), SILENCES)
def test_silence(
    units: str, effects: str, sent: list[str], word: str, by_hand: list[str], tmp_path: Path
) -> None:
    compiled = whole(write_night(tmp_path, units=units, effects=effects, scenes="A: [far]"))
    walk, line = walk_of(compiled, direct=True)
    walk.press("next", 0.0)
    before = len(line.sent)
    walk.press("silence", 0.0)
    assert [one.hex(" ") for one in line.sent[before:]] == ([" ".join(sent)] if sent else [])
    assert facts(walk, "word") == [word]
    assert facts(walk, "by hand") == by_hand
    # The scene is sent again whole, though one stays at its step.
    walk.press("again", 0.0)
    assert walk.rehearsal.resent == {"1. Tune / A": 1}


def test_a_kept_switch_that_is_silent_is_called(tmp_path: Path) -> None:
    night = write_night(
        tmp_path,
        units="fuzz: {loop: 1}",
        effects="near: fuzz",
        scenes="A: [near]",
        switcher="switcher: board\nbanks: 10\nswitches: 5\nloops: 4\nrecalled on channel: 16\n"
        "each preset stores: {programs: 4, controls: 4}\n",
    )
    rig = tmp_path / "rig.yaml"
    text = rig.read_text(encoding="utf-8").replace(
        "switcher: board.yaml",
        "switcher: {file: board.yaml, banks: 3 to 9, every bank: "
        "{switch 5: {name: Mute, effects: [], silent: yes}, switch 4: Tuner}}",
    )
    rig.write_text(text, encoding="utf-8")
    walk, line = walk_of(whole(night))
    walk.press("next", 0.0)
    walk.press("silence", 0.0)
    # Bank 3 of five switches each, the fifth: program 2 × 5 + 4 = 14.
    assert [one.hex(" ") for one in line.sent] == ["cf 0a", "cf 0e"]
    assert facts(walk, "word") == ["switch 5 (Mute) is loaded, which the rig says is silent"]
    assert (
        "switch 4 (Tuner) is kept in every bank; the rig does not say that it is silent"
        in facts(walk, "by hand")
    )


# Routes.


def test_the_direct_route_leaves_loops_and_relays_to_the_player() -> None:
    walk, line = walk_of(GRANARY)
    walk.press("go", 0.0, "2 turn")
    walk.press("route", 0.0)
    assert len(line.sent) == 1  # nothing is sent by it
    walk.press("again", 0.0)
    # The demo by hand: room in loop 6, crunch on relay 1; the computer's line ends at the switcher.
    assert facts(walk, "by hand")[2:] == [
        "no cable of this rig leads from the computer to echo and barn",
        "loops in: 6 barn; all others out",
        "relays closed: 1 oak amplifier; all others open",
    ]
    walk.press("route", 0.0)
    assert facts(walk, "route") == ["stored; clock: off"]


def test_where_presets_cannot_be_called_there_is_only_the_direct_route(tempos: Compiled) -> None:
    walk, line = walk_of(tempos)
    walk.press("next", 0.0)
    assert not line.sent
    assert "the switcher obeys no programs over MIDI" in facts(walk, "word")[0]
    walk.press("route", 0.0)
    walk.press("again", 0.0)
    assert [one.hex(" ") for one in line.sent] == ["b0 1c 7f"]
    walk.press("route", 0.0)
    assert facts(walk, "word")[0].startswith("there is only the direct route: ")


def test_the_only_route_is_said_at_once(tmp_path: Path) -> None:
    night = write_night(tmp_path, units=UNIT, effects="near: box", scenes="A: [near]")
    ended = rehearse(str(night), "--dry-run", typed="n\ngo 9\ngo 9\n")
    lines = ended.stdout.splitlines()
    assert any(one.startswith("word: there is only the direct route: ") for one in lines)
    assert "message: b0 1c 7f  box: switch on (channel 1 control 28 value 127)" in lines
    assert lines.count("word: there is no song 9 tonight") == 2


# What became of what was sent.


def test_what_the_line_tells_is_said() -> None:
    walk, _ = walk_of(GRANARY)
    out = walk.out
    out.now, out.wall = lambda: 100.0, lambda: 1000.25
    walk.press("next", 99.0)
    assert facts(walk, "sent") == ["waits for the one before it"]
    walk.hear(Begun(1, 99.0025))
    assert "2.5 ms after the key" in facts(walk, "sent")[0]
    assert facts(walk, "sent")[0].endswith("; the rest is on its way")
    assert facts(walk, "played") == ["0 of 99 scenes"]
    walk.hear(Done(1, 2, 99.003))
    assert facts(walk, "sent")[0].startswith("2 messages at ")
    assert ":39.252, 2.5 ms after the key; sound 3 ms later" in facts(walk, "sent")[0]
    assert facts(walk, "played") == ["1 of 99 scenes"]
    walk.press("next", 99.1)
    walk.press("next", 99.2)
    walk.hear(Skipped(2))
    assert facts(walk, "sent") == ["waits for the one before it"]
    walk.hear(VANISHED)
    assert facts(walk, "sent") == ["waits until the port is back"]
    assert facts(walk, "port")[0].startswith("‘box’ LOST: the port went away: plug it in")
    assert walk.code == 2
    walk.hear(Restarted(VANISHED))
    walk.hear(Begun(3, 99.5))
    walk.hear(Done(3, 2, 99.6))
    assert facts(walk, "played") == ["2 of 99 scenes"]
    assert "back since" in facts(walk, "port")[0]
    assert walk.code == 0
    walk.hear(Problem("message-refused", "f0 is no whole channel message", "none is sent"))
    assert walk.code == 0
    said = walk.summary()
    assert said[0] == "Winter dance on Granary: 2 of 99 scenes played"
    assert [one[:9] for one in said[1:]] == ["problem: "] * 3 + ["skipped: "]


def test_no_real_time_priority_has_its_word() -> None:
    walk, line = walk_of(GRANARY)
    assert facts(walk, "port") == ["‘box’ is there"]
    line.real_time = False
    assert facts(walk, "port") == [
        "‘box’ is there; no real-time priority here, so a clock may be late"
    ]


# The command.

COMMAND = [sys.executable, "-m", "setwright.compiler", "rehearse"]
TWO = "A: [near]\nB: []"


def rehearse(
    *words: str, typed: str = "", env: dict[str, str] | None = None
) -> subprocess.CompletedProcess[str]:
    return subprocess.run(
        [*COMMAND, *words],
        input=typed,
        capture_output=True,
        encoding="utf-8",
        cwd=DEMO,
        env={**os.environ, "PYTHONIOENCODING": "utf-8", **(env or {})},
        check=False,
        timeout=60,
    )


def test_plain_lines() -> None:
    ended = rehearse(
        "granary-night.yaml",
        "--dry-run",
        typed="\nnext\nfoo\ngo\ngo 2 turn\nr\ns\nhelp\n\x1b[31m\nq\nnext\n",
    )
    assert (ended.returncode, ended.stderr) == (0, "")
    lines = ended.stdout.splitlines()
    assert lines[0].startswith("caution: a scene can be much louder")
    assert lines[1].startswith("caution: never switch a valve amplifier on without")
    assert lines[2] == "Winter dance on Granary: type help for the words, next to begin"
    now = [one for one in lines if one.startswith("now: ")]
    assert now == [
        "now: nothing has been sent yet",
        "now: 1. Haste to the Wedding / Start",
        "now: 1. Haste to the Wedding / Lift",
        "now: 2. The Swallow's Tail / Turn",
        "now: 2. The Swallow's Tail / Turn",
        "now: SILENCE, at 2. The Swallow's Tail / Turn",
    ]
    assert "unknown: ‘foo’; type help for the words" in lines
    assert "type go and what to go to, for example: go 7" in lines
    assert "next or n: step on" in lines
    assert "unknown: ‘\\x1b[31m’; type help for the words" in lines
    assert "message: cf 00  switcher: load bank 1, switch 1 (channel 16 program 0)" in lines
    assert lines[-2:] == [
        "Winter dance on Granary: 3 of 99 scenes played",
        "sent again: 2. The Swallow's Tail / Turn",
    ]


def test_a_list_of_words_is_a_whole_walk(tmp_path: Path) -> None:
    """From a pipe each word waits for what the one before has sent: no scene is skipped."""
    report = tmp_path / "report.txt"
    ended = rehearse(
        "parlour-night.yaml", "--dry-run", "--report", str(report), typed="next\n" * 150
    )
    assert ended.returncode == 0
    assert (
        ended.stdout.splitlines()[-1]
        == "Winter dance in the parlour on Parlour: 91 of 91 scenes played"
    )
    assert report.read_text(encoding="utf-8").splitlines() == ended.stdout.splitlines()[-1:]
    assert [one.name for one in tmp_path.iterdir()] == ["report.txt"]


def test_what_no_person_would_type() -> None:
    for typed in (b"n\xff\xfe\n\n", b"\x00\x1b[2J\n\n", b"\n" + b"x" * 10_000 + b"\n"):
        ended = subprocess.run(
            [*COMMAND, GRANARY, "--dry-run"],
            input=typed, capture_output=True, cwd=DEMO, check=False, timeout=60,
            env={**os.environ, "PYTHONUTF8": "1", "PYTHONIOENCODING": "utf-8:strict"},
        )  # fmt: skip
        assert (ended.returncode, ended.stderr) == (0, b"")
        assert ended.stdout.endswith(b"1 of 99 scenes played\n")
        assert b"unknown: " in ended.stdout
        assert b"\x1b" not in ended.stdout


def test_an_input_that_is_closed_ends_it() -> None:
    line = shlex.join([*COMMAND, GRANARY, "--dry-run"])
    ended = subprocess.run(
        f"{line} <&-", shell=True, capture_output=True, encoding="utf-8", cwd=DEMO, check=False
    )
    assert (ended.returncode, ended.stderr) == (0, "")
    assert ended.stdout.endswith("0 of 99 scenes played\n")


@pytest.mark.parametrize(("number", "code"), [(signal.SIGTERM, 143), (signal.SIGINT, 130)])
def test_plain_lines_end_by_a_signal(number: signal.Signals, code: int) -> None:
    running = subprocess.Popen(
        [*COMMAND, GRANARY, "--dry-run"],
        stdin=subprocess.PIPE,
        stdout=subprocess.PIPE,
        encoding="utf-8",
        cwd=DEMO,
        preexec_fn=lambda: signal.signal(signal.SIGINT, signal.default_int_handler) and None,
    )
    assert running.stdin is not None
    assert running.stdout is not None
    running.stdin.write("next\n")
    running.stdin.flush()
    while not running.stdout.readline().startswith("played: 1 of"):
        pass
    running.send_signal(number)
    assert running.stdout.read().endswith("1 of 99 scenes played\n")
    assert running.wait(30) == code
    running.stdin.close()
    running.stdout.close()


def test_by_itself_in_a_pipe(tmp_path: Path) -> None:
    night = write_night(tmp_path, units="a: {loop: 1}", effects="near: a", scenes=TWO)
    ended = rehearse(str(night), "--dry-run", "--auto", "0.01", typed="next\n")
    assert ended.returncode == 0
    assert "word: the end: every step of the way was sent" in ended.stdout


@pytest.mark.parametrize(
    ("words", "says"),
    [
        (("--with-start",), "give --clock, too"),
        (("--pairs",), "give --auto PACE, too"),
        (("--on", "note"), "give --foot INPUT, too"),
        (("--auto", "0"), "0"),
        (("--auto", "nan"), "nan"),
        (("--rig", "--clock"), "leave --clock, --auto and --foot out"),
        (("--dry-run", "--port", "x"), "leave --port out"),
        (("--foot", "x", "--on", "pedal"), "‘pedal’ is no message that could step on"),
        (
            (
                "--port",
                "nowhere-at-all",
            ),
            "port",
        ),
    ],
)
def test_wrong_usage(words: tuple[str, ...], says: str) -> None:
    ended = CliRunner().invoke(main, ["rehearse", str(DEMO / GRANARY), *words])
    assert ended.exit_code == 2
    assert says in ended.output


def test_a_book_with_errors_is_not_rehearsed(tmp_path: Path) -> None:
    night = write_night(tmp_path, units="one: {loop: 1}", effects="near: one", scenes="A: [fare]")
    ended = setwright("rehearse", str(night), "--dry-run")
    assert ended.returncode == 1
    assert "nothing is sent: 1 error; run check" in ended.stderr
    assert setwright("rehearse", str(tmp_path / "none.yaml"), "--dry-run").returncode == 2


def test_a_report_that_cannot_be_written(tmp_path: Path) -> None:
    (tmp_path / "file").write_text("", encoding="utf-8")
    ended = rehearse(
        "granary-night.yaml",
        "--dry-run",
        "--report",
        str(tmp_path / "file" / "report.txt"),
        typed="q\n",
    )
    assert ended.returncode == 2
    assert ended.stdout.endswith("0 of 99 scenes played\n")  # it is not lost
    assert "cannot write" in ended.stderr


def test_without_the_library_of_screens_there_are_plain_lines(tmp_path: Path) -> None:
    """In a terminal of its own, with the library hidden."""
    (tmp_path / "prompt_toolkit.py").write_text("raise ModuleNotFoundError('hidden')\n")
    ours, theirs = pty.openpty()
    running = subprocess.Popen(
        [sys.executable, "-m", "setwright.compiler", "rehearse", "granary-night.yaml", "--dry-run"],
        stdin=theirs,
        stdout=theirs,
        stderr=subprocess.PIPE,
        cwd=DEMO,
        env={**os.environ, "PYTHONPATH": str(tmp_path), "TERM": "xterm"},
    )
    os.write(ours, b"q\n")
    assert running.stderr is not None
    errors = running.stderr.read().decode()
    assert running.wait(30) == 0
    os.close(ours)
    os.close(theirs)
    assert "note: plain lines, for a full screen needs prompt_toolkit: " in errors


# What a song may do at its beginning and behind its end.

NIGHT_OF_TWO = """\
songs:
- title: First
  meter: 4/4
  tempo: quarter = 100
  form: AB, 2 rounds
  scenes: {Low: [near], High: [far], Free: [near, far]}
  order: [Low, {High: {at: round 2 A, foot: swell open}}]
- title: Second
  meter: 4/4
  tempo: quarter = 90
  form: AB, 2 rounds
  scenes: {Late: [far]}
  order: [{Late: round 2 B}]
"""


def test_a_song_that_begins_with_the_sound_of_before(tmp_path: Path) -> None:
    night = write_night(
        tmp_path,
        units="one: {loop: 1}\ntwo: {loop: 2}\nswell: {is: volume, by foot: [low, open], at start: low}",
        effects="near: one\nfar: two",
        songs=NIGHT_OF_TWO,
        switcher="switcher: board\nbanks: 10\nswitches: 5\nloops: 4\nrecalled on channel: 16\n"
        "same switch again: goes back\neach preset stores: {programs: 4, controls: 4}\n",
    )
    text = night.read_text(encoding="utf-8").replace("[Tune]", "[First, straight into: Second]")
    night.write_text(text, encoding="utf-8")
    walk, line = walk_of(whole(night), clocked=True)
    seen = []
    for _ in walk.rehearsal.steps:
        before = len(line.sent)
        walk.press("next", 0.0)
        step = walk.rehearsal.step
        assert step is not None
        hands = tuple(one.text for one in walk.facts() if one.label == "by hand")
        seen.append((step.title, step.scene, step.where, len(line.sent) - before, hands))
    look = "on the night: press only if it is not on"
    assert seen == [
        ("1. First", "Low", "beginning", 1, ("foot: swell low", look)),
        ("1. First", "High", "round 2 A", 1, ("foot: swell open",)),
        ("1. First", "Free", "also here", 1, ()),
        ("2. Second", "", "beginning", 0, ("foot: swell low",)),
        # The sheet says stay, for nobody has pressed Free on the night; here it was pressed.
        ("2. Second", "Late", "round 2 B", 1, ()),
    ]
    for key, text in (("go", "1 high"), ("go", "2"), ("next", "")):
        walk.press(key, 0.0, text)
    assert facts(walk, "word") == ["nothing is pressed: the same switch stays"]
    # The clock of a song begins with its first note, pressed or not.
    assert [bpm for bpm, _, _ in line.clocks[:2]] == [100, 90]
    walk.press("back", 0.0)
    assert facts(walk, "word") == ["nothing is pressed here: the sound of before goes on"]
    assert walk.title == "Test on Test"
    assert Walk(Rehearsal(whole(night, frozenset({"one"}))), Deliveries(Fake())).title == (
        "Test on Test, without one"
    )


# A player who does no more than what is said has every pedal where the scene needs it.

FEET = """\
songs:
- title: First
  form: AB, 2 rounds
  scenes: {Low: [near], High: [far, loud], Free: [near, loud], Calm: [near]}
  order: [Low, {High: round 1 B}, {Low: {at: round 2 A, foot: swell open}}]
- title: Second
  form: AB, 2 rounds
  scenes: {Late: [far], Last: [far, loud]}
  order: [{Late: round 1 B}, {Last: {at: round 2 B, foot: swell low}}]
- title: Third
  scenes: {One: [near], Two: [near, loud]}
- title: Asked
  scenes: {One: [loud], Two: [near]}
  order: [{One: {foot: swell open}}, Two]
"""


@pytest.fixture(scope="module")
def pedals(tmp_path_factory: pytest.TempPathFactory) -> Rehearsal:
    folder = tmp_path_factory.mktemp("pedals")
    night = write_night(
        folder,
        units="""
        one: {loop: 1}
        two: {loop: 2}
        swell: {is: volume, by foot: [low, open], at start: low}
        booster: {by foot: [resting, boosting], at start: resting, at rest: resting}
        """,
        effects="near: one\nfar: two\nloud: {booster: boosting}",
        songs=FEET,
        switcher="switcher: board\nbanks: 10\nswitches: 5\nloops: 4\nrecalled on channel: 16\n"
        "each preset stores: {programs: 4, controls: 4}\n",
    )
    text = night.read_text(encoding="utf-8").replace(
        "[Tune]", "[First, straight into: Second, Third, First]\nif asked: [Asked]"
    )
    night.write_text(text, encoding="utf-8")
    return Rehearsal(whole(night))


@settings(max_examples=150, deadline=None)
@given(
    st.sampled_from(["mini", PARLOUR]),
    st.lists(st.sampled_from(["next"] * 5 + ["back", "again"]) | st.integers(0, 200), max_size=30),
)
def test_pedals_stand_where_the_scene_needs_them(
    pedals: Rehearsal, night: str, keys: list[str | int]
) -> None:
    rehearsal = copy(pedals) if night == "mini" else rehearsal_of(night)
    rehearsal.resent, rehearsal._feet = {}, {}
    stands: dict[str, str] = {}
    for key in keys:
        if isinstance(key, int):
            deed = rehearsal.go(key % len(rehearsal.steps))
        else:
            deed = {"next": rehearsal.next, "back": rehearsal.back, "again": rehearsal.again}[key]()
        for hand in deed.by_hand:
            match = re.fullmatch(r"(?:after the song before|foot): (\S+) (\w+)", hand)
            if match:
                stands[match[1]] = match[2]
        found = deed.step.found if deed.step is not None else None
        if found is None or deed.word.startswith(("that was", "this is the beginning")):
            continue
        # From the rig alone: loud is the booster boosting, which rests in every other scene.
        loud = "loud" if night == "mini" else "boost"
        effects = found.scene.bound.effects
        assert (stands["booster"] == "boosting") is (loud in effects), deed.step


@pytest.mark.parametrize("seed", [3, 11, 30, 57, 128, 160])
def test_nights_drawn_at_random(seed: int, tmp_path: Path) -> None:
    """In order the sheet says all; from anywhere to anywhere pedals are where they have to be."""
    compiled = whole(draw(seed).write(tmp_path))
    assert compiled.songs
    rehearsal = Rehearsal(compiled)
    lines = printed(sheet_of(night_data(compiled)))
    assert [(one.title, one.scene, one.feet) for one in rehearsal.steps] == lines
    for step in rehearsal.steps:
        feet = [one for one in rehearsal.next().by_hand if one.startswith("foot: ")]
        assert not step.at or feet == [f"foot: {one}" for one in step.feet]
    rand, stands = random.Random(seed), dict[str, str]()
    rehearsal = Rehearsal(compiled)
    for _ in range(60):
        goes = [rehearsal.next] * 4 + [rehearsal.back]
        anywhere = rand.randrange(len(rehearsal.steps))
        deed = rand.choice(goes)() if rand.random() < 0.9 else rehearsal.go(anywhere)
        for hand in deed.by_hand:
            told = hand.removeprefix("after the song before: ").removeprefix("foot: ")
            for unit in compiled.target.units:
                if told != hand and told.startswith(f"{unit} "):
                    stands[unit] = told.removeprefix(f"{unit} ")
        if deed.step is not None and not deed.word.startswith(("that was", "this is the")):
            assert dict(deed.step.stands).items() <= stands.items(), deed.step
