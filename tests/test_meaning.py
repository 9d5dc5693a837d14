"""What comes in, said to which unit: rows by hand, and lowering the other way round.

Bank select by control 0 and 32, then a program, and a lone program within the bank that was chosen
before; coarse parts of controls before fine ones: MIDI 1.0 Detailed Specification 4.2.1, bank select
and control change.
"""

from __future__ import annotations

import pytest

from setwright.compiler import midi
from setwright.compiler.compiled import Compiled
from setwright.compiler.reports.find import heading
from setwright.compiler.sending.incoming.meaning import Meaning
from tests.conftest import DEMO
from tests.mini import compile_mini
from tests.nights import whole

UNITS = """
wobbler:
  loop: 2
  channel: 6
  display: 0 to 99
  programs: {tremolo: 42, throb: 42, rotor: 44}
  free programs: [60]
hall:
  channel: 11
  display: A1 to H8
  programs: {small: A3, great: B5}
  bank select: {by: msb, programs in a bank: 8}
  acts only on: what is declared
wide:
  channel: 12
  display: 1 to 500
  programs: {near: 1, far: 300}
  bank select: {by: msb and lsb}
echo:
  channel: 9
  switched by: {cc: 28, on: 127, off: 0}
  time: {cc: 20, linear: 0 ms to 1270 ms, fine cc: 52}
  tap: {cc: 29}
  controls:
    mix: {cc: 21, linear: 0 % to 100 %}
    place: {cc: 22, positions: {front: 0, back: 127}}
    voice: {cc: 23, presses: [old, new]}
    bare: {cc: 24}
flipper:
  channel: 3
  switched by: {cc: 80, any value flips: yes}
presser:
  channel: 4
  switched by: {cc: 81, press: 127, release: 0}
steps:
  channel: 5
  display: 1 to 3
  programs: {one: 1, two: 2, three: 3}
  reached by: {up: 70, down: 71}
swell:
  is: volume
  by foot: [heel, middle, toe]
  at start: toe
  silent when: [heel]
  foot sends: {channel: 9, cc: 11, values: {heel: 0, middle: 64, toe: 127}}
"""
SWITCHER = """\
switcher: board
banks: A to D
switches: 5
loops: 4
recalled on channel: 16
first program: 10
each preset stores: {programs: 8, controls: 8, bank select: yes}
"""


@pytest.fixture(scope="module")
def compiled(tmp_path_factory: pytest.TempPathFactory) -> Compiled:
    return compile_mini(
        tmp_path_factory.mktemp("rig"),
        units=UNITS,
        effects="near: {wobbler: tremolo}",
        scenes="Loud: [near]",
        switcher=SWITCHER,
    )


SAID = [
    # Programs by their units' displays.
    ("C5 2A", "wobbler: load tremolo or throb (display 42)"),
    ("C5 2C", "wobbler: load rotor (display 44)"),
    ("C5 00", "wobbler: load display 0, to which the rig gives no name"),
    ("C5 3C", "wobbler: load display 60, to which the rig gives no name"),
    ("C5 64", "wobbler: program 100, which is beyond its display (0 to 99)"),
    # Behind a bank select only once that was heard; the bank stays until the next one.
    ("CA 02", "hall: load program 2 of a bank that was not heard"),
    ("BA 00 00", "hall: bank select 0 (msb)"),
    ("CA 02", "hall: load small (display A3)"),
    ("BA 00 01", "hall: bank select 1 (msb)"),
    ("CA 04", "hall: load great (display B5)"),
    ("CA 04", "hall: load great (display B5)"),
    ("CA 03", "hall: load display B4, to which the rig gives no name"),
    ("CA 08", "hall: program 8, which is beyond its display (A1 to H8)"),
    ("BA 20 01", "no unit declares it; hall ignores it"),
    ("BB 00 00", "wide: bank select 0 (msb)"),
    ("CB 00", "wide: load program 0 of a bank that was not heard"),
    ("BB 20 02", "wide: bank select 2 (lsb)"),
    ("CB 2B", "wide: load far (display 300)"),
    # Controls with what they are declared to do.
    ("B8 1C 7F", "echo: switch on"),
    ("B8 1C 00", "echo: switch off"),
    ("B8 1C 40", "echo: its switch, but with value 64 instead of 0 or 127"),
    ("B8 34 40", "echo: fine part 64 of time, and nothing of it before"),
    ("B8 14 23", "echo: time 350 ms"),
    ("B8 34 40", "echo: fine part of time, now 355 ms"),
    ("B8 14 7F", "echo: time 1270 ms"),
    ("B8 34 7F", "echo: fine part of time, now 1270 ms"),
    ("B8 1D 05", "echo: tap"),
    ("B8 15 7F", "echo: mix 100 %"),
    ("B8 16 00", "echo: place front"),
    ("B8 16 05", "echo: place value 5"),
    ("B8 17 05", "echo: voice: one press"),
    ("B8 18 05", "echo: bare value 5"),
    ("B2 50 05", "flipper: flip between on and off"),
    ("B3 51 7F", "presser: press of its switch"),
    ("B3 51 00", "presser: release of its switch"),
    ("B4 46 7F", "steps: step up"),
    ("B4 47 7F", "steps: step down"),
    ("B4 47 01", "steps: step down, but with value 1"),
    # What a pedal sends, whoever hears it.
    ("B8 0B 00", "swell sends it at heel"),
    ("B8 0B 50", "swell sends it between middle and toe"),
    # The switcher: from program 10 on, bank by bank.
    ("CF 0A", "switcher: load bank A, switch 1, Tune/Loud"),
    ("CF 10", "switcher: load bank B, switch 2"),
    ("CF 1D", "switcher: load bank D, switch 5"),
    ("CF 1E", "switcher: program 30, for which it has no preset"),
    ("CF 09", "switcher: program 9, for which it has no preset"),
]


def test_what_is_declared(compiled: Compiled) -> None:
    meaning = Meaning(compiled)
    for stream, words in SAID:
        (message,) = midi.decode(bytes.fromhex(stream))
        told = meaning.of(message)
        assert (stream, told.words) == (stream, words)
        assert told.declared is not words.startswith("no unit")


NOT_DECLARED = [
    ("C0 05", "no unit listens on channel 1"),
    ("90 3C 40", "no unit listens on channel 1"),
    ("B5 07 40", "no unit declares it; wobbler may act on it"),
    ("BA 07 40", "no unit declares it; hall ignores it"),
    ("C4 01", "no unit declares it; steps may act on it"),
    ("C8 05", "no unit declares it; echo may act on it"),
    ("95 3C 40", "no unit declares it; wobbler ignores it"),
    ("BF 00 01", "no unit listens on channel 16"),
]


@pytest.mark.parametrize(("stream", "words"), NOT_DECLARED)
def test_what_nobody_declares(stream: str, words: str, compiled: Compiled) -> None:
    (message,) = midi.decode(bytes.fromhex(stream))
    assert Meaning(compiled).of(message) == (words, False)


def test_what_was_before_something_lost_counts_no_more(compiled: Compiled) -> None:
    meaning = Meaning(compiled)
    select, load = midi.decode(bytes.fromhex("BA 00 01 CA 04"))
    meaning.of(select)
    meaning.forget()
    assert meaning.of(load).words == "hall: load program 4 of a bank that was not heard"


def test_units_that_are_gone_say_nothing() -> None:
    night = whole(DEMO / "granary-night.yaml", frozenset({"wobbler"}))
    (message,) = midi.decode(bytes.fromhex("C5 2A"))
    assert Meaning(night).of(message).words == "no unit listens on channel 6"


@pytest.mark.parametrize("night", ["granary-night.yaml", "parlour-night.yaml"])
def test_what_is_sent_is_understood(night: str) -> None:
    compiled = whole(DEMO / night)
    for song in compiled.songs:
        for name in song.scenes:
            scene, meaning = compiled.scene(song, name), Meaning(compiled)
            for timed in scene.lowered.direct.commands:
                command = timed.command
                says = meaning.of(command.message).words.split("; ")
                if command.quantity in {"program", "switch"}:
                    assert f"{command.unit}: {command.meaning}" in says
                elif command.quantity != "bank":
                    start = f"{command.unit}: {command.quantity} "
                    assert [one for one in says if one.startswith(start)]
            recall = compiled.recall_of(scene.key)
            assert recall is not None
            for command in recall:
                words = meaning.of(command.message).words
            # Others may share the preset, but then one of them stands there.
            assert words.startswith(f"switcher: {command.meaning}, ")
            others = {heading(compiled, one) for one in compiled.songs}
            assert words.split(", ", 2)[2].split("/")[0] in others


def test_what_is_kept_in_every_bank() -> None:
    compiled = whole(DEMO / "granary-night.yaml")
    meaning = Meaning(compiled)
    select, tuner = midi.decode(bytes.fromhex("BF 00 00 CF 07"))
    assert meaning.of(select).words == "switcher: bank select 0 (msb)"
    assert meaning.of(tuner).words == "switcher: load bank 1, switch 8, Tuner"
