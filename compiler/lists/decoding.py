"""Bytes of a list → text: the encodings in which other programs save lists.

UTF-8 and UTF-16 with a byte-order mark (The Unicode Standard, section 23.8); UTF-8 without one;
and whatever is not UTF-8 is Windows code page 1252, if it can be (Unicode Consortium,
VENDORS/MICSFT/WINDOWS/CP1252.TXT: five bytes stand for nothing). Printable Latin-1 is part of it.
"""

from __future__ import annotations

from pathlib import Path

from setwright.scenes.files import LARGEST_FILE, read_bytes
from setwright.scenes.finding import Finding, Place, Severity, Source

_AS_CSV = "save the list as CSV in UTF-8, and name that file"


def read_list_source(path: Path, name: str) -> Source | Finding:
    """Read the list at ``path``, to be called ``name``: its text, or why it cannot be read."""
    content = read_bytes(path, name, LARGEST_FILE + 1)
    if isinstance(content, Finding):
        return content
    if len(content) > LARGEST_FILE:
        return too_large(name, f"this file is larger than {LARGEST_FILE // 1024 // 1024} MB")
    wide = content.startswith((b"\xff\xfe", b"\xfe\xff"))
    if b"\0" in content and not wide:
        return _no_text(name)
    text = _decoded(content, ("utf-16",) if wide else ("utf-8", "cp1252"))
    if text is None:
        return Finding(
            "wrong-encoding",
            Severity.ERROR,
            "this file is saved neither as UTF-8 nor in another encoding that is known here",
            start_of(name),
            _AS_CSV,
        )
    if "\0" in text:
        return _no_text(name)
    return Source(name, text)


def _no_text(name: str) -> Finding:
    return Finding("not-text", Severity.ERROR, "this is not a text file", start_of(name), _AS_CSV)


def too_large(name: str, what: str) -> Finding:
    """Return the finding of a list that is more than a book may hold."""
    return Finding(
        "file-too-large",
        Severity.ERROR,
        f"{what}, so it is no list of songs for a night",
        start_of(name),
        "name the right file, or leave only the songs in it that you play",
    )


def start_of(name: str) -> Place:
    """Return the place of a whole file."""
    return Place.at(Source(name, ""), 1, 1, 1, 1)


def _decoded(content: bytes, encodings: tuple[str, ...]) -> str | None:
    for encoding in encodings:
        try:
            return content.decode(encoding)
        except UnicodeDecodeError:
            continue
    return None
