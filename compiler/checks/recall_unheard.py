"""A computer that could call the switcher's presets, and no cable leads there."""

from __future__ import annotations

from collections.abc import Iterator

from setwright.compiler.binding.target import COMPUTER, SWITCHER
from setwright.compiler.checks.check import Also, Check, Explained, Fault
from setwright.compiler.checks.common.computer import cannot_recall, where
from setwright.compiler.compiled import Compiled
from setwright.scenes.finding import Severity
from setwright.scenes.quantities import quoted
from setwright.scenes.wording import number_of

EXPLAINED = Explained(
    code="recall-unheard",
    severity=Severity.WARNING,
    brief="A computer that could call the switcher's presets, and no cable leads there.",
    finds="The switcher obeys programs (recalled on channel:) and a computer has a MIDI line, but "
    "no cable brings what it sends to the switcher, nor to all of the units that scenes are made "
    "of. A computer that reaches all of them needs no preset, and one that reaches only boxes of "
    "which no scene is made may have other things to do; neither is found.",
    hurts="The computer calls a scene, and nothing changes, or half of it.",
    do="plug the computer into the switcher's MIDI IN and write that line: [computer, switcher]",
    example="""\
        recalled on channel: 16
        midi:
          - [switcher, wobbler, joiner]
          - [computer, joiner]
          - [joiner, echo]
    """,
)


def run(compiled: Compiled) -> Iterator[Fault]:
    """Yield one fault for a computer that cannot call presets and cannot do without."""
    missed, path = cannot_recall(compiled), where(compiled)
    if missed is None or path is None:
        return
    channel = compiled.book.switcher.recalled_on_channel
    units = quoted(missed[0]) if len(missed) == 1 else number_of(len(missed), "unit")
    nor = f", nor what it sends directly to {units} of the scenes" if missed else ""
    stops = compiled.lines.stopped(COMPUTER, SWITCHER)
    yield Fault(
        path if stops is None else compiled.lines.where_thru(stops),
        "no cable brings the computer's programs to the switcher, which obeys them on channel "
        f"{channel}{nor}"
        + (f": {quoted(stops)} does not pass them on" if stops is not None else ""),
        "" if stops is None else "turn its THRU on, or plug the switcher in before it",
        (Also("the switcher listens here", ("switcher", "recalled on channel")),),
        at_key=stops is None,
    )


CHECK = Check(EXPLAINED, run)
