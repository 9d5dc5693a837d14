"""The step that a person means who types a few letters: a number, part of a title, a scene."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence

from setwright.compiler.reports.find import as_printed
from setwright.compiler.sending.rehearsing.steps import Step
from setwright.scenes.names import suggestion
from setwright.scenes.quantities import quoted

FEW = 4
"""Titles that are listed where several are meant."""

Fits = Callable[[str, str], bool]

_HOW: tuple[Fits, ...] = (
    lambda name, typed: name == typed,
    lambda name, typed: name.startswith(typed),
    lambda name, typed: typed in name,
)


def whereto(steps: Sequence[Step], typed: str, at: int | None) -> int | str:
    """Return the index of the step that ``typed`` means, or a sentence that says why there is none.

    A number is a song's number tonight; ``7 Lift`` or ``TITLE / Lift`` a scene of a song; else it
    is a scene of the song at ``at``, a song's title or a part of it, or a scene of another song.
    """
    text = as_printed(typed).casefold()
    if not text:
        return "type a song's number, a part of its title, or a scene"
    here = [] if at is None else [one for one in steps if one.playing == steps[at].playing]
    if text.isdecimal():
        numbered = [one for one in steps if one.title.startswith(f"{int(text)}. ")]
        return numbered[0].at if numbered else f"there is no song {text} tonight"
    for head, tail in _splits(text):
        song = _one_song(steps, head)
        if isinstance(song, list) and (found := _scene(song, tail)) is not None:
            return found.at
    if (scene := _scene(here, text, _HOW[:1])) is not None:
        return scene.at
    songs = _one_song(steps, text)
    if isinstance(songs, list):
        return songs[0].at
    found = _scene(here, text) or _scene(steps, text)
    if found is not None:
        return found.at
    return songs or f"nothing tonight is called {quoted(typed)}: " + suggestion(
        typed, [*dict.fromkeys(_bare(one) for one in steps)], "there are no songs"
    )


def _splits(text: str) -> Iterable[tuple[str, str]]:
    """Yield what may be a song and what may be its scene."""
    for at, sign in enumerate(text):
        if sign in "/ ":
            head, tail = text[:at].strip(" /."), text[at + 1 :].strip(" /.")
            if head and tail and (sign == "/" or head.isdecimal()):
                yield head, tail


def _bare(step: Step) -> str:
    """Return the title without its number."""
    number, dot, title = step.title.partition(". ")
    return title if dot and number.isdecimal() else step.title


def _one_song(steps: Sequence[Step], text: str) -> list[Step] | str:
    """Return the steps of the song that is meant; a sentence where several are, or empty."""
    if text.isdecimal():
        return [one for one in steps if one.title.startswith(f"{int(text)}. ")] or ""
    for fits in _HOW:
        met = [one for one in steps if fits(as_printed(_bare(one)).casefold(), text)]
        titles = list(dict.fromkeys(_bare(one) for one in met))
        if len(titles) == 1:
            # Of a song that is played again it is the first time.
            return [one for one in met if one.playing == met[0].playing]
        if titles:
            more = ", …" if len(titles) > FEW else ""
            return f"several are called so: {', '.join(titles[:FEW])}{more}"
    return ""


def _scene(steps: Sequence[Step], text: str, how: Sequence[Fits] = _HOW) -> Step | None:
    for fits in how:
        for one in steps:
            if one.scene and fits(as_printed(one.scene).casefold(), text):
                return one
    return None
