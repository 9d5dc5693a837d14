"""Two presets of one bank whose names the display shows alike."""

from __future__ import annotations

from collections.abc import Iterator

from setwright.compiler.checks.check import Also, Check, Explained, Fault
from setwright.compiler.compiled import Compiled
from setwright.scenes.finding import Severity
from setwright.scenes.places import KeyPath
from setwright.scenes.quantities import quoted

EXPLAINED = Explained(
    code="names-alike",
    severity=Severity.NOTE,
    brief="Two presets of one bank whose names look alike on the display.",
    finds="Two presets of one bank have different names, and the switcher's display, which cuts "
    "them short or has capitals only, shows the same of both.",
    hurts="On the night the display cannot tell which of the two is on.",
    do="let the names differ in the characters that are shown",
    example="""\
        Farther: [compression, long echo]
        Farthest: [compression, tremolo, long echo]
    """,
)


def run(compiled: Compiled) -> Iterator[Fault]:
    """Yield one fault for each two names, at the scene of the second."""
    names = compiled.book.switcher.each_preset_stores.names
    first: dict[tuple[int, str], tuple[str, KeyPath]] = {}
    found: set[frozenset[str]] = set()
    for preset in compiled.placement.presets:
        path = compiled.scenes[preset.scenes[0]].bound.path
        shown = names.show(preset.name)
        other, there = first.setdefault((preset.slot.bank, shown), (preset.name, path))
        pair = frozenset((other, preset.name))
        # Where two songs call a scene the same, nothing was lost on the way to the display.
        if len(pair) > 1 and pair not in found:
            found.add(pair)
            yield Fault(
                path,
                f"in bank {compiled.book.switcher.banks.show(preset.slot.bank)} the display shows "
                f"{quoted(shown)} for both {quoted(other)} and {quoted(preset.name)}",
                also=(
                    Also("the other", there, at_key=True),
                    Also("what it shows", ("switcher", "each preset stores", "names"), at_key=True),
                ),
                at_key=True,
            )


CHECK = Check(EXPLAINED, run)
