"""Faults put into the compiler itself, and whether the tests notice: ``python -m tests.mutants``.

Mutants are made from the syntax tree by listed operators, for each room (`rooms`) a sample, or all
of them where safety hangs on it; each is put into a copy of the tree, where the judges of its room
run. It is noticed when they fail, or run for ever. Printed is, for every room, how many there
are, how many are noticed, and the share of those that nobody argues to be equal; then the
survivors with their line and change, and why one is equal.
"""

from __future__ import annotations

import argparse
import sys

from tests.mutants.judging import judge
from tests.mutants.making import sample
from tests.mutants.rooms import ROOMS


def main() -> None:
    parser = argparse.ArgumentParser(prog="python -m tests.mutants", description=__doc__)
    parser.add_argument("--room", action="append", help="only this room; may be given again")
    parser.add_argument("--count", type=int, default=20, help="how many mutants of each room")
    parser.add_argument("--seed", type=int, default=1903, help="which ones")
    parser.add_argument("--processes", type=int, default=2, help="how many side by side")
    parser.add_argument("--list", action="store_true", help="only list them")
    wanted = parser.parse_args()
    unknown = set(wanted.room or ()) - {room.name for room in ROOMS}
    if unknown:
        parser.error(f"no such room: {', '.join(sorted(unknown))}")
    rooms = [room for room in ROOMS if not wanted.room or room.name in wanted.room]
    chosen = [one for room in rooms for one in sample(room, wanted.count, wanted.seed)]
    say = sys.stdout.write
    if wanted.list:
        for mutant in chosen:
            say(f"{mutant.operator:9} {mutant.name}\n")
        return
    outcome = judge(chosen, wanted.processes)
    say(f"{'room':24} {'mutants':>8} {'noticed':>8} {'%':>7} {'equal':>6} {'% without':>10}\n")
    for name in (*(room.name for room in rooms), "all"):
        some = [by or one.argued for one, by in outcome.items() if name in (one.room, "all")]
        noticed = [by for one, by in outcome.items() if name in (one.room, "all") and by]
        count, found, equal = len(some), len(noticed), sum(map(bool, some)) - len(noticed)
        if count:
            rest = 100 * found / (count - equal) if count > equal else 100
            say(
                f"{name:24} {count:8} {found:8} {100 * found / count:7.1f} {equal:6} {rest:10.1f}\n"
            )
        else:
            say(f"{name:24} not judged: its judges fail without any mutant\n")
    for mutant, by in outcome.items():
        if not by:
            say(f"survives  {mutant.operator:9} {mutant.name}\n")
            say(f"          {mutant.argued or 'NOT ARGUED'}\n")
    sys.exit({mutant.room for mutant in outcome} != {room.name for room in rooms})


if __name__ == "__main__":
    main()
