"""What an audit says at its beginning, in between when it is asked, and at its end."""

from __future__ import annotations

from collections.abc import Iterator

from setwright.compiler.compiled import Compiled
from setwright.compiler.mark import mark_of
from setwright.compiler.sending.auditing.audit import Audit, Judged, Verdict
from setwright.compiler.sending.incoming.heard_preset import in_words
from setwright.scenes.rig import kept_names
from setwright.scenes.wording import number_of

CAUTION = (
    "caution: a preset can be much louder than the one before it; "
    "turn the amplifiers down first, and wear no headphones"
)
HELP = "a choice's number or BANK/SWITCH says which switch it was; list: what is left; quit: report"


def head(compiled: Compiled, audit: Audit, port: str) -> Iterator[str]:
    """Yield what the player has to know before the first press."""
    night, rig = compiled.book.night.night, compiled.book.rig.rig or "this rig"
    count = number_of(audit.audible, "preset")
    yield f"{night} on {rig}, state {mark_of(compiled)}: {count} to press, heard at ‘{port}’"
    first = next(one for one in audit.presets if one.commands)
    yield f"press them in the order of banks and switches, from {first.label} on; or as you like"
    yield from _kept(compiled)
    yield from _not_heard(audit)
    yield f"type at any time: {HELP}"


def _kept(compiled: Compiled) -> Iterator[str]:
    """Yield the switches that are kept in every bank, where nobody says what they hold."""
    use, kept = compiled.book.rig.switcher, compiled.kept
    known = kept.scenes if kept is not None else {}
    names = kept_names(use) if use is not None else {}
    unknown = [f"{key} ({name})" for key, name in names.items() if name not in known]
    if unknown:
        yield f"leave out {', '.join(unknown)}: the rig does not say what is sent there"


def _not_heard(audit: Audit) -> Iterator[str]:
    """Yield what no cable tells."""
    yield f"messages alone are heard: {_silent(audit)} are not"
    deaf = audit.having(Verdict.NOT_HEARD)
    if deaf:
        yield f"cannot be heard, for nothing is sent: {_labels(deaf)}"


def _silent(audit: Audit) -> str:
    """Return what presets hold that nobody hears."""
    words = " ".join(word for one in audit.presets for word in one.silently)
    kinds = [f"{noun}s" for noun in ("loop", "relay") if noun in words]
    return ", ".join([*kinds, *(["tempos"] if "tempo" in words else [])]) + (
        " and names" if kinds or "tempo" in words else "the names of presets"
    )


def left(audit: Audit) -> Iterator[str]:
    """Yield what is left to do."""
    for verdict in (Verdict.DIFFERS, Verdict.DOUBTED, Verdict.NOT_PRESSED):
        found = audit.having(verdict)
        if found:
            yield f"{verdict} ({len(found)}): {_labels(found)}"
    if audit.complete:
        yield "nothing is left"


def report(compiled: Compiled, audit: Audit) -> Iterator[str]:
    """Yield what came out."""
    right = len(audit.proven)
    yield f"{right} of {number_of(audit.audible, 'preset')} ticked: what they send is right"
    differ = audit.having(Verdict.DIFFERS)
    if differ:
        yield f"differ ({len(differ)}): mend them and press them again"
    for one in differ:
        yield f"  {one.preset.label}"
        yield from (f"    {in_words(each, audit.tonight.programs)}" for each in one.differences)
        held = compiled.held.get(one.preset.address)
        if held is not None and held.typed.messages == one.preset.messages:
            yield f"    {_noted_in(compiled)} says that it is right, which it is not"
    doubted = audit.having(Verdict.DOUBTED)
    if doubted:
        yield (
            f"in doubt ({len(doubted)}), for they were heard just where others were due: press "
            f"each once more, between its neighbours: {_labels(doubted)}"
        )
    waiting = audit.having(Verdict.NOT_PRESSED)
    if waiting:
        yield f"not pressed ({len(waiting)}): {_labels(waiting)}"
    yield from _not_heard(audit)


def _noted_in(compiled: Compiled) -> str:
    at = compiled.book.stored_at
    return at.name if at is not None else "what is noted"


FEW = 8


def _labels(judged: tuple[Judged, ...]) -> str:
    """Return presets in a row; of many, bank and switch alone."""
    few = len(judged) <= FEW
    return ", ".join(one.preset.label if few else one.preset.shown for one in judged)
