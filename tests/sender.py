"""A sender in a process of its own: a real port that says what it is told, garbage too.

``python sender.py NAME`` opens a virtual output port of JACK's called NAME and prints ``ready``.
Each line of its input is a packet in hexadecimal, which it sends as it is and then prints; with
``@MS`` in front it waits until so many milliseconds after the last line that had ``@0``. It ends
when its input is closed, and has ``end`` as its last line.

Nothing of the project is imported, and what is sent is not looked at: garbage leaves as garbage.
But python-rtmidi takes a packet of more than three bytes only if it begins with F0, so any other
leaves in pieces of three; and RtMidi's input joins all that comes after an F0 until there is an F7
(measured with python-rtmidi 1.5.8).
"""

from __future__ import annotations

import ctypes
import os
import sys
import time
from collections.abc import Callable
from contextlib import suppress
from importlib import import_module

LINGER = 0.25
"""Seconds between the last packet and the end: the driver sends later than it says."""


def opened(name: str) -> Callable[[bytes], None]:
    """Open the port; return what sends a packet."""
    try:
        rtmidi = import_module("rtmidi")
    except ImportError:
        return _opened_with_the_other(name)
    port = rtmidi.MidiOut(rtmidi.API_UNIX_JACK)
    port.open_virtual_port(name)

    def send(packet: bytes) -> None:
        port.send_message(packet)

    return send


def _opened_with_the_other(name: str) -> Callable[[bytes], None]:
    with suppress(OSError):
        ctypes.CDLL("libjack.so.0", mode=ctypes.RTLD_GLOBAL)
    rtmidi2 = import_module("rtmidi2")
    port = rtmidi2.MidiOut(api=rtmidi2.API_UNIX_JACK)
    port.open_virtual_port(name)

    def send(packet: bytes) -> None:
        port.send_raw(*packet)

    return send


def pieces(packet: bytes) -> list[bytes]:
    """Return ``packet`` as the driver takes it."""
    if packet[:1] == b"\xf0":
        return [packet]
    return [packet[at : at + 3] for at in range(0, len(packet), 3)]


def main() -> None:
    # What the libraries print must not stand among what was sent.
    voice = os.fdopen(os.dup(1), "w", encoding="ascii", buffering=1)
    os.dup2(2, 1)
    send = opened(sys.argv[1])
    print("ready", file=voice)
    began = time.monotonic()
    for line in sys.stdin:
        words = line.split()
        if words and words[0].startswith("@"):
            after = float(words.pop(0)[1:]) / 1000
            began = began if after else time.monotonic()
            due = began + after
            while (left := due - time.monotonic()) > 0:
                time.sleep(max(0.0, left - 0.001))
        for piece in pieces(bytes.fromhex("".join(words))):
            send(piece)
        print(line.strip(), file=voice)
    time.sleep(LINGER)
    print("end", file=voice, flush=True)
    os._exit(0)


if __name__ == "__main__":
    main()
