"""What a switcher holds, as it was typed in: one file beside the switcher's own.

``setwright done`` writes it, a line for each preset; who types something else in changes the line.
No file means that nothing is known.
"""

# Annotations are evaluated at once here: the records make their validators from them.

import re
from typing import Annotated, ClassVar

from setwright.scenes.fields import Before, field
from setwright.scenes.quantities import Slip, parse_whole, quoted, tidy
from setwright.scenes.records import Reads, Record, one_or_many
from setwright.scenes.texts import Name, NameList, Text, one_text, whole

FORMAT = 1
"""What the file is written in; a later Setwright may write a higher number."""

ENDING = ".stored.yaml"
"""What such a file is called: ``floor.stored.yaml`` beside ``floor.yaml``."""

_HEX = r"(?:[0-9A-Fa-f]{2})(?:\s+[0-9A-Fa-f]{2}){1,2}"


def stored_name(switcher: str) -> str:
    """Return the name of the file beside the switcher's: ``a/floor.yaml`` → floor.stored.yaml."""
    return re.sub(r"\.ya?ml$", "", switcher, flags=re.IGNORECASE) + ENDING


def parse_bytes(text: str) -> bytes:
    """Return the bytes of a message of two or three, in hexadecimal: ``c1 2a``."""
    stripped = tidy(text)
    if not re.fullmatch(_HEX, stripped, re.ASCII):
        raise Slip(
            "not-a-message",
            f"{quoted(text)} is no message in hexadecimal",
            "write its two or three bytes: c1 2a",
        )
    message = bytes.fromhex(stripped)
    if message[0] >> 4 not in (0xB, 0xC) or len(message) != (3 if message[0] >> 4 == 0xB else 2):
        raise Slip(
            "not-a-message",
            f"{quoted(text)} is no program change and no control change",
            "write c and the channel, 0 to f, and the program; or b, the control and its value",
        )
    if any(byte > 0x7F for byte in message[1:]):
        raise Slip(
            "not-a-message",
            f"{quoted(text)} has a data byte beyond 7f",
            "write bytes from 00 to 7f behind the first",
        )
    return message


MessageBytes = Annotated[
    bytes,
    Reads(
        parse_bytes, one_text(rf"\s*{_HEX}\s*", "write its bytes in hexadecimal: c1 2a", "c1 2a")
    ),
]
Numbered = Annotated[int, Reads(lambda text: parse_whole(text, 1, 64, "number"), whole(1, 64))]


BankPresses = Annotated[
    int, Reads(lambda text: parse_whole(text, 0, 9_999, "number of presses"), whole(0, 9_999))
]


class StoredPreset(Record):
    """One preset as the switcher holds it."""

    noun: ClassVar[str] = "stored preset"

    name: Text | None = field(default=None, description="The name that was typed in.")
    loops: Annotated[list[Numbered], Before(one_or_many)] = field(
        default_factory=list, description="The loops that are in."
    )
    relays: Annotated[list[Numbered], Before(one_or_many)] = field(
        default_factory=list, description="The relays whose contact is closed."
    )
    messages: Annotated[list[MessageBytes], Before(one_or_many)] = field(
        default_factory=list,
        description="The messages in the order of sending, as bytes in hexadecimal: [c1 2a].",
    )
    tempo: Text | None = field(
        default=None, description="The preset's tempo, where it has one: quarter = 120."
    )


class Placed(Record):
    """Where the songs of the night lie of which the plan, or a part of it, is noted."""

    noun: ClassVar[str] = "placed night"

    state: Name = field(description="The four signs of what the switcher must hold for it.")
    banks: NameList = field(
        default_factory=list,
        description="The bank of each song in playing order, then of what may be asked for.",
    )
    presses: BankPresses = field(
        default=0,
        description="The bank presses that it takes: as many are allowed again, so that a change "
        "moves less.",
    )


class Stored(Record):
    """What a switcher holds."""

    noun: ClassVar[str] = "list of what a switcher holds"

    stored: Name = field(description="The switcher that holds it, as its file calls it.")
    format: Annotated[
        int | None,
        Reads(lambda text: parse_whole(text, 1, 999, "number of a format"), whole(1, 999)),
    ] = field(default=None, description="The format of this file; 1 is the only one so far.")
    presets: dict[Name, StoredPreset] = field(
        default_factory=dict,
        description="Each preset by bank and switch, as the switcher shows them: 1/2.",
    )
    programs: dict[Name, dict[Name, Name]] = field(
        default_factory=dict,
        description="The programs that units hold, by unit and display: {cloud: {12: dark echo}}.",
    )
    placed: dict[Name, Placed] = field(
        default_factory=dict,
        description="The night that was noted last, by rig: it stays where it lies.",
    )
