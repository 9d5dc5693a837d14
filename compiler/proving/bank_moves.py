"""Banks that load a preset as they are moved to: what the foot has to wait for on the way.

Runs once scenes are placed. Each bank that is passed sends a preset of its own, and a box that is
busy with that would lose the next. Nobody knows how fast a foot goes from bank to bank, so the
sheets say how long it has to wait at each, and what a busy box is sent is proven if it does.
"""

from __future__ import annotations

from fractions import Fraction

from setwright.compiler.binding.states import Verdict, Wanted
from setwright.compiler.lowering.preset import Address
from setwright.compiler.placement.wanted import SceneKey
from setwright.compiler.proving.proved import LoweredScene
from setwright.compiler.proving.stands import is_by_preset
from setwright.scenes.switcher import Switcher
from setwright.scenes.unit import Unit

REASON = "wait at each bank that you pass, as printed, for it loads a preset of its own"


def waits(
    switcher: Switcher,
    scenes: dict[SceneKey, LoweredScene],
    units: dict[str, Unit],
) -> dict[str, Fraction]:
    """Return how many ms after a move each unit may be busy; none where no move loads anything.

    One that loses single bytes may take the last of a preset for a program, so it counts from
    there, whoever a program is meant for.
    """
    # With one bank in use the foot comes there from another before the first song.
    if not switcher.bank_moves.loads_at_once or switcher.banks.count < 2:
        return {}
    busy: dict[str, Fraction] = {}
    for scene in {id(one.lowered): one for one in scenes.values()}.values():
        sent = scene.lowered.sent
        channels = {
            timed.command.message.channel
            for timed in sent.commands
            if timed.command.message.kind == "program"
        }
        for name, unit in units.items():
            hears = unit.channel in channels or (unit.channel == "omni" and channels)
            if unit.busy_after_program and hears:
                until = sent.ms + unit.busy_after_program
                busy[name] = max(until, busy.get(name, until))
    return busy


def steps(switcher: Switcher, before: Address | None, after: Address | None) -> int:
    """Return how many banks load a preset on the way from one preset to another."""
    if before is None or after is None or not switcher.bank_moves.loads_at_once:
        return 0
    apart = abs(before.bank - after.bank)
    return apart if switcher.bank_moves.by == "up and down" else min(apart, 1)


def if_the_foot_waits(
    scenes: dict[SceneKey, LoweredScene], busy: dict[str, Fraction]
) -> dict[SceneKey, LoweredScene]:
    """Return ``scenes`` with the verdicts that hold if the foot waits for the ``busy`` units."""
    if not busy:
        return scenes

    def waiting(one: Wanted) -> Wanted:
        sent = one.verdict is Verdict.PROVEN and not is_by_preset(one.quantity)
        if not sent or one.unit not in busy:
            return one
        return one._replace(verdict=Verdict.FEET, reason=f"{one.reason}; {REASON}")

    now = {
        id(scene.proved): tuple(map(waiting, scene.proved))
        for scene in {id(one.proved): one for one in scenes.values()}.values()
    }
    return {key: scene._replace(proved=now[id(scene.proved)]) for key, scene in scenes.items()}
