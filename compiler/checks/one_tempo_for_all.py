"""Songs that want several tempos of a switcher's clock that has one for all presets."""

from __future__ import annotations

from collections.abc import Iterator

from setwright.compiler.binding.states import Cause
from setwright.compiler.checks.check import Also, Check, Explained, Fault
from setwright.compiler.checks.common.clocked import clocked
from setwright.compiler.compiled import Compiled
from setwright.scenes.finding import Severity
from setwright.scenes.quantities import quoted
from setwright.scenes.wording import number_of

EXPLAINED = Explained(
    code="one-tempo-for-all",
    severity=Severity.WARNING,
    brief="Songs that want several tempos of a clock that has one for all presets.",
    finds="A unit follows the switcher's clock, which has one tempo for all presets (clock: "
    "global), and tonight's songs have several.",
    hurts="No press changes the tempo: the repeats run beside the beat in all songs but those of "
    "one tempo.",
    do="let a control, a program or a tap set the time of that unit, set the tempo by hand between "
    "the songs, or say clock: per preset if the switcher can",
    example="""\
        clock: global
        tempo from: clock
    """,
)


def run(compiled: Compiled) -> Iterator[Fault]:
    """Yield one fault for the night, at the first song whose tempo is another."""
    songs = list(clocked(compiled, Cause.ONE_TEMPO))
    others = [one for one in songs if one.wanted.value != songs[0].wanted.value]
    if not others:
        return
    first, other = songs[0], others[0]
    more = f" (and {number_of(len(others) - 1, 'more song')} another)" if len(others) > 1 else ""
    yield Fault(
        other.path,
        f"{quoted(other.song.song.title)} wants {other.wanted.value} of the switcher's clock"
        f"{more}, which {quoted(other.wanted.unit)} follows, and {quoted(first.song.song.title)} "
        f"{first.wanted.value}",
        also=(
            Also("the other tempo", first.path),
            Also("one tempo for all", ("switcher", "clock"), at_key=True),
        ),
    )


CHECK = Check(EXPLAINED, run)
