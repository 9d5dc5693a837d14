"""Compare what a night's verdicts promise with where everything stands on the stage."""

from __future__ import annotations

import json
import tempfile
from collections import Counter
from dataclasses import dataclass, field
from fractions import Fraction
from pathlib import Path
from random import Random
from typing import Any

from setwright.compiler.compiled import Compiled
from setwright.compiler.outputs.collect import night_data
from setwright.compiler.outputs.night_json import night_json
from setwright.compiler.pipeline import compile_night
from setwright.scenes.finding import Severity
from tests.stage.asks import Key, Tune
from tests.stage.board import presets_of
from tests.stage.boxes import Box
from tests.stage.path import sounding
from tests.stage.play import Scene, Stage, Ways, play_any, play_night
from tests.stage.said import Book
from tests.stage.wires import Wires

PROVEN, FEET, UNKNOWN, FREE = (
    "proven",
    "proven if feet and start are as printed",
    "cannot be known",
    "don't care",
)
SILENCE = {"silence-not-ended", "foot-not-said", "foot-move-lost", "not-silent"}
"""Codes of which one must be there where a night goes silent."""


@dataclass(frozen=True)
class Wrong:
    """A promise that was broken."""

    seed: int
    what: str
    scene: Scene
    unit: str
    quantity: str
    wanted: str
    stands: str
    ways: Ways | None
    because: str = ""

    @property
    def kind(self) -> tuple[str, str, str]:
        return self.what, self.unit, self.quantity

    def __str__(self) -> str:
        return (
            f"seed {self.seed}: {self.what}: {self.scene[1]} of {self.scene[0]}: {self.unit} "
            f"{self.quantity} wanted {self.wanted}, stands {self.stands} [{self.because}] {self.ways}"
        )


@dataclass
class Judge:
    """Plays one book and collects figures and what is wrong."""

    book: Book
    seed: int
    figures: Counter[str] = field(default_factory=Counter)
    wrong: list[Wrong] = field(default_factory=list)
    codes: set[str] = field(default_factory=set)
    data: dict[str, Any] = field(default_factory=dict)
    verdicts: dict[Scene, dict[Key, str]] = field(default_factory=dict)
    wanted: dict[Scene, dict[Key, Any]] = field(default_factory=dict)
    whole: set[tuple[Scene, str]] = field(default_factory=set)
    """Scenes and units of which it is said that busy units are taken to lose whole messages."""
    coarse: dict[tuple[Scene, Key], Any] = field(default_factory=dict)
    by_hand: set[Key] = field(default_factory=set)
    stored: dict[Scene, list[bytes]] = field(default_factory=dict)
    doubted: set[tuple[Scene, Key]] = field(default_factory=set)
    harmed: set[tuple[Scene, Key]] = field(default_factory=set)

    def compile(self) -> bool:
        """Compile the book; return whether it is without errors."""
        with tempfile.TemporaryDirectory() as folder:
            compiled = compile_night(self.book.write(Path(folder)))
        errors = {one.code for one in compiled.findings if one.severity is Severity.ERROR}
        for code in errors:
            self.figures[f"error {code}"] += 1
        self.codes = {one.code for one in compiled.findings}
        self.figures["books"] += 1
        if errors or not isinstance(compiled, Compiled):
            self.figures["skipped"] += 1
            return False
        self.data = json.loads(night_json(night_data(compiled), {}))
        self.whole = {
            ((owner or None, name), unit)
            for (owner, name), scene in compiled.scenes.items()
            for unit in scene.whole_messages
        }
        self._read()
        self._describe()
        return True

    def _describe(self) -> None:
        """Count what kind of book it is."""
        units = list(self.book.units.values())
        wires = Wires(self.book, {})
        heard = [wires.ways("switcher", one.name) for one in units]
        channels = Counter(one.channel for one in units if one.channel is not None)
        kinds = {
            "with branches": len(self.book.lines) > 1,
            "with shared channels": max(channels.values(), default=0) > 1,
            "with a computer": any(line[0][0] == "computer" for line in self.book.lines),
            "with a press while busy": "pressed-too-soon" in self.codes,
            "with a segue": any(song["straight_into"] for song in self.data["songs"]),
            "with two ways to a box": max(heard, default=0) > 1,
            "with units that a foot works": any(one.foot for one in units),
            "with a path": "path" in self.book.rig,
        }
        self.figures.update(name for name, there in kinds.items() if there)

    def _read(self) -> None:
        self.verdicts = {
            (scene["song"], scene["scene"]): {
                (one["unit"], one["quantity"]): one["verdict"] for one in scene["units"]
            }
            for scene in self.data["scenes"]
        }
        self.stored = {
            (scene["song"], scene["scene"]): [
                bytes.fromhex(one["hex"]) for one in scene["stored"]["messages"]
            ]
            for scene in self.data["scenes"]
        }
        self.by_hand = {
            (one["unit"], one["value"].partition(" fine part ")[0])
            if one["quantity"] == "fine part"
            else (one["unit"], one["quantity"])
            for one in self.data["set_by_hand"]
        }
        tunes = self.book.played
        for song, (playing, in_set) in zip(self.data["songs"], tunes, strict=True):
            title = playing.get("song") or playing["straight into"]
            tune = Tune(self.book, self.book.songs[title], playing, in_set)
            assert set(song["scenes"]) == set(tune.scenes), (song["scenes"], tune.scenes)
            for name in tune.scenes:
                scene = (song["owner"], name)
                wanted = tune.wanted(name)
                for key in wanted:
                    alone = tune.coarse.get((name, *key))
                    if alone is not None:
                        self.coarse[scene, key] = alone
                if self.wanted.setdefault(scene, wanted) != wanted:
                    self._note("one owner for two sounds", scene, ("", ""), wanted, "", None)
                self._compare(scene)
            self._times(song, tune)

    def _compare(self, scene: Scene) -> None:
        """Hold what nobody cares for, as the verdicts say, against what was asked for."""
        for key, value in self.wanted[scene].items():
            verdict = self.verdicts[scene].get(key)
            if verdict in (None, FREE) and value is not None:
                if not self._needless(scene, key):
                    self._note("asked for and don't care", scene, key, value, verdict, None)
            elif verdict == UNKNOWN:
                self.doubted.add((scene, key))
            if value is None and verdict in (PROVEN, FEET):
                self._note("cannot be made, and proven", scene, key, value, verdict, None)

    def _needless(self, scene: Scene, key: Key) -> bool:
        return False

    def _times(self, song: dict[str, Any], tune: Tune) -> None:
        """Hold the moments against the places that were written."""
        steps = tune.steps()
        if len(steps) != len(song["moments"]):
            self._note("moments", (song["owner"], ""), ("", ""), len(steps), "", None)
            return
        for (scene, step), moment in zip(steps, song["moments"], strict=True):
            seconds = tune.seconds(step)
            printed = moment["seconds"]
            same = seconds is None or abs(seconds - Fraction(printed)) < Fraction(1, 10**5)
            if scene != moment["scene"] or not same or (seconds is None) != moment["assumed"]:
                self._note("time", (song["owner"], scene), ("", ""), seconds, printed, None)
        lasts = tune.lasts
        if lasts is not None and abs(lasts - Fraction(song["seconds"])) > Fraction(1, 10**5):
            self._note("length", (song["owner"], ""), ("", ""), lasts, song["seconds"], None)

    def _note(
        self, what: str, scene: Scene, key: Key, wanted: Any, stands: Any, stage: Stage | None
    ) -> None:
        ways, because = (stage.ways, stage.because) if stage else (None, "")
        one = Wrong(self.seed, what, scene, *key, str(wanted), str(stands), ways, because)
        if all(other.kind != one.kind for other in self.wrong):
            self.wrong.append(one)

    # Plays.

    def play(self, plays: int) -> None:
        """Play the night as printed, and scenes in any order, several times."""
        random = Random(self.seed * 7919 + 1)
        presets = presets_of(self.data, self.book)
        wires = Wires(self.book, {})
        hearing = [one for one in self.book.units if wires.ways("switcher", one)]
        direct = bool(hearing) and all(wires.ways("computer", one) for one in hearing)
        recall = wires.ways("computer", "switcher") and self.data["sender"] == "switcher"
        for number in range(plays):
            routes = ["stored", "stored"]
            routes += ["direct"] * direct + ["recall"] * bool(recall)
            ways = Ways(
                route=random.choice(routes),
                loses=("messages", "bytes")[number % 2],
                running=random.random() < 0.5,
                wild=random.random() < 0.5,
                keeps_fine=random.random() < 0.5,
                seed=random.randrange(1 << 30),
            )
            if ways.route != "direct":
                stage = Stage(self.book, self.data, presets, ways)
                self.figures["presses in time"] += play_night(stage, self._look, self._end)
                self.figures["sequences in time"] += 1
                self._counted(stage)
            stage = Stage(self.book, self.data, presets, ways)
            play_any(stage, self._look_any, random.randint(2, 6))
            self.figures["sequences in any order"] += 1
            self._counted(stage)
        self.figures["doubted"] += len(self.doubted)
        self.figures["harmed"] += len(self.harmed & self.doubted)

    def _counted(self, stage: Stage) -> None:
        self.figures["cut short"] += stage.cut
        self.figures["lost by busy boxes"] += sum(box.lost for box in stage.boxes.values())
        self.figures["bytes"] += stage.wires.bytes_carried

    def _look(self, stage: Stage, scene: Scene) -> None:
        self._hold(stage, scene, feet=True)

    def _look_any(self, stage: Stage, scene: Scene) -> None:
        self._hold(stage, scene, feet=False)

    def _hold(self, stage: Stage, scene: Scene, *, feet: bool) -> None:
        if feet:
            self._hold_feet(stage, scene)
        for key, value in self.wanted[scene].items():
            verdict = self.verdicts[scene].get(key)
            if stage.ways.route == "direct" and key[1] in ("loop", "relay", "foot"):
                continue
            if verdict == FEET and not feet and key not in self.by_hand:
                continue
            if stage.ways.loses == "bytes" and (scene, key[0]) in self.whole:
                continue
            stands = holds(stage, key)
            right = stands in (value, self._alone(scene, key)) or idle(
                stage.boxes[key[0]], key[1], self.wanted[scene]
            )
            if verdict in (PROVEN, FEET):
                self.figures[f"checked {verdict.split()[-1]}"] += 1
                if not right:
                    what = "in time" if feet else "in any order"
                    self._note(f"proven, {what}", scene, key, value, stands, stage)
            elif not right:
                self.harmed.add((scene, key))

    def _alone(self, scene: Scene, key: Key) -> Any:
        """Return what a control is to have where its preset sends no fine part; else nothing."""
        control = self.book.units[key[0]].controls.get(key[1])
        if control is None or control.fine is None:
            return None
        sent = self.stored[scene]
        channel = self.book.units[key[0]].channel
        listening = range(16) if channel == "omni" else [int(channel or 1) - 1]
        there = any(one[0] & 15 in listening and one[1] == control.fine for one in sent)
        return None if there else self.coarse.get((scene, key))

    def _hold_feet(self, stage: Stage, scene: Scene) -> None:
        """Find units that a foot works where the scene says that they stand."""
        for one in stage.scenes[scene]["units"]:
            unit, value = one["unit"], one["value"]
            if one["quantity"] != "foot" or value is None or stage.ways.route == "direct":
                continue
            self.figures["checked feet"] += 1
            if stage.boxes[unit].position != value:
                stands = stage.boxes[unit].position
                self._note("foot, as said", scene, (unit, "foot"), value, stands, stage)

    def _asks_for_silence(self, song: dict[str, Any], closed: set[str]) -> bool:
        """Tell whether a scene of the song itself has one of the ``closed`` units silent."""
        return any(
            self.wanted[song["owner"], name].get((unit, "foot")) == "closed"
            for name in song["scenes"]
            for unit in closed
        )

    def _end(self, stage: Stage, song: dict[str, Any]) -> None:
        if not sounding(self.book, set()) or stage.ways.route == "direct":
            return
        self.figures["ends of songs"] += 1
        closed = {name for name in stage.boxes if not stage.passes(name)}
        if stage.sounding() or not closed <= stage.known_feet:
            return
        if not song["moments"] and self._asks_for_silence(song, closed):
            self.figures["silences asked for"] += 1  # pressed as one likes, so meant
            return
        self.figures["silent ends of songs"] += 1
        # Of songs whose scenes are pressed as one likes nobody says which is the last.
        if song["moments"] and not self.codes & SILENCE:
            self._note("silent", (song["owner"], ""), ("", ""), "sound", "silence", stage)


def holds(stage: Stage, key: Key) -> Any:
    """Return what a unit stands at, in the words of the oracle."""
    name, quantity = key
    box = stage.boxes[name]
    match quantity:
        case "loop":
            return box.unit.loop in stage.board.loops
        case "relay":
            return box.relay
        case "foot":
            return box.position
        case "switch":
            return box.on
        case "program":
            return box.program
    control = box.unit.controls[quantity]
    value = box.values[control.cc]
    return value if control.fine is None else (value, box.values[control.fine])


def idle(box: Box, quantity: str, wanted: dict[Key, Any]) -> bool:
    """Tell whether a control does nothing, in a program that nobody asked for."""
    control = box.unit.controls.get(quantity)
    if control is None or not control.only or (box.unit.name, "program") in wanted:
        return False
    return not box.works(control)
