"""Reading files safely: only ordinary text files, of a sane size, inside the book's folder.

Runs first. Guarantees that whatever comes out is decoded text without control characters;
everything else is one finding. No file is opened that could block (pipes, devices) or that
lies outside the folder of the night once links are followed.
"""

from __future__ import annotations

import errno
import os
import re
import stat
from pathlib import Path

from setwright.scenes.finding import Finding, Place, Severity, Source

LARGEST_FILE = 8 * 1024 * 1024
"""Bytes; a book of 2,000 songs takes 1.3 MB, so a larger file is something else."""

LINK_TO_ITSELF = "this is a link that leads back to itself"
LET_IT_LEAD = "let the link lead to the file, or put the file in its place"

# What YAML 1.2.2 section 5.1 does not count as printable, U+FEFF within the text, and U+0085,
# U+2028 and U+2029, at which YAML 1.1 and so the C parser breaks lines and YAML 1.2 does not.
UNPRINTABLE = re.compile(
    "[\0-\x08\x0b\x0c\x0e-\x1f\x7f-\x9f\u2028\u2029\ud800-\udfff\ufeff\ufffe\uffff]"
)


def read_source(path: Path, name: str) -> Source | Finding:
    """Read the file at ``path``, to be called ``name`` in findings.

    Returns the decoded text, or one finding that says why it cannot be read: missing, not an
    ordinary file, too large, unreadable, wrongly encoded, binary. Never blocks.
    """
    content = read_bytes(path, name, LARGEST_FILE + 1)
    if isinstance(content, Finding):
        return content
    if len(content) > LARGEST_FILE:
        return _whole(
            name,
            "file-too-large",
            f"this file is larger than {LARGEST_FILE // 1024 // 1024} MB, so it is no book of ours",
            "name the right file, or split the book with include:",
        )
    return _decode(content, name)


def read_bytes(path: Path, name: str, most: int) -> bytes | Finding:
    """Return up to ``most`` bytes of an ordinary file, or the finding that says why not.

    A byte-order mark at the beginning is left out. Never blocks.
    """
    try:
        # Without O_NONBLOCK the opening of a pipe that nobody writes to would wait for ever.
        handle = os.open(path, os.O_RDONLY | getattr(os, "O_NONBLOCK", 0) | _BINARY)
    except FileNotFoundError:
        return _whole(name, "file-missing", "there is no such file", "check the name and folder")
    except OSError as error:
        if error.errno == errno.ELOOP:
            return _whole(name, "file-unreadable", LINK_TO_ITSELF, LET_IT_LEAD)
        return _whole(name, "file-unreadable", _reason(error), "check the file's permissions")
    except ValueError:
        return _whole(name, "file-missing", "no file can have this name", "check the name")
    try:
        # A folder cannot be made a file object of, so its kind is asked for first.
        mode = os.fstat(handle).st_mode
        if not stat.S_ISREG(mode):
            os.close(handle)
            kind = "a folder" if stat.S_ISDIR(mode) else "not an ordinary file"
            return _whole(name, "file-unreadable", f"this is {kind}", "name a text file")
        with os.fdopen(handle, "rb") as file:
            return file.read(most + len(_MARK)).removeprefix(_MARK)[:most]
    except OSError as error:
        return _whole(name, "file-unreadable", _reason(error), "check the file and its disk")


_BINARY = getattr(os, "O_BINARY", 0)
_MARK = b"\xef\xbb\xbf"  # the byte-order mark of UTF-8


def locate(folder: Path, text: str) -> Path | str:
    """Return the real path of the file that a book names as ``text``, seen from ``folder``.

    Returns a sentence instead where the name leads out of the folder. Real paths are compared,
    so a link cannot lead out either.
    """
    try:
        real = (folder / text).resolve()
        inside = real.is_relative_to(folder.resolve())
    except (OSError, ValueError, RuntimeError) as error:
        # Up to Python 3.12 a circle of links is a RuntimeError; later the opening fails.
        is_circle = isinstance(error, RuntimeError) or getattr(error, "errno", 0) == errno.ELOOP
        return LINK_TO_ITSELF if is_circle else "no file can have this name"
    if Path(text).is_absolute() or not inside:
        return "this file lies outside the folder of the night"
    return real


def _decode(content: bytes, name: str) -> Source | Finding:
    if content.startswith((b"\xff\xfe", b"\xfe\xff")):
        return _whole(
            name, "wrong-encoding", "this file is saved as UTF-16", "save it again as UTF-8"
        )
    try:
        text = content.decode("utf-8")
    except UnicodeDecodeError as error:
        good = content[: error.start].decode("utf-8")
        source = Source(name, content.decode("utf-8", "replace"))
        if b"\0" in content:
            return _whole(name, "not-text", "this is not a text file", "name a text file")
        return Finding(
            "wrong-encoding",
            Severity.ERROR,
            f"the byte {content[error.start]:#04x} stands where UTF-8 text should be",
            _place(source, good, 1),
            "save the file again as UTF-8",
        )
    if odd := UNPRINTABLE.search(text):
        code = ord(odd.group())
        return Finding(
            "not-text" if code == 0 else "control-character",
            Severity.ERROR,
            f"an invisible character (U+{code:04X}) stands in the text",
            _place(Source(name, text), text[: odd.start()], 1),
            "delete it; if the file looks wrong altogether, it is not a text file",
        )
    return Source(name, text)


def _place(source: Source, before: str, length: int) -> Place:
    """Return the place ``length`` characters long that follows the text ``before``."""
    lines = Source("", before).lines
    line, column = len(lines), len(lines[-1]) + 1
    return Place.at(source, line, column, line, column + length)


def _whole(name: str, code: str, message: str, way_out: str) -> Finding:
    return Finding(
        code,
        Severity.ERROR,
        message,
        Place.at(Source(name, ""), 1, 1, 1, 1),
        way_out,
    )


def _reason(error: OSError) -> str:
    return (error.strerror or "it cannot be read").lower()
