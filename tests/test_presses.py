"""Presses in time: what comes while the rig is not done with the press before.

Times are worked out by hand: a program change takes two bytes, a control change three, 320 µs
each (MIDI 1.0 Detailed Specification 4.2.1, hardware; IEC 63035:2017, 4.1).
"""

from __future__ import annotations

from fractions import Fraction
from pathlib import Path
from textwrap import dedent

import pytest

from setwright.compiler.binding.states import Cause, Verdict
from setwright.compiler.compiled import Compiled
from tests.mini import SWITCHER
from tests.nights import whole

RIG = """\
rig: Test
switcher: board.yaml
units:
  squeezer: {{loop: 1}}
  wobbler:
    channel: 6
    display: 0 to 99
    programs: {{through: 1, tremolo: 42, vibrato: 43}}
    at rest: through
    acts only on: what is declared
    {wobbler}
  echo:
    channel: 9
    switched by: {{cc: 28, on: 127, off: 0}}
    acts only on: what is declared
    {echo}
  combo: {{is: amplifier}}
effects:
  tremolo: {{wobbler: tremolo}}
  vibrato: {{wobbler: vibrato}}
  long echo: echo
path:
  - [guitar, squeezer, wobbler, echo, combo]
midi:
  - [switcher, wobbler, echo]
"""

SONG = """\
  - title: {title}
    meter: 2/4
    tempo: quarter = 120
    form: AB, 2 rounds
    scenes: {{Plain: [], Shake: [tremolo], Roll: [vibrato], Far: [long echo]}}
    order:
{order}
"""


def night(
    folder: Path,
    *orders: str,
    wobbler: str = "",
    echo: str = "",
    play: str = "",
    gap: str = "",
    song: str = SONG,
    rig: str = RIG,
    again: str = "",
) -> Compiled:
    """Return a night whose songs are Tune, Tune 2, …, each with one of ``orders``.

    A bar of 2/4 at quarter = 120 lasts one second, and a part eight of them, so a song 32 s.
    """
    songs = "".join(
        song.format(
            title=f"Tune {number}",
            order="".join(f"      - {line.strip()}\n" for line in order.split(";")),
        )
        for number, order in enumerate(orders, 1)
    )
    names = ", ".join(f"Tune {number}" for number in range(1, len(orders) + 1))
    switcher = SWITCHER + (f"gap between messages: {gap}\n" if gap else "")
    switcher += f"same switch again: {again}\n" if again else ""
    files = {
        "board.yaml": switcher,
        "rig.yaml": rig.format(wobbler=wobbler or "note: x", echo=echo or "note: x"),
        "songs.yaml": f"songs:\n{songs}",
        "night.yaml": "night: Test\nrig: rig.yaml\nsongs: songs.yaml\nsets:\n"
        + dedent(play or f"- play: [{names}]\n"),
    }
    for name, text in files.items():
        (folder / name).write_text(text, encoding="utf-8")
    return whole(folder / "night.yaml")


def soon(compiled: Compiled) -> list[tuple[str, str, str, Fraction]]:
    """Return (scene before, scene, unit or what is still going on, ms that are missing)."""
    return [
        (
            one.before.moment.scene,
            one.press.moment.scene,
            one.unit or ("sound" if one.settling else "wire"),
            one.missing,
        )
        for one in compiled.too_soon
    ]


@pytest.mark.parametrize(
    ("order", "said", "expected"),
    [
        # Plain loads through and switches the echo off: programs first, c5 01, b8 1c 00. Busy
        # from 0.64 ms on. Shake comes a second later and begins with its program at once.
        pytest.param(
            "Plain; Shake: bar 2",
            {"wobbler": "busy after program: 1.5 s"},
            [("Plain", "Shake", "wobbler", Fraction("500.64"))],
            id="busy",
        ),
        pytest.param("Plain; Shake: bar 2", {"wobbler": "busy after program: 999.36 ms"}, [], id="just in time"),
        pytest.param(
            "Plain; Shake: bar 2",
            {"wobbler": "busy after program: 999.37 ms"},
            [("Plain", "Shake", "wobbler", Fraction("0.01"))],
            id="by a hundredth",
        ),
        # Two presses later it is still busy with the first, and Far sends it its program too.
        pytest.param(
            "Shake; Far: bar 2; Roll: bar 9",
            {"wobbler": "busy after program: 1.5 s"},
            [("Shake", "Far", "wobbler", Fraction("500.64"))],
            id="only the first of three",
        ),
        pytest.param(
            "Plain; Shake: bar 2",
            {"echo": "settles in: 1.2 s"},
            # Plain's last message, b8 1c 00, is through after five bytes, 1.6 ms.
            [("Plain", "Shake", "sound", Fraction("201.6"))],
            id="not there yet",
        ),
        pytest.param("Plain; Shake: bar 2", {"echo": "settles in: 998.4 ms"}, [], id="just there"),
        # Without a place nobody knows when it is pressed.
        pytest.param("Plain; Shake", {"wobbler": "busy after program: 20 s"}, [], id="no time"),
        pytest.param(
            "Plain; Shake; Roll: bar 2", {"wobbler": "busy after program: 20 s"}, [], id="not known"
        ),
        pytest.param(
            "Plain: 0:07; Roll: 0:08",
            {"wobbler": "busy after program: 1.5 s"},
            [("Plain", "Roll", "wobbler", Fraction("500.64"))],
            id="by the clock",
        ),
        # The same preset is not pressed again, so it sends nothing, and the box is long ready.
        pytest.param(
            "Shake; Shake: bar 9; Roll: bar 10", {"wobbler": "busy after program: 8 s"}, [], id="stays"
        ),
    ],
)  # fmt: skip
def test_in_a_song(
    tmp_path: Path,
    order: str,
    said: dict[str, str],
    expected: list[tuple[str, str, str, Fraction]],
) -> None:
    compiled = night(tmp_path, order, **said)
    assert soon(compiled) == expected
    codes = [one.code for one in compiled.findings if one.code == "pressed-too-soon"]
    assert len(codes) == len(expected)


ONE, OTHER = "Plain; Shake: bar 32", "Far; Roll: bar 9"
BUSY = "busy after program: 1.5 s"


@pytest.mark.parametrize(
    ("play", "expected"),
    [
        # Tune 1 has 32 bars; bar 32 begins after 31 s, so one second is left of it.
        pytest.param(
            "- play: [Tune 1, {straight into: Tune 2}]",
            [("Shake", "Far", "wobbler", Fraction("500.64"))],
            id="straight into",
        ),
        pytest.param("- play: [Tune 1, Tune 2]", [], id="with a pause"),
        pytest.param(
            "- play: [Tune 1]\n- play: [{straight into: Tune 2}]", [], id="there is a break between"
        ),
        pytest.param(
            "- play: [Tune 2, {straight into: Tune 1}, {straight into: Tune 2}]",
            [("Shake", "Far", "wobbler", Fraction("500.64"))],
            id="the third",
        ),
        # At half the tempo two seconds are left.
        pytest.param(
            "- play: [{song: Tune 1, tempo: quarter = 60}, {straight into: Tune 2}]",
            [],
            id="slower tonight",
        ),
    ],
)
def test_straight_into(
    tmp_path: Path, play: str, expected: list[tuple[str, str, str, Fraction]]
) -> None:
    assert soon(night(tmp_path, ONE, OTHER, wobbler=BUSY, play=play)) == expected


def test_what_is_lost_is_not_proven(tmp_path: Path) -> None:
    compiled = night(tmp_path, "Plain; Shake: bar 2; Roll: bar 9", wobbler=BUSY)
    song = compiled.songs[0]
    causes = {
        name: {
            (one.unit, one.quantity): one.cause
            for one in compiled.scene(song, name).proved
            if one.verdict is Verdict.UNKNOWN
        }
        for name in song.scenes
    }
    assert causes == {
        "Plain": {},
        "Shake": {("wobbler", "program"): Cause.TOO_SOON},
        "Roll": {},
        "Far": {},
    }


def test_what_stays_has_lost_it_too(tmp_path: Path) -> None:
    # Again is made like Shake, lies on its switch, and is not pressed.
    song = SONG.replace("Plain: [], ", "Plain: [], Again: [tremolo], ")
    compiled = night(
        tmp_path, "Plain; Shake: bar 2; Again: bar 9; Roll: bar 12", wobbler=BUSY, song=song
    )
    first = compiled.songs[0]
    causes = {
        one.cause for one in compiled.scene(first, "Again").proved if one.quantity == "program"
    }
    assert causes == {Cause.TOO_SOON}
    assert all(one.cause is Cause.NONE for one in compiled.scene(first, "Roll").proved)


@pytest.mark.parametrize(
    ("again", "lost"), [("sends again", False), ("goes back", True), ("does nothing", True)]
)
def test_a_switch_that_is_on_does_not_send_again(tmp_path: Path, again: str, lost: bool) -> None:
    """Another song wants the preset that lost its program; whether a press sends it is said."""
    compiled = night(tmp_path, "Plain; Shake: bar 2", "Shake: bar 9", wobbler=BUSY, again=again)
    first, other = compiled.songs
    assert (
        compiled.placement.of_scene[first.owner, "Shake"]
        == compiled.placement.of_scene[other.owner, "Shake"]
    )
    (program,) = [one for one in compiled.scene(other, "Shake").proved if one.quantity == "program"]
    assert program.cause is (Cause.TOO_SOON if lost else Cause.NONE)


@pytest.mark.parametrize(
    ("again", "lost"), [("sends again", False), ("goes back", True), ("does nothing", True)]
)
def test_the_first_press_of_a_song_may_send_nothing(tmp_path: Path, again: str, lost: bool) -> None:
    """Plain may be on already: then Shake is heard, and the second Plain is not."""
    order = "Plain; Shake: 0:01; Plain: 0:02"
    compiled = night(tmp_path, order, wobbler=BUSY, again=again)
    # Where Plain is pressed and sent, Shake and the second Plain are lost: ‘through’ stays.
    (program,) = [
        one
        for one in compiled.scene(compiled.songs[0], "Plain").proved
        if one.quantity == "program"
    ]
    assert (program.cause is Cause.TOO_SOON) is lost
    assert len(compiled.too_soon) == 2


def test_a_computer_sends_what_lies_on_one_switch(tmp_path: Path) -> None:
    """Without loops all presets are alike, and the foot stays; the computer sends all the same."""
    rig = RIG.replace("[switcher, wobbler, echo]", "[computer, wobbler, echo]")
    order = "Shake; Roll: bar 2"
    compiled = night(tmp_path, order, wobbler=BUSY, rig=rig)
    assert len(compiled.placement.presets) == 1
    # The computer sends the echo's b9 1c 00 first, 0.96 ms, then c5 2a until 1.6 ms; a second
    # later Roll's program would begin at 0.96 ms, and the wobbler is busy until 1501.6 ms.
    assert soon(compiled) == [("Shake", "Roll", "wobbler", Fraction("500.64"))]


def test_its_loop_is_the_presets_own(tmp_path: Path) -> None:
    loop = f"loop: 2\n    {BUSY}"
    compiled = night(tmp_path, "Shake; Roll: bar 2", wobbler=loop)
    unknown = {
        one.quantity
        for one in compiled.scene(compiled.songs[0], "Roll").proved
        if one.verdict is Verdict.UNKNOWN
    }
    assert unknown == {"program"}


def test_it_is_said_once_in_a_song(tmp_path: Path) -> None:
    order = "Plain; Shake: bar 2; Roll: bar 3; Shake: bar 4; Far: bar 20"
    (found,) = night(tmp_path, order, wobbler=BUSY).findings
    assert (found.code, found.place.line if found.place else 0) == ("pressed-too-soon", 9)
    assert "(and 2 more moments)" in found.message
    assert "500.6 ms are missing" in found.message


def test_a_box_that_loses_single_bytes(tmp_path: Path) -> None:
    # Shake's program is through after 0.64 ms; 0.1 ms later the status byte of the echo's control
    # has gone by, and its data bytes pass for programs.
    compiled = night(tmp_path, "Shake; Far: bar 9", wobbler="busy after program: 0.1 ms")
    scenes = {name: compiled.scene(compiled.songs[0], name) for name in ("Shake", "Far")}
    assert scenes["Shake"].whole_messages == {"wobbler"}
    assert not any(one.verdict is Verdict.UNKNOWN for one in scenes["Shake"].proved)
    longer = night(tmp_path, "Shake; Far: bar 9", wobbler="busy after program: 10 ms")
    assert longer.scene(longer.songs[0], "Shake").whole_messages == frozenset()


def test_a_status_that_is_left_out_is_lost_with_the_message_before_it(tmp_path: Path) -> None:
    # c5 2a, then two controls of the echo 30 ms apart: with running status the second has no
    # status byte of its own, the first is lost whole, and its data bytes pass for a program.
    compiled = night(
        tmp_path,
        "Far; Shake: bar 9",
        wobbler="busy after program: 50 ms",
        echo="controls: {mix: {cc: 21, at rest: 30}}",
        gap="30 ms",
    )
    scene = compiled.scene(compiled.songs[0], "Far")
    assert scene.lowered.stored.size - scene.lowered.stored.size_running == 1
    assert scene.whole_messages == {"wobbler"}


def test_a_neighbour_on_its_channel_keeps_a_box_busy(tmp_path: Path) -> None:
    """What is meant for bbox loads a program of abox too, which is out then, and busy."""
    rig = """\
rig: Test
switcher: board.yaml
units:
  abox: {{loop: 1, channel: 3, display: 0 to 9, programs: {{x: 5}}, acts only on: what is declared,
    busy after program: 1.5 s}}
  bbox: {{loop: 2, channel: 3, display: 0 to 9, programs: {{y: 7}}, acts only on: what is declared}}
  combo: {{is: amplifier, note: "{wobbler}{echo}"}}
effects:
  x: {{abox: x}}
  y: {{bbox: y}}
path: [[guitar, abox, bbox, combo]]
midi: [[switcher, abox, bbox]]
"""
    song = SONG.replace(
        "Plain: [], Shake: [tremolo], Roll: [vibrato], Far: [long echo]", "A: [x], B: [y]"
    )
    compiled = night(tmp_path, "B; A: bar 2", rig=rig, song=song)
    # c2 07 is through after 0.64 ms, so abox hears again 1500.64 ms after the first press.
    assert soon(compiled) == [("B", "A", "abox", Fraction("500.64"))]
    (program,) = [
        one
        for one in compiled.scene(compiled.songs[0], "A").proved
        if (one.unit, one.quantity) == ("abox", "program")
    ]
    assert program.cause is Cause.TOO_SOON


@pytest.mark.parametrize(
    ("order", "codes"),
    [
        # The beginning, which is not written, and bar 1 are one moment.
        pytest.param("Plain; Shake: bar 1", ["pressed-too-soon"], id="with the beginning"),
        pytest.param("Plain: bar 2; Shake: bar 2", ["order-out-of-time"], id="both written"),
        pytest.param("Plain: bar 9; Shake: bar 2", ["order-out-of-time"], id="the wrong way round"),
    ],
)
def test_what_is_pressed_at_once_is_not_proven(
    tmp_path: Path, order: str, codes: list[str]
) -> None:
    compiled = night(tmp_path, order, wobbler=BUSY)
    found = [one.code for one in compiled.findings if one.code != "begins-late"]
    assert found == codes
    causes = {one.cause for one in compiled.scene(compiled.songs[0], "Shake").proved}
    assert Cause.TOO_SOON in causes


def test_bursts_queue_on_the_wire(tmp_path: Path) -> None:
    """A second between messages: Shake's own begin when those of Plain are through."""
    # Plain's two messages are through after 1001.6 ms, so Shake, pressed after a second, begins
    # there; its program is through at 1002.24 ms and keeps the wobbler busy until 3502.24 ms.
    compiled = night(
        tmp_path,
        "Plain; Shake: bar 2; Roll: bar 4",
        wobbler="busy after program: 2.5 s",
        gap="1 s",
    )
    assert soon(compiled) == [
        ("Plain", "Shake", "wobbler", Fraction("1499.04")),
        ("Shake", "Roll", "wobbler", Fraction("502.24")),
    ]


def test_a_repeat_that_is_ignored_keeps_nobody_busy(tmp_path: Path) -> None:
    """Whether the first press loads anything nobody knows; each has to come out right."""
    compiled = night(
        tmp_path,
        "Plain: 0:05; Shake: 0:06; Plain: 0:07",
        wobbler="same program again: ignored\n    busy after program: 1.5 s",
    )
    # If ‘through’ was there before, Shake is heard, and the last Plain is lost.
    (program,) = [
        one
        for one in compiled.scene(compiled.songs[0], "Plain").proved
        if one.quantity == "program"
    ]
    assert program.cause is Cause.TOO_SOON
