"""One scene on its way to a port: which messages, by which route, and what became of them.

``stored`` makes the switcher load the scene's preset, which then sends what it holds;
``direct`` sends what the preset would have sent, and waits where a unit is still busy. The same
`Plan` is printed by a dry run and sent in earnest, so the two cannot differ.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import NamedTuple

from setwright.compiler.binding.target import COMPUTER
from setwright.compiler.compiled import Compiled
from setwright.compiler.lowering.wire import Transmission, transmit
from setwright.compiler.midi import encode
from setwright.compiler.proving.proved import LoweredScene
from setwright.compiler.reports.explain import line_of
from setwright.compiler.reports.find import Found, heading
from setwright.compiler.sending.port.child import ENGINE, PATIENCE, Patience
from setwright.compiler.sending.port.line import LINGER
from setwright.compiler.sending.port.problem import Problem
from setwright.compiler.sending.port.request import converse
from setwright.scenes.finding import visible
from setwright.scenes.quantities import quoted

CAUTION = (
    "caution: this scene can be much louder than the one before it; "
    "turn the amplifier down first, and wear no headphones"
)


class Plan(NamedTuple):
    """What will be sent for one scene; ``not_sent`` says what no message of this route sets."""

    route: Transmission
    not_sent: str = ""

    def lines(self) -> Iterator[str]:
        """Yield each message as a line: its bytes in hexadecimal, two spaces, its meaning."""
        for timed in self.route.commands:
            yield visible(line_of(timed.command))


class Sent(NamedTuple):
    """What was sent: messages, bytes, and the port's whole name."""

    messages: int
    size: int
    port: str

    def __str__(self) -> str:
        s = "s" if self.messages != 1 else ""
        return visible(f"sent {self.messages} message{s}, {self.size} bytes, to ‘{self.port}’")


class Interrupted(NamedTuple):
    """The user wished it to end: messages that have left, of how many, and the port's name.

    ``sure`` is False where the engine could not be asked any more; then it may be some more.
    """

    messages: int
    of: int
    port: str
    sure: bool

    def __str__(self) -> str:
        if not self.port or (not self.messages and self.sure):
            return "interrupted; no message has left"
        count = f"{'' if self.sure else 'at least '}{self.messages} of {self.of} messages"
        said = f"interrupted; {count} had left for ‘{self.port}’"
        if self.messages < self.of:
            said += ": the rig is between two scenes, so send one again"
        return visible(said)


def plan(compiled: Compiled, found: Found, *, direct: bool) -> Plan | Problem:
    """Return what ``found`` takes by the route that was asked for.

    Where presets hold no messages, a computer sends them all, and that is the only route.
    """
    scene = found.scene
    if direct or scene.lowered.by_computer:
        notes = (_not_heard(compiled, scene), _not_sent(compiled, scene))
        return Plan(scene.lowered.direct, "; ".join(filter(None, notes)))
    commands = compiled.recall_of(scene.key)
    if commands is None:
        return _not_recalled(compiled, found, scene)
    return Plan(transmit(commands, wait=False))


def _not_heard(compiled: Compiled, scene: LoweredScene) -> str:
    """Say which units no cable of a computer with a line of its own leads to."""
    hear = compiled.lines.reach(COMPUTER)
    deaf = dict.fromkeys(
        quoted(timed.command.unit)
        for timed in scene.lowered.direct.commands
        if timed.command.unit not in hear
    )
    if not deaf:
        return ""
    return f"the computer's MIDI line does not lead to {' and '.join(deaf)}, as the rig has it"


def _not_sent(compiled: Compiled, scene: LoweredScene) -> str:
    """Say how the loops and relays should stand, which only the switcher can set."""
    loops: dict[int, str] = {}
    relays: dict[int, str] = {}
    for name, unit in compiled.target.units.items():
        if unit.loop:
            loops[unit.loop] = f"{loops[unit.loop]} + {name}" if unit.loop in loops else name
        for number in (one for switched in unit.switched.values() for one in switched.numbers):
            relays[number] = f"{relays[number]} + {name}" if number in relays else name
    if not loops and not relays:
        return ""
    needed = [f"loop {n} ({loops.get(n, 'empty')}) in" for n in scene.content.loops]
    needed += [f"relay {n} ({relays.get(n, 'empty')}) closed" for n in scene.content.relays]
    rest = "all others out" if loops else "all others open"
    return (
        "loops and relays are the switcher's own and no message here sets them; this scene needs "
        f"{', '.join([*needed, rest])}"
    )


def _no_cable(name: str) -> Problem:
    return Problem(
        "computer-not-on-the-line",
        f"{name} cannot be recalled: the computer's MIDI line does not lead to the switcher",
        "if a cable does, write it below midi: in the rig, [computer, switcher]; else press the "
        "switch, or send the scene with --direct",
    )


def _not_recalled(compiled: Compiled, found: Found, scene: LoweredScene) -> Problem:
    switcher = compiled.book.switcher
    name = quoted(f"{heading(compiled, found.song)}/{scene.bound.name}")
    slot = compiled.placement.of_scene.get(scene.key)
    if slot is None:
        return Problem(
            "scene-not-placed",
            f"{name} lies on no switch, for the song is not played tonight",
            "put the song into a set, or send the scene with --direct",
        )
    if switcher.recalled_on_channel is None:
        return Problem(
            "switcher-not-recalled",
            f"{name} cannot be recalled: the switcher obeys no programs over MIDI",
            "if it does, write ‘recalled on channel: 16’ with its channel into the switcher's "
            "file; else press the switch, or send the scene with --direct",
        )
    if not compiled.lines.recalls:
        return _no_cable(name)
    number = switcher.first_program + slot.bank * switcher.switches.count + slot.switch
    bank, switch = switcher.banks.show(slot.bank), switcher.switches.show(slot.switch)
    return Problem(
        "beyond-program-127",
        f"{name} cannot be recalled: bank {bank}, switch {switch} would be program {number}, "
        "and a program change reaches 127",
        "if the switcher obeys bank select, write ‘recalled by bank select: msb’ into its file; "
        "else give this rig lower banks, press the switch, or send the scene with --direct",
    )


def bundles(route: Transmission) -> list[tuple[float, list[str]]]:
    """Return messages in hexadecimal that must not be parted, each bundle with its ms."""
    result: list[tuple[float, list[str]]] = []
    open_ended = False
    for timed in route.commands:
        message = encode(timed.command.message).hex()
        if open_ended:
            result[-1][1].append(message)
        else:
            result.append((float(timed.starts), [message]))
        open_ended = timed.command.joined
    return result


def send(
    planned: Plan,
    port: str | None,
    *,
    patience: Patience = PATIENCE,
    engine: Sequence[str] = ENGINE,
) -> Sent | Interrupted | Problem:
    """Send ``planned`` to the port that ``port`` names, and return when all of it has left.

    An interrupt from the keyboard stops it between two messages that may be parted.

    None means the only port that there is. Messages are sent no faster than a MIDI line
    carries them (3,125 bytes a second; MIDI 1.0 Detailed Specification 4.2.1, hardware), so that
    no buffer behind the port fills.
    """
    route = planned.route
    ended = converse(
        {"ask": "send", "port": port, "bundles": bundles(route), "linger": LINGER},
        patience=patience,
        engine=engine,
    )
    if isinstance(ended, Problem):
        return ended
    if "interrupted" in ended:
        return Interrupted(
            ended["sent"], len(route.commands), ended["port"] or "", ended["interrupted"] == "sure"
        )
    return Sent(ended["sent"], route.size, ended["port"])
