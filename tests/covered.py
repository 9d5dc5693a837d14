"""Which letters the fonts of printed sheets have, asked of the library that prints with them.

``python -m tests.covered`` prints `setwright.compiler.lettered.RANGES` as these fonts have it, in ten
minutes or so.
The library says of a text only whether it can be shown, so blocks are halved until all of one can.
"""

from __future__ import annotations

import json
import sys
import unicodedata
from collections.abc import Iterable, Iterator, Sequence

from setwright.compiler.outputs import pdf


def is_shown(letters: Iterable[str]) -> bool:
    """Tell whether all of ``letters`` can be printed, each by itself."""
    sources = pdf._sources("paper.typ") | {
        "main": b'#import "paper.typ": *\n#set document(title: "letters")\n'
        # On a page as wide as it takes: where a line of strange letters ends that are read from
        # right to left, the library breaks off.
        b'#set text(font: faces, lang: "en")\n#set page(width: auto)\n#sheet'
    }
    try:
        pdf._compile(sources, json.dumps({"sheet": " ".join(letters)}))
    except RuntimeError as error:
        assert "could not be displayed" in str(error), error
        return False
    return True


def printed_letters() -> Iterator[str]:
    """Yield every letter beyond ASCII that sheets print as it is: no control, nothing unassigned."""
    for number in range(0x80, sys.maxunicode + 1):
        letter = chr(number)
        if letter.isprintable() and unicodedata.normalize("NFC", letter) == letter:
            yield letter


def shown_of(letters: Sequence[str]) -> Iterator[str]:
    """Yield those of ``letters`` that can be shown."""
    if not letters:
        return
    if is_shown(letters):
        yield from letters
    elif len(letters) > 1:
        half = len(letters) // 2
        yield from shown_of(letters[:half])
        yield from shown_of(letters[half:])


def ranges(letters: Iterable[str]) -> Iterator[tuple[int, int]]:
    """Yield first and last of letters that follow one another."""
    first = last = 0
    for number in sorted(map(ord, letters)):
        if number != last + 1:
            if first:
                yield first, last
            first = number
        last = number
    if first:
        yield first, last


def main() -> None:
    every = list(printed_letters())
    blocks = (every[at : at + 128] for at in range(0, len(every), 128))
    # Some marks are shown beside letters of their script, and not by themselves.
    found = [one for block in blocks for one in shown_of(block) if is_shown([one])]
    row = ""
    for first, last in ranges(found):
        word = f"{first:x}" if first == last else f"{first:x}-{last:x}"
        if len(row) + len(word) > 98:
            sys.stdout.write(row.rstrip() + "\n")
            row = ""
        row += word + " "
    sys.stdout.write(row.rstrip() + "\n")


if __name__ == "__main__":
    main()
