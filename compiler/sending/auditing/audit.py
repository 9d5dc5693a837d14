"""An audit of the switcher: each preset is pressed, heard, and ticked, or its mistakes are named.

This room keeps what was heard and what is believed of it; it opens no port and prints nothing. What
it says are lines, for whoever listens to them.
"""

from __future__ import annotations

from collections.abc import Iterator
from enum import StrEnum
from typing import NamedTuple

from setwright.compiler.lowering.preset import Address
from setwright.compiler.sending.auditing.foot_ways import Taken, Walk, in_order
from setwright.compiler.sending.incoming.bursts import Burst, parted
from setwright.compiler.sending.incoming.expected import Expected, Tonight
from setwright.compiler.sending.incoming.heard_preset import Difference, differences, in_words
from setwright.scenes.quantities import quoted
from setwright.scenes.wording import number_of

CLOSE = 0.25
"""How much dearer another reading may be that the player is asked about (`walk` has the costs)."""
CHOICES = 4


class Verdict(StrEnum):
    """What is known of a preset."""

    RIGHT = "right"
    DIFFERS = "differs"
    DOUBTED = "in doubt"
    NOT_PRESSED = "not pressed"
    NOT_HEARD = "cannot be heard"


class Judged(NamedTuple):
    """A preset, what is known of it, and in what it differs if it does."""

    preset: Expected
    verdict: Verdict
    differences: tuple[Difference, ...] = ()


class Audit:
    """One audit. ``gap`` is the switcher's own pause between messages, in seconds."""

    def __init__(self, tonight: Tonight, gap: float = 0.0) -> None:
        self.tonight, self._gap = tonight, gap
        self.presets = tonight.presets
        self._sends = [one.messages for one in self.presets]
        self._agreed = False
        """Whether the press before the last was told and not asked about."""
        self._walk = Walk(self._sends, self._apart)
        self._heard: list[tuple[bytes, ...]] = []
        self._shown: tuple[Taken, ...] = ()
        self._choices: tuple[int, ...] = ()
        self._answers = False
        """Whether the player says something at all."""
        self._open = False
        """Whether something may be said of the last press."""

    def _apart(self, preset: int, heard: tuple[bytes, ...]) -> int:
        return len(differences(self.presets[preset].commands, heard))

    @property
    def audible(self) -> int:
        """How many presets send something, so that they can be heard."""
        return sum(map(bool, self._sends))

    @property
    def judged(self) -> tuple[Judged, ...]:
        """What is known of every preset, in the order of banks and switches."""
        taken = self._walk.taken
        doubts = in_order(taken, self._sends).doubts
        verdicts: dict[int, Verdict] = {}
        heard: dict[int, tuple[bytes, ...]] = {}
        for number, one in enumerate(taken):
            if not one.right:
                verdicts[one.preset] = Verdict.DIFFERS
            elif number not in doubts:
                verdicts[one.preset] = Verdict.RIGHT
            elif verdicts.get(one.preset) is not Verdict.RIGHT:
                verdicts[one.preset] = Verdict.DOUBTED
            heard[one.preset] = self._heard[number]
        return tuple(
            Judged(
                preset,
                verdict := verdicts.get(at, _unheard(preset)),
                differences(preset.commands, heard[at]) if verdict is Verdict.DIFFERS else (),
            )
            for at, preset in enumerate(self.presets)
        )

    def having(self, verdict: Verdict) -> tuple[Judged, ...]:
        """Return the presets of which this is known."""
        return tuple(one for one in self.judged if one.verdict is verdict)

    @property
    def complete(self) -> bool:
        """Whether all that can be heard was heard and is right."""
        return all(one.verdict in {Verdict.RIGHT, Verdict.NOT_HEARD} for one in self.judged)

    @property
    def proven(self) -> tuple[Address, ...]:
        """Where the presets lie whose messages were heard to be right, beyond doubt."""
        return tuple(one.preset.address for one in self.having(Verdict.RIGHT))

    def hear(self, burst: Burst) -> Iterator[str]:
        """Take a burst, and yield what there is to say."""
        known = set(self._sends)
        for press in parted(burst, lambda messages: messages in known, self._gap):
            yield from self._press(press)

    def _press(self, burst: Burst) -> Iterator[str]:
        kept = tuple(one for one in burst.messages if not self._is_pedal(one) or self._is_sent(one))
        if burst.spoilt:
            yield f"not understood ({', '.join(dict.fromkeys(burst.spoilt))}): press it once more"
            return
        if not kept:
            return
        self._agreed = len(self._choices) < 2
        self._walk.press(kept, agreed=self._agreed and self._answers)
        self._heard.append(kept)
        self._open = True
        yield from self._told()

    def _is_pedal(self, message: bytes) -> bool:
        controls = self.tonight.pedals
        return message[0] >> 4 == 0xB and ((message[0] & 15) + 1, message[1]) in controls

    def _is_sent(self, message: bytes) -> bool:
        return any(message[:2] == one[:2] for sends in self._sends for one in sends)

    def _told(self) -> Iterator[str]:
        """Yield the lines of the last press, with those of earlier ones that are read anew."""
        before, taken = self._shown, self._walk.taken
        self._shown = taken
        for number, (was, now) in enumerate(zip(before, taken[:-1], strict=False)):
            if was == now:
                continue
            yield f"so what was heard as {self._label(was)} was {self._label(now)}"
            if not (was.right and now.right):
                yield from self._verdict(number)
        last = len(taken) - 1
        yield from self._verdict(last)
        self._choices = () if taken[last].said else tuple(self._rivals(taken))
        if len(self._choices) > 1:
            yield "  which was it? type its number, or go on"
            for number, preset in enumerate(self._choices, 1):
                yield f"    {number}: {self.presets[preset].label}{self._as_what(preset)}"
            yield "    0: none of them; it was no press of a preset"

    def _rivals(self, taken: tuple[Taken, ...]) -> Iterator[int]:
        """Yield what the last press may have been, what is believed first."""
        *earlier, one = taken
        others = [
            other.preset for other in self._walk.others(CLOSE) if not (other.right and one.right)
        ]
        expected = self._walk.expected
        if one.right:
            others += self._mended(one.preset)
            orderly = in_order(earlier, self._sends).goes_on
            if orderly and expected is not None and self._sends[expected] != self._heard[-1]:
                others.append(expected)
        elif earlier and not earlier[-1].right:
            others.append(earlier[-1].preset)
        yield one.preset
        yield from list(dict.fromkeys(other for other in others if other != one.preset))[:CHOICES]

    def _mended(self, preset: int) -> Iterator[int]:
        """Yield what differed and should send the same: it may be mended and pressed again."""
        for at, one in enumerate(self.judged):
            same = self._sends[at] == self._sends[preset]
            if one.verdict is Verdict.DIFFERS and same and at != preset:
                yield at

    def _as_what(self, preset: int) -> str:
        apart = self._apart(preset, self._heard[-1])
        return f", {number_of(apart, 'mistake')}" if apart else ", as it should be"

    def _label(self, one: Taken) -> str:
        return self.presets[one.preset].label

    def _verdict(self, number: int) -> Iterator[str]:
        """Yield what is known by a press."""
        one = self._shown[number]
        preset = self.presets[one.preset]
        if not one.right:
            yield f"{preset.label}: differs"
            for difference in differences(preset.commands, self._heard[number]):
                yield f"  {in_words(difference, self.tonight.programs)}"
            return
        line, expected = f"{preset.label}: right", self._walk.expected
        if number == len(self._shown) - 1 and expected not in {None, one.preset} and not one.said:
            same = self._sends.count(preset.messages)
            line += f", or another of {same} that send the same" if same > 1 else ""
            line += f"; {self.presets[expected].label} was next"
        yield f"{line} ({len(self.proven)} of {self.audible})"

    def answer(self, text: str) -> Iterator[str]:
        """Take what the player says of the last press: a choice's number, or bank and switch."""
        typed, self._answers = text.strip(), True
        if not self._open:
            yield "nothing was heard that this could be about: press a switch first"
            return
        if typed == "0":
            self._walk.say(None)
            self._heard.pop()
            self._shown, self._choices, self._open = self._walk.taken, (), False
            yield "left out"
            return
        preset = self._meant(typed)
        if preset is None:
            number = f"a number up to {len(self._choices)}, " if len(self._choices) > 1 else ""
            yield (
                f"{quoted(typed)} is none of tonight's presets: type {number}bank and switch as "
                f"in {self.presets[0].shown}, list, or quit"
            )
            return
        # Who corrects this one had nothing to say of the one before, unless that was asked.
        self._walk.say(preset, agreed=self._agreed)
        yield from self._told()

    def _meant(self, typed: str) -> int | None:
        if len(self._choices) > 1 and typed.isdecimal() and 1 <= int(typed) <= len(self._choices):
            return self._choices[int(typed) - 1]
        return next(
            (
                at
                for at, one in enumerate(self.presets)
                if one.shown.replace(" ", "").casefold() == typed.replace(" ", "").casefold()
            ),
            None,
        )


def _unheard(preset: Expected) -> Verdict:
    return Verdict.NOT_PRESSED if preset.commands else Verdict.NOT_HEARD
