"""File names that every system can hold: ASCII, short, none reserved, none alike.

A name begins with the song's set and place in it, so that folders sort in playing order, and
ends with a slug of its title.
"""

from __future__ import annotations

import re
import unicodedata

from setwright.compiler.outputs.data import NightData, SongData

LONGEST = 60
"""Bytes of a file name with its ending."""

# Names that one system keeps for devices, with any ending: common practice, no source.
_RESERVED = {"con", "prn", "aux", "nul", *(f"{d}{n}" for d in ("com", "lpt") for n in range(10))}

_PLAIN = re.compile(r"[A-Za-z0-9_-]+(\.[A-Za-z0-9_-]+)*")

# What has no decomposition in Unicode, spelt as it usually is: common practice, no source.
_SPELT = str.maketrans({
    "’": "'", "‘": "'", "“": '"', "”": '"', "–": "-", "—": "-", "…": "...",
    "♭": "b", "♯": "#", "×": "x", "→": "->",
    "ß": "ss", "ẞ": "SS", "æ": "ae", "Æ": "Ae", "œ": "oe", "Œ": "Oe", "ø": "o", "Ø": "O",
    "đ": "d", "Đ": "D", "ð": "d", "Ð": "D", "þ": "th", "Þ": "Th", "ł": "l", "Ł": "L", "ı": "i",
})  # fmt: skip


def ascii_text(text: str) -> str:
    """Return ``text`` in ASCII: accents dropped, typographic marks replaced, the rest as ``?``.

    RP-001 (Standard MIDI Files 1.0) wants ASCII text in meta events.
    """
    decomposed = unicodedata.normalize("NFKD", text)
    bare = "".join(c for c in decomposed if not unicodedata.combining(c))
    return "".join(c if " " <= c <= "~" else "?" for c in bare.translate(_SPELT))


def slug(text: str, longest: int = LONGEST) -> str:
    """Return ``text`` as lower-case letters, digits and hyphens, at most ``longest`` bytes.

    Never empty and never a name that a system keeps for itself.
    """
    words = re.findall(r"[a-z0-9]+", ascii_text(text).lower().replace("'", ""))
    result = "-".join(words)[:longest].rstrip("-") or "untitled"[:longest]
    return f"{result[: longest - 1]}-" if result in _RESERVED else result


def is_safe(name: str) -> bool:
    """Tell whether ``name`` is a path below a folder, with ``/``, that every system can hold.

    No part of it leads out of the folder, is hidden, or is a name that a system keeps for
    itself.
    """
    return all(
        _PLAIN.fullmatch(part) is not None and part.split(".")[0].casefold() not in _RESERVED
        for part in name.split("/")
    )


def stem_of_song(data: NightData, song: SongData) -> str:
    """Return the name of a song's files without ending: ``1-03-haste-to-the-wedding``.

    Set and place count from 1; songs kept for requests have set 0 and are counted apart. No two
    songs of a night have the same name, and they sort in playing order.
    """
    sets, places = len(str(len(data.sets))), max(2, len(str(len(data.songs))))
    set_number, place = 0, 0
    for number, one in enumerate(data.sets, 1):
        if song.number and song.number in one.songs:
            set_number, place = number, one.songs.index(song.number) + 1
    if not set_number:
        asked = [other for other in data.songs if not other.number]
        place = next((n for n, other in enumerate(asked, 1) if other is song), len(asked) + 1)
    return f"{set_number:0{sets}d}-{place:0{places}d}-{slug(song.title, LONGEST - 16)}"


def stem_of_set(number: int, name: str) -> str:
    """Return the name of a set's files without ending: ``set-1-before-soup``."""
    return f"set-{number}-{slug(name, LONGEST - 20)}"
