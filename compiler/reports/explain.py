"""What a scene becomes on this rig, said in words: each unit's state, why, and the verdict."""

from __future__ import annotations

from collections.abc import Iterator
from fractions import Fraction

from setwright.compiler.binding.bound import KEPT, BoundScene, BoundSong
from setwright.compiler.binding.described import describe
from setwright.compiler.binding.foot import FootMove
from setwright.compiler.binding.pedals import sent_from
from setwright.compiler.binding.states import Verdict, Wanted
from setwright.compiler.binding.target import NOTHING
from setwright.compiler.compiled import Compiled
from setwright.compiler.lowering.commands import Command
from setwright.compiler.lowering.wire import Transmission
from setwright.compiler.midi import encode
from setwright.compiler.reports.find import Found, heading
from setwright.compiler.reports.heard import heard
from setwright.scenes.finding import visible
from setwright.scenes.forms import AtTime
from setwright.scenes.moments import Moment
from setwright.scenes.quantities import plain_number
from setwright.scenes.rig import parse_kept_switch
from setwright.scenes.wording import number_of


def explain(compiled: Compiled, found: Found) -> Iterator[str]:
    """Yield the lines that explain one scene."""
    song, scene = found.song, found.scene.bound
    rig = compiled.book.rig.rig or "this rig"
    yield f"{heading(compiled, song)} / {scene.name} on {rig}"
    facts = [
        song.song.key,
        str(song.song.meter) if song.song.meter else None,
        _tempo(song, scene.name),
        song.guitar or None,
        "the rig's general scenes" if song.general else None,
        f"{_kept_on(scene)} in every bank" if song.owner == KEPT else None,
    ]
    yield f"  {', '.join(fact for fact in facts if fact)}" if any(facts) else "  "
    yield f"  effects: {', '.join(scene.effects) or 'none'}"
    yield from _signal(compiled, found)
    for whose, note in _notes(compiled, found).items():
        yield f"  note of the {whose}: {note}"
    for asked, played in scene.replaced:
        other = "left out here" if played == NOTHING else f"played with {played}"
        yield f"  {asked}: {other}"
    for moment, moves in zip(song.moments, song.feet, strict=True):
        if moment.scene == scene.name:
            yield "  " + _moment(compiled, song, moment, moves)
    for name, tap in song.taps:
        if name == scene.name:
            yield f"  when it is pressed; foot: {tap}"
    yield from _press(compiled, found)
    yield ""
    unit = ""
    for wanted in found.scene.proved:
        if wanted.unit != unit:
            unit = wanted.unit
            yield unit
            if of_unit := compiled.book.rig.units[unit].note:
                yield f"  note: {of_unit}"
        yield from _wanted(wanted)


def _kept_on(scene: BoundScene) -> str:
    """Return the switch that is kept for ``scene``, as it is marked."""
    return f"switch {parse_kept_switch(str(scene.path[-1]))}"


def _tempo(song: BoundSong, scene: str) -> str | None:
    """Return the tempo at which a scene is heard, or the tempos."""
    tempi = song.resolved.tempi.get(scene, (song.tempo,))
    if tempi == (None,) and song.song.tempi is None:
        return None
    return " and ".join("free" if one is None else str(one) for one in tempi)


def _signal(compiled: Compiled, found: Found) -> Iterator[str]:
    """Yield the ways of the signal in this scene, where anything is known of them."""
    rows = heard(compiled, found.scene)
    for row in rows:
        yield f"  signal: {' → '.join(map(str, row))}"
    if compiled.signal.known and not rows:
        yield "  signal: it comes to no amplifier"


def _notes(compiled: Compiled, found: Found) -> dict[str, str]:
    """Return what the book says to its player beside this scene, by what it is said of."""
    rig = compiled.book.rig
    record = (rig.general if found.song.general else found.song.song.scenes).get(
        found.scene.bound.name
    )
    notes = {
        "scene": record.note if record is not None else None,
        "rig": rig.note,
        "switcher": compiled.book.switcher.note,
    }
    return {whose: note for whose, note in notes.items() if note}


def _moment(
    compiled: Compiled, song: BoundSong, moment: Moment, moves: tuple[FootMove, ...]
) -> str:
    when = song.position_in_words(moment) or "somewhere"
    if moment.seconds and not isinstance(moment.position, AtTime):
        when += f" ({AtTime(Fraction(round(moment.seconds)))})"
    foot = ""
    for move in moves:
        sent = sent_from(compiled.target, move.unit, move.position)
        foot += f"; foot: {move}" + (f" ({', '.join(sent)})" if sent else "")
    cue = f"; cue: {moment.cue}" if moment.cue else ""
    return f"pressed at {when}" + (", assumed" if moment.assumed else "") + cue + foot


def _press(compiled: Compiled, found: Found) -> Iterator[str]:
    """Yield the switch to press, and the messages of both routes with their times."""
    switcher = compiled.book.switcher
    scene = found.scene
    slot = compiled.placement.of_scene.get(scene.key)
    if slot is not None:
        bank, switch = switcher.banks.show(slot.bank), switcher.switches.show(slot.switch)
        yield f"  bank {bank}, switch {switch}"
    recall = compiled.recall_of(scene.key)
    if recall:
        yield ""
        yield f"recalled on channel {switcher.recalled_on_channel}"
        for command in recall:
            yield f"  {line_of(command)}"
    for name, route in (
        ("stored in the preset", scene.lowered.stored),
        ("sent directly", scene.lowered.direct),
    ):
        yield ""
        size = _size(route)
        if scene.lowered.by_computer and route is scene.lowered.stored:
            size = "loops and relays alone, for no MIDI line leads out of the switcher"
        yield f"{name}: {size}"
        for timed in route.commands:
            yield f"  {line_of(timed.command)}"


def _size(route: Transmission) -> str:
    if not route.commands:
        return "nothing"
    count = len(route.commands)
    return (
        f"{number_of(count, 'message')}, {route.size} bytes in "
        f"{_ms(route.ms)} ({route.size_running} in {_ms(route.ms_running)} with running "
        f"status); the sound is there after {_ms(route.sound)}"
    )


def _ms(value: Fraction) -> str:
    return f"{plain_number(round(value, 2))} ms"


def line_of(command: Command) -> str:
    """Return one message as a line: its bytes in hexadecimal, then what it means."""
    return (
        f"{encode(command.message).hex(' ')}  {command.unit}: {command.meaning} ({command.message})"
    )


def _wanted(wanted: Wanted) -> Iterator[str]:
    value = describe(wanted.value, wanted.quantity)
    if wanted.verdict is Verdict.FREE:
        yield f"  {wanted.quantity}: don't care ({wanted.why})"
        return
    shown = f"{value}, {wanted.why}" if wanted.value is not None else wanted.why
    yield f"  {wanted.quantity}: {shown}"
    yield f"    {wanted.verdict.value}: {wanted.reason}"


def explain_json(compiled: Compiled, found: Found) -> dict[str, object]:
    """Return the same as plain data."""
    units = compiled.book.rig.units
    return {
        "song": found.song.song.title,
        "scene": found.scene.bound.name,
        "effects": list(found.scene.bound.effects),
        "signal": [
            [
                {"unit": stop.unit, "part": stop.part or None, "states": list(stop.states)}
                for stop in row
            ]
            for row in heard(compiled, found.scene)
        ],
        "replaced": [list(pair) for pair in found.scene.bound.replaced],
        "notes": _notes(compiled, found)
        | {"units": {name: unit.note for name, unit in units.items() if unit.note}},
        "number": found.song.number or None,
        "units": [
            {
                "unit": wanted.unit,
                "quantity": wanted.quantity,
                "value": None
                if wanted.value is None
                else visible(describe(wanted.value, wanted.quantity)),
                "why": wanted.why,
                "verdict": wanted.verdict.value,
                "reason": wanted.reason,
            }
            for wanted in found.scene.proved
        ],
    }
