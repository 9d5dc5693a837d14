"""A receiver in a process of its own: a real port, and a decoder that shares no code with ours.

``python receiver.py NAME`` opens a virtual input port of JACK's called NAME, prints ``ready``,
then for each packet that arrives its bytes in hexadecimal, two spaces, and what they say. It
ends when its standard input is closed, with ``end`` as its last line.

Decoder: MIDI 1.0 Detailed Specification 4.2.1, Table I (summary of status bytes) and Table II
(channel voice messages). Nothing of the project is imported, and nothing is filtered out.
"""

from __future__ import annotations

import ctypes
import os
import sys
from collections.abc import Callable
from contextlib import suppress
from importlib import import_module


def words(packet: bytes) -> str:
    """Say what ``packet`` is; anything but one whole channel message is said to be odd."""
    if not packet:
        return "odd: empty"
    high, channel = packet[0] & 0b1111_0000, (packet[0] & 0b1111) + 1
    if packet[0] < 0b1000_0000:
        return "odd: data without a status"
    if high == 0b1111_0000:
        return "odd: a system message"
    if any(byte & 0b1000_0000 for byte in packet[1:]):
        return "odd: a status among the data"
    match high, tuple(packet[1:]):
        case 0b1011_0000, (number, value):
            return f"channel {channel} control {number} value {value}"
        case 0b1100_0000, (number,):
            return f"channel {channel} program {number}"
        case _:
            return "odd: neither a control nor a program"


def listen(name: str, heard: Callable[[bytes], None]) -> Callable[[], None]:
    """Open the port; return what closes it."""
    try:
        rtmidi = import_module("rtmidi")
    except ImportError:
        return _listen_with_the_other(name, heard)
    port = rtmidi.MidiIn(rtmidi.API_UNIX_JACK)
    port.ignore_types(False, False, False)
    port.set_callback(lambda event, data: heard(bytes(event[0])))
    port.open_virtual_port(name)

    def close() -> None:
        # The callback first: it must not be called while the port goes away.
        port.cancel_callback()
        port.close_port()

    return close


def _listen_with_the_other(name: str, heard: Callable[[bytes], None]) -> Callable[[], None]:
    with suppress(OSError):
        ctypes.CDLL("libjack.so.0", mode=ctypes.RTLD_GLOBAL)
    rtmidi2 = import_module("rtmidi2")
    port = rtmidi2.MidiIn(api=rtmidi2.API_UNIX_JACK)
    port.ignore_types(midi_sysex=False, midi_time=False, midi_sense=False)
    port.callback = lambda message, time: heard(bytes(message))
    port.open_virtual_port(name)

    def close() -> None:
        port.callback = None
        port.close_port()

    return close


def main() -> None:
    # What the libraries print must not stand among what was received.
    voice = os.fdopen(os.dup(1), "w", encoding="ascii", buffering=1)
    os.dup2(2, 1)
    close = listen(
        sys.argv[1], lambda packet: print(f"{packet.hex(' ')}  {words(packet)}", file=voice)
    )
    print("ready", file=voice)
    sys.stdin.read()
    close()
    print("end", file=voice, flush=True)
    os._exit(0)


if __name__ == "__main__":
    main()
