"""Which files of a book were saved, and when something may have been.

What was saved is told by looking at the files of the book themselves, whatever woke us: so nothing
that else happens in their folders counts. Folders are watched and not files, for editors save by
putting another file under the name.
"""

from __future__ import annotations

import os
import time
from collections.abc import Callable, Generator, Iterable, Mapping
from pathlib import Path
from typing import NamedTuple

from setwright.scenes.finding import visible

AT_LEAST_EVERY = 1.0
"""Seconds after which the files are looked at even where the system tells of nothing."""

WITHOUT_HELP_EVERY = 0.5
"""Seconds between two looks where the system cannot tell of changes."""

PAUSE = 0.05
"""Seconds between two looks while somebody may still be writing."""

# In looks: how often a book has to be the same to be taken for saved; how often where a file is
# gone or empty that was not (in the middle of a save it is, for a moment); and how many at most.
_QUIET, _QUIET_IF_LACKING, _MOST = 3, 20, 100

_TICK = 20_000_000  # ns; more than a system takes between two of its ticks (from memory)

_GROUP, _STEP = 400, 50  # ms: in which the library gathers changes


class Stamp(NamedTuple):
    """What tells one state of a file from another without reading it."""

    mode: int
    device: int
    inode: int
    size: int
    modified: int


Stamps = Mapping[Path, Stamp | None]

NO_STAMP = Stamp(0, 0, 0, 0, 0)
"""No file has this one, so that a file which is said to have it differs."""


def look(paths: Iterable[Path]) -> Stamps:
    """Return the stamp of each file, links followed; None for what cannot be found."""
    return {path: _stamp(path) for path in paths}


def _stamp(path: Path) -> Stamp | None:
    try:
        found = path.stat()
    except (OSError, ValueError):
        return None
    return Stamp(found.st_mode, found.st_dev, found.st_ino, found.st_size, found.st_mtime_ns)


def touched_since(path: Path, when: int) -> bool:
    """Tell whether a file may have been saved or put in its place since ``when``, in ns.

    Times of files are those of the last tick of the system's clock.
    """
    try:
        found = path.stat()
    except (OSError, ValueError):
        return False
    return max(found.st_mtime_ns, found.st_ctime_ns) >= when - _TICK


def settled(before: Stamps, look: Callable[[], Stamps], pause: Callable[[], None]) -> Stamps:
    """Return how the files are when nobody writes any more, who were as ``before`` when last read.

    Waits, look by look, until they stay the same; longer where one is gone or empty that was not.
    Somebody who never ends is waited for a while.
    """
    now, same = look(), 0
    for _ in range(_MOST):
        if same >= (_QUIET_IF_LACKING if _lacks(before, now) else _QUIET):
            break
        pause()
        later = look()
        same = same + 1 if later == now else 0
        now = later
    return now


def _lacks(before: Stamps, now: Stamps) -> bool:
    def has(stamp: Stamp | None) -> bool:
        return stamp is not None and stamp.size > 0

    return any(has(stamp) and not has(now.get(path)) for path, stamp in before.items())


def what_happened(before: Stamps, now: Stamps) -> str:
    """Return in words which files were saved, are gone and are there: nothing if none."""
    changed = [path for path, stamp in before.items() if now.get(path) != stamp]
    gone = [path for path in changed if now.get(path) is None]
    new = [path for path in changed if before[path] is None]
    saved = [path for path in changed if path not in gone and path not in new]
    parts = (
        (saved, "was saved", "were saved"),
        (new, "is there now", "are there now"),
        (gone, "is gone", "are gone"),
    )
    return "; ".join(
        f"{_and(some)} {one if len(some) == 1 else many}" for some, one, many in parts if some
    )


def _and(paths: list[Path]) -> str:
    names = [visible(str(path)) for path in paths]
    return " and ".join([", ".join(names[:-1]), names[-1]] if names[1:] else names)


def folders_of(paths: Iterable[Path]) -> dict[Path, tuple[int, int]]:
    """Return the folders in which these files are or would be, and which folders those are.

    Where there is no such folder yet, it is the nearest above; where a file is a link, the folder
    that it leads to counts too. Each comes with its device and inode: another may take its name.
    """
    found: dict[Path, tuple[int, int]] = {}
    for path in paths:
        for one in (path.absolute(), Path(os.path.realpath(path))):
            for folder in one.parents:
                stamp = _stamp(folder)
                if stamp is not None:
                    found[folder] = (stamp.device, stamp.inode)
                    break
    return found


class Waker:
    """Waits until something may have changed where the files of a book lie.

    Where the system or its library cannot tell, ``say`` is told so in one sentence, once, and the
    files are looked at twice a second instead.
    """

    def __init__(self, say: Callable[[str], None]) -> None:
        self._say = say
        self._folders: dict[Path, tuple[int, int]] = {}
        self._changes: Generator[object, None, None] | None = None
        self._helpless = False

    def wait(self, paths: Iterable[Path]) -> None:
        """Return when something may have changed, or a second has gone by."""
        if self._helpless:
            time.sleep(WITHOUT_HELP_EVERY)
            return
        folders = folders_of(paths)
        try:
            if self._changes is None or folders != self._folders:
                self.close()
                self._folders, self._changes = folders, _changes_in(folders)
            next(self._changes)
        except FileNotFoundError:  # a folder went away at this moment
            self._changes = None
            time.sleep(PAUSE)
        except ImportError as error:
            self._do_without(f"the library watchfiles cannot be loaded: {error.msg}")
        except (OSError, RuntimeError, StopIteration) as error:
            self._do_without(getattr(error, "strerror", None) or str(error) or "no reason given")

    def close(self) -> None:
        """Let the folders go."""
        if self._changes is not None:
            self._changes.close()
        self._changes = None

    def _do_without(self, why: str) -> None:
        self._changes = None
        self._helpless = True
        self._say(
            f"the system does not tell when a file is saved ({visible(why.lower())}); "
            "the files are looked at twice a second instead"
        )


def _changes_in(folders: Iterable[Path]) -> Generator[object, None, None]:
    """Yield whenever something happens in these folders, but not below, or a second has gone by."""
    from watchfiles import watch

    return watch(
        *folders,
        watch_filter=None,
        debounce=_GROUP,
        step=_STEP,
        rust_timeout=int(AT_LEAST_EVERY * 1000),
        yield_on_timeout=True,
        recursive=False,
    )
