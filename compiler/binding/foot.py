"""What the foot does beside pressing switches: foot-operated units, moment by moment.

Before each song every such unit is taken back to its position at rest (or at the start of the
night, where it has none). From there the moments of a song are walked: a move that the song
writes, or that an effect needs, is a move of the foot; where an effect no longer needs it, the
unit goes back to rest.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import NamedTuple

from setwright.compiler.binding.target import NOTHING, Target
from setwright.scenes.finding import Finding, Related, Severity
from setwright.scenes.moments import Moment
from setwright.scenes.names import nearest, suggestion
from setwright.scenes.places import KeyPath
from setwright.scenes.quantities import quoted


class FootMove(NamedTuple):
    """A unit that the foot brings into a position, at the moment at which it must."""

    unit: str
    position: str

    def __str__(self) -> str:
        return f"{self.unit} {self.position}"


@dataclass(slots=True)
class Feet:
    """Walks songs and collects findings on the way.

    ``at_rest`` holds where each foot-operated unit stands before a song, None where that is
    not said.
    """

    target: Target
    findings: list[Finding] = field(default_factory=list)
    at_rest: dict[str, str | None] = field(default_factory=dict)
    _unknown: dict[str, dict[KeyPath, str]] = field(default_factory=dict)

    def __post_init__(self) -> None:
        """Note where each unit stands before a song."""
        for name, unit in self.target.units.items():
            if unit.by_foot and name not in self.target.gone:
                self.at_rest[name] = unit.at_rest or unit.at_start

    def needed(self, effects: tuple[str, ...]) -> dict[str, str]:
        """Return the positions that ``effects`` need: unit → position."""
        return {
            demand.unit: str(demand.value)
            for effect in effects
            for demand in self.target.makes[effect]
            if demand.quantity == "foot"
        }

    def walk(
        self, moments: tuple[Moment, ...], effects: dict[str, tuple[str, ...]]
    ) -> tuple[tuple[tuple[FootMove, ...], ...], dict[str, dict[str, list[str]]]]:
        """Walk one song.

        ``effects`` holds what each scene plays. Returns the moves at each moment, and for each
        scene and unit the positions in which the unit then stands, in the order of the moments
        and without repeats.
        """
        now = dict(self.at_rest)
        by_effect: set[str] = set()
        moves: list[tuple[FootMove, ...]] = []
        stands: dict[str, dict[str, list[str]]] = {}
        for moment in moments:
            written = self.read(moment)
            needed = self.needed(effects.get(moment.scene, ()))
            here: list[FootMove] = []
            for unit in self.at_rest:
                position = needed.get(unit)
                if written is not None and written.unit == unit:
                    if position is not None and position != written.position:
                        self._clash(moment, written, position)
                    position = position or written.position
                    by_effect.discard(unit)
                elif position is None and unit in by_effect:
                    position = self.at_rest[unit]
                    by_effect.discard(unit)
                if unit in needed:
                    by_effect.add(unit)
                if position is not None and position != now[unit]:
                    here.append(FootMove(unit, position))
                    now[unit] = position
            moves.append(tuple(here))
            for unit, position in now.items():
                seen = stands.setdefault(moment.scene, {}).setdefault(unit, [])
                if position is not None and position not in seen:
                    seen.append(position)
        return tuple(moves), stands

    def read(self, moment: Moment) -> FootMove | None:
        """Read what a moment says of the foot: ``swell open``."""
        text, path = moment.foot, (*moment.path, "foot")
        if not text:
            return None
        book = self.target.book
        units = {name: unit for name, unit in self.target.units.items() if unit.by_foot}
        for name in sorted(units, key=len, reverse=True):
            if text == name or text.startswith(f"{name} "):
                position = text[len(name) :].strip()
                if name in self.target.gone:
                    return None
                if position in units[name].by_foot:
                    return FootMove(name, position)
                self._error(
                    "unknown-state",
                    f"{quoted(name)} has no position {quoted(position)}",
                    path,
                    suggestion(position, units[name].by_foot, ""),
                )
                return None
        excused = any(
            NOTHING in choices and (text == name or text.startswith(f"{name} "))
            for name, choices in book.rig.instead_of.items()
        )
        broken = any(path[:2] == ("rig", "units") for path in book.broken)
        if not excused and not broken:
            self._unknown_unit(text, path)
        return None

    def done(self) -> list[Finding]:
        """Return everything found, once all songs have been walked."""
        return [*self.findings, *(self._missing(*item) for item in self._unknown.items())]

    def _unknown_unit(self, text: str, path: KeyPath) -> None:
        self._unknown.setdefault(text.split()[0], {})[path] = text

    def _missing(self, first: str, said: dict[KeyPath, str]) -> Finding:
        """Return the one finding about a unit that the foot is to work, wherever it is named.

        Where its name ends and a position begins nobody knows, so the first word has to do.
        """
        book = self.target.book
        units = [name for name, unit in self.target.units.items() if unit.by_foot]
        places = list(dict.fromkeys(map(book.place, said)))
        texts = set(said.values())
        whole = len(texts) == 1 and not nearest(first, units)
        do_without = (
            f"declare it with by foot:; or, if this rig does without, write "
            f"instead of: {{{first}: nothing}} in the rig"
        )
        return Finding(
            "unknown-unit",
            Severity.ERROR,
            f"this rig has nothing called {quoted(texts.pop() if whole else first)} "
            "that a foot works" + (f" ({len(places)} times)" if len(places) > 1 else ""),
            places[0],
            suggestion(first, units, do_without)
            if nearest(first, units) or not units
            else f"{do_without} ({suggestion(first, units, '')})",
            tuple(Related("asked for here too", place) for place in places[1:4]),
        )

    def _clash(self, moment: Moment, written: FootMove, position: str) -> None:
        book = self.target.book
        self.findings.append(
            Finding(
                "foot-clash",
                Severity.ERROR,
                f"here the foot is to bring {quoted(written.unit)} to {written.position}, but "
                f"an effect of {quoted(moment.scene)} needs it at {position}",
                book.place((*moment.path, "foot")),
                "delete the move, or take the effect out of the scene",
                (Related("the scene", book.place_of_key(moment.path)),),
            )
        )

    def _error(self, code: str, message: str, path: KeyPath, way_out: str) -> None:
        place = self.target.book.place(path)
        self.findings.append(Finding(code, Severity.ERROR, message, place, way_out))
