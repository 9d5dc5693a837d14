"""Several relays in one unit: tables of contacts, and what stands on the sheets."""

from __future__ import annotations

from pathlib import Path

import pytest

from setwright.compiler.compiled import Compiled
from setwright.compiler.outputs.collect import night_data
from setwright.compiler.outputs.preset_sheet import sheet_of
from setwright.compiler.pipeline import compile_night
from setwright.compiler.reports.heard import heard
from tests.mini import bound, compile_mini, told, write_night

BOARD = """\
switcher: board
banks: 10
switches: 6
loops: 4
relays: [hold, hold, hold, hold]
each preset stores: {programs: 4, controls: 4}
"""
UNITS = """
squeezer: {loop: 1}
oak:
  is: amplifier
  effects loop: yes
  relays:
    channel:
      numbers: [1, 2]
      states: {clean: [open, open], crunch: [closed, open], lead: [any, closed]}
    reverb: {numbers: 3, states: {dry: open, wet: closed}}
    boost: {numbers: 4, states: {normal: open, louder: closed}}
"""
EFFECTS = """
compression: squeezer
crunch: {oak: crunch}
lead: {oak: lead}
spring: {oak: wet}
solo: {oak: {state: lead, set: {reverb: wet, boost: louder}}}
"""

# Contacts by hand, from the table above: 1 and 2 the channel, 3 the reverb, 4 the boost.
CLOSED = [
    ("[]", (), ("clean", "dry", "normal")),
    ("[crunch]", (1,), ("crunch", "dry", "normal")),
    ("[lead]", (2,), ("lead", "dry", "normal")),
    ("[spring]", (3,), ("clean", "wet", "normal")),
    ("[crunch, spring]", (1, 3), ("crunch", "wet", "normal")),
    ("[compression, solo]", (2, 3, 4), ("lead", "wet", "louder")),
    ("[lead, solo]", (2, 3, 4), ("lead", "wet", "louder")),
]


def compiled_of(folder: Path, scenes: str) -> Compiled:
    return compile_mini(folder, units=UNITS, effects=EFFECTS, scenes=scenes, switcher=BOARD)


@pytest.mark.parametrize(("effects", "closed", "states"), CLOSED)
def test_which_contacts_are_closed(
    effects: str, closed: tuple[int, ...], states: tuple[str, ...], tmp_path: Path
) -> None:
    compiled = compiled_of(tmp_path, f"Far: {effects}")
    scene = bound(compiled, "Far")
    (preset,) = compiled.placement.presets
    assert preset.content.relays == closed
    assert tuple(one.value for one in scene.of("oak")) == states
    (row,) = heard(compiled, compiled.scene(compiled.songs[0], "Far"))
    assert f"({', '.join(states)})" in str(row[-1])


def test_the_preset_sheet_says_what_each_contact_does(tmp_path: Path) -> None:
    compiled = compiled_of(tmp_path, "Far: [solo]")
    sheet = sheet_of(night_data(compiled))
    (preset,) = [one for bank in sheet.banks for one in bank.presets]
    assert [(one.number, one.unit, one.state, one.meaning) for one in preset.relays] == [
        (1, "oak", "open", "lead"),
        (2, "oak", "closed", "lead"),
        (3, "oak", "closed", "wet"),
        (4, "oak", "closed", "louder"),
    ]


def test_channels_by_programs_and_controls(tmp_path: Path) -> None:
    """An amplifier may take its channels from MIDI as any unit takes its programs."""
    compiled = compile_mini(
        tmp_path,
        units="""
        oak:
          is: amplifier
          channel: 4
          display: 1 to 128
          programs: {clean: 1, lead: 3}
          at rest: clean
          controls: {reverb: {cc: 85, positions: {dry: 0, wet: 127}, at rest: dry}}
          acts only on: what is declared
        """,
        effects="lead: {oak: lead}\nspring: {oak: {set: {reverb: wet}}}",
        scenes="Far: [lead, spring]\nNear: []",
    )
    assert told(compiled) == []
    scene = compiled.scene(compiled.songs[0], "Far")
    assert [str(one.command.message) for one in scene.lowered.stored.commands] == [
        "channel 4 program 2",
        "channel 4 control 85 value 127",
    ]


SLIPS = [
    # what is exchanged in the units or effects, the code, the text that it points at
    ("lead: [any, closed]", "lead: [any, open]", "contacts-disagree", "lead"),
    (
        "{numbers: 4, states: {normal: open, louder: closed}}",
        "{numbers: 4, states: {louder: closed}}",
        "contacts-disagree",
        "states",
    ),
    ("numbers: 4", "numbers: 5", "relay-out-of-range", "5"),
    ("numbers: 4", "numbers: 3", "relay-twice", "3"),
    ("louder: closed", "wet: closed", "state-twice", "closed"),
    ("reverb: wet, boost", "reverb: soaked, boost", "unknown-state", "soaked"),
    ("reverb: wet, boost", "reverb: lead, boost", "unknown-state", "lead"),
    ("{oak: crunch}", "{oak: crunsh}", "unknown-state", "crunsh"),
    ("dry: open, wet", "dry: shut, wet", "unknown-choice", "shut"),
    ("solo: {oak: {state: lead,", "solo: {oak: {state: lead, x: 1,", "unknown-key", "x"),
]


@pytest.mark.parametrize(("old", "new", "code", "text"), SLIPS)
def test_slips(old: str, new: str, code: str, text: str, tmp_path: Path) -> None:
    assert (UNITS + EFFECTS).count(old) == 1
    night = write_night(
        tmp_path,
        units=UNITS.replace(old, new),
        effects=EFFECTS.replace(old, new),
        scenes="Far: [crunch]\nNear: [solo, compression]\nWide: [spring]\nHot: [lead]",
        switcher=BOARD,
    )
    found = told(compile_night(night))
    assert [one.code for one in found] == [code], [one.message for one in found]
    place = found[0].place
    assert place.source.line(place.line)[place.column - 1 : place.end_column - 1] == text


def test_two_effects_that_need_two_channels_clash(tmp_path: Path) -> None:
    night = write_night(
        tmp_path, units=UNITS, effects=EFFECTS, scenes="Far: [crunch, lead]", switcher=BOARD
    )
    assert [one.code for one in told(compile_night(night))] == ["effects-clash"]


def test_a_state_may_let_nothing_through(tmp_path: Path) -> None:
    units = UNITS.replace(
        "boost: {numbers: 4, states: {normal: open, louder: closed}}",
        "mute: {numbers: 4, states: {heard: open, muted: closed}}\n  silent when: [muted]",
    )
    night = write_night(
        tmp_path,
        units=units,
        effects="compression: squeezer\nquiet: {oak: muted}",
        scenes="Near: [compression]\nNone: {effects: [quiet], silent: yes}",
        switcher=BOARD,
    )
    assert told(compile_night(night)) == []
