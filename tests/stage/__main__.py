"""Draw books, play them, print figures: ``python -m tests.stage --books 300 --seed 1``."""

from __future__ import annotations

import argparse
import sys
import traceback
from collections import Counter

from tests.stage.draw import draw
from tests.stage.judge import Judge


def main() -> int:
    parser = argparse.ArgumentParser(prog="python -m tests.stage", description=__doc__)
    parser.add_argument("--books", type=int, default=100)
    parser.add_argument("--seed", type=int, default=1, help="of the first book")
    parser.add_argument("--plays", type=int, default=14, help="of each book")
    parser.add_argument("--show", type=int, default=20, help="how many broken promises to print")
    parser.add_argument("--because", help="of the broken promises to print")
    options = parser.parse_args()
    figures: Counter[str] = Counter()
    wrong = []
    for seed in range(options.seed, options.seed + options.books):
        judge = Judge(draw(seed), seed)
        try:
            if judge.compile():
                judge.play(options.plays)
        except Exception:
            traceback.print_exc()
            print(f"seed {seed} stopped", file=sys.stderr)
            figures["stopped"] += 1
        figures += judge.figures
        wrong += judge.wrong
    for name, number in sorted(figures.items()):
        print(f"{number:>10,}  {name}")
    print(f"{len(wrong):>10,}  broken promises")
    for (what, because), number in Counter((one.what, one.because) for one in wrong).most_common():
        print(f"{number:>10,}  {what}: {because}")
    shown = [one for one in wrong if options.because in (None, one.because)]
    for one in shown[: options.show]:
        print(one)
    return 1 if wrong or figures["stopped"] else 0


if __name__ == "__main__":
    sys.exit(main())
