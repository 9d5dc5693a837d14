"""A switcher as its maker made it: banks, switches, loops, and what a preset can store."""

# Annotations are evaluated at once here: the records make their validators from them.

from fractions import Fraction
from typing import Annotated, Any, ClassVar

from setwright.scenes.displays import Display, counted, parse_display
from setwright.scenes.fields import Before, field
from setwright.scenes.quantities import (
    Slip,
    parse_channel,
    parse_milliseconds,
    parse_whole,
    parse_whole_span,
    quoted,
)
from setwright.scenes.records import Reads, Record, one_of, one_or_many
from setwright.scenes.texts import (
    LET_PASS,
    MILLISECONDS,
    WHOLE,
    LetPass,
    Name,
    Text,
    one_text,
    whole,
)
from setwright.scenes.texts import YesNo as YesNo

Channel = Annotated[int, Reads(parse_channel, whole(1, 16))]
Milliseconds = Annotated[
    Fraction,
    Reads(parse_milliseconds, one_text(MILLISECONDS, "write a time: 120 ms or 1.8 s", "120 ms")),
]
Slots = Annotated[
    int, Reads(lambda text: parse_whole(text, 0, 64, "number of slots"), whole(0, 64))
]
DISPLAY = r"\S[\s\S]* to \s*\S[\s\S]*"


def parse_count_or_display(text: str, most: int) -> Display:
    """Return how a row of things is shown: ``20`` counts from 1, ``A to E`` as written.

    Either way there are at most ``most``; raises `Slip` for more.
    """
    if text.strip().isdecimal():
        return counted(parse_whole(text, 1, most, "number"))
    display = parse_display(text)
    if display.count > most:
        raise Slip(
            "out-of-range",
            f"{quoted(text)} counts {display.count:,}, and there are at most {most:,}",
            f"write how many there are, 1 to {most}, or the first and the last as they are shown",
        )
    return display


def _count_or_display(most: int) -> dict[str, Any]:
    return whole(1, most, rf"\d{{1,12}}|{DISPLAY}") | {
        "errorMessage": "write how many, or the first and the last as they are shown: 0 to 19"
    }


MOST_BANKS = 16_384
"""What bank select can reach in all (MIDI 1.0 Detailed Specification 4.2.1, bank select)."""
MOST_SWITCHES = 64
"""Switches in a bank; our own limit, several times what feet find (from memory: four to ten)."""
Banks = Annotated[
    Display,
    Reads(lambda text: parse_count_or_display(text, MOST_BANKS), _count_or_display(MOST_BANKS)),
]
Switches = Annotated[
    Display,
    Reads(
        lambda text: parse_count_or_display(text, MOST_SWITCHES), _count_or_display(MOST_SWITCHES)
    ),
]
Loops = Annotated[
    int, Reads(lambda text: parse_whole(text, 0, 64, "number of loops"), whole(0, 64))
]


class NameDisplay(Record):
    """How the switcher's display shows the names of its presets."""

    noun: ClassVar[str] = "display of names"
    short: ClassVar[str | None] = "characters"

    characters: Slots = field(
        default=0, description="Characters of a preset's name on the display; 0 without one."
    )
    capitals: Annotated[str, one_of("and small", "only")] = field(
        default="and small",
        description="Whether the display has capitals and small letters, or capitals only.",
    )

    def show(self, name: str) -> str:
        """Return ``name`` as the display shows it; whole where it is not said that there is one."""
        told = name.upper() if self.capitals == "only" else name
        return told[: self.characters] if self.characters else told


class Storage(Record):
    """What one preset of the switcher can hold."""

    noun: ClassVar[str] = "preset's storage"

    programs: Slots = field(default=0, description="How many program changes a preset holds.")
    controls: Slots = field(default=0, description="How many control changes a preset holds.")
    on_any_channel: YesNo = field(
        default=True, description="Whether each slot's channel can be chosen in the preset."
    )
    program_channels: Annotated[list[Channel], Before(one_or_many)] = field(
        default_factory=list,
        description="Where channels are fixed: the channel of each program slot, in order.",
    )
    control_channels: Annotated[list[Channel], Before(one_or_many)] = field(
        default_factory=list,
        description="Where channels are fixed: the channel of each control slot, in order.",
    )
    bank_select: YesNo = field(
        default=False,
        description="Whether a program slot can send a bank select before its program.",
    )
    messages_on_leaving: Slots = field(
        default=0, description="How many messages a preset sends when it is left."
    )
    sends: Annotated[str, one_of("programs first", "controls first", "as listed")] = field(
        default="programs first", description="The order in which a preset sends its messages."
    )
    names: NameDisplay = field(
        default_factory=NameDisplay,
        description="How its name is shown: how many characters (8), and whether in capitals only.",
    )


class BankMoves(Record):
    """How the player gets from one bank to another."""

    noun: ClassVar[str] = "bank move"

    by: Annotated[str, one_of("up and down", "number", "both")] = field(
        default="up and down", description="By up and down switches, by a number, or both."
    )
    loads_at_once: YesNo = field(
        default=False,
        description="Whether moving to a bank loads a preset before a switch is pressed.",
    )
    loads: Annotated[str, one_of("same switch", "first switch")] = field(
        default="same switch",
        description="Which preset a bank loads at once: that of the switch pressed last, or its "
        "first.",
    )


class VolumeLoop(Record):
    """A volume pedal's own loop, and which loops come before it."""

    noun: ClassVar[str] = "volume loop"

    after_loop: Annotated[
        int, Reads(lambda text: parse_whole(text, 0, 64, "loop"), whole(0, 64))
    ] = field(key="after loop", description="The last loop before the volume loop; 0 if none.")

    @classmethod
    def expand(cls, data: Any) -> Any:
        """One number is the last loop before the volume loop."""
        return {"after loop": data} if isinstance(data, str) and data.strip() else data


FASTEST_CLOCK = 999
"""What a display of three figures can show; our own limit."""


def parse_clock_range(text: str) -> tuple[int, int]:
    """Return the slowest and the fastest tempo of ``40 to 240``, in quarter notes a minute."""
    if " to " not in text:
        raise Slip(
            "not-a-range",
            f"{quoted(text)} has no ‘to’",
            "write the slowest and the fastest tempo: 40 to 240",
        )
    return parse_whole_span(text, 1, FASTEST_CLOCK, "tempo")


ClockRange = Annotated[
    tuple[int, int],
    Reads(
        parse_clock_range,
        one_text(
            rf"{WHOLE}\s* to \s*{WHOLE}",
            "write the slowest and the fastest: 40 to 240",
            "40 to 240",
        ),
    ),
]


class SwitcherClock(Record):
    """The MIDI clock that the switcher sends by itself."""

    noun: ClassVar[str] = "clock of the switcher"
    short: ClassVar[str | None] = "tempo"

    tempo: Annotated[str, one_of("per preset", "global")] = field(
        description="Whether each preset has a tempo of its own, or one holds for all of them."
    )
    bpm: ClockRange | None = field(
        default=None,
        key="BPM",
        description="Its slowest and fastest tempo, in quarter notes a minute: 40 to 240.",
    )


class Switcher(Record):
    """The foot controller that stores presets."""

    noun: ClassVar[str] = "switcher"

    switcher: Name = field(description="What you call it.")
    banks: Banks = field(
        description="How many banks it has (20), or how it shows them (0 to 19, A to T)."
    )
    switches: Switches = field(
        description="How many presets a bank has (5), or how they are marked (A to E)."
    )
    loops: Loops = field(default=0, description="How many effect loops it has.")
    relays: Annotated[list[Annotated[str, one_of("hold", "pulse")]], Before(one_or_many)] = field(
        default_factory=list,
        description="Its relay outputs in order: hold keeps a contact closed, pulse closes "
        "it for a moment.",
    )
    each_preset_stores: Storage = field(
        default_factory=Storage, description="What one preset can hold."
    )
    bank_moves: BankMoves = field(default_factory=BankMoves, description="How banks are changed.")
    recalled_on_channel: Channel | None = field(
        default=None,
        description="The channel on which the switcher itself obeys program changes.",
    )
    first_program: Annotated[
        int, Reads(lambda text: parse_whole(text, 0, 127, "program"), whole(0, 127))
    ] = field(
        default=0,
        description="The program on the wire (0 to 127) that loads the first preset; the "
        "others follow switch by switch.",
    )
    recalled_by_bank_select: Annotated[str, one_of("no", "msb", "lsb", "msb and lsb")] = field(
        default="no",
        description="Which bank select messages reach presets beyond program 127, if any: "
        "control 0 (msb), 32 (lsb).",
    )
    same_switch_again: Annotated[str, one_of("sends again", "does nothing", "goes back")] = field(
        default="sends again",
        description="What happens when the switch of the loaded preset is pressed again.",
    )
    at_power_up: Annotated[str, one_of("first preset", "last used", "unknown")] = field(
        default="unknown", description="Which preset is loaded when the power comes on."
    )
    copies_presets: YesNo = field(
        default=False,
        description="Whether it can copy one preset to another place, to begin from.",
    )
    loop_order: Annotated[str, one_of("fixed", "per preset")] = field(
        default="fixed", description="Whether each preset can put the loops in an order of its own."
    )
    volume_loop: VolumeLoop | None = field(
        default=None, description="Where a volume pedal's own loop sits among the loops."
    )
    gap_between_messages: Milliseconds = field(
        default=Fraction(0), description="Time the switcher leaves between two messages."
    )
    passes_on_midi: YesNo = field(
        default=False,
        key="passes on MIDI",
        description="Whether it passes on what arrives at its MIDI IN.",
    )
    tap_outputs: Annotated[
        int, Reads(lambda text: parse_whole(text, 0, 64, "number of tap outputs"), whole(0, 64))
    ] = field(
        default=0,
        description="How many outputs it has that tap a delay, at the tempo that each preset has.",
    )
    clock: SwitcherClock | None = field(
        default=None,
        description="The clock that it sends by itself, with a tempo per preset or a global one.",
    )
    note: Text | None = field(default=None, description="A word to yourself; explain prints it.")
    let_pass: LetPass = LET_PASS
