"""What stands in a folder before it is written: what has to change, and what must not be touched.

Only looks. Every file that is in the way is one of three: as we left it, and then it may be
replaced; ours but changed since, and then it is kept beside as ``NAME.yours``; or not ours, and
then nothing is written at all. Links are not followed: one that stands where a file belongs is
replaced, one where a folder belongs is refused.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from pathlib import Path
from typing import NamedTuple

from setwright.compiler.outputs.disk import (
    digest,
    folders_of,
    is_below,
    kind,
    named,
    sha256,
)
from setwright.compiler.outputs.manifest import TRACE, Trace, how_far, read_manifest, read_trace


class Problem(NamedTuple):
    """Why files could not be written: one sentence, and what to do."""

    sentence: str
    way_out: str

    def __str__(self) -> str:
        return f"{self.sentence}; {self.way_out}"


def judge_folder(out: Path, sources: Iterable[Path] = ()) -> Path | Problem:
    """Return where ``out`` really is, or why it is no folder to write into.

    ``sources`` are files that must not lie in it.
    """
    shown = named(out)
    if "\0" in str(out):
        return Problem(f"no folder can be called {shown}", "name another folder")
    try:
        root = out.resolve()
    except RuntimeError:  # before Python 3.13: links that lead in a circle
        return Problem(f"{shown} is a link to nowhere", "name another folder")
    there = kind(root)
    if there == "link" or (there == "nothing" and out.is_symlink()):
        return Problem(f"{shown} is a link to nowhere", "name another folder")
    if there not in {"folder", "nothing"}:
        return Problem(f"{shown} is a file, not a folder", "name another folder")
    for source in sources if there == "folder" else ():
        if any(above.exists() and root.samefile(above) for above in _above(source)):
            return Problem(
                f"{shown} holds {named(source)}, and the build reads it",
                "name a folder that holds nothing of the book",
            )
    for above in root.parents:
        inside = root.relative_to(above).as_posix() + "/"
        outer = read_manifest(above)
        if outer is not None and any(name.startswith(inside) for name in outer.files):
            return Problem(
                f"{shown} is a part of the build in {named(above)}",
                "name that folder, or one outside it",
            )
    return root


def _above(source: Path) -> Iterator[Path]:
    """Yield all folders in which a file lies, by the name it was given and where it really is."""
    yield from source.absolute().parents
    yield from source.resolve().parents


class Survey:
    """What `look` found: ``changed`` has to be written, ``stale`` to be removed.

    ``edited`` are those of both that a user has changed; ``no_longer`` are all files of earlier
    builds that are not made any more, whether they are there or not; ``seen`` are the digests
    of what stood there. ``left`` is the trace of a build that was broken off, ``mixed`` tells
    whether that one left files of several.
    """

    def __init__(
        self, out: Path, root: Path, files: Mapping[str, bytes], known: Mapping[str, str], last: str
    ) -> None:
        """Begin to look at ``root``, which the user calls ``out``; OSError: it cannot be read.

        ``known`` are the files that we left there, each with its SHA-256, or with nothing where
        it was changed since; ``last`` is the file that is moved when all others are in place.
        """
        self.out, self.root, self.files, self.last = out, root, files, last
        self.known = known
        self.digests = {name: sha256(content) for name, content in files.items()}
        self.unfinished = kind(root / TRACE) != "nothing"
        self.left: Trace | None = read_trace(root)
        self.mixed = self.left is not None and bool(how_far(root, self.left).state)
        self.seen: dict[str, str] = {}
        self.changed: list[str] = []
        self.edited: list[str] = []
        self.stale: list[str] = []
        self.no_longer: list[str] = []
        self.notices: list[str] = []
        self.at = ""

    def look(self) -> Problem | None:
        """Find out what has to be done, or why it must not be; OSError: it cannot be read."""
        for name in self.files:
            self.at = name
            problem = self._judge(name)
            if problem is not None:
                return problem
        self.changed.sort(key=lambda name: (name == self.last, name))
        self._find_stale()
        self.at = ""
        return None

    def nothing_to_do(self) -> bool:
        """Tell whether all is as it should be."""
        return not self.changed and not self.no_longer_there() and not self.unfinished

    def no_longer_there(self) -> list[str]:
        """Return the files of earlier builds that are in the way: as we left them, or edited."""
        return [name for name in self.no_longer if name in self.stale or name in self.edited]

    def is_left(self, name: str) -> bool:
        """Tell whether a file is as a build made it that was broken off."""
        return self.seen[name] in self.left_files().get(name, ())

    def left_files(self) -> dict[str, list[str]]:
        """Return the digests of the files of builds that were broken off."""
        return self.left.files if self.left is not None else {}

    def shown(self, name: str = "") -> str:
        """Return the folder, or a file in it, as the user named it, quoted."""
        return named(self.out / name)

    def _judge(self, name: str) -> Problem | None:
        """Judge what stands where a file belongs."""
        move = "move it away, or name another folder"
        for folder in folders_of(name):
            there = kind(self.root / folder)
            if there not in {"folder", "nothing"}:
                what = "a link" if there == "link" else "a file"
                return Problem(f"{self.shown(folder)} is {what}, and should be a folder", move)
        there = kind(self.root / name)
        if there == "folder":
            return Problem(f"{self.shown(name)} is a folder, and should be a file", move)
        if there == "other":
            return self._foreign(name)
        if there == "link":
            self.notices.append(f"{name} was a link; what it led to is as it was")
        if there == "file":
            self.seen[name] = digest(self.root / name)
            if self.seen[name] == self.digests[name]:
                return None
            if not self._as_we_left_it(name):
                if name not in self.known and name not in self.left_files():
                    return self._foreign(name)
                self.edited.append(name)
        self.changed.append(name)
        return None

    def _as_we_left_it(self, name: str) -> bool:
        return self.seen[name] == self.known.get(name) or self.is_left(name)

    def _foreign(self, name: str) -> Problem:
        return Problem(
            f"{self.shown(name)} is not from an earlier build, and would be overwritten",
            "move it away, or name another folder",
        )

    def _find_stale(self) -> None:
        """Find what an earlier build made and this one does not."""
        self.no_longer = sorted({*self.known, *self.left_files()} - self.files.keys())
        for name in self.no_longer:
            if is_below(self.root, name) and kind(self.root / name) == "file":
                self.at = name
                self.seen[name] = digest(self.root / name)
                (self.stale if self._as_we_left_it(name) else self.edited).append(name)
