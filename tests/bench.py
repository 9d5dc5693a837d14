"""Speed as ratios, each taken within one run: ``python -m tests.bench``.

Every figure is the time of one thing divided by that of another on the same machine at the same
time, so that machines and loads matter little. Nothing here fails; the wanted ratios are printed
beside what was measured. ``--profile`` shows where the time goes instead.
"""

from __future__ import annotations

import argparse
import os
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable, Sequence
from pathlib import Path
from statistics import median

from tests.books import write_book
from tests.conftest import ROOT

Command = Sequence[str]

# What a cold check cannot do without: the libraries, and the same files through the C parser.
# ``import pydantic`` alone loads hardly anything; ``BaseModel`` is what every user of it needs.
FLOOR = """\
import sys
import click
import pydantic
from ruamel.yaml import YAML
for name in sys.argv[1:]:
    with open(name, encoding="utf-8") as file:
        YAML(typ="safe", pure=False).compose(file.read())
"""
FLOOR_WITH_MODELS = FLOOR.replace("import pydantic\n", "from pydantic import BaseModel\n")


def seconds(command: Command) -> float:
    """Return how long ``command`` runs, in seconds; where it fails, say so and stop."""
    start = time.perf_counter()
    ended = subprocess.run(
        command,
        check=False,
        capture_output=True,
        encoding="utf-8",
        cwd=ROOT,
        env={**os.environ, "PYTHONDONTWRITEBYTECODE": ""},
    )
    taken = time.perf_counter() - start
    if ended.returncode:
        sys.exit(f"bench: {' '.join(command)} failed:\n{ended.stdout}{ended.stderr}")
    return taken


def interleaved(first: Command, second: Command, times: int) -> tuple[list[float], list[float]]:
    """Run the two commands in turn, once each before it counts."""
    seconds(first)
    seconds(second)
    pairs = [(seconds(first), seconds(second)) for _ in range(times)]
    return [one for one, _ in pairs], [other for _, other in pairs]


def ratio(name: str, first: Command, second: Command, wanted: float, times: int) -> str:
    """Return one line of the table: ``first`` ÷ ``second``, by the best and the median run."""
    ones, others = interleaved(first, second, times)
    return (
        f"{name:50} {min(ones) / min(others):6.2f} {median(ones) / median(others):7.2f} "
        f"{wanted:7.1f}   {median(ones) * 1000:6.0f} ms ÷ {median(others) * 1000:.0f} ms"
    )


def setwright(*words: str) -> list[str]:
    """Return the real command, as it was installed beside this Python."""
    installed = Path(sys.executable).with_name("setwright")
    return [str(installed) if installed.exists() else "setwright", *words]


def figures(folder: Path, times: int) -> list[Callable[[], str]]:
    """Return the measurements, to be taken one after the other."""
    small, large = write_book(folder / "200", 200), write_book(folder / "2000", 2000)
    files = [str(path) for path in sorted(small.parent.glob("*.yaml"))]
    python = sys.executable
    return [
        lambda: ratio(
            "check of 200 songs, 1,200 scenes ÷ the floor",
            setwright("check", str(small)),
            [python, "-c", FLOOR, *files],
            1.5,
            times,
        ),
        lambda: ratio(
            "the same ÷ the floor with pydantic.BaseModel",
            setwright("check", str(small)),
            [python, "-c", FLOOR_WITH_MODELS, *files],
            1.5,
            times,
        ),
        lambda: ratio(
            "check of 2,000 songs ÷ check of 200 songs",
            setwright("check", str(large)),
            setwright("check", str(small)),
            11,
            max(3, times // 3),
        ),
        lambda: ratio(
            "setwright --help ÷ python -c pass",
            setwright("--help"),
            [python, "-c", "pass"],
            6,
            times * 2,
        ),
    ]


def profile(folder: Path) -> None:
    """Print where a cold check of 200 songs spends its time."""
    night = str(write_book(folder / "200", 200))
    code = f"import sys; sys.argv = ['setwright', 'check', {night!r}]\n"
    code += "from setwright.compiler.cli import main\nmain()"
    script = folder / "check.py"
    script.write_text(code, encoding="utf-8")
    subprocess.run(
        [sys.executable, "-m", "cProfile", "-s", "tottime", str(script)], cwd=ROOT, check=False
    )
    subprocess.run([sys.executable, "-X", "importtime", "-c", code], cwd=ROOT, check=False)


def main() -> None:
    parser = argparse.ArgumentParser(prog="python -m tests.bench", description=__doc__)
    parser.add_argument("--times", type=int, default=9, help="runs of each command")
    parser.add_argument("--profile", action="store_true", help="show where the time goes")
    wanted = parser.parse_args()
    with tempfile.TemporaryDirectory() as folder:
        if wanted.profile:
            profile(Path(folder))
            return
        sys.stdout.write(f"{'':50} {'best':>6} {'median':>7} {'wanted':>7}\n")
        for figure in figures(Path(folder), wanted.times):
            sys.stdout.write(figure() + "\n")
            sys.stdout.flush()


if __name__ == "__main__":
    main()
