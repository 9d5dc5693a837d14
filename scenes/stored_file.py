"""What a switcher holds, read: whether there is such a file, and whether it is this one's."""

from __future__ import annotations

import os
from collections.abc import Callable
from pathlib import Path

from setwright.scenes.finding import Finding, Related, Severity, Source
from setwright.scenes.quantities import quoted
from setwright.scenes.reading import Reading, read_record
from setwright.scenes.stored import FORMAT, Stored
from setwright.scenes.switcher import Switcher
from setwright.scenes.text import Document, read_document


def read_stored(
    there: Path,
    read: Callable[[], Document | Finding],
    switcher: Reading[Switcher],
    text: str | None,
) -> tuple[Reading[Stored] | None, list[Finding]]:
    """Return what the file at ``there`` says, None without one, and what is wrong with it.

    ``read`` reads it; ``text`` is read in its place where there is one.
    """
    if text is None and not os.path.lexists(there):
        return None, []
    document = read() if text is None else read_document(Source(there.name, text))
    if isinstance(document, Finding):
        return None, [document]
    reading = read_record(Stored, document, "stored")
    record, found = reading.record, list(reading.findings)
    if record is None:
        return reading, found
    if record.format is not None and record.format > FORMAT:
        found.append(
            Finding(
                "stored-newer",
                Severity.ERROR,
                f"this file is of format {record.format}, and this Setwright knows {FORMAT}",
                reading.spot.find(("format",)),
                "read it with the Setwright that wrote it, or a later one",
            )
        )
    if switcher.record is not None and record.stored != switcher.record.switcher:
        found.append(
            Finding(
                "stored-of-another",
                Severity.ERROR,
                f"this is what {quoted(record.stored)} holds, and the switcher is called "
                f"{quoted(switcher.record.switcher)}",
                reading.spot.find(("stored",)),
                "write the switcher's name, if it is the same one; or move this file away, and "
                "nothing is known of what it holds",
                (Related("the switcher", switcher.spot.find(("switcher",))),),
            )
        )
    return reading, found
