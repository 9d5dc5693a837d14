"""A control of a unit: its number, what its values do, and how it switches or steps."""

# Annotations are evaluated at once here: the records make their validators from them.

from fractions import Fraction
from typing import Annotated, ClassVar

from setwright.scenes.fields import field
from setwright.scenes.quantities import (
    Amount,
    parse_amount,
    parse_control_number,
    parse_data_byte,
    parse_linear,
)
from setwright.scenes.records import Reads, Record, one_of
from setwright.scenes.switcher import Channel, YesNo
from setwright.scenes.texts import NUMBER, Name, NameList, one_text, whole

ControlNumber = Annotated[int, Reads(parse_control_number, whole(0, 119))]
DataByte = Annotated[int, Reads(parse_data_byte, whole(0, 127))]
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
    alternatives: ClassVar[tuple[str, ...]] = ("linear", "points", "positions", "presses")

    cc: ControlNumber = field(description="The control number, 0 to 119.")
    fine_cc: ControlNumber | None = field(
        default=None,
        description="The control with the fine part, where it takes 14 bits; 128 fine steps are "
        "one of its own.",
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
    presses: NameList = field(
        default_factory=list,
        description="Its settings, where no value brings one and each press goes on to the next: "
        "[slow, fast]. No message can tell which it is then.",
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


class FootSends(Record):
    """The control that an expression pedal sends, and its values where the foot stands."""

    noun: ClassVar[str] = "pedal's control"

    channel: Channel = field(description="The MIDI channel on which it sends, 1 to 16.")
    cc: ControlNumber = field(description="The control number, 0 to 119.")
    values: dict[Name, DataByte] = field(
        description="The value in each of its positions: {heel: 0, middle: 64, toe: 127}."
    )


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
