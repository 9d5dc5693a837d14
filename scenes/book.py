"""The whole book of a night: every file read, checked for its names, and put together.

`open_night` is the only door. It returns what could be read together with all findings and
never raises for what files can hold.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, field
from functools import partial
from pathlib import Path

from setwright.scenes import merge
from setwright.scenes.files import locate
from setwright.scenes.finding import Finding, Place, Severity
from setwright.scenes.night import Night, Playing
from setwright.scenes.places import KeyPath, Spot
from setwright.scenes.reading import Reading, read_record
from setwright.scenes.records import Record
from setwright.scenes.rig import Rig
from setwright.scenes.shelf import Shelf
from setwright.scenes.songs import Song, SongBook
from setwright.scenes.stored import Stored, stored_name
from setwright.scenes.stored_file import read_stored
from setwright.scenes.switcher import Switcher
from setwright.scenes.text import Document

DEEPEST_INCLUDE = 32
"""Files that may include one another in a row; nobody keeps track of more than a few."""


@dataclass(slots=True)
class Book:
    """Night, rig, switcher and songs with their places.

    ``broken`` holds the key paths that were left out because of a finding, ``faulty`` the
    parts (night, rig, switcher, songs) with a slip that may hide more than itself, ``removed``
    what was left out of the songs. ``by_name``, filled by `identities`, finds songs by id or
    title, ``of_title`` all songs of a title that means several. ``files`` are the real paths of
    all that was read; ``overruled`` what included files say of the rig and the including one says
    otherwise. ``stored`` is what the switcher holds, ``stored_at`` where that is said. ``sought``
    are all files that were looked for, there or not, below the night's folder as it was typed.
    """

    night: Night
    rig: Rig
    switcher: Switcher
    song_book: SongBook
    spot: Spot
    broken: frozenset[KeyPath] = frozenset()
    by_name: dict[str, Song] = field(default_factory=dict)
    of_title: dict[str, list[Song]] = field(default_factory=dict)
    faulty: frozenset[str] = frozenset()
    removed: list[tuple[KeyPath, object]] = field(default_factory=list)
    files: tuple[Path, ...] = ()
    overruled: tuple[tuple[KeyPath, Spot], ...] = ()
    stored: Stored | None = None
    stored_at: Path | None = None
    sought: tuple[Path, ...] = ()
    _below: dict[KeyPath, dict[str | int, None]] | None = None

    @property
    def songs(self) -> list[Song]:
        """All songs of the book, in the order of the files."""
        return self.song_book.songs

    def place(self, path: KeyPath) -> Place:
        """Return the place of the value at ``path``."""
        return self.spot.find(path)

    def place_of_key(self, path: KeyPath) -> Place:
        """Return the place of the key at the end of ``path``."""
        return self.spot.find_key(path)

    def is_broken(self, path: KeyPath) -> bool:
        """Tell whether ``path`` or something above it was left out because of a finding."""
        return any(path[:length] in self.broken for length in range(1, len(path) + 1))

    def leave_out(self, *paths: KeyPath) -> None:
        """Note that ``paths`` are not to be spoken of again: what is wrong there was found."""
        self.broken |= set(paths)
        self._below = None

    def broken_below(self, path: KeyPath) -> Iterable[str | int]:
        """Return the steps from ``path`` that lead to something left out, each once."""
        if self._below is None:
            self._below = {}
            for broken in sorted(self.broken, key=repr):
                for length, step in enumerate(broken):
                    self._below.setdefault(broken[:length], {})[step] = None
        return self._below.get(path, ())

    def has_broken(self, path: KeyPath) -> bool:
        """Tell whether ``path`` or something below it was left out because of a finding."""
        return path in self.broken or bool(self.broken_below(path))

    def played(self) -> Iterator[Playing]:
        """Yield every song of the sets in playing order."""
        for one in self.night.sets:
            yield from one.play


@dataclass(slots=True)
class Opened:
    """What `open_night` found: the book, if all four parts of it can be used, and findings.

    ``unreadable`` tells that the night's own file could not be opened at all; ``sought`` is what
    `Book` says of it.
    """

    book: Book | None
    findings: list[Finding]
    unreadable: bool = False
    sought: tuple[Path, ...] = ()


def open_night(path: Path, stored: Mapping[Path, str] | None = None) -> Opened:
    """Read the night at ``path`` with its rig, switcher and songs.

    ``stored`` holds texts to read in place of the files of what switchers hold. What names within
    songs and rig mean is for later phases (`scenes.resolve`, `compiler.binding.target`).
    """
    try:
        folder = path.parent.resolve()
    except (OSError, RuntimeError, ValueError):
        folder = path.parent
    shelf = Shelf(folder, path.parent)
    opened = _open(shelf, path.name, stored or {})
    opened.sought = tuple(shelf.sought)
    if opened.book is not None:
        opened.book.sought = opened.sought
    return opened


def _open(shelf: Shelf, name: str, stored: Mapping[Path, str]) -> Opened:
    top = shelf.read(name, None, shelf.folder, Night)
    if isinstance(top, Finding):
        return Opened(None, [top], unreadable=top.code.startswith("file-"))
    night = read_record(Night, top, "night")
    findings = night.findings
    if night.record is None:
        return Opened(None, findings)
    rig = _read_rig(shelf, night, findings)
    songs = _read_songs(shelf, night, findings)
    switcher = _read_switcher(shelf, night, rig, findings)
    held, at = _read_stored(shelf, rig, switcher, findings, stored)
    if rig is None or songs is None or switcher is None or shelf.lost or rig.record is None:
        return Opened(None, findings)
    if songs.record is None or switcher.record is None:
        return Opened(None, findings)
    readings = (night, rig, songs, switcher, *((held,) if held else ()))
    spot = Spot(night.spot.source, night.spot.start, night.spot.end)
    spot.entries = {reading.root: reading.spot for reading in readings}
    spot.keys = {}
    book = Book(night.record, rig.record, switcher.record, songs.record, spot)
    book.stored, book.stored_at = None if held is None else held.record, at
    book.removed = songs.removed
    book.files = tuple(shelf.documents)
    book.overruled = tuple(rig.overruled)
    book.faulty = frozenset(
        reading.root
        for reading in readings
        if any(finding.severity is Severity.ERROR for finding in reading.findings)
    )
    book.broken = frozenset().union(*(reading.broken for reading in readings))
    return Opened(book, findings)


def _read_songs(
    shelf: Shelf, night: Reading[Night], findings: list[Finding]
) -> Reading[SongBook] | None:
    assert night.record is not None
    whole: Document | None = None
    if not night.record.songs and ("night", "songs") not in night.broken:
        findings.append(
            Finding(
                "nothing-to-play",
                Severity.ERROR,
                "this night names no file of songs",
                night.spot.find_key(("songs",)),
                "write the name of the file after songs:",
            )
        )
    for index, name in enumerate(night.record.songs):
        document = _gather(
            shelf, name, night.spot.find(("songs", index)), shelf.folder, findings, (), SongBook
        )
        if document is None:
            return None
        if whole is None:
            whole = document
        elif document is not whole:
            merge.append(whole, document)
    if whole is None or (shelf.lost and not whole.data):
        return None
    reading = read_record(SongBook, whole, "songs")
    findings += reading.findings
    if reading.record is not None and reading.record.songs:
        findings += shelf.without_songs
    return reading


def _read_rig(shelf: Shelf, night: Reading[Night], findings: list[Finding]) -> Reading[Rig] | None:
    assert night.record is not None
    document = _gather(
        shelf, night.record.rig, night.spot.find(("rig",)), shelf.folder, findings, (), Rig
    )
    if document is None or (shelf.lost and not document.data):
        return None
    reading = read_record(Rig, document, "rig")
    findings += reading.findings
    if reading.record is not None and reading.record.switcher is None:
        if ("rig", "switcher") not in reading.broken and not shelf.lost:
            findings.append(
                Finding(
                    "missing-key",
                    Severity.ERROR,
                    "this rig has no ‘switcher’",
                    reading.spot.find_key(("rig",)),
                    "add switcher: and the name of its file",
                )
            )
        return None
    return reading


def _read_switcher(
    shelf: Shelf,
    night: Reading[Night],
    rig: Reading[Rig] | None,
    findings: list[Finding],
) -> Reading[Switcher] | None:
    if rig is None or rig.record is None or rig.record.switcher is None:
        return None
    at = rig.spot.find(("switcher", "file"))
    base = (shelf.folder / Path(at.source.name).relative_to(shelf.shown)).parent
    document = shelf.read(rig.record.switcher.file, at, base, Switcher)
    if isinstance(document, Finding):
        findings.append(document)
        return None
    reading = read_record(Switcher, document, "switcher")
    findings += reading.findings
    return reading


def _read_stored(
    shelf: Shelf,
    rig: Reading[Rig] | None,
    switcher: Reading[Switcher] | None,
    findings: list[Finding],
    texts: Mapping[Path, str],
) -> tuple[Reading[Stored] | None, Path | None]:
    if rig is None or rig.record is None or rig.record.switcher is None or switcher is None:
        return None, None
    asked_at = rig.spot.find(("switcher", "file"))
    base = (shelf.folder / Path(asked_at.source.name).relative_to(shelf.shown)).parent
    at = base / stored_name(rig.record.switcher.file)
    shelf.seek(at)
    read = partial(shelf.read, at.name, asked_at, base, Stored)
    reading, found = read_stored(at, read, switcher, texts.get(at))
    findings += found
    return reading, at


def _no_songs(document: Document) -> Finding:
    return Finding(
        "file-without-songs",
        Severity.WARNING,
        "this file lists no songs",
        document.spot.find_key(("songs",)),
        "write them here, or delete the line",
    )


def _gather(
    shelf: Shelf,
    name: str,
    asked_at: Place,
    base: Path,
    findings: list[Finding],
    above: tuple[Path, ...],
    kind: type[Record],
) -> Document | None:
    """Read the file ``name`` and all that it includes as one document.

    ``above`` are the files whose inclusion led here, ``kind`` is the record that all of them
    hold: with rigs the including file wins over the included one, songs are appended.
    """
    document = shelf.read(name, asked_at, base, kind)
    if isinstance(document, Finding):
        findings.append(document)
        return None
    if not isinstance(document.data, dict):
        return document
    if "include" not in document.data:
        if kind is SongBook and document.data.get("songs") == []:
            shelf.without_songs.append(_no_songs(document))
        return document
    here = shelf.folder / Path(document.spot.source.name).relative_to(shelf.shown)
    wanted = document.data["include"]
    names = [wanted] if isinstance(wanted, str) else wanted
    if not isinstance(names, list) or not all(isinstance(one, str) for one in names):
        return document  # the record's own check says what is wrong with it
    del document.data["include"]
    chain = (*above, here)
    for index, inner in enumerate(names):
        at = document.spot.find(("include", index))
        if not inner.strip():
            findings.append(
                Finding(
                    "empty-value",
                    Severity.ERROR,
                    "nothing stands here",
                    at,
                    "write the name of a file to include, or delete the line",
                )
            )
            continue
        found = locate(here.parent, inner)
        if found in chain:
            findings.append(
                Finding(
                    "include-cycle",
                    Severity.ERROR,
                    f"{inner} includes itself"
                    if found == here
                    else f"{inner} is the very file that leads to this include",
                    at,
                    "delete one of the two includes",
                )
            )
            continue
        if len(chain) >= DEEPEST_INCLUDE:
            shelf.lost = True
            findings.append(
                Finding(
                    "include-too-deep",
                    Severity.ERROR,
                    f"{inner} is included by a file that is included, and so on, "
                    f"{len(chain)} files deep",
                    at,
                    "let the first file include all the others itself",
                )
            )
            continue
        seen_before = found in shelf.documents
        other = _gather(shelf, inner, at, here.parent, findings, chain, kind)
        if other is None:
            shelf.lost = True
        elif kind is Rig:
            merge.underlay(document, other, kind)
        elif not seen_before:
            merge.append(document, other)
    return document
