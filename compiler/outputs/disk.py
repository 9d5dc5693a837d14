"""What stands at a path, links not followed, and the single steps of changing it."""

from __future__ import annotations

import errno
import hashlib
import os
import stat
from collections.abc import Callable, Iterator
from contextlib import suppress
from pathlib import Path
from typing import TypeVar

from setwright.scenes.finding import visible

_LARGEST = 256 * 1024 * 1024  # bytes; a whole book of 200 songs takes about 6 MB
_BINARY = getattr(os, "O_BINARY", 0)
# A folder that is a link without being a symbolic one: IO_REPARSE_TAG_MOUNT_POINT in MS-FSCC,
# section 2.1.2.1 (from memory).
_JUNCTION = 0xA0000003

_NOT_FOR_LACK_OF_LINKS = {
    getattr(errno, name, -1)
    for name in ("EEXIST", "ENOSPC", "EDQUOT", "EROFS", "EACCES", "EIO", "ENOENT")
}

_T = TypeVar("_T")


def kind(path: Path) -> str:
    """Return what stands at ``path``, not following a link: file, folder, link, other, nothing."""
    try:
        status = path.lstat()
    except (FileNotFoundError, NotADirectoryError):
        return "nothing"
    if stat.S_ISLNK(status.st_mode) or getattr(status, "st_reparse_tag", 0) == _JUNCTION:
        return "link"
    if stat.S_ISDIR(status.st_mode):
        return "folder"
    return "file" if stat.S_ISREG(status.st_mode) else "other"


def read(path: Path) -> bytes:
    """Return the content of an ordinary file of a sane size; nothing for anything else."""
    if kind(path) != "file" or path.lstat().st_size > _LARGEST:
        return b""
    return path.read_bytes()


def sha256(content: bytes) -> str:
    """Return the SHA-256 (FIPS 180-4) of ``content`` in lower-case hexadecimal."""
    return hashlib.sha256(content).hexdigest()


def digest(path: Path) -> str:
    """Return the SHA-256 of an ordinary file; nothing for anything else."""
    if kind(path) != "file":
        return ""
    with path.open("rb") as file:
        return hashlib.file_digest(file, "sha256").hexdigest()


def folders_of(name: str) -> list[str]:
    """Return the folders on the way to a file, outermost first: ``a/b/c.mid`` → ``a``, ``a/b``."""
    parts = name.split("/")
    return ["/".join(parts[:depth]) for depth in range(1, len(parts))]


def is_below(root: Path, name: str) -> bool:
    """Tell whether no link on the way from ``root`` to a file leads elsewhere."""
    return {kind(root / folder) for folder in folders_of(name)} <= {"folder", "nothing"}


def write_new(path: Path, content: bytes) -> None:
    """Write a file that is not there yet, down to the disk."""
    handle = os.open(path, os.O_WRONLY | os.O_CREAT | os.O_EXCL | _BINARY, 0o666)
    try:
        rest = memoryview(content)
        while rest:
            rest = rest[os.write(handle, rest) :]
        os.fsync(handle)
    finally:
        os.close(handle)


def sync_folder(folder: Path) -> None:
    """Bring a folder's names down to the disk, where the system can: else it does so later."""
    with suppress(OSError):
        handle = os.open(folder, os.O_RDONLY)
        try:
            os.fsync(handle)
        finally:
            os.close(handle)


def name_to_keep(path: Path) -> Path:
    """Return the name beside a file under which it can be kept: one that nothing has yet.

    A name that holds the same content already will do.
    """
    mine = digest(path)
    return next(one for one in kept_names(path) if kind(one) == "nothing" or digest(one) == mine)


def kept_names(path: Path) -> Iterator[Path]:
    """Yield the names for what a user made of a file: ``NAME.yours``, ``NAME.yours.2`` and on."""
    yield path.with_name(f"{path.name}.yours")
    number = 2
    while True:
        yield path.with_name(f"{path.name}.yours.{number}")
        number += 1


def is_kept_name(name: str) -> bool:
    """Tell whether ``name`` is one of those that `kept_names` gives."""
    last = name.casefold().split("/")[-1]
    stem, _, number = last.rpartition(".")
    return last.endswith(".yours") or (stem.endswith(".yours") and number.isdigit())


def keep(path: Path, yours: Path) -> None:
    """Give a file a second name, unless that is there already.

    Where a disk knows no second names (POSIX.1-2017, link: EPERM and others), the file is moved
    to it.
    """
    if kind(yours) != "nothing":
        return
    try:
        os.link(path, yours)
    except OSError as error:
        if error.errno in _NOT_FOR_LACK_OF_LINKS:
            raise
        path.rename(yours)


def give_back(path: Path, yours: Path) -> bool:
    """Undo `keep`, where a file still has both names or nothing stands under its own."""
    if kind(path) == "nothing":
        yours.rename(path)
    elif kind(yours) != "nothing" and path.samefile(yours):
        yours.unlink()
    return kind(yours) == "nothing"


def remove(path: Path) -> bool:
    """Remove a file of ours; return whether it was there and the system let us."""
    try:
        path.unlink()
    except OSError:
        return False
    return True


def remove_folder(folder: Path) -> None:
    """Remove a folder if it is empty."""
    with suppress(OSError):  # something else is in it
        folder.rmdir()


def insist(step: Callable[[], _T], otherwise: _T) -> _T:
    """Do a step of tidying up even if the user goes on interrupting; ``otherwise`` if it fails."""
    for _ in range(20):
        try:
            return step()
        except KeyboardInterrupt:
            continue
        except OSError:
            break
    return otherwise


def named(name: object) -> str:
    """Return a path or name for a sentence, quoted; whole, for its end matters most."""
    return f"‘{visible(str(name))}’"


def listed(names: list[str]) -> str:
    """Return some names in words, the first few of many."""
    shown, more = names[:6], len(names) - 6
    return ", ".join(shown) + (f" and {more} more" if more > 0 else "")


def reason(error: Exception) -> str:
    """Return why the system refused, in its own words."""
    return (getattr(error, "strerror", None) or str(error) or "no reason given").lower()
