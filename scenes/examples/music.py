"""Examples of files of songs."""

from setwright.scenes.examples.said import Examples, Short

FIELDS: Examples = {
    "SongBook": {
        "include": "include: [airs.yaml, reels.yaml]",
        "sounds": "sounds:\n  frost: [compression, tremolo, long echo]",
        "songs": "songs:\n  - title: Drowsy Maggie\n    scenes: {Start: frost}",
    },
    "Sound": {"effects": "effects: [compression, tremolo, long echo]"},
    "Song": {
        "title": "title: Drowsy Maggie",
        "id": "id: maggie",
        "key": "key: E dorian",
        "meter": "meter: 6/8",
        "tempo": "tempo: quarter = 120, quarter = 96 from bridge",
        "form": "form: intro verse chorus verse chorus bridge chorus 2×",
        "bars": "bars: {intro: 4, verse: 16, bridge: until the singer nods}",
        "pickup": "pickup: 3 eighths",
        "lasts": "lasts: 3:10",
        "guitar": "guitar: steel, capo 2",
        "echo": "echo: dotted eighth",
        "note": "note: the fiddle begins alone",
        "scenes": "scenes:\n  Start: brushed\n  Lift: {like: Start, add: tremolo}",
        "over two banks": "over two banks: yes",
        "order": "order:\n  - Start\n  - Lift: round 2 A\n  - Start: {at: bar 49, cue: bass stops}",
        "let pass": "let pass: {order-out-of-time: it is a short one}",
    },
    "Scene": {
        "sound": "sound: frost",
        "effects": "effects: [compression, lead]",
        "like": "like: Start",
        "add": "add: [lead, boost]",
        "drop": "drop: tremolo",
        "tempo": "tempo: quarter = 60",
        "echo": "echo: 350 ms",
        "silent": "silent: yes",
        "note": "note: softly, it is loud enough",
        "let pass": "let pass: {slow-change: nobody hears it}",
    },
    "Step": {
        "at": "at: round 2 A",
        "cue": "cue: caller lifts the lamp",
        "foot": "foot: swell open",
        "silent": "silent: yes",
        "guitar": "guitar: steel, drop D",
    },
}

SHORT: dict[str, tuple[Short, ...]] = {
    "Sound": (
        Short("a list of effects", "[compression, tremolo]", "effects: [compression, tremolo]"),
        Short("one effect", "compression", "effects: [compression]"),
    ),
    "Scene": (
        Short("the name of a sound", "frost", "sound: frost"),
        Short("a list of effects", "[compression, lead]", "effects: [compression, lead]"),
    ),
    "Step": (Short("a place alone", "round 2 A", "at: round 2 A"),),
    "Song": (
        Short(
            "a moment without a place",
            "title: Drowsy Maggie\norder:\n  - Start",
            "title: Drowsy Maggie\norder:\n  - Start: {}",
        ),
    ),
}
