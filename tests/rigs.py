"""Random rigs and songs, with an oracle that says what every scene has to bring.

The oracle works on what was drawn, never on what the compiler makes of it: an effect that is
asked for means its programs and settings, a unit that nobody asks for is off, out, or at rest.
So it can judge the compiler from outside, with model receivers that take the bytes.
"""

from __future__ import annotations

import json
from collections.abc import Iterator
from dataclasses import dataclass, field
from fractions import Fraction
from itertools import pairwise
from typing import Any

from hypothesis import strategies as st

Key = tuple[str, str]
"""Unit and quantity."""

NOTES = {"quarter": Fraction(1), "dotted eighth": Fraction(3, 4), "eighth": Fraction(1, 2)}
"""Note values in quarters: a dot adds half, so a dotted eighth is three quarters of a quarter."""

DISPLAYS = {"0 to 99": 0, "1 to 128": 1, "A1 to P8": None}


@dataclass
class Box:
    """A drawn unit: what its file says, and what is known of it without the file."""

    name: str
    channel: int | str | None
    said: dict[str, Any] = field(default_factory=dict)
    programs: dict[str, tuple[int, int]] = field(default_factory=dict)
    controls: dict[str, int] = field(default_factory=dict)
    only_with: dict[str, list[str]] = field(default_factory=dict)
    resting: dict[str, Any] = field(default_factory=dict)
    positions: dict[str, tuple[str, int]] = field(default_factory=dict)
    loop: int | None = None
    relay: bool = False
    mates: tuple[str, ...] = ()

    @property
    def steps(self) -> bool:
        return "reached by" in self.said

    def control(self, name: str) -> dict[str, Any]:
        """Return what is said of a control."""
        found: dict[str, Any] = self.said["time"] if name == "time" else self.said["controls"][name]
        return found

    def fine(self, name: str) -> int | None:
        """Return the number of a control's fine part; None where it has none to be sent."""
        said = self.control(name)
        curve = "linear" in said or "points" in said
        return said["fine cc"] if "fine cc" in said and curve else None

    @property
    def switch(self) -> dict[str, Any] | None:
        found: dict[str, Any] | None = self.said.get("switched by")
        return found

    @property
    def busy(self) -> Fraction:
        return Fraction(str(self.said.get("busy after program", "0 ms")).removesuffix(" ms"))

    @property
    def settles(self) -> Fraction:
        return Fraction(str(self.said.get("settles in", "0 ms")).removesuffix(" ms"))


@dataclass
class Effect:
    """A drawn effect: for each unit the program's name (or relay's state) and settings."""

    name: str
    parts: dict[str, dict[str, Any]]
    written: dict[str, Any]


@dataclass
class Book:
    """A drawn night: its files, its boxes, and what each of its scenes asks for."""

    files: dict[str, str]
    boxes: dict[str, Box]
    effects: dict[str, Effect]
    asked: dict[str, tuple[list[str], str | None, str | None]]
    tempo: int
    gap: Fraction
    sends: str
    general: tuple[str, ...] = ()
    gone: frozenset[str] = frozenset()
    tight: bool = False
    """Whether presets have too few slots for all fine parts."""

    def wanted(self, scene: str, coarse: frozenset[Key] = frozenset()) -> dict[Key, Any]:
        """Return what ``scene`` has to bring, by unit and quantity; what nobody cares for is not in it.

        Controls with a fine part have two values, the second of which is 0 for those in ``coarse``.
        """
        names, echo, echo_of_song = self.asked[scene]
        wanted: dict[Key, Any] = {}
        asked: dict[str, dict[str, Any]] = {}
        for name in names:
            # An effect that needs a box which is missing tonight is left out as a whole.
            if not self.gone & self.effects[name].parts.keys():
                for unit, part in self.effects[name].parts.items():
                    asked.setdefault(unit, {}).update(part)
        for name, box in self.boxes.items():
            if name in self.gone:
                continue
            used = name in asked
            # Two boxes in one loop are in together, whichever of them is asked for.
            inside = used or not asked.keys().isdisjoint(box.mates)
            demands = asked.get(name, {})
            if box.loop is not None:
                wanted[name, "loop"] = inside
            if box.relay:
                wanted[name, "relay"] = demands.get("relay", "open way")
            if box.loop is not None and not inside:
                continue
            if box.switch is not None:
                wanted[name, "switch"] = used
                if not used:
                    continue
            loaded = demands.get("program", box.resting.get("program"))
            if loaded is not None:
                wanted[name, "program"] = box.programs[loaded]
            for control in box.controls:
                only = box.only_with.get(control)
                works = [box.programs[name] for name in only or ()]
                if only and loaded is not None and box.programs[loaded] not in works:
                    continue
                value = demands.get(control, box.resting.get(control))
                if control == "time" and used:
                    own = "time" in demands
                    if echo is not None:
                        value = self.milliseconds(echo)
                    elif echo_of_song is not None and not own:
                        value = self.milliseconds(echo_of_song)
                if value is not None:
                    only_coarse = (name, control) in coarse
                    wanted[name, control] = self.value(box, control, value, coarse=only_coarse)
        return wanted

    def value(
        self, box: Box, control: str, asked: Any, *, coarse: bool = False
    ) -> int | tuple[int, int] | None:
        """Return the value on the wire, or the values of coarse and fine part; None beyond it.

        A step is ten ms of a time, or as `BENT` has it, and one of anything else; each has 128
        fine ones, for 14 bits are 128 · coarse + fine (MIDI 1.0 Detailed Specification 4.2.1,
        control change).
        """
        if control in box.positions:
            return box.positions[control][1]
        steps = Fraction(asked)
        if control == "time":
            bent = "points" in box.control("time")
            steps = bent_steps(steps) if bent else steps / 10
        if steps > 127:
            return None
        if box.fine(control) is None:
            return _nearest(steps)
        return (_nearest(steps), 0) if coarse else divmod(_nearest(steps * 128), 128)

    def milliseconds(self, echo: str) -> Fraction:
        """Return an echo in ms: a note value at the tempo (60,000 ÷ BPM a quarter), or as it is."""
        if echo in NOTES:
            return NOTES[echo] * Fraction(60_000, self.tempo)
        return Fraction(echo.removesuffix(" ms"))

    def settable(self, scene: str, unit: str, quantity: str) -> bool:
        """Tell whether messages can bring the quantity in ``scene``, as the unit declares itself."""
        box = self.boxes[unit]
        if quantity == "program":
            return not box.steps
        if quantity == "switch":
            return "on" in (box.switch or {}) or (
                self.wanted(scene)[unit, "switch"]
                and self.loads(scene, unit)
                and not box.steps
                and box.said.get("loading") == "engages"
                and box.said.get("same program again", "reloads") == "reloads"
            )
        if box.steps and box.only_with.get(quantity) and (unit, "program") in self.wanted(scene):
            return False  # nobody knows whether the program is there in which it works
        return quantity not in {"loop", "relay"}

    def size(self, scene: str) -> tuple[int, int, int]:
        """Return how many bytes ``scene`` takes at least, and how many controls and fine parts.

        Each quantity takes one message, and what nobody cares for takes none.
        """
        least = controls = fine = 0
        wanted = self.wanted(scene)
        for (unit, quantity), value in wanted.items():
            box = self.boxes[unit]
            if value is None or quantity in {"loop", "relay"}:
                continue
            if quantity in {"program", "switch"} and not self.settable(scene, unit, quantity):
                continue
            if quantity == "program":
                by = box.said.get("bank select", {}).get("by", "")
                least += 2 + {"": 0, "msb": 3, "lsb": 3, "msb and lsb": 6}[by]
                continue
            if quantity == "switch":
                brings = {"engages": True, "bypasses": False}.get(box.said.get("loading", ""))
                reloads = box.said.get("same program again", "reloads") == "reloads"
                loaded = (unit, "program") in wanted and not box.steps
                if loaded and brings is value and reloads:
                    continue
            elif isinstance(value, tuple):
                fine += 1
            controls += 1
        return least + 3 * (controls + fine), controls, fine

    def by_hand(self, unit: str, quantity: str) -> Any:
        """Return what every scene of the night wants alike where no message can set it, else None.

        It is set before the night then; a program that switches the unit the other way undoes it.
        """
        box = self.boxes[unit]
        if quantity not in {"switch", "program"}:
            works = box.steps and box.only_with.get(quantity)
            return self.by_hand(unit, "program") if works else None
        wants = [self.wanted(scene) for scene in self.asked]
        values = {wanted[unit, quantity] for wanted in wants if (unit, quantity) in wanted}
        if len(values) != 1:
            return None
        (value,) = values
        if quantity == "switch" and not box.steps:
            undone = {"engages": False, "bypasses": True}.get(box.said.get("loading", ""))
            if undone is value and any((unit, "program") in wanted for wanted in wants):
                return None
        return value

    def loads(self, scene: str, unit: str) -> bool:
        """Tell whether ``scene`` loads a program of ``unit``: an effect's, or the resting one."""
        return "program" in self.boxes[unit].resting or any(
            "program" in self.effects[effect].parts.get(unit, {})
            for effect in self.asked[scene][0]
            if not self.gone & self.effects[effect].parts.keys()
        )

    def waits_for_nothing(self) -> bool:
        """Tell whether a preset's messages all arrive in time and in a good order."""
        return self.sends != "controls first" and not any(box.busy for box in self.boxes.values())


BENT = {"0": "0 ms", "80": "400 ms", "127": "1270 ms"}
"""A delay time in two straight parts: 5 ms a step up to 80, then 870 ms on 47 steps."""


def bent_steps(milliseconds: Fraction) -> Fraction:
    """Return where on `BENT` a time lies."""
    if milliseconds <= 400:
        return milliseconds / 5
    return 80 + (milliseconds - 400) * 47 / 870


def _nearest(steps: Fraction) -> int:
    """Return the nearest whole number; of two equally near, the lower."""
    below = int(steps)
    return below if steps - below <= Fraction(1, 2) else below + 1


def _program(index: int, display: str) -> str:
    first = DISPLAYS.get(display, 0)
    return (
        "ABCDEFGHIJKLMNOP"[index // 8] + str(index % 8 + 1) if first is None else str(index + first)
    )


@st.composite
def boxes(draw: st.DrawFn, number: int, channel: int | str) -> Box:
    """Draw a unit with any behaviour that a rig can declare."""
    box = Box(f"box {number}", channel, {"channel": channel})
    said = box.said
    if draw(st.booleans()):
        said["acts only on"] = "what is declared"
    if draw(st.booleans()):
        box.loop = said["loop"] = number + 1
    if draw(st.integers(0, 4)):
        _draw_programs(draw, box)
    if draw(st.booleans()):
        said["switched by"] = draw(
            st.sampled_from(
                [{"cc": 28, "on": 127, "off": 0}] * 4
                + [{"cc": 28, "on": 1, "off": 2}]
                + [{"cc": 28, "any value flips": "yes"}, {"cc": 28, "press": 127, "release": 0}]
            )
        )
    for control, cc in (("mix", 21), ("depth", 22), ("time", 20)):
        if draw(st.booleans()):
            _draw_control(draw, box, control, cc)
    settles = draw(st.sampled_from([0, 0, 5, 40]))
    if settles:
        said["settles in"] = f"{settles} ms"
    return box


def _draw_programs(draw: st.DrawFn, box: Box) -> None:
    said = box.said
    by = draw(st.sampled_from(["", "", "", "msb", "lsb", "msb and lsb"]))
    if by:
        size = draw(st.sampled_from([128, 100]))
        reach = 16_384 if by == "msb and lsb" else 128 * size
        said["display"] = f"0 to {min(reach, 16_384) - 1}"
        said["bank select"] = {"by": by, "programs in a bank": size}
        indices = draw(
            st.lists(st.integers(0, min(reach, 16_384) - 1), min_size=2, max_size=2, unique=True)
        )
        places = [divmod(index, size) for index in indices]
    else:
        said["display"] = draw(st.sampled_from(list(DISPLAYS)))
        indices = draw(st.lists(st.integers(0, 98), min_size=2, max_size=2))
        if not draw(st.integers(0, 5)):
            indices[1] = indices[0]  # one program with two names
        places = [(0, index) for index in indices]
    names = ["warm", "thin"]
    said["programs"] = {
        name: _program(index, said["display"]) for name, index in zip(names, indices, strict=True)
    }
    box.programs = dict(zip(names, places, strict=True))
    said["same program again"] = draw(st.sampled_from(["reloads", "ignored"]))
    said["loading"] = draw(st.sampled_from(["engages", "bypasses", "keeps bypass"]))
    busy = draw(st.sampled_from([0, 0, 0, 10, 60]))
    if busy:
        said["busy after program"] = f"{busy} ms"
    if draw(st.booleans()):
        said["at rest"] = box.resting["program"] = draw(st.sampled_from(names))
    if not draw(st.integers(0, 9)):
        # No scene sends a step; a box that steps keeps what it is told from elsewhere.
        said["reached by"] = {"up": 70, "down": 71} | draw(
            st.sampled_from([{}, {"value": 64}, {"wraps": "yes"}, {"value": 1, "wraps": "yes"}])
        )


def _draw_control(draw: st.DrawFn, box: Box, control: str, cc: int) -> None:
    made: dict[str, Any] = {"cc": cc}
    kind = draw(st.sampled_from(["linear", "points", "plain", "positions"]))
    if control == "time":
        made |= {"points": BENT} if kind == "points" else {"linear": "0 ms to 1270 ms"}
    elif kind == "positions":
        box.positions[control] = ("far", draw(st.integers(0, 127)))
        made["positions"] = {"near": 5, "far": box.positions[control][1]}
    elif kind != "plain":
        made["linear"] = "0 to 127"
    made["after a program"] = draw(
        st.sampled_from(["kept", "from the program", "from the program", "unknown"])
    )
    if box.programs and not draw(st.integers(0, 3)):
        made["only with"] = box.only_with[control] = [draw(st.sampled_from(["warm", "thin"]))]
    if not draw(st.integers(0, 2)):
        made["fine cc"] = cc + 32
    box.controls[control] = cc
    if control == "time":
        box.said["time"] = made
    else:
        box.said.setdefault("controls", {})[control] = made
    if draw(st.booleans()):
        made["at rest"], box.resting[control] = _amount(draw, box, control)


def _amount(draw: st.DrawFn, box: Box, control: str) -> tuple[str, Any]:
    """Return an amount as it is written and as the oracle reads it."""
    if control in box.positions:
        return "far", "far"
    number = draw(st.integers(0, 1270 if control == "time" else 126))
    if box.fine(control) is not None and draw(st.booleans()):
        number_between = number // 2 + Fraction(3, 10)
        return (f"{number // 2}.3 ms" if control == "time" else f"{number // 2}.3"), number_between
    return (f"{number} ms" if control == "time" else str(number)), number


def _name(box: Box) -> str:
    return box.name


@st.composite
def effects(draw: st.DrawFn, number: int, rig: list[Box]) -> Effect:
    """Draw an effect that uses one or two units, with programs and settings or without."""
    parts: dict[str, dict[str, Any]] = {}
    written: dict[str, Any] = {}
    chosen: list[Box] = draw(
        st.lists(st.sampled_from(rig), min_size=1, max_size=2, unique_by=_name)
    )
    for box in chosen:
        part: dict[str, Any] = {}
        said: dict[str, Any] = {}
        if box.programs and draw(st.integers(0, 3)) > 0:
            part["program"] = said["state"] = draw(st.sampled_from(list(box.programs)))
        if box.relay:
            part["relay"] = said["state"] = draw(st.sampled_from(["open way", "closed way"]))
        for control in box.controls:
            if draw(st.booleans()):
                text, part[control] = _amount(draw, box, control)
                said.setdefault("set", {})[control] = text
        parts[box.name] = part
        written[box.name] = said
    return Effect(f"effect {number}", parts, written)


@st.composite
def books(draw: st.DrawFn, *, shared: bool = False) -> Book:
    """Draw a night of one song that is played and one that somebody may ask for.

    In a ``shared`` one all boxes listen on one channel, and most of them sit in a loop.
    """
    alone = not shared and not draw(st.integers(0, 5))
    channels = draw(st.lists(st.integers(1, 16), min_size=3, max_size=3, unique=True))
    count = 1 if alone else draw(st.integers(2, 3))
    channels = [channels[0]] * 3 if shared else channels
    rig = [draw(boxes(number, "omni" if alone else channels[number])) for number in range(count)]
    for number, box in enumerate(rig if shared else ()):
        if draw(st.integers(0, 4)):
            box.loop = box.said["loop"] = number + 1
        box.said["acts only on"] = "what is declared"
    if not alone and not shared and rig[0].loop is not None and not draw(st.integers(0, 3)):
        _share_a_loop(draw, rig[0], rig[1])
    amplifier = Box("amplifier", None, {"is": "amplifier"}, relay=True)
    amplifier.said["relay"] = {"number": 1, "open": "open way", "closed": "closed way"}
    rig.append(amplifier)
    made = [draw(effects(number, rig)) for number in range(draw(st.integers(2, 4)))]
    _leave_on(rig, made)
    by_name = {effect.name: effect for effect in made}
    together = draw(effects(0, rig)) if draw(st.booleans()) else None
    chosen_gone: tuple[str, ...] = draw(st.sampled_from([(), (), (), ("box 0",)]))
    gone = frozenset(chosen_gone if len(rig) > 2 else ())
    missing: dict[str, list[str]] = {
        "lost": [draw(st.sampled_from(made)).name, "nothing"],
        "gone": ["nothing"],
    }
    asked: dict[str, tuple[list[str], str | None, str | None]] = {}
    scenes: dict[str, Any] = {}
    general: dict[str, Any] = {}
    of_song = draw(st.sampled_from([None, None, "quarter", "300 ms"]))
    count = draw(st.integers(2, 4))
    for number in range(count + 2):
        chosen = draw(
            st.lists(st.sampled_from([*by_name, "lost", "gone"]), max_size=3, unique=True)
        )
        played = list(
            dict.fromkeys(missing[name][0] if name in missing else name for name in chosen)
        )
        played = _without_clashes([name for name in played if name != "nothing"], by_name, rig)
        chosen = [
            name
            for name in chosen
            if name == "gone" or (missing[name][0] if name in missing else name) in played
        ]
        # What stands in for another has to be made by itself, or something else does.
        there = {n for n in played if n in chosen or not gone & by_name[n].parts.keys()}
        both = {"effect 0", "effect 1"} <= there
        if together is not None and both and not gone & together.parts.keys():
            apart, played = played, _together(played, together, by_name, rig, gone)
            lost = any(gone & by_name[name].parts.keys() for name in ("effect 0", "effect 1"))
            if played == apart and lost:
                # Together is the only way left, and something else in the scene forbids it.
                chosen, played = [], []
        echo = draw(st.sampled_from([None, None, None, *NOTES, "444 ms", "90 ms"]))
        name = f"Scene {number}"
        if number >= count:
            # A song that somebody may ask for has the rig's general scenes, and no echo of its own.
            name = f"General {number}"
            general[name] = {"effects": chosen} | ({"echo": echo} if echo else {})
            asked[name] = (played, echo, None)
            continue
        asked[name] = (played, echo, of_song)
        scenes[name] = {"effects": chosen} | ({"echo": echo} if echo else {})
    if together is not None:
        by_name[TOGETHER] = together
        made.append(Effect(TOGETHER, together.parts, together.written))
        _leave_on(rig, made)
    tempo = draw(st.integers(60, 150))
    written_tempo, tonight = draw(st.sampled_from([(tempo, None), (77, tempo)]))
    sends = draw(st.sampled_from(["programs first", "controls first", "as listed"]))
    gap = draw(st.sampled_from([0, 0, 2, 30]))
    song = {
        "title": "Tune",
        "meter": "4/4",
        "tempo": f"quarter = {written_tempo}",
        "scenes": scenes,
    }
    if of_song:
        song["echo"] = of_song
    stores: dict[str, Any] = {"programs": 8, "controls": 30, "bank select": "yes", "sends": sends}
    board = {
        "switcher": "board", "banks": 10, "switches": 5, "loops": 6, "relays": ["hold"],
        "each preset stores": stores, "gap between messages": f"{gap} ms",
    }  # fmt: skip
    line: list[Any] = ["switcher", *(box.name for box in rig if box.channel is not None)]
    written_rig = {
        "switcher": "board.yaml",
        "units": {box.name: box.said for box in rig},
        "effects": {effect.name: effect.written for effect in made},
        "instead of": missing,
        "general": general,
        "path": [["guitar", *(box.name for box in rig)]],
        "midi": [line],
    }
    playing: dict[str, Any] = {"song": "Tune"}
    if tonight:
        playing["tempo"] = f"quarter = {tonight}"
    if draw(st.booleans()):
        playing["leave out"] = ["Scene 1"]
        asked.pop("Scene 1")
    night = {
        "night": "Test",
        "rig": "rig.yaml",
        "songs": "songs.yaml",
        "sets": [{"play": [playing]}],
        "if asked": [{"song": "Other", "tempo": f"quarter = {tempo}"}],
    }
    book = Book(
        {},
        {box.name: box for box in rig},
        by_name,
        asked,
        tempo,
        Fraction(gap),
        sends,
        tuple(general),
        gone,
    )
    sizes = [book.size(name) for name in asked]
    needed = max(controls for _, controls, _ in sizes)
    if not shared and any(fine for _, _, fine in sizes) and draw(st.booleans()):
        stores["controls"] = needed + draw(st.integers(0, 1))
        book.tight = any(controls + fine > stores["controls"] for _, controls, fine in sizes)
    files = {
        "board": board,
        "rig": written_rig,
        "songs": {
            "songs": [
                song,
                {"title": "Other"},
                {"title": "Unplayed", "scenes": {"Own": {"effects": []}}},
            ]
        },
        "night": night,
    }
    book.files = {f"{name}.yaml": json.dumps(data) for name, data in files.items()}
    return book


def _share_a_loop(draw: st.DrawFn, first: Box, second: Box) -> None:
    """Put the second box into the loop of the first; which of them says so makes no difference."""
    one, other = draw(st.sampled_from([(first, second), (second, first)]))
    one.said["shares with"] = [other.name]
    second.loop = first.loop
    second.said["loop"] = first.loop
    if draw(st.booleans()):
        second.said.pop("loop")
    first.mates, second.mates = (second.name,), (first.name,)


def _leave_on(rig: list[Box], made: list[Effect]) -> None:
    """Let boxes be always on that an effect is made with and nothing switches."""
    for box in rig:
        switched = box.loop is not None or box.switch is not None
        if not switched and any(effect.parts.get(box.name) == {} for effect in made):
            box.said["always on"] = "yes"


def _without_clashes(names: list[str], made: dict[str, Effect], rig: list[Box]) -> list[str]:
    """Return ``names`` without those that want a unit otherwise than one before them.

    Two names of one program want the same.
    """
    seen: dict[Key, Any] = {}
    kept = []
    programs = {box.name: box.programs for box in rig}
    for name in names:
        own = {
            (unit, quantity): programs[unit][value] if quantity == "program" else value
            for unit, part in made[name].parts.items()
            for quantity, value in part.items()
        }
        if all(seen.get(key, value) == value for key, value in own.items()):
            seen |= own
            kept.append(name)
    return kept


TOGETHER = "effect 0 + effect 1"
"""The name of what makes the first two effects at once."""


def _together(
    played: list[str],
    together: Effect,
    made: dict[str, Effect],
    rig: list[Box],
    gone: frozenset[str],
) -> list[str]:
    """Return ``played`` with what makes two of them at once in their place.

    They stay apart where it would want a unit otherwise than what else is played, and is not lost.
    """
    rest = [name for name in played if name not in {"effect 0", "effect 1"}]
    others = [TOGETHER, *(name for name in rest if not gone & made[name].parts.keys())]
    fits = _without_clashes(others, made | {TOGETHER: together}, rig)
    return [TOGETHER, *rest] if fits == others else played


def messages(stream: bytes) -> Iterator[bytes]:
    """Split bytes without running status into messages, at every status byte."""
    starts = [index for index, byte in enumerate(stream) if byte >= 0x80]
    for start, end in pairwise([*starts, len(stream)]):
        yield stream[start:end]
