"""The sheets as PDF: what is taped to the floor, laid on the amplifier, given to the band."""

from __future__ import annotations

from collections.abc import Iterator
from typing import NamedTuple

from setwright.compiler.outputs import cues, preset_sheet
from setwright.compiler.outputs.data import NightData
from setwright.compiler.outputs.drawings.drawn import drawings_of
from setwright.compiler.outputs.pdf import NoPrinterError, printed
from setwright.scenes.wording import number_of


class Paper(NamedTuple):
    """Files by name, and what there is to say of them, one sentence each."""

    files: dict[str, bytes]
    notices: tuple[str, ...]


def paper_files(data: NightData, paper: str = "a4") -> Paper:
    """Return every sheet of ``data`` as PDF; none, and why, where nothing can make them.

    ``paper`` is one of `setwright.compiler.outputs.pdf.PAPERS`. The same data gives the same
    bytes.
    """
    files: dict[str, bytes] = {}
    lacking: set[str] = set()
    try:
        for name, template, values in _sheets(data):
            made = printed(template, values, paper=paper)
            files[name] = made.pdf
            lacking |= set(made.lacking)
    except NoPrinterError as error:
        return Paper({}, (f"no sheet is made as PDF: {error}; those for a browser are there",))
    return Paper(files, tuple(_notices(lacking)))


def _sheets(data: NightData) -> Iterator[tuple[str, str, dict[str, object]]]:
    """Yield the name of each sheet, its template, and what stands on it."""
    sheet = cues.sheet_of(data)
    cards = [*(card for one in sheet.sets for card in one.songs), *sheet.asked]
    cue: dict[str, object] = {
        "sheet": sheet,
        "sight": data.sight.model_dump(),
        "assumed": any(press.assumed for card in cards for press in card.presses),
    }
    yield "cue-sheet-floor.pdf", "floor.typ", cue
    yield "cue-sheet-strip.pdf", "strip.typ", cue
    yield "cue-sheet-beside.pdf", "beside.typ", cue
    yield "band-list.pdf", "band.typ", cue
    typed: dict[str, object] = {
        "sheet": preset_sheet.sheet_of(data),
        "drawings": [
            {**drawing._asdict(), "svg": drawing.svg.encode("utf-8")}
            for drawing in drawings_of(data)
        ],
    }
    yield "preset-sheet.pdf", "preset-sheet.typ", typed | {"form": "typing"}
    yield "preset-sheet-by-bank.pdf", "preset-sheet.typ", typed | {"form": "full"}


def _notices(lacking: set[str]) -> Iterator[str]:
    if lacking:
        signs = ", ".join(f"{one} (\\u{{{ord(one):x}}})" for one in sorted(lacking)[:10])
        more = f" and {len(lacking) - 10} more" if len(lacking) > 10 else ""
        count = number_of(len(lacking), "letter")
        yield (
            f"the sheets as PDF show {count} by number, for their fonts have none in such a place: "
            f"{signs}{more}; those for a browser show them"
        )
