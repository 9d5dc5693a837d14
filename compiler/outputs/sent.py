"""Scenes and presets as plain data: what is sent for them, and what is typed in."""

from __future__ import annotations

from pydantic import Field

from setwright.compiler.outputs.plain import AmountData, Data, PlaceData


class MessageData(Data):
    """One MIDI message."""

    unit: str = Field(description="The unit that it is meant for.")
    sets: str = Field(description="What it sets: program, bank, switch, time, a control's name.")
    kind: str = Field(description="program or control.")
    channel: int = Field(description="1 to 16.", ge=1, le=16)
    number: int = Field(description="The program or control on the wire.", ge=0, le=127)
    value: int | None = Field(description="The control's value; null for programs.")
    hex: str = Field(description="Its bytes, for example c5 2a.")
    meaning: str = Field(description="What it does, in words.")
    name: str | None = Field(description="What the program is called; null for controls.")
    shown: str | None = Field(
        description="The program as its unit's display shows it; null where it has none."
    )
    asked: AmountData | None = Field(description="What a control is to have, if it is set.")
    given: AmountData | None = Field(
        description="What the control's value makes of it, where that is not the same."
    )
    starts_ms: float = Field(description="Milliseconds from the press to its first bit.")
    ends_ms: float = Field(description="Milliseconds from the press to its last bit.")
    busy_ms: float = Field(
        default=0, description="Milliseconds after it in which its unit loses what is sent to it."
    )


class RouteData(Data):
    """The messages of one route, in the order of sending."""

    messages: tuple[MessageData, ...]
    bytes: int = Field(description="Bytes without running status.")
    bytes_running: int = Field(description="Bytes with running status.")
    ms: float = Field(description="Milliseconds until the last byte is through.")
    ms_running: float = Field(description="The same with running status.")
    sound_ms: float = Field(description="Milliseconds until the last unit has settled.")


class UnitData(Data):
    """One quantity of one unit in one scene."""

    unit: str
    quantity: str
    value: str | None = Field(description="In words; null where nobody cares or knows.")
    why: str
    verdict: str
    reason: str


class SceneData(Data):
    """One scene as this rig plays it."""

    song: str | None = Field(
        description="The owner, under which songs find their scenes; null for general scenes."
    )
    scene: str
    effects: tuple[str, ...]
    replaced: tuple[tuple[str, str], ...] = Field(
        description="Effects that this rig plays otherwise: asked for, played."
    )
    note: str = Field(default="", description="The player's own words; empty without any.")
    place: PlaceData | None
    units: tuple[UnitData, ...]
    recall: RouteData | None = Field(description="What makes the switcher load the preset.")
    stored: RouteData = Field(description="What the preset sends when it is loaded.")
    direct: RouteData = Field(description="What a computer sends instead.")


class SlotData(Data):
    """One message slot of a preset."""

    slot: int = Field(
        description="Counted from 1 in the order of sending; the same for a unit in all presets, "
        "where that is possible, so that some between may be empty."
    )
    unit: str
    channel: int
    kind: str
    number: int = Field(description="On the wire.")
    shown: str | None = Field(description="The program as its unit's display shows it.")
    value: int | None
    bank_msb: int | None = Field(description="Bank select control 0 sent before it, if any.")
    bank_lsb: int | None = Field(description="Bank select control 32 sent before it, if any.")
    sets: str = Field(description="What it sets: program, bank, switch, time, a control's name.")
    meaning: str
    name: str | None = Field(description="What the program is called; null for controls.")
    asked: AmountData | None = Field(description="What a control is to have, if it is set.")
    given: AmountData | None = Field(
        description="What the control's value makes of it, where that is not the same."
    )


class PresetData(Data):
    """One preset, as it is typed into the switcher."""

    place: PlaceData
    name: str = Field(description="As the switcher can show it.")
    loops: tuple[int, ...] = Field(description="Loops that are in, counted from 1.")
    loop_units: tuple[str, ...] = Field(description="The units in these loops.")
    relays: tuple[int, ...] = Field(description="Relays whose contact is closed.")
    tempo: AmountData | None = Field(
        default=None,
        description="The preset's own tempo, in beats a minute; null where nothing follows one.",
    )
    programs: tuple[SlotData, ...]
    controls: tuple[SlotData, ...]
    scenes: tuple[tuple[str | None, str], ...] = Field(
        description="The scenes that it serves: owner (null for general scenes) and scene."
    )


class StepData(Data):
    """One preset to type, against what the switcher is known to hold."""

    place: PlaceData
    name: str = Field(description="As the switcher can show it.")
    copied_from: PlaceData | None = Field(
        description="The preset that it begins as a copy of; null where it is no copy."
    )
    from_nothing: bool = Field(
        description="Whether it begins from nothing; else from its copy, or from what lies there."
    )
    entries: tuple[str, ...] = Field(description="What is then to be set, one entry each.")


class ProgramData(Data):
    """A program that a unit has to hold for tonight's presets."""

    unit: str
    shown: str = Field(description="Its number as the unit's display shows it.")
    name: str
    stored: bool = Field(description="Whether it is known to be there.")


class KeptData(Data):
    """A switch that is kept the same in every bank, whose preset the rig says."""

    silent: bool = Field(description="Whether silence is meant.")
    preset: PresetData = Field(
        description="What is typed in, in each of the rig's banks; its place is in the first."
    )
    scene: SceneData = Field(description="What it does; its song is every bank.")
