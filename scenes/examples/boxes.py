"""Examples of units, their controls and their power."""

from setwright.scenes.examples.said import Examples, Short

FIELDS: Examples = {
    "Unit": {
        "is": "is: amplifier",
        "loop": "loop: 4",
        "channel": "channel: 6",
        "display": "display: A1 to H8",
        "programs": "programs: {tremolo: 42, vibrato: 43}",
        "free programs": "free programs: [60, 61]",
        "bank select": "bank select: {by: msb, programs in a bank: 100}",
        "same program again": "same program again: ignored",
        "busy after program": "busy after program: 120 ms",
        "settles in": "settles in: 40 ms",
        "loading": "loading: engages",
        "reached by": "reached by: {up: 40, down: 41}",
        "switched by": "switched by: {cc: 28, on: 127, off: 0}",
        "controls": "controls:\n  mix: {cc: 21, linear: 0 % to 100 %, at rest: 30 %}",
        "time": "time: {cc: 20, linear: 20 ms to 1800 ms}",
        "tempo from": "tempo from: clock",
        "tap": "tap: {cc: 93}",
        "tap output": "tap output: 1",
        "tails": "tails: stay",
        "acts only on": "acts only on: what is declared",
        "by foot": "by foot: [closed, half, open]",
        "foot sends": "foot sends: {channel: 9, cc: 11, values: {heel: 0, toe: 127}}",
        "at start": "at start: open",
        "at rest": "at rest: open",
        "silent when": "silent when: [closed]",
        "relay": "relay: {number: 1, open: clean, closed: crunch}",
        "relays": "relays:\n  channel:\n    numbers: [1, 2]\n"
        "    states: {clean: [open, open], crunch: [closed, open], lead: [any, closed]}\n"
        "  reverb: {numbers: 3, states: {dry: open, wet: closed}}",
        "always on": "always on: yes",
        "shares with": "shares with: [booster]",
        "effects loop": "effects loop: yes",
        "inputs": "inputs: 2",
        "outputs": "outputs: 2",
        "thru": "thru: no",
        "sends": "sends: [clock, programs on channel 1]",
        "power": "power: {draws: 180 mA, volts: 9 V}",
        "own power": "own power: yes",
        "note": "note: the red one",
        "let pass": "let pass: {channel-collision: two halves of one box}",
    },
    "BankSelect": {
        "by": "by: lsb",
        "programs in a bank": "programs in a bank: 100",
    },
    "RelayUse": {"number": "number: 1", "open": "open: clean", "closed": "closed: crunch"},
    "Contacts": {
        "numbers": "numbers: [1, 2]",
        "states": "states: {clean: [open, open], crunch: [closed, open], lead: [any, closed]}",
    },
    "Control": {
        "cc": "cc: 20",
        "fine cc": "fine cc: 52",
        "linear": "linear: 20 ms to 1800 ms",
        "points": "points: {0: 20 ms, 64: 300 ms, 127: 1800 ms}",
        "positions": "positions: {slow: 0, fast: 127}",
        "presses": "presses: [slow, fast]",
        "after a program": "after a program: kept",
        "only with": "only with: [tremolo]",
        "at rest": "at rest: 40 %",
    },
    "FootSends": {
        "channel": "channel: 9",
        "cc": "cc: 11",
        "values": "values: {heel: 0, middle: 64, toe: 127}",
    },
    "SwitchedBy": {
        "cc": "cc: 28",
        "on": "on: 127",
        "off": "off: 0",
        "any value flips": "any value flips: yes",
        "press": "press: 127",
        "release": "release: 0",
    },
    "Steps": {"up": "up: 40", "down": "down: 41", "value": "value: 1", "wraps": "wraps: yes"},
    "Power": {
        "draws": "draws: 180 mA",
        "volts": "volts: 9 to 18 V",
        "current": "current: ac",
        "polarity": "polarity: centre positive",
        "passes on to": "passes on to: [booster]",
    },
}

SHORT: dict[str, tuple[Short, ...]] = {
    "Contacts": (
        Short(
            "one contact",
            "{numbers: 3, states: {dry: open, wet: closed}}",
            "{numbers: [3], states: {dry: [open], wet: [closed]}}",
        ),
    ),
}
