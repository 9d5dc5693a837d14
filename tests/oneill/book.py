"""The whole O'Neill collection as one book: 2,009 tunes, and a night that plays every one.

Titles, keys, meters and kinds are those of `headers.tsv`. Tempo, form, scenes and order are our
own invention, by the tune's kind. ``python -m tests.oneill.book FOLDER`` writes the book,
``--measure`` checks it on both rigs of the demo and prints what that takes.
"""

from __future__ import annotations

import argparse
import json
import re
import subprocess
import sys
import tempfile
import time
from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

from tests.books import write_files
from tests.conftest import DEMO
from tests.nights import whole
from tests.oneill.headers import Header, read_headers

RIGS = ("floor.yaml", "granary.yaml", "parlour.yaml")
NIGHTS = ("granary", "parlour")
TUNES_IN_A_SET = 20


@dataclass(frozen=True, slots=True)
class Kind:
    """How tunes of one kind are played: tempo, form, and how many of the scenes below."""

    tempo: str
    form: str
    scenes: int


KINDS = {
    "air": Kind("quarter = 66", "AB, 2 rounds", 3),
    "Carolan piece": Kind("quarter = 76", "AABB, 2 rounds", 4),
    "waltz": Kind("quarter = 138", "AABB, 3 rounds", 4),
    "jig": Kind("dotted quarter = 112", "AABB, 3 rounds", 5),
    "double jig": Kind("dotted quarter = 116", "AABB, 3 rounds", 5),
    "slide": Kind("dotted quarter = 132", "AABB, 3 rounds", 5),
    "slip jig": Kind("dotted quarter = 120", "AABB, 3 rounds", 5),
    "reel": Kind("half = 104", "AABB, 3 rounds", 6),
    "hornpipe": Kind("half = 80", "AABB, 3 rounds", 6),
    "long dance": Kind("half = 84", "AABB, 2 rounds", 4),
    "march": Kind("dotted quarter = 96", "AABB, 2 rounds", 4),
    "march or other": Kind("dotted quarter = 92", "AABB, 2 rounds", 4),
}

SOUNDS = """\
# Every tune of the collection.
sounds:
  plain: [compression]
  brushed: [compression, room]
  frost: [compression, tremolo, long echo]
  shiver: [compression, vibrato]
  stomp: [compression, crunch, slap echo]
  choir: [compression, rotor, hall]
songs:
"""

# Name, scene, and when it is pressed; tunes take as many as their kind has, from the top.
SCENES = (
    ("Start", "{first}", ""),
    ("Lift", "{{sound: frost, echo: {echo}}}", "round 1 B"),
    ("Shade", "{{sound: {second}, note: listen to the fiddle}}", "round 2 A"),
    ("Blaze", "{{like: Lift, add: lead, drop: tremolo}}", "{{at: round 2 B, cue: the lamp}}"),
    ("Stomp", "{{sound: stomp, add: boost}}", "round 3 A"),
    ("Out", "{{like: Stomp, drop: [slap echo, crunch]}}", "{{at: round 3 B2, foot: swell open}}"),
)


def names(headers: tuple[Header, ...]) -> list[tuple[str, str]]:
    """Return title and id of every tune; the id is empty where the title alone is enough.

    A title with two spaces in a row is the same name as with one.
    """
    times = Counter(" ".join(header.title.split()) for header in headers)
    taken: Counter[int] = Counter()
    result = []
    for header in headers:
        identity = ""
        if times[" ".join(header.title.split())] > 1:
            taken[header.number] += 1
            identity = f"{header.number}{'abc'[taken[header.number] - 1]}"
        result.append((header.title, identity))
    return result


def quoted(text: str) -> str:
    """Return ``text`` as a double-quoted scalar.

    Source: YAML 1.2.2, section 7.3.1 with section 5.7, whose escapes are those of JSON.
    """
    return json.dumps(text, ensure_ascii=False)


def _song(header: Header, title: str, identity: str) -> Iterator[str]:
    kind = KINDS[header.kind]
    beat = kind.tempo.partition(" =")[0]
    yield f"  - title: {quoted(title)}"
    if identity:
        yield f"    id: {identity}"
    if header.key:
        yield f"    key: {quoted(header.key)}"
    yield f"    meter: {header.meter}"
    yield f"    tempo: {kind.tempo}"
    yield f"    form: {kind.form}"
    yield "    scenes:"
    words = {
        "first": ("plain", "brushed")[header.number % 2],
        "second": ("shiver", "choir")[header.number % 2],
        "echo": "dotted eighth" if beat == "half" else beat,
    }
    for name, scene, _ in SCENES[: kind.scenes]:
        yield f"      {name}: {scene.format(**words)}"
    yield "    order:"
    for name, _, place in SCENES[: kind.scenes]:
        yield f"      - {name}{': ' if place else ''}{place.format()}"


def songs_text(headers: tuple[Header, ...]) -> str:
    """Return the file of songs."""
    lines = [
        line
        for header, (title, identity) in zip(headers, names(headers), strict=True)
        for line in _song(header, title, identity)
    ]
    return SOUNDS + "\n".join(lines) + "\n"


def night_text(rig: str, headers: tuple[Header, ...]) -> str:
    """Return a night that plays every tune on ``rig``, twenty to a set."""
    lines = ["night: All of them", f"rig: {rig}.yaml", "songs: songs.yaml", "sets:"]
    for index, (title, identity) in enumerate(names(headers)):
        if index % TUNES_IN_A_SET == 0:
            lines += [f"  - name: Set {index // TUNES_IN_A_SET + 1}", "    play:"]
        lines.append(f"      - {quoted(identity or title)}")
    return "\n".join(lines) + "\n"


def with_banks(text: str) -> str:
    """Return a switcher's or a rig's file with banks enough for every tune, all of them its own.

    The demo's switcher has 32; bank select by its first byte reaches 128 x 128 programs, which
    are 2,048 banks of eight (MIDI 1.0 Detailed Specification 4.2.1, bank select).
    """
    text = re.sub(r"(?m)^banks: \d+$", "banks: 1 to 2048", text)
    return re.sub(r"(?<=yaml, )banks: \d+ to \d+, ", "", text)


def write_oneill(folder: Path) -> list[Path]:
    """Write the book into ``folder``; return its two nights, for Granary and Parlour."""
    headers = read_headers()
    files = {name: with_banks((DEMO / name).read_text(encoding="utf-8")) for name in RIGS}
    files["songs.yaml"] = songs_text(headers)
    files |= {f"{rig}-night.yaml": night_text(rig, headers) for rig in NIGHTS}
    write_files(folder, files)
    return [folder / f"{rig}-night.yaml" for rig in NIGHTS]


def measure(night: Path) -> str:
    """Return one line on reading and binding ``night`` in this very process."""
    import resource

    start = time.perf_counter()
    compiled = whole(night)
    seconds = time.perf_counter() - start
    # Kibibytes on Linux, bytes on macOS (getrusage(2) of both).
    peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
    megabytes = peak / (1e6 if sys.platform == "darwin" else 1e6 / 1024)
    return (
        f"{night.stem}: {len(compiled.songs)} tunes, {compiled.scene_count} scenes, "
        f"{len(compiled.findings)} findings, {seconds:.2f} s, {megabytes:.0f} MB"
    )


def main() -> None:
    parser = argparse.ArgumentParser(prog="python -m tests.oneill.book", description=__doc__)
    parser.add_argument("folder", nargs="?", type=Path, help="where to write the book")
    parser.add_argument("--measure", action="store_true", help="check it on both rigs")
    parser.add_argument("--night", type=Path, help="measure this night alone, in this process")
    wanted = parser.parse_args()
    if wanted.night is not None:
        sys.stdout.write(measure(wanted.night) + "\n")
    elif wanted.measure:
        with tempfile.TemporaryDirectory() as folder:
            for night in write_oneill(Path(folder)):
                # A process for each, so that the peak of one is not that of the other.
                subprocess.run(
                    [sys.executable, "-m", "tests.oneill.book", "--night", str(night)], check=True
                )
    elif wanted.folder is not None:
        for night in write_oneill(wanted.folder):
            sys.stdout.write(f"wrote {night}\n")
    else:
        parser.error("name a FOLDER, or give --measure")


if __name__ == "__main__":
    main()
