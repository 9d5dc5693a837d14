"""A list of songs, whatever it is written in: CSV with headings, or tunes in ABC notation."""

from __future__ import annotations

from pathlib import Path

from setwright.compiler.lists.decoding import read_list_source
from setwright.compiler.lists.listed_song import SongList
from setwright.compiler.lists.table import read_table
from setwright.compiler.lists.tune_headers import is_abc, read_tunes
from setwright.scenes.finding import Finding


def read_list(path: Path, name: str) -> SongList:
    """Read the list at ``path``, to be called ``name`` in findings.

    Total. Where nothing can be made of it, there are no songs and one finding says why.
    """
    source = read_list_source(path, name)
    if isinstance(source, Finding):
        return SongList((), (source,))
    return read_tunes(source) if is_abc(source) else read_table(source)
