"""An output with more cables than can be plugged into it."""

from __future__ import annotations

from collections.abc import Iterator

from setwright.compiler.checks.check import Also, Check, Explained, Fault
from setwright.compiler.checks.common.ways import the_unit
from setwright.compiler.compiled import Compiled
from setwright.scenes.finding import Severity
from setwright.scenes.quantities import quoted
from setwright.scenes.wording import number_of

EXPLAINED = Explained(
    code="one-output-two-cables",
    severity=Severity.WARNING,
    brief="An output with more cables than can be plugged into it.",
    finds="The path leads on from a unit by more cables than it has outputs, and it is no "
    "splitter; or the splitter is not there tonight (--without).",
    hurts="One of the cables has nowhere to be plugged in, and what lies behind it is silent.",
    do="put a unit that is: splitter between them, which may be a Y cable, or say outputs: 2 if "
    "the box has two",
    example="""\
        path:
          - [guitar, squeezer, wobbler, mate, combo]
          - [squeezer, echo, ash amplifier]
    """,
)


def run(compiled: Compiled) -> Iterator[Fault]:
    """Yield one fault for each output."""
    for one in compiled.path_faults.crowded:
        if not one.is_output:
            continue
        word = one.word
        cables = number_of(one.cables, "cable")
        if one.gone:
            yield Fault(
                word.path,
                f"without {quoted(one.gone)}, the cable from {quoted(one.first.said)} would have "
                f"to lead into {cables}",
                "bring another splitter or a Y cable, or leave out what is behind one of them",
                also=(Also("it comes from here", one.first.path), *the_unit(compiled, one.gone)),
            )
            continue
        has = "has one output" if one.room == 1 else f"has {one.room} outputs"
        yield Fault(
            word.path,
            f"{cables} lead on from {quoted(word.said)}, which {has}",
            also=(Also("the first of them", one.first.path), *the_unit(compiled, word.unit)),
        )


CHECK = Check(EXPLAINED, run)
