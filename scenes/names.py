"""Looking names up, and helping where a name is not found.

`Names` collects what is defined and what is asked for, and turns every mismatch into one
finding: a name asked for in thirty places is one slip, and where a name was defined but is
never used while its neighbour is asked for, the slip is in the definition.
"""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Iterable
from dataclasses import dataclass, field
from itertools import islice

from setwright.scenes.finding import Finding, Place, Related, Severity
from setwright.scenes.places import KeyPath, Spot
from setwright.scenes.quantities import quoted

ALIKE = 0.6
"""How like two names must be for the one to be taken for the other, 0 to 1."""
TRIED = 64
"""Of so many names all are compared with one that is not found."""
RAREST, LIKELIEST = 12, 8
"""Of more than that, only the few are compared that share most of its rarest pieces."""


class Nearest:
    """Finds the name that is most like another, at a cost that does not grow with the names.

    Of up to `TRIED` names it compares all. Of more it compares the few that share the rarest
    pieces, two or three letters long, with the name that is not found, as a misspelt one does.
    """

    def __init__(self, known: Iterable[str]) -> None:
        self._choices = {choice.casefold(): choice for choice in known}
        self._pieces: dict[str, list[str]] | None = None
        self._found: dict[str, str | None] = {}

    def to(self, name: str) -> str | None:
        """Return the one of the names that is most like ``name``, or None if none is near."""
        wanted = name.casefold()
        if wanted in self._choices:
            return self._choices[wanted]
        if wanted not in self._found:
            import difflib  # a book without a slip needs none of it

            near = difflib.get_close_matches(wanted, self._likely(wanted), n=1, cutoff=ALIKE)
            self._found[wanted] = self._choices[near[0]] if near else None
        return self._found[wanted]

    def _likely(self, wanted: str) -> Iterable[str]:
        if len(self._choices) <= TRIED:
            return self._choices
        if self._pieces is None:
            self._pieces = {}
            for choice in self._choices:
                for piece in _pieces(choice):
                    self._pieces.setdefault(piece, []).append(choice)
        rows = (self._pieces.get(piece, ()) for piece in _pieces(wanted))
        rarest = sorted((row for row in rows if row), key=len)[:RAREST]
        shared = Counter(choice for row in rarest for choice in row[:TRIED])
        return [choice for choice, _ in shared.most_common(LIKELIEST)]


def _pieces(name: str) -> dict[str, None]:
    """Return each two and each three neighbouring signs in the first 200 of ``name``."""
    framed = f"^{name[:200]}$"
    return dict.fromkeys(
        framed[at : at + length] for length in (2, 3) for at in range(len(framed) - length + 1)
    )


def nearest(name: str, known: Iterable[str]) -> str | None:
    """Return the one of ``known`` that is most like ``name``, or None if none is near."""
    return Nearest(known).to(name)


LISTED = 8
"""How many names a suggestion lists besides the nearest."""


def suggestion(
    name: str,
    known: Iterable[str],
    none_defined: str,
    near: Nearest | None = None,
    *,
    listed: int = LISTED,
) -> str:
    """Return the help for an unknown ``name``: the nearest first, then what else there is.

    ``near`` is there for those who ask about the same names again and again; ``listed`` is how
    many of the others are named.
    """
    names = known if isinstance(known, dict) else dict.fromkeys(known)
    if not names:
        return none_defined
    first = (near or Nearest(names)).to(name)
    others = (other for other in names if other != first)
    shown = ", ".join(islice(others, listed))
    rest = len(names) - (first in names)
    if rest > listed:
        shown += f" and {rest - listed} more"
    if first is None:
        return f"known here: {shown}"
    return f"did you mean {quoted(first)}?" + (f" Known too: {shown}" if rest else "")


@dataclass(slots=True)
class Names:
    """One kind of name: what is defined, and who asks for what.

    ``kind`` is the word in sentences, for example ``effect``; ``none_defined`` is the help
    where there is nothing to choose from, ``spot`` the place table of the book.
    """

    kind: str
    code: str
    none_defined: str
    spot: Spot
    defined: dict[str, Place | None] = field(default_factory=dict)
    used: set[str] = field(default_factory=set)
    missing: dict[str, list[Place]] = field(default_factory=dict)
    usual: Counter[str] = field(default_factory=Counter)
    """How often each name is defined in the whole book, where names of this kind repeat."""
    _near: Nearest | None = None

    def define(self, name: str, place: Place | None = None) -> None:
        """Note that ``name`` exists, at ``place``."""
        self.defined.setdefault(name, place)
        self._near = None

    def nearest(self, name: str) -> str | None:
        """Return the defined name that is most like ``name``, or None if none is near."""
        return self._known().to(name)

    def _known(self) -> Nearest:
        if self._near is None:
            self._near = Nearest(self.defined)
        return self._near

    def find(self, name: str, path: KeyPath, *, key: bool = False) -> bool:
        """Note that ``name`` is asked for at ``path``; tell whether it exists.

        With ``key`` the name is itself the key at the end of the path.
        """
        if name in self.defined:
            self.used.add(name)
            return True
        self.missing.setdefault(name, []).append(
            (self.spot.find_key if key else self.spot.find)(path)
        )
        return False

    def findings(self, where: str = "", *, hold_back: bool = False) -> list[Finding]:
        """Return one finding for each name that was asked for and does not exist.

        ``where`` ends the sentence, for example ``on this rig``. With ``hold_back`` names that
        are like no other are left for the next run: the file where they should be defined has
        a slip of its own, which may well have hidden them.
        """
        result = []
        for name, found in self.missing.items():
            places = list(dict.fromkeys(found))
            near = self.nearest(name)
            if near is None and hold_back:
                continue
            result.append(
                self._at_the_definition(name, near, places)
                or Finding(
                    self.code,
                    Severity.ERROR,
                    f"there is no {self.kind} {quoted(name)}{where}{_times(places)}",
                    places[0],
                    suggestion(name, self.defined, self.none_defined, self._known()),
                    (
                        *(Related("asked for here too", place) for place in places[1:4]),
                        *self._idle(near),
                    ),
                )
            )
        return result

    def _idle(self, near: str | None) -> tuple[Related, ...]:
        """Show the definition that nobody uses, for the slip may as well be there."""
        at = self.defined.get(near) if near is not None and near not in self.used else None
        return (Related(f"nothing asks for this {self.kind}", at),) if at is not None else ()

    def _at_the_definition(
        self, name: str, near: str | None, places: list[Place]
    ) -> Finding | None:
        """Return the finding if the slip is in the definition.

        It is, where nobody uses the definition, and ``name``, so like it, is asked for more
        than once or looks more like a name.
        """
        at = self.defined.get(near) if near is not None else None
        if near is None or at is None or near in self.used:
            return None
        # The definition itself is counted once.
        known_elsewhere = self.usual[name] > max(0, self.usual[near] - 1)
        if len(places) == 1 and not known_elsewhere and _odd_signs(near) <= _odd_signs(name):
            return None
        return Finding(
            self.code,
            Severity.ERROR,
            f"nothing asks for the {self.kind} {quoted(near)}, but "
            f"{quoted(name)} is asked for{_times(places)}",
            at,
            f"write {quoted(name)} here, or {quoted(near)} there",
            tuple(Related("asked for here", place) for place in places[:4]),
        )


def _times(places: list[Place]) -> str:
    return f" ({len(places)} times)" if len(places) > 1 else ""


def _odd_signs(name: str) -> int:
    """Count what fingers leave in a name by mistake: signs, and digits within words."""
    return len(re.findall(r"[^\w\s'’]|\d(?=[^\W\d])|(?<=[^\W\d])\d|(?<=[a-z])[A-Z]", name))
