"""A scene that is pressed before the rig is done with the scene before it."""

from __future__ import annotations

from collections.abc import Iterator

from setwright.compiler.binding.states import Cause
from setwright.compiler.checks.check import Also, Check, Explained, Fault
from setwright.compiler.compiled import Compiled
from setwright.compiler.proving.presses import TooSoon
from setwright.compiler.proving.stretches import Press
from setwright.scenes.finding import Severity
from setwright.scenes.places import KeyPath
from setwright.scenes.quantities import plain_number, quoted
from setwright.scenes.wording import number_of

EXPLAINED = Explained(
    code="pressed-too-soon",
    severity=Severity.WARNING,
    brief="A scene that is pressed before the rig is done with the scene before it.",
    finds="A song says when its scenes are pressed, and one of them comes while a unit that it "
    "sends something to is still busy with its program (busy after program:), while the messages "
    "of the scene before are still on the wire (320 µs a byte: MIDI 1.0 Detailed Specification "
    "4.2.1, hardware), or before the sound of that scene is there (settles in:), or while "
    "banks on the way to it load presets of their own (loads at once: yes). Songs that go "
    "straight into one another are looked at as one. Where no time is known, nothing is found.",
    hurts="The box does not hear the second message, and the song goes on with the wrong sound.",
    do="press it a little later, or press the scene before it earlier",
    example="""\
        - Shake: bar 5
        - Roll: bar 6
        wobbler:
          busy after program: 4 s
    """,
)


def run(compiled: Compiled) -> Iterator[Fault]:
    """Yield one fault for each song and unit, at the press that misses most."""
    found: dict[tuple[str, str, bool], dict[tuple[KeyPath, KeyPath], TooSoon]] = {}
    for one in compiled.too_soon:
        pairs = found.setdefault((one.press.song.song.identity, one.unit, one.banks > 0), {})
        places = (one.before.moment.path, one.press.moment.path)
        if places not in pairs or pairs[places].missing < one.missing:
            pairs[places] = one
    for pairs in found.values():
        worst = max(pairs.values(), key=lambda one: one.missing)
        more = len(pairs) - 1
        path, at_key = _where(worst.press)
        other, other_key = _where(worst.before)
        yield Fault(
            path,
            _sentence(compiled, worst)
            + (f" (and {number_of(more, 'more moment')})" if more else ""),
            _way_out(worst),
            (Also("the press before", other, other_key),),
            at_key,
        )


def _where(press: Press) -> tuple[KeyPath, bool]:
    """Return where a press is written: its place in the song, or the scene where none is said."""
    if press.moment.position is None:
        return press.moment.path, True
    return (*press.moment.path, "at"), False


def _sentence(compiled: Compiled, soon: TooSoon) -> str:
    after, before = soon.press, soon.before
    apart = plain_number(round(after.ms - before.ms, 1))
    of = "" if after.song is before.song else f" of {quoted(before.song.song.title)}"
    pressed = (
        f"{quoted(after.moment.scene)} is pressed {apart} ms after "
        f"{quoted(before.moment.scene)}{of}"
    )
    missing = f"{plain_number(round(soon.missing, 1))} ms are missing"
    if soon.banks:
        way = number_of(soon.banks, "bank")
        have = "has" if soon.banks == 1 else "have"
        return f"{pressed}, and {way} on the way to it {have} to be waited for: {missing}"
    if soon.unit:
        lost = any(
            one.cause is Cause.TOO_SOON and one.unit == soon.unit
            for one in compiled.scenes[after.key].proved
        )
        harm = ", and what it is sent is lost" if lost else ""
        return f"{pressed}, while {quoted(soon.unit)} is still busy{harm}: {missing}"
    if soon.settling:
        return f"{pressed}, before that sound is there: {missing}"
    return f"{pressed}, while those messages are still on the wire: {missing}"


def _way_out(soon: TooSoon) -> str:
    if soon.banks and soon.press.song is soon.before.song:
        return "press it later, or give this song fewer scenes, so that one bank holds them"
    if soon.banks:
        return "do not go straight into it, or let a bank that is nearer have both songs"
    if not soon.unit:
        return ""
    return (
        f"press it later, or the scene before it earlier, or let both use one program of "
        f"{quoted(soon.unit)}"
    )


CHECK = Check(EXPLAINED, run)
