"""Several files read as one."""

from __future__ import annotations

import json
from collections.abc import Iterator
from pathlib import Path
from typing import Annotated, Any, get_args, get_origin

import pytest

from setwright.compiler.pipeline import compile_night
from setwright.scenes import merge
from setwright.scenes.book import open_night
from setwright.scenes.finding import Severity, Source
from setwright.scenes.records import Record
from setwright.scenes.rig import Part, Rig, SwitcherUse
from setwright.scenes.songs import Scene
from setwright.scenes.text import Document, read_document
from tests.mini import SWITCHER, told
from tests.nights import whole


def write(folder: Path, **files: str) -> Path:
    night = "night: Test\nrig: rig.yaml\nsongs: songs.yaml\nsets: [{play: [Tune]}]\n"
    for name, text in {"night": night, "board": SWITCHER, **files}.items():
        (folder / f"{name}.yaml").write_text(text, encoding="utf-8")
    return folder / "night.yaml"


UNITS = "units: {one: {loop: 1}, two: {loop: 2}, amp: {is: amplifier}}\n"
PATH = "path: [[guitar, one, two, amp]]\n"
RIG = f"switcher: board.yaml\n{UNITS}effects: {{a: one, b: two}}\n{PATH}"
TUNE = "songs: [{title: Tune, scenes: {S: plain}}]\n"


@pytest.mark.parametrize(
    ("first", "second", "code"),
    [
        ("sounds: {plain: [a]}\n", "sounds: {loud: [b]}\n", None),
        ("sounds: {plain: [a]}\n", "sounds: {plain: [b]}\n", "name-twice"),
        ("sounds: {plain: []}\n", "sounds: {plain: [b]}\n", "name-twice"),
        ("sounds: {plain: a}\n", "sounds: {plain: a}\n", "name-twice"),
        ("sounds: {plain: a}\n", "songs: [{title: Tune}]\n", "song-twice"),
        ("sounds: {plain: a}\n", "songs: [{title: Other}]\n", None),
    ],
)
def test_songs_of_two_files(tmp_path: Path, first: str, second: str, code: str | None) -> None:
    night = write(tmp_path, rig=RIG, songs="include: more.yaml\n" + first + TUNE, more=second)
    compiled = whole(night)
    assert [finding.code for finding in told(compiled)] == ([code] if code else [])
    if code is not None:
        (finding,) = told(compiled)
        assert finding.place.file.endswith("more.yaml")
        assert finding.related[0].place.file.endswith("songs.yaml")


def test_the_including_rig_wins_key_by_key(tmp_path: Path) -> None:
    gear = UNITS.replace("loop: 1", "loop: 3, channel: 5") + "effects: {a: one, b: two}\n" + PATH
    rig = "include: gear.yaml\nswitcher: board.yaml\nunits: {one: {loop: 1}}\nmidi: [[switcher, one]]\n"
    songs = "sounds: {plain: [a]}\n" + TUNE
    compiled = whole(write(tmp_path, rig=rig, gear=gear, songs=songs))
    assert told(compiled) == []
    one = compiled.book.rig.units["one"]
    assert (one.loop, one.channel) == (1, 5)
    assert compiled.book.place(("rig", "units", "one", "channel")).file.endswith("gear.yaml")


def test_a_short_form_below_a_long_one(tmp_path: Path) -> None:
    gear = "switcher: board.yaml\n" + RIG.partition("\n")[2]
    rig = "include: gear.yaml\nswitcher: {banks: 1 to 4}\n"
    songs = "sounds: {plain: [a]}\n" + TUNE
    compiled = whole(write(tmp_path, rig=rig, gear=gear, songs=songs))
    assert told(compiled) == []
    assert compiled.book.rig.switcher is not None
    assert compiled.book.rig.switcher.banks == (1, 4)


@pytest.mark.parametrize(
    ("above", "below", "banks", "file", "loop"),
    [
        pytest.param(
            "switcher: board.yaml", "switcher: other.yaml", 10, "board.yaml", 1, id="text"
        ),
        pytest.param(
            "switcher: {file: board.yaml, banks: 1 to 4}",
            "switcher: other.yaml",
            10,
            "board.yaml",
            1,
            id="long over short",
        ),
        pytest.param(
            "switcher: {file: board.yaml}",
            "switcher: {file: other.yaml, banks: 2 to 3}",
            10,
            "board.yaml",
            1,
            id="long over long",
        ),
        pytest.param(
            "switcher: {banks: 1 to 4}\nunits: {one: {loop: 3}, two: {loop: 4}}",
            "switcher: other.yaml",
            7,
            "other.yaml",
            3,
            id="what only the included file says",
        ),
    ],
)
def test_whatever_the_form_the_including_rig_wins(
    tmp_path: Path, above: str, below: str, banks: int, file: str, loop: int
) -> None:
    night = write(
        tmp_path,
        rig=f"include: gear.yaml\n{above}\n",
        gear=f"{below}\n" + RIG.partition("\n")[2],
        other=SWITCHER.replace("banks: 10", "banks: 7"),
        songs="sounds: {plain: [a]}\n" + TUNE,
    )
    compiled = whole(night)
    assert told(compiled) == []
    assert compiled.book.rig.switcher is not None
    assert compiled.book.rig.switcher.file == file
    assert compiled.book.switcher.banks.count == banks
    assert compiled.book.rig.units["one"].loop == loop


def test_a_list_of_the_including_rig_wins_whole(tmp_path: Path) -> None:
    cables = "midi: [[switcher, one, two]]\n"
    units = "units: {one: {loop: 1, channel: 3}, two: {loop: 2}}\neffects: {a: one, b: two}\n"
    night = write(
        tmp_path,
        rig="include: gear.yaml\nswitcher: board.yaml\nmidi: [[switcher, one]]\n",
        gear=units + cables,
        songs="sounds: {plain: [a]}\n" + TUNE,
    )
    compiled = whole(night)
    assert [next(iter(link)) for line in compiled.book.rig.midi for link in line] == [
        "switcher",
        "one",
    ]


@pytest.mark.parametrize(
    ("play", "known"), [("Tune", False), ("first", True), ("second", True), ("Other", True)]
)
def test_a_title_that_two_songs_have_means_neither(tmp_path: Path, play: str, known: bool) -> None:
    songs = """\
songs:
- {title: Tune, id: first, scenes: {S: [a]}}
- {title: Tune, id: second, scenes: {S: [b]}}
- {title: Other, id: third, scenes: {S: [b]}}
"""
    write(tmp_path, rig=RIG, songs=songs)
    night = tmp_path / "night.yaml"
    night.write_text(
        f"night: Test\nrig: rig.yaml\nsongs: songs.yaml\nsets:\n- at most: 45 min\n  play:\n  - {play}\n",
        encoding="utf-8",
    )
    errors = [one for one in told(whole(night)) if one.severity is Severity.ERROR]
    if known:
        assert errors == []
    else:
        (error,) = errors
        assert (Path(error.place.file).name, error.place.line) == ("night.yaml", 7)


# One row: what is joined, what the included file says, what the including file says, and what
# holds then, read from the rig with everything said at length.
JOINED = [
    ("effects", "{a: {one: loud}}", "{a: {one: {set: {mix: 5}}}}", {"a": {"one": ("loud", "5")}}),
    ("effects", "{a: {one: {set: {mix: 5}}}}", "{a: {one: loud}}", {"a": {"one": ("loud", "5")}}),
    ("effects", "{a: {one: loud}}", "{a: {one: soft}}", {"a": {"one": ("soft", None)}}),
    ("effects", "{a: {one: loud}}", "{a: one}", {"a": {"one": ("loud", None)}}),
    ("effects", "{a: [one, two]}", "{a: {one: loud}}", {"a": {"one": ("loud", None)}}),
    ("effects", "{a: two}", "{a: {one: loud}}", {"a": {"one": ("loud", None)}}),
    ("effects", "{a: {two: {}}}", "{a: one}", {"a": {"one": (None, None)}}),
    ("effects", "{a: two}", "{b: one}", {"a": {"two": (None, None)}, "b": {"one": (None, None)}}),
    ("switcher", "board.yaml", "{banks: 1 to 4}", ("board.yaml", (1, 4))),
    ("switcher", "{file: board.yaml, banks: 1 to 4}", "board.yaml", ("board.yaml", (1, 4))),
    ("switcher", "{file: gone.yaml, banks: 1 to 4}", "board.yaml", ("board.yaml", (1, 4))),
    ("switcher", "gone.yaml", "board.yaml", ("board.yaml", None)),
    ("general", "{G: plain}", "{G: {add: b}}", {"G": ("plain", None, None, ["b"])}),
    ("general", "{G: {sound: plain, add: b}}", "{G: loud}", {"G": ("loud", None, None, ["b"])}),
    ("general", "{G: plain}", "{G: {like: H}}", {"G": (None, None, "H", [])}),
    ("general", "{G: {like: H}}", "{G: [a, b]}", {"G": (None, ["a", "b"], None, [])}),
    ("general", "{G: [a]}", "{G: {add: b}}", {"G": (None, ["a"], None, ["b"])}),
    ("general", "{G: [a]}", "{G: plain}", {"G": ("plain", None, None, [])}),
]


def _joined(what: str, rig: Rig) -> object:
    match what:
        case "effects":
            return {
                effect: {unit: (part.state, part.set.get("mix")) for unit, part in parts.items()}
                for effect, parts in rig.effects.items()
            }
        case "switcher":
            return (rig.switcher.file, rig.switcher.banks) if rig.switcher else None
        case _:
            return {
                name: (scene.sound, scene.effects, scene.like, scene.add)
                for name, scene in rig.general.items()
                if name != "H"
            }


@pytest.mark.parametrize("levels", [1, 3])
@pytest.mark.parametrize(("what", "below", "above", "wanted"), JOINED)
def test_what_is_said_in_short_joins_as_if_said_at_length(
    tmp_path: Path, what: str, below: str, above: str, wanted: object, levels: int
) -> None:
    """With three levels a file that says nothing of it lies between the two."""
    base = {
        "switcher": "switcher: board.yaml",
        "units": "units: {one: {loop: 1}, two: {loop: 2}}",
        "effects": "effects: {a: one, b: two}",
        "general": "general: {H: [a]}",
    }
    gear = "\n".join(line for key, line in base.items() if key not in {what, "effects"})
    low = below.replace("{G:", "{H: [a], G:") if what == "general" else below
    files = {
        "rig": f"include: {'gear' if levels == 1 else 'between'}.yaml\n{what}: {above}\n",
        "between": "include: next.yaml\nnote: nothing\n",
        "next": "include: gear.yaml\nunits: {two: {note: nothing}}\n",
        "gear": f"{gear}\n{what}: {low}\n",
        "songs": "sounds: {plain: [a], loud: [b]}\n" + TUNE,
    }
    opened = open_night(write(tmp_path, **files))
    assert opened.findings == []
    assert opened.book is not None
    assert _joined(what, opened.book.rig) == wanted


def _bare(annotation: Any) -> Any:
    while get_origin(annotation) is Annotated or type(None) in get_args(annotation):
        annotation = next(one for one in get_args(annotation) if one is not type(None))
    return annotation


def _shorts(annotation: Any, path: tuple[str, ...] = ()) -> Iterator[tuple[tuple[str, ...], Any]]:
    """Yield every record below ``annotation`` that a text may stand for, with its key path.

    Found by trying, not by how it is declared. Lists are not gone into: they are never joined.
    """
    bare = _bare(annotation)
    if get_origin(bare) is dict:
        yield from _shorts(get_args(bare)[1], (*path, "name"))
    elif isinstance(bare, type) and issubclass(bare, Record):
        if isinstance(bare.expand("short"), dict):
            yield path, bare
        for declared in bare.model_fields.values():
            yield from _shorts(declared.annotation, (*path, declared.key))


def _within(path: tuple[str, ...], value: Any) -> Any:
    for key in reversed(path):
        value = {key: value}
    return value


SHORTS = list(_shorts(Rig))


def test_the_walk_finds_the_short_forms_of_today() -> None:
    assert {kind for _, kind in SHORTS} >= {SwitcherUse, Scene, Part}


def _document(data: Any) -> Document:
    return read_document(Source("x.yaml", json.dumps(data)))


@pytest.mark.parametrize(("path", "kind"), SHORTS, ids=lambda one: getattr(one, "__name__", None))
def test_no_short_form_loses_what_the_other_file_says(path: tuple[str, ...], kind: Any) -> None:
    """Walks the records, so a short form that is declared tomorrow is tried too."""
    at_length = kind.expand("short")
    (said,) = at_length
    others = [
        declared.key
        for declared in kind.model_fields.values()
        if declared.key != said and {declared.key, said} - set(kind.alternatives)
    ]
    assert others, "nothing can stand beside the short form"
    other = dict.fromkeys(others, "beside")
    second = kind.expand("second")
    for top, base, wanted in (
        ("short", other, {**at_length, **other}),
        (other, "short", {**at_length, **other}),
        ("short", "second", at_length),
        (at_length, "second", at_length),
        ("short", second, at_length),
        ("short", {**second, **other}, {**at_length, **other}),
        ({**second, **other}, "short", {**second, **other}),
    ):
        document = _document(_within(path, top))
        merge.underlay(document, _document(_within(path, base)), Rig)
        value = document.data
        for key in path:
            value = value[key]
        assert (kind.expand(value)) == wanted
        assert document.spot.holds(path)


def test_a_joined_short_form_keeps_both_places(tmp_path: Path) -> None:
    rig = "include: gear.yaml\neffects: {a: {one: {set: {mix: 5}}}}\n"
    gear = "switcher: board.yaml\nunits: {one: {loop: 1}}\neffects: {a: {one: lout}}\n"
    songs = "sounds: {plain: [a]}\n" + TUNE
    book = open_night(write(tmp_path, rig=rig, gear=gear, songs=songs)).book
    assert book is not None
    state = book.place(("rig", "effects", "a", "one", "state"))
    mix = book.place(("rig", "effects", "a", "one", "set", "mix"))
    assert (Path(state.file).name, state.line, state.column) == ("gear.yaml", 3, 20)
    assert (Path(mix.file).name, mix.line, mix.column) == ("rig.yaml", 2, 32)


def test_the_including_file_says_anew_what_values_do(tmp_path: Path) -> None:
    """A curve said as points below and as a line above is not said twice."""
    rig = "include: gear.yaml\nunits: {one: {time: {linear: 0 ms to 127 ms}}}\n"
    gear = (
        "switcher: board.yaml\neffects: {a: one}\nmidi: [[switcher, one]]\n"
        "path: [[guitar, one, amp]]\nunits:\n  amp: {is: amplifier}\n  one: "
        "{channel: 3, loop: 1, time: {cc: 20, points: {0: 5 ms, 127: 9 ms}, at rest: 100 ms}}\n"
    )
    songs = "sounds: {plain: [a]}\n" + TUNE
    compiled = compile_night(write(tmp_path, rig=rig, gear=gear, songs=songs))
    assert told(compiled) == []


def test_an_alias_in_the_including_file_is_not_joined_twice(tmp_path: Path) -> None:
    rig = "include: gear.yaml\nunits: {one: &box {loop: 1}, two: *box}\n"
    gear = "switcher: board.yaml\nunits: {one: {note: mine}}\neffects: {a: one}\n"
    songs = "sounds: {plain: [a]}\n" + TUNE
    book = open_night(write(tmp_path, rig=rig, gear=gear, songs=songs)).book
    assert book is not None
    assert (book.rig.units["one"].note, book.rig.units["two"].note) == ("mine", None)
