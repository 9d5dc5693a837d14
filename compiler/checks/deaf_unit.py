"""A unit that messages are meant for and that no cable brings them to."""

from __future__ import annotations

from collections.abc import Iterator

from setwright.compiler.checks.check import Also, Check, Explained, Fault
from setwright.compiler.compiled import Compiled
from setwright.compiler.proving.routing import Lines
from setwright.scenes.finding import Severity
from setwright.scenes.places import KeyPath
from setwright.scenes.quantities import quoted
from setwright.scenes.records import place_for
from setwright.scenes.rig import Rig

EXPLAINED = Explained(
    code="deaf-unit",
    severity=Severity.ERROR,
    brief="A unit that messages are meant for and that no cable brings them to.",
    finds="Scenes send messages to a unit, but no MIDI cable brings them there: it is on no line, "
    "its line does not begin with the switcher (or, where no line leads out of the switcher, with "
    "the computer, which then sends the scenes), or a box before it does not pass on what it "
    "receives (THRU is off).",
    hurts="The switch is pressed and the sound stays as it was.",
    do="write the cables below midi:, from the switcher on, in the order in which they are plugged",
    example="""\
        midi:
          - [switcher, wobbler]
    """,
    changes_sound=True,
)

_BEGIN = "begin the line with the {}, or with a box that it reaches"
_THRU = "turn its THRU on, or plug what is behind it in before it"
_ADD = "add midi: with a line from the switcher through the boxes: [switcher, …]"


def run(compiled: Compiled) -> Iterator[Fault]:
    """Yield one fault for each place at which the messages of one or more units end."""
    book, lines = compiled.book, compiled.lines
    meant = {
        sent.command.unit: sent
        for sent in reversed(compiled.traffic)
        if sent.sender == lines.sender and not sent.reached
    }
    on_a_line = {cable.end for cable in lines.cables} & book.rig.units.keys()
    if meant and not on_a_line:
        said = book.spot.holds(("rig", "midi"))
        names = [name for name in book.rig.units if name in meant]
        first = meant[names[0]]
        yield Fault(
            ("rig", "midi"),
            f"it is not said how MIDI gets to {_listed(names)}, and {first.scene} sends "
            f"{first.command.message}",
            _ADD,
            tuple(Also(name, ("rig", "units", name, "channel")) for name in names[:4]),
            at_key=True,
            place=None if said else place_for(book.spot, ("rig",), Rig, "midi"),
            units=tuple(names),
        )
        return
    ends: dict[tuple[KeyPath, str], list[str]] = {}
    for name in book.rig.units:
        if name in meant:
            ends.setdefault(_where_it_ends(lines, name), []).append(name)
    for (path, why), names in ends.items():
        first = meant[names[0]]
        yield Fault(
            path,
            f"{_listed(names)} cannot hear {first.command.message} of {first.scene}"
            if len(names) == 1
            else f"{_listed(names)} cannot hear what scenes send them, such as "
            f"{first.command.message} of {first.scene}",
            why,
            at_key=path[1] == "midi" and path[-1] != "thru",
            also=tuple(
                Also(f"{name} listens here", ("rig", "units", name, "channel"))
                for name in names
                if path != ("rig", "units", name, "channel")
            ),
            units=tuple(names),
        )


def _where_it_ends(lines: Lines, name: str) -> tuple[KeyPath, str]:
    """Return where the way from the sender to ``name`` ends, and what to do about it.

    All cables are followed back; a box that hears the sender and does not pass it on explains
    more than a line that begins with another box.
    """
    reached = lines.reach(lines.sender)
    begins: list[str] = []
    seen, waiting = {name}, [name]
    while waiting:
        one = waiting.pop(0)
        into = [cable.start for cable in lines.cables if cable.end == one]
        if not into:
            begins.append(one)
        for start in into:
            if start in reached and not lines.passes[start]:
                return lines.where_thru(start), _THRU
            if start not in seen:
                seen.add(start)
                waiting.append(start)
    for one in begins:
        for row, line in enumerate(lines.rig.midi):
            if line and one in line[0]:
                return ("rig", "midi", row, 0, one), _BEGIN.format(lines.sender)
    return ("rig", "units", name, "channel"), _write_in(lines, name)


def _write_in(lines: Lines, name: str) -> str:
    last = next(reversed(lines.reach(lines.sender)), None)
    after = f", such as after {last}" if last is not None else ""
    return f"write {name} into a line below midi:, where its cable is plugged{after}"


def _listed(names: list[str]) -> str:
    return " and ".join(map(quoted, names)) if len(names) < 3 else f"{len(names)} units"


CHECK = Check(EXPLAINED, run)
