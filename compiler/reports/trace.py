"""Who hears what in one scene, message by message and cable by cable, as text."""

from __future__ import annotations

from collections.abc import Iterator

from setwright.compiler.binding.target import COMPUTER, SWITCHER
from setwright.compiler.compiled import Compiled
from setwright.compiler.lowering.commands import Command
from setwright.compiler.midi import encode
from setwright.compiler.proving.routing import Cable, Hearing, Lines, Reaction
from setwright.compiler.reports.find import Found, heading
from setwright.scenes.quantities import plain_number


def trace(compiled: Compiled, found: Found, *, direct: bool = False) -> Iterator[str]:
    """Yield the lines that follow a scene's messages from their sender to every box.

    They are those of the switcher's preset, or, with ``direct``, those of the computer, which are
    the only ones where no line leads out of the switcher.
    """
    book = compiled.book
    scene = found.scene
    alone = scene.lowered.by_computer
    direct = direct or alone
    route = scene.lowered.direct if direct else scene.lowered.stored
    sender = COMPUTER if direct else SWITCHER
    title = heading(compiled, found.song)
    yield f"{title} / {scene.bound.name} on {book.rig.rig or 'this rig'}"
    yield f"what {'a computer sends' if direct else 'the preset sends'}, and who hears it"
    if alone:
        yield "the preset sends nothing: no MIDI line leads out of the switcher"
    if not direct or alone:
        yield f"loops in: {_numbers(scene.content.loops)}; relays closed: " + _numbers(
            scene.content.relays
        )
    if not route.commands:
        yield ""
        yield "nothing is sent: no unit needs a message for this scene"
        return
    lines = compiled.lines
    width = max((len(_cable(lines, one)) for one in lines.cables), default=0)
    for number, timed in enumerate(route.commands, 1):
        command = timed.command
        yield ""
        yield (
            f"{number}. after {plain_number(round(timed.starts, 2))} ms: "
            f"{encode(command.message).hex(' ')}, {command.message}"
        )
        yield f"   meant for {command.unit}: {command.meaning}"
        yield from _hearings(lines, sender, command, width)


def _hearings(lines: Lines, sender: str, command: Command, width: int) -> Iterator[str]:
    hearings = lines.hear(sender, command.message)
    for hearing in hearings:
        first = sender if len(hearing.way) == 1 else ""
        cable = _cable(lines, hearing.way[-1], first)
        yield f"   {cable:{width}}  {_does(hearing, meant=hearing.unit == command.unit)}"
    if all(hearing.unit != command.unit for hearing in hearings):
        yield f"   {command.unit} does not hear it: no cable brings it there"


def _does(hearing: Hearing, *, meant: bool) -> str:
    match hearing.reaction:
        case Reaction.OTHER_CHANNEL | Reaction.IGNORES:
            return hearing.what
        case Reaction.ACTS if meant:
            return "acts, as meant"
        case Reaction.ACTS:
            return f"ACTS, NOT MEANT: would {hearing.what}"
        case _ if meant:
            return "acts, as meant"
        case _:
            return f"MAY ACT, NOT MEANT: might {hearing.what}"


def _cable(lines: Lines, cable: Cable, sender: str = "") -> str:
    """Return a cable in words; the first one of a way begins at its ``sender``'s OUT.

    What another box passes on leaves it by its THRU; a switcher and a merge have an OUT for it.
    """
    unit = lines.rig.units.get(cable.start)
    out = sender or unit is None or unit.is_ == "merge"
    return f"{sender or cable.start} {'OUT' if out else 'THRU'} → {cable.end} IN"


def _numbers(numbers: tuple[int, ...]) -> str:
    return ", ".join(map(str, numbers)) or "none"
