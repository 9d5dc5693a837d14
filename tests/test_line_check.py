"""The line check: what is sent, what is listened for, what hands do, and where to look."""

from __future__ import annotations

import subprocess
import sys
from functools import cache
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from setwright.compiler.compiled import Compiled
from setwright.compiler.midi import encode
from setwright.compiler.sending.port.schedule import Begun, Done
from setwright.compiler.sending.rehearsing.check_walk import KEYS, CheckWalk
from setwright.compiler.sending.rehearsing.deliveries import Deliveries
from setwright.compiler.sending.rehearsing.line_check import Check, LineCheck, checks_of
from setwright.compiler.sending.rehearsing.suspects import midi_way, report
from tests.conftest import DEMO
from tests.jack import jack_server, receiver
from tests.mini import write_night
from tests.nights import whole
from tests.test_rehearse import VANISHED, Fake

GRANARY = "granary-night.yaml"


@cache
def demo(night: str) -> Compiled:
    return whole(DEMO / night)


def sent(check: Check) -> str:
    return " ".join(encode(one.message).hex(" ") for one in check.sent)


# By hand, from the rig: what is said, what is sent (messages from the numbers in the rig), what
# the player does. Nothing of it is taken from the compiler.
BOXES = [
    (
        "fuzz: {loop: 1}",
        [("fuzz: loop 1", "fuzz comes in", "", "put loop 1 in, all others out")],
    ),
    (
        "tuner: {loop: 2, silent when: [on]}",
        [
            (
                "tuner: loop 2",
                "nothing comes through (if so: heard)",
                "",
                "put loop 2 in, all others out",
            )
        ],
    ),
    (
        "echo: {channel: 9, switched by: {cc: 28, on: 127, off: 0}, time: {cc: 20, linear: 20 ms to 900 ms}}",
        [
            ("echo: on", "echo comes in", "b8 1c 7f", ""),
            ("echo: off", "echo goes out", "b8 1c 00", ""),
        ],
    ),
    (
        "repeats: {channel: 9, time: {cc: 20, linear: 20 ms to 900 ms}}",
        [
            ("repeats: a shorter time", "the repeats of repeats change", "b8 14 20", ""),
            ("repeats: a longer time", "the repeats of repeats change", "b8 14 60", ""),
        ],
    ),
    (
        "flip: {channel: 1, switched by: {cc: 30, any value flips: yes}}",
        [
            ("flip: turned over", "flip comes in or goes out", "b0 1e 7f", ""),
            ("flip: turned back", "flip comes in or goes out", "b0 1e 7f", ""),
        ],
    ),
    (
        "press: {channel: 1, switched by: {cc: 30, press: 100, release: 3}}",
        [
            ("press: turned over", "press comes in or goes out", "b0 1e 64 b0 1e 03", ""),
            ("press: turned back", "press comes in or goes out", "b0 1e 64 b0 1e 03", ""),
        ],
    ),
    (
        # Two names of one program are one line; the one at rest adds nothing; one is silent.
        "many: {loop: 3, channel: 16, display: 1 to 128, at rest: none, silent when: [mute],"
        " programs: {hall: 12, church: 12, none: 1, mute: 128}}",
        [
            ("many: loop 3", "many comes in", "", "put loop 3 in, all others out"),
            (
                "many: program none (display 1)",
                "many is at rest; its display shows 1",
                "cf 00",
                "leave loop 3 in",
            ),
            (
                "many: program hall (display 12)",
                "many sounds as hall; its display shows 12",
                "cf 0b",
                "leave loop 3 in",
            ),
            (
                "many: program mute (display 128)",
                "nothing comes through (if so: heard); its display shows 128",
                "cf 7f",
                "leave loop 3 in",
            ),
        ],
    ),
    (
        "steps: {channel: 2, display: 0 to 9, programs: {high: 3}, reached by: {up: 40, down: 41, value: 1}}",
        [
            ("steps: one program on", "the display of steps goes one program on", "b1 28 01", ""),
            (
                "steps: one program back",
                "the display of steps goes one program back",
                "b1 29 01",
                "",
            ),
        ],
    ),
    (
        "amp: {is: amplifier, relay: {number: 1, open: clean, closed: lead}}",
        [
            ("amp: clean", "amp is clean", "", "set relay 1 open"),
            ("amp: lead", "amp is lead", "", "set relay 1 closed"),
        ],
    ),
    (
        "amp: {is: amplifier, relays: {boost: {numbers: [1, 3], states: {none: [open, any], full: [closed, closed]}}}}",
        [
            ("amp: boost none", "amp is none", "", "set relay 1 open"),
            ("amp: boost full", "amp is full", "", "set relay 1 closed and relay 3 closed"),
        ],
    ),
    (
        "amp: {is: amplifier, relay: {number: 2, open: clean, closed: lead}}",
        [
            ("amp: clean", "amp is clean", "", "press what gives a pulse at relay 2"),
            ("amp: lead", "amp is lead", "", "press what gives a pulse at relay 2"),
        ],
    ),
    (
        "swell: {is: volume, by foot: [closed, open], at start: open}",
        [
            ("swell: closed", "nothing comes through (if so: heard)", "", "foot: swell closed"),
            ("swell: open", "the guitar, with swell open", "", "foot: swell open"),
        ],
    ),
    (
        "slow: {tempo from: tap}",
        [("slow: tap", "the repeats of slow follow", "", "tap four beats with your foot")],
    ),
]
SWITCHER = """\
switcher: board
banks: 10
switches: 5
loops: 4
relays: [hold, pulse, hold]
each preset stores: {programs: 4, controls: 4}
"""


@pytest.mark.parametrize(("unit", "expected"), BOXES)
def test_each_box_is_gone_through(
    unit: str, expected: list[tuple[str, str, str, str]], tmp_path: Path
) -> None:
    name = unit.partition(":")[0]
    compiled = whole(
        write_night(tmp_path, units=unit, effects="x: {}", scenes="A: []", switcher=SWITCHER)
    )
    got = [
        (one.name, one.listen, sent(one), ", ".join(one.by_hand))
        for one in checks_of(compiled, direct=True)
        if one.unit == name and one.kind != "guitar"
    ]
    assert got == expected


def test_the_guitar_comes_first_with_everything_at_rest(tmp_path: Path) -> None:
    compiled = whole(
        write_night(
            tmp_path,
            units="echo: {channel: 9, switched by: {cc: 28, on: 127, off: 0}}\nfuzz: {loop: 1}",
            effects="near: fuzz",
            scenes="A: [near]",
        )
    )
    first, *others = checks_of(compiled, direct=True)
    assert (first.name, first.listen) == (
        "amplifier: the guitar alone",
        "the guitar comes to amplifier",
    )
    assert (sent(first), first.by_hand) == (
        "b8 1c 00",
        ("put all loops out", "play, with amplifier turned low"),
    )
    assert [one.unit for one in others] == ["fuzz", "echo", "echo"]  # along the path


# The demo, by hand: loops 1 to 4 and 6, three and two programs, echo on and off, one relay, one
# pedal, two amplifiers.
LINES = [
    "oak amplifier: the guitar alone",
    "ash amplifier: the guitar alone",
    "swell: closed",
    "swell: open",
    "fuzz: loop 1",
    "wobbler: loop 2",
    "wobbler: program tremolo (display 42)",
    "wobbler: program vibrato (display 43)",
    "wobbler: program rotor (display 44)",
    "booster: loop 3",
    "squeezer: loop 4",
    "barn: loop 6",
    "barn: program small room (display 3)",
    "barn: program great hall (display 12)",
    "oak amplifier: clean",
    "oak amplifier: crunch",
    "echo: on",
    "echo: off",
]


@pytest.mark.parametrize("direct", [False, True])
def test_the_demo_is_gone_through_along_its_path(direct: bool) -> None:
    assert [one.name for one in checks_of(demo(GRANARY), direct=direct)] == LINES


def test_presets_that_are_called_hold_what_is_listened_for() -> None:
    """Checked against the presets as they are typed in, by night.json."""
    from setwright.compiler.outputs.collect import night_data

    data = night_data(demo(GRANARY))
    by_program = {
        (one.place.bank - 1) * data.switcher.switch_count + one.place.switch - 1: one
        for one in data.presets
    }
    called = [one for one in checks_of(demo(GRANARY), direct=False) if one.called]
    assert len(called) == 14  # all but the guitar and the pedal: no line leads past the switcher
    for check in called:
        select, program = (encode(one.message) for one in check.sent)
        preset = by_program[select[2] * 128 + program[1]]
        assert (
            f"bank {preset.place.bank_shown}, switch {preset.place.switch_shown} " in check.called
        )
        slots = {f"{one.unit}: {one.meaning}" for one in (*preset.programs, *preset.controls)}
        match check.kind:
            case "loop":
                assert int(check.what.split()[1]) in preset.loops
            case "program":
                load = f"{check.unit}: load {check.what.removeprefix('program ')}"
                assert any(slot.startswith(load) for slot in slots), check
            case "switch":
                assert f"{check.unit}: switch {check.what}" in slots
            case _:
                assert (1 in preset.relays) is (check.what == "crunch")


# Ticking.


@settings(max_examples=50, deadline=None)
@given(st.lists(st.sampled_from([key.name for key in KEYS]), max_size=60))
def test_any_keys_in_any_order(keys: list[str]) -> None:
    line = Fake()
    walk = CheckWalk(_line_check(), Deliveries(line))
    walk.begin(0.0)
    for key in keys:
        walk.press(key, 0.0)
        check = walk.line_check
        assert 0 <= check.at <= len(check.checks)
        assert all(one is None for one in check.heard[check.at :])
        assert all(one is not None for one in check.heard[: check.at])
        assert all(one.text.isprintable() for one in walk.facts())
    counts = walk.line_check.heard
    first = report(walk.line_check)[0]
    assert first == (
        f"{counts.count(True)} of 18 heard, {counts.count(False)} not heard, "
        f"{counts.count(None)} not tried"
    )
    walk.close()


_checks = None


def _line_check() -> LineCheck:
    """Return a line check of the demo at its beginning."""
    from copy import copy

    global _checks
    if _checks is None:
        _checks = LineCheck(demo(GRANARY))
    fresh = copy(_checks)
    fresh.heard = [None] * len(fresh.checks)
    return fresh


def test_each_line_is_sounded_once_and_again_on_demand() -> None:
    line = Fake()
    walk = CheckWalk(_line_check(), Deliveries(line))
    walk.begin(0.0)
    for key in ("heard",) * 4 + ("again", "missed", "back", "heard"):
        walk.press(key, 0.0)
    # Lines 1 to 4 have no message; loop 1, again, loop 2, back to loop 1, loop 2.
    fuzz, wobbler = line.sent[0], line.sent[2]
    assert line.sent == [fuzz, fuzz, wobbler, fuzz, wobbler]
    for _ in range(13):
        walk.press("heard", 0.0)
    assert walk.over
    assert walk.code == 0
    walk.press("back", 0.0)


def test_exit_codes() -> None:
    walk = CheckWalk(_line_check(), Deliveries(Fake()))
    walk.begin(0.0)
    assert walk.code == 0
    walk.press("missed", 0.0)
    assert walk.code == 1
    walk.hear(VANISHED)
    assert walk.code == 2


# Where to look.

REPORT = """\
15 of 18 heard, 2 not heard, 1 not tried
not heard: barn: program small room (display 3)
  signal cables: squeezer → barn, barn → splitter
  send and return of the switcher's loop 6
  MIDI cables: computer → switcher, switcher → wobbler, wobbler (THRU) → barn; others got their messages by these
  its settings: barn listens on channel 11, as the rig has it
  the preset: bank 2, switch 3 (Turn), with loops in: 6 has to be typed in as the preset sheet says
not heard: echo: on
  signal cables: splitter → echo, echo → ash amplifier
  MIDI cables: barn (THRU) → echo
  its settings: echo listens on channel 9, as the rig has it
  the preset: bank 4, switch 6 (Climb), with loops in: none has to be typed in as the preset sheet says
not tried: echo: off
"""


def test_the_report_names_the_cables_to_look_at() -> None:
    """Cables by hand, from path: and midi: of the demo's rig."""
    line_check = _line_check()
    for check in line_check.checks[:-1]:
        line_check.tick(check.name not in {"barn: program small room (display 3)", "echo: on"})
    assert "\n".join(report(line_check)) + "\n" == REPORT


def test_where_no_guitar_comes_all_cables_to_that_amplifier_are_named() -> None:
    line_check = _line_check()
    line_check.tick(heard=True)
    line_check.tick(heard=False)
    assert report(line_check)[2] == (
        "  signal cables: guitar → swell, swell → fuzz, fuzz → wobbler, wobbler → booster, "
        "booster → squeezer, squeezer → barn, barn → splitter, splitter → echo, "
        "echo → ash amplifier"
    )


def test_a_box_that_is_left_out_is_left_out_of_the_cables() -> None:
    compiled = whole(DEMO / GRANARY, frozenset({"wobbler"}))
    line_check = LineCheck(compiled)
    assert not any(one.unit == "wobbler" for one in line_check.checks)
    fuzz = next(one for one in line_check.checks if one.unit == "fuzz")
    while line_check.check is not fuzz:
        line_check.tick(heard=True)
    line_check.tick(heard=False)
    assert "  signal cables: swell → fuzz, fuzz → booster" in report(line_check)
    barn = next(one for one in line_check.checks if one.kind == "program")
    assert [f"{one.start} → {one.end}" for one in midi_way(compiled, barn)] == [
        "computer → switcher",
        "switcher → barn",
    ]


def test_a_pedal_with_midi_of_its_own_has_its_cables() -> None:
    compiled = whole(DEMO.parent.parent / "tests" / "every_field" / "night.yaml")
    heel = next(one for one in checks_of(compiled, direct=False) if one.name == "pedal: heel")
    assert heel.listen == "what pedal moves is as at heel"
    assert [f"{one.start} → {one.end}" for one in midi_way(compiled, heel)] == [
        "pedal → joiner",
        "joiner → barn",
    ]


# The command, on a real port.


def test_a_line_check_in_plain_lines_on_a_real_port(tmp_path: Path) -> None:
    import os

    file = tmp_path / "report.txt"
    words = ["heard"] * 8 + ["no"] + ["y"] * 10
    with jack_server() as server, receiver(server, "floor") as floor:
        ended = subprocess.run(
            [
                sys.executable, "-m", "setwright.compiler", "rehearse", GRANARY,
                "--rig", "--port", "floor", "--report", str(file),
            ],
            input="\n".join(words), capture_output=True, encoding="utf-8", cwd=DEMO, check=False,
            env={**os.environ, **server.env, "PYTHONIOENCODING": "utf-8"}, timeout=60,
        )  # fmt: skip
        heard = [line.partition("  ")[0] for line in floor.heard()]
    assert (ended.returncode, ended.stderr) == (1, "")
    expected = [
        encode(one.message).hex(" ")
        for check in checks_of(demo(GRANARY), direct=False)
        for one in check.sent
    ]
    assert heard == expected
    lines = ended.stdout.splitlines()
    at = lines.index("17 of 18 heard, 1 not heard, 0 not tried")
    assert lines[at + 1] == "not heard: wobbler: program vibrato (display 43)"
    assert file.read_text(encoding="utf-8").splitlines() == lines[at - 1 :]
    assert "listen: wobbler sounds as vibrato; its display shows 43" in lines


def test_what_was_sent_is_said() -> None:
    walk = CheckWalk(_line_check(), Deliveries(Fake()))
    walk.begin(0.0)
    for _ in range(4):
        walk.press("heard", 1.0)
    walk.hear(Begun(1, 1.001))
    walk.hear(Done(1, 2, 1.002))
    facts = {one.label: one.text for one in walk.facts()}
    assert facts["now"] == "fuzz: loop 1 (5 of 18)"
    assert "1.0 ms after the key" in facts["sent"]
    assert facts["heard"] == "4; not heard: 0"
