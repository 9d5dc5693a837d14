"""What a scene becomes, in words and as data, on a night small enough to write it out by hand.

A byte takes 320 µs (MIDI 1.0 Detailed Specification 4.2.1, hardware), so three take 0.96 ms, and
three more of the same status with running status 0.64. A bar of 4/4 at quarter = 120 lasts 2 s,
so 16 bars, two parts of eight, lie before the second round.
"""

from __future__ import annotations

from pathlib import Path
from textwrap import dedent

from setwright.compiler.reports.explain import explain, explain_json
from setwright.compiler.reports.find import Found, find_scene
from tests.mini import SWITCHER, compile_mini

UNITS = """
near: {loop: 2, note: "the old one"}
spare: {loop: 3}
echo:
  channel: 9
  switched by: {cc: 28, on: 127, off: 0}
  controls: {mix: {cc: 21, linear: 0 % to 127 %, at rest: 30 %}}
  acts only on: what is declared
swell: {by foot: [closed, open], at start: open}
"""
SONGS = """
songs:
- title: Tune
  key: E dorian
  meter: 4/4
  tempo: quarter = 120
  guitar: steel
  form: AB, 2 rounds
  scenes:
    Start: [close]
    Far: {effects: [far, shimmer], note: softly}
  order:
  - Start
  - Far: {at: round 2 A, cue: a nod, foot: swell closed}
  - Start: 0:40
"""


def found(tmp_path: Path, scene: str) -> tuple[list[str], dict[str, object]]:
    compiled = compile_mini(
        tmp_path,
        units=UNITS,
        effects="close: near\nfar: {echo: {set: {mix: 50 %}}}",
        songs=SONGS,
        rig="instead of: {shimmer: nothing}\nnote: mind the cable",
        switcher=SWITCHER + "recalled on channel: 16\n",
    )
    assert compiled.findings == []
    one = find_scene(compiled, f"Tune/{scene}")
    assert isinstance(one, Found)
    return list(explain(compiled, one)), explain_json(compiled, one)


def test_a_scene_in_words(tmp_path: Path) -> None:
    lines, _ = found(tmp_path, "Far")
    assert "\n".join(lines) == dedent("""\
        Tune / Far on Test
          E dorian, 4/4, quarter = 120, steel
          effects: far
          signal: guitar → echo → swell (closed) → amplifier
          note of the scene: softly
          note of the rig: mind the cable
          shimmer: left out here
          pressed at round 2 A (0:32); cue: a nod; foot: swell closed
          bank 1, switch 2

        recalled on channel 16
          cf 01  switcher: load bank 1, switch 2 (channel 16 program 1)

        stored in the preset: 2 messages, 6 bytes in 1.92 ms (5 in 1.6 ms with running status); the sound is there after 1.92 ms
          b8 15 32  echo: mix 50 % (value 50) (channel 9 control 21 value 50)
          b8 1c 7f  echo: switch on (channel 9 control 28 value 127)

        sent directly: 2 messages, 6 bytes in 1.92 ms (5 in 1.6 ms with running status); the sound is there after 1.92 ms
          b8 15 32  echo: mix 50 % (value 50) (channel 9 control 21 value 50)
          b8 1c 7f  echo: switch on (channel 9 control 28 value 127)

        near
          note: the old one
          loop: out, nothing asks for it
            proven: the switcher's preset sets it
        spare
          loop: out, nothing asks for it
            proven: the switcher's preset sets it
        echo
          switch: on, for far
            proven: control 28 sets it
          mix: 50 % (value 50), for far
            proven: control 21 sets it
        swell
          foot: closed, as printed
            proven if feet and start are as printed: only a foot works it, so watch the cue""")


def test_a_place_by_the_clock_is_not_said_twice(tmp_path: Path) -> None:
    lines, _ = found(tmp_path, "Start")
    # The first is assumed to be at the beginning; the foot has brought the swell down before.
    assert [line for line in lines if "pressed at" in line] == [
        "  pressed at the beginning, assumed",
        "  pressed at 0:40",
    ]


def test_the_same_as_data(tmp_path: Path) -> None:
    _, data = found(tmp_path, "Far")
    assert {key: data[key] for key in ("song", "number", "scene", "effects", "replaced")} == {
        "song": "Tune",
        "number": 1,
        "scene": "Far",
        "effects": ["far"],
        "replaced": [["shimmer", "nothing"]],
    }
    assert data["signal"] == [
        [
            {"unit": "guitar", "part": None, "states": []},
            {"unit": "echo", "part": None, "states": []},
            {"unit": "swell", "part": None, "states": ["closed"]},
            {"unit": "amplifier", "part": None, "states": []},
        ]
    ]
    assert data["notes"] == {
        "scene": "softly",
        "rig": "mind the cable",
        "units": {"near": "the old one"},
    }
    units = data["units"]
    assert isinstance(units, list)
    assert units[0] == {
        "unit": "near",
        "quantity": "loop",
        "value": "out",
        "why": "nothing asks for it",
        "verdict": "proven",
        "reason": "the switcher's preset sets it",
    }
    assert [(one["unit"], one["quantity"], one["value"]) for one in units[1:]] == [
        ("spare", "loop", "out"),
        ("echo", "switch", "on"),
        ("echo", "mix", "50 % (value 50)"),
        ("swell", "foot", "closed"),
    ]
