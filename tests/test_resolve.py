"""Sounds, like, add and drop; moments and their assumed places."""

from __future__ import annotations

from pathlib import Path

import pytest

from setwright.scenes.book import Book, open_night
from setwright.scenes.resolve import Resolver
from tests.mini import bound, compile_mini, told, write_night

UNITS = "a: {loop: 1}\nb: {loop: 2}\nc: {loop: 3}"
EFFECTS = "one: a\ntwo: b\nthree: c"


@pytest.mark.parametrize(
    ("scene", "effects"),
    [
        ("base", ["one", "two"]),
        ("[three]", ["three"]),
        ("{sound: base}", ["one", "two"]),
        ("{sound: base, add: three}", ["one", "two", "three"]),
        ("{sound: base, drop: one}", ["two"]),
        ("{sound: base, drop: one, add: one}", ["two", "one"]),
        ("{like: First}", ["one", "two"]),
        ("{like: First, add: [three], drop: [one]}", ["two", "three"]),
        ("{add: three}", ["three"]),
        ("{effects: []}", []),
    ],
)
def test_effects(tmp_path: Path, scene: str, effects: list[str]) -> None:
    compiled = compile_mini(
        tmp_path,
        units=UNITS,
        effects=EFFECTS,
        songs=f"""
        sounds: {{base: [one, two]}}
        songs:
        - title: Tune
          scenes:
            First: base
            Second: {scene}
        """,
    )
    assert list(bound(compiled, "Second").effects) == effects


@pytest.mark.parametrize(
    ("order", "places"),
    [
        ("[A, B, A, B]", ["0 assumed", "8 assumed", "16 assumed", "24 assumed"]),
        ("[A, {B: bar 17}, A]", ["0 assumed", "16", "24 assumed"]),
        ("[A, B, {A: round 2 A}]", ["0 assumed", "8 assumed", "16"]),
        ("[A, B, B, {A: round 1 B}]", ["0 assumed", "8/3 assumed", "16/3 assumed", "8"]),
        ("[{A: 0:02}, {B: bar 3}]", ["1", "2"]),
    ],
)
def test_places_that_a_song_does_not_say(tmp_path: Path, order: str, places: list[str]) -> None:
    """Form AB, two rounds of eight bars a part; bars that have passed at each moment."""
    compiled = compile_mini(
        tmp_path,
        units=UNITS,
        effects=EFFECTS,
        songs=f"""
        songs:
        - title: Tune
          meter: 4/4
          tempo: quarter = 120
          form: AB, 2 rounds
          scenes: {{A: [one], B: [two]}}
          order: {order}
        """,
    )
    moments = compiled.songs[0].resolved.moments
    assert [one.code for one in told(compiled) if one.code != "begins-late"] == []
    assert [f"{m.bars}{' assumed' if m.assumed else ''}" for m in moments] == places


def test_without_form_a_length_helps(tmp_path: Path) -> None:
    compiled = compile_mini(
        tmp_path,
        units=UNITS,
        effects=EFFECTS,
        songs="""
        songs:
        - title: Tune
          lasts: 3:00
          scenes: {A: [one], B: [two], C: [three]}
          order: [A, {B: 1:00}, C]
        """,
    )
    assert [moment.seconds for moment in compiled.songs[0].resolved.moments] == [0, 60, 120]
    assert [moment.assumed for moment in compiled.songs[0].resolved.moments] == [True, False, True]


def test_without_order_scenes_come_as_written(tmp_path: Path) -> None:
    compiled = compile_mini(
        tmp_path, units=UNITS, effects=EFFECTS, scenes="Late: [one]\nEarly: [two]"
    )
    moments = compiled.songs[0].resolved.moments
    assert [(m.scene, str(m.bars), m.assumed) for m in moments] == [
        ("Late", "0", True),
        ("Early", "16", True),
    ]


# Each book has one slip; expected are its code and the text under the carets.
SLIPS = [
    ("Second: bass", "unknown-sound", "bass", "‘base’"),
    ("Second: {like: Frist}", "unknown-scene", "Frist", "‘First’"),
    ("Second: {sound: base, like: First}", "two-starts", "First", "add:"),
    ("Second: {echo: quarter}", "scene-without-sound", "Second", "effects: []"),
    ("Second: {like: Third}\nThird: {like: Second}", "like-in-circle", "Third", "name a sound"),
    ("Second: {like: Second}", "like-in-circle", "Second", "name a sound"),
    ("Second: {sound: base, drop: three}", "drops-nothing", "three", "one"),
    ("Second: {sound: base, add: two}", "adds-twice", "two", "delete"),
    ("Second: {effects: [one, thre]}", "unknown-effect", "thre", "‘three’"),
    ("Second: {effects: [base]}", "unknown-effect", "base", "sound: base"),
    ("Second: {sound: base, echo: crooked}", "not-an-echo-time", "crooked", "dotted eighth"),
    ("Second: one", "unknown-sound", "one", "effects: [one]"),
    ("Second: {sond: base}", "unknown-key", "sond", "‘sound’"),
    ("Second:", "empty-value", "Second", "write it"),
    ("Second: {sound: [one]}", "wrong-shape", "sound", "one value"),
]


@pytest.mark.parametrize(("scene", "code", "under", "way_out"), SLIPS)
def test_one_slip_is_one_finding(
    tmp_path: Path, scene: str, code: str, under: str, way_out: str
) -> None:
    scenes = "First: base\n" + scene
    lines = "".join(f"    {line}\n" for line in scenes.splitlines())
    compiled = compile_mini(
        tmp_path,
        units=UNITS,
        effects=EFFECTS,
        songs=f"sounds: {{base: [one, two]}}\nsongs:\n- title: Tune\n  scenes:\n{lines}"
        "  order: [First, Second]\n",
    )
    assert [finding.code for finding in told(compiled)] == [code]
    (finding,) = told(compiled)
    place = finding.place
    assert place.file.endswith("songs.yaml")
    assert place.source.line(place.line)[place.column - 1 : place.end_column - 1] == under
    assert way_out in finding.help


def test_a_name_defined_wrongly_is_found_where_it_is_defined(tmp_path: Path) -> None:
    compiled = compile_mini(
        tmp_path,
        units=UNITS,
        effects=EFFECTS,
        songs="""
        sounds: {bsae: [one, two]}
        songs:
        - title: Tune
          scenes: {A: base, B: base}
        """,
    )
    (finding,) = told(compiled)
    assert (finding.code, finding.place.line) == ("unknown-sound", 2)
    assert "‘base’ is asked for (2 times)" in finding.message
    assert finding.related[0].place.line == 5


@pytest.mark.parametrize(
    ("step", "code", "way_out"),
    [
        ("{A: round 1 C}", "no-such-part", "A, B"),
        ("{A: round 1 A2}", "no-such-part", "A, B"),
        ("{A: 2 bars on}", "not-a-place", "round 2 A"),
        ("{A: later}", "no-such-part", "write one of A, B"),
        ("{Aa: bar 3}", "unknown-scene", "‘A’"),
        ("{A: {foot: swell open}}", "unknown-unit", "instead of"),
        ("{A: {att: bar 3}}", "unknown-key", "‘at’"),
        ("{A: bar 3, B: bar 4}", "wrong-shape", "- Name"),
    ],
)
def test_slips_in_the_order(tmp_path: Path, step: str, code: str, way_out: str) -> None:
    compiled = compile_mini(
        tmp_path,
        units=UNITS,
        effects=EFFECTS,
        songs=f"""
        songs:
        - title: Tune
          form: AB, 2 rounds
          scenes: {{A: [one], B: [two]}}
          order: [A, {step}]
        """,
    )
    assert [finding.code for finding in told(compiled)] == [code]
    assert told(compiled)[0].place.line == 6
    assert way_out in told(compiled)[0].help


def test_a_place_needs_a_form(tmp_path: Path) -> None:
    compiled = compile_mini(
        tmp_path,
        units=UNITS,
        effects=EFFECTS,
        songs="""
        songs:
        - title: Tune
          scenes: {A: [one]}
          order: [{A: round 2 A}]
        """,
    )
    assert [finding.code for finding in told(compiled)] == ["place-without-form"]


LONG = 4_000
"""Scenes in a row: beyond any limit of recursion."""


def _book(folder: Path, scenes: list[str], general: list[str] | None = None) -> Book:
    lines = "".join(f"    {scene}\n" for scene in scenes)
    rig = "general:\n" + "".join(f"  {scene}\n" for scene in general or ["G: [one]"])
    songs = f"sounds: {{base: [one, two]}}\nsongs:\n- title: Tune\n  scenes:\n{lines}"
    opened = open_night(write_night(folder, units=UNITS, effects=EFFECTS, songs=songs, rig=rig))
    assert opened.book is not None, opened.findings
    return opened.book


def _chain(end: str) -> list[str]:
    """Scenes that each begin from the one before: odd ones add an effect, even ones drop it."""
    return [f"S0: {end}"] + [
        f"S{n}: {{like: S{n - 1}, {'add' if n % 2 else 'drop'}: three}}" for n in range(1, LONG)
    ]


@pytest.mark.parametrize("backwards", [False, True])
def test_a_long_row_of_scenes_like_the_one_before(tmp_path: Path, backwards: bool) -> None:
    scenes = _chain("base")[:: -1 if backwards else 1]
    resolver = Resolver(_book(tmp_path, scenes, scenes))
    (song,) = resolver.book.songs
    for resolved in (resolver.song(song).scenes, resolver.general()):
        assert len(resolved) == LONG
        assert resolved["S0"].effect_names == ("one", "two")
        assert resolved[f"S{LONG - 1}"].effect_names == ("one", "two", "three")
        assert resolved[f"S{LONG - 2}"].effect_names == ("one", "two")
    assert resolver.done() == []


@pytest.mark.parametrize("backwards", [False, True])
def test_a_long_circle_is_one_short_finding(tmp_path: Path, backwards: bool) -> None:
    scenes = _chain(f"{{like: S{LONG - 1}}}")[:: -1 if backwards else 1]
    scenes += ["Tail: {like: S1}", "End: {like: Tail}", "Other: base"]
    resolver = Resolver(_book(tmp_path, scenes))
    (song,) = resolver.book.songs
    assert list(resolver.song(song).scenes) == ["Other"]
    (finding,) = resolver.done()
    assert finding.code == "like-in-circle"
    assert finding.place.line == 5
    assert f"… ({LONG} scenes)" in finding.message
    assert len(finding.message) < 200


def test_a_slip_in_a_row_is_found_once(tmp_path: Path) -> None:
    """What a scene gets from the one before is not found wrong again, nor doubled."""
    scenes = ["A: base", "B: {like: A, add: one}", "C: {like: B, add: three}", "D: {like: C}"]
    resolver = Resolver(_book(tmp_path, scenes))
    (song,) = resolver.book.songs
    resolved = resolver.song(song).scenes
    assert resolved["D"].effect_names == ("one", "two", "three")
    (finding,) = resolver.done()
    assert (finding.code, finding.place.line) == ("adds-twice", 6)


def test_two_circles_are_two_findings(tmp_path: Path) -> None:
    scenes = ["A: {like: B}", "B: {like: A}", "C: {like: D}", "D: {like: C}", "E: {like: E}"]
    resolver = Resolver(_book(tmp_path, scenes))
    (song,) = resolver.book.songs
    assert resolver.song(song).scenes == {}
    assert [(f.code, f.place.line) for f in resolver.done()] == [
        ("like-in-circle", line) for line in (5, 7, 9)
    ]
