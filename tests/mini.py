"""The smallest night: a test writes only what it is about, the rest is filled in here."""

from __future__ import annotations

from pathlib import Path
from textwrap import dedent, indent

from ruamel.yaml import YAML

from setwright.compiler.binding.bound import BoundScene
from setwright.compiler.binding.states import Wanted
from setwright.compiler.compiled import Compiled, Unopened
from setwright.scenes.finding import Finding
from tests.nights import whole

SWITCHER = """\
switcher: board
banks: 10
switches: 5
loops: 4
relays: [hold, pulse]
each preset stores: {programs: 4, controls: 4, bank select: yes}
"""


def write_night(
    folder: Path,
    *,
    units: str,
    effects: str,
    scenes: str = "",
    songs: str = "",
    rig: str = "",
    switcher: str = SWITCHER,
) -> Path:
    """Write a night into ``folder`` and return its path.

    ``units`` and ``effects`` are the contents of those keys of the rig, ``rig`` what else
    stands in it; ``scenes`` are those of one song called Tune in 4/4 at 120, unless ``songs``
    gives the whole file of songs. Where ``rig`` has no MIDI lines, one leads from the switcher
    through every unit that listens; where it has no path, the guitar's signal comes through every
    unit, and to an amplifier of its own if there is none.
    """

    def block(text: str) -> str:
        return indent(dedent(text).strip("\n"), "  ")

    if "midi:" not in rig:
        rig = dedent(rig) + midi_line(units)
    if "path:" not in rig:
        chain, ends = through_all(units)
        units = f"{dedent(units)}\n{AMPLIFIER}" if not ends else units
        rig = (
            dedent(rig) + f"\npath:\n- [guitar, {', '.join([*chain, *(ends or ['amplifier'])])}]\n"
        )
    song = (
        "songs:\n- title: Tune\n  meter: 4/4\n  tempo: quarter = 120\n  form: AB, 2 rounds\n"
        f"  scenes:\n{indent(block(scenes), '  ')}\n"
    )
    files = {
        "board.yaml": switcher,
        "rig.yaml": f"rig: Test\nswitcher: board.yaml\nunits:\n{block(units)}\n"
        f"effects:\n{block(effects)}\n{dedent(rig)}",
        "songs.yaml": dedent(songs) or song,
        "night.yaml": "night: Test\nrig: rig.yaml\nsongs: songs.yaml\nsets:\n- play: [Tune]\n",
    }
    for name, text in files.items():
        (folder / name).write_text(text, encoding="utf-8")
    return folder / "night.yaml"


def midi_line(units: str) -> str:
    """Return one line from the switcher through every unit of ``units`` that has a channel."""
    parsed = YAML(typ="safe").load(dedent(units)) or {}
    listening = [name for name, unit in parsed.items() if unit and "channel" in unit]
    return f"\nmidi:\n- [switcher, {', '.join(listening)}]\n" if listening else ""


AMPLIFIER = "amplifier: {is: amplifier}"


def through_all(units: str) -> tuple[list[str], list[str]]:
    """Return the units of ``units`` in the order of their loops, and its amplifiers."""
    parsed = {
        name: unit or {} for name, unit in (YAML(typ="safe").load(dedent(units)) or {}).items()
    }
    chain = [
        name
        for name, unit in parsed.items()
        if unit.get("is", "effect") in {"effect", "volume", "splitter", "mixer"}
    ]
    chain.sort(key=lambda name: parsed[name].get("loop", 65))
    return chain, [name for name, unit in parsed.items() if unit.get("is") == "amplifier"]


UNKNOWABLE = {
    "sent-in-vain",
    "flip-not-known",
    "steps-not-known",
    "stays-as-left",
    "no-clock",
    "echo-not-followed",
    "effect-not-asked",
}
"""What is found where something cannot be known, which tests of single commands provoke."""


def bound(compiled: Compiled, scene: str) -> BoundScene:
    """Return a scene of the first song; but for `UNKNOWABLE`, the book must have no findings."""
    assert [one.message for one in compiled.findings if one.code not in UNKNOWABLE] == []
    return compiled.songs[0].scenes[scene]


def told(compiled: Compiled | Unopened) -> list[Finding]:
    """Return what was found, but for effects that a small book makes and does not ask for."""
    return [one for one in compiled.findings if one.code != "effect-not-asked"]


def compile_mini(folder: Path, **parts: str) -> Compiled:
    """Write a night and compile it."""
    return whole(write_night(folder, **parts))


def quantity(scene: BoundScene, unit: str, name: str) -> Wanted:
    """Return one quantity of one unit."""
    (wanted,) = [one for one in scene.of(unit) if one.quantity == name]
    return wanted
