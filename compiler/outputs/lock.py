"""One at a time in a folder: a lock that the system lets go of when its holder ends, however.

The lock is on a file in the folder (flock on Unix, a locked byte on Windows), never the file's
mere presence: one that a crash left behind keeps nobody out, and the next turn removes it.
"""

from __future__ import annotations

import errno
import os
import sys
import time
from functools import partial
from pathlib import Path

from setwright.compiler.outputs.disk import insist, kind, remove, remove_folder

LOCK = ".setwright-lock"
"""The name of the file; it is there only while somebody has a turn."""
PATIENCE = 10.0
"""Seconds for which one waits for another, who takes a fraction of one."""
_PAUSE = 0.05  # seconds
# Some network disks have no locks: there the folder is written without one.
_NO_LOCKS = {getattr(errno, name, -1) for name in ("ENOLCK", "ENOTSUP", "EOPNOTSUPP", "ENOSYS")}
_FLAGS = os.O_RDWR | os.O_CREAT | getattr(os, "O_NOFOLLOW", 0)


class Turn:
    """The right to change a folder, which is made if it is not there; `release` ends it."""

    def __init__(self, folder: Path) -> None:
        self._folder = folder
        self._file = folder / LOCK
        self._handle: int | None = None
        self._made: list[Path] = []
        self._asked = False

    def take(self) -> bool:
        """Wait for the turn; return False if another has it and does not end.

        OSError: the folder cannot be made, or nothing be written there.
        """
        deadline = time.monotonic() + PATIENCE
        while not self._try():
            if time.monotonic() > deadline:
                return False
            time.sleep(_PAUSE)
        return True

    def _try(self) -> bool:
        for above in (*reversed(self._folder.parents), self._folder):
            if not above.exists():
                self._made.append(above)
                try:
                    above.mkdir()
                except FileExistsError:  # another made it meanwhile
                    self._made.pop()
        if kind(self._file) == "link":
            self._file.unlink()  # what it leads to is none of ours
        self._asked = True
        try:
            self._handle = os.open(self._file, _FLAGS, 0o666)
        except FileNotFoundError:  # who had the turn took the folder away again
            return False
        # The file that is locked must be the one that the next who comes will find.
        if _locked(self._handle) and self._is_there():
            return True
        self._close()
        return False

    def _is_there(self) -> bool:
        assert self._handle is not None
        try:
            return os.path.samestat(os.fstat(self._handle), self._file.lstat())
        except OSError:
            return False

    def release(self) -> None:
        """Let the next one in; folders that were made and stayed empty go."""
        if self._asked and self._handle is None:
            # Interrupted between opening the file and knowing its handle, or turned away.
            insist(self._try, False)
        if self._handle is not None:
            try:
                gone = insist(partial(remove, self._file), False)
            finally:
                self._close()
            if not gone:  # Windows removes nothing that is open
                insist(partial(remove, self._file), False)
        for folder in reversed(self._made):
            insist(partial(remove_folder, folder), None)

    def _close(self) -> None:
        if self._handle is not None:
            insist(partial(os.close, self._handle), None)
        self._handle = None


def _locked(handle: int) -> bool:
    """Tell whether the file is ours now; it stays so until it is closed or we end."""
    try:
        if sys.platform == "win32":
            import msvcrt

            msvcrt.locking(handle, msvcrt.LK_NBLCK, 1)
        else:
            import fcntl

            fcntl.flock(handle, fcntl.LOCK_EX | fcntl.LOCK_NB)
    except OSError as error:
        return error.errno in _NO_LOCKS
    return True
