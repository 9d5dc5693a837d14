"""A unit: one box of a rig, where it sits, what it obeys and how it behaves.

Every behaviour that differs between real boxes can be declared here. What is not declared is
taken to be the ordinary case, which the description of each field names.
"""

# Annotations are evaluated at once here: the records make their validators from them.

from fractions import Fraction
from typing import Annotated, ClassVar, NamedTuple

from setwright.scenes.control import Control, FootSends, Steps, SwitchedBy
from setwright.scenes.displays import Display, parse_display
from setwright.scenes.fields import Before, field
from setwright.scenes.power import Power
from setwright.scenes.quantities import Slip, parse_listening, parse_whole, quoted
from setwright.scenes.records import Reads, Record, one_of, one_or_many
from setwright.scenes.switcher import DISPLAY, Milliseconds, YesNo
from setwright.scenes.texts import LET_PASS, WHOLE, LetPass, Name, NameList, Text, one_text, whole

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

CLOSED = "closed"
"""The position in which a volume lets nothing through, if nothing else is said."""
ON = "on"
"""What ``silent when:`` says of a box that silences while its loop is in, or it is on."""


Sockets = Annotated[
    int, Reads(lambda text: parse_whole(text, 1, 64, "number of sockets"), whole(1, 64))
]


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


class Contacts(Record):
    """Something in a unit that relays of the switcher work: one of its states at a time."""

    noun: ClassVar[str] = "set of contacts"

    numbers: Annotated[list[Relay], Before(one_or_many)] = field(
        description="The relay outputs of the switcher that its contacts hang on, from 1: [1, 2]."
    )
    states: dict[
        Name,
        Annotated[list[Annotated[str, one_of("open", "closed", "any")]], Before(one_or_many)],
    ] = field(
        description="What it does, and how each contact stands then, in the order of numbers: "
        "{clean: [open, open], crunch: [closed, open], lead: [any, closed]}. The first is what it "
        "does where no effect asks for another."
    )


class Switched(NamedTuple):
    """What relays work: their numbers, and for each state whether each contact is closed.

    None stands for a contact that does not matter in that state.
    """

    numbers: tuple[int, ...]
    states: dict[str, tuple[bool | None, ...]]


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
    free_programs: NameList = field(
        default_factory=list,
        description="Programs that nothing is stored on, as displayed: [60, 61]. Where a preset "
        "has too few slots, settings are stored in these.",
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
    tap_output: Annotated[
        int | None,
        Reads(
            lambda text: parse_whole(text, 1, 64, "tap output", "tap-output-out-of-range"),
            whole(1, 64),
        ),
    ] = field(
        default=None,
        description="The switcher's output that taps its tempo, once a preset is loaded; the foot "
        "need not.",
    )
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
    foot_sends: FootSends | None = field(
        default=None,
        description="The control that it sends while the foot moves it, where it is an expression "
        "pedal with MIDI of its own: {channel: 9, cc: 11, values: {heel: 0, toe: 127}}.",
    )
    at_start: Name | None = field(
        default=None,
        description="Its position when the night begins; and between songs, if it has no at rest: "
        "and lets sound through there.",
    )
    at_rest: Name | None = field(
        default=None,
        description="The program, position or channel in scenes that do not ask for the unit; a "
        "foot brings it there between songs.",
    )
    silent_when: NameList | None = field(
        default=None,
        description="Positions, programs or relay states in which nothing comes through it: "
        "[closed]; write on for a mute or a tuner that silences while it is in or on. A volume "
        "is silent when closed, if not said otherwise.",
    )
    relay: RelayUse | None = field(
        default=None, description="The switcher's relay that works it, for example a channel."
    )
    relays: dict[Name, Contacts] = field(
        default_factory=dict,
        description="Where relays work several things in it, or one with several contacts: its "
        "channels, its reverb, its boost, by your names.",
    )
    always_on: YesNo = field(
        default=False,
        description="Whether it is always on, so that nothing has to switch it where an effect is "
        "made with it.",
    )
    shares_with: NameList = field(
        default_factory=list,
        description="The units with which it sits in one loop, or hangs on one relay contact.",
    )
    effects_loop: YesNo = field(
        default=False,
        description="Whether it has an effects loop, send and return, as many amplifiers have.",
    )
    inputs: Sockets = field(
        default=1,
        description="How many cables may lead into it: 2 in stereo. A mixer and an amplifier "
        "take any number.",
    )
    outputs: Sockets = field(
        default=1,
        description="How many cables may come out of it: 2 in stereo. A splitter, which may be a "
        "Y cable, has any number.",
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
    own_power: YesNo = field(
        default=False,
        description="Whether it has a power of its own: an adapter, a battery, the mains.",
    )
    note: Text | None = field(default=None, description="A word to yourself; explain prints it.")
    let_pass: LetPass = LET_PASS

    def control(self, name: str) -> Control | None:
        """Return the control called ``name``; that of the delay time is called ``time``."""
        return self.time if name == "time" else self.controls.get(name)

    @property
    def every_control(self) -> tuple[tuple[str, Control], ...]:
        """Its controls by name; that of the delay time is called ``time``."""
        time = () if self.time is None else (("time", self.time),)
        return (*time, *self.controls.items())

    @property
    def states(self) -> tuple[str, ...]:
        """The names that an effect may ask of this unit: programs, positions, channels."""
        relays = (state for one in self.switched.values() for state in one.states)
        return (*self.programs, *self.by_foot, *relays)

    @property
    def switched(self) -> dict[str, Switched]:
        """What relays work in it, by quantity: ``relay``, or ``relay`` and a name."""
        found = {}
        if self.relay is not None:
            states: dict[str, tuple[bool | None, ...]]
            states = {self.relay.open: (False,), self.relay.closed: (True,)}
            found["relay"] = Switched((self.relay.number,), states)
        for name, one in self.relays.items():
            found[f"relay {name}"] = Switched(
                tuple(one.numbers),
                {
                    state: tuple({"open": False, "closed": True}.get(said) for said in contacts)
                    for state, contacts in one.states.items()
                },
            )
        return found

    @property
    def silences(self) -> tuple[str, ...]:
        """The states in which nothing comes through it; `ON` while it is in or on."""
        if self.silent_when is not None:
            return tuple(self.silent_when)
        return (CLOSED,) if self.is_ == "volume" and CLOSED in self.states else ()
