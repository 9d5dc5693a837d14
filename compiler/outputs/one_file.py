"""One file of the user's exchanged for another version of it: wholly, or not at all."""

from __future__ import annotations

from collections.abc import Callable
from contextlib import suppress
from pathlib import Path

from setwright.compiler.outputs.disk import kind, sync_folder, write_new
from setwright.compiler.outputs.lock import Turn
from setwright.compiler.outputs.moving import refusal
from setwright.compiler.outputs.survey import Problem

ASIDE = ".setwright-new"
"""What is added to a file's name while its next version is written beside it."""


def exchange(path: Path, change: Callable[[bytes], bytes | Problem]) -> Problem | None:
    """Write what ``change`` makes of the bytes at ``path`` (none without a file) in their place.

    Nobody else changes it meanwhile. What is there afterwards is the old version or the new one,
    whenever it is cut short.
    """
    turn = Turn(path.parent)
    try:
        if not turn.take():
            return Problem(
                f"another setwright is writing beside {path.name}; nothing was changed",
                "wait until it has ended, and try again",
            )
        return _exchange(path, change)
    except OSError as error:
        return refusal("write", str(path), error, "nothing was changed")
    finally:
        turn.release()


def _exchange(path: Path, change: Callable[[bytes], bytes | Problem]) -> Problem | None:
    # A link is followed, so that the file that it leads to is changed, and stays linked.
    there = path.resolve() if kind(path) == "link" else path
    before = there.read_bytes() if there.exists() else b""
    after = change(before)
    if isinstance(after, Problem):
        return after
    if after == before:
        return None
    aside = there.with_name(there.name + ASIDE)
    with suppress(FileNotFoundError):
        aside.unlink()  # of a run that was cut short
    try:
        write_new(aside, after)
        if there.exists():
            aside.chmod(there.stat().st_mode & 0o777)
        aside.replace(there)
    except BaseException:
        with suppress(OSError):
            aside.unlink()
        raise
    sync_folder(there.parent)
    return None
