"""Forms and places in a song: parts as musicians call them, bars, beats, minutes and seconds.

Bar, beat, form, refrain, coda, introduction, interlude, anacrusis (here ``pickup``), vamp and tempo
rubato as in *The Oxford Dictionary of Music*, 6th edition, 2012 (its entries from memory); verse,
chorus, bridge and what the letters of a form stand for: common practice, no source.
"""

from __future__ import annotations

import re
from fractions import Fraction
from functools import lru_cache
from typing import NamedTuple

from setwright.scenes.musical_time import Free, Tempo, parse_pace
from setwright.scenes.quantities import (
    Slip,
    parse_clock,
    parse_whole,
    plain_number,
    quoted,
    tidy,
)

BARS_IN_A_PART = 8
"""Bars of a part where a song does not say: common practice for dance tunes, no source."""

PARTS = frozenset(
    {
        *("intro", "introduction", "verse", "prechorus", "chorus", "refrain", "hook", "bridge"),
        *("solo", "instrumental", "interlude", "break", "breakdown", "riff", "turnaround", "tag"),
        *("vamp", "head", "tutti", "outro", "ending", "coda"),
    }
)
"""Words that are a part by themselves; any other word alone is taken for letters: AABB."""

MOST_PARTS = 64
MOST_ROUNDS = 200


class Form(NamedTuple):
    """The parts of one round in playing order and how many rounds are played.

    ``parts`` are letters (``AABB``) or names; ``rounds_said`` is False where the number of rounds
    was assumed to be one, as it is for letters.
    """

    parts: tuple[str, ...]
    rounds: int
    rounds_said: bool = True

    @property
    def in_letters(self) -> bool:
        """Whether its parts are called by single letters."""
        return all(len(part) == 1 for part in self.parts)

    @property
    def names(self) -> tuple[str, ...]:
        """The different parts, in the order in which they first come."""
        return tuple({key_of_part(part): part for part in reversed(self.parts)}.values())[::-1]

    @property
    def one_round(self) -> str:
        """The parts of one round, as they are written."""
        if self.in_letters:
            return "".join(self.parts)
        spaced = any(" " in part for part in self.parts)
        return (", " if spaced or len(self.parts) == 1 else " ").join(_repeats(self.parts))

    def __str__(self) -> str:
        if self.rounds == 1 and not self.in_letters:
            return self.one_round
        return f"{self.one_round}, {self.rounds} round{'' if self.rounds == 1 else 's'}"


def _repeats(parts: tuple[str, ...]) -> list[str]:
    """Return parts with those that come again at once written with a number: chorus 2×."""
    result: list[str] = []
    at = 0
    while at < len(parts):
        count = 1
        while at + count < len(parts) and parts[at + count] == parts[at]:
            count += 1
        result.append(parts[at] if count == 1 else f"{parts[at]} {count}×")
        at += count
    return result


@lru_cache(maxsize=1024)
def key_of_part(name: str) -> str:
    """Return what tells parts apart: capitals and spaces do not matter."""
    return " ".join(name.split()).casefold()


_ROUNDS = re.compile(r",?\s*(\d{1,3})\s*rounds?$", re.ASCII | re.IGNORECASE)
_LETTERS = re.compile(r"[A-Za-z]{1,64}", re.ASCII)
_TIMES = re.compile(r"(\d{1,2})\s*[x×]|[x×]\s*(\d{1,2})", re.IGNORECASE)
NO_NAME = r""",:=×+|/\\(){}<>"#*&!?@$%^~`;\[\]"""
"""What no name of a part has in it, as it stands between the brackets of a pattern."""
_NAME = re.compile(rf"[^\W\d_][^{NO_NAME}]{{0,63}}")
_NO_FORM = "write the parts of one round, and the rounds: AABB, 3 rounds; or intro verse chorus 2×"


def parse_form(text: str) -> Form:
    """Return a form: ``AABB, 3 rounds``, ``intro verse chorus 2×``, ``intro, guitar solo, chorus``.

    One word is letters, but for `PARTS`. Several are the names of parts, with commas between them
    where a name has several words. ``2×`` plays the part before it so often.
    """
    stripped = tidy(text)
    match = _ROUNDS.search(stripped)
    rounds = int(match[1]) if match else 1
    written = stripped[: match.start()].strip() if match else stripped
    if not 1 <= rounds <= MOST_ROUNDS:
        raise _no_form(text)
    if _LETTERS.fullmatch(written) and written.casefold() not in PARTS:
        return Form(tuple(written.upper()), rounds, match is not None)
    parts: list[str] = []
    for name, times in _names_of(text, written):
        parts += [name] * times
    if not 0 < len(parts) <= MOST_PARTS:
        raise _no_form(text)
    named = _as_first_written(parts)
    # Who writes intro and chorus writes the whole song.
    return Form(named, rounds, match is not None or any(len(part) > 1 for part in named))


def _names_of(text: str, written: str) -> list[tuple[str, int]]:
    """Return the parts of ``written`` with how often each is played in a row."""
    words: list[str] = []
    for piece in map(str.strip, written.split(",")):
        single = re.sub(r"(\d)\s+([x×])(?=\s|$)", r"\1\2", piece, flags=re.IGNORECASE).split()
        # Between commas a name may have several words; several parts may stand there, too.
        apart = "," not in written or all(_is_part(word) for word in single)
        words += single if apart and single else [piece]
    found: list[tuple[str, int]] = []
    for word in words:
        times = _TIMES.fullmatch(word)
        if times and found:
            found[-1] = (found[-1][0], int(times[1] or times[2]))
            continue
        behind = re.search(rf"\s(?:{_TIMES.pattern})$", word, re.IGNORECASE)
        name = word[: behind.start()].strip() if behind else word
        if not _NAME.fullmatch(name):
            raise _no_form(text)
        found.append((name, int(behind[1] or behind[2]) if behind else 1))
    if any(times == 0 for _, times in found):
        raise _no_form(text)
    return found


def _is_part(word: str) -> bool:
    return word.casefold() in PARTS or _TIMES.fullmatch(word) is not None


def _as_first_written(parts: list[str]) -> tuple[str, ...]:
    names: dict[str, str] = {}
    for part in parts:
        single = part.upper() if len(part) == 1 else part
        names.setdefault(key_of_part(part), single)
    return tuple(names[key_of_part(part)] for part in parts)


def _no_form(text: str) -> Slip:
    return Slip("not-a-form", f"{quoted(text)} is not a form", _NO_FORM)


class Vamp(NamedTuple):
    """A part that is played until something happens: its length is not known."""

    until: str

    def __str__(self) -> str:
        return f"until {self.until}"


def parse_bars(text: str) -> int | Vamp:
    """Return the bars of a part, 1 to 999, or `Vamp` for ``until the singer nods``."""
    words = tidy(text)
    if words.lower() == "until":
        raise Slip(
            "vamp-without-cue",
            "it is not said what ends this part",
            "write what to wait for: until the singer nods",
        )
    if words.lower().startswith("until "):
        return Vamp(words[6:].strip())
    return int(parse_whole(text, 1, 999, "bars"))


class AtPart(NamedTuple):
    """The ``nth`` time (from 1) that ``part`` comes within round ``round``, or a bar of it.

    In round 0 it is counted through the whole song, and ``part`` may hold the count: ``chorus 2``.
    """

    round: int
    part: str
    nth: int = 1
    bar: int = 1
    beat: int = 1

    def __str__(self) -> str:
        count = str(self.nth) if self.nth > 1 else ""
        name = f"{self.part}{count}" if len(self.part) == 1 else f"{self.part} {count}".strip()
        words = [f"round {self.round}" if self.round else "", name]
        if self.bar > 1 or self.beat > 1:
            words.append(str(AtBar(self.bar, self.beat)))
        return " ".join(word for word in words if word)

    @property
    def brief(self) -> str:
        """The same with the round as a bare number: ``2 A``."""
        words = str(self)
        return words.removeprefix("round ") if self.round else words


class AtBar(NamedTuple):
    """The beginning of a bar, counted from 1, or of a note of the meter within it."""

    bar: int
    beat: int = 1

    def __str__(self) -> str:
        return f"bar {self.bar}" + (f" beat {self.beat}" if self.beat > 1 else "")


class AtPickup(NamedTuple):
    """The first note of a song that begins before its first full bar."""

    def __str__(self) -> str:
        return "pickup"


class AtTime(NamedTuple):
    """Seconds after the song's first note."""

    seconds: Fraction

    def __str__(self) -> str:
        minutes, seconds = divmod(self.seconds, 60)
        whole, rest = divmod(seconds, 1)
        return f"{int(minutes)}:{int(whole):02d}" + (plain_number(rest)[1:] if rest else "")


Position = AtPart | AtBar | AtPickup | AtTime

_BAR = r"bar\s+(\d{1,4})(?:\s+beat\s+(\d{1,2}))?"
_AT_BAR = re.compile(_BAR, re.ASCII | re.IGNORECASE)
_BEHIND = re.compile(rf"(.*?)\s*\b{_BAR}", re.IGNORECASE)
_AT_ROUND = re.compile(r"round\s+(\d{1,3})(?:\s+(.+))?", re.IGNORECASE)
_LETTER = re.compile(r"([A-Za-z])\s?(\d{0,2})", re.ASCII)


def parse_position(text: str) -> Position:
    """Return a place in a song.

    ``round 2 A``, ``round 2 A2``, ``chorus 2``, ``verse 2 bar 5``, ``bar 17 beat 3``, ``pickup``,
    ``1:05``.
    """
    stripped = tidy(text)
    if match := _AT_BAR.fullmatch(stripped):
        bar, beat = int(match[1]), int(match[2] or 1)
        if bar and beat:
            return AtBar(bar, beat)
    elif stripped.lower() == "pickup":
        return AtPickup()
    elif stripped[:1].isdigit():
        try:
            return AtTime(parse_clock(stripped))
        except Slip:
            pass
    elif (found := _part_of(stripped)) is not None:
        return found
    raise Slip(
        "not-a-place",
        f"{quoted(text)} is not a place in a song",
        "write for example round 2 A, round 2 A2 (its second A), chorus 2, verse 2 bar 5, bar 17 "
        "or 1:05",
    )


def _part_of(text: str) -> AtPart | None:
    """Return a place that names a part, or a round; None if ``text`` is none."""
    bar = beat = 1
    if match := _BEHIND.fullmatch(text):
        text, bar, beat = match[1], int(match[2]), int(match[3] or 1)
    number, name = 0, text
    if match := _AT_ROUND.fullmatch(text):
        number, name = int(match[1]), (match[2] or "").strip()
        if not number:
            return None
    elif re.match(r"(round|bar|beat)\b", text, re.IGNORECASE):
        return None
    if not bar or not beat or (name and not _NAME.fullmatch(name)) or (not name and not number):
        return None
    letter = _LETTER.fullmatch(name)
    if number and letter:
        if letter[2] == "0":
            return None
        return AtPart(number, letter[1].upper(), int(letter[2] or 1), bar, beat)
    if len(name) == 1:
        name = name.upper()
    return AtPart(number, name, 1, bar, beat)


class Later(NamedTuple):
    """A tempo from a place on, or `Free`."""

    at: Position
    tempo: Tempo | Free

    def __str__(self) -> str:
        return f"{self.tempo} from {self.at}"


class Tempi(NamedTuple):
    """The tempo at the beginning, and those from places on."""

    first: Tempo | Free
    later: tuple[Later, ...] = ()

    def __str__(self) -> str:
        return ", ".join(map(str, (self.first, *self.later)))


def parse_tempi(text: str) -> Tempi:
    """Return tempos: ``quarter = 120, quarter = 96 from bridge``, ``free``."""
    first, *rest = text.split(",")
    begin = re.split(r"\s+from\s+", first.strip(), maxsplit=1, flags=re.IGNORECASE)
    if len(begin) > 1:
        raise Slip(
            "no-first-tempo",
            f"{quoted(first.strip())} says from where on, and nothing says how the song begins",
            "write the tempo at the beginning first: quarter = 120, quarter = 96 from bridge",
        )
    later = []
    for one in rest:
        tempo, *place = re.split(r"\s+from\s+", one.strip(), maxsplit=1, flags=re.IGNORECASE)
        if not place:
            raise Slip(
                "tempo-without-place",
                f"{quoted(one.strip())} does not say from where on",
                "write it behind the tempo: quarter = 96 from bridge",
            )
        later.append(Later(parse_position(place[0]), parse_pace(tempo)))
    return Tempi(parse_pace(first), tuple(later))
