"""A song whose form and tempo make another length than its ``lasts:`` says."""

from __future__ import annotations

from collections.abc import Iterator
from fractions import Fraction

from setwright.compiler.checks.check import Also, Check, Explained, Fault
from setwright.compiler.compiled import Compiled
from setwright.scenes.finding import Severity
from setwright.scenes.forms import AtTime
from setwright.scenes.quantities import quoted

EXPLAINED = Explained(
    code="length-disagrees",
    severity=Severity.WARNING,
    brief="A song whose form and tempo make another length than lasts: says.",
    finds="A song says its length twice, and the two differ by more than a tenth and more than 15 "
    "seconds: rounds, bars, meter and its own tempo make one, lasts: says another. Another tempo "
    "tonight is no contradiction. A form that does not say its rounds may be played more often "
    "than once, so only a lasts: that is too short for one round is found.",
    hurts="One of the two is wrong, and with it the places in the song, the lengths of MIDI files "
    "or the length of the set. The form is what counts where it says its rounds.",
    do="mend the one that is wrong: the rounds of form:, bars:, meter:, tempo: or lasts:; or take "
    "lasts: out, for form and tempo tell the length",
    example="""\
        meter: 2/4
        tempo: quarter = 126
        form: AABB, 5 rounds
        lasts: 3:10
    """,
)


def run(compiled: Compiled) -> Iterator[Fault]:
    """Yield one fault for each song of tonight that contradicts itself."""
    for one in compiled.songs:
        song, made = one.song, one.resolved.length.by_form
        if made is None or song.lasts is None or song.form is None:
            continue
        rounds = str(song.form) if song.form.rounds_said else f"one round of {song.form.one_round}"
        yield Fault(
            (*song.path, "lasts"),
            f"{quoted(song.title)} lasts {_clock(song.lasts)}, and {rounds} at {song.tempo} "
            f"takes {_clock(made)}",
            also=(
                Also("the form", (*song.path, "form")),
                Also("the tempo", (*song.path, "tempo")),
            ),
        )


def _clock(seconds: Fraction) -> str:
    return str(AtTime(Fraction(round(seconds))))


CHECK = Check(EXPLAINED, run)
