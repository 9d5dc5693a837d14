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
from typing import Any

from setwright.compiler.binding.states import Verdict
from tests.books import write_book
from tests.conftest import DEMO, ROOT
from tests.nights import whole
from tests.placements import placements

Command = Sequence[str]

# What a cold check cannot do without: the libraries, and the same files through the C parser.
FLOOR = """\
import sys
import click
import pydantic
from ruamel.yaml import YAML
for name in sys.argv[1:]:
    with open(name, encoding="utf-8") as file:
        YAML(typ="safe", pure=False).compose(file.read())
"""


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
    python, night = sys.executable, str(DEMO / "granary-night.yaml")
    without_sheets = ("--only", "midi", "--only", "maps", "--only", "page")
    return [
        lambda: ratio(
            "check, with proofs, of 1,200 scenes ÷ the floor",
            setwright("check", str(small)),
            [python, "-c", FLOOR, *files],
            2.0,
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
        lambda: ratio(
            "build of the demo without sheets ÷ check of it",
            setwright("build", night, "--out", str(folder / "some"), *without_sheets),
            setwright("check", night),
            3,
            times,
        ),
        # PDFs may take 0.6 s beyond that, and a check takes some 0.2 s.
        lambda: ratio(
            "build of the demo, PDFs too ÷ check of it",
            setwright("build", night, "--out", str(folder / "out")),
            setwright("check", night),
            6,
            times,
        ),
        lambda: proving(small, large, times),
        lambda: midi_writing(small, times),
        lambda: "\n".join(lower_bound()),
    ]


def proving(small: Path, large: Path, times: int) -> str:
    """Return the line that compares hearing and verdicts of ten times as much.

    Every scene is heard and proven anew, as if no two were made in the same way.
    """
    from setwright.compiler.compiled import Compiled
    from setwright.compiler.proving.prove import Prover
    from setwright.compiler.proving.routing import Lines

    def work(compiled: Compiled) -> tuple[float, int]:
        assert compiled.target is not None
        start = time.perf_counter()
        heard = 0
        for scene in compiled.scenes.values():
            lines = Lines(compiled.book.rig, compiled.book.switcher)
            Prover(lines, compiled.target.units).prove(scene.bound, scene.lowered.stored)
            for command in scene.content.commands:
                heard += len(lines.hear("switcher", command.message))
        return time.perf_counter() - start, heard

    books = whole(small), whole(large)
    pairs = [(work(books[0]), work(books[1])) for _ in range(max(3, times // 3))]
    ones, others = [one[0] for _, one in pairs], [one[0] for one, _ in pairs]
    size = pairs[0][1][1] / pairs[0][0][1]
    return (
        f"{'hearing and verdicts, 2,000 ÷ 200 songs':50} {min(ones) / min(others):6.2f} "
        f"{median(ones) / median(others):7.2f} {size * 1.1:7.1f}   {median(ones) * 1000:6.0f} ms ÷ "
        f"{median(others) * 1000:.0f} ms; messages × units {pairs[0][1][1]} ÷ {pairs[0][0][1]}"
    )


def midi_writing(night: Path, times: int) -> str:
    """Return the line that compares our MIDI files with mido writing the same events."""
    import io

    import mido

    from setwright.compiler.outputs.collect import night_data
    from setwright.compiler.outputs.midi_file import midi_files

    data = night_data(whole(night))
    files = midi_files(data)
    events = [
        [[(message.dict(), message.is_meta) for message in track] for track in parsed.tracks]
        for parsed in (mido.MidiFile(file=io.BytesIO(content)) for content in files.values())
    ]

    def alone() -> None:
        for tracks in events:
            out = mido.MidiFile(type=1, ticks_per_beat=480)
            for track in tracks:
                out.tracks.append(mido.MidiTrack(map(made, track)))
            out.save(file=io.BytesIO())

    def made(event: tuple[dict[str, Any], bool]) -> Any:
        fields, is_meta = event
        if fields["type"] == "unknown_meta":
            return mido.UnknownMetaMessage(
                type_byte=fields["type_byte"], data=fields["data"], time=fields["time"]
            )
        return (mido.MetaMessage if is_meta else mido.Message)(**fields)

    ours, theirs = [], []
    for _ in range(times):
        start = time.perf_counter()
        midi_files(data)
        middle = time.perf_counter()
        alone()
        ours.append(middle - start)
        theirs.append(time.perf_counter() - middle)
    return (
        f"{f'MIDI files of {len(data.scenes)} scenes ÷ mido alone':50} "
        f"{min(ours) / min(theirs):6.2f} {median(ours) / median(theirs):7.2f} {1.5:7.1f}   "
        f"{median(ours) * 1000:6.0f} ms ÷ {median(theirs) * 1000:.0f} ms"
    )


def lower_bound() -> list[str]:
    """Compare the direct route's bytes with the least that could do: each quantity once.

    A program takes two bytes and a control three, whatever else is sent; a quantity that a
    message can set and whose value matters needs one message of its own.
    """
    lines = []
    for rig in ("granary", "parlour"):
        compiled = whole(DEMO / f"{rig}-night.yaml")
        sent = least = 0
        worse = []
        for key, scene in compiled.scenes.items():
            quantities = [
                one
                for one in scene.bound.wanted
                if one.verdict is Verdict.PROVEN and one.quantity not in {"loop", "relay"}
            ]
            bound = sum(2 if one.quantity == "program" else 3 for one in quantities)
            sent, least = sent + scene.lowered.direct.size, least + bound
            if scene.lowered.direct.size != bound:
                worse.append("/".join(key))
        lines.append(
            f"{f'direct route of {rig}: bytes ÷ lower bound':50} {sent / least:6.3f}"
            f"{'':24}{sent} ÷ {least}; not 1 in: {', '.join(worse) or 'no scene'}"
        )
    return lines


def profile(folder: Path) -> None:
    """Print where a cold check of 200 songs spends its time."""
    night = str(write_book(folder / "200", 200))
    code = f"import sys; sys.argv = ['setwright', 'check', {night!r}]\n"
    code += "from setwright.compiler.cli import run\nrun()"
    script = folder / "check.py"
    script.write_text(code, encoding="utf-8")
    subprocess.run(
        [sys.executable, "-m", "cProfile", "-s", "tottime", str(script)], cwd=ROOT, check=False
    )
    subprocess.run([sys.executable, "-X", "importtime", "-c", code], cwd=ROOT, check=False)


def main() -> None:
    parser = argparse.ArgumentParser(prog="python -m tests.bench", description=__doc__)
    parser.add_argument("what", nargs="?", choices=["placement", "live"], help="only this")
    parser.add_argument("--times", type=int, default=9, help="runs of each command")
    parser.add_argument("--profile", action="store_true", help="show where the time goes")
    wanted = parser.parse_args()
    if wanted.what is not None:
        from tests.live_bench import live

        for line in placements() if wanted.what == "placement" else live():
            sys.stdout.write(line + "\n")
            sys.stdout.flush()
        return
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
