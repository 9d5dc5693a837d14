"""Makes `headers.tsv` again from the ABC files.

    python -m tests.oneill.extract [FOLDER] > tests/oneill/headers.tsv

Source: F. O'Neill, O'Neill's Music of Ireland, Chicago 1903; ABC transcription as shipped in the
music21 package, folder corpus/oneills1850. Without FOLDER, that package is looked for (it is not
imported: only its text files are read).

- number: the book's number. The B: field has it ("O'Neill's 1646") where X: is a slip (`X: 0`);
  without a number in B:, X: counts.
- title, also: the first T: field, and the others. Untouched, except that ABC's accents become
  letters.
- meter, key: as our songs files write them. Only the header counts, which ends at the first K:;
  later changes are inside the tune.
- kind: the R: field in small letters, and kind_source is `file`. More than half have no
  R:; they get the section of the book that their number falls into, and kind_source is `section`.
  Meter would be a worse witness: it makes jigs of slow airs in 6/8, and cannot tell a reel from a
  hornpipe.
"""

import argparse
import html
import importlib.util
import re
import sys
import unicodedata
from collections.abc import Iterator, Sequence
from pathlib import Path

from tests.oneill.headers import BETWEEN_TITLES, COLUMNS, Header

Fields = dict[str, list[str]]

# Each section of the book: the last number in it, and what it holds.
SECTIONS = (
    (625, "air"),
    (700, "Carolan piece"),
    (1115, "double jig"),
    (1175, "slip jig"),
    (1555, "reel"),
    (1780, "hornpipe"),
    (1800, "long dance"),
    (1850, "march or other"),
)
# The transcribers wrote one kind in two ways.
KINDS = {"slipjig": "slip jig"}
METERS = {"C": "4/4", "C|": "2/2"}
# ABC reads three letters of a mode, in either case; a lone tonic is major.
MODES = {
    "": "major",
    "maj": "major",
    "ion": "major",
    "m": "minor",
    "min": "minor",
    "aeo": "minor",
    "dor": "dorian",
    "phr": "phrygian",
    "lyd": "lydian",
    "mix": "mixolydian",
    "loc": "locrian",
}
CLEFS = {"treble", "alto", "tenor", "bass"}
# ABC's accents, `\'e`: the mark, and the combining character that Unicode puts after the letter.
MARKS = {"`": "\u0300", "'": "\u0301", "^": "\u0302", "~": "\u0303", '"': "\u0308"}

FIELD = re.compile(r"([A-Za-z]):(.*)")
COMMENT = re.compile(r"(?<!\\)%.*")
ACCENT = re.compile(r"""\\([`'^~"])([A-Za-z])""")


def find_corpus() -> Path | None:
    """Find the folder of the ABC files in the installed package, if there is one."""
    spec = importlib.util.find_spec("music21")
    for place in (spec and spec.submodule_search_locations) or ():
        folder = Path(place, "corpus", "oneills1850")
        if folder.is_dir():
            return folder
    return None


def extract(folder: Path) -> str:
    """Make the whole table, from all .abc files of the folder."""
    headers = [
        read_header(fields)
        for path in sorted(folder.glob("*.abc"))
        for fields in header_fields(decoded(path.read_bytes()))
    ]
    # Sorting is stable: what has the same number stays in the order of files and of lines.
    headers.sort(key=lambda header: header.number)
    rows = [COLUMNS, *map(_row, headers)]
    return "".join("\t".join(row) + "\n" for row in rows)


def decoded(data: bytes) -> str:
    """Decode a file; old ABC collections that are not UTF-8 are Latin-1."""
    try:
        return data.decode("utf-8-sig")
    except UnicodeDecodeError:
        return data.decode("latin-1")


def header_fields(text: str) -> Iterator[Fields]:
    """Yield the header of each tune, from X: to its first K:; pass over the notes."""
    fields: Fields | None = None
    # Not splitlines: it also breaks inside a line, at rarer characters such as U+0085.
    for line in text.split("\n"):
        found = FIELD.match(line)
        if found is None:
            continue
        name, value = found[1], COMMENT.sub("", found[2]).strip()
        if name == "X":
            if fields is not None:  # the tune before never came to its K:
                yield fields
            fields = {}
        if fields is None:
            continue
        fields.setdefault(name, []).append(value)
        if name == "K":
            yield fields
            fields = None
    if fields is not None:
        yield fields


def read_header(fields: Fields) -> Header:
    number = read_number(fields)
    titles = [read_title(value) for value in fields.get("T", ()) if value]
    kind, kind_source = read_kind(_first(fields, "R"), number)
    return Header(
        number=number,
        title=titles[0] if titles else "",
        also=tuple(titles[1:]),
        meter=read_meter(_first(fields, "M")),
        key=read_key(_first(fields, "K")),
        kind=kind,
        kind_source=kind_source,
    )


def read_number(fields: Fields) -> int:
    """Take the book's number, else the file's; 0 where neither is a number."""
    for value in (*fields.get("B", ()), *fields.get("X", ())):
        if found := re.search(r'([0-9]+)"?$', value):
            return int(found[1])
    return 0


def read_title(value: str) -> str:
    letters = ACCENT.sub(
        lambda found: unicodedata.normalize("NFC", found[2] + MARKS[found[1]]), value
    )
    # A tab would be one column more.
    return html.unescape(letters).replace("\t", " ")


def read_meter(value: str) -> str:
    meter = METERS.get(value, value)
    return meter if re.fullmatch(r"[0-9]+/[0-9]+", meter) else ""


def read_key(value: str) -> str:
    found = re.match(r"([A-G][#b]?)(.*)", value)
    if found is None:
        return ""
    words = [word for word in found[2].split() if "=" not in word and word not in CLEFS]
    mode = MODES.get(words[0][:3].lower() if words else "")
    return f"{found[1]} {mode}" if mode else ""


def read_kind(value: str, number: int) -> tuple[str, str]:
    """Tell the kind, and where it comes from."""
    if value:
        kind = " ".join(value.lower().split())
        return KINDS.get(kind, kind), "file"
    for last, kind in SECTIONS:
        if 0 < number <= last:
            return kind, "section"
    return "", ""


def _first(fields: Fields, name: str) -> str:
    return fields.get(name, [""])[0]


def _row(header: Header) -> tuple[str, ...]:
    return (
        str(header.number),
        header.title,
        BETWEEN_TITLES.join(header.also),
        header.meter,
        header.key,
        header.kind,
        header.kind_source,
    )


def main(arguments: Sequence[str] | None = None) -> None:
    parser = argparse.ArgumentParser(
        prog="python -m tests.oneill.extract",
        description="Write the headers of O'Neill's Music of Ireland as a table.",
    )
    parser.add_argument(
        "folder", nargs="?", type=Path, help="the ABC files (else: those of the music21 package)"
    )
    folder: Path | None = parser.parse_args(arguments).folder
    if folder is None:
        folder = find_corpus()
    if folder is None:
        parser.exit(2, "extract: no music21 package here; name the folder instead\n")
    if not any(folder.glob("*.abc")):
        parser.exit(2, f"extract: no .abc files in {folder}\n")
    # Bytes, so that line ends and letters are the same on every system.
    sys.stdout.buffer.write(extract(folder).encode("utf-8"))


if __name__ == "__main__":
    main()
