"""A switcher in a process of its own: it holds presets, and sends one when its switch is pressed.

``python switcher.py NAME PRESETS [PLANTS]`` opens a virtual output port of JACK's called NAME and
prints ``ready``; then each line ``BANK SWITCH`` on its standard input presses that switch, and the
answer is ``sent`` and how many messages went. ``raw HEX`` sends bytes as they are. It ends when its
standard input is closed.

PRESETS is ``preset-sheet.csv`` as a build writes it: whoever types from that sheet has a switcher
that holds this, slot by slot. PLANTS is JSON: ``{"2/2": ["c5 2b", "b8 1c 00"]}`` has other messages
in that preset. Nothing of the project is imported. Bytes: MIDI 1.0 Detailed Specification 4.2.1,
Table II (program and control change) and bank select (control 0, then 32, right before its program).
"""

from __future__ import annotations

import csv
import ctypes
import json
import os
import sys
import time
from collections.abc import Callable
from contextlib import suppress
from importlib import import_module
from pathlib import Path

GAP = 0.001
"""Seconds from message to message: a line of 31.25 kbaud takes 0.96 ms for three bytes."""

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


def open_port(name: str) -> tuple[Callable[[bytes], object], Callable[[], object]]:
    """Open the port; return what sends bytes, and what closes it."""
    with suppress(OSError):
        ctypes.CDLL("libjack.so.0", mode=ctypes.RTLD_GLOBAL)
    try:
        rtmidi = import_module("rtmidi")
    except ImportError:
        rtmidi2 = import_module("rtmidi2")
        other = rtmidi2.MidiOut(api=rtmidi2.API_UNIX_JACK)
        other.open_virtual_port(name)
        return lambda data: other.send_raw(*data), other.close_port
    port = rtmidi.MidiOut(rtmidi.API_UNIX_JACK)
    port.open_virtual_port(name)
    return lambda data: port.send_message(list(data)), port.close_port


def main() -> None:
    # What the libraries print must not stand among what is said.
    voice = os.fdopen(os.dup(1), "w", encoding="ascii", buffering=1)
    os.dup2(2, 1)
    holds = typed_in(sys.argv[2])
    for place, messages in json.loads(sys.argv[3] if len(sys.argv) > 3 else "{}").items():
        bank, switch = place.split("/")
        holds[bank, switch] = [bytes.fromhex(one) for one in messages]
    send, close = open_port(sys.argv[1])
    print("ready", file=voice)
    for line in sys.stdin:
        words = line.split()
        sends = (
            [bytes.fromhex("".join(words[1:]))]
            if words[0] == "raw"
            else holds.get((words[0], words[1]), [])
        )
        for message in sends:
            send(message)
            time.sleep(GAP)
        print(f"sent {len(sends)}", file=voice)
    time.sleep(0.2)
    close()
    os._exit(0)


if __name__ == "__main__":
    main()
