"""Songs over two banks on a switcher that loads a preset as soon as it is moved to a bank."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import pairwise

from setwright.compiler.checks.check import Check, Explained, Fault
from setwright.compiler.compiled import Compiled
from setwright.compiler.lowering.preset import Address
from setwright.compiler.placement.pressing import on_arrival
from setwright.compiler.placement.wanted import key_of
from setwright.scenes.finding import Severity
from setwright.scenes.quantities import quoted
from setwright.scenes.wording import number_of

EXPLAINED = Explained(
    code="bank-move-heard",
    severity=Severity.WARNING,
    brief="A move between banks in mid-song that loads a preset which nobody asked for.",
    finds="A song lies in two banks, and this switcher loads a preset as soon as it is moved to "
    "one (loads at once: yes): another one than the scene that comes next. It sounds until the "
    "foot has pressed the switch.",
    hurts="In the middle of the song something sounds that belongs elsewhere.",
    do="let scenes sound the same, or take some out, so that one bank holds them all; or write "
    "the scenes in another order",
    example="""\
        bank moves: {by: up and down, loads at once: yes}
        over two banks: yes
    """,
)


def run(compiled: Compiled) -> Iterator[Fault]:
    """Yield one fault for each song, at the words that let it lie in two banks."""
    seen = set()
    for song in compiled.songs:
        if song.general or not song.song.over_two_banks or id(song.song) in seen:
            continue
        slots = [
            slot
            for one in song.moments
            if (slot := compiled.placement.of_scene.get(key_of(song, one.scene))) is not None
        ]
        heard = [after for before, after in pairwise(slots) if _is_heard(compiled, before, after)]
        if heard:
            seen.add(id(song.song))
            moves = number_of(len(heard), "move")
            loads = "loads" if len(heard) == 1 else "load"
            yield Fault(
                (*song.song.path, "over two banks"),
                f"in {quoted(song.song.title)} {moves} between banks {loads} a preset that is not "
                "the one to come",
            )


def _is_heard(compiled: Compiled, before: Address, after: Address) -> bool:
    switcher = compiled.book.switcher
    return (
        before.bank != after.bank
        and switcher.bank_moves.loads_at_once
        and on_arrival(switcher, before, after.bank) != after
    )


CHECK = Check(EXPLAINED, run)
