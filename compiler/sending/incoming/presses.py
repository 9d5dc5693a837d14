"""What is heard while a night is played → presses, each with the presets that may have been meant.

Unlike an audit this is no judge: a preset is known by its messages, whatever else the cable carries
(a clock, an expression pedal, a keyboard), and one that was typed with one slip is still known by
the rest of them.
"""

from __future__ import annotations

from collections.abc import Iterator
from fractions import Fraction
from typing import NamedTuple

from setwright.compiler.sending.incoming.bursts import Burst, Bursts, parted
from setwright.compiler.sending.incoming.expected import Expected, Tonight
from setwright.compiler.sending.incoming.heard_preset import exactly, in_words, nearest

_CONTROL = 0xB0  # MIDI 1.0 Detailed Specification 4.2.1, Table I


class Press(NamedTuple):
    """A preset was pressed: one of ``presets``, which all send what was ``heard``.

    ``unlike`` says in words where they send one thing otherwise. Without presets, none of tonight
    sends this, nor anything near it.
    """

    presets: tuple[Expected, ...]
    heard: tuple[bytes, ...]
    unlike: str = ""


class Presses:
    """Collects messages into presses; ``gap`` is the switcher's own pause between two, in ms."""

    def __init__(self, night: Tonight, gap: Fraction = Fraction(0)) -> None:
        self._night = night
        self._bursts = Bursts(gap)
        self._kinds = {_kind(message) for one in night.presets for message in one.messages}

    def message(self, at: float, data: bytes) -> Iterator[Press]:
        """Take one whole channel message; yield what was pressed before it.

        What no preset sends, whatever its value, goes by unnoticed.
        """
        if _kind(data) in self._kinds:
            burst = self._bursts.message(at, data)
            if burst is not None:
                yield from self._told_apart(burst)

    def ended(self, now: float) -> Iterator[Press]:
        """Yield what was pressed, if that is over by ``now``."""
        burst = self._bursts.ended(now)
        if burst is not None:
            yield from self._told_apart(burst)

    def left(self, now: float) -> float | None:
        """Return the seconds until a press is over if nothing more comes; None without one."""
        return self._bursts.left(now)

    def _told_apart(self, burst: Burst) -> Iterator[Press]:
        presets = self._night.presets
        for part in parted(burst, lambda one: bool(exactly(one, presets)), self._bursts.gap):
            heard = part.messages
            if not exactly(heard, presets):
                # A pedal that moves meanwhile, or alone, has pressed nothing.
                heard = tuple(one for one in heard if not self._is_of_pedal(one))
            exact = exactly(heard, presets) if heard else ()
            if exact:
                yield Press(exact, heard)
            elif heard:
                yield self._nearly(heard)

    def _is_of_pedal(self, message: bytes) -> bool:
        channel = (message[0] & 0x0F) + 1
        return message[0] & 0xF0 == _CONTROL and (channel, message[1]) in self._night.pedals

    def _nearly(self, heard: tuple[bytes, ...]) -> Press:
        """Return the presets that differ in one thing alone, and have something in common."""
        near = [
            one
            for one in nearest(heard, self._night.presets)
            if len(one.differences) == 1
            and len(one.preset.commands) > (one.differences[0].wanted is not None)
        ]
        if not near:
            return Press((), heard)
        unlike = in_words(near[0].differences[0], self._night.programs)
        return Press(tuple(one.preset for one in near), heard, unlike)


def _kind(message: bytes) -> bytes:
    """Return what messages that set the same thing have in common: status, and which control."""
    return message[:2] if message[0] & 0xF0 == _CONTROL else message[:1]
