"""What songs ask for and this rig cannot make, and which songs suffer for it tonight."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field

from setwright.compiler.binding.target import NOTHING, Target
from setwright.scenes.finding import Finding, Related, Severity, Table
from setwright.scenes.names import Names, nearest
from setwright.scenes.places import KeyPath, end_of
from setwright.scenes.quantities import quoted
from setwright.scenes.resolve import ResolvedScene
from setwright.scenes.songs import Song
from setwright.scenes.wording import number_of

MANY = 3
"""So many effects that a rig lacks are one slip: its list is not whole."""


@dataclass(slots=True)
class Lacking:
    """Looks effects up, notes which songs suffer, and says both when all songs are bound.

    ``effects`` are the names of the rig's effects; ``instead`` says what is played for those that
    are missing tonight: effect → stand-in → song (its identity) → scenes. ``lost`` are those for
    which nothing is: song → lines, in the order of the scenes → effect.
    """

    target: Target
    effects: Names = field(init=False)
    instead: dict[str, dict[str, dict[str, dict[str, None]]]] = field(default_factory=dict)
    lost: dict[str, dict[str, str]] = field(default_factory=dict)

    def __post_init__(self) -> None:
        """Note which effects there are."""
        book = self.target.book
        self.effects = Names("effect", "unknown-effect", "write it under effects:", book.spot)
        for name in (*self.target.makes, *self.target.lost):
            self.effects.define(name, book.place_of_key(("rig", "effects", name)))

    def findings(self) -> list[Finding]:
        """Return everything found, once all songs have been bound."""
        return [*self._unknown_effects(), *self._suffering(), *self._stand_ins()]

    def is_loss(self, effect: str) -> bool:
        """Tell whether ``effect`` is replaced only because a unit is left out tonight."""
        return bool(self.target.gone) and effect in self.target.lost

    def suffer(self, song: Song, scene: ResolvedScene, effect: str, stand_in: str) -> None:
        """Note that a scene of ``song`` has to do without ``effect``."""
        if stand_in:
            songs = self.instead.setdefault(effect, {}).setdefault(stand_in, {})
            songs.setdefault(song.identity, {})[scene.name] = None
        else:
            lines = self.lost.setdefault(song.identity, {})
            lines[f"{scene.name}: {effect} is lost"] = effect

    def _unknown_effects(self) -> list[Finding]:
        """Return what songs ask for and this rig cannot make.

        Where the rig has slips of its own, or makes nothing at all, that is one finding.
        """
        book, names, target = self.target.book, self.effects, self.target
        if book.is_broken(("rig", "effects")):
            return []
        misspelt = []
        for choice, path in target.choices:
            if nearest(choice, names.defined) is None and nearest(choice, [NOTHING]):
                misspelt.append(self._meant_nothing(choice, path))
            else:
                names.find(choice, path)
        for path in book.broken:
            names.missing.pop(str(path[-1]), None)
        if len(names.missing) >= MANY:
            many = [] if "rig" in book.faulty else [self._many_unknown(names)]
            return misspelt + many
        together = [self._only_together(name) for name in list(names.missing)]
        sounds = [name for name in names.missing if name in book.song_book.sounds]
        misplaced = [
            Finding(
                names.code,
                Severity.ERROR,
                f"{quoted(name)} is a sound, and effects are listed here",
                place,
                f"begin the scene with sound: {name}, and put what comes besides under add:",
            )
            for name in sounds
            for place in dict.fromkeys(names.missing.pop(name))
        ]
        found = names.findings(" on this rig", hold_back="rig" in book.faulty)
        return (
            misspelt
            + [one for one in together if one is not None]
            + misplaced
            + [
                one._replace(
                    help=f"{one.help}; or let the rig say instead of:, and what may stand in"
                )
                for one in found
            ]
        )

    def _only_together(self, name: str) -> Finding | None:
        """Take an effect that is only made together with others out of what is missing; say so."""
        made = [one for one in self.target.combined if name in one.members]
        if not made:
            return None
        first, *others = dict.fromkeys(self.effects.missing.pop(name))
        besides = " and ".join(map(quoted, (one for one in made[0].members if one != name)))
        return Finding(
            self.effects.code,
            Severity.ERROR,
            f"this rig makes {quoted(name)} only together with {besides}",
            first,
            f"write under effects: how it makes {name} alone, ask for {besides} too, or let the "
            "rig say instead of:, and what may stand in",
            tuple(Related("and here", place) for place in others[:3]),
        )

    def _meant_nothing(self, choice: str, path: KeyPath) -> Finding:
        return Finding(
            self.effects.code,
            Severity.ERROR,
            f"there is no effect {quoted(choice)} on this rig",
            self.target.book.place(path),
            f"did you mean {quoted(NOTHING)}? Then scenes do without",
        )

    def _many_unknown(self, names: Names) -> Finding:
        book = self.target.book
        # What is missing would stand below the last effect, or at the end of the file.
        last = next(reversed(book.rig.effects), None)
        place = (
            end_of(book.place(("rig",)).source)
            if last is None
            else book.place_of_key(("rig", "effects", last))
        )
        return Finding(
            names.code,
            Severity.ERROR,
            f"this rig lacks {len(names.missing)} effects that the songs ask for: "
            f"{', '.join(map(quoted, list(names.missing)[:8]))}",
            place,
            "write here how it makes them, or what may stand in, under instead of:",
            tuple(
                Related(f"{quoted(name)} is asked for here", places[0])
                for name, places in list(names.missing.items())[:4]
            ),
        )

    def _way_out(self, identity: str) -> str:
        """Return what to do about the effects that a song has lost."""
        chosen = self.target.book.rig.instead_of
        for effect in self.lost[identity].values():
            if chosen.get(effect):
                return (
                    f"what may stand in for {quoted(effect)} ({', '.join(chosen[effect])}) is not "
                    "there either, or sounds already: let the rig name another, under instead of:"
                )
        return "let the rig say what may stand in, with instead of:"

    def _suffering(self) -> Iterator[Finding]:
        """Yield each song that loses something."""
        book = self.target.book
        for identity, lost in self.lost.items():
            song, lines = book.by_name[identity], list(lost)
            shown = "; ".join(lines[:8]) + (f" and {len(lines) - 8} more" if lines[8:] else "")
            yield Finding(
                "song-suffers",
                Severity.WARNING,
                f"without {self._gone}, {quoted(song.title)} changes: {shown}",
                book.place((*song.path, "title")),
                self._way_out(identity),
            )

    def _stand_ins(self) -> Iterator[Finding]:
        """Yield what stands in for what is missing, in all songs: one table."""
        rows = tuple(
            (effect, stand_in, self.target.book.by_name[identity].title, tuple(scenes))
            for effect, choices in self.instead.items()
            for stand_in, songs in choices.items()
            for identity, scenes in songs.items()
        )
        if not rows:
            return
        songs = {
            identity for some in self.instead.values() for one in some.values() for identity in one
        }
        plays = "plays" if len(songs) == 1 else "play"
        yield Finding(
            "song-suffers",
            Severity.NOTE,
            f"without {self._gone}, {number_of(len(songs), 'song')} {plays} something else",
            self.target.book.place_of_key(("rig", "units", min(self.target.gone))),
            "leave it so, if that will do tonight",
            table=Table(("effect", "instead", "song", "scenes"), rows),
        )

    @property
    def _gone(self) -> str:
        return ", ".join(sorted(self.target.gone))
