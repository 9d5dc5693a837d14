"""Examples of nights."""

from setwright.scenes.examples.said import Examples, Short

FIELDS: Examples = {
    "Night": {
        "night": "night: Winter dance",
        "date": "date: the last Saturday of January",
        "rig": "rig: granary.yaml",
        "songs": "songs: [reels.yaml, airs.yaml]",
        "sets": "sets:\n  - name: Before soup\n    play: [Drowsy Maggie, Blind Mary]",
        "if asked": "if asked: [The Soldier's Joy]",
        "best for": "best for: the feet",
        "between songs": "between songs: 30 s",
        "cue sheet": "cue sheet: {eyes above: 1.2 m, ahead: 0.7 m}",
        "bank presses": "bank presses: 20",
        "note": "note: doors at seven",
        "let pass": "let pass: {set-too-long: nobody leaves before}",
    },
    "Set": {
        "name": "name: Before soup",
        "begins": "begins: 20:30",
        "at most": "at most: 45 min",
        "note": "note: the lights are low",
        "play": "play:\n  - Blind Mary\n  - straight into: Drowsy Maggie",
        "let pass": "let pass: {set-too-long: they may wait for the soup}",
    },
    "Sight": {
        "eyes above": "eyes above: 1.2 m",
        "ahead": "ahead: 60 cm",
        "faces you": "faces you: yes",
    },
    "Playing": {
        "song": "song: Drowsy Maggie",
        "straight into": "straight into: Drowsy Maggie",
        "capo": "capo: 3",
        "tempo": "tempo: half = 96",
        "leave out": "leave out: [Hush, Blaze]",
        "note": "note: the learners dance this one",
    },
}

SHORT: dict[str, tuple[Short, ...]] = {
    "Playing": (Short("the title or the id alone", "Drowsy Maggie", "song: Drowsy Maggie"),),
}
