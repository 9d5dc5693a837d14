"""Draw books, play them, print figures: ``python -m tests.stage --books 300 --seed 1``."""

from __future__ import annotations

import argparse
import sys
import traceback
from collections import Counter

from tests.stage.draw import draw
from tests.stage.judge import Judge
from tests.stage.shrink import STUMBLES


def main() -> int:
    parser = argparse.ArgumentParser(prog="python -m tests.stage", description=__doc__)
    parser.add_argument("--books", type=int, default=100)
    parser.add_argument("--seed", type=int, default=1, help="of the first book")
    parser.add_argument("--plays", type=int, default=14, help="of each book")
    parser.add_argument("--show", type=int, default=20, help="how many broken promises to print")
    parser.add_argument("--because", help="of the broken promises to print")
    options = parser.parse_args()
    say = sys.stdout.write
    figures: Counter[str] = Counter()
    wrong = []
    for seed in range(options.seed, options.seed + options.books):
        judge = Judge(draw(seed), seed)
        try:
            if judge.compile():
                judge.play(options.plays)
        except STUMBLES:
            traceback.print_exc()
            sys.stderr.write(f"seed {seed} stopped\n")
            figures["stopped"] += 1
        figures += judge.figures
        wrong += judge.wrong
    for name, number in sorted(figures.items()):
        say(f"{number:>10,}  {name}" + "\n")
    say(f"{len(wrong):>10,}  broken promises" + "\n")
    for (what, because), number in Counter((one.what, one.because) for one in wrong).most_common():
        say(f"{number:>10,}  {what}: {because}" + "\n")
    shown = [one for one in wrong if options.because in (None, one.because)]
    for one in shown[: options.show]:
        say(f"{one}\n")
    return 1 if wrong or figures["stopped"] else 0


if __name__ == "__main__":
    sys.exit(main())
