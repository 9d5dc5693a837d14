"""Looking names up, and helping where a name is not found.

`Names` collects what is defined and what is asked for, and turns every mismatch into one
finding: a name asked for in thirty places is one slip, and where a name was defined but is
never used while its neighbour is asked for, the slip is in the definition.
"""

from __future__ import annotations

import difflib
import re
from collections import Counter
from collections.abc import Iterable
from dataclasses import dataclass, field

from setwright.scenes.finding import Finding, Place, Related, Severity
from setwright.scenes.places import KeyPath, Spot
from setwright.scenes.quantities import quoted


def nearest(name: str, known: Iterable[str]) -> str | None:
    """Return the one of ``known`` that is most like ``name``, or None if none is near."""
    choices = {choice.casefold(): choice for choice in known}
    wanted = name.casefold()
    if wanted in choices:
        return choices[wanted]
    found = difflib.get_close_matches(wanted, choices, n=1, cutoff=0.6)
    return choices[found[0]] if found else None


def suggestion(name: str, known: Iterable[str], none_defined: str) -> str:
    """Return the help for an unknown ``name``: the nearest first, then what else there is."""
    names = list(dict.fromkeys(known))
    if not names:
        return none_defined
    near = nearest(name, names)
    rest = [other for other in names if other != near]
    shown = ", ".join(rest[:8]) + (f" and {len(rest) - 8} more" if len(rest) > 8 else "")
    if near is None:
        return f"known here: {shown}"
    return f"did you mean {quoted(near)}?" + (f" Known too: {shown}" if rest else "")


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

    def define(self, name: str, place: Place | None = None) -> None:
        """Note that ``name`` exists, at ``place``."""
        self.defined.setdefault(name, place)

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
            near = nearest(name, self.defined)
            if near is None and hold_back:
                continue
            result.append(
                self._at_the_definition(name, near, places)
                or Finding(
                    self.code,
                    Severity.ERROR,
                    f"there is no {self.kind} {quoted(name)}{where}{_times(places)}",
                    places[0],
                    suggestion(name, self.defined, self.none_defined),
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
