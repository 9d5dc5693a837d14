"""A rig: its units, how effects are made from them, what stands in, and the cables.

What a unit is stands in `setwright.scenes.unit`, its controls and its power in rooms of their own.
"""

# Annotations are evaluated at once here: the records make their validators from them.

from collections import Counter
from typing import Annotated, Any, ClassVar

from setwright.scenes.fields import Before, field
from setwright.scenes.power import Output
from setwright.scenes.quantities import parse_name, parse_whole_span
from setwright.scenes.records import Reads, Record, entry, one_of
from setwright.scenes.sight import Sight
from setwright.scenes.songs import Scene
from setwright.scenes.switcher import MOST_BANKS, Milliseconds, YesNo
from setwright.scenes.texts import LET_PASS, WHOLE, LetPass, Name, NameList, Text, whole
from setwright.scenes.unit import Unit

BankSpan = Annotated[
    tuple[int, int],
    Reads(
        lambda text: parse_whole_span(text, 1, MOST_BANKS, "bank"),
        whole(1, MOST_BANKS, rf"{WHOLE}(\s* to \s*({WHOLE})?)?")
        | {"errorMessage": "write the first and the last bank: 1 to 12"},
    ),
]


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


class KeptSwitch(Record):
    """A switch that is kept the same in every bank, and what its preset holds, if that is said."""

    noun: ClassVar[str] = "kept switch"
    short: ClassVar[str | None] = "name"
    alternatives: ClassVar[tuple[str, ...]] = ("sound", "effects")

    name: Name = field(description="What is on it, as it is printed: Tuner.")
    sound: Name | None = field(
        default=None, description="Its sound, by its name under sounds: in the songs' file."
    )
    effects: NameList | None = field(
        default=None,
        description="The effects that sound; [] for none. Without sound and effects its preset is "
        "yours alone, and is left as it is.",
    )
    silent: YesNo = field(
        default=False, description="Whether silence is meant: no sound comes through here."
    )
    note: Text | None = field(default=None, description="A word to yourself; explain prints it.")
    let_pass: LetPass = LET_PASS

    @property
    def scene(self) -> Scene | None:
        """What its preset sounds like; None where nothing is said of that."""
        if self.sound is None and self.effects is None and not self.silent:
            return None
        return Scene(sound=self.sound, effects=self.effects, silent=self.silent, note=self.note)


class SwitcherUse(Record):
    """Which switcher the rig has, and which of its banks are this rig's."""

    noun: ClassVar[str] = "switcher's place in the rig"
    short: ClassVar[str | None] = "file"

    file: Name = field(description="The switcher's own file, in the same folder.")
    banks: BankSpan | None = field(
        default=None, description="The banks that are this rig's, counted from 1: 1 to 12."
    )
    every_bank: dict[Name, KeptSwitch] = field(
        default_factory=dict,
        description="Switches kept the same in every bank, by name or with what they hold: "
        "{switch 5: Tuner, switch 4: {name: Mute, effects: [], silent: yes}}.",
    )
    always_on: dict[Name, Name] = field(
        default_factory=dict,
        description="Scenes, or sounds, that lie on the same switch wherever a song has them: "
        "{Solo: switch 7}.",
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
        "{wobbler: tremolo}. A name with + in it says which program makes several at once: "
        "dark echo + hall: {cloud: dark hall}.",
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
    best_for: Annotated[str, one_of("the feet", "the hands")] | None = field(
        default=None,
        description="What songs are placed for on this rig, where the night says nothing: "
        "the feet or the hands.",
    )
    cue_sheet: Sight | None = field(
        default=None,
        description="From where the cue sheet is read, in front of this rig. Without it: standing, "
        "the sheet flat on the floor.",
    )
    note: Text | None = field(default=None, description="A word to yourself; explain prints it.")
    let_pass: LetPass = LET_PASS


def parse_kept_switch(text: str) -> str:
    """Return the mark of the switch in ``switch 5``, or ``5`` alone."""
    return parse_name(text).removeprefix("switch ").strip()


def kept_names(use: SwitcherUse) -> dict[str, str]:
    """Return what is kept in every bank, by its key there: its name, with the switch if needed."""
    count = Counter(one.name for one in use.every_bank.values())
    return {
        key: one.name if count[one.name] == 1 else f"{one.name} ({key})"
        for key, one in use.every_bank.items()
    }
