"""The cables of a rig as plain data: signal, MIDI and power, as they are plugged tonight.

Units that are left out tonight are in none of them; where one is gone, its neighbours are joined.
"""

from __future__ import annotations

from pydantic import Field

from setwright.compiler.outputs.plain import Data


class PathUnitData(Data):
    """A unit on the signal's path."""

    unit: str
    kind: str = Field(description="guitar, effect, amplifier, volume, splitter and so on.")
    loop: int | None = Field(description="The switcher's loop that it sits in; null without one.")
    effects_loop: bool = Field(description="Whether its own effects loop is in use.")
    within: str | None = Field(
        description="The unit between whose send and return it lies; null where it lies in none."
    )


class PathCableData(Data):
    """A cable of the signal's path."""

    source: str
    source_side: str = Field(description="out or send.")
    target: str
    target_side: str = Field(description="in or return.")


class MidiBoxData(Data):
    """A box on a MIDI line."""

    box: str = Field(description="A unit, switcher or computer.")
    kind: str = Field(description="switcher, computer, or what kind of unit it is.")
    channel: int | None = Field(
        description="The channel it listens to, 1 to 16; null where it has none, or hears all."
    )
    omni: bool = Field(description="Whether it listens on all channels.")
    passes_on: bool = Field(description="Whether it passes on what it receives.")


class MidiCableData(Data):
    """A MIDI cable, from an OUT or a THRU to an IN."""

    source: str
    socket: str = Field(description="The socket of its source: OUT or THRU.")
    target: str


class FedData(Data):
    """A unit that gets power from an output, straight or through another unit."""

    unit: str
    through: str | None = Field(description="The unit that passes the power on; null if none.")
    draws_ma: float | None = Field(description="What it draws; null where that is not said.")
    volts: str | None = Field(description="What it needs: 9 V, 9 to 18 V; null if not said.")
    current: str | None = Field(description="dc or ac; null if not said.")
    polarity: str | None = Field(description="Of its socket; null if not said, and with ac.")


class OutputData(Data):
    """An output of the power supply."""

    output: str
    gives_ma: float = Field(description="The most current it gives.")
    volts: str = Field(description="Its voltage: 9 V, 9 to 18 V.")
    current: str = Field(description="dc or ac.")
    polarity: str | None = Field(description="Of its plug; null with ac.")
    draws_ma: float = Field(description="What its units draw together, as far as that is said.")
    feeds: tuple[FedData, ...]


class WiringData(Data):
    """What is plugged into what."""

    path: tuple[PathUnitData, ...] = Field(default=(), description="In the order of the path.")
    path_cables: tuple[PathCableData, ...] = ()
    midi: tuple[MidiBoxData, ...] = Field(default=(), description="In the order of the lines.")
    midi_cables: tuple[MidiCableData, ...] = ()
    supply: tuple[OutputData, ...] = ()
