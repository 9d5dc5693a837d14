"""Documents that the reader accepts, and values as an editor sees them.

`documents` draws whole files from the records themselves, every field, every short form and
odd but legal texts; `editor_value` reads a plain scalar as the YAML core schema does, which
is how editors read it before they look at a schema.
"""

from __future__ import annotations

import json
import math
import re
from collections.abc import Callable, Iterator
from functools import cache
from typing import Annotated, Any, get_args, get_origin

from hypothesis import strategies as st

from setwright.scenes.fields import Before
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
0x1F|0o17|+.5|-1|99999|.|=|~x|x,y|10 cc|switch 5|A|b|floor.yaml|../x.yaml
0|00|1|1.|1.0|+1|01|4|4.000|12|012|16|32|64|100|119|127|+127.0|-0|.0|1000|999
yes|YES|on|Off|no|true|False|TRUE|tRUE
quarter = 120|Dotted Quarter=112|QUARTER NOTE = 99.5|1/8 = 500|triplet  eighth = +60|half = .5e
thirty-second = 10|sixteenth note=480.125|whole = 010
quarter|Dotted eighth|triplet QUARTER note|1/16|thirty-second note|350 ms|.5 S|1.8s|0MS|60 s
4/4|06/8|12 / 8|32/32|1/1|AABB|aabb,3 rounds|A , 1 round|AABBCC, 200 rounds|x
round 2 A|ROUND 02|Round 1 b2|round 3 c 4|bar 17|Bar 9 BEAT 3|1:05|0:00|1:02:03|100:59
45 min|3 h|1 h 10 min|1min5s|65 s|1.5 s|2h3min4.25s
20 ms|40 %|40%|-12 dB|+3DB|440 hz|1.8 s|.5|20 ms to 1800 ms|0 % to 100 %|127 to 0|20 to 30 S
20:30|8.05|12:00 AM|1:59pm|23:59|24:00|1.6 m|80 cm|.5M|45 mA|0.3A|.5 a|1000ma|9 V|9v|9 to 18 V|9 V to 18 V|9to18v|12.5 V
1 to 12|01  to  4|1.0 to 2|0 to 19|A to T|a to h|01-1 to 32-4|A1 to H8|00 to 99|20
omni|OMNI|clock|Active  Sensing|programs on channel 1|NOTES on channel 016|controls on channel 16
effect|Amplifier|what is declared|What  Is Declared|msb and lsb|MSB|centre negative|Centre Positive
dc|AC|reloads|ignored|engages|keeps bypass|kept|from the program|unknown|stay|Cut|control|tap|clock
hold|PULSE|programs first|as listed|up and down|Number|both|sends again|goes back|first preset|only|same switch|First Switch
last used|fixed|Per Preset|40 to 240|global|open|Closed|any
the feet|The  Hands"""

_SPACED = (" 4 ", "\tlead\n", " quarter = 120 ", " 3:10", "yes ", " 9 V\n", "round\n2\nA", " dc")

ALL_TEXTS = tuple(dict.fromkeys([*re.split(r"[|\n]", TEXTS), *_SPACED]))

# YAML 1.2.2, section 10.3.2, tag resolution of the core schema.
_CORE = (
    (re.compile(r"null|Null|NULL|~|"), lambda text: None),
    (re.compile(r"true|True|TRUE"), lambda text: True),
    (re.compile(r"false|False|FALSE"), lambda text: False),
    (re.compile(r"[-+]?[0-9]+"), int),
    (re.compile(r"0o[0-7]+"), lambda text: int(text, 0)),
    (re.compile(r"0x[0-9a-fA-F]+"), lambda text: int(text, 0)),
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
    for info in cls.model_fields.values():
        yield info.key, info.annotation, info.required


def values(annotation: Any) -> Drawn:
    """Return what a field may hold, said at length or in short."""
    origin, arguments = get_origin(annotation), get_args(annotation)
    if origin is Annotated:
        inner = arguments[0]
        for one in arguments[1:]:
            if isinstance(one, Reads):
                return st.sampled_from(accepted_texts(one))
            if isinstance(one, Before):
                at_length = values(inner)
                if one.func is entry:
                    at_length = at_length.filter(lambda value: len(value) == 1)
                return st.one_of(at_length, _in_short(one.func, inner))
        return values(inner)
    if type(None) in arguments:
        return values(next(one for one in arguments if one is not type(None)))
    if origin is list:
        return st.lists(values(arguments[0]), max_size=2)
    if origin is dict:
        key, value = arguments
        return st.dictionaries(_keys(key), values(value), min_size=1, max_size=2)
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


Wrap = Callable[[Any], Any]


def _within(inner: Wrap, outer: Wrap) -> Wrap:
    return lambda value: outer(inner(value))


def places(annotation: Any) -> Iterator[tuple[Reads, Wrap]]:
    """Yield where a field takes a single text, and what to wrap around it to get there."""
    origin, arguments = get_origin(annotation), get_args(annotation)
    if origin is Annotated:
        for one in arguments[1:]:
            if isinstance(one, Reads):
                yield one, lambda value: value
                return
        yield from places(arguments[0])
        if any(isinstance(one, Before) for one in arguments[1:]):
            yield from _places_in_short(annotation)
    elif type(None) in arguments:
        yield from places(next(one for one in arguments if one is not type(None)))
    elif origin is list:
        for reads, wrap in places(arguments[0]):
            yield reads, _within(wrap, lambda value: [value])
    elif origin is dict:
        for reads, _ in places(arguments[0]):
            yield reads, lambda value: {str(value): shortest(arguments[1])}
        key = "x" if arguments[0] is str else shortest(arguments[0])
        for reads, wrap in places(arguments[1]):
            yield reads, _within(wrap, lambda value: {key: value})


def _places_in_short(annotation: Any) -> Iterator[tuple[Reads, Wrap]]:
    inner, *rest = get_args(annotation)
    function = next(one.func for one in rest if isinstance(one, Before))
    arguments = get_args(inner)
    which = {"_bars": 1}.get(function.__name__, 0)
    for reads, _ in places(arguments[which]):
        yield reads, lambda value: value


def shortest(annotation: Any) -> Any:
    """Return the least that a field may hold."""
    origin, arguments = get_origin(annotation), get_args(annotation)
    if origin is Annotated:
        reads = next((one for one in arguments if isinstance(one, Reads)), None)
        return accepted_texts(reads)[0] if reads else shortest(arguments[0])
    if origin in (list, dict):
        return origin()
    return {key: shortest(kind) for key, kind, required in fields(annotation) if required}


def documents(kind: str) -> Drawn:
    """Return whole files of one kind, as plain data; an empty file is no file of ours."""
    return values(RECORDS[kind]).filter(bool)


def to_yaml(data: Any, indent: str = "") -> str:
    """Return ``data`` as YAML text: plain scalars wherever they can stand so."""
    if isinstance(data, dict) and data:
        # To an editor 1, 01 and 1.0 are the same key.
        twice = len({editor_value(key) for key in data}) < len(data)
        return "".join(
            f"{indent}{json.dumps(key) if twice else _scalar(key)}:{_below(value, indent)}"
            for key, value in data.items()
        )
    if isinstance(data, list) and data:
        return "".join(f"{indent}-{_below(value, indent)}" for value in data)
    return f"{indent}{_inline(data)}\n"


def _below(value: Any, indent: str) -> str:
    if isinstance(value, dict | list) and value:
        return "\n" + to_yaml(value, indent + "  ")
    return f" {_inline(value)}\n"


def _inline(value: Any) -> str:
    if isinstance(value, str):
        return _scalar(value)
    return "{}" if isinstance(value, dict) else "[]"


_PLAIN = re.compile(r"([\w.+/=]|-(?=[.\w]))[\w .+/%=,'-]*(?<=\S)", re.ASCII)


def _scalar(text: str) -> str:
    return text if _PLAIN.fullmatch(text) else json.dumps(text)


# Files with one slip each; the line is marked where a reader and an editor should find it.
MARK = "# <-"

WRONG: dict[str, tuple[str, str]] = {
    "a key that no song has": (
        "songs",
        "songs:\n  - title: Tune\n    tempoo: quarter = 120  # <-\n",
    ),
    "a song without its title": ("songs", "songs:\n  - key: D major  # <-\n"),
    "a tempo without its note": ("songs", "songs:\n  - title: Tune\n    tempo: 120  # <-\n"),
    "a tempo with an unknown note": (
        "songs",
        "songs:\n  - title: Tune\n    tempo: quater = 120  # <-\n",
    ),
    "a meter that is none": ("songs", "songs:\n  - title: Tune\n    meter: 6-8  # <-\n"),
    "a meter of sevenths": ("songs", "songs:\n  - title: Tune\n    meter: 6/7  # <-\n"),
    "a form with signs": ("songs", "songs:\n  - title: Tune\n    form: AA|BB  # <-\n"),
    "a length without a unit": ("songs", "songs:\n  - title: Tune\n    lasts: 45  # <-\n"),
    "an echo without a unit": ("songs", "songs:\n  - title: Tune\n    echo: 350  # <-\n"),
    "no bars at all": ("songs", "songs:\n  - title: Tune\n    bars: {A: 8, B: 0}  # <-\n"),
    "an empty title": ("songs", "songs:\n  - title:  # <-\n    key: D major\n"),
    "a list as a title": ("songs", "songs:\n  - title: [Tune]  # <-\n"),
    "songs by name": ("songs", "songs:\n  Tune:  # <-\n    title: Tune\n"),
    "a key that no scene has": (
        "songs",
        "songs:\n  - title: Tune\n    scenes:\n      Lift: {sond: plain}  # <-\n",
    ),
    "scenes in a list": (
        "songs",
        "songs:\n  - title: Tune\n    scenes:\n      - Lift: plain  # <-\n",
    ),
    "a list within a list of effects": ("songs", "sounds:\n  plain: [[lead]]  # <-\n"),
    "a place that is none": (
        "songs",
        "songs:\n  - title: Tune\n    order:\n      - Lift: 2 verses on  # <-\n",
    ),
    "two scenes in one moment": (
        "songs",
        "songs:\n  - title: Tune\n    order:\n"
        "      - Lift: round 2 A  # <-\n        Start: bar 3\n",
    ),
    "moments by name": (
        "songs",
        "songs:\n  - title: Tune\n    order:\n      Lift: round 2 A  # <-\n",
    ),
    "a switcher without its switches": ("switcher", "switcher: floor  # <-\nbanks: 20\n"),
    "no banks": ("switcher", "switcher: floor\nbanks: 0  # <-\nswitches: 5\n"),
    "banks without an end": ("switcher", "switcher: floor\nbanks: A -  # <-\nswitches: 5\n"),
    "neither yes nor no": (
        "switcher",
        "switcher: floor\nbanks: 9\nswitches: 5\npasses on MIDI: maybe  # <-\n",
    ),
    "a relay of another kind": (
        "switcher",
        "switcher: floor\nbanks: 9\nswitches: 5\nrelays: [hold, click]  # <-\n",
    ),
    "channel 17": (
        "switcher",
        "switcher: floor\nbanks: 9\nswitches: 5\nrecalled on channel: 17  # <-\n",
    ),
    "half a slot": (
        "switcher",
        "switcher: floor\nbanks: 9\nswitches: 5\neach preset stores: {programs: 1.5}  # <-\n",
    ),
    "an order of messages that is none": (
        "switcher",
        "switcher: floor\nbanks: 9\nswitches: 5\neach preset stores:\n  sends: backwards  # <-\n",
    ),
    "a volume loop in words": (
        "switcher",
        "switcher: floor\nbanks: 9\nswitches: 5\nvolume loop: last  # <-\n",
    ),
    "a key that no unit has": (
        "rig",
        "switcher: floor.yaml\nunits:\n  echo:\n    chanel: 4  # <-\n",
    ),
    "channel 0": ("rig", "switcher: floor.yaml\nunits:\n  echo: {channel: 0}  # <-\n"),
    "a kind of box that is none": (
        "rig",
        "switcher: floor.yaml\nunits:\n  echo: {is: toaster}  # <-\n",
    ),
    "control 120": (
        "rig",
        "switcher: floor.yaml\nunits:\n  echo:\n    channel: 4\n    time: {cc: 120}  # <-\n",
    ),
    "a control without its number": (
        "rig",
        "switcher: floor.yaml\nunits:\n  echo:\n    channel: 4\n    time: {at rest: 4 ms}  # <-\n",
    ),
    "a curve with one end": (
        "rig",
        "switcher: floor.yaml\nunits:\n  echo:\n    time: {cc: 20, linear: 20 ms}  # <-\n",
    ),
    "a point beyond 127": (
        "rig",
        "switcher: floor.yaml\nunits:\n  echo:\n    time: {cc: 20, points: {128: 4 ms}}  # <-\n",
    ),
    "a point in beats": (
        "rig",
        "switcher: floor.yaml\nunits:\n  echo:\n    time: {cc: 20, points: {0: 4 beats}}  # <-\n",
    ),
    "a current without a unit": (
        "rig",
        "switcher: floor.yaml\nunits:\n  echo:\n    power: {draws: 45, volts: 9 V}  # <-\n",
    ),
    "power without its voltage": (
        "rig",
        "switcher: floor.yaml\nunits:\n  echo:\n    power: {draws: 45 mA}  # <-\n",
    ),
    "a polarity that is none": (
        "rig",
        "switcher: floor.yaml\nunits:\n  echo:\n"
        "    power: {draws: 4 mA, volts: 9 V, polarity: both}  # <-\n",
    ),
    "a time without a unit": (
        "rig",
        "switcher: floor.yaml\nunits:\n  echo: {busy after program: 120}  # <-\n",
    ),
    "a display without an end": (
        "rig",
        "switcher: floor.yaml\nunits:\n  echo: {display: 128}  # <-\n",
    ),
    "a part of an effect that is none": (
        "rig",
        "switcher: floor.yaml\neffects:\n  lead: {echo: {mode: long}}  # <-\n",
    ),
    "a list of lists as an effect": (
        "rig",
        "switcher: floor.yaml\neffects:\n  lead: [[echo]]  # <-\n",
    ),
    "a supply without a current": (
        "rig",
        "switcher: floor.yaml\nsupply:\n  one: {volts: 9 V}  # <-\n",
    ),
    "two boxes in one place of a MIDI line": (
        "rig",
        "switcher: floor.yaml\nmidi:\n  - [switcher, {echo: {thru: no}, barn: {}}]  # <-\n",
    ),
    "a night without a rig": ("night", "night: Dance  # <-\nsongs: songs.yaml\n"),
    "a set without songs": (
        "night",
        "night: Dance\nrig: r.yaml\nsongs: s.yaml\nsets:\n  - name: First  # <-\n",
    ),
    "a song to play without a name": (
        "night",
        "night: Dance\nrig: r.yaml\nsongs: s.yaml\nsets:\n  - play:\n      - capo: 2  # <-\n",
    ),
    "a song to play with two names": (
        "night",
        "night: Dance\nrig: r.yaml\nsongs: s.yaml\nsets:\n  - play:\n"
        "      - song: Tune\n        straight into: Jig  # <-\n",
    ),
    "capo 15": (
        "night",
        "night: Dance\nrig: r.yaml\nsongs: s.yaml\nsets:\n  - play:\n"
        "      - {song: Tune, capo: 15}  # <-\n",
    ),
    "time in words": (
        "night",
        "night: Dance\nrig: r.yaml\nsongs: s.yaml\nsets:\n"
        "  - at most: an hour  # <-\n    play: []\n",
    ),
    "one song asked for, at length": (
        "night",
        "night: Dance\nrig: r.yaml\nsongs: s.yaml\nif asked:\n  song: Tune  # <-\n",
    ),
}


def marked_line(text: str) -> int:
    """Return the line that is marked, counted from 1."""
    return next(n for n, line in enumerate(text.splitlines(), 1) if line.endswith(MARK))
