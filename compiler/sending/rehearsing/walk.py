"""A rehearsal under way: keys and pedals in, messages and facts out, until its end."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, field
from fractions import Fraction
from functools import partial
from typing import ClassVar, NamedTuple

from setwright.compiler.sending.port.ear import Dropped, Heard
from setwright.compiler.sending.port.line import News
from setwright.compiler.sending.port.problem import Problem
from setwright.compiler.sending.rehearsing.deliveries import Deliveries
from setwright.compiler.sending.rehearsing.footsteps import Feet
from setwright.compiler.sending.rehearsing.live import Fact, Key
from setwright.compiler.sending.rehearsing.rehearsal import Deed, Rehearsal
from setwright.compiler.sending.rehearsing.steps import Step
from setwright.compiler.sending.rehearsing.whereto import whereto
from setwright.scenes.finding import visible
from setwright.scenes.quantities import plain_number
from setwright.scenes.wording import joined, number_of

CAUTIONS = (
    "a scene can be much louder than the one before it: turn the amplifiers down first, "
    "protect your hearing, and wear no headphones",
    "never switch a valve amplifier on without its loudspeaker or a proper load",
)
"""What has to be read before the first message: the words of sending a scene, and of valves."""

KEYS = (
    Key("next", (" ", "right", "pagedown", "enter", "n"), ("next", "n"), "space next", "step on"),
    Key("back", ("left", "pageup", "b", "p"), ("back", "b", "p"), "← back", "step back"),
    Key("again", ("r",), ("again", "r"), "r again", "send the scene once more"),
    Key("silence", ("s",), ("silence", "s"), "s silence", "bypass and mute what messages can"),
    Key(
        "go",
        ("g",),
        ("go", "g"),
        "g go to",
        "go to a song (its number, a part of its title) or a scene",
        asks="go to",
    ),
    Key("route", ("d",), ("route", "d"), "d route", "stored or direct route"),
    Key("clock", ("c",), ("clock", "c"), "c clock", "the songs' tempo as a MIDI clock, or none"),
    Key("end", ("q",), ("end", "quit", "q"), "q end", "end the rehearsal"),
)


class Auto(NamedTuple):
    """A walk that goes by itself: through which steps, a step every so many seconds."""

    way: Sequence[int]
    pace: float


@dataclass
class Walk:
    """One rehearsal.

    ``clocked`` and ``start`` say whether a clock runs, and whether it starts and stops; ``pedal``
    is the port by which ``feet`` are heard, if any; ``word`` is said of what was done last.
    """

    rehearsal: Rehearsal
    out: Deliveries
    feet: Feet | None = None
    clocked: bool = False
    start: bool = False
    auto: Auto | None = None
    pedal: str = ""
    word: str = ""
    begun: bool = False
    over: bool = False
    keys: ClassVar[tuple[Key, ...]] = KEYS
    _deed: Deed = field(default_factory=lambda: Deed(None))
    _serial: int = 0
    _presses: int = 0
    _played: set[object] = field(default_factory=set)
    _bpm: Fraction | None = None
    _song: int = -1
    _walked: int = 0
    _due: float = 0.0
    _ear: str = ""
    _closed: bool = False

    # What is done.

    @property
    def busy(self) -> bool:
        """Whether a scene is on its way out, and the port is there."""
        return self.out.busy

    @property
    def starts(self) -> bool:
        """Whether beginning sends something: only where it goes by itself."""
        return self.auto is not None

    @property
    def by_itself(self) -> bool:
        """Whether it goes on by itself."""
        return self.auto is not None

    @property
    def title(self) -> str:
        """The night and its rig."""
        compiled = self.rehearsal.compiled
        night, rig = compiled.book.night.night, compiled.book.rig.rig
        gone = sorted(compiled.target.gone)
        without = f", without {joined(gone)}" if gone else ""
        return visible(f"{night or 'the night'} on {rig or 'this rig'}{without}")

    @property
    def cautions(self) -> tuple[str, ...]:
        """What has to be read before the first message."""
        return CAUTIONS

    def begin(self, at: float) -> None:
        """Begin, once the cautions were read."""
        self.begun = True
        self._due = at

    def press(self, key: str, at: float, text: str = "") -> None:
        """Do what a key does.

        Any key stops a walk that goes by itself, and does nothing else; one of no name can do
        nothing else.
        """
        self.word = ""
        self._presses += 1
        if key == "end":
            self.over = True
        elif self.auto is not None:
            self.auto = None
            self.word = "stopped; go on by hand"
        elif not key:
            return
        elif key == "go":
            found = whereto(self.rehearsal.steps, text, self.rehearsal.at)
            if isinstance(found, str):
                self.word = found
            else:
                self._do(self.rehearsal.go(found), at)
        elif key == "route":
            self.word = self.rehearsal.switch_route()
        elif key == "clock":
            self._switch_clock()
        else:
            does: dict[str, Callable[[], Deed]] = {
                "next": self.rehearsal.next,
                "back": self.rehearsal.back,
                "again": self.rehearsal.again,
                "silence": self.rehearsal.silence,
            }
            self._do(does[key](), at)

    def step_by_foot(self, heard: Heard | Dropped | Problem) -> None:
        """Step on or back where a pedal says so; before the cautions were read, do nothing."""
        match heard:
            case Heard(at, data) if self.feet is not None:
                for key in self.feet.steps(at, data):
                    if self.begun:
                        self.press(key, at)
            case Dropped(count):
                self._note(f"{number_of(count, 'packet')} of the pedal came too fast")
            case Problem():
                self._ear = str(heard)
                self._note(f"the pedal: {heard}")

    def hear(self, news: News) -> None:
        """Take note of what became of what was sent."""
        self.out.hear(news)

    def tick(self, now: float) -> None:
        """Go on by oneself, where that is due."""
        if self.auto is None or not self.begun or now < self._due:
            return
        if self._walked == len(self.auto.way):
            self.auto = None
            self.word = "the end: every step of the way was sent"
            return
        self._do(self.rehearsal.go(self.auto.way[self._walked]), now)
        self._walked += 1
        self._due = max(self._due + self.auto.pace, now)

    def close(self) -> None:
        """Stop the clock and close the ports."""
        if self._closed:
            return
        self._closed = True
        if self._bpm is not None and self.start:
            self.out.line.clock(None, stop=True)
        self.out.close()

    def _note(self, problem: str) -> None:
        self.out.note(problem)

    def _do(self, deed: Deed, at: float) -> None:
        self._deed = deed
        self._serial += 1
        self.word = deed.word
        if deed.step is not None and not deed.quiet:
            self._run_clock(deed.step)
        if deed.planned is None:
            if deed.step is not None and deed.step.stay and not deed.quiet:
                self._count(deed.step)
            return
        count = partial(self._count, None if deed.quiet else deed.step)
        if deed.planned.route.commands:
            name = "silence" if deed.quiet or deed.step is None else deed.step.name
            self.out.send(name, deed.planned, deed.settles, at, count)
        else:
            count()

    def _count(self, step: Step | None) -> None:
        if step is not None and step.found is not None:
            self._played.add(step.found.scene.key)

    # The clock.

    def _switch_clock(self) -> None:
        self.clocked = not self.clocked
        if not self.clocked:
            self._set_clock(None)
            self.word = "no clock from now on"
        elif self._deed.step is not None:
            self._song = -1
            self._run_clock(self._deed.step)
            self.word = self.clock

    def _run_clock(self, step: Step) -> None:
        """Let the clock follow a step: a new song begins anew, a tempo within one changes."""
        if not self.clocked:
            return
        if self.start and step.playing != self._song and self._bpm is not None:
            self._set_clock(None)
        self._song = step.playing
        self._set_clock(step.bpm)

    def _set_clock(self, bpm: Fraction | None) -> None:
        if bpm != self._bpm:
            began, ended = self._bpm is None, bpm is None
            self.out.line.clock(bpm, start=self.start and began, stop=self.start and ended)
            self._bpm = bpm

    @property
    def clock(self) -> str:
        """The clock in words."""
        if not self.clocked:
            return "off"
        step = self._deed.step
        if self._bpm is None:
            if step is None:
                return "on, from the first song's tempo on"
            free = "the tempo is free" if step.tempo_in_words == "free" else "the song has no tempo"
            return f"none here: {free}"
        quarters = f"quarter = {plain_number(round(self._bpm, 2))}"
        words = step.tempo_in_words if step is not None else quarters
        beats = words if words == quarters else f"{words} ({quarters})"
        return f"{beats}{', with start and stop' if self.start else ''}"

    # What is shown.

    def facts(self) -> list[Fact]:
        """Return all that is to be known now, what matters most first."""
        return [one._replace(text=visible(one.text)) for one in self._facts()]

    def _facts(self) -> Iterator[Fact]:
        deed, serial = self._deed, self._serial
        step = deed.step
        if deed.quiet:
            where = f", at {step.name}" if step is not None else ""
            yield Fact("now", f"SILENCE{where}", stamp=serial, strong=True)
        elif step is None:
            yield Fact("now", "nothing has been sent yet", strong=True)
        else:
            yield Fact("now", step.name, stamp=serial, strong=True)
            yield Fact("where", _where(step), 2, serial)
            if step.cue:
                yield Fact("cue", step.cue, 4, serial)
            if step.note:
                yield Fact("note", step.note, 6, serial)
        for hand in deed.by_hand:
            yield Fact("by hand", hand, 1, serial)
        if self.word:
            yield Fact("word", self.word, 0, self._presses)
        following = self.rehearsal.following
        if following is None:
            yield Fact("next", "nothing: the night is over", strong=True)
        else:
            yield Fact("next", f"{following.name} ({following.where})", 0, serial, strong=True)
        if self.auto is not None:
            of = len(self.auto.way)
            yield Fact("by itself", f"{self._walked} of {of}; any key stops it", 0, serial)
        sent = self.out.last if deed.planned is not None else None
        if sent is not None and deed.planned is not None and deed.planned.route.commands:
            yield Fact("sent", self.out.said, 1, serial, passing=self.out.busy)
            for line in sent.lines:
                yield Fact("message", line, 5, serial)
        elif step is not None:
            yield Fact("sent", "nothing", 3, serial)
        route, clock = self.rehearsal.route, self.clock
        yield Fact("route", f"{route}; clock: {clock}", 3)
        yield Fact(
            "played", f"{len(self._played)} of {number_of(self.rehearsal.scenes, 'scene')}", 3
        )
        yield Fact("port", self.out.port, 1)
        if self.pedal:
            yield Fact("pedal", self._ear or f"‘{self.pedal}’ is there", 3)

    def summary(self) -> list[str]:
        """Return what there is to say at the end."""
        scenes = number_of(self.rehearsal.scenes, "scene")
        said = [f"{self.title}: {len(self._played)} of {scenes} played"]
        said += [
            f"sent again: {visible(name)}" + (f", {count} times" if count > 1 else "")
            for name, count in self.rehearsal.resent.items()
        ]
        said += [visible(one) for one in self.out.ended]
        if self.out.lost is not None:
            said.append("the port was away at the end: nobody knows what the rig has")
        return said

    @property
    def code(self) -> int:
        """The exit code of an end by key: 2 where the port was away."""
        return 2 if self.out.lost is not None else 0


def _where(step: Step) -> str:
    place = f"bank {step.bank}, switch {step.switch}" if step.switch != "none" else ""
    return ", ".join(filter(None, (step.where, place, step.tempo_in_words, step.part)))
