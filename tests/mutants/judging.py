"""Judging mutants, in copies of the tree: what is exchanged is never the tree itself."""

from __future__ import annotations

import json
import os
import shutil
import subprocess
import sys
import tempfile
from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor
from contextlib import contextmanager
from itertools import groupby
from pathlib import Path

from tests.conftest import ROOT
from tests.mutants.making import Mutant
from tests.mutants.rooms import ROOMS, Room

FOR_EVER = 10, 6
"""Seconds of processor time, and so many times what the judges take, are for ever."""

Outcome = dict[Mutant, str]
"""Mutant → the judge that noticed it, or an empty text."""


class Copy:
    """A copy of the tree, importable as ``setwright``, in which one module is exchanged."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        for name in ("scenes", "compiler", "templates", "tests", "examples"):
            shutil.copytree(
                ROOT / name, folder / name, ignore=shutil.ignore_patterns("__pycache__")
            )
        for name in ("pyproject.toml", "README.md", "DEVELOPERS.md"):
            shutil.copy(ROOT / name, folder)
        (folder / "on" / "setwright").mkdir(parents=True)
        for name in ("scenes", "compiler", "templates"):
            (folder / "on" / "setwright" / name).symlink_to(folder / name)
        self.server = subprocess.Popen(
            [sys.executable, "tests/mutants/server.py"],
            cwd=folder,
            env={**os.environ, "PYTHONPATH": str(folder / "on"), "SETWRIGHT_BOOKS": "200"},
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            text=True,
            encoding="utf-8",
        )
        assert self._answer() == "ready"
        self.limits: dict[str, int] = {}

    def close(self) -> None:
        """End the server."""
        assert self.server.stdin is not None
        assert self.server.stdout is not None
        self.server.stdin.close()
        self.server.wait()
        self.server.stdout.close()

    def judge(self, room: Room, file: str, text: str | None, cpu: int) -> tuple[str, float]:
        """Run the judges with ``text`` for ``file``; return which noticed, and seconds used."""
        path = self.folder / file
        original, stat = path.read_bytes(), path.stat()
        if text is not None:
            path.write_text(text, encoding="utf-8")
            # A time of its own, so that nobody takes what was compiled of the original.
            os.utime(path, (stat.st_atime, stat.st_mtime + 1000))
        try:
            assert self.server.stdin is not None
            module = file.removesuffix(".py").replace("/", ".")
            request = {"module": f"setwright.{module}", "judges": room.judges, "cpu": cpu}
            self.server.stdin.write(json.dumps(request) + "\n")
            self.server.stdin.flush()
            answer = json.loads(self._answer())
        finally:
            path.write_bytes(original)
            os.utime(path, (stat.st_atime, stat.st_mtime))
        return str(answer["by"]), float(answer["cpu"])

    def try_out(self, room: Room) -> None:
        """See that the judges of ``room`` are silent without a mutant, and read what they judge.

        Raises AssertionError if not.
        """
        if room.name in self.limits:
            return
        by, cpu = self.judge(room, room.files[0], None, 0)
        assert by == "", f"{room.name}: {by} fails without any mutant"
        for file in room.files:
            by, _ = self.judge(room, file, "raise RuntimeError\n", 0)
            assert by, f"{room.name}: nobody reads {file}"
        self.limits[room.name] = int(FOR_EVER[0] + FOR_EVER[1] * cpu)

    def _answer(self) -> str:
        assert self.server.stdout is not None
        return self.server.stdout.readline().strip()


@contextmanager
def copies(count: int) -> Iterator[list[Copy]]:
    """Make copies of the tree, and remove them in the end."""
    with tempfile.TemporaryDirectory() as folder:
        made = [Copy(Path(folder) / str(number)) for number in range(count)]
        try:
            yield made
        finally:
            for one in made:
                one.close()


def judge(chosen: list[Mutant], processes: int = 2, *, try_out: bool = True) -> Outcome:
    """Return for each mutant what noticed it; several copies of the tree run side by side.

    Each copy judges whole rooms, so that each room is tried out once. The mutants of a room whose
    judges fail without any are left out, and the room is named on stderr.
    """
    rooms = {room.name: room for room in ROOMS}
    shares = [(rooms[name], list(some)) for name, some in groupby(chosen, lambda one: one.room)]
    outcome: Outcome = {}
    with copies(processes) as trees, ThreadPoolExecutor(processes) as pool:
        free = list(trees)

        def one_room(share: tuple[Room, list[Mutant]]) -> Outcome:
            room, some = share
            tree = free.pop()
            try:
                if try_out:
                    tree.try_out(room)
                return {mutant: _judged(tree, room, mutant) for mutant in some}
            except AssertionError as error:
                sys.stderr.write(f"{error}\n")
                return {}
            finally:
                free.append(tree)

        for found in pool.map(one_room, shares):
            outcome |= found
    return outcome


def _judged(tree: Copy, room: Room, mutant: Mutant) -> str:
    by, _ = tree.judge(room, mutant.file, mutant.text, tree.limits.get(room.name, 0))
    sys.stderr.write(f"{by or 'NOBODY':30.30} {mutant.name}\n")
    sys.stderr.flush()
    return by
