"""A switcher in a process of its own: it holds presets, and sends one when its switch is pressed.

``python -m tests.switcher NAME PRESETS [PLANTS]`` opens a virtual output port of JACK's called
NAME and prints ``ready``; then each line ``BANK SWITCH`` on its standard input presses that switch,
and the answer is ``sent`` and how many messages went. ``raw HEX`` sends bytes as they are. It ends
when its standard input is closed.

PRESETS is ``preset-sheet.csv`` as a build writes it: whoever types from that sheet has a switcher
that holds this, slot by slot. PLANTS is JSON: ``{"2/2": ["c5 2b", "b8 1c 00"]}`` has other messages
in that preset. Nothing of the compiler is imported. Bytes: MIDI 1.0 Detailed Specification 4.2.1,
Table II (program and control change) and bank select (control 0, then 32, right before its program).
"""

from __future__ import annotations

import csv
import json
import os
import sys
import time
from pathlib import Path

from tests.sender import LINGER, opened

Presets = dict[tuple[str, str], list[bytes]]


def typed_in(path: str) -> Presets:
    """Return what somebody has typed who followed the sheet: programs first, then controls."""
    slots: dict[tuple[str, str], list[tuple[int, int, list[bytes]]]] = {}
    with Path(path).open(encoding="utf-8", newline="") as file:
        for row in csv.DictReader(file):
            if row["what"] not in {"program", "control"} or row["meaning"] == "empty":
                continue
            at = (row["bank"].lstrip("'"), row["switch"].lstrip("'"))
            channel, number = int(row["channel"]) - 1, int(row["on the wire"])
            if row["what"] == "program":
                sends = [
                    bytes((0xB0 | channel, control, int(row[column])))
                    for control, column in ((0, "bank select MSB"), (32, "bank select LSB"))
                    if row[column]
                ]
                slot = (0, int(row["number"]), [*sends, bytes((0xC0 | channel, number))])
            else:
                value = int(row["value"])
                slot = (1, int(row["number"]), [bytes((0xB0 | channel, number, value))])
            slots.setdefault(at, []).append(slot)
    return {at: [one for slot in sorted(rows) for one in slot[2]] for at, rows in slots.items()}


def main() -> None:
    # What the libraries print must not stand among what is said.
    voice = os.fdopen(os.dup(1), "w", encoding="ascii", buffering=1)
    os.dup2(2, 1)
    holds = typed_in(sys.argv[2])
    for place, messages in json.loads(sys.argv[3] if len(sys.argv) > 3 else "{}").items():
        bank, switch = place.split("/")
        holds[bank, switch] = [bytes.fromhex(one) for one in messages]
    send = opened(sys.argv[1])
    print("ready", file=voice)
    for line in sys.stdin:
        words = line.split()
        sends = (
            [bytes.fromhex("".join(words[1:]))]
            if words[0] == "raw"
            else holds.get((words[0], words[1]), [])
        )
        for message in sends:
            send(message)  # no pause: a busy machine would make it a long one
        print(f"sent {len(sends)}", file=voice)
    time.sleep(LINGER)
    os._exit(0)


if __name__ == "__main__":
    main()
