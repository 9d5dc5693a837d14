"""Which incoming messages step on: what a foot presses on a MIDI pedal or another box.

Without a word, every note on, program change and control of 64 or more does. A word chooses:
``control 64``, ``program 3 channel 2``, ``note``.
"""

from __future__ import annotations

import re
from typing import NamedTuple

from setwright.compiler.midi import FIRST_MODE_MESSAGE, Message
from setwright.compiler.sending.incoming.decode import Decoder
from setwright.compiler.sending.port.problem import Problem
from setwright.scenes.quantities import quoted

PRESSED = 64
"""From here on a control means on (MIDI 1.0 Detailed Specification 4.2.1, switch controls)."""

_KINDS = {"note": "note on", "control": "control", "cc": "control", "program": "program"}
_WRITTEN = re.compile(r"(note|control|cc|program)(?:\s+(\d{1,4}))?(?:\s+channel\s+(\d{1,4}))?")
_WAY_OUT = "write control 64, program 3, note 60 or note, with channel 2 behind it if it matters"


class Trigger(NamedTuple):
    """What a message has to be to step; None where it does not matter. ``channel`` is 1 to 16."""

    kind: str | None = None
    number: int | None = None
    channel: int | None = None

    def fits(self, message: Message) -> bool:
        """Tell whether ``message`` is a press of this one."""
        if message.kind not in _KINDS.values() or self.kind not in {None, message.kind}:
            return False
        if self.number not in {None, message.data[0]}:
            return False
        if self.channel not in {None, message.channel}:
            return False
        if message.kind == "note on":
            return message.data[1] > 0  # velocity 0 is a note off (note on)
        if message.kind == "control":
            return message.data[0] < FIRST_MODE_MESSAGE and message.data[1] >= PRESSED
        return True


ANY = Trigger()


def parse_trigger(text: str) -> Trigger | Problem:
    """Return what ``text`` means: ``control 64``, ``program 3 channel 2``, ``note``."""
    match = _WRITTEN.fullmatch(" ".join(text.lower().split()))
    if match is None:
        return Problem(
            "not-a-trigger", f"{quoted(text)} is no message that could step on", _WAY_OUT
        )
    kind = _KINDS[match[1]]
    number = None if match[2] is None else int(match[2])
    channel = None if match[3] is None else int(match[3])
    most = FIRST_MODE_MESSAGE - 1 if kind == "control" else 127
    if number is not None and number > most:
        return Problem(
            "trigger-out-of-range",
            f"{quoted(text)}: there is no {match[1]} {number}",
            f"write 0 to {most}, as it goes over the wire",
        )
    if channel is not None and not 1 <= channel <= 16:
        return Problem(
            "trigger-out-of-range",
            f"{quoted(text)}: there is no channel {channel}",
            "write 1 to 16",
        )
    return Trigger(kind, number, channel)


class Feet:
    """Listens for presses in a stream of bytes as it comes, in whatever pieces."""

    def __init__(self, on: Trigger = ANY, back: Trigger | None = None) -> None:
        self._on, self._back = on, back
        self._decoder = Decoder()

    def steps(self, at: float, packet: bytes) -> list[str]:
        """Return what the next bytes of the stream do, which came ``at``: ``next`` or ``back``."""
        found = []
        for one in self._decoder.feed(at, packet):
            message = one.voice
            if message is None:
                continue
            if self._back is not None and self._back.fits(message):
                found.append("back")
            elif self._on.fits(message):
                found.append("next")
        return found
