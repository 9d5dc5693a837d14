"""Which preset sent what was heard: those that hold exactly this, or the nearest, and what differs.

A difference is one thing that somebody typed: a number, a value, a channel, a message too many, one
that is missing, or two that changed places. Each has one sentence.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from enum import StrEnum
from typing import NamedTuple

from setwright.compiler.binding.described import in_words as described
from setwright.compiler.lowering.commands import Command
from setwright.compiler.midi import BANK_MSB, Message, decode, encode
from setwright.compiler.sending.incoming.expected import Expected


class What(StrEnum):
    """What differs."""

    PROGRAM = "program"
    VALUE = "value"
    FINE = "fine part"
    BANK = "bank select"
    CONTROL = "control"
    CHANNEL = "channel"
    MISSING = "missing"
    EXTRA = "extra"
    ORDER = "order"


class Difference(NamedTuple):
    """One difference: what was wanted, and what came.

    ``wanted`` is None for a message too many, ``came`` where nothing came.
    """

    what: What
    wanted: Command | None
    came: Message | None


class Near(NamedTuple):
    """A preset, and all in which what was heard differs from it; nothing where it is exact."""

    preset: Expected
    differences: tuple[Difference, ...]


def exactly(heard: Sequence[bytes], presets: Iterable[Expected]) -> tuple[Expected, ...]:
    """Return the presets that send exactly ``heard``: whole messages, in this order."""
    asked = tuple(heard)
    return tuple(one for one in presets if one.messages == asked)


def nearest(heard: Sequence[bytes], presets: Iterable[Expected]) -> tuple[Near, ...]:
    """Return the presets from the one that is nearest to ``heard`` on; equals stay in order.

    Those that send nothing are not among them.
    """
    known: dict[tuple[bytes, ...], tuple[Difference, ...]] = {}
    found = []
    for one in presets:
        if not one.commands:
            continue
        messages = one.messages
        if messages not in known:
            known[messages] = differences(one.commands, heard)
        # What is told of a preset names its own units: equal bytes may mean other things.
        same = known[messages] == () or _same_words(one, known[messages])
        found.append(Near(one, known[messages] if same else differences(one.commands, heard)))
    return tuple(sorted(found, key=lambda near: len(near.differences)))


def _same_words(preset: Expected, known: tuple[Difference, ...]) -> bool:
    return all(one.wanted is None or one.wanted in preset.commands for one in known)


def differences(wanted: Sequence[Command], heard: Sequence[bytes]) -> tuple[Difference, ...]:
    """Return in what ``heard`` differs from ``wanted``, in the order of sending.

    Messages that are the same belong together first; then those in which one number is another
    one; what is left is missing, or too much.
    """
    pairs, missing, extra = _paired([encode(one.message) for one in wanted], list(heard))
    found: list[tuple[int, Difference]] = []
    for at, to in pairs:
        message = _message(heard[to])
        if message is not None and encode(wanted[at].message) != heard[to]:
            found.append((at, Difference(_kind(wanted[at], message), wanted[at], message)))
    in_place = _longest_rise(pairs)
    for at, to in pairs:
        if (at, to) not in in_place:
            found.append((at, Difference(What.ORDER, wanted[at], _message(heard[to]))))
    found += [(at, Difference(What.MISSING, wanted[at], None)) for at in missing]
    behind = len(wanted)
    found += [(behind, Difference(What.EXTRA, None, _message(heard[to]))) for to in extra]
    return tuple(one for _, one in sorted(found, key=lambda one: one[0]))


def _message(data: bytes) -> Message | None:
    return next(decode(data), None)


def _kind(wanted: Command, came: Message) -> What:
    message = wanted.message
    if message.channel != came.channel:
        return What.CHANNEL
    if message.kind == "program":
        return What.PROGRAM
    if message.data[0] != came.data[0]:
        return What.CONTROL
    return What.BANK if wanted.quantity == "bank" else What.FINE if wanted.fine else What.VALUE


Pairs = list[tuple[int, int]]


def _paired(wanted: list[bytes], heard: list[bytes]) -> tuple[Pairs, list[int], list[int]]:
    """Return pairs of what was wanted and came, by index, what is missing, and what is too much."""
    pairs = _in_common(wanted, heard)
    missing = [at for at in range(len(wanted)) if all(at != one for one, _ in pairs)]
    extra = [to for to in range(len(heard)) if all(to != one for _, one in pairs)]
    # The same out of its place; another value or program; another channel; another control.
    for alike in (_same, _other_last, _other_channel, _other_control):
        for at in list(missing):
            to = next((one for one in extra if alike(wanted[at], heard[one])), None)
            if to is not None:
                pairs.append((at, to))
                missing.remove(at)
                extra.remove(to)
    return sorted(pairs), missing, extra


def _in_common(wanted: list[bytes], heard: list[bytes]) -> Pairs:
    """Return the longest row of equal messages that both have in the same order."""
    rest: list[list[int]] = [[0] * (len(heard) + 1) for _ in range(len(wanted) + 1)]
    for at in reversed(range(len(wanted))):
        for to in reversed(range(len(heard))):
            rest[at][to] = (
                rest[at + 1][to + 1] + 1
                if wanted[at] == heard[to]
                else max(rest[at + 1][to], rest[at][to + 1])
            )
    pairs, at, to = [], 0, 0
    while at < len(wanted) and to < len(heard):
        if wanted[at] == heard[to]:
            pairs.append((at, to))
            at, to = at + 1, to + 1
        elif rest[at + 1][to] >= rest[at][to + 1]:
            at += 1
        else:
            to += 1
    return pairs


def _longest_rise(pairs: Pairs) -> set[tuple[int, int]]:
    """Return the most pairs that stand in the same order on both sides; the first of several."""
    best: list[Pairs] = [[]]
    for at, to in sorted(pairs):
        before = [row for row in best if not row or row[-1][1] < to]
        best.append([*max(before, key=len), (at, to)])
    longest = max(best, key=len)
    return set(longest)


def _same(one: bytes, other: bytes) -> bool:
    return one == other


def _other_last(one: bytes, other: bytes) -> bool:
    return len(one) == len(other) and one[:-1] == other[:-1]


def _other_channel(one: bytes, other: bytes) -> bool:
    return one[0] >> 4 == other[0] >> 4 and one[1:] == other[1:]


def _other_control(one: bytes, other: bytes) -> bool:
    return len(one) == len(other) == 3 and (one[0], one[2]) == (other[0], other[2])


def in_words(one: Difference, programs: Mapping[tuple[str, int], str]) -> str:
    """Return a difference as a sentence; ``programs`` says what a unit's programs are."""
    wanted, came = one.wanted, one.came
    if wanted is None:
        return f"too much: {came}"
    message = wanted.message
    what = _wanted(wanted)
    if came is None:
        return f"{what}: missing ({message})"
    match one.what:
        case What.PROGRAM:
            return (
                f"{wanted.unit}: {_program(wanted.unit, came.data[0], programs)} came, "
                f"not {_program(wanted.unit, message.data[0], programs)}"
            )
        case What.CHANNEL:
            return f"{what}: channel {came.channel} came, not {message.channel}"
        case What.CONTROL:
            return f"{what}: control {came.data[0]} came, not {message.data[0]}"
        case What.ORDER:
            return f"{what}: it came, but not in its place ({message})"
        case _:
            number = f" of control {message.data[0]}"
            return f"{what}: value {came.data[-1]}{number} came, not {message.data[-1]}"


def _wanted(command: Command) -> str:
    """Return what a message does: ``echo time 432.7 ms``, ``wobbler tremolo (display 42)``."""
    if command.quantity == "bank":
        half = "MSB" if command.message.data[0] == BANK_MSB else "LSB"
        return f"{command.unit} {command.meaning}, bank select {half}"
    if command.message.kind == "program":
        return f"{command.unit} {command.name} (display {command.shown})"
    if command.asked is not None:
        return f"{command.unit} {command.quantity} {described(command.asked)}"
    return f"{command.unit} {command.meaning}"


def _program(unit: str, number: int, programs: Mapping[tuple[str, int], str]) -> str:
    known = programs.get((unit, number))
    return f"program {number}" + (f" ({known})" if known is not None else "")
