"""Lays the examples of explanations into the corpus's base book, as a reader would.

An example is one or more excerpts, each below a line that says where it belongs::

    # in rig.yaml
    units:
      squeezer:
        loop: 9

``the list FILE`` is not of the book: it is read alone, as a list that a new book is made of.
``in`` puts each line in place of the one with the same name at the same spot, or at the end of
what stands there; ``at the end of`` and ``all of`` say what they do. ``…`` stands for more text
than anybody would write. A comma and ``compiled --without UNIT`` may end the line.
"""

from __future__ import annotations

import re
import tempfile
from pathlib import Path
from textwrap import dedent
from typing import NamedTuple

from setwright.compiler.lists.song_list import read_list
from setwright.compiler.pipeline import compile_night
from setwright.scenes.finding import Finding
from tests.corpus import Files

_HEAD = re.compile(
    r"^# (in|at the end of|all of|the list) (\w+(?:\.stored)?\.(?:yaml|csv))(?:, compiled --without (\w+))?$",
    re.MULTILINE,
)
MORE = "and so on " * 200
"""What ``…`` stands for: 2,000 characters, more than any name or text may have."""


class Laid(NamedTuple):
    """A book with an example in it, and the units that the command does without."""

    files: Files
    without: frozenset[str]


def lay(example: str, files: Files) -> Laid:
    """Return ``files`` with ``example`` in them; ValueError if it does not say where it is."""
    parts = _HEAD.split(dedent(example).replace("…", MORE))
    if parts[0].strip() or len(parts) == 1:
        raise ValueError("an example begins with # in FILE, and what stands there below it")
    files, without = dict(files), set()
    for how, name, unit, text in zip(
        parts[1::4], parts[2::4], parts[3::4], parts[4::4], strict=True
    ):
        text = text.removeprefix("\n")
        if how == "in":
            text = _join(files[name].splitlines(), text.splitlines())
        elif how == "at the end of":
            text = files[name] + text
        files[name] = text
        without |= {unit} - {None}
    return Laid(files, frozenset(without))


def _join(below: list[str], above: list[str]) -> str:
    return "\n".join(_laid_over(below, above)) + "\n"


def _laid_over(below: list[str], above: list[str]) -> list[str]:
    """Return the lines ``below`` with those ``above`` in their places, block by block."""
    blocks = _blocks(below)
    there = len(blocks)
    for block in _blocks(above):
        name = _name(block[0])
        same = next((n for n, one in enumerate(blocks[:there]) if _name(one[0]) == name), None)
        if same is None:
            blocks.append(block)
        elif len(block) > 1 and len(blocks[same]) > 1:
            blocks[same] = [blocks[same][0], *_laid_over(blocks[same][1:], block[1:])]
        else:
            blocks[same] = block
    return [line for block in blocks for line in block]


def _blocks(lines: list[str]) -> list[list[str]]:
    """Return ``lines`` as blocks: a line, and those indented further below it."""
    blocks: list[list[str]] = []
    margin = min((_indent(line) for line in lines if line.strip()), default=0)
    for line in lines:
        if blocks and (_indent(line) > margin or not line.strip()):
            blocks[-1].append(line)
        else:
            blocks.append([line])
    return blocks


def _indent(line: str) -> int:
    return len(line) - len(line.lstrip())


def _name(line: str) -> str:
    """Return what a line is known by: its key, or the whole of an item of a list."""
    said = line.strip()
    return said if said.startswith("- ") else said.partition(":")[0]


def findings(laid: Laid, raw: dict[str, bytes] | None = None) -> list[Finding]:
    """Compile a book and return all findings; ``raw`` are files that are no text."""
    with tempfile.TemporaryDirectory() as folder:
        for name, text in laid.files.items():
            (Path(folder) / name).write_text(text, encoding="utf-8")
        for name, content in (raw or {}).items():
            (Path(folder) / name).write_bytes(content)
        for name in laid.files:
            if name.endswith(".csv"):
                return list(read_list(Path(folder) / name, name).findings)
        return compile_night(Path(folder) / "night.yaml", laid.without).findings
