"""What is wrong with the names on the left of a rig's ``instead of:``, and with circles in it.

Knows of the rig only which effects it makes. A name that no song of this book asks for is no
fault by itself, for a rig serves other books too; a misspelt one is, and so are effects that
only stand in for one another.
"""

from __future__ import annotations

from collections.abc import Collection, Iterator

from setwright.scenes.book import Book
from setwright.scenes.finding import Finding, Related, Severity
from setwright.scenes.names import nearest
from setwright.scenes.quantities import quoted

NOTHING = "nothing"
"""What ``instead of:`` says where a scene can do without the effect."""

ALIKE = 0.8
"""How like two names must be (difflib's ratio) to be one, misspelt, where both may be right:
``slap echo`` and ``long echo`` are at 0.67, ``tremlo`` and ``tremolo`` at 0.92."""

MANY = 8
"""Effects of a circle that are shown; a longer one is cut short."""


def stand_ins(book: Book, made: Collection[str]) -> tuple[list[Finding], set[str]]:
    """Return what is wrong under ``instead of:``, and the effects that cannot be made by it.

    ``made`` are the effects that the rig makes, or would make if all were well with it.
    """
    import difflib  # a rig without stand-ins needs none of it

    choices = book.rig.instead_of
    alive = _alive(choices, {NOTHING, *made})
    wanted = asked(book)
    findings: list[Finding] = []
    blamed: set[str] = set()
    known = {*made, *wanted, *_on_the_right(choices)}
    helpless = wanted - alive - choices.keys()
    for name in choices:
        if name in known or _is_for_a_foot(book, name):
            continue
        meant = nearest(name, helpless)
        if meant is not None:
            blamed.add(meant)
            findings.append(_misspelt(book, name, meant, needed=True))
        elif near := difflib.get_close_matches(name, known - {NOTHING}, n=1, cutoff=ALIKE):
            findings.append(_misspelt(book, name, near[0], needed=False))
    for circle in _circles(choices, alive):
        blamed.update(circle)
        findings.append(_in_circle(book, circle))
    return findings, blamed | {name for name in choices if name not in alive}


def _alive(choices: dict[str, list[str]], good: set[str]) -> set[str]:
    """Return the names that lead to a good one, or to one that nobody knows, which is found."""
    leads_here: dict[str, list[str]] = {}
    for name, others in choices.items():
        for other in others:
            leads_here.setdefault(other, []).append(name)
    alive = {*good, *(name for name in leads_here if name not in choices)}
    waiting = list(alive)
    while waiting:
        for name in leads_here.get(waiting.pop(), ()):
            if name not in alive:
                alive.add(name)
                waiting.append(name)
    return alive


def _circles(choices: dict[str, list[str]], alive: set[str]) -> Iterator[list[str]]:
    """Yield each circle among the names that lead nowhere, and names that lead to themselves."""
    done: set[str] = set()
    for start in choices:
        if start in choices[start] and (start in alive or choices[start] == [start]):
            done.add(start)
            yield [start]
        way: dict[str, None] = {}
        name = start
        # What is not alive has choices, and none of them is alive.
        while name not in alive and name not in done and name not in way:
            way[name] = None
            name = choices[name][0]
        if name in way:
            names = list(way)
            yield names[names.index(name) :]
        done.update(way)


def asked(book: Book) -> set[str]:
    """Return every effect that the book asks for, in whichever song."""
    scenes = [scene for song in book.songs for scene in song.scenes.values()]
    scenes += book.rig.general.values()
    if book.rig.switcher is not None:
        kept = [one.scene for one in book.rig.switcher.every_bank.values()]
        scenes += [scene for scene in kept if scene is not None]
    wanted = {effect for sound in book.song_book.sounds.values() for effect in sound.effects}
    for scene in scenes:
        wanted.update(scene.effects or (), scene.add)
    return wanted


def _on_the_right(choices: dict[str, list[str]]) -> Iterator[str]:
    for others in choices.values():
        yield from others


def _is_for_a_foot(book: Book, name: str) -> bool:
    """Tell whether a foot works something of that name, here or where songs ask for it."""
    if name in book.rig.units:
        return True
    texts = (
        step.foot or "" for song in book.songs for item in song.order for step in item.values()
    )
    return any(text == name or text.startswith(f"{name} ") for text in texts)


def _misspelt(book: Book, name: str, meant: str, *, needed: bool) -> Finding:
    message = f"nothing asks for {quoted(name)}, and no effect is called so"
    place, way_out = (
        book.place_of_key(("rig", "instead of", name)),
        f"did you mean {quoted(meant)}?",
    )
    if needed:
        return Finding("unknown-effect", Severity.ERROR, message, place, way_out)
    return Finding("stand-in-for-nothing", Severity.WARNING, message, place, way_out)


def _in_circle(book: Book, circle: list[str]) -> Finding:
    path = ("rig", "instead of")
    if len(circle) == 1:
        message = f"{quoted(circle[0])} is to stand in for itself"
    else:
        more = [f"… ({len(circle)} effects)"] if len(circle) > MANY else []
        way = " → ".join([*circle[:MANY], *more, circle[0]])
        message = f"these only stand in for one another: {way}"
    return Finding(
        "instead-of-in-circle",
        Severity.ERROR,
        message,
        book.place_of_key((*path, circle[0])),
        "let one of them lead to an effect that this rig makes, or to nothing",
        tuple(Related("and here", book.place_of_key((*path, name))) for name in circle[1:4]),
    )
