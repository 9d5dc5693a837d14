"""Combined programs: one program of a unit that makes several effects at once.

``dark echo + hall: {cloud: dark hall}`` under ``effects:`` is chosen where a scene asks for both,
in place of what makes each of them alone. So two effects that would need one unit in two states do
not clash while it has a program for both.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Collection, Iterator, Sequence

from setwright.compiler.binding.rig_findings import RigFindings
from setwright.compiler.binding.target import NOTHING, Combined, Demand
from setwright.scenes.finding import Finding, Related, Severity
from setwright.scenes.names import nearest, suggestion
from setwright.scenes.places import KeyPath
from setwright.scenes.quantities import quoted

_PLUS = re.compile(r"\s*\+\s*")


def members_of(name: str, known: Collection[str] = ()) -> tuple[str, ...]:
    """Return the effects that ``name`` puts together; empty where it is the name of one effect.

    A plus counts with spaces around it, or between names that are ``known``.
    """
    parts = tuple(_PLUS.split(name.strip()))
    if len(parts) > 1 and (" + " in f" {name} " or all(part in known for part in parts)):
        return parts
    return ()


def combinations(effects: Collection[str]) -> Iterator[Combined]:
    """Yield the names among ``effects`` that stand for several at once."""
    for name in effects:
        members = members_of(name, effects)
        if members and all(members) and len(set(members)) == len(members):
            yield Combined(name, members)


def merged(
    asked: Sequence[str],
    known: Sequence[Combined],
    alone: Collection[str],
    clash: Callable[[Sequence[str]], bool],
) -> list[str]:
    """Return ``asked`` with combinations in the places of the effects that they make.

    Of all ways to combine, one is taken that leaves no effect over that cannot be made ``alone``,
    and that does not ``clash``, if there is such a one; then the one that combines the most effects
    with the fewest combinations; then the one whose combinations stand first.
    """
    there = set(asked)
    possible = [one for one in known if there.issuperset(one.members)]
    if not possible:
        return list(asked)

    def rank(chosen: tuple[Combined, ...]) -> tuple[bool, bool, int, int]:
        inside = {member for one in chosen for member in one.members}
        left = any(name not in inside and name not in alone for name in asked)
        return left, clash(_in_place(asked, chosen)), -len(inside), len(chosen)

    best = min(_ways(possible, MOST_COMBINED), key=rank)
    return _in_place(asked, best)


MOST_COMBINED = 10
"""Combinations of one scene of which all ways are looked at; the others wait their turn."""


def _ways(possible: Sequence[Combined], most: int) -> Iterator[tuple[Combined, ...]]:
    """Yield every choice of combinations that have no effect in common, the first ones first."""

    def choose(at: int, taken: frozenset[str]) -> Iterator[tuple[Combined, ...]]:
        if at == min(len(possible), most):
            yield ()
            return
        one = possible[at]
        if taken.isdisjoint(one.members):
            for rest in choose(at + 1, taken.union(one.members)):
                yield (one, *rest)
        yield from choose(at + 1, taken)

    return choose(0, frozenset())


def _in_place(asked: Sequence[str], chosen: Sequence[Combined]) -> list[str]:
    inside = {member: one.name for one in chosen for member in one.members}
    return list(dict.fromkeys(inside.get(name, name) for name in asked))


# What is wrong with them.


def check_combined(
    found: RigFindings, makes: dict[str, tuple[Demand, ...]], asked: Collection[str]
) -> frozenset[str]:
    """Find combinations that are none, say one twice, name what nobody knows, or need none.

    ``asked`` are the effects that songs ask for, or that the rig names elsewhere. Returns the units
    of those that are written wrongly.
    """
    effects = found.rig.effects
    single = {name for name in effects if not members_of(name, effects)}
    first: dict[frozenset[str], str] = {}
    doubted: set[str] = set()
    for name in effects:
        members = members_of(name, effects)
        path = ("rig", "effects", name)
        if not members:
            continue
        if not all(members) or len(set(members)) < len(members):
            found.error(
                "not-a-combination",
                f"{quoted(name)} does not name two effects",
                path,
                "write the effects that one program makes at once, with + between them: "
                "dark echo + hall",
                key=True,
            )
            doubted.update(effects[name])
            continue
        before = first.setdefault(frozenset(members), name)
        if before != name:
            found.error(
                "key-twice",
                f"{quoted(name)} is {quoted(before)} again: their order does not matter",
                path,
                "delete one of them",
                Related("the first one", found.book.place_of_key(("rig", "effects", before))),
                key=True,
            )
            continue
        for member in members:
            known = {*single, *asked} - {NOTHING}
            # What nobody asks for may be there for other songs; what is nearly asked for is a slip.
            if member not in known and nearest(member, known) is not None:
                found.found.append(_unknown(found, name, member, known))
                doubted.update(effects[name])
        _apart(found, name, members, makes)
    return frozenset(doubted)


def _unknown(found: RigFindings, name: str, member: str, known: set[str]) -> Finding:
    return Finding(
        "unknown-effect",
        Severity.ERROR,
        f"no effect is called {quoted(member)}, and nobody asks for it",
        found.book.place_of_key(("rig", "effects", name)).within(member),
        suggestion(member, sorted(known), "name effects that songs ask for"),
    )


def _apart(
    found: RigFindings,
    name: str,
    members: Sequence[str],
    makes: dict[str, tuple[Demand, ...]],
) -> None:
    """Warn of effects that need different units, so that they can sound together anyhow."""
    if any(member not in makes or not makes[member] for member in members) or name not in makes:
        return
    units = [{demand.unit for demand in makes[member]} for member in members]
    if any(one & other for at, one in enumerate(units) for other in units[at + 1 :]):
        return
    if {demand.unit for demand in makes[name]}.issuperset(set().union(*units)):
        return  # nothing is left out: together they are another program
    who = " and ".join(
        f"{quoted(member)} with {quoted(min(own))}"
        for member, own in zip(members, units, strict=True)
    )
    path: KeyPath = ("rig", "effects", name)
    found.found.append(
        Finding(
            "combined-in-vain",
            Severity.WARNING,
            f"this rig makes {who}, so they sound together as it is",
            found.book.place_of_key(path),
            "delete this line; or let one unit make them, each alone, under effects:",
            tuple(
                Related(f"how {member} is made", found.book.place_of_key((*path[:2], member)))
                for member in members
            ),
        )
    )
