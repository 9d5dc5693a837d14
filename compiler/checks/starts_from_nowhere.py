"""A run of the path that begins with a unit into which nothing leads."""

from __future__ import annotations

from collections.abc import Iterator

from setwright.compiler.checks.check import Also, Check, Explained, Fault
from setwright.compiler.checks.common.ways import the_unit
from setwright.compiler.compiled import Compiled
from setwright.compiler.signal.graph import Side
from setwright.scenes.finding import Severity
from setwright.scenes.quantities import quoted

EXPLAINED = Explained(
    code="starts-from-nowhere",
    severity=Severity.WARNING,
    brief="A run of the path that begins with a unit into which nothing leads.",
    finds="A run begins with a unit that is no guitar, and no other run leads into that unit; or "
    "it comes out of a return, into which cables lead.",
    hurts="No signal comes to anything in that run.",
    do="let the run begin with guitar, or with a unit that another run leads to; what else is "
    "played is a unit with is: guitar",
    example="""\
        path:
          - [squeezer, wobbler, echo, combo]
    """,
)


def run(compiled: Compiled) -> Iterator[Fault]:
    """Yield one fault for each beginning."""
    for one in compiled.path_faults.nowhere:
        word, way_out = one.word, ""
        if one.from_a_return:
            sentence = f"a run begins at {quoted(word.said)}, but a return only takes: nothing "
            sentence += "comes out of it"
            way_out = f"begin at ‘{word.unit} send’, and end the run at ‘{word.unit} return’"
        elif word.port is Side.SEND:
            sentence = f"nothing leads into {quoted(word.unit)}, so nothing comes out of its send"
            way_out = f"let a run lead to {word.unit}"
        else:
            sentence = f"a run begins with {quoted(word.unit)}, and nothing leads into that"
        ends = tuple(Also("this run ends in no amplifier", end.path) for end in one.ends[:2])
        yield Fault(word.path, sentence, way_out, also=(*ends, *the_unit(compiled, word.unit)))


CHECK = Check(EXPLAINED, run)
