"""One evening on the stage: a foot that does what the cue sheet says, when it says so.

The stage is built anew for each play, its boxes in any state. After every press, once nothing is
under way any more, somebody may look (`Look`) at where everything stands. All times in µs.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from random import Random
from typing import Any

from tests.stage.board import Board, Preset, Slot
from tests.stage.boxes import Box
from tests.stage.path import sounding
from tests.stage.said import Book
from tests.stage.wires import Taker, Wires

Scene = tuple[str | None, str]
"""Owner and name, as in ``night.json``."""

Look = Callable[["Stage", Scene], None]

SECOND = 1_000_000
SETTLED = 20 * SECOND
"""Longer than anything that is drawn needs."""
PAUSE = 4 * SECOND
"""Longer than any box is busy, any sound takes to settle, and any preset to be sent."""
AS_BEFORE = "as before"
"""What is printed where a unit goes back to wherever it stood before a request."""
TAP = 180_000
"""Between two presses of a foot that moves through banks (from memory)."""


@dataclass(frozen=True)
class Ways:
    """How a play goes: which way messages come, how busy boxes lose what comes, and more."""

    route: str
    """``stored`` (a foot presses), ``recall`` or ``direct`` (a computer sends)."""
    loses: str
    running: bool
    wild: bool
    keeps_fine: bool
    seed: int


@dataclass
class Stage:
    """A rig on a stage, with its switcher and everything that listens."""

    book: Book
    data: dict[str, Any]
    presets: dict[Slot, Preset]
    ways: Ways
    random: Random = field(init=False)
    boxes: dict[str, Box] = field(init=False)
    wires: Wires = field(init=False)
    board: Board = field(init=False)
    now: int = 0
    cut: int = 0
    """Presses before which there was no time to look, because bytes were still under way."""
    scenes: dict[Scene, dict[str, Any]] = field(init=False)
    known_feet: set[str] = field(default_factory=set)
    """Units that a foot works of which it was printed where they stand."""
    brought: Scene | None = None
    late: int = 0
    """How much later than printed the song goes on, for a guess has held it up."""
    guessed: bool = False
    """Whether nobody knows when the last press was."""
    marks: list[str] = field(default_factory=list)
    """What was out of the ordinary about the last press."""
    _lost_before: int = 0

    def __post_init__(self) -> None:
        self.random = Random(self.ways.seed)
        self.boxes = {
            name: Box(unit, self.random, self.ways.loses, self.ways.wild, self.ways.keeps_fine)
            for name, unit in self.book.units.items()
        }
        takers: dict[str, Taker] = {
            name: box.take for name, box in self.boxes.items() if box.unit.channel is not None
        }
        self.wires = Wires(self.book, takers)
        self.board = Board(
            self.book, self.presets, self.wires, self.boxes, self.random, self.ways.running
        )
        takers["switcher"] = self.board.take
        self.board.bank = self.random.randint(1, int(self.book.board["banks"]))
        self.board.loops = frozenset(n for n in range(1, 11) if self.random.random() < 0.5)
        self.scenes = {(one["song"], one["scene"]): one for one in self.data["scenes"]}

    # What the stage stands at.

    def passes(self, name: str) -> bool:
        """Tell whether something comes through a unit that is in the path."""
        box = self.boxes[name]
        return not (box.unit.said.get("is") == "volume" and box.position == "closed")

    def sounding(self) -> set[str]:
        """Return the amplifiers that sound."""
        return sounding(self.book, {name for name in self.boxes if not self.passes(name)})

    @property
    def lost(self) -> int:
        """How much busy boxes have lost."""
        return sum(box.lost for box in self.boxes.values())

    @property
    def because(self) -> str:
        """What may have gone wrong since the last press, for whoever reads the report."""
        lost = [f"lost by {name}" for name in ("a box",) if self.lost > self._lost_before]
        sender = "switcher" if self.ways.route == "stored" else "computer"
        heard = [self.wires.ways(sender, name) for name in self.boxes]
        twice = ["heard twice"] if max(heard) > 1 else []
        return ", ".join([*self.marks, *lost, *twice, self.ways.route])

    def wait(self, until: int) -> None:
        """Let time pass."""
        self.now = max(self.now, until)
        self.wires.run(self.now)

    # What is done on it.

    def feet(self, moves: list[dict[str, str]]) -> None:
        for move in moves:
            if (
                move["unit"] in self.boxes
                and move["position"] in self.boxes[move["unit"]].unit.foot
            ):
                self.boxes[move["unit"]].position = move["position"]
                self.known_feet.add(move["unit"])

    def bring(self, scene: Scene, does: str = "press") -> None:
        """Press for a scene, or let the computer send for it."""
        self.marks = [] if self.wires.quiet else ["while sending"]
        self._lost_before = self.lost
        known = self.scenes[scene]
        if self.data["sender"] == "computer" and known["place"]:
            # The foot presses for loops and relays, and the computer sends at the same moment.
            # What is the same again it does not send, as its file has it.
            if self.brought is None or _hex(known) != _hex(self.scenes[self.brought]):
                self._send(known["direct"])
            self.press(known["place"], does)
        elif self.ways.route == "direct":
            self._send(known["direct"])
        elif self.ways.route == "recall" and known["recall"]:
            self._send(known["recall"])
        elif known["place"]:
            self.press(known["place"], does)
        self.brought = scene

    def _send(self, route: dict[str, Any]) -> None:
        sender = "computer"
        if not any(line[0][0] == "computer" for line in self.book.lines):
            sender = "switcher"  # it is plugged in where the switcher is
        # It begins once what it was sending is through, and keeps its waits.
        begins = max(self.now, self.wires.free(sender))
        for message in route["messages"]:
            starts = begins + round(message["starts_ms"] * 1000)
            self.wires.send(sender, bytes.fromhex(message["hex"]), starts)

    def press(self, place: dict[str, Any], does: str = "press") -> None:
        """Move to a bank, and there press a switch, stay, or press it ``unless on``."""
        board = self.board
        if board.loaded == (place["bank"], place["switch"]) and does == "press":
            self.marks.append(self.book.board.get("same switch again", "sends again"))
        elif board.at_once and board.bank != place["bank"]:
            self.marks.append("bank loads at once")
        moves = self.book.board.get("bank moves", {})
        if does == "stay" and board.bank == place["bank"]:
            return
        board.bank = place["bank"] if not board.at_once else board.bank
        while board.bank != place["bank"]:
            step = 1 if place["bank"] > board.bank else -1
            board.bank = place["bank"] if moves["by"] != "up and down" else board.bank + step
            board.load((board.bank, self._loads(moves, place)), self.now)
            self.wait(self.now + self._tap)
        on = board.loaded == (place["bank"], place["switch"])
        if does == "press" or (does == "unless on" and not on):
            board.press(place["switch"], self.now)

    @property
    def _tap(self) -> int:
        """How long the foot takes for a bank, as printed, if it has to wait there."""
        return max(TAP, round((self.data["switcher"]["bank_moves_wait_ms"] or 0) * 1000))

    def lead(self, scene: Scene) -> int:
        """Return how long before a press the foot has to begin to move to its bank."""
        place = self.scenes[scene]["place"]
        by_message = self.ways.route == "direct" or (
            self.ways.route == "recall" and self.scenes[scene]["recall"]
        )
        if not place or not self.board.at_once or by_message:
            return 0
        far = abs(int(place["bank"]) - self.board.bank)
        by_steps = self.book.board["bank moves"]["by"] == "up and down"
        return self._tap * (far if by_steps else min(far, 1))

    def _loads(self, moves: dict[str, Any], place: dict[str, Any]) -> int:
        if moves.get("loads", "same switch") == "first switch":
            return 1
        return self.board.loaded[1] if self.board.loaded else place["switch"]


def play_night(stage: Stage, look: Look, end: Callable[[Stage, dict[str, Any]], None]) -> int:
    """Play the night as it is printed; return how many presses there were.

    ``look`` is called once each scene has settled, if there is time; ``end`` past the last note
    of each song.
    """
    data, random = stage.data, stage.random
    stage.wait(5 * SECOND)
    _power_up(stage)
    by_hand(stage)
    presses = 0
    starts = stage.now
    feet_of(stage, data["feet"] | data.get("feet_at_start", {}))
    first = data["switcher"].get("first_of_all")
    if first and stage.ways.route != "direct":
        stage.press(first)
        stage.wait(stage.now + SETTLED)
    free = False
    playlist = list(_playlist(data, random))
    for index, (song, follows) in enumerate(playlist):
        first_scenes = [(song["owner"], one["scene"]) for one in song["moments"][:1]]
        if not follows:
            stage.wait(stage.now + random.randint(5, 60) * SECOND)
            # Nobody begins before the foot is at the song's bank.
            starts = stage.now + sum(map(stage.lead, first_scenes))
            feet_of(stage, data["feet"])
        elif "feet_first" not in song:
            feet_of(stage, data["feet"])
        if follows and free:
            # What is pressed as one likes is pressed early enough to be at the next bank in time.
            starts = max(starts, stage.now + sum(map(stage.lead, first_scenes)))
        free = not song["moments"]
        stood = {name: box.position for name, box in stage.boxes.items()}
        known = set(stage.known_feet)
        stage.feet(song.get("feet_first", []))
        before: Scene | None = None
        for at, scene, moves, does in _moments(stage, song, starts):
            begins = max(stage.now, at - stage.lead(scene))
            if before is not None:
                _look(stage, before, look, begins)
            stage.wait(begins)
            stage.feet(moves)
            stage.bring(scene, does)
            presses += does != "stay"
            before = scene
        last = song["seconds"]
        over = starts + stage.late + round(last * SECOND) if last is not None else 0
        if stage.guessed or over <= stage.now:
            over = max(over, stage.now + PAUSE)
        if before is not None:
            # Before a song that follows straight on, the foot is at its bank in time.
            leave = over - sum(
                stage.lead((after["owner"], one["scene"]))
                for after, straight in playlist[index + 1 : index + 2]
                for one in (after["moments"][:1] if straight else ())
            )
            _look(stage, before, look, max(leave, stage.now))
            stage.wait(leave)
            end(stage, song)
            stage.feet(
                [
                    one | {"position": stood[one["unit"]]} if one["position"] == AS_BEFORE else one
                    for one in song.get("feet_after", [])
                ]
            )
            back = {
                one["unit"] for one in song.get("feet_after", []) if one["position"] == AS_BEFORE
            }
            stage.known_feet -= back - known
        starts = max(over, stage.now)
    return presses


def _hex(scene: dict[str, Any]) -> list[str]:
    return [message["hex"] for message in scene["direct"]["messages"]]


def _look(stage: Stage, scene: Scene, look: Look, until: int) -> None:
    """Look at the last moment before something else is done; not if bytes are under way."""
    stage.wait(until - 1 if until > stage.now else until)
    if stage.wires.quiet:
        look(stage, scene)
    else:
        stage.cut += 1


def _power_up(stage: Stage) -> None:
    """Switch everything on: boxes may be awake when the switcher sends its first preset, or not."""
    kind = stage.book.board.get("at power up", "unknown")
    slots = sorted(stage.presets)
    if kind == "unknown" or not slots:
        return
    first = (1, 1) if kind == "first preset" else stage.random.choice(slots)
    asleep = stage.random.random() < 0.5
    stage.board.bank = first[0]
    stage.board.load(first, stage.now)
    stage.wait(stage.now + 5 * SECOND)
    if asleep:
        for box in stage.boxes.values():
            box.scramble()


def by_hand(stage: Stage) -> None:
    """Set by hand what is printed as to be set before the night, once all boxes are awake."""
    for one in stage.data["set_by_hand"]:
        box, value = stage.boxes[one["unit"]], one["value"]
        if one["quantity"] == "switch":
            box.on = value == "on"
        elif one["quantity"] == "relay":
            box.relay = value
        elif one["quantity"] == "fine part":
            control, _, part = value.partition(" fine part ")
            box.values[box.unit.controls[control].said["fine cc"]] = int(part)
        else:
            box.program = box.unit.programs[value.partition(" (")[0]]


def feet_of(stage: Stage, positions: dict[str, str]) -> None:
    """Bring units that a foot works where they are printed to stand."""
    stage.feet([{"unit": unit, "position": at} for unit, at in positions.items()])


def _playlist(data: dict[str, Any], random: Random) -> Iterator[tuple[dict[str, Any], bool]]:
    """Yield the songs of the sets, and somewhere between them one that is asked for."""
    songs = [song for song in data["songs"] if song["number"]]
    asked = [song for song in data["songs"] if not song["number"]]
    free = [at for at, song in enumerate(songs) if at and not song["straight_into"]]
    where = random.choice(free) if free and random.random() < 0.5 else None
    for at, song in enumerate(songs):
        if at == where and asked:
            yield random.choice(asked), False
        yield song, song["straight_into"] and at > 0


def _moments(
    stage: Stage, song: dict[str, Any], starts: int
) -> Iterator[tuple[int, Scene, list[dict[str, str]], str]]:
    """Yield each press of a song: when, which scene, where feet go, and what to do on the switch.

    Where nothing is printed, the foot presses what is not on already.
    """
    again = stage.book.board.get("same switch again", "sends again") == "sends again"
    free = "press" if again else "unless on"
    random = stage.random
    owner = song["owner"]
    if not song["moments"]:
        for name in random.choices(song["scenes"], k=2) if song["scenes"] else ():
            feet = [
                {"unit": one["unit"], "position": one["value"]}
                for one in stage.scenes[owner, name]["units"]
                if one["quantity"] == "foot" and one["value"] is not None
            ]
            yield stage.now + random.randint(3, 9) * SECOND, (owner, name), feet, free
        return
    guessed, late = False, 0
    stage.late, stage.guessed = 0, False
    for moment in song["moments"]:
        at, seconds = stage.now + random.randint(3, 9) * SECOND, moment["seconds"]
        sure = seconds is not None and not (moment["assumed"] and seconds)
        if sure:
            at = starts + late + round(seconds * SECOND)
        if guessed or not sure:
            # Nobody knows when, only that it is after the one before.
            wait = max(0, stage.now + PAUSE - at)
            at += wait
            late += wait if sure else 0  # what follows keeps its distance
        guessed = not sure
        stage.late, stage.guessed = late, guessed
        does = moment.get("press", "stay" if moment["stay"] else "press")
        yield max(at, stage.now), (owner, moment["scene"]), moment["feet"], does


def play_any(stage: Stage, look: Look, count: int) -> None:
    """Bring scenes in any order, each once all has settled after the one before."""
    scenes = [scene for scene, known in stage.scenes.items() if known["place"]]
    if not scenes:
        return
    again = stage.book.board.get("same switch again", "sends again") == "sends again"
    stage.wait(5 * SECOND)
    by_hand(stage)
    for _ in range(count):
        scene = stage.random.choice(scenes)
        place = stage.scenes[scene]["place"]
        stage.wait(stage.now + SETTLED)
        there = stage.board.loaded == (place["bank"], place["switch"])
        computer = stage.data["sender"] == "computer" or stage.ways.route != "stored"
        if not there or again or computer:
            stage.bring(scene, "press" if again else "unless on")
        stage.wait(stage.now + SETTLED)
        look(stage, scene)
