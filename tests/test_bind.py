"""Effects → unit states: every declared behaviour, its value and its verdict."""

from __future__ import annotations

import itertools
from fractions import Fraction
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from setwright.compiler.binding.described import describe
from setwright.compiler.binding.foot import FootMove
from setwright.compiler.binding.settings import value_on
from setwright.compiler.binding.states import Verdict
from setwright.compiler.binding.target import Program, Setting
from setwright.scenes.control import Control
from setwright.scenes.finding import Severity
from setwright.scenes.quantities import Amount
from tests.mini import bound, compile_mini, quantity, told, write_night
from tests.nights import whole

PROVEN, FEET, UNKNOWN, FREE = Verdict.PROVEN, Verdict.FEET, Verdict.UNKNOWN, Verdict.FREE

# The unit under test is `box`; the effect `on` asks for it, `other` for nothing.
# Scene On has the effect, scene Off has not: expected are "quantity value verdict" for each.
BEHAVIOURS = [
    pytest.param(
        "{loop: 2}",
        "box",
        "",
        ["loop in proven"],
        ["loop out proven"],
        id="a loop is in or out",
    ),
    pytest.param(
        "{loop: 2, channel: 3, display: 0 to 99, programs: {warm: 7}}",
        "{box: warm}",
        "",
        ["loop in proven", "program warm (display 7, wire 7) proven"],
        ["loop out proven", "program don't care don't care"],
        id="a unit whose loop is out does not matter",
    ),
    pytest.param(
        "{channel: 3, display: 1 to 128, programs: {warm: 7, clear: 1}, at rest: clear}",
        "{box: warm}",
        "",
        ["program warm (display 7, wire 6) proven"],
        ["program clear (display 1, wire 0) proven"],
        id="without a loop it goes to its program at rest",
    ),
    pytest.param(
        "{channel: 3, switched by: {cc: 28, on: 127, off: 0}}",
        "box",
        "",
        ["switch on proven"],
        ["switch off proven"],
        id="a control that sets",
    ),
    pytest.param(
        "{channel: 3, switched by: {cc: 28, any value flips: yes}}",
        "box",
        "",
        ["switch on cannot be known"],
        ["switch off cannot be known"],
        id="a control that flips",
    ),
    pytest.param(
        "{channel: 3, switched by: {cc: 28, press: 127, release: 0}}",
        "box",
        "",
        ["switch on cannot be known"],
        ["switch off cannot be known"],
        id="a press and a release flip",
    ),
    pytest.param(
        "{loop: 1, channel: 3, switched by: {cc: 28, any value flips: yes}, loading: engages, "
        "display: 0 to 9, programs: {warm: 1}}",
        "{box: warm}",
        "",
        ["loop in proven", "switch on proven", "program warm (display 1, wire 1) proven"],
        [
            "loop out proven",
            "switch don't care don't care",
            "program don't care don't care",
        ],
        id="loading a program engages what flips",
    ),
    pytest.param(
        "{loop: 1, channel: 3, switched by: {cc: 28, any value flips: yes}, loading: engages, "
        "same program again: ignored, display: 0 to 9, programs: {warm: 1}}",
        "{box: warm}",
        "",
        ["loop in proven", "switch on cannot be known", "program warm (display 1, wire 1) proven"],
        [
            "loop out proven",
            "switch don't care don't care",
            "program don't care don't care",
        ],
        id="but not where the same program again is ignored",
    ),
    pytest.param(
        "{loop: 1, channel: 3, display: 0 to 9, programs: {warm: 1}, reached by: {up: 30}}",
        "{box: warm}",
        "",
        ["loop in proven", "program warm (display 1, wire 1) cannot be known"],
        ["loop out proven", "program don't care don't care"],
        id="programs that can only be stepped through",
    ),
    pytest.param(
        "{by foot: [closed, open], at start: open, at rest: closed}",
        "{box: open}",
        "",
        ["foot open proven if feet and start are as printed"],
        ["foot closed proven if feet and start are as printed"],
        id="a foot works it",
    ),
    pytest.param(
        "{by foot: [closed, open]}",
        "{box: open}",
        "",
        ["foot open proven if feet and start are as printed"],
        ["foot open proven if feet and start are as printed"],
        id="without a rest it stays where the last effect needed it",
    ),
    pytest.param(
        "{is: amplifier, relay: {number: 1, open: clean, closed: dirty}}",
        "{box: dirty}",
        "",
        ["relay dirty proven"],
        ["relay clean proven"],
        id="a relay that holds",
    ),
    pytest.param(
        "{is: amplifier, relay: {number: 2, open: clean, closed: dirty}}",
        "{box: dirty}",
        "",
        ["relay dirty cannot be known"],
        ["relay clean cannot be known"],
        id="a relay that pulses",
    ),
    pytest.param(
        "{channel: 3, switched by: {cc: 28, on: 127, off: 0}, time: {cc: 20, linear: 0 to 1270 ms}}",
        "box",
        "echo: dotted eighth",
        ["switch on proven", "time 375 ms (value 37, gives 370 ms) proven"],
        ["switch off proven", "time don't care don't care"],
        id="a delay's time follows the tempo",
    ),
    pytest.param(
        "{loop: 1, channel: 3, time: {cc: 20, linear: 0 to 1270 ms}}",
        "box",
        "",
        ["loop in proven", "time don't care cannot be known"],
        ["loop out proven", "time don't care don't care"],
        id="a time that nobody sets stays as it was",
    ),
    pytest.param(
        "{loop: 1, channel: 3, tempo from: tap, time: {cc: 20, linear: 0 to 1270 ms}}",
        "box",
        "echo: quarter",
        ["loop in proven", "time tap quarter = 120 proven if feet and start are as printed"],
        ["loop out proven", "time don't care don't care"],
        id="a tapped tempo is not ours to set",
    ),
    pytest.param(
        "{loop: 1, channel: 3, controls: {mix: {cc: 21, linear: 0 to 100 %, at rest: 50 %}}}",
        "{box: {set: {mix: 20 %}}}",
        "",
        ["loop in proven", "mix 20 % (value 25, gives 19.7 %) proven"],
        ["loop out proven", "mix don't care don't care"],
        id="an effect sets a control",
    ),
    pytest.param(
        "{loop: 1, channel: 3, display: 0 to 9, programs: {warm: 1}, "
        "controls: {mix: {cc: 21}, depth: {cc: 22, after a program: kept}}}",
        "{box: warm}",
        "",
        [
            "loop in proven",
            "program warm (display 1, wire 1) proven",
            "mix don't care don't care",
            "depth don't care don't care",
        ],
        [
            "loop out proven",
            "program don't care don't care",
            "mix don't care don't care",
            "depth don't care don't care",
        ],
        id="controls that no effect sets",
    ),
    pytest.param(
        "{loop: 1, channel: 3, controls: {speed: {cc: 22, positions: {slow: 0, fast: 127}}}}",
        "{box: {set: {speed: fast}}}",
        "",
        ["loop in proven", "speed fast (value 127) proven"],
        ["loop out proven", "speed don't care don't care"],
        id="named positions of a control",
    ),
    pytest.param(
        "{is: amplifier, always on: yes}", "box", "", [], [], id="a unit that is always there"
    ),
]


@pytest.mark.parametrize(("unit", "effect", "more", "on", "off"), BEHAVIOURS)
def test_behaviours(
    tmp_path: Path, unit: str, effect: str, more: str, on: list[str], off: list[str]
) -> None:
    compiled = compile_mini(
        tmp_path,
        units=f"box: {unit}",
        effects=f"wanted: {effect}",
        scenes=f"On: {{effects: [wanted]{', ' + more if more else ''}}}\nOff: {{effects: []}}",
    )
    for scene, expected in (("On", on), ("Off", off)):
        seen = [
            f"{one.quantity} {describe(one.value, one.quantity)} {one.verdict.value}"
            for one in bound(compiled, scene).of("box")
        ]
        assert seen == expected
    for one in (*bound(compiled, "On").wanted, *bound(compiled, "Off").wanted):
        assert one.why
        if one.verdict is UNKNOWN:
            # What cannot be promised comes with a way out.
            assert ";" in one.reason or "give" in one.reason


def test_a_control_left_by_another_effect_is_not_known(tmp_path: Path) -> None:
    compiled = compile_mini(
        tmp_path,
        units="box: {loop: 1, channel: 3, controls: {mix: {cc: 21, linear: 0 to 100 %}}}",
        effects="wet: {box: {set: {mix: 80 %}}}\nplain: box",
        scenes="Wet: {effects: wet}\nPlain: {effects: plain}",
    )
    assert quantity(bound(compiled, "Wet"), "box", "mix").verdict is PROVEN
    plain = quantity(bound(compiled, "Plain"), "box", "mix")
    assert plain.verdict is UNKNOWN
    assert "at rest" in plain.reason


def test_a_program_that_is_stepped_to_brings_nothing_back(tmp_path: Path) -> None:
    compiled = compile_mini(
        tmp_path,
        units="""
            box: {loop: 1, channel: 3, display: 0 to 9, programs: {warm: 1, thin: 2},
              reached by: {up: 30}, controls: {mix: {cc: 21}}}
        """,
        effects="wet: {box: {state: warm, set: {mix: 80}}}\nplain: {box: thin}",
        scenes="Wet: {effects: wet}\nPlain: {effects: plain}",
    )
    assert quantity(bound(compiled, "Plain"), "box", "mix").verdict is UNKNOWN


def test_bank_select_splits_the_number(tmp_path: Path) -> None:
    """Bank 00/00 is the first, 01/00 the 129th: MIDI 1.0 Detailed Specification 4.2.1."""
    compiled = compile_mini(
        tmp_path,
        units="box: {loop: 1, channel: 3, display: 1 to 512, bank select: {by: lsb}, "
        "programs: {first: 1, last: 128, next: 129, far: 512}}",
        effects="\n".join(f"{name}: {{box: {name}}}" for name in ("first", "last", "next", "far")),
        scenes="\n".join(f"{n}: {{effects: {n}}}" for n in ("first", "last", "next", "far")),
    )
    seen = {
        name: quantity(bound(compiled, name), "box", "program").value
        for name in ("first", "last", "next", "far")
    }
    assert seen == {
        "first": Program("first", "1", 0, 0),
        "last": Program("last", "128", 127, 0),
        "next": Program("next", "129", 0, 1),
        "far": Program("far", "512", 127, 3),
    }


FALLBACKS = """
instead of:
  deep: [wide, nothing]
  wide: near
  lost: nothing
"""


def test_fallbacks_are_taken_in_order(tmp_path: Path) -> None:
    night = write_night(
        tmp_path,
        units="one: {loop: 1}\ntwo: {loop: 2}",
        effects="near: one\nfar: two",
        scenes="A: {effects: [deep, far]}\nB: {effects: lost}\nC: {effects: [near, wide]}",
        rig=FALLBACKS,
    )
    compiled = whole(night)
    assert bound(compiled, "A").effects == ("near", "far")
    assert bound(compiled, "A").replaced == (("deep", "near"),)
    assert bound(compiled, "B").effects == ()
    assert bound(compiled, "C").effects == ("near",)


def test_a_rig_without_a_unit(tmp_path: Path) -> None:
    night = write_night(
        tmp_path,
        units="one: {loop: 1}\ntwo: {loop: 2}\nthree: {loop: 3}",
        effects="near: one\nfar: two\nodd: three",
        scenes="A: {effects: [far]}\nB: {effects: [odd, near]}",
        rig="instead of:\n  far: near\n",
    )
    with_all = whole(night)
    assert with_all.findings == []
    replaced = whole(night, frozenset({"two"}))
    assert [(f.code, f.severity.value) for f in replaced.findings] == [("song-suffers", "note")]
    table = replaced.findings[0].table
    assert table is not None
    assert table.to_json() == [
        {"effect": "far", "instead": "near", "song": "Tune", "scenes": ["A"]}
    ]
    assert all(wanted.unit != "two" for wanted in replaced.songs[0].scenes["A"].wanted)
    lost = whole(night, frozenset({"three"}))
    assert [(f.code, f.severity.value) for f in lost.findings] == [("song-suffers", "warning")]
    assert "B: odd is lost" in lost.findings[0].message
    assert lost.songs[0].scenes["B"].effects == ("near",)
    unknown = whole(night, frozenset({"twoo"}))
    assert [f.code for f in unknown.findings] == ["unknown-unit"]
    assert "two" in unknown.findings[0].help


CURVES = [
    ({"linear": "20 ms to 1800 ms"}, "ms", 20, 1800),
    ({"linear": "1800 ms to 20 ms"}, "ms", 20, 1800),
    ({"points": {"0": "20 ms", "64": "300 ms", "127": "1800 ms"}}, "ms", 20, 1800),
    ({"linear": "0 % to 100 %"}, "%", 0, 100),
]


@given(st.sampled_from(CURVES), st.data())
def test_a_setting_is_the_nearest_value(
    curve: tuple[dict[str, object], str, int, int], data: st.DataObject
) -> None:
    shape, unit, low, high = curve
    control = Control.model_validate({"cc": "20", **shape})
    wanted = data.draw(st.fractions(low, high, max_denominator=100))
    setting = value_on(control, Amount(wanted, unit))
    assert setting is not None
    given_by = {
        value: found.given.value
        for value in range(128)
        if isinstance((found := _exactly(control, value)).given, Amount)
    }
    assert isinstance(setting.given, Amount)
    assert setting.given.value == given_by[setting.value]
    assert abs(setting.given.value - wanted) == min(abs(v - wanted) for v in given_by.values())


def _exactly(control: Control, value: int) -> Setting:
    """Return the setting of a value, worked out apart from `value_on`."""
    corners = control.curve
    for (left, low), (right, high) in itertools.pairwise(corners):
        if left <= value <= right:
            level = low + Fraction(value - left, right - left) * (high - low)
            return Setting("", value, Amount(level, control.unit))
    raise AssertionError(value)


def test_beyond_the_curve_there_is_no_value() -> None:
    control = Control.model_validate({"cc": "20", "linear": "20 ms to 1800 ms"})
    assert value_on(control, Amount(Fraction(19), "ms")) is None
    assert value_on(control, Amount(Fraction(1801), "ms")) is None


def test_feet_at_moments(tmp_path: Path) -> None:
    compiled = compile_mini(
        tmp_path,
        units="swell: {by foot: [closed, half open], at start: closed}\none: {loop: 1}",
        effects="near: one",
        songs="""
        songs:
        - title: Tune
          scenes: {A: {effects: near}}
          order:
          - A
          - A: {foot: swell half open}
          - A: {foot: pedal down}
        """,
        rig="instead of: {pedal: nothing}\n",
    )
    assert compiled.findings == []
    assert compiled.songs[0].feet == ((), (FootMove("swell", "half open"),), ())
    stands = quantity(compiled.songs[0].scenes["A"], "swell", "foot")
    assert stands.verdict is FEET
    assert stands.why == "closed, then half open, as printed at each moment"


def test_effects_move_the_foot_and_back(tmp_path: Path) -> None:
    compiled = compile_mini(
        tmp_path,
        units="boost: {by foot: [resting, boosting], at start: resting, at rest: resting}\n"
        "one: {loop: 1}",
        effects="loud: {boost: boosting}\nnear: one",
        scenes="A: {effects: near}\nB: {effects: [near, loud]}\nC: {effects: near}",
    )
    assert compiled.findings == []
    assert compiled.songs[0].feet == (
        (),
        (FootMove("boost", "boosting"),),
        (FootMove("boost", "resting"),),
    )
    assert quantity(compiled.songs[0].scenes["B"], "boost", "foot").value == "boosting"
    assert quantity(compiled.songs[0].scenes["C"], "boost", "foot").value == "resting"


def test_a_written_move_against_an_effect(tmp_path: Path) -> None:
    compiled = compile_mini(
        tmp_path,
        units="boost: {by foot: [resting, boosting], at start: resting}",
        effects="loud: {boost: boosting}",
        songs="""
        songs:
        - title: Tune
          scenes: {A: {effects: loud}}
          order: [A: {foot: boost resting}]
        """,
    )
    assert [finding.code for finding in compiled.findings] == ["foot-clash"]


@pytest.mark.parametrize(
    ("song", "scene", "effect", "milliseconds"),
    [
        ("", "", "{box: {set: {time: 100 ms}}}", 100),
        ("echo: quarter", "", "{box: {set: {time: 100 ms}}}", 100),
        ("echo: quarter", "", "box", 500),
        ("echo: quarter", "echo: eighth", "{box: {set: {time: 100 ms}}}", 250),
        ("", "echo: 700 ms", "{box: {set: {time: 100 ms}}}", 700),
        ("", "", "box", 50),
    ],
)
def test_whose_time_a_delay_takes(
    tmp_path: Path, song: str, scene: str, effect: str, milliseconds: int
) -> None:
    """The scene's own, else the effect's, else the song's, else the unit's at rest."""
    more = f", {scene}" if scene else ""
    compiled = compile_mini(
        tmp_path,
        units="box: {loop: 1, channel: 3, time: {cc: 20, linear: 0 to 1270 ms, at rest: 50 ms}}",
        effects=f"delay: {effect}",
        songs=f"""
        songs:
        - title: Tune
          tempo: quarter = 120
          {song}
          scenes: {{A: {{effects: delay{more}}}}}
        """,
    )
    value = quantity(bound(compiled, "A"), "box", "time").value
    assert isinstance(value, Setting)
    assert value.asked == Amount(Fraction(milliseconds), "ms")


def test_a_control_that_only_some_programs_have(tmp_path: Path) -> None:
    compiled = compile_mini(
        tmp_path,
        units="box: {loop: 1, channel: 3, display: 0 to 9, programs: {far: 1, room: 2}, "
        "time: {cc: 20, linear: 0 to 1270 ms, at rest: 50 ms, only with: far}}",
        effects="delay: {box: far}\nroom: {box: room}",
        scenes="A: {effects: delay, echo: quarter}\nB: {effects: room, echo: quarter}",
    )
    assert quantity(bound(compiled, "A"), "box", "time").verdict is PROVEN
    assert quantity(bound(compiled, "B"), "box", "time").verdict is FREE


def test_tonight_changes_capo_tempo_and_scenes(tmp_path: Path) -> None:
    night = write_night(
        tmp_path,
        units="one: {loop: 1}",
        effects="near: one",
        songs="""
        songs:
        - title: Tune
          meter: 4/4
          tempo: quarter = 120
          form: AB, 2 rounds
          guitar: steel, capo 2, low D
          scenes: {A: {effects: near}, B: {effects: near}}
          order: [A, {B: round 2 A}]
        - title: Asked
          scenes: {A: {effects: near}}
        """,
        rig="general: {Plain: [near]}\n",
    )
    night.write_text(
        "night: Test\nrig: rig.yaml\nsongs: songs.yaml\nsets:\n- play:\n"
        "  - {song: Tune, capo: 3, tempo: quarter = 60, leave out: A}\nif asked: Asked\n",
        encoding="utf-8",
    )
    compiled = whole(night)
    assert [one.code for one in compiled.findings] == ["begins-late"]
    tune, asked = compiled.songs
    assert tune.guitar == "steel, capo 3 tonight, low D"
    assert list(tune.scenes) == ["B"]
    assert [(moment.scene, str(moment.seconds)) for moment in tune.moments] == [("B", "64")]
    assert (asked.general, list(asked.scenes), asked.moments[0].scene) == (False, ["A"], "A")


@pytest.mark.parametrize(
    ("tempo", "echo", "sentence"),
    [
        ("quarter = 120", "quarter", None),
        ("quarter = 120", "1270 ms", None),
        ("quarter = 120", "1271 ms", "is beyond what it can do"),
        ("quarter = 40", "quarter", "1500 ms is beyond what it can do"),
        (None, "quarter", "needs a tempo, and the song has none"),
    ],
)
def test_a_time_that_the_rig_cannot_make(
    tmp_path: Path, tempo: str | None, echo: str, sentence: str | None
) -> None:
    compiled = compile_mini(
        tmp_path,
        units="box: {loop: 1, channel: 3, time: {cc: 20, linear: 0 to 1270 ms}}",
        effects="delay: box",
        songs=f"""
        songs:
        - title: Tune
          {f"tempo: {tempo}" if tempo else "key: C"}
          scenes: {{A: {{effects: delay, echo: {echo}}}}}
        """,
    )
    assert [one.code for one in compiled.findings] == (["time-not-reached"] if sentence else [])
    if sentence is not None:
        (finding,) = compiled.findings
        assert sentence in finding.message
        assert finding.place.line == 5


def test_a_misspelt_nothing_is_nothing(tmp_path: Path) -> None:
    night = write_night(
        tmp_path, units="one: {loop: 1}", effects="near: one", scenes="A: [near, far]",
        rig="instead of: {far: nothin}",
    )  # fmt: skip
    (finding,) = whole(night).findings
    assert (finding.code, finding.help) == (
        "unknown-effect",
        "did you mean ‘nothing’? Then scenes do without",
    )


def test_a_stand_in_that_is_missing_too_is_said(tmp_path: Path) -> None:
    night = write_night(
        tmp_path,
        units="one: {loop: 1}\nbox: {loop: 2, channel: 3, display: 0 to 9, programs: {a: 1, b: 2}}",
        effects="near: one\nshake: {box: a}\nwave: {box: b}",
        scenes="A: [near, shake]",
        rig="instead of: {shake: wave}",
    )
    (finding,) = whole(night, frozenset({"box"})).findings
    assert (finding.code, finding.help) == (
        "song-suffers",
        "what may stand in for ‘shake’ (wave) is not there either, or sounds already: let the rig "
        "name another, under instead of:",
    )


@pytest.mark.parametrize(
    ("chosen", "played", "replaced", "weighs"),
    [
        ("[loud, dirty]", ("near", "loud", "dirty"), ("lead", "dirty"), Severity.NOTE),
        ("[dirty, loud]", ("near", "loud", "dirty"), ("lead", "dirty"), Severity.NOTE),
        ("loud", ("near", "loud"), ("lead", "loud"), Severity.WARNING),
        ("[loud, nothing]", ("near", "loud"), ("lead", "nothing"), Severity.NOTE),
    ],
)
def test_what_sounds_already_stands_in_for_nothing(
    tmp_path: Path,
    chosen: str,
    played: tuple[str, ...],
    replaced: tuple[str, str],
    weighs: Severity,
) -> None:
    """The scene has the boost; where the fuzz is missing, another stand-in has to be found."""
    night = write_night(
        tmp_path,
        units="one: {loop: 1}\ntwo: {loop: 2}\nthree: {loop: 3}\nfuzz: {loop: 4}",
        effects="near: one\nloud: two\ndirty: three\nlead: fuzz",
        scenes="A: [near, loud, lead]",
        rig=f"instead of: {{lead: {chosen}}}",
    )
    compiled = whole(night, frozenset({"fuzz"}))
    scene = compiled.songs[0].scenes["A"]
    assert (scene.effects, scene.replaced) == (played, (replaced,))
    (finding,) = told(compiled)
    assert (finding.code, finding.severity) == ("song-suffers", weighs)
