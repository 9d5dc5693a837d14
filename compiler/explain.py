"""What a scene becomes on this rig, said in words: each unit's state, why, and the verdict."""

from __future__ import annotations

from collections.abc import Iterator
from fractions import Fraction
from typing import NamedTuple

from setwright.compiler.bind import BoundScene, BoundSong
from setwright.compiler.compiled import Compiled
from setwright.compiler.feet import FootMove
from setwright.compiler.midi import encode
from setwright.compiler.orders import Order
from setwright.compiler.states import Verdict, Wanted, describe
from setwright.compiler.target import NOTHING
from setwright.compiler.wire import Transmission
from setwright.scenes.finding import visible
from setwright.scenes.identities import which
from setwright.scenes.moments import Moment
from setwright.scenes.musical_time import AtTime
from setwright.scenes.names import suggestion
from setwright.scenes.quantities import plain_number, quoted


class Found(NamedTuple):
    """A scene that was asked for by name."""

    song: BoundSong
    scene: BoundScene


def find_scene(compiled: Compiled, text: str) -> Found | str:
    """Return the scene that ``SONG/SCENE`` names, or a sentence that says why there is none.

    A title may have slashes of its own: every slash is tried, and the one that leaves a song
    and one of its scenes is taken.
    """
    book, binder = compiled.book, compiled.binder
    if book is None or binder is None:
        return "the book could not be read"
    splits = [(text[:at], text[at + 1 :]) for at, sign in enumerate(text) if sign == "/"]
    if not splits:
        return "write SONG/SCENE, with a slash between the song's title and the scene's name"
    songs = {one.song.identity: one for one in reversed(compiled.songs)}
    found: list[Found] = []
    reason = ""
    for title, name in splits:
        song = book.by_name.get(title.strip())
        if song is None:
            continue
        bound = songs.get(song.identity) or binder.song(song)
        if name.strip() in bound.scenes:
            found.append(Found(bound, bound.scenes[name.strip()]))
        elif name.strip() in bound.left_out:
            reason = f"{quoted(name.strip())} is left out tonight"
        elif name.strip() in song.scenes:
            reason = f"{quoted(name.strip())} has findings, so it has no state yet; run check"
            if bound.general:
                reason = (
                    f"{quoted(title.strip())} is kept for requests tonight, so it has the rig's "
                    f"general scenes: {', '.join(bound.scenes)}"
                )
        else:
            reason = f"{quoted(title.strip())} has no scene {quoted(name.strip())}: " + (
                suggestion(name.strip(), bound.scenes, "it has none at all")
            )
    if len(found) == 1:
        return found[0]
    if found:
        return "this means more than one scene; name the song by its id instead"
    title = splits[-1][0].strip()
    if title in book.of_title:
        same = book.of_title[title]
        return f"{len(same)} songs have the title {quoted(title)}: {which(same)}"
    return reason or f"the book has no song {quoted(title)}: " + suggestion(
        title, book.by_name, "it holds no songs"
    )


def explain(compiled: Compiled, found: Found) -> Iterator[str]:
    """Yield the lines that explain one scene."""
    assert compiled.book is not None
    song, scene = found.song, found.scene
    rig = compiled.book.rig.rig or "this rig"
    yield f"{song.song.title} / {scene.name} on {rig}"
    facts = [
        song.song.key,
        str(song.song.meter) if song.song.meter else None,
        str(song.tempo) if song.tempo else None,
        song.guitar or None,
        "the rig's general scenes" if song.general else None,
    ]
    yield f"  {', '.join(fact for fact in facts if fact)}" if any(facts) else "  "
    yield f"  effects: {', '.join(scene.effects) or 'none'}"
    for asked, played in scene.replaced:
        other = "left out here" if played == NOTHING else f"played with {played}"
        yield f"  {asked}: {other}"
    for moment, moves in zip(song.moments, song.feet, strict=True):
        if moment.scene == scene.name:
            yield "  " + _moment(song, moment, moves)
    yield from _press(compiled, found)
    yield ""
    unit = ""
    for wanted in compiled.scene(song, scene.name).proved:
        if wanted.unit != unit:
            unit = wanted.unit
            yield unit
        yield from _wanted(wanted)


def _moment(song: BoundSong, moment: Moment, moves: tuple[FootMove, ...]) -> str:
    when = song.place_in_words(moment) or "somewhere"
    if moment.seconds and not isinstance(moment.position, AtTime):
        when += f" ({AtTime(Fraction(round(moment.seconds)))})"
    foot = "".join(f"; foot: {move}" for move in moves)
    cue = f"; cue: {moment.cue}" if moment.cue else ""
    return f"pressed at {when}" + (", assumed" if moment.assumed else "") + cue + foot


def _press(compiled: Compiled, found: Found) -> Iterator[str]:
    """Yield the switch to press, and the messages of both routes with their times."""
    assert compiled.book is not None
    switcher = compiled.book.switcher
    scene = compiled.scene(found.song, found.scene.name)
    slot = compiled.placement.of_scene.get(scene.key)
    if slot is not None:
        bank, switch = switcher.banks.show(slot.bank), switcher.switches.show(slot.switch)
        yield f"  bank {bank}, switch {switch}"
    recall = compiled.recall_of(scene.key)
    if recall:
        yield ""
        yield f"recalled on channel {switcher.recalled_on_channel}"
        for order in recall:
            yield f"  {line_of(order)}"
    for name, route in (
        ("stored in the preset", scene.lowered.stored),
        ("sent directly", scene.lowered.direct),
    ):
        yield ""
        yield f"{name}: {_size(route)}"
        for timed in route.orders:
            yield f"  {line_of(timed.order)}"


def _size(route: Transmission) -> str:
    if not route.orders:
        return "nothing"
    count = len(route.orders)
    return (
        f"{count} message{'s' if count != 1 else ''}, {route.size} bytes in "
        f"{_ms(route.ms)} ({route.size_running} in {_ms(route.ms_running)} with running "
        f"status); the sound is there after {_ms(route.sound)}"
    )


def _ms(value: Fraction) -> str:
    return f"{plain_number(round(value, 2))} ms"


def line_of(order: Order) -> str:
    """Return one message as a line: its bytes in hexadecimal, then what it means."""
    return f"{encode(order.message).hex(' ')}  {order.unit}: {order.meaning} ({order.message})"


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
    return {
        "song": found.song.song.title,
        "scene": found.scene.name,
        "effects": list(found.scene.effects),
        "replaced": [list(pair) for pair in found.scene.replaced],
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
            for wanted in compiled.scene(found.song, found.scene.name).proved
        ],
    }
