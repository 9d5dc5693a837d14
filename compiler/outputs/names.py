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

# Names that Windows keeps for devices, with any ending: common practice, no source.
_RESERVED = {"con", "prn", "aux", "nul", *(f"{d}{n}" for d in ("com", "lpt") for n in range(1, 10))}

_SPELT = {
    "ß": "ss",
    "æ": "ae",
    "Æ": "ae",
    "ø": "o",
    "Ø": "o",
    "đ": "d",
    "ð": "d",
    "þ": "th",
    "ł": "l",
}


def ascii_text(text: str) -> str:
    """Return ``text`` in ASCII: accents dropped, typographic marks replaced, the rest as ``?``.

    RP-001 (Standard MIDI Files 1.0) wants ASCII text in meta events.
    """
    for sign, plain in {
        "’": "'", "‘": "'", "“": '"', "”": '"', "–": "-", "—": "-", "…": "...",
        "♭": "b", "♯": "#", "×": "x", "→": "->", " ": " ", **_SPELT,
    }.items():  # fmt: skip
        text = text.replace(sign, plain)
    decomposed = unicodedata.normalize("NFKD", text)
    kept = "".join(c for c in decomposed if not unicodedata.combining(c))
    return "".join(c if " " <= c <= "~" else "?" for c in kept)


def slug(text: str, longest: int = LONGEST) -> str:
    """Return ``text`` as lower-case letters, digits and hyphens, at most ``longest`` bytes.

    Never empty and never a name that a system keeps for itself.
    """
    words = re.findall(r"[a-z0-9]+", ascii_text(text).lower().replace("'", ""))
    result = "-".join(words)[:longest].rstrip("-") or "untitled"[:longest]
    return f"{result[: longest - 1]}-" if result in _RESERVED else result


def stem_of_song(data: NightData, song: SongData) -> str:
    """Return the name of a song's files without ending: ``1-03-haste-to-the-wedding``.

    Set and place count from 1; songs kept for requests have set 0 and are counted apart.
    """
    for set_number, one in enumerate(data.sets, 1):
        if song.number and song.number in one.songs:
            place = one.songs.index(song.number) + 1
            return f"{set_number}-{place:02d}-{slug(song.title, LONGEST - 16)}"
    asked = [other for other in data.songs if not other.number]
    place = next((n for n, other in enumerate(asked, 1) if other == song), len(asked) + 1)
    return f"0-{place:02d}-{slug(song.title, LONGEST - 16)}"


def stem_of_set(number: int, name: str) -> str:
    """Return the name of a set's files without ending: ``set-1-before-soup``."""
    return f"set-{number}-{slug(name, LONGEST - 20)}"
