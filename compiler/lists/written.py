"""Songs of a list → the two files of a book that hold them: songs, and a night that plays them.

Text that could be taken for anything but text is put between quotes as JSON does it, which is
YAML too (YAML 1.2.2, section 7.3.1 and 1.3). Nothing is written that the list does not say.
"""

from __future__ import annotations

import json
import re
from collections import Counter
from collections.abc import Iterator, Sequence
from typing import Final

from setwright.compiler.lists.listed_song import ListedSong

_PLAIN = re.compile(r"[^\W\d_](?:[\w ,.()/&'’=+-]*[\w.)'’])?")
_CLOCK_OR_METER = re.compile(r"\d+/\d+|\d+(?::\d\d)+", re.ASCII)
_RESERVED: Final = {"true", "false", "null", "yes", "no", "on", "off", "y", "n", "nan", "inf"}
"""Words that some reader of YAML takes for something else than text."""


def scalar(text: str) -> str:
    """Return one line of ``text`` as YAML, between quotes where it needs them."""
    if _CLOCK_OR_METER.fullmatch(text):
        return text
    if _PLAIN.fullmatch(text) and text.lower() not in _RESERVED:
        return text
    return json.dumps(text, ensure_ascii=False)


def identities(songs: Sequence[ListedSong]) -> list[str]:
    """Return the name by which each song is known: its title, or that and a number.

    Songs of one title are numbered from 1; a number that would be somebody's title is left out.
    """
    often = Counter(song.title for song in songs)
    taken = set(often)
    reached: Counter[str] = Counter()
    result = []
    for song in songs:
        name = song.title
        if often[name] > 1:
            while name in taken:
                reached[song.title] += 1
                number = f" {reached[song.title]}"
                name = song.title[: 200 - len(number)] + number
            taken.add(name)
        result.append(name)
    return result


def songs_file(head: str, songs: Sequence[ListedSong]) -> bytes:
    """Return the file of songs: ``head``, then every song in the order of the list."""
    return "\n".join([head, "songs:", *_songs(songs), ""]).encode()


def _songs(songs: Sequence[ListedSong]) -> Iterator[str]:
    titled = [song for song in songs if song.title]
    names = iter(identities(titled))
    for song in songs:
        if not song.title:
            yield "  # A song without a title:"
            yield from (f"  # {one}" for one in song.comments)
            yield ""
            continue
        yield f"  - title: {scalar(song.title)}"
        name = next(names)
        if name != song.title:
            yield f"    id: {scalar(name)}"
        yield from (f"    {key}: {scalar(value)}" for key, value in song.values.items())
        yield from (f"    # {one}" for one in song.comments)
        yield ""


def night_file(head: str, songs: Sequence[ListedSong]) -> bytes:
    """Return the night: ``head``, then one set with every song in the order of the list."""
    titled = [song for song in songs if song.title]
    play = [f"      - {scalar(name)}" for name in identities(titled)]
    return "\n".join([head, "sets:", "  - play:", *play, ""]).encode()
