"""The whole night as plain data: what ``night.json`` holds and every other output is made from.

Numbers: channels and slots count from 1; programs on the wire and control values are 0 to 127;
times within a song are seconds, on the wire milliseconds; ``hex`` is lower case with single
spaces. What nobody cares about or nobody knows is null. Whatever an output needs to know has a
field of its own here; words are to be read by people alone.
"""

from __future__ import annotations

from functools import cached_property
from typing import Self

from pydantic import Field

from setwright.compiler.binding.target import COMPUTER
from setwright.compiler.outputs.plain import Data, FootData, PlaceData
from setwright.compiler.outputs.sent import (
    KeptData,
    PresetData,
    ProgramData,
    RouteData,
    SceneData,
    StepData,
)
from setwright.compiler.outputs.wiring import WiringData

FORMAT = 2
"""Version of the format of ``night.json``; it grows when a field changes its meaning."""


class MomentData(Data):
    """A press within a song."""

    scene: str
    position: str | None = Field(description="As written; null where the song does not say.")
    place: str | None = Field(description="Where it is, or is assumed to be, in words.")
    brief: str = Field(
        default="", description="The same, short: 2 A for part A of round 2; empty as that is null."
    )
    bar: int | None = Field(
        description="The bar in which it lies, counted from 1; 0 for the pickup."
    )
    bars: float | None = Field(description="Bars that have passed.")
    seconds: float | None = Field(description="Seconds that have passed.")
    assumed: bool
    cue: str
    guitar: str = Field(
        default="", description="Which guitar or tuning is taken up here; empty if it stays."
    )
    feet: tuple[FootData, ...] = Field(description="What the foot does besides.")
    stay: bool = Field(description="Whether the same switch was pressed last in this song.")
    press: str = Field(
        description="What the foot does with the switch: press; stay, for its preset is loaded; "
        "unless on, where a switch that is on would go back and nobody knows whether it is."
    )


class TempoData(Data):
    """A tempo."""

    beat: str
    bpm: float
    quarters_per_minute: float


class TurnData(Data):
    """A tempo within a song, from a place on."""

    where: str = Field(description="As a player says it: from bridge, in Slow.")
    bars: float | None = Field(description="Bars that have passed; null where nobody knows.")
    tempo: TempoData | None = Field(description="Null where it is free.")


class SongData(Data):
    """A song as it is played tonight."""

    number: int = Field(description="Its number in the night; 0 for songs kept for requests.")
    title: str
    id: str = Field(description="By which it is known: its id, else its title.")
    key: str | None
    meter: str | None
    tempo: TempoData | None
    free: bool = Field(default=False, description="Whether the song begins without a tempo.")
    turns: tuple[TurnData, ...] = Field(
        default=(), description="Tempos from places on, and those of scenes, where there are any."
    )
    pickup: float = Field(
        default=0, description="Quarter notes before the first full bar, which is bar 1."
    )
    form: str | None
    guitar: str
    note: str
    straight_into: bool = Field(description="Whether it follows the song before without a pause.")
    general: bool = Field(description="Whether it has the rig's general scenes.")
    bars: int | float | None = Field(
        description="Bars from first to last note; a pickup is a part of one."
    )
    seconds: float | None
    scenes: tuple[str, ...]
    moments: tuple[MomentData, ...]
    owner: str | None = Field(
        description="The name under which its scenes are listed, which playings that sound the "
        "same share; null for the rig's general scenes."
    )
    called: str = Field(
        description="The name of this playing, as commands take it: number and id, "
        "or if asked and id."
    )
    begins_late: bool = Field(
        description="Whether nothing is pressed at its beginning: the sound of before stays."
    )
    feet_first: tuple[FootData, ...] = Field(
        description="What the foot does with the first note, where nothing is pressed there."
    )
    feet_after: tuple[FootData, ...] = Field(
        description="What the foot puts back after the last note."
    )
    taps: dict[str, tuple[FootData, ...]] = Field(
        default_factory=dict,
        description="What the foot taps into delays when a scene is chosen that no moment presses.",
    )
    time: int = Field(
        description="Which time it is played tonight, from 1; 0 for songs kept for requests."
    )


class SetData(Data):
    """The songs between two breaks."""

    name: str
    at_most_seconds: float | None
    begins_minutes: int | None = Field(
        default=None, description="When it begins, in minutes since midnight."
    )
    note: str
    songs: tuple[int, ...] = Field(description="Numbers of its songs.")


class SwitcherData(Data):
    """The switcher and what of it this rig uses."""

    name: str
    banks: str = Field(description="How its banks are shown.")
    switches: str = Field(description="How the switches of a bank are shown.")
    bank_count: int
    switch_count: int
    first_bank: int = Field(description="The rig's first bank, counted from 1.")
    last_bank: int
    recall_channel: int | None
    kept: dict[str, str] = Field(description="Switches kept the same in every bank.")
    loops: int
    loop_units: dict[str, str] = Field(description="Loop, counted from 1, and its unit.")
    relay_units: dict[str, str]
    loop_shared: dict[str, tuple[str, ...]] = Field(
        default_factory=dict, description="Loop, and the other units in it, where there are any."
    )
    relay_works: dict[str, str] = Field(
        default_factory=dict,
        description="Relay, and the quantity of its unit that it works: relay, relay channel.",
    )
    relay_shared: dict[str, tuple[str, ...]] = Field(
        default_factory=dict, description="Relay, and the other units that it works."
    )
    holds_programs: int
    holds_controls: int
    holds_on_leaving: int = Field(description="Messages that a preset could send when it is left.")
    bank_moves_by: str = Field(description="up and down, number, or both.")
    bank_moves_load: bool = Field(description="Whether a move to a bank loads a preset at once.")
    bank_moves_load_switch: str = Field(
        description="Whose preset it then loads: same switch (as pressed last) or first switch."
    )
    bank_moves_wait_ms: float | None = Field(
        default=None,
        description="How long the foot waits at each bank that it passes; null where it need not.",
    )
    same_switch_again: str = Field(description="sends again, does nothing, or goes back.")
    at_power_up: str = Field(description="first preset, last used, or unknown.")
    first_of_all: PlaceData | None = Field(
        description="What has to be pressed before the first song, once every unit is awake, for "
        "the first press of the night to load its preset; null where nothing has to."
    )
    tapped: dict[str, tuple[str, ...]] = Field(
        default_factory=dict, description="Tap output, counted from 1, and the units it taps."
    )
    clock: str | None = Field(
        default=None, description="The clock that it sends: per preset, or global; null if none."
    )
    loops_per_preset: bool = Field(description="Whether each preset can put the loops in order.")
    volume_loop_after: int | None = Field(
        description="The last loop before the volume pedal's own loop, 0 if none; null without one."
    )


class UnitUse(Data):
    """A unit on the MIDI line."""

    unit: str
    channel: int | None = Field(description="1 to 16; null for omni.")
    display: str | None


class ByHandData(Data):
    """Something that no message can set, and that stands all night as it is set before it."""

    unit: str
    quantity: str = Field(description="switch, relay, program, fine part, or clock.")
    value: str = Field(
        description="In words: on, off, a state, a program and its display, a control's fine part."
    )


class SightData(Data):
    """From where the cue sheet is read, and how high capitals have to be for that, in mm."""

    eyes_above_cm: float
    ahead_cm: float
    faces_you: bool = Field(description="Whether it is turned to the eyes, not lying flat.")
    cue_mm: float = Field(description="Capitals of what is read while playing, in mm.")
    title_mm: float = Field(description="Capitals of banks, and of songs that follow straight on.")
    rest_mm: float = Field(description="Capitals of everything else.")


class NightData(Data):
    """A night on its rig, from songs to bytes."""

    format: int = FORMAT
    night: str
    date: str
    note: str
    rig: str
    without: tuple[str, ...] = Field(default=(), description="Units that are left out tonight.")
    state: str = Field(description="Four signs that stand for what the switcher has to hold.")
    switcher: SwitcherData
    units: tuple[UnitUse, ...] = Field(description="Units that listen to MIDI.")
    feet: dict[str, str] = Field(
        description="Units that a foot works, and how each stands before every song; those that "
        "stay as the song before left them are not among them."
    )
    feet_at_start: dict[str, str] = Field(description="How they stand otherwise at its beginning.")
    set_by_hand: tuple[ByHandData, ...] = Field(
        description="What has to be set by hand before the night, for no message can."
    )
    sender: str = Field(
        description="Who sends what scenes need: switcher (its presets hold the messages) or "
        "computer (presets hold loops and relays alone, and a computer sends the direct route)."
    )
    between_songs_seconds: float | None = Field(
        default=None, description="How long it takes from one song to the next."
    )
    sight: SightData = Field(description="From where the cue sheet is read.")
    sets: tuple[SetData, ...]
    songs: tuple[SongData, ...]
    others: tuple[str, ...] = Field(
        default=(), description="Titles in the book that are not among tonight's songs."
    )
    scenes: tuple[SceneData, ...]
    presets: tuple[PresetData, ...]
    typing: tuple[StepData, ...] = Field(
        default=(), description="What is to be typed, in an order that takes the least entries."
    )
    programs: tuple[ProgramData, ...] = Field(
        default=(), description="The programs that units have to hold."
    )
    kept: tuple[KeptData, ...] = Field(
        default=(), description="What the rig says of switches kept the same in every bank."
    )
    wiring: WiringData = Field(
        default_factory=WiringData, description="What is plugged into what tonight."
    )

    @property
    def before(self) -> tuple[str, ...]:
        """What is set before the night, in words: feet that begin otherwise, then all else."""
        return (
            *(f"{unit} {position}" for unit, position in self.feet_at_start.items()),
            *(f"{one.unit} {one.value}" for one in self.set_by_hand),
        )

    @property
    def scenes_and_kept(self) -> tuple[SceneData, ...]:
        """The scenes of the night, and behind them what is kept in every bank."""
        return (*self.scenes, *(one.scene for one in self.kept))

    @cached_property
    def _scenes(self) -> dict[tuple[str | None, str], SceneData]:
        return {(scene.song, scene.scene): scene for scene in self.scenes}

    def scene(self, owner: str | None, name: str) -> SceneData:
        """Return a scene by its owner (a song's, a preset's) and name; KeyError without one."""
        return self._scenes[owner, name]

    def sent(self, scene: SceneData) -> RouteData:
        """Return what is sent for ``scene`` on the night, by whoever sends."""
        return scene.direct if self.sender == COMPUTER else scene.stored

    def __copy__(self) -> Self:
        """Return a copy that looks its scenes up anew, for it may be given others."""
        copied = super().__copy__()
        copied.__dict__.pop("_scenes", None)
        return copied
