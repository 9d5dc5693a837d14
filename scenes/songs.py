"""Songs, their scenes and sounds, as the musician writes them; they fit any rig."""

# Annotations are evaluated at once here: the records make their validators from them.

from fractions import Fraction
from typing import Annotated, Any, ClassVar

from setwright.scenes.fields import Before, field
from setwright.scenes.forms import (
    Vamp,
)
from setwright.scenes.musical_time import (
    Free,
    Tempo,
)
from setwright.scenes.records import Record, entry, one_or_many
from setwright.scenes.shapes import Shape, Turn
from setwright.scenes.texts import (
    LET_PASS,
    Bars,
    Echo,
    FormText,
    LetPass,
    MeterText,
    Name,
    NameList,
    PaceText,
    PickupText,
    PositionText,
    Seconds,
    TempiText,
    Text,
    YesNo,
)


def _effects(data: Any) -> Any:
    if isinstance(data, list):
        return {"effects": data}
    return data


class Sound(Record):
    """A named list of effects that scenes share."""

    noun: ClassVar[str] = "sound"

    effects: NameList = field(
        default_factory=list, description="The effects that sound together, by their musical names."
    )

    @classmethod
    def expand(cls, data: Any) -> Any:
        """Take the list of effects, or the one effect, that a sound is written as."""
        return _effects(one_or_many(data))


class Scene(Record):
    """One sound within a song, one press on the night."""

    noun: ClassVar[str] = "scene"
    short: ClassVar[str | None] = "sound"
    alternatives: ClassVar[tuple[str, ...]] = ("sound", "effects", "like")

    sound: Name | None = field(default=None, description="The sound, by its name under sounds:.")
    effects: NameList | None = field(
        default=None, description="The effects, listed here instead of naming a sound."
    )
    like: Name | None = field(default=None, description="Another scene of this song to begin from.")
    add: NameList = field(
        default_factory=list, description="Effects to add to the sound or scene named."
    )
    drop: NameList = field(
        default_factory=list, description="Effects to leave out of the sound or scene named."
    )
    tempo: PaceText | None = field(
        default=None,
        description="The tempo while this scene sounds, until the next moment, where it is not "
        "the song's: quarter = 60, or free.",
    )
    echo: Echo | None = field(
        default=None,
        description="The delay's time in this scene: a note value that follows the song's "
        "tempo (dotted eighth), or milliseconds (350 ms).",
    )
    silent: YesNo = field(
        default=False, description="Whether silence is meant: no sound comes through here."
    )
    note: Text | None = field(
        default=None, description="A word to yourself; printed where the scene is pressed."
    )
    let_pass: LetPass = LET_PASS

    @classmethod
    def expand(cls, data: Any) -> Any:
        """Take the name of a sound, or a list of effects, for the whole scene."""
        return super().expand(_effects(data))


class Step(Record):
    """A moment of the song at which a scene is pressed."""

    noun: ClassVar[str] = "moment"
    short: ClassVar[str | None] = "at"

    at: PositionText | None = field(
        default=None,
        description="Where in the song: round 2 A, round 2 A2 (its second A), chorus 2, verse 2 "
        "bar 5, bar 17 beat 3, pickup, 1:05.",
    )
    cue: Text | None = field(
        default=None, description="What to listen or look for, printed on the cue sheet."
    )
    foot: Text | None = field(
        default=None,
        description="What the foot does besides the press: a foot-operated unit and its "
        "position, for example swell open.",
    )
    silent: YesNo = field(
        default=False, description="Whether silence is meant from here to the next moment."
    )
    guitar: Text | None = field(
        default=None,
        description="Which guitar or tuning is taken up here, within the song: steel, drop D.",
    )


def _bars(data: Any) -> Any:
    return {"": data} if isinstance(data, str) and data.strip() else data


class Song(Record):
    """A song: its music, its scenes, and the order in which they come."""

    noun: ClassVar[str] = "song"

    title: Name = field(description="The title, as it is printed.")
    id: Name | None = field(
        default=None,
        description="A short name, needed only where two songs have the same title.",
    )
    key: Name | None = field(default=None, description="The key, for example E dorian.")
    meter: MeterText | None = field(
        default=None, description="The time signature, for example 6/8."
    )
    tempi: TempiText | None = field(
        key="tempo",
        default=None,
        description="The tempo with the note it counts: dotted quarter = 112, quarter = 120; with "
        "others from places on: quarter = 120, quarter = 96 from bridge; or free.",
    )
    form: FormText | None = field(
        default=None,
        description="The parts of one round, and the rounds: AABB, 3 rounds; or parts by name: "
        "intro verse chorus verse chorus 2×, with commas where a name has several words.",
    )
    bars: Annotated[dict[str, Bars], Before(_bars)] = field(
        default_factory=dict,
        description="Bars in a part: one number for all, or {A: 8, B: 16}; until and what to wait "
        "for, where nobody knows: {vamp: until the singer nods}. Eight if not said.",
    )
    pickup: PickupText | None = field(
        default=None,
        description="The notes before the first full bar, which is bar 1: quarter, 3 eighths.",
    )
    lasts: Seconds | None = field(
        default=None, description="How long the song takes, if form and tempo do not tell: 3:10."
    )
    guitar: Text | None = field(
        default=None, description="Which guitar, tuning and capo: steel, capo 2."
    )
    echo: Echo | None = field(
        default=None, description="The delay's time in every scene that does not say another."
    )
    note: Text | None = field(default=None, description="A word to yourself; printed.")
    scenes: dict[Name, Scene] = field(
        default_factory=dict,
        description="The scenes by name. Without scenes the song gets the rig's general ones.",
    )
    over_two_banks: YesNo = field(
        default=False,
        description="Whether the song may lie in two banks that follow each other, where its "
        "scenes need more switches than one has; the foot moves between them in the song.",
    )
    order: list[Annotated[dict[Name, Step], Before(entry)]] = field(
        default_factory=list,
        description="When each scene is pressed: a list of scene names, each with its place.",
    )
    let_pass: LetPass = LET_PASS

    @property
    def identity(self) -> str:
        """The name by which a night and a command know this song."""
        return self.id or self.title

    @property
    def tempo(self) -> Tempo | None:
        """The tempo at the beginning; None where it is free or not said."""
        first = self.tempi.first if self.tempi is not None else None
        return None if isinstance(first, Free) else first

    @property
    def shape(self) -> Shape:
        """What turns places in this song into bars and seconds."""
        common = self.bars.get("")
        names = self.form.names if self.form else ()
        bars = {part: common for part in names if common} | {
            part: count for part, count in self.bars.items() if part
        }
        shape = Shape(
            self.meter,
            self.tempo,
            self.form,
            tuple(
                (part, None if isinstance(count, Vamp) else count) for part, count in bars.items()
            ),
            self.pickup.of_whole if self.pickup is not None else Fraction(0),
        )
        if self.tempi is None or not self.tempi.later:
            return shape
        turns = [(shape.order_of(one.at), one.tempo) for one in self.tempi.later]
        return shape.with_turns(
            tuple(Turn(order, tempo) for order, tempo in turns if order is not None)
        )


class SongBook(Record):
    """A file of songs."""

    noun: ClassVar[str] = "book of songs"

    include: NameList = field(
        default_factory=list,
        description="Other files of songs in the same folder, read with this one.",
    )
    sounds: dict[Name, Sound] = field(
        default_factory=dict, description="Named lists of effects that scenes share."
    )
    songs: list[Song] = field(default_factory=list, description="The songs.")
