"""Files written aside and moved into place, so that each is wholly the old or the new one.

Everything is written aside first, in the folder where it belongs, and synced. Only when all of
it lies there, and what users have changed has its second name, are files moved into place, each
in one step. So a full disk changes nothing, and whoever is killed leaves a trace that tells the
next one how far it came.
"""

from __future__ import annotations

import errno
import secrets
from collections.abc import Callable
from functools import partial
from pathlib import Path

from setwright.compiler.outputs import disk
from setwright.compiler.outputs.disk import folders_of, insist, is_below, listed, reason
from setwright.compiler.outputs.manifest import TRACE, Trace
from setwright.compiler.outputs.survey import Problem, Survey

_NOTHING_TO_REMOVE = {errno.ENOENT, errno.ENOTEMPTY, errno.EEXIST, errno.ENOTDIR}
_WAYS_OUT = dict.fromkeys(
    (errno.ENOSPC, errno.EFBIG, getattr(errno, "EDQUOT", -1)),
    "make room on the disk, or name another folder",
) | {
    errno.EACCES: "close it where it is open, or name a folder that you may write into",
    errno.EPERM: "close it where it is open, or name a folder that you may write into",
    errno.EROFS: "name a folder that you may write into",
    errno.ENOTDIR: "name another folder",
    errno.ENAMETOOLONG: "name another folder",
}


class Move:
    """One folder being changed as a survey found necessary; `clean_up` may always follow `run`."""

    def __init__(self, survey: Survey, *, all_or_nothing: bool = False) -> None:
        """Prepare; ``all_or_nothing`` takes files that are new in the folder back on failure."""
        self.survey = survey
        self.all_or_nothing = all_or_nothing
        self.notices: list[str] = []
        self.kept: dict[str, str] = {}
        self.at = ""
        self.doing = "write"
        self._root = survey.root
        self._token = secrets.token_hex(4)
        self._made_folders: list[Path] = []
        self._begun = False

    def run(self) -> None:
        """Do it; OSError or an interrupt may come at any step."""
        survey = self.survey
        self._begun = True
        self._tidy_after_another()
        self._leave_trace()
        self._make_folders()
        for name in survey.changed:
            self.at = name
            disk.write_new(self._aside(name), survey.files[name])
        for name in survey.edited:
            self.at = name
            yours = disk.name_to_keep(self._root / name)
            self.kept[name] = yours.relative_to(self._root).as_posix()
            disk.keep(self._root / name, yours)
        for name in survey.changed:
            self.at = name
            if name == survey.last:
                self._sync_folders()
            self._aside(name).replace(self._root / name)
        disk.sync_folder(self._root)
        self._tidy()

    def _tidy_after_another(self) -> None:
        """Remove what a build that was killed had written aside."""
        left = self.survey.left
        for name in () if left is None else {*left.files, *left.moving}:
            if is_below(self._root, name):
                disk.remove(self._aside(name, left.token if left is not None else ""))

    def _aside(self, name: str, token: str = "") -> Path:
        """Return where a file is written before it is moved into place."""
        path = self._root / name
        return path.with_name(f".{path.name}.{token or self._token}")

    def _make_folders(self) -> None:
        below = {folder for name in self.survey.changed for folder in folders_of(name)}
        for folder in (self._root / one for one in sorted(below)):
            if not folder.exists():
                self._made_folders.append(folder)
                folder.mkdir()

    def _leave_trace(self) -> None:
        survey = self.survey
        files = {name: [one] for name, one in survey.digests.items() if name != survey.last}
        files |= {name: [] for name in survey.no_longer}  # for the sake of their folders
        for name, one in survey.seen.items():
            if name in files and (name in survey.stale or survey.is_left(name)):
                files[name].append(one)
        moving = {name: survey.digests[name] for name in survey.changed}
        trace = Trace(self._token, files, moving, survey.mixed)
        self.at = TRACE
        # Its name aside is always the same: this file is what others are found by.
        aside = self._root / f"{TRACE}.new"
        disk.remove(aside)
        disk.write_new(aside, trace.content())
        aside.replace(self._root / TRACE)
        disk.sync_folder(self._root)

    def _sync_folders(self) -> None:
        changed = self.survey.changed
        for folder in sorted({folder for name in changed for folder in folders_of(name)}):
            disk.sync_folder(self._root / folder)
        disk.sync_folder(self._root)

    def _tidy(self) -> None:
        """Remove what is no longer made, the folders that this leaves empty, and the trace."""
        self.doing = "remove"
        inside = [name for name in self.survey.no_longer if is_below(self._root, name)]
        folders = {folder for name in inside for folder in folders_of(name)}
        steps: list[tuple[str, Callable[[Path], None]]] = [
            (name, Path.unlink) for name in self.survey.no_longer_there()
        ]
        # The innermost folders first; one that holds anything stays.
        steps += [(one, Path.rmdir) for one in sorted(folders, key=len, reverse=True)]
        refused = False
        for name, remove in steps:
            self.at = name
            try:
                remove(self._root / name)
            except OSError as error:
                if error.errno not in _NOTHING_TO_REMOVE:
                    refused = True
                    why = reason(error)
                    self.notices.append(f"{name} of an earlier build could not be removed: {why}")
        if not refused:
            self.at = TRACE
            (self._root / TRACE).unlink(missing_ok=True)

    # Afterwards.

    def clean_up(self) -> None:
        """Remove what was written aside; and the trace, if nothing else was changed."""
        if not self._begun:
            return
        survey = self.survey
        if self.all_or_nothing and self.pending():
            for name in self.new():
                if name not in survey.seen:
                    insist(partial(disk.remove, self._root / name), False)
        new = self.new()
        for name, yours in list(self.kept.items()):
            if name not in new and insist(partial(self._give_back, name, yours), False):
                del self.kept[name]
        for path in (*map(self._aside, survey.changed), self._root / f"{TRACE}.new"):
            insist(partial(disk.remove, path), False)
        for folder in reversed(self._made_folders):
            insist(partial(disk.remove_folder, folder), None)
        if not survey.unfinished and not new and not any(map(Path.exists, self._made_folders)):
            insist(partial(disk.remove, self._root / TRACE), False)

    def _give_back(self, name: str, yours: str) -> bool:
        path = self._root / name
        needed = bool(self.pending()) or path.exists()
        return needed and disk.give_back(path, self._root / yours)

    def new(self) -> list[str]:
        """Return which of the files that had to change are new, by looking at them."""
        return [name for name in self.survey.changed if self._is_new(name)]

    def pending(self) -> list[str]:
        """Return which of the files that had to change are not new."""
        return [name for name in self.survey.changed if not self._is_new(name)]

    def _is_new(self, name: str) -> bool:
        return insist(partial(disk.digest, self._root / name), "") == self.survey.digests[name]

    def gone(self) -> list[str]:
        """Return which files of an earlier build are gone."""
        stale = [(name, self._root / name) for name in self.survey.stale]
        return [name for name, path in stale if insist(partial(disk.kind, path), "") == "nothing"]

    def outcome(self) -> str:
        """Return in words which files are new and which are not."""
        new, pending, gone = self.new(), self.pending(), self.gone()
        if not new and not gone:
            return "nothing was changed"
        if pending:
            return f"new: {listed(new)}; as before: {listed(pending)}"
        old = [name for name in self.survey.stale if name not in gone]
        still = f"; still there from an earlier build: {listed(old)}" if old else ""
        return f"every file is new{still}"


def refusal(doing: str, what: str, error: OSError, outcome: str) -> Problem:
    """Return what the system refused (to ``read``, ``write`` or ``remove``), and what is new."""
    way_out = _WAYS_OUT.get(error.errno or 0, "check the folder and its disk")
    return Problem(f"cannot {doing} {what}: {reason(error)}; {outcome}", way_out)
