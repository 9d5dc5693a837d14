"""Units drawn with any behaviour that a rig can declare."""

from __future__ import annotations

from random import Random
from typing import Any

from tests.stage.said import Unit

DISPLAYS = ("0 to 99", "1 to 128", "A1 to P8")
CONTROLS = (("mix", 21), ("depth", 22), ("time", 20))


def midi_unit(random: Random, channel: int | str) -> dict[str, Any]:
    """Draw a box that obeys MIDI."""
    said: dict[str, Any] = {"channel": channel}
    if random.random() < 0.85:
        said["acts only on"] = "what is declared"
    if random.random() < 0.8:
        _programs(random, said)
    if random.random() < 0.45:
        said["switched by"] = _switch(random)
    for name, cc in CONTROLS:
        if random.random() < 0.45:
            _control(random, said, name, cc)
    if "programs" not in said and "time" not in said and not said.get("controls"):
        _control(random, said, "mix", 21)
    settles = random.choice([0, 0, 0, 5, 40, 400])
    if settles:
        said["settles in"] = f"{settles} ms"
    if random.random() < 0.2:
        said["tails"] = "stay"
    return said


def _switch(random: Random) -> dict[str, Any]:
    return random.choice(
        [{"cc": 28, "on": 127, "off": 0}] * 7
        + [{"cc": 28, "on": 1, "off": 2}] * 3
        + [{"cc": 28, "any value flips": "yes"}, {"cc": 28, "press": 127, "release": 0}]
    )


def _programs(random: Random, said: dict[str, Any]) -> None:
    by = random.choice(["", "", "", "", "msb", "lsb", "msb and lsb"])
    names = ["warm", "thin", "wide"][: random.choice([1, 2, 2, 3])]
    if by:
        size = random.choice([128, 100])
        count = min(16_384 if by == "msb and lsb" else 128 * size, 16_384)
        said["display"] = f"0 to {count - 1}"
        said["bank select"] = {"by": by, "programs in a bank": size}
        shown = [str(number) for number in random.sample(range(count), len(names))]
    else:
        said["display"] = random.choice(DISPLAYS)
        numbers = random.sample(range(99), len(names))
        if len(names) > 1 and random.random() < 0.1:
            numbers[1] = numbers[0]  # one program with two names
        letters = said["display"].startswith("A")
        first = 1 if said["display"].startswith("1") else 0
        shown = [
            f"{chr(65 + number // 8)}{number % 8 + 1}" if letters else str(number + first)
            for number in numbers
        ]
    said["programs"] = dict(zip(names, shown, strict=True))
    said["same program again"] = random.choice(["reloads", "ignored"])
    said["loading"] = random.choice(["engages", "bypasses", "keeps bypass", "keeps bypass"])
    busy = random.choice([0, 0, 0, 2, 10, 60, 120, 300, 1500])
    if busy:
        said["busy after program"] = f"{busy} ms"
    if random.random() < 0.5:
        said["at rest"] = random.choice(names)
    if not by and random.random() < 0.05:
        said["reached by"] = {"up": 70, "down": 71} | random.choice(
            [{}, {"value": 64}, {"wraps": "yes"}]
        )


def _control(random: Random, said: dict[str, Any], name: str, cc: int) -> None:
    made: dict[str, Any] = {"cc": cc}
    kind = random.choice(["linear", "points", "plain", "positions"])
    if name == "time":
        made |= random.choice(
            [
                {"points": {"0": "0 ms", "100": "1 s", "127": "1270 ms"}},
                {"linear": "0 ms to 1270 ms"},
                {"linear": "20 ms to 1800 ms"},
                {"points": {"0": "40 ms", "32": "150 ms", "64": "350 ms", "127": "2 s"}},
            ]
        )
    elif kind == "positions":
        made["positions"] = {"near": 5, "far": random.randrange(128)}
    elif kind != "plain":
        made["linear"] = "0 to 127"
    made["after a program"] = random.choice(
        ["kept", "from the program", "from the program", "unknown"]
    )
    if said.get("programs") and random.random() < 0.15:
        made["only with"] = [random.choice(list(said["programs"]))]
    if random.random() < 0.15:
        made["fine cc"] = cc + 32
    if random.random() < 0.75:
        made["at rest"] = amount(random, name, made)
    if name == "time":
        said["time"] = made
    else:
        said.setdefault("controls", {})[name] = made


def amount(random: Random, name: str, control: dict[str, Any]) -> str:
    """Draw a setting of a control, within what it can do."""
    if "positions" in control:
        return str(random.choice(list(control["positions"])))
    if name == "time":
        return f"{random.randint(60, 1200)} ms"
    return str(random.randrange(128))


def twin(random: Random, said: dict[str, Any]) -> dict[str, Any]:
    """Draw a second box on the channel of ``said``.

    One that is the same and may be meant to change with it, one that obeys nothing that it
    does, or one that collides.
    """
    kind = random.choice(["same", "other controls", "other controls", "collides"])
    if kind == "same":
        return {key: value for key, value in said.items() if key != "settles in"}
    if kind == "other controls":
        made: dict[str, Any] = {
            "channel": said["channel"],
            "acts only on": "what is declared",
            "controls": {
                "glow": {"cc": 85, "linear": "0 to 127", "at rest": str(random.randrange(128))}
            },
        }
        if random.random() < 0.3:
            made["switched by"] = {"cc": 86, "on": 127, "off": 0}
        return made
    return midi_unit(random, said["channel"])


def part_of(random: Random, unit: Unit) -> dict[str, Any]:
    """Draw what an effect asks of a unit."""
    part: dict[str, Any] = {}
    switched = unit.loop is not None or unit.switch or "always on" in unit.said
    if unit.programs and (not switched or random.random() < 0.75):
        part["state"] = random.choice(list(unit.programs))
    if unit.relay:
        part["state"] = random.choice([unit.relay["open"], unit.relay["closed"]])
    if unit.foot:
        part["state"] = random.choice(unit.foot)
    for control in unit.controls.values():
        if random.random() < 0.5:
            part.setdefault("set", {})[control.name] = amount(random, control.name, control.said)
    return part
