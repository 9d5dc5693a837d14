"""A night: which rig, which songs, in which sets, and what is different tonight."""

# Annotations are evaluated at once here: the records make their validators from them.

from typing import Annotated, Any, ClassVar

from setwright.scenes.fields import Before, field
from setwright.scenes.quantities import Slip, parse_whole
from setwright.scenes.records import Reads, Record, one_of, one_or_many, slip_error
from setwright.scenes.sight import Sight
from setwright.scenes.texts import (
    LET_PASS,
    LetPass,
    Name,
    NameList,
    Seconds,
    TempoText,
    Text,
    TimeOfDay,
    whole,
)

Capo = Annotated[int, Reads(lambda text: parse_whole(text, 0, 14, "capo"), whole(0, 14))]


BankPresses = Annotated[
    int, Reads(lambda text: parse_whole(text, 0, 9_999, "number of presses"), whole(0, 9_999))
]


class Playing(Record):
    """One song of a set, with what is different tonight."""

    noun: ClassVar[str] = "song to play"
    short: ClassVar[str | None] = "song"

    song: Name | None = field(default=None, description="The song's title, or its id.")
    straight_into: Name | None = field(
        default=None, description="The song's title or id, when it follows without a pause."
    )
    capo: Capo | None = field(default=None, description="The capo's fret tonight; 0 for none.")
    tempo: TempoText | None = field(default=None, description="The tempo tonight.")
    leave_out: NameList = field(
        default_factory=list,
        description="Scenes that are left out tonight; what the foot does at them is done at the "
        "next moment.",
    )
    note: Text | None = field(default=None, description="A word for tonight; printed.")

    @classmethod
    def expand(cls, data: Any) -> Any:
        """Take a bare title too; exactly one of the two keys must name the song."""
        data = super().expand(data)
        if isinstance(data, dict) and ("song" in data) == ("straight into" in data):
            near = {"song", "straight into"} & set(data)
            raise slip_error(
                Slip(
                    "missing-key",
                    "this entry names two songs" if near else "this entry names no song",
                    "write song: or straight into:, and the title",
                )
            )
        return data

    @property
    def name(self) -> str:
        """The title or id by which the song is known."""
        return self.song or self.straight_into or ""

    @property
    def name_path(self) -> tuple[str | int, ...]:
        """The key path of that name."""
        return (*self.path, "song" if self.song else "straight into")


class Set(Record):
    """The songs between two breaks."""

    noun: ClassVar[str] = "set"

    name: Name | None = field(default=None, description="What the set is called.")
    begins: TimeOfDay | None = field(
        default=None,
        description="When it begins: 20:30. The cue sheet says for each song when it is due, or, "
        "without it, how long after the first.",
    )
    at_most: Seconds | None = field(default=None, description="The time there is: 45 min.")
    note: Text | None = field(default=None, description="A word to yourself; printed.")
    play: list[Playing] = field(description="The songs in playing order.")
    let_pass: LetPass = LET_PASS


class Night(Record):
    """One evening."""

    noun: ClassVar[str] = "night"

    night: Name = field(description="What the evening is called.")
    date: Text | None = field(default=None, description="When it is, in your own words.")
    rig: Name = field(description="The rig's file, in the same folder or below.")
    songs: NameList = field(description="The file or files of songs.")
    sets: list[Set] = field(default_factory=list, description="The sets in order.")
    if_asked: Annotated[list[Playing], Before(one_or_many)] = field(
        default_factory=list,
        description="Songs kept ready in case somebody asks for them, the most likely first: "
        "the last ones have the general scenes where the banks are full.",
    )
    best_for: Annotated[str, one_of("the feet", "the hands")] | None = field(
        default=None,
        description="What the songs are placed for: the feet, with the fewest bank presses on the "
        "night, or the hands, with the fewest presets to type. The feet, if the rig says nothing.",
    )
    between_songs: Seconds | None = field(
        default=None,
        description="How long it takes from one song to the next: 30 s. It counts in the times "
        "of the cue sheet, and in whether a set is too long.",
    )
    cue_sheet: Sight | None = field(
        default=None,
        description="From where the cue sheet is read tonight, where that is not as the rig says: "
        "its letters are as large as that needs.",
    )
    bank_presses: BankPresses | None = field(
        default=None,
        description="At most so many presses from bank to bank in all sets together; the more, the "
        "less there may be to type. As few as can be, or as were needed before, if it is not said.",
    )
    note: Text | None = field(default=None, description="A word to yourself; printed.")
    let_pass: LetPass = LET_PASS
