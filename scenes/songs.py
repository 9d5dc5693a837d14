"""Songs, their scenes and sounds, as the musician writes them; they fit any rig."""

# Annotations are evaluated at once here: the records make their validators from them.

from fractions import Fraction
from typing import Annotated, Any, ClassVar

from setwright.scenes.fields import Before, field
from setwright.scenes.musical_time import (
    Form,
    Meter,
    NoteValue,
    Position,
    Shape,
    Tempo,
    parse_form,
    parse_meter,
    parse_note_value,
    parse_position,
    parse_tempo,
)
from setwright.scenes.quantities import (
    Slip,
    parse_duration,
    parse_milliseconds,
    parse_name,
    parse_text,
    parse_whole,
    parse_yes,
    quoted,
)
from setwright.scenes.records import TEXT_OR_NUMBER, Reads, Record, entry, one_or_many

# JSON Schema fragments, for editors. Patterns of what the readers of `quantities` and
# `musical_time` take; (?i:…) stands for any letters and is spelt out by `schema.portable`.
NUMBER = r"[+-]?(\d{1,12}(\.\d{0,9})?|\.\d{1,9})"
WHOLE = r"[+-]?(\d{1,12}(\.0{0,9})?|\.0{1,9})"
_NOTE = (
    r"(?i:((dotted|triplet)\s+)?"
    r"(whole|half|quarter|eighth|sixteenth|thirty-second|1/(1|2|4|8|16|32))(\s* note)?)"
)
_CLOCK = r"\d{1,3}:[0-5]\d(:[0-5]\d)?"
_SPELT = r"(?=\d)(\d{1,2}\s*h)?\s*(\d{1,4}\s*min)?\s*(\d{1,5}(\.\d{1,3})?\s*s)?"
_LENGTH = rf"({_CLOCK}|{_SPELT})"
_PLACE = (
    r"(?i:round)\s+\d{1,3}(\s+[A-Za-z]\s?\d{0,2})?"
    rf"|(?i:bar\s+\d{{1,4}}(\s+beat\s+\d{{1,2}})?)|{_LENGTH}"
)
MILLISECONDS = rf"{NUMBER}\s*(?i:ms|s)"


def one_text(pattern: str, message: str, *examples: str) -> dict[str, Any]:
    """Return the fragment of a text that is no plain number; spaces around it do not matter."""
    return {
        "type": "string",
        "pattern": rf"^\s*({pattern})\s*$",
        "errorMessage": message,
        "examples": list(examples),
    }


def whole(low: int, high: int, pattern: str = WHOLE) -> dict[str, Any]:
    """Return the fragment of a whole number from ``low`` to ``high``, with or without quotes."""
    return {
        "type": ["string", "integer"],
        "minimum": low,
        "maximum": high,
        "pattern": rf"^\s*({pattern})\s*$",
        "errorMessage": f"write a whole number from {low} to {high}",
    }


ONE_VALUE = TEXT_OR_NUMBER | {
    "pattern": r"\S",
    "errorMessage": "one value belongs here; true, false and null need quotes around them",
}
Name = Annotated[str, Reads(parse_name, ONE_VALUE)]
Text = Annotated[str, Reads(parse_text, ONE_VALUE)]
TempoText = Annotated[
    Tempo,
    Reads(
        parse_tempo,
        one_text(
            rf"{_NOTE}\s*=\s*{NUMBER}",
            "write the note that it counts, and how many a minute: quarter = 120, or dotted "
            "quarter = 112 for a jig",
            "quarter = 120",
            "dotted quarter = 112",
        ),
    ),
]
MeterText = Annotated[
    Meter,
    Reads(
        parse_meter,
        one_text(
            r"0?([1-9]|[12]\d|3[0-2])\s*/\s*(0?[1248]|16|32)",
            "write a time signature: 4/4, 6/8",
            "4/4",
            "6/8",
            "9/8",
        ),
    ),
]
FormText = Annotated[
    Form,
    Reads(
        parse_form,
        one_text(
            r"[A-Za-z]{1,64}(\s*,\s*\d{1,3}\s*rounds?)?",
            "write the parts of one round, and the rounds: AABB, 3 rounds",
            "AABB, 3 rounds",
        ),
    ),
]
PositionText = Annotated[
    Position,
    Reads(
        parse_position,
        one_text(
            _PLACE,
            "write a place in the song: round 2 A, bar 17 or 1:05",
            "round 2 A",
            "bar 17",
            "1:05",
        ),
    ),
]
Seconds = Annotated[
    Fraction,
    Reads(parse_duration, one_text(_LENGTH, "write a length: 3:10 or 45 min", "3:10", "45 min")),
]
Bars = Annotated[int, Reads(lambda text: parse_whole(text, 1, 999, "bars"), whole(1, 999))]


def parse_echo(text: str) -> NoteValue | Fraction:
    """Return a delay's time: a note value that follows the tempo, or milliseconds."""
    try:
        return parse_note_value(text)
    except Slip:
        pass
    try:
        return parse_milliseconds(text)
    except Slip:
        raise Slip(
            "not-an-echo-time",
            f"{quoted(text)} is neither a note value nor a time",
            "write for example dotted eighth, quarter or 350 ms",
        ) from None


Echo = Annotated[
    NoteValue | Fraction,
    Reads(
        parse_echo,
        one_text(
            rf"{_NOTE}|{MILLISECONDS}",
            "write a note value or a time: dotted eighth, quarter, 350 ms",
            "dotted eighth",
            "quarter",
            "350 ms",
        ),
    ),
]
YesNo = Annotated[
    bool,
    Reads(
        parse_yes,
        {
            # Two alternatives, so that editors offer yes and no alone.
            "anyOf": [
                {"enum": ["yes", "no"]},
                {
                    "title": "yes or no",
                    "type": ["string", "boolean"],
                    "pattern": r"^(?!(yes|no)$)\s*(?i:yes|no|on|off|true|false)\s*$",
                },
            ]
        },
    ),
]
NameList = Annotated[list[Name], Before(one_or_many)]
LetPass = dict[Name, Text]
LET_PASS: Any = field(
    default_factory=dict,
    description="Findings that you have looked at and let pass, each with your reason: "
    "{channel-collision: two halves of one box}. The reason is printed with the result.",
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
    echo: Echo | None = field(
        default=None,
        description="The delay's time in this scene: a note value that follows the song's "
        "tempo (dotted eighth), or milliseconds (350 ms).",
    )
    silent: YesNo = field(
        default=False, description="Whether silence is meant: no sound comes through here."
    )
    note: Text | None = field(default=None, description="A word to yourself; explain prints it.")
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
        description="Where in the song: round 2 A, round 2 A2 (its second A), bar 17, 1:05.",
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
    tempo: TempoText | None = field(
        default=None,
        description="The tempo with the note it counts: dotted quarter = 112, quarter = 120.",
    )
    form: FormText | None = field(
        default=None, description="The parts of one round, and the rounds: AABB, 3 rounds."
    )
    bars: Annotated[dict[str, Bars], Before(_bars)] = field(
        default_factory=dict,
        description="Bars in a part: one number for all, or {A: 8, B: 16}. Eight if not said.",
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
    def shape(self) -> Shape:
        """What turns places in this song into bars and seconds."""
        common = self.bars.get("")
        letters = self.form.parts if self.form else ""
        bars = {part: common for part in letters if common} | {
            part.upper(): count for part, count in self.bars.items() if part
        }
        return Shape(self.meter, self.tempo, self.form, tuple(bars.items()))


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
