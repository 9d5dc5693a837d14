"""Keeping quiet a library that prints a banner of its own, past Python, when it begins to work."""

from __future__ import annotations

import ctypes
import os
import sys
from collections.abc import Iterator
from contextlib import contextmanager, suppress


@contextmanager
def quiet() -> Iterator[None]:
    """Lead what is written to the process's standard output nowhere, as long as this lasts."""
    with suppress(OSError, ValueError, AttributeError):
        sys.stdout.flush()
    try:
        kept = os.dup(1)
    except OSError:  # it is closed, so nothing is heard anyway
        yield
        return
    nowhere = os.open(os.devnull, os.O_WRONLY)
    try:
        os.dup2(nowhere, 1)
        yield
    finally:
        # What the C library still holds back has to go where it belongs: nowhere.
        with suppress(OSError, AttributeError):
            _c_library().fflush(None)
        os.dup2(kept, 1)
        os.close(kept)
        os.close(nowhere)


def _c_library() -> ctypes.CDLL:
    return ctypes.CDLL("ucrtbase" if sys.platform == "win32" else None)
