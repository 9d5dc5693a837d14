"""What to type tonight, in words and as data."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from setwright.compiler.compiled import Compiled
from setwright.compiler.midi import decode
from setwright.compiler.placement.entries import Entry, What
from setwright.compiler.placement.held import Typed, show
from setwright.compiler.placement.hurry import Hurried, Instead
from setwright.compiler.placement.typing_order import Step
from setwright.compiler.plan import Plan, meanings
from setwright.scenes.wording import number_of

CAUTION = (
    "mind your ears: turn the amplifiers down before you try a preset for the first time, "
    "for it can be much louder than the last"
)


def plan_lines(compiled: Compiled, plan: Plan) -> Iterator[str]:
    """Yield the lines of a plan: what the units must hold first, then the presets in order."""
    night, rig = compiled.book.night.night, compiled.book.rig.rig or "this rig"
    count = number_of(len(plan.wanted), "preset")
    banks = number_of(len({address.bank for address in plan.wanted}), "bank")
    yield f"{night} on {rig}: {count} in {banks}, state {plan.mark}"
    if compiled.book.stored is None:
        yield f"nothing is known of what {compiled.book.switcher.switcher} holds"
    if not plan.steps and not plan.programs:
        yield "nothing to do"
        return
    yield from _programs(plan)
    if not plan.steps:
        return
    yield ""
    entries = number_of(plan.entries, "entry", "entries")
    line = f"to type: {number_of(len(plan.steps), 'preset')}, {entries}"
    if plan.entries != plan.alone:
        line += f" ({plan.alone} if each were typed from nothing)"
    yield line
    words = meanings(compiled)
    for step in plan.steps:
        yield "  " + _step(compiled, step, words)
    yield ""
    yield CAUTION


def _programs(plan: Plan) -> Iterator[str]:
    """Yield what the units must hold, where they may not hold it yet."""
    if plan.programs:
        yield ""
        yield "first, on the units: see that these programs are where they are asked for"
        for program in plan.programs:
            yield f"  {program.unit}: {program.shown} {program.name}"


def season_lines(plans: Sequence[tuple[Compiled, Plan]]) -> Iterator[str]:
    """Yield what all nights take together, and what they take at the least."""
    presets = sum(len(plan.steps) for _, plan in plans)
    entries = sum(plan.entries for _, plan in plans)
    there: dict[str, set[Typed]] = {}
    different: dict[str, set[Typed]] = {}
    for compiled, plan in plans:
        switcher = str(compiled.book.stored_at)
        # What each switcher holds before the first of its nights.
        there.setdefault(switcher, {one.typed for one in compiled.held.values()})
        wanted = {one.typed for one in plan.wanted.values()}
        different.setdefault(switcher, set()).update(wanted - there[switcher])
    least = sum(map(len, different.values()))
    yield (
        f"all {len(plans)} nights: {number_of(presets, 'preset')} to type, "
        f"{number_of(entries, 'entry', 'entries')}; no way has fewer than {least}, for so many "
        "different ones are asked for that are not there"
    )


def hurry_lines(compiled: Compiled, plan: Plan, hurry: Hurried, minutes: int) -> Iterator[str]:
    """Yield what to type within the time, and what to press instead of the rest."""
    night, rig = compiled.book.night.night, compiled.book.rig.rig or "this rig"
    yield (
        f"{night} on {rig} in {number_of(minutes, 'minute')}: {len(hurry.steps)} of "
        f"{number_of(len(plan.steps), 'preset')} to type, "
        f"{hurry.right} of {number_of(hurry.presses, 'press', 'presses')} of the night are right"
    )
    if not plan.steps and not plan.programs:
        yield "nothing to do"
        return
    yield from _programs(plan)
    if not plan.steps:
        return
    words = meanings(compiled)
    yield ""
    yield f"to type, about {number_of(-(-hurry.seconds // 60), 'minute')}"
    for step in hurry.steps:
        yield "  " + _step(compiled, step, words)
    if hurry.instead:
        yield ""
        yield "not typed; press instead (mind that it may be louder)"
    for one in hurry.instead:
        yield "  " + _instead(compiled, one, words)
    yield ""
    yield CAUTION


def _instead(compiled: Compiled, one: Instead, words: dict[bytes, str]) -> str:
    at = f"{show(compiled.book, one.address)} {one.wanted.name}"
    if one.press is None:
        return f"{at}: nothing that is known"
    differs = "; ".join(entry_in_words(entry, words) for entry in one.differs)
    press = show(compiled.book, one.press)
    return f"{at}: {press}" + (f", but for: {differs}" if differs else ", which sounds the same")


def hurry_json(compiled: Compiled, plan: Plan, hurry: Hurried) -> dict[str, object]:
    """Return the same as plain data."""
    words = meanings(compiled)
    return {
        "night": compiled.book.night.night,
        "state": plan.mark,
        "seconds": hurry.seconds,
        "programs": _programs_json(plan),
        "presses_right": hurry.right,
        "presses": hurry.presses,
        "changes": [_step_json(compiled, step, words) for step in hurry.steps],
        "instead": [
            {
                "at": show(compiled.book, one.address),
                "name": one.wanted.name,
                "press": None if one.press is None else show(compiled.book, one.press),
                "but_for": [entry_in_words(entry, words) for entry in one.differs],
            }
            for one in hurry.instead
        ],
    }


def _step_json(compiled: Compiled, step: Step, words: dict[bytes, str]) -> dict[str, object]:
    return {
        "at": show(compiled.book, step.address),
        "name": step.wanted.name,
        "copy": None if step.copy is None else show(compiled.book, step.copy),
        "from_nothing": begins_from_nothing(step),
        "entries": [entry_in_words(entry, words) for entry in step.entries],
    }


def _step(compiled: Compiled, step: Step, words: dict[bytes, str]) -> str:
    at = show(compiled.book, step.address)
    begin = ""
    if step.copy is not None:
        begin = f"copy {show(compiled.book, step.copy)}"
    elif begins_from_nothing(step):
        begin = "from nothing"
    what = [*([begin] if begin else []), *what_to_set(step, words)]
    return f"{at} {step.wanted.name}: {'; '.join(what)}"


def begins_from_nothing(step: Step) -> bool:
    """Tell whether a preset begins from nothing: as no copy, and not as what lies there."""
    return step.copy is None and not step.known


def what_to_set(step: Step, words: dict[bytes, str]) -> Iterator[str]:
    """Yield what is to be set in a preset once it has begun as it does; loops in one sentence."""
    yield from _together(step.entries, What.LOOP)
    yield from _together(step.entries, What.RELAY)
    for entry in step.entries:
        if entry.what not in (What.LOOP, What.RELAY):
            yield entry_in_words(entry, words)


def _together(entries: tuple[Entry, ...], what: What) -> Iterator[str]:
    """Yield loops, or relays, that are set alike, in one sentence."""
    for on in (True, False):
        numbers = [str(one.number) for one in entries if one.what is what and one.on is on]
        if numbers:
            plural = "s" if len(numbers) > 1 else ""
            yield f"{what}{plural} {', '.join(numbers)} {_state(what, on=on)}"


def _state(what: What, *, on: bool) -> str:
    words = ("out", "in") if what is What.LOOP else ("open", "closed")
    return words[on]


def entry_in_words(entry: Entry, words: dict[bytes, str]) -> str:
    """Return one entry as it is typed; ``words`` say what tonight's messages mean."""
    match entry.what:
        case What.LOOP | What.RELAY:
            return f"{entry.what} {entry.number} {_state(entry.what, on=entry.on)}"
        case What.MESSAGE if entry.old and entry.new:
            return f"{_message(entry.new, words)} in place of {_message(entry.old, words)}"
        case What.MESSAGE:
            return _message(entry.new, words) if entry.new else f"not {_message(entry.old, words)}"
        case What.TEMPO:
            return f"tempo {entry.text}" if entry.text else "no tempo"
        case What.NAME:
            return f"name {entry.text}"
        case _:
            return "the messages in the order of the preset sheet"


def _message(message: bytes, words: dict[bytes, str]) -> str:
    sent = " ".join(map(str, decode(message)))
    known = words.get(message)
    return sent if known is None else f"{known} = {sent}"


def _programs_json(plan: Plan) -> list[dict[str, str]]:
    return [{"unit": one.unit, "display": one.shown, "name": one.name} for one in plan.programs]


def plan_json(compiled: Compiled, plan: Plan) -> dict[str, object]:
    """Return a plan as plain data; ``changes`` is empty when nothing is to be typed."""
    words = meanings(compiled)
    return {
        "night": compiled.book.night.night,
        "rig": compiled.book.rig.rig,
        "switcher": compiled.book.switcher.switcher,
        "state": plan.mark,
        "presets": len(plan.wanted),
        "entries": plan.entries,
        "entries_from_nothing": plan.alone,
        "programs": _programs_json(plan),
        "changes": [_step_json(compiled, step, words) for step in plan.steps],
    }
