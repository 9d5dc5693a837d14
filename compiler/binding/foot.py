"""What the foot does beside pressing switches: foot-operated units, moment by moment.

Songs are walked in the order of the night. A unit has a home where it stands between songs: its
position at rest, else that at the start of the night. Where that one lets nothing through, it is
for the start of the night alone: nobody closes a pedal between songs and forgets it. Then, and
where neither is said, there is no home, and the unit stays as the song before left it.

Before a song the foot takes every unit home. Where a song follows straight on there is no time
between, so the move stands at its first press, or with its first note where nothing is pressed
there. From there the moments are walked: a move that the song writes, or that an effect needs, is
a move of the foot; where an effect no longer needs it, the unit goes home. What a scene that is
left out tonight would have moved is moved at the next moment that is played.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field
from typing import NamedTuple

from setwright.compiler.binding.states import ANYWHERE
from setwright.compiler.binding.target import NOTHING, Target
from setwright.scenes.finding import Finding, Related, Severity
from setwright.scenes.moments import Moment
from setwright.scenes.names import nearest, suggestion
from setwright.scenes.places import KeyPath
from setwright.scenes.quantities import quoted
from setwright.scenes.wording import number_of

AS_BEFORE = "as before"
"""Where a unit is put back to when what was before differs from gap to gap of the night."""


class FootMove(NamedTuple):
    """A unit that the foot brings into a position, at the moment at which it must."""

    unit: str
    position: str

    def __str__(self) -> str:
        return f"{self.unit} {self.position}"


class Stand(NamedTuple):
    """Where a unit stands, and the words that put it there (at their key, with ``at_key``)."""

    position: str
    path: KeyPath
    at_key: bool = False


class LostMove(NamedTuple):
    """A move of a scene that is left out tonight and that no later moment can make."""

    unit: str
    position: str
    scene: str
    path: KeyPath


Standing = dict[str, Stand]
"""Unit → where it stands; units of which nobody knows are not in it."""


class Walk(NamedTuple):
    """What the foot does in one song.

    ``moves`` are those at each moment, ``first`` those with the first note, where nothing is
    pressed there. ``stands`` holds, for each scene and unit, the positions in which the unit then
    stands, in the order of the moments and without repeats. ``standing`` is where units stand
    from the first note, and then from each moment. ``back`` are the moves that undo those of the
    song, to be made after its last note unless the next song follows straight on. ``lost`` are
    moves that nobody makes.
    """

    moves: tuple[tuple[FootMove, ...], ...]
    first: tuple[FootMove, ...]
    stands: dict[str, dict[str, list[str]]]
    standing: tuple[Standing, ...]
    back: tuple[FootMove, ...]
    lost: tuple[LostMove, ...]


@dataclass(slots=True)
class Feet:
    """Walks the songs of a night in their order and collects findings on the way.

    ``home`` holds where each foot-operated unit stands between songs, None where it stays as it
    was left. ``start`` is where it stands when the night begins, None where that is not said.
    """

    target: Target
    findings: list[Finding] = field(default_factory=list)
    home: dict[str, str | None] = field(default_factory=dict)
    start: dict[str, str | None] = field(default_factory=dict)
    _now: Standing = field(default_factory=dict)
    # What may stand elsewhere, since a scene that is pressed as one likes needs it there.
    _unsure: set[str] = field(default_factory=set)
    # Where everything stood between two songs of the sets, which is where requests are played.
    _gaps: list[Standing] = field(default_factory=list)
    _began: bool = False
    _unknown: dict[str, dict[KeyPath, str]] = field(default_factory=dict)
    _gone: dict[str, dict[KeyPath, None]] = field(default_factory=dict)

    def __post_init__(self) -> None:
        """Note where each unit stands when the night begins, and between songs."""
        for name, unit in self.target.units.items():
            if unit.by_foot and name not in self.target.gone:
                silent = unit.at_start in unit.silences
                self.home[name] = unit.at_rest or (None if silent else unit.at_start)
                self.start[name] = unit.at_start or unit.at_rest
                if unit.at_start is not None:
                    path: KeyPath = ("rig", "units", name, "at start")
                    self._now[name] = Stand(unit.at_start, path)

    def needed(self, effects: tuple[str, ...]) -> dict[str, str]:
        """Return the positions that ``effects`` need: unit → position."""
        return {
            demand.unit: str(demand.value)
            for effect in effects
            for demand in self.target.makes[effect]
            if demand.quantity == "foot"
        }

    def walk(
        self,
        moments: Iterable[Moment],
        effects: dict[str, tuple[str, ...]],
        left_out: frozenset[str] = frozenset(),
        *,
        straight: bool = False,
        request: bool = False,
    ) -> Walk:
        """Walk the next song of the night.

        ``moments`` are all that it has, ``effects`` what each of its scenes plays. It follows
        the one before without a pause where it is ``straight`` into; a ``request`` is played
        between any two songs.
        """
        moments = tuple(moments)
        self._begin(straight=straight, request=request)
        played = [moment for moment in moments if moment.scene not in left_out]
        at_once = bool(played) and not played[0].is_late
        first = () if at_once or not straight else self._homeward()
        began, standing = dict(self._now), [dict(self._now)]
        # What the song before moved goes home at the first press, as after an effect.
        by_effect = set(self.home) if straight and at_once else set()
        waiting: dict[str, LostMove] = {}
        moves: list[tuple[FootMove, ...]] = []
        stands: dict[str, dict[str, list[str]]] = {}
        for moment in moments:
            written = self.read(moment)
            if moment.scene in left_out:
                if written is not None:
                    path = (*moment.path, "foot")
                    waiting[written.unit] = LostMove(*written, moment.scene, path)
                continue
            needed = self.needed(effects.get(moment.scene, ()))
            moves.append(tuple(self._moves(moment, written, needed, waiting, by_effect)))
            waiting.clear()
            self._unsure.clear()
            standing.append(dict(self._now))
            for unit in self.home:
                seen = stands.setdefault(moment.scene, {}).setdefault(unit, [])
                position = self._position(unit) or ANYWHERE
                if position not in seen:
                    seen.append(position)
        lost = [one for one in waiting.values() if self._position(one.unit) != one.position]
        pressed = {moment.scene for moment in played}
        choices = {name: self.needed(own) for name, own in effects.items() if name not in pressed}
        # What the song moves by its own words stands anywhere when such a scene is pressed.
        moved = {
            unit
            for one in standing[1:]
            for unit, stand in one.items()
            if not stand.at_key and stand.position != self.home[unit]
        }
        for name in choices:
            stands[name] = {
                unit: [home]
                for unit, home in self.home.items()
                if home is not None and unit not in moved
            }
        back = self._back(list(choices.values()), began if request else None)
        return Walk(tuple(moves), first, stands, tuple(standing), back, tuple(lost))

    def _begin(self, *, straight: bool, request: bool) -> None:
        """Bring every unit to where the next song finds it."""
        if straight:
            return
        if self._began:
            self._gaps.append(dict(self._now))
        self._unsure.clear()
        for unit, home in self.home.items():
            if home is not None:
                self._now[unit] = Stand(home, self._said(unit))
            elif request and self._gaps:
                self._leave_between(unit)
        self._began = not request

    def _leave_between(self, unit: str) -> None:
        """Leave a unit without home where it stands in every gap of the night, if that is one."""
        found = [gap.get(unit) for gap in self._gaps]
        one = found[0]
        if one is not None and all(other and other.position == one.position for other in found):
            self._now[unit] = one
        else:
            self._now.pop(unit, None)

    def _homeward(self) -> tuple[FootMove, ...]:
        moves = []
        for unit, home in self.home.items():
            if home is not None and (unit in self._unsure or home != self._position(unit)):
                moves.append(FootMove(unit, home))
                self._now[unit] = Stand(home, self._said(unit))
        self._unsure.clear()
        return tuple(moves)

    def _moves(
        self,
        moment: Moment,
        written: FootMove | None,
        needed: dict[str, str],
        waiting: dict[str, LostMove],
        by_effect: set[str],
    ) -> Iterator[FootMove]:
        """Yield the moves at one moment; ``waiting`` are those of scenes that are left out."""
        for unit, home in self.home.items():
            stand = None
            if unit in needed:
                stand = Stand(needed[unit], moment.path, at_key=True)
            if written is not None and written.unit == unit:
                if stand is not None and stand.position != written.position:
                    self._clash(moment, written, stand.position)
                else:
                    stand = Stand(written.position, (*moment.path, "foot"))
                by_effect.discard(unit)
            elif stand is None and unit in waiting:
                stand = Stand(waiting[unit].position, waiting[unit].path)
                by_effect.discard(unit)
            elif stand is None and unit in by_effect:
                stand = None if home is None else Stand(home, self._said(unit))
                by_effect.discard(unit)
            if unit in needed:
                by_effect.add(unit)
            if stand is not None and (
                unit in self._unsure or stand.position != self._position(unit)
            ):
                yield FootMove(unit, stand.position)
                self._now[unit] = stand

    def _back(
        self, choices: list[dict[str, str]], request_from: Standing | None
    ) -> tuple[FootMove, ...]:
        """Return what undoes the moves of a song, ``choices`` being what its free scenes need."""
        back = []
        for unit, home in self.home.items():
            positions = {one[unit] for one in choices if unit in one} | {self._position(unit)}
            if len(positions) > 1:
                self._unsure.add(unit)
            if home is not None:
                if positions != {home}:
                    back.append(FootMove(unit, home))
                continue
            if len(positions) > 1:
                self._now.pop(unit, None)
            if request_from is not None:
                before = request_from.get(unit)
                if positions != {None if before is None else before.position}:
                    back.append(FootMove(unit, before.position if before else AS_BEFORE))
        return tuple(back)

    def _position(self, unit: str) -> str | None:
        stand = self._now.get(unit)
        return None if stand is None else stand.position

    def _said(self, unit: str) -> KeyPath:
        """Return where the rig says the home of a unit, or where it stands at the start."""
        key = "at rest" if self.target.units[unit].at_rest is not None else "at start"
        return ("rig", "units", unit, key)

    def read(self, moment: Moment) -> FootMove | None:
        """Read what a moment says of the foot: ``swell open``."""
        text, path = moment.foot, (*moment.path, "foot")
        if not text:
            return None
        book = self.target.book
        excused = any(
            NOTHING in choices and (text == name or text.startswith(f"{name} "))
            for name, choices in book.rig.instead_of.items()
        )
        units = {name: unit for name, unit in self.target.units.items() if unit.by_foot}
        for name in sorted(units, key=len, reverse=True):
            if text == name or text.startswith(f"{name} "):
                position = text[len(name) :].strip()
                if name in self.target.gone:
                    if not excused:
                        self._gone.setdefault(name, {})[path] = None
                    return None
                if position in units[name].by_foot:
                    return FootMove(name, position)
                sends = units[name].foot_sends
                if sends is not None and position in sends.values:
                    return None  # it is a slip in the rig, and found there
                self._error(
                    "unknown-state",
                    f"{quoted(name)} has no position {quoted(position)}",
                    path,
                    suggestion(position, units[name].by_foot, ""),
                )
                return None
        broken = any(path[:2] == ("rig", "units") for path in book.broken) or any(
            # A pedal without positions has been found where it is declared.
            unit.foot_sends is not None and (text == name or text.startswith(f"{name} "))
            for name, unit in self.target.units.items()
        )
        if not excused and not broken:
            self._unknown_unit(text, path)
        return None

    def done(self) -> list[Finding]:
        """Return everything found, once all songs have been walked."""
        return [
            *self.findings,
            *(self._missing(*item) for item in self._unknown.items()),
            *(self._idle(*item) for item in self._gone.items()),
        ]

    def _idle(self, unit: str, said: Iterable[KeyPath]) -> Finding:
        """Return the one note on a unit that is left out tonight and that songs tell to move."""
        book = self.target.book
        places = list(dict.fromkeys(map(book.place, said)))
        return Finding(
            "foot-without-unit",
            Severity.NOTE,
            f"without {quoted(unit)} the foot has nothing to do in "
            f"{number_of(len(places), 'moment')} of tonight's songs",
            book.place_of_key(("rig", "units", unit)),
            "leave it so, if they sound right without it tonight",
            tuple(Related("the foot was to move it here", place) for place in places[:3]),
        )

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
