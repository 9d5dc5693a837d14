"""Rigs drawn with a switcher, MIDI lines that branch and join, a path, and effects."""

from __future__ import annotations

from random import Random
from typing import Any

from tests.stage.draw_units import midi_unit, part_of, twin
from tests.stage.said import Unit


def board(random: Random) -> dict[str, Any]:
    """Draw a switcher."""
    few = random.random() < 0.15
    stores = {
        "programs": random.choice([4, 8, 8]),
        "controls": random.choice([8, 20, 20]),
        "bank select": "yes",
        "sends": random.choice(["programs first", "programs first", "as listed", "controls first"]),
    }
    if stores["sends"] == "as listed" and random.random() < 0.3:
        stores["bank select"] = "no"  # it takes a control slot
    made: dict[str, Any] = {
        "switcher": "board",
        "banks": 4 if few else random.choice([10, 40, 200]),
        "switches": random.choice([4, 5, 8]),
        "loops": 10,
        "relays": random.choice([["hold", "hold"]] * 6 + [["pulse", "hold"]]),
        "each preset stores": stores,
        "gap between messages": f"{random.choice([0, 0, 1, 2, 30])} ms",
        "same switch again": random.choice(["sends again", "does nothing", "goes back"]),
        "at power up": random.choice(["first preset", "last used", "unknown"]),
    }
    if random.random() < 0.4:
        made["recalled on channel"] = 16
        made["recalled by bank select"] = random.choice(["no", "msb", "msb and lsb"])
    if random.random() < 0.3:
        made["loop order"] = "per preset"
    if random.random() < 0.25:
        made["bank moves"] = {
            "by": random.choice(["up and down", "number", "both"]),
            "loads at once": "yes",
        }
    return made


def rig(random: Random) -> dict[str, Any]:
    """Draw a rig."""
    units: dict[str, dict[str, Any]] = {}
    channels = random.sample(range(1, 16), 6)
    alone = random.random() < 0.06
    for number in range(1 if alone else random.randint(2, 5)):
        units[f"box {number}"] = midi_unit(random, "omni" if alone else channels[number])
    if not alone and random.random() < 0.35:
        whose = random.choice(list(units))
        units["twin"] = twin(random, units[whose])
        if random.random() < 0.3:
            units["twin"]["let pass"] = {"channel-collision": "they are meant to change together"}
    if not alone and random.random() < 0.04:
        units["box 1"]["channel"] = "omni"
    _loops(random, units)
    midi = [name for name in units if "channel" in units[name]]
    _by_hand_and_foot(random, units)
    lines = _lines(random, units, midi)
    effects = _effects(random, {name: Unit(name, said) for name, said in units.items()})
    made: dict[str, Any] = {"switcher": "board.yaml", "units": units, "effects": effects}
    missing = {"gone": ["nothing"]}
    if random.random() < 0.5:
        missing["lost"] = [random.choice(list(effects)), "nothing"]
    made["instead of"] = missing
    made["midi"] = lines
    if random.random() < 0.85:
        made["path"] = _path(random, units)
    return made


def _loops(random: Random, units: dict[str, dict[str, Any]]) -> None:
    """Put some boxes into loops, and plain pedals into others."""
    numbers = list(range(1, 11))
    random.shuffle(numbers)
    for number in range(random.randint(0, 2)):
        units[f"pedal {number}"] = {"loop": numbers.pop()}
    for said in units.values():
        if "channel" in said and random.random() < 0.4:
            said["loop"] = numbers.pop()
        sure = "loop" in said or "switched by" in said or "programs" in said
        if not sure and "channel" in said:
            said |= {"loop": numbers.pop()} if random.random() < 0.6 else {"always on": "yes"}


def _by_hand_and_foot(random: Random, units: dict[str, dict[str, Any]]) -> None:
    if random.random() < 0.5:
        units["swell"] = {"is": "volume", "by foot": ["closed", "open"]}
        if random.random() < 0.85:
            units["swell"]["at start"] = random.choice(["open", "open", "open", "closed"])
        if random.random() < 0.2:
            units["swell"]["at rest"] = "open"
    if random.random() < 0.3:
        units["stomp"] = {"by foot": ["resting", "boosting"], "at start": "resting"}
        if random.random() < 0.7:
            units["stomp"]["at rest"] = "resting"
    units["oak"] = {"is": "amplifier"}
    if random.random() < 0.6:
        units["oak"]["relay"] = {"number": 1, "open": "clean", "closed": "crunch"}
    if random.random() < 0.3:
        units["oak"]["effects loop"] = "yes"
    if random.random() < 0.5:
        units["splitter"] = {"is": "splitter"}
        units["ash"] = {"is": "amplifier"}
        if random.random() < 0.3:
            units["ash"]["relay"] = {"number": 2, "open": "low", "closed": "high"}


def _lines(random: Random, units: dict[str, dict[str, Any]], midi: list[str]) -> list[list[Any]]:
    """Lay MIDI cables: a chain, branches, merges, a computer, senders, two ways to one place."""
    midi = midi[:]
    random.shuffle(midi)
    shape = random.choice(
        [
            "chain",
            "branches",
            "branches",
            "branches",
            "branches",
            "branches",
            "merge",
            "computer",
            "diamond",
            "both",
            "computer alone",
        ]
    )
    if shape == "chain" or len(midi) == 1:
        return [["switcher", *midi]]
    if shape == "computer alone":
        return [["computer", *midi]]
    cut = random.randint(1, len(midi) - 1)
    one: list[Any] = midi[:cut]
    two: list[Any] = midi[cut:]
    if random.random() < 0.3:
        # Nothing hangs behind the last of a line, so its THRU may be off.
        end = {one[-1]: {"thru": "no"}}
        one = [*one[:-1], end]
    if shape == "branches":
        if random.random() < 0.5:
            return [["switcher", *one], ["switcher", *two]]
        units["hub"] = {"thru": "yes"} if random.random() < 0.5 else {"is": "merge"}
        return [["switcher", "hub", *one], ["hub", *two]]
    if shape == "merge":
        units["joiner"] = {"is": "merge"}
        units["keyboard"] = {
            "is": "sender",
            "sends": random.choice(
                [["clock"], ["notes on channel 1"], ["clock", "active sensing"]] * 3
                + [["programs on channel 16"], [f"programs on channel {random.randint(1, 15)}"]]
            ),
        }
        return [["switcher", "joiner"], ["keyboard", "joiner"], ["joiner", *midi]]
    if shape == "computer":
        units["joiner"] = {"is": "merge"}
        return [["switcher", "joiner"], ["computer", "joiner"], ["joiner", *midi]]
    if shape == "both":
        return [["computer", "switcher", *midi]]
    # Two ways from the switcher to the boxes behind the merge.
    units["joiner"] = {"is": "merge"}
    first = [name for name in one if isinstance(name, str)] or [midi[0]]
    rest = [name for name in midi if name not in first]
    return [["switcher", *first, "joiner"], ["switcher", "joiner", *rest]]


def _effects(random: Random, units: dict[str, Unit]) -> dict[str, dict[str, Any]]:
    usable = [
        name
        for name, unit in units.items()
        if unit.loop is not None or unit.relay or unit.foot or unit.channel is not None
    ]
    usable = [name for name in usable if units[name].said.get("is") != "merge"]
    effects: dict[str, dict[str, Any]] = {}

    def make(names: list[str]) -> None:
        parts = {name: part_of(random, units[name]) for name in names}
        if "twin" in names or ("twin" in units and random.random() < 0.4):
            _together(random, units, parts)
        effects[f"effect {len(effects)}"] = parts

    for name in usable:
        make([name])
    for _ in range(random.randint(1, 3)):
        make(random.sample(usable, min(len(usable), random.choice([1, 2, 2, 3]))))
    return effects


def _together(random: Random, units: dict[str, Unit], parts: dict[str, dict[str, Any]]) -> None:
    """Let boxes that are the same and share a channel be asked for together, alike."""
    twins = [
        name for name in units if name != "twin" and units[name].channel == units["twin"].channel
    ]
    for name in twins:
        same = units[name].programs == units["twin"].programs and units["twin"].programs
        if same and (name in parts or "twin" in parts):
            parts[name] = parts["twin"] = parts.get(name, parts.get("twin", {}))


def _path(random: Random, units: dict[str, dict[str, Any]]) -> list[list[str]]:
    """Plug the guitar through everything that makes sound, loops in their order, to amplifiers."""
    pedals = [
        name
        for name, said in units.items()
        if said.get("is", "effect") in ("effect", "volume") and name != "hub"
    ]
    looped = sorted(
        (name for name in pedals if "loop" in units[name]), key=lambda n: units[n]["loop"]
    )
    others = [name for name in pedals if name not in looped]
    random.shuffle(others)
    first, rest = others[: len(others) // 2], others[len(others) // 2 :]
    chain = [*first, *looped, *rest]
    runs = []
    if units["oak"].get("effects loop") == "yes" and chain:
        inner = [name for name in rest if random.random() < 0.7]
        if inner:
            chain = [name for name in chain if name not in inner]
            runs.append(["oak send", *inner, "oak return"])
        else:
            del units["oak"]["effects loop"]
    if "ash" in units:
        where = random.randint(0, len(rest))
        own = [name for name in rest[where:] if name in chain]
        chain = [name for name in chain if name not in own]
        return [
            ["guitar", *chain, "splitter"],
            ["splitter", "oak"],
            ["splitter", *own, "ash"],
            *runs,
        ]
    return [["guitar", *chain, "oak"], *runs]
