"""A rig: its units, how each behaves, how effects are made from them, and the cables.

Every behaviour that differs between real boxes can be declared here. What is not declared is
taken to be the ordinary case, which the description of each field names.
"""

# Annotations are evaluated at once here: the records make their validators from them.

from fractions import Fraction
from typing import Annotated, Any, ClassVar, NamedTuple

from setwright.scenes.displays import Display, parse_display
from setwright.scenes.fields import Before, field
from setwright.scenes.quantities import (
    Amount,
    Slip,
    Span,
    parse_amount,
    parse_control_number,
    parse_current,
    parse_data_byte,
    parse_linear,
    parse_listening,
    parse_name,
    parse_voltage,
    parse_whole,
    parse_whole_span,
    quoted,
)
from setwright.scenes.records import (
    TEXT_OR_NUMBER,
    Reads,
    Record,
    entry,
    one_of,
    one_or_many,
)
from setwright.scenes.songs import (
    LET_PASS,
    NUMBER,
    WHOLE,
    LetPass,
    Name,
    NameList,
    Scene,
    Text,
    one_text,
    whole,
)
from setwright.scenes.switcher import DISPLAY, MOST_BANKS, Channel, Milliseconds, YesNo

ControlNumber = Annotated[int, Reads(parse_control_number, whole(0, 119))]
DataByte = Annotated[int, Reads(parse_data_byte, whole(0, 127))]
Listening = Annotated[
    int | str,
    Reads(
        parse_listening,
        whole(1, 16, rf"(?i:omni)|{WHOLE}")
        | {"errorMessage": "write a MIDI channel from 1 to 16, or omni"},
    ),
]
DisplayText = Annotated[
    Display,
    Reads(
        parse_display,
        one_text(
            DISPLAY,
            "write its first and last program as it shows them: 0 to 99, A1 to H8",
            "0 to 99",
            "1 to 128",
            "A1 to H8",
        ),
    ),
]
Loop = Annotated[
    int,
    Reads(lambda text: parse_whole(text, 1, 64, "loop", "loop-out-of-range"), whole(1, 64)),
]
Relay = Annotated[
    int,
    Reads(lambda text: parse_whole(text, 1, 64, "relay", "relay-out-of-range"), whole(1, 64)),
]
Current = Annotated[
    Fraction,
    Reads(
        parse_current,
        one_text(r"[\d.]+\s*(?i:ma|a)", "write the current as the label says it: 45 mA", "45 mA"),
    ),
]
Voltage = Annotated[
    Span,
    Reads(
        parse_voltage,
        one_text(
            r"(?i:#\s*(v\s*)?(to\s*#\s*)?v)".replace("#", r"[\d.]+"),
            "write the voltage as the label says it: 9 V, 9 to 18 V",
            "9 V",
            "9 to 18 V",
        ),
    ),
]
_AMOUNT = rf"{NUMBER}\s*(?i:ms|s|%|hz|db)?"
AmountText = Annotated[
    Amount,
    Reads(
        parse_amount,
        {
            "type": ["string", "number"],
            "pattern": rf"^\s*{_AMOUNT}\s*$",
            "errorMessage": "write a number, with ms, s, %, Hz or dB if it has one: 20 ms, 40 %",
        },
    ),
]
Linear = Annotated[
    tuple[Amount, Amount],
    Reads(
        parse_linear,
        one_text(
            rf"{_AMOUNT}\s* to \s*{_AMOUNT}",
            "write what values 0 and 127 do: 20 ms to 1800 ms",
            "20 ms to 1800 ms",
            "0 % to 100 %",
        ),
    ),
]
BankSpan = Annotated[
    tuple[int, int],
    Reads(
        lambda text: parse_whole_span(text, 1, MOST_BANKS, "bank"),
        whole(1, MOST_BANKS, rf"{WHOLE}(\s* to \s*({WHOLE})?)?")
        | {"errorMessage": "write the first and the last bank: 1 to 12"},
    ),
]
PointKey = Annotated[
    int,
    Reads(
        parse_data_byte,
        # As a key it is always text, so only the pattern can keep it from 0 to 127.
        whole(0, 127, r"[+-]?(0*(\d{1,2}|1[01]\d|12[0-7])(\.0{0,9})?|\.0{1,9})"),
    ),
]


class Control(Record):
    """A control of a unit that has a meaning: its number, and what its values do."""

    noun: ClassVar[str] = "control"
    alternatives: ClassVar[tuple[str, ...]] = ("linear", "points", "positions")

    cc: ControlNumber = field(description="The control number, 0 to 119.")
    fine_cc: ControlNumber | None = field(
        default=None, description="The control with the fine part, where it takes 14 bits."
    )
    linear: Linear | None = field(
        default=None,
        description="What values 0 and 127 do, if all between lie on a straight line: "
        "20 ms to 1800 ms.",
    )
    points: dict[PointKey, AmountText] | None = field(
        default=None,
        description="What single values do: {0: 20 ms, 64: 300 ms, 127: 1800 ms}; straight "
        "lines between.",
    )
    positions: dict[Name, DataByte] | None = field(
        default=None, description="Named positions and their values: {slow: 0, fast: 127}."
    )
    after_a_program: Annotated[str, one_of("kept", "from the program", "unknown")] = field(
        default="from the program",
        description="Whether a loaded program keeps this control's setting or brings its own.",
    )
    only_with: NameList = field(
        default_factory=list,
        description="The programs in which this control does anything, if not in all.",
    )
    at_rest: Name | None = field(
        default=None, description="The setting in scenes that do not ask for another."
    )

    @property
    def unit(self) -> str:
        """The unit of this control's amounts: ms, %, Hz, dB or none."""
        if self.linear is not None:
            return self.linear[0].unit
        return next(iter(self.points.values())).unit if self.points else ""

    @property
    def curve(self) -> tuple[tuple[int, Fraction], ...]:
        """The corners of the curve: (value 0 to 127, amount), by rising value; may be empty."""
        if self.linear is not None:
            return ((0, self.linear[0].value), (127, self.linear[1].value))
        if self.points:
            return tuple(sorted((value, amount.value) for value, amount in self.points.items()))
        return ()


class SwitchedBy(Record):
    """The control that switches a unit on and off, and how the unit takes it."""

    noun: ClassVar[str] = "switch"

    cc: ControlNumber = field(description="The control number, 0 to 119.")
    on: DataByte | None = field(default=None, description="The value that switches on.")
    off: DataByte | None = field(default=None, description="The value that switches off.")
    any_value_flips: YesNo = field(
        default=False,
        description="Whether any value turns on to off and off to on, so that no message can "
        "tell the state.",
    )
    press: DataByte | None = field(
        default=None, description="The value of a press, where a press and a release flip it."
    )
    release: DataByte | None = field(default=None, description="The value of the release.")

    @property
    def sets(self) -> bool:
        """Whether one message brings a known state, whatever was before."""
        return self.on is not None and self.off is not None


class Steps(Record):
    """Programs that can only be reached one after the other."""

    noun: ClassVar[str] = "step"

    up: ControlNumber = field(description="The control whose message steps up.")
    down: ControlNumber | None = field(
        default=None, description="The control whose message steps down, if there is one."
    )
    value: DataByte = field(default=127, description="The value of a step's message.")
    wraps: YesNo = field(default=False, description="Whether the first follows the last.")


class BankSelect(Record):
    """How programs beyond one bank of 128 are reached."""

    noun: ClassVar[str] = "bank select"

    by: Annotated[str, one_of("msb", "lsb", "msb and lsb")] = field(
        default="msb and lsb",
        description="Which bank select messages the unit obeys: control 0 (msb), 32 (lsb).",
    )
    programs_in_a_bank: Annotated[
        int, Reads(lambda text: parse_whole(text, 1, 128, "number of programs"), whole(1, 128))
    ] = field(default=128, description="How many programs one bank holds.")


class RelayUse(Record):
    """A unit that a relay of the switcher works."""

    noun: ClassVar[str] = "relay"

    number: Relay = field(description="The relay output of the switcher, counted from 1.")
    open: Name = field(description="What the unit does while the contact is open.")
    closed: Name = field(description="What the unit does while the contact is closed.")


class Power(Record):
    """What a unit needs at its power input, as its label says."""

    noun: ClassVar[str] = "power"

    draws: Current = field(description="The current it draws: 45 mA.")
    volts: Voltage = field(description="The voltage it needs, or the range it takes: 9 to 18 V.")
    current: Annotated[str, one_of("dc", "ac")] = field(
        default="dc", description="Direct or alternating current."
    )
    polarity: Annotated[str, one_of("centre negative", "centre positive")] = field(
        default="centre negative", description="The polarity of its socket, as printed on it."
    )
    passes_on_to: NameList = field(
        default_factory=list, description="Units that get their power from this one's socket."
    )


class Output(Record):
    """One output of the power supply."""

    noun: ClassVar[str] = "supply output"

    gives: Current = field(description="The most current it gives: 300 mA.")
    volts: Voltage = field(description="Its voltage, or the range it can be set to.")
    current: Annotated[str, one_of("dc", "ac")] = field(
        default="dc", description="Direct or alternating current."
    )
    polarity: Annotated[str, one_of("centre negative", "centre positive")] = field(
        default="centre negative", description="The polarity of its plug."
    )
    feeds: NameList = field(default_factory=list, description="The units on this output.")
    let_pass: LetPass = LET_PASS


class Sending(NamedTuple):
    """One kind of message that a unit sends by itself; ``channel`` 1 to 16, None for clock."""

    kind: str
    channel: int | None = None

    def __str__(self) -> str:
        return self.kind if self.channel is None else f"{self.kind} on channel {self.channel}"


_SENDING = one_text(
    rf"(?i:clock|active\s+sensing|(programs|controls|notes)\s+on\s+channel\s+{WHOLE})",
    "write clock, active sensing, or programs, controls or notes on channel 1 to 16",
    "clock",
    "programs on channel 1",
)


def parse_sending(text: str) -> Sending:
    """Return what a unit sends by itself: ``clock``, ``programs on channel 1``."""
    kind, middle, channel = " ".join(text.lower().split()).partition(" on channel ")
    if middle and kind in {"programs", "controls", "notes"}:
        return Sending(kind, int(parse_whole(channel, 1, 16, "channel", "channel-out-of-range")))
    if not middle and kind in {"clock", "active sensing"}:
        return Sending(kind)
    raise Slip(
        "unknown-choice",
        f"{quoted(text)} is nothing that a unit sends by itself",
        "write clock, active sensing, or programs, controls or notes on channel 1 to 16",
    )


class Unit(Record):
    """One box of the rig."""

    noun: ClassVar[str] = "unit"

    is_: Annotated[
        str,
        one_of("effect", "amplifier", "volume", "splitter", "mixer", "merge", "sender", "guitar"),
    ] = field(
        default="effect",
        description="What kind of box it is; a merge joins MIDI lines, a sender only sends.",
    )
    loop: Loop | None = field(
        default=None, description="The switcher's loop that it sits in, counted from 1."
    )
    channel: Listening | None = field(
        default=None, description="The MIDI channel that it listens to, 1 to 16, or omni."
    )
    display: DisplayText | None = field(
        default=None,
        description="The first and last program as its display shows them: 0 to 99, 1 to "
        "128, A1 to H8. The first is program 0 on the wire.",
    )
    programs: dict[Name, Name] = field(
        default_factory=dict, description="Its programs by your names: {tremolo: 42}, as displayed."
    )
    bank_select: BankSelect | None = field(
        default=None, description="How it takes bank select; without this it ignores it."
    )
    same_program_again: Annotated[str, one_of("reloads", "ignored")] = field(
        default="reloads",
        description="What happens when the program that is loaded is sent again.",
    )
    busy_after_program: Milliseconds = field(
        default=Fraction(0),
        description="How long after a program change it loses what is sent to it: 120 ms.",
    )
    settles_in: Milliseconds = field(
        default=Fraction(0),
        description="How long after its last message the new sound is there: 30 ms.",
    )
    loading: Annotated[str, one_of("engages", "bypasses", "keeps bypass")] = field(
        default="keeps bypass",
        description="Whether loading a program switches the unit on, off, or neither.",
    )
    reached_by: Steps | None = field(
        default=None, description="Where programs are reached only by stepping up and down."
    )
    switched_by: SwitchedBy | None = field(
        default=None, description="The control that switches it on and off."
    )
    controls: dict[Name, Control] = field(
        default_factory=dict, description="Its controls by your names: mix, depth, speed."
    )
    time: Control | None = field(default=None, description="The control of its delay time.")
    tempo_from: Annotated[str, one_of("control", "program", "global", "clock", "tap")] | None = (
        field(
            default=None,
            description="Where its tempo comes from; a control if time: is given, else its "
            "program.",
        )
    )
    tap: Control | None = field(default=None, description="The control that taps the tempo.")
    tails: Annotated[str, one_of("stay", "cut")] = field(
        default="cut", description="Whether repeats go on sounding after it is switched off."
    )
    acts_only_on: Annotated[str, one_of("what is declared")] | None = field(
        default=None,
        description="Say ‘what is declared’ where the manual shows that it ignores all "
        "programs and controls that are not written here.",
    )
    by_foot: NameList = field(
        default_factory=list,
        description="Its positions, where only a foot works it: [closed, open].",
    )
    at_start: Name | None = field(default=None, description="Its position when the night begins.")
    at_rest: Name | None = field(
        default=None,
        description="The program, position or channel in scenes that do not ask for the unit.",
    )
    relay: RelayUse | None = field(
        default=None, description="The switcher's relay that works it, for example a channel."
    )
    effects_loop: YesNo = field(
        default=False, description="Whether this amplifier has an effects loop."
    )
    thru: YesNo = field(
        default=True, description="Whether its MIDI THRU passes on what it receives."
    )
    sends: Annotated[
        list[Annotated[Sending, Reads(parse_sending, _SENDING)]], Before(one_or_many)
    ] = field(
        default_factory=list, description="What it sends by itself: clock, programs on channel 1."
    )
    power: Power | None = field(
        default=None, description="What its power input needs, as printed on the box."
    )
    note: Text | None = field(default=None, description="A word to yourself; explain prints it.")
    let_pass: LetPass = LET_PASS

    def control(self, name: str) -> Control | None:
        """Return the control called ``name``; that of the delay time is called ``time``."""
        return self.time if name == "time" else self.controls.get(name)

    @property
    def states(self) -> tuple[str, ...]:
        """The names that an effect may ask of this unit: programs, positions, channels."""
        relay = (self.relay.open, self.relay.closed) if self.relay else ()
        return (*self.programs, *self.by_foot, *relay)


class Part(Record):
    """What an effect asks of one unit: a state, and settings of its controls."""

    noun: ClassVar[str] = "part of an effect"
    short: ClassVar[str | None] = "state"

    state: Name | None = field(
        default=None, description="A program, foot position or amplifier channel, by name."
    )
    set: dict[Name, Name] = field(
        default_factory=dict, description="Settings of its controls: {mix: 40 %, speed: slow}."
    )


def _parts(data: Any) -> Any:
    if isinstance(data, str) and data.strip():
        return {data: {}}
    if isinstance(data, list) and all(isinstance(item, str) for item in data):
        return {item: {} for item in data}
    return data


class SwitcherUse(Record):
    """Which switcher the rig has, and which of its banks are this rig's."""

    noun: ClassVar[str] = "switcher's place in the rig"
    short: ClassVar[str | None] = "file"

    file: Name = field(description="The switcher's own file, in the same folder.")
    banks: BankSpan | None = field(
        default=None, description="The banks that are this rig's, counted from 1: 1 to 12."
    )
    every_bank: dict[Name, Name] = field(
        default_factory=dict,
        description="Switches kept the same in every bank: {switch 5: Tuner}.",
    )


class Link(Record):
    """One unit within a MIDI line, where there is more to say than its name."""

    noun: ClassVar[str] = "place in a MIDI line"

    thru: YesNo | None = field(
        default=None, description="Whether its THRU is on here; otherwise as the unit says."
    )


class Rig(Record):
    """A rig: switcher, units, effects, signal path, MIDI lines and power."""

    noun: ClassVar[str] = "rig"

    rig: Name | None = field(default=None, description="What you call this rig.")
    include: NameList = field(
        default_factory=list,
        description="Other files of units and effects in the same folder; what stands here "
        "wins over what stands there, key by key.",
    )
    switcher: SwitcherUse | None = field(
        default=None, description="The switcher's file, and which of its banks are this rig's."
    )
    units: dict[Name, Unit] = field(default_factory=dict, description="The boxes, by your names.")
    effects: dict[Name, Annotated[dict[Name, Part], Before(_parts)]] = field(
        default_factory=dict,
        description="How this rig makes each effect: a unit, or units with their states: "
        "{wobbler: tremolo}.",
    )
    instead_of: dict[Name, NameList] = field(
        default_factory=dict,
        description="What may stand in for an effect that cannot be made, best first; "
        "‘nothing’ where the scene can do without.",
    )
    general: dict[Name, Scene] = field(
        default_factory=dict, description="The scenes of songs that have none of their own."
    )
    signal_path: list[NameList] = field(
        key="path",
        default_factory=list,
        description="The signal's way, one list a cable run: from guitar to amplifier; an "
        "amplifier's effects loop is written ‘NAME send’ and ‘NAME return’.",
    )
    midi: list[list[Annotated[dict[Name, Link], Before(entry)]]] = field(
        default_factory=list,
        description="The MIDI lines, each from its sender on: [switcher, echo]. A computer that "
        "has a line of its own is called computer.",
    )
    supply: dict[Name, Output] = field(
        default_factory=dict, description="The outputs of the power supply, by name or number."
    )
    changes_within: Milliseconds | None = field(
        default=None,
        description="How long a change of scene may take, from the press until the new sound is "
        "there: 150 ms.",
    )
    note: Text | None = field(default=None, description="A word to yourself; explain prints it.")
    let_pass: LetPass = LET_PASS


def parse_kept_switch(text: str) -> str:
    """Return the mark of the switch in ``switch 5``, or ``5`` alone."""
    return parse_name(text).removeprefix("switch ").strip()


__all__ = [
    "TEXT_OR_NUMBER",
    "BankSelect",
    "Channel",
    "Control",
    "Link",
    "Output",
    "Part",
    "Power",
    "RelayUse",
    "Rig",
    "Sending",
    "Steps",
    "SwitchedBy",
    "SwitcherUse",
    "Unit",
    "parse_kept_switch",
]
