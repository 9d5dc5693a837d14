"""Power: what a unit needs at its input, and what an output of the supply gives."""

# Annotations are evaluated at once here: the records make their validators from them.

from fractions import Fraction
from typing import Annotated, ClassVar

from setwright.scenes.fields import field
from setwright.scenes.quantities import Span, parse_current, parse_voltage
from setwright.scenes.records import Reads, Record, one_of
from setwright.scenes.texts import LET_PASS, LetPass, NameList, one_text

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
