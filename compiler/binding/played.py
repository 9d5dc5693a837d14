"""What this rig plays where a scene asks for effects: stand-ins, and programs that make several."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from setwright.compiler.binding.combined import merged
from setwright.compiler.binding.lacking import Lacking
from setwright.compiler.binding.sharing import on_contact
from setwright.compiler.binding.target import NOTHING, Demand, Program, Target
from setwright.scenes.resolve import AskedEffect, ResolvedScene
from setwright.scenes.songs import Song


@dataclass(slots=True)
class Player:
    """Finds what is played, and notes in ``lacking`` what cannot be."""

    target: Target
    lacking: Lacking

    def play(
        self, song: Song, scene: ResolvedScene
    ) -> tuple[dict[str, AskedEffect], tuple[tuple[str, str], ...]] | None:
        """Find what this rig plays for a scene's effects: the effects, and what was replaced.

        Returns None, with a finding noted, where one of them cannot be played at all.
        """
        played: dict[str, AskedEffect] = {}
        replaced: list[tuple[str, str]] = []
        playable = True
        names = set(scene.effect_names)
        sounding = names & self.target.makes.keys()
        # What is made together with something that is asked for, or stands in for something that
        # is, needs nothing of its own.
        there = names | {self.target.stand_in(name, sounding) for name in names}
        together = {
            member
            for one in self.target.combined
            if there.issuperset(one.members)
            for member in one.members
        }
        for effect in scene.effects:
            stand_in = self.target.stand_in(effect.name, sounding)
            if effect.name in together and stand_in != effect.name:
                stand_in = effect.name
            if stand_in is None and effect.name not in self.target.lost:
                if effect.name not in self.target.broken_effects:
                    self.lacking.effects.find(effect.name, effect.path)
                playable = False
                continue
            self.lacking.effects.used.add(effect.name)
            if self.lacking.is_loss(effect.name) and stand_in != effect.name:
                # What sounds already stands in for nothing.
                adds = stand_in if stand_in not in sounding else None
                self.lacking.suffer(song, scene, effect.name, adds or "")
            if stand_in != effect.name:
                replaced.append((effect.name, stand_in or NOTHING))
            if stand_in is not None and stand_in != NOTHING:
                played.setdefault(stand_in, effect)
                sounding.add(stand_in)
        return (self._combined(played), tuple(replaced)) if playable else None

    def _combined(self, played: dict[str, AskedEffect]) -> dict[str, AskedEffect]:
        """Return ``played`` with the programs that make several of these at once."""
        if not self.target.combined:
            return played
        names = merged(list(played), self.target.combined, self.target.makes, self._would_clash)
        members = dict(self.target.combined)
        return {
            name: next(
                effect for one, effect in played.items() if one in (name, *members.get(name, ()))
            )
            for name in names
        }

    def _would_clash(self, effects: Sequence[str]) -> bool:
        """Tell whether two of ``effects`` need one unit in two states."""
        values: dict[tuple[str, str], object] = {}
        for name in effects:
            for demand in self.demands(name) if name in self.target.makes else ():
                known = values.setdefault((demand.unit, demand.quantity), demand.value)
                if not the_same(known, demand.value):
                    return True
        return False

    def demands(self, effect: str) -> Iterator[Demand]:
        """Yield what an effect asks for, and with a relay what it does to all on its contact."""
        units = self.target.units
        for demand in self.target.makes[effect]:
            yield demand
            if demand.quantity == "relay":
                for other in self.target.contacts.get(demand.unit, ()):
                    state = on_contact(units[demand.unit], str(demand.value), units[other])
                    yield Demand(other, "relay", state, demand.path)


def the_same(first: object, second: object) -> bool:
    """Tell whether two demands are one; one program may have two names."""
    if isinstance(first, Program) and isinstance(second, Program):
        return first.on_wire == second.on_wire
    return first == second
