"""The kinds of text that stand in books: how each is read, and what editors are told of it."""

# Annotations are evaluated at once here: the records make their validators from them.

from fractions import Fraction
from typing import Annotated, Any

from setwright.scenes.fields import Before, field
from setwright.scenes.forms import (
    NO_NAME,
    Form,
    Position,
    Tempi,
    Vamp,
    parse_bars,
    parse_form,
    parse_position,
    parse_tempi,
)
from setwright.scenes.musical_time import (
    Free,
    Meter,
    NoteValue,
    Tempo,
    parse_meter,
    parse_note_value,
    parse_notes,
    parse_pace,
    parse_tempo,
)
from setwright.scenes.quantities import (
    Slip,
    parse_duration,
    parse_milliseconds,
    parse_name,
    parse_text,
    parse_time_of_day,
    parse_yes,
    quoted,
)
from setwright.scenes.records import TEXT_OR_NUMBER, Reads, one_or_many

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
# Names of parts are looked up only when the form is known; what begins with a letter may be one.
_PLACE = rf"[^\s\d_{NO_NAME}][^{NO_NAME}]*|{_LENGTH}"
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
            rf"[^\s\d_{NO_NAME}][^{NO_NAME.replace(',', '').replace('×', '')}]*",
            "write the parts of one round, and the rounds: AABB, 3 rounds; or the names of parts: "
            "intro verse chorus 2×",
            "AABB, 3 rounds",
            "intro verse chorus verse chorus 2×",
        ),
    ),
]
TempiText = Annotated[
    Tempi,
    Reads(
        parse_tempi,
        one_text(
            rf"((?i:free)|{_NOTE}\s*=\s*{NUMBER})(\s*,\s*((?i:free)|{_NOTE}\s*=\s*{NUMBER})"
            rf"\s+(?i:from)\s+({_PLACE}))*",
            "write the note that it counts, and how many a minute: quarter = 120, or dotted "
            "quarter = 112 for a jig; from a place on: quarter = 120, quarter = 96 from bridge; or "
            "free",
            "quarter = 120",
            "dotted quarter = 112",
            "quarter = 120, quarter = 96 from bridge",
            "free",
        ),
    ),
]
PaceText = Annotated[
    Tempo | Free,
    Reads(
        parse_pace,
        one_text(
            rf"(?i:free)|{_NOTE}\s*=\s*{NUMBER}",
            "write the note that it counts, and how many a minute: quarter = 96; or free",
            "quarter = 96",
            "free",
        ),
    ),
]
PickupText = Annotated[
    NoteValue,
    Reads(
        parse_notes,
        one_text(
            rf"(\d{{1,2}}\s+)?{_NOTE}s?",
            "write a note, or how many: quarter, 3 eighths",
            "quarter",
            "3 eighths",
        ),
    ),
]
PositionText = Annotated[
    Position,
    Reads(
        parse_position,
        one_text(
            _PLACE,
            "write a place in the song: round 2 A, chorus 2, verse 2 bar 5, bar 17 or 1:05",
            "round 2 A",
            "chorus 2",
            "bar 17",
            "1:05",
        ),
    ),
]
Seconds = Annotated[
    Fraction,
    Reads(parse_duration, one_text(_LENGTH, "write a length: 3:10 or 45 min", "3:10", "45 min")),
]
TimeOfDay = Annotated[
    int,
    Reads(
        parse_time_of_day,
        one_text(
            r"([01]?\d|2[0-3]):[0-5]\d|(0?[1-9]|1[0-2]):[0-5]\d\s*(?i:(a|p)m)",
            "write a time of day: 20:30 or 8:30 pm",
            "20:30",
            "8:30 pm",
        ),
    ),
]
Bars = Annotated[
    int | Vamp,
    Reads(
        parse_bars,
        whole(1, 999, rf"{WHOLE}|(?i:until)\s+\S[\s\S]*")
        | {"errorMessage": "write how many bars, 1 to 999, or until and what to wait for"},
    ),
]


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
