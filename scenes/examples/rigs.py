"""Examples of rigs, and of switchers as their makers made them."""

from setwright.scenes.examples.said import Examples, Short

FIELDS: Examples = {
    "Rig": {
        "rig": "rig: Granary",
        "include": "include: units.yaml",
        "switcher": "switcher: {file: floor.yaml, banks: 1 to 12}",
        "units": "units:\n  squeezer: {loop: 4}\n  echo: {channel: 9}",
        "effects": "effects:\n  tremolo: {wobbler: tremolo}\n  echo: {cloud: dark echo}\n"
        "  hall: {cloud: great hall}\n  echo + hall: {cloud: echo in the hall}",
        "instead of": "instead of:\n  hall: [room, long echo, nothing]",
        "general": "general:\n  Plain: [compression]",
        "path": "path:\n  - [guitar, squeezer, oak amplifier]\n"
        "  - [oak amplifier send, barn, oak amplifier return]",
        "midi": "midi:\n  - [switcher, wobbler, echo]",
        "supply": "supply:\n  one: {gives: 100 mA, volts: 9 V, feeds: squeezer}",
        "changes within": "changes within: 150 ms",
        "best for": "best for: the hands",
        "note": "note: the heavy one",
        "let pass": "let pass: {slow-change: nobody hears it}",
    },
    "SwitcherUse": {
        "file": "file: floor.yaml",
        "banks": "banks: 1 to 12",
        "every bank": "every bank: {switch 8: Tuner}",
        "always on": "always on: {Solo: switch 7}",
    },
    "KeptSwitch": {
        "name": "name: Tuner",
        "sound": "sound: plain",
        "effects": "effects: [compression]",
        "silent": "silent: yes",
        "note": "note: the white button",
        "let pass": "let pass: {slow-change: nobody hears it}",
    },
    "Stored": {
        "stored": "stored: floor",
        "format": "format: 1",
        "presets": "presets:\n  1/1: {name: Start, loops: [4], messages: [c5 2a]}",
        "programs": "programs:\n  wobbler: {42: tremolo}",
        "placed": "placed:\n  Granary: {state: 69Y5, banks: [1, 1, 2], presses: 1}",
    },
    "Placed": {
        "state": "state: 69Y5",
        "banks": "banks: [1, 1, 2]",
        "presses": "presses: 1",
    },
    "StoredPreset": {
        "name": "name: Start",
        "loops": "loops: [2, 4]",
        "relays": "relays: [1]",
        "messages": "messages: [c5 2a, b8 14 40]",
        "tempo": "tempo: quarter = 120",
    },
    "Part": {
        "state": "state: tremolo",
        "set": "set: {mix: 40 %, speed: slow}",
    },
    "Link": {"thru": "thru: no"},
    "Switcher": {
        "switcher": "switcher: floor",
        "banks": "banks: 20",
        "switches": "switches: A to E",
        "loops": "loops: 8",
        "relays": "relays: [hold, pulse]",
        "each preset stores": "each preset stores: {programs: 4, controls: 2}",
        "bank moves": "bank moves: {by: number}",
        "recalled on channel": "recalled on channel: 16",
        "first program": "first program: 1",
        "recalled by bank select": "recalled by bank select: msb",
        "same switch again": "same switch again: goes back",
        "at power up": "at power up: first preset",
        "copies presets": "copies presets: yes",
        "loop order": "loop order: per preset",
        "volume loop": "volume loop: {after loop: 5}",
        "gap between messages": "gap between messages: 1 ms",
        "passes on MIDI": "passes on MIDI: yes",
        "tap outputs": "tap outputs: 1",
        "clock": "clock: {tempo: per preset, BPM: 40 to 240}",
        "note": "note: the left button sticks",
        "let pass": "let pass: {beyond-recall: only a foot presses}",
    },
    "Storage": {
        "programs": "programs: 4",
        "controls": "controls: 2",
        "on any channel": "on any channel: no",
        "program channels": "program channels: [6, 9, 11, 12]",
        "control channels": "control channels: [6, 9]",
        "bank select": "bank select: yes",
        "messages on leaving": "messages on leaving: 2",
        "sends": "sends: as listed",
        "names": "names: 8",
    },
    "SwitcherClock": {
        "tempo": "tempo: per preset",
        "BPM": "BPM: 40 to 240",
    },
    "NameDisplay": {
        "characters": "characters: 8",
        "capitals": "capitals: only",
    },
    "BankMoves": {
        "by": "by: number",
        "loads at once": "loads at once: yes",
        "loads": "loads: first switch",
    },
    "VolumeLoop": {"after loop": "after loop: 5"},
    "Output": {
        "gives": "gives: 300 mA",
        "volts": "volts: 9 to 12 V",
        "current": "current: ac",
        "polarity": "polarity: centre positive",
        "feeds": "feeds: [squeezer, fuzz]",
        "let pass": "let pass: {supply-overloaded: they are never on together}",
    },
}

SHORT: dict[str, tuple[Short, ...]] = {
    "SwitcherUse": (Short("the file alone", "floor.yaml", "file: floor.yaml"),),
    "Part": (Short("a state alone", "tremolo", "state: tremolo"),),
    "KeptSwitch": (Short("the name alone", "Tuner", "name: Tuner"),),
    "SwitcherClock": (Short("the tempo alone", "global", "tempo: global"),),
    "NameDisplay": (Short("the number alone", "8", "characters: 8"),),
    "VolumeLoop": (Short("the number alone", "5", "after loop: 5"),),
    "Rig": (
        Short(
            "an effect that is one unit",
            "effects:\n  compression: squeezer",
            "effects:\n  compression: {squeezer: {}}",
        ),
        Short(
            "an effect that is several units",
            "effects:\n  shimmer: [squeezer, echo]",
            "effects:\n  shimmer: {squeezer: {}, echo: {}}",
        ),
    ),
}
