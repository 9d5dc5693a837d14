"""Documents that the reader accepts, and values as an editor sees them.

`documents` draws whole files from the records themselves, every field, every short form and
odd but legal texts; `editor_value` reads a plain scalar as the YAML core schema does, which
is how editors read it before they look at a schema.
"""

from __future__ import annotations

import json
import math
import re
from collections.abc import Iterator
from functools import cache
from typing import Annotated, Any, get_args, get_origin

from hypothesis import strategies as st
from pydantic import BeforeValidator
from setwright.scenes.night import Night, Playing
from setwright.scenes.quantities import Slip, parse_yes
from setwright.scenes.records import Reads, Record, entry, one_or_many
from setwright.scenes.rig import Part, Rig, SwitcherUse
from setwright.scenes.songs import Scene, SongBook, Sound, Step
from setwright.scenes.switcher import Switcher, VolumeLoop

Drawn = st.SearchStrategy[Any]

RECORDS: dict[str, type[Record]] = {
    "songs": SongBook,
    "switcher": Switcher,
    "rig": Rig,
    "night": Night,
}

# Names, numbers in every dress, and what each kind of field takes, in odd but legal spelling.
TEXTS = """\
lead|long echo|on|No|12:30|2026-05-01|1_000|O'Neill's|Ünité|E dorian|C# minor|a: b|#1|- x|[x]
{x}|*x|&x|!x|@x|`x|%|'x|"x"|x # y|?|true north|nothing|null and void|.nan|.inf|-.INF|1.10|1e3
0x1F|0o17|+.5|-1|99999|.|=|<<|~x|x,y|10 cc|switch 5|A|b|floor.yaml|../x.yaml
0|00|1|1.|1.0|+1|01|4|4.000|12|012|16|32|64|100|119|127|+127.0|-0|.0|1000|999
yes|YES|on|Off|no|true|False|TRUE|tRUE
quarter = 120|Dotted Quarter=112|QUARTER NOTE = 99.5|1/8 = 500|triplet  eighth = +60|half = .5e
thirty-second = 10|sixteenth note=480.125|whole = 010
quarter|Dotted eighth|triplet QUARTER note|1/16|thirty-second note|350 ms|.5 S|1.8s|0MS|60 s
4/4|06/8|12 / 8|32/32|1/1|AABB|aabb,3 rounds|A , 1 round|AABBCC, 200 rounds|x
round 2 A|ROUND 02|Round 1 b2|round 3 c 4|bar 17|Bar 9 BEAT 3|1:05|0:00|1:02:03|100:59
45 min|3 h|1 h 10 min|1min5s|65 s|1.5 s|2h3min4.25s
20 ms|40 %|40%|-12 dB|+3DB|440 hz|1.8 s|.5|20 ms to 1800 ms|0 % to 100 %|127 to 0|20 to 30 S
45 mA|0.3A|.5 a|1000ma|9 V|9v|9 to 18 V|9 V to 18 V|9to18v|12.5 V
1 to 12|01  to  4|1.0 to 2|0 to 19|A to T|a to h|01-1 to 32-4|A1 to H8|00 to 99|20
omni|OMNI|clock|Active  Sensing|programs on channel 1|NOTES on channel 016|controls on channel 16
effect|Amplifier|what is declared|What  Is Declared|msb and lsb|MSB|centre negative|Centre Positive
dc|AC|reloads|ignored|engages|keeps bypass|kept|from the program|unknown|stay|Cut|control|tap|clock
hold|PULSE|programs first|as listed|up and down|Number|both|sends again|goes back|first preset
last used|fixed|Per Preset"""

_SPACED = (" 4 ", "\tlead\n", " quarter = 120 ", " 3:10", "yes ", " 9 V\n", "round\n2\nA", " dc")

ALL_TEXTS = tuple(dict.fromkeys([*re.split(r"[|\n]", TEXTS), *_SPACED]))

# YAML 1.2.2, section 10.3.2, tag resolution of the core schema.
_CORE = (
    (re.compile(r"null|Null|NULL|~|"), lambda text: None),
    (re.compile(r"true|True|TRUE"), lambda text: True),
    (re.compile(r"false|False|FALSE"), lambda text: False),
    (re.compile(r"[-+]?[0-9]+"), int),
    (re.compile(r"0o[0-7]+"), lambda text: int(text[2:], 8)),
    (re.compile(r"0x[0-9a-fA-F]+"), lambda text: int(text[2:], 16)),
    (re.compile(r"[-+]?(\.[0-9]+|[0-9]+(\.[0-9]*)?)([eE][-+]?[0-9]+)?"), float),
    (re.compile(r"[-+]?\.(inf|Inf|INF)"), lambda text: math.copysign(math.inf, 1)),
    (re.compile(r"\.(nan|NaN|NAN)"), lambda text: math.nan),
)


def editor_value(text: str) -> Any:
    """Return what a plain scalar is to an editor."""
    for pattern, make in _CORE:
        if pattern.fullmatch(text):
            return make(text)
    return text


def editor_data(data: Any) -> Any:
    """Return data whose every scalar stands there plain, as an editor reads them."""
    if isinstance(data, dict):
        return {key: editor_data(value) for key, value in data.items()}
    if isinstance(data, list):
        return [editor_data(value) for value in data]
    return editor_value(data)


def accepted_texts(reads: Reads) -> list[str]:
    """Return those of `ALL_TEXTS` that a field takes.

    Without true, false and null where the field is no yes or no: `setwright.scenes.schema`
    says why an editor refuses them.
    """
    return [text for text in ALL_TEXTS if _takes(reads, text)]


def _takes(reads: Reads, text: str) -> bool:
    plain = editor_value(text.strip())
    if plain is None or (isinstance(plain, bool) and reads.parse is not parse_yes):
        return False
    try:
        reads.parse(text)
    except Slip:
        return False
    return True


def fields(cls: type[Record]) -> Iterator[tuple[str, Any, bool]]:
    """Yield the key, the annotation with its metadata, and whether the key must be there."""
    for name, info in cls.model_fields.items():
        whole = info.annotation
        for one in info.metadata:
            whole = Annotated[whole, one]
        yield info.alias or name, whole, info.is_required()


def values(annotation: Any) -> Drawn:
    """Return what a field may hold, said at length or in short."""
    origin, arguments = get_origin(annotation), get_args(annotation)
    if origin is Annotated:
        inner = arguments[0]
        for one in arguments[1:]:
            if isinstance(one, Reads):
                return st.sampled_from(accepted_texts(one))
            if isinstance(one, BeforeValidator):
                return st.one_of(values(inner), _in_short(one.func, inner))
        return values(inner)
    if type(None) in arguments:
        return values(next(one for one in arguments if one is not type(None)))
    if origin is list:
        return st.lists(values(arguments[0]), max_size=2)
    if origin is dict:
        key, value = arguments
        size = {"min_size": 1, "max_size": 2}
        return st.dictionaries(_keys(key), values(value), **size)
    return records(annotation)


def _keys(annotation: Any) -> Drawn:
    return st.sampled_from(["x", "", "7"]) if annotation is str else values(annotation)


def _in_short(function: Any, inner: Any) -> Drawn:
    """Return the short forms that a function before a field turns into the long one."""
    arguments = get_args(inner)
    if function is one_or_many:
        return _texts_only(values(arguments[0]))
    keys, of_key = _keys(arguments[0]), values(arguments[1])
    if function is entry:
        return keys
    known = {
        "_bars": of_key,
        "_parts": st.one_of(keys, st.lists(keys, max_size=2)),
    }
    return known[function.__name__]


def _texts_only(drawn: Drawn) -> Drawn:
    return drawn.filter(lambda value: isinstance(value, str))


@cache
def records(cls: type[Record]) -> Drawn:
    """Return a record as files hold it: what it must say, and some of what it may."""
    must = {key: values(kind) for key, kind, required in fields(cls) if required}
    may = {key: values(kind) for key, kind, required in fields(cls) if not required}

    @st.composite
    def at_length(draw: st.DrawFn) -> dict[str, Any]:
        chosen = draw(st.lists(st.sampled_from(sorted(may) or [""]), max_size=4, unique=True))
        if cls is Playing:
            named = draw(st.sampled_from(["song", "straight into"]))
            chosen = [named, *(key for key in chosen if key not in {"song", "straight into"})]
        return {key: draw(one) for key, one in must.items()} | {
            key: draw(may[key]) for key in chosen if key
        }

    return st.one_of(at_length(), *_records_in_short(cls))


def _records_in_short(cls: type[Record]) -> Iterator[Drawn]:
    annotations = {key: kind for key, kind, _ in fields(cls)}
    if cls is Sound:
        yield values(annotations["effects"])
    if cls is Scene:
        yield values(annotations["effects"]).filter(lambda value: isinstance(value, list))
    key = {
        Scene: "sound",
        Step: "at",
        VolumeLoop: "after loop",
        Part: "state",
        SwitcherUse: "file",
        Playing: "song",
    }.get(cls)
    if key is not None:
        yield values(annotations[key])


def documents(kind: str) -> Drawn:
    """Return whole files of one kind, as plain data."""
    return records(RECORDS[kind])


def to_yaml(data: Any, indent: str = "") -> str:
    """Return ``data`` as YAML text: plain scalars wherever they can stand so."""
    if isinstance(data, dict) and data:
        return "".join(
            f"{indent}{_scalar(key)}:{_below(value, indent)}" for key, value in data.items()
        )
    if isinstance(data, list) and data:
        return "".join(f"{indent}-{_below(value, indent)}" for value in data)
    return f"{indent}{_inline(data)}\n"


def _below(value: Any, indent: str) -> str:
    if isinstance(value, dict | list) and value:
        return "\n" + to_yaml(value, indent + "  ")
    return f" {_inline(value)}\n"


def _inline(value: Any) -> str:
    return {dict: "{}", list: "[]"}.get(type(value)) or _scalar(value)


_PLAIN = re.compile(r"(?=\S)([\w.+/%=]|-(?=[.\w]))[\w .+/%=,'-]*(?<=\S)", re.ASCII)


def _scalar(text: str) -> str:
    return text if _PLAIN.fullmatch(text) else json.dumps(text)
