"""Whole nights drawn at random: songs with moments at known times, sets, and a rig for them."""

from __future__ import annotations

from random import Random
from typing import Any

from tests.stage import draw_rig
from tests.stage.asks import NOTES
from tests.stage.said import Book, Unit

BEATS = {"4/4": ["quarter", "half"], "6/8": ["dotted quarter"], "2/2": ["half"], "3/4": ["quarter"]}
ECHOES = [None, None, None, None, "quarter", "dotted eighth", "eighth", "444 ms", "90 ms"]


def draw(seed: int) -> Book:
    """Draw the book of one night."""
    random = Random(seed)
    board, rig = draw_rig.board(random), draw_rig.rig(random)
    if any(line[:2] == ["computer", "switcher"] for line in rig["midi"]) and random.random() < 0.7:
        board["passes on MIDI"] = "yes"
    units = {name: Unit(name, said) for name, said in rig["units"].items()}
    sounds = {
        f"sound {number}": _effects(random, rig, units) for number in range(random.randint(1, 3))
    }
    songs = [_song(random, number, rig, units, sounds) for number in range(random.randint(2, 5))]
    rig["general"] = {name: {"effects": _effects(random, rig, units)} for name in ("Plain", "Loud")}
    asked = {"title": "Asked", "meter": "4/4", "tempo": "quarter = 100"}
    night = {
        "night": "Test",
        "rig": "rig.yaml",
        "songs": "songs.yaml",
        "sets": _sets(random, songs),
        "if asked": [{"song": "Asked"}],
    }
    files = {
        "board": board,
        "rig": rig,
        "songs": {"sounds": sounds, "songs": [*songs, asked]},
        "night": night,
    }
    return Book(files)


def _sets(random: Random, songs: list[dict[str, Any]]) -> list[dict[str, Any]]:
    playings: list[dict[str, Any]] = []
    for song in [*songs, *random.sample(songs, random.choice([0, 0, 1]))]:
        into = playings and random.random() < 0.35
        playing: dict[str, Any] = {"straight into" if into else "song": song["title"]}
        if "tempo" in song and random.random() < 0.2:
            note, _, _ = song["tempo"].partition(" = ")
            playing["tempo"] = f"{note} = {random.randint(60, 150)}"
        if len(song.get("scenes", {})) > 2 and random.random() < 0.15:
            playing["leave out"] = [list(song["scenes"])[1]]
        playings.append(playing)
    cut = random.randint(1, len(playings))
    if cut < len(playings) and "straight into" in playings[cut]:
        playings[cut]["song"] = playings[cut].pop("straight into")
    sets = [playings[:cut], playings[cut:]]
    return [{"play": one} for one in sets if one]


def _effects(random: Random, rig: dict[str, Any], units: dict[str, Unit]) -> list[str]:
    """Draw effects that can sound together."""
    names = random.sample([*rig["effects"], *rig["instead of"]], random.randint(0, 3))
    return without_clashes(names, rig, units)


def without_clashes(names: list[str], rig: dict[str, Any], units: dict[str, Unit]) -> list[str]:
    """Return ``names`` without those that want a unit otherwise than one before them."""
    seen: dict[tuple[str, str], Any] = {}
    kept: list[str] = []
    for name in names:
        made = [name, *rig["instead of"].get(name, [])]
        parts = [(unit, part) for one in made for unit, part in rig["effects"].get(one, {}).items()]
        own: dict[tuple[str, str], Any] = {}
        for unit, part in parts:
            state = part.get("state")
            if state is not None:
                own[unit, "state"] = units[unit].programs.get(state, state)
            own |= {(unit, control): value for control, value in part.get("set", {}).items()}
        if all(seen.get(key, value) == value for key, value in own.items()):
            seen |= own
            kept.append(name)
    return kept


def _song(
    random: Random,
    number: int,
    rig: dict[str, Any],
    units: dict[str, Unit],
    sounds: dict[str, list[str]],
) -> dict[str, Any]:
    meter = random.choice(list(BEATS))
    song: dict[str, Any] = {"title": f"Tune {number}"}
    timed = random.random() < 0.85
    if timed:
        beat = random.choice(BEATS[meter])
        song |= {"meter": meter, "tempo": f"{beat} = {random.randint(60, 200)}"}
        if random.random() < 0.3:
            song["echo"] = random.choice(["quarter", "eighth", "300 ms"])
    scenes: dict[str, Any] = {}
    if random.random() < 0.07:
        return song  # it has the rig's general scenes
    for index in range(random.randint(2, 4)):
        scenes[f"Scene {index}"] = _scene(random, rig, units, sounds, scenes, timed)
    song["scenes"] = scenes
    if random.random() < 0.12:
        return song  # no order: pressed one after the other, nobody says when
    names = list(scenes)
    needed = {
        name: _worked_by_foot(rig, units, names_of(scene, scenes, sounds))
        for name, scene in scenes.items()
    }
    presses = [names[0], *random.choices(names, k=random.randint(1, 5))]
    places = _places(random, song, len(presses)) if timed else _by_clock(random, song, len(presses))
    song["order"] = []
    last = ""
    for scene, place in zip(presses, places, strict=True):
        step: dict[str, Any] = {} if place is None else {"at": place}
        foot = _foot(random, units, needed[scene])
        if foot:
            step["foot"] = foot
        if scene != last or random.random() < 0.3:
            song["order"].append({scene: step})
            last = scene
    return song


def names_of(
    scene: dict[str, Any], scenes: dict[str, Any], sounds: dict[str, list[str]]
) -> list[str]:
    """Return the effects of a scene, those that it drops among them."""
    if "sound" in scene:
        return sounds[scene["sound"]]
    if "like" in scene:
        return names_of(scenes[scene["like"]], scenes, sounds)
    return list(scene["effects"])


def _worked_by_foot(rig: dict[str, Any], units: dict[str, Unit], names: list[str]) -> set[str]:
    made = [one for name in names for one in (name, *rig["instead of"].get(name, []))]
    return {unit for one in made for unit in rig["effects"].get(one, {}) if units[unit].foot}


def _foot(random: Random, units: dict[str, Unit], needed: set[str]) -> str | None:
    able = [unit for unit in units.values() if unit.foot and unit.name not in needed]
    if not able or random.random() < 0.7:
        return None
    unit = random.choice(able)
    return f"{unit.name} {random.choice(unit.foot)}"


def _scene(
    random: Random,
    rig: dict[str, Any],
    units: dict[str, Unit],
    sounds: dict[str, list[str]],
    scenes: dict[str, Any],
    timed: bool,
) -> dict[str, Any]:
    kind = random.choice(["effects", "effects", "sound", "like"])
    scene: dict[str, Any]
    if kind == "sound":
        scene = {"sound": random.choice(list(sounds))}
    elif kind == "like" and scenes and (like := random.choice(list(scenes))):
        scene = {"like": like}
        listed = scenes[like].get("effects")
        if listed and random.random() < 0.6:
            scene["drop"] = [random.choice(listed)]
    else:
        scene = {"effects": _effects(random, rig, units)}
    echo = random.choice(ECHOES)
    if echo and "like" not in scene and (timed or echo not in NOTES):
        scene["echo"] = echo
    return scene


def _places(random: Random, song: dict[str, Any], count: int) -> list[str | None]:
    """Draw ascending places: bars and beats, rounds and parts, or by the clock; some close."""
    kind = random.choice(["bars", "bars", "parts", "clock", "mixed"])
    if kind == "clock":
        return _by_clock(random, song, count)
    rounds = random.randint(1, 3)
    parts = random.choice(["AABB", "AB", "AAB"])
    song["form"] = f"{parts}, {rounds} round{'s' if rounds > 1 else ''}"
    size = random.choice([2, 4, 8])
    song["bars"] = dict.fromkeys(sorted(set(parts)), size)
    if kind in ("parts", "mixed"):
        all_parts = []
        for number in range(1, rounds + 1):
            for at, letter in enumerate(parts):
                nth = parts[: at + 1].count(letter)
                all_parts.append(f"round {number} {letter}{nth if nth > 1 else ''}")
        picked = sorted(random.sample(range(len(all_parts)), min(count, len(all_parts))))
        places: list[str | None] = [all_parts[at] for at in picked]
        places += [None] * (count - len(places))
        if kind == "mixed" and count > 2:
            places[1] = None
        return places
    beats = int(song["meter"].split("/")[0])
    total = rounds * len(parts) * size * beats
    spots = sorted(random.sample(range(total), min(count, total)))
    for at in range(1, len(spots)):
        if random.random() < 0.4 and spots[at - 1] + 1 not in spots:
            spots[at] = spots[at - 1] + 1  # one beat after the one before
    spots.sort()
    if random.random() < 0.3:
        spots[-1] = total - 1  # the last beat of the song
    spots = sorted(set(spots))
    return [
        f"bar {spot // beats + 1}" + (f" beat {spot % beats + 1}" if spot % beats else "")
        for spot in spots
    ] + [None] * (count - len(spots))


def _by_clock(random: Random, song: dict[str, Any], count: int) -> list[str | None]:
    now = 0
    places: list[str | None] = []
    for index in range(count):
        if index or random.random() < 0.2:
            now += random.choice([30, 80, 150, 400, 1500, 4000, 9000, 20_000])
        places.append(f"{now // 60_000} min {now % 60_000 / 1000:.3f} s")
    end = now + random.choice([50, 200, 5000])
    song["lasts"] = f"{end // 60_000} min {end % 60_000 / 1000:.3f} s"
    return places
