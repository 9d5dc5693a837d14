"""The files of one night as they are read: each once, and none from outside its folder.

Keeps account of every file that was looked for, so that whoever watches a night knows what it is
made of, even of what is not there yet.
"""

from __future__ import annotations

import os
from dataclasses import dataclass, field
from pathlib import Path

from setwright.scenes.files import LET_IT_LEAD, LINK_TO_ITSELF, locate, read_source
from setwright.scenes.finding import Finding, Place, Severity, Source
from setwright.scenes.kinds import wrong_kind
from setwright.scenes.records import Record
from setwright.scenes.text import Document, read_document


@dataclass(slots=True)
class Shelf:
    """What was read so far, below ``folder``, which the user calls ``shown``.

    ``lost`` tells that a file which others rest upon could not be read: then nothing can be
    said of the names in them. ``without_songs`` is found of files that list no songs, which is
    worth saying if others do. ``sought`` are all files that were looked for, as `Book` has them.
    """

    folder: Path
    shown: Path
    documents: dict[Path, Document] = field(default_factory=dict)
    lost: bool = False
    without_songs: list[Finding] = field(default_factory=list)
    sought: dict[Path, None] = field(default_factory=dict)

    def read(
        self, name: str, asked_at: Place | None, base: Path, kind: type[Record]
    ) -> Document | Finding:
        """Return the document called ``name`` as seen from folder ``base``, or why not.

        ``kind`` is the record that it has to hold.
        """
        document = self._read(name, asked_at, base)
        if isinstance(document, Finding):
            return document
        wrong = wrong_kind(document.data, kind, name, asked_at, document.spot.place)
        return document if wrong is None else wrong

    def _read(self, name: str, asked_at: Place | None, base: Path) -> Document | Finding:
        self.seek(base / name)
        found = locate(base, name)
        if isinstance(found, Path) and not found.is_relative_to(self.folder):
            found = "this file lies outside the folder of the night"
        if found == LINK_TO_ITSELF:
            return _file_finding("file-unreadable", found, name, asked_at, LET_IT_LEAD)
        if isinstance(found, str):
            return _file_finding("file-outside", found, name, asked_at)
        if found in self.documents:
            return self.documents[found]
        source = read_source(found, self._name(found))
        if isinstance(source, Finding):
            if asked_at is None or not source.code.startswith("file-"):
                return source
            return _file_finding(source.code, source.message, name, asked_at, source.help)
        document = self.documents[found] = read_document(source)
        return document

    def seek(self, path: Path) -> None:
        """Note that a file is looked for, by the name under which it is."""
        named = Path(os.path.normpath(path))
        if named.is_relative_to(self.folder):
            self.sought[self.shown / named.relative_to(self.folder)] = None

    def _name(self, path: Path) -> str:
        return str(self.shown / path.relative_to(self.folder))


def _file_finding(
    code: str, reason: str, name: str, asked_at: Place | None, way_out: str = ""
) -> Finding:
    place = asked_at or Place.at(Source(name, ""), 1, 1, 1, 1)
    way_out = way_out or "name a file in the folder of the night"
    return Finding(code, Severity.ERROR, f"{name}: {reason}", place, way_out)
