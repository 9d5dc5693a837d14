"""What a rig uses of its switcher: banks, kept switches, loops and relays that are there."""

from __future__ import annotations

from collections.abc import Iterator

from setwright.compiler.binding.rig_findings import RigFindings
from setwright.compiler.binding.sharing import in_one_loop, on_one_contact
from setwright.scenes.finding import Finding, Related, Severity
from setwright.scenes.places import KeyPath
from setwright.scenes.quantities import quoted
from setwright.scenes.records import place_for
from setwright.scenes.rig import parse_kept_switch
from setwright.scenes.switcher import Switcher
from setwright.scenes.wording import number_of


def check_use(found: RigFindings) -> None:
    """Find what the rig uses and the switcher lacks, and what two units use at once."""
    if "switcher" in found.book.faulty:
        return  # what it says of itself is not to be relied on yet
    switcher = found.book.switcher
    _banks_and_kept_switches(found)
    _outputs(found, "loop", switcher.loops)
    _outputs(found, "relay", len(switcher.relays))
    _tap_outputs(found)


def _banks_and_kept_switches(found: RigFindings) -> None:
    use, switcher = found.rig.switcher, found.book.switcher
    assert use is not None
    count = switcher.banks.count
    if use.banks is not None and use.banks[1] > count:
        found.error(
            "bank-out-of-range",
            f"the switcher has {number_of(count, 'bank')}",
            ("rig", "switcher", "banks"),
            f"write 1 to {count}, or less",
            Related("its banks", found.book.place(("switcher", "banks"))),
        )
    marks = {switcher.switches.show(number).casefold() for number in range(switcher.switches.count)}
    taken: dict[str, tuple[str, KeyPath, bool]] = {}
    kept: KeyPath = ("rig", "switcher", "every bank")
    for key in use.every_bank:
        _given_to(found, marks, taken, key, "it is kept", (*kept, key), key=True)
    for name, switch in use.always_on.items():
        path: KeyPath = ("rig", "switcher", "always on", name)
        _given_to(found, marks, taken, switch, f"{quoted(name)} lies there", path, key=False)


def _given_to(
    found: RigFindings,
    marks: set[str],
    taken: dict[str, tuple[str, KeyPath, bool]],
    written: str,
    what: str,
    path: KeyPath,
    *,
    key: bool,
) -> None:
    """Look at one switch that is given to something: it exists, and nothing else lies there."""
    switcher = found.book.switcher
    mark = parse_kept_switch(written)
    if mark.casefold() not in marks:
        found.error(
            "switch-out-of-range",
            f"the switcher has no switch {quoted(mark)} in a bank",
            path,
            f"its switches are {switcher.switches.text}",
            Related("its switches", found.book.place(("switcher", "switches"))),
            key=key,
        )
        return
    first, there, at_key = taken.setdefault(mark.casefold(), (what, path, key))
    if there != path:
        place = found.book.place_of_key(there) if at_key else found.book.place(there)
        found.error(
            "switch-twice",
            f"switch {mark} is given to two things",
            path,
            "give each a switch of its own, or take one of them out",
            Related(first, place),
            key=key,
        )


def _outputs(found: RigFindings, kind: str, count: int) -> None:
    """Check the numbers of loops or relays: they exist, and no two units share one."""
    used = list(_numbers(found, kind))
    if used and count == 0:
        _no_outputs(found, kind, list(dict.fromkeys(name for name, _, _ in used)))
        return
    share = in_one_loop(found.rig.units) if kind == "loop" else on_one_contact(found.rig.units)
    taken: dict[int, tuple[str, KeyPath]] = {}
    for name, number, path in used:
        if number > count:
            found.error(
                f"{kind}-out-of-range",
                f"the switcher has {number_of(count, kind)}, so there is no {kind} {number}",
                path,
                f"write 1 to {count}",
                Related("the switcher", found.book.place(("switcher", f"{kind}s"))),
            )
        elif number in taken and taken[number][0] not in share.get(name, ()):
            other, place = taken[number]
            way_out = f"give each its own {kind}"
            if other != name:
                way_out += f", or say shares with: {other} if both are in it"
            found.error(
                f"{kind}-twice",
                f"{kind} {number} has two units in it"
                if other != name
                else f"{kind} {number} works two things of {name}",
                path,
                way_out,
                Related("the other", found.book.place(place)),
            )
        else:
            taken.setdefault(number, (name, path))


def _numbers(found: RigFindings, kind: str) -> Iterator[tuple[str, int, KeyPath]]:
    """Yield the loops or relays that units use: unit, number, and where it stands."""
    for name, unit in found.rig.units.items():
        number = unit.loop if kind == "loop" else unit.relay.number if unit.relay else None
        if number is not None:
            yield name, number, _number_of(name, kind)
        for group, contacts in unit.relays.items() if kind == "relay" else ():
            for index, one in enumerate(contacts.numbers):
                yield name, one, ("rig", "units", name, "relays", group, "numbers", index)


def _tap_outputs(found: RigFindings) -> None:
    """Check the units on tap outputs: those are there, and the units take their tempo from them."""
    count = found.book.switcher.tap_outputs
    for name, unit in found.rig.units.items():
        path: KeyPath = ("rig", "units", name, "tap output")
        if unit.tap_output is None:
            continue
        if unit.tap_output > count:
            has = number_of(count, "tap output") if count else "no tap output"
            found.error(
                "tap-output-out-of-range",
                f"the switcher has {has}, so there is no tap output {unit.tap_output}",
                path,
                f"write 1 to {count}" if count else "say tap outputs: in the switcher's file",
            )
        elif unit.tempo_from != "tap":
            found.error(
                "tapped-in-vain",
                f"{quoted(name)} is on a tap output, and does not say that it takes its tempo "
                "from a tap",
                path,
                "add tempo from: tap; or take tap output: out, where it takes its tempo elsewhere",
            )


def _number_of(unit: str, kind: str) -> KeyPath:
    path: KeyPath = ("rig", "units", unit, kind)
    return path if kind == "loop" else (*path, "number")


def _no_outputs(found: RigFindings, kind: str, users: list[str]) -> None:
    found.found.append(
        Finding(
            f"{kind}-out-of-range",
            Severity.ERROR,
            f"the switcher says nothing of {kind}s, but "
            + (f"{len(users)} units need one" if len(users) > 1 else f"{users[0]} needs one"),
            place_for(found.book.spot, ("switcher",), Switcher, f"{kind}s"),
            f"add {kind}s: below this line, or take {kind}: out of the units",
            tuple(
                Related(f"{name} needs one", found.book.place(("rig", "units", name, kind)))
                for name in users[:4]
            ),
        )
    )
