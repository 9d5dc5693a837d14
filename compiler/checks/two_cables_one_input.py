"""An input with more cables than can be plugged into it."""

from __future__ import annotations

from collections.abc import Iterator

from setwright.compiler.checks.check import Also, Check, Explained, Fault
from setwright.compiler.checks.common.ways import the_unit
from setwright.compiler.compiled import Compiled
from setwright.scenes.finding import Severity
from setwright.scenes.quantities import quoted
from setwright.scenes.wording import number_of

EXPLAINED = Explained(
    code="two-cables-one-input",
    severity=Severity.WARNING,
    brief="An input with more cables than can be plugged into it.",
    finds="The path leads into a unit by more cables than it has inputs, and it is neither a mixer "
    "nor an amplifier; or the mixer is not there tonight (--without).",
    hurts="One of the cables has nowhere to be plugged in, and what comes along it is lost. Two "
    "outputs joined without a mixer load each other.",
    do="put a unit that is: mixer before it, or say inputs: 2 if the box has two",
    example="""\
        path:
          - [guitar, squeezer, splitter]
          - [splitter, wobbler, hall, combo]
          - [splitter, echo, hall]
    """,
)


def run(compiled: Compiled) -> Iterator[Fault]:
    """Yield one fault for each input."""
    for one in compiled.path_faults.crowded:
        if one.is_output:
            continue
        word = one.word
        cables = number_of(one.cables, "cable")
        if one.gone:
            yield Fault(
                word.path,
                f"without {quoted(one.gone)}, {cables} would have to lead into "
                f"{quoted(one.first.said)}",
                "bring another mixer, or leave out what comes along one of them",
                also=(Also("they go on here", one.first.path), *the_unit(compiled, one.gone)),
            )
            continue
        has = "has one input" if one.room == 1 else f"has {one.room} inputs"
        yield Fault(
            word.path,
            f"{cables} lead into {quoted(word.said)}, which {has}",
            also=(Also("the first of them", one.first.path), *the_unit(compiled, word.unit)),
        )


CHECK = Check(EXPLAINED, run)
