"""The line with which a check ends, the trace of a scene, and the reference page."""

from __future__ import annotations

import json
from collections.abc import Callable
from pathlib import Path

import pytest
from click.testing import CliRunner

from setwright.compiler.binding.states import Cause, Verdict
from setwright.compiler.cli import main as setwright
from setwright.compiler.reports.checks import all_explained, in_full, page
from setwright.compiler.reports.summary import proof
from setwright.scenes.explained import Explained
from tests.conftest import DEMO, ROOT
from tests.mini import compile_mini, told, write_night

FLIP = "box: {channel: 3, switched by: {cc: 1, any value flips: yes}}"
SETS = "box: {channel: 3, switched by: {cc: 1, on: 127, off: 0}, settles in: 20 ms}"
BOARD = """\
switcher: board
banks: 9
switches: 5
loops: 4
each preset stores: {programs: 4, controls: 9, sends: as listed}
"""
OTHER = "other: {channel: 4, switched by: {cc: 1, on: 127, off: 0}, acts only on: what is declared}"
FOOT = "box: {by foot: [shut, open], at start: shut, at rest: shut}"


EVERY = "every box stands as written, whichever scene came before, "
HEARD = EVERY + "and the guitar is heard"
CABLES = "rests on: boxes and cables as the file of Test says"
REST = "each press finding the rig at rest; more: setwright checks proof"

BY_MESSAGES = REST.replace(";", ", busy boxes losing whole messages, not single bytes (1 scene);")


@pytest.mark.parametrize(
    ("units", "effects", "proven", "rests"),
    [
        pytest.param(
            SETS,
            "a: box",
            f"proven: in all 2 scenes {HEARD}; slowest: ‘On’ of Tune, 21 ms",
            f"{CABLES}, {REST}",
            id="by messages",
        ),
        pytest.param(
            FLIP,
            "a: box",
            f"proven: in 0 of 2 scenes {HEARD}; 2 cannot be known; slowest: ‘On’ of Tune, 0 ms",
            f"{CABLES}, {REST}",
            id="flips",
        ),
        pytest.param(
            FOOT,
            "a: {box: open}",
            f"proven: in all 2 scenes {HEARD}; slowest: ‘On’ of Tune, 0 ms",
            f"{CABLES}, feet and start as printed (2 scenes), {REST}",
            id="by foot",
        ),
        # Busy for less than a byte: what is left of the next message passes for another.
        pytest.param(
            "box: {loop: 1, channel: 3, display: 0 to 9, programs: {one: 2}, "
            "busy after program: 0.1 ms, acts only on: what is declared}\n" + OTHER,
            "a: {box: one, other: {}}",
            f"proven: in all 2 scenes {HEARD}; slowest: ‘On’ of Tune, 1.6 ms",
            f"{CABLES}, {BY_MESSAGES}",
            id="whole messages",
        ),
    ],
)
def test_what_is_proven_and_what_it_rests_on(
    tmp_path: Path, units: str, effects: str, proven: str, rests: str
) -> None:
    scenes = "On: [a]\nOff: {effects: []}"
    summary = proof(compile_mini(tmp_path, units=units, effects=effects, scenes=scenes))
    assert summary is not None
    assert summary.lines == (proven, rests)


def test_a_night_without_scenes_proves_nothing(tmp_path: Path) -> None:
    compiled = compile_mini(tmp_path, units=SETS, effects="a: box", songs="songs:\n- title: Tune\n")
    summary = proof(compiled)
    assert summary is not None
    assert summary.lines == ("nothing is proven: there is no scene to press",)


def test_what_is_not_said_is_no_ground(tmp_path: Path) -> None:
    """Neither a signal path nor a place of a press: nothing is known of the one or the other."""
    compiled = compile_mini(
        tmp_path,
        units=SETS,
        effects="a: box",
        songs="songs:\n- title: Tune\n  scenes: {On: [a]}\n",
        rig="path: []\n",
    )
    summary = proof(compiled)
    assert summary is not None
    assert summary.lines == (
        f"proven: in 1 scene {EVERY}but nothing is known of the signal; "
        "slowest: ‘On’ of Tune, 21 ms",
        f"{CABLES}, {REST}",
    )


@pytest.mark.parametrize(
    ("scenes", "counts"),
    [
        # Scenes of the night, those that cannot be known, and those that hang on a foot alone.
        ("On: [open, left]\nOff: [set]", (2, 1, 1)),
        ("On: [open, left]\nOff: [set]\nThird: [open, set]", (3, 1, 2)),
        ("On: [open, set]\nOff: [set]", (2, 0, 2)),
    ],
)
def test_what_cannot_be_known_is_not_counted_again_as_hanging_on_a_foot(
    tmp_path: Path, scenes: str, counts: tuple[int, int, int]
) -> None:
    compiled = compile_mini(
        tmp_path,
        units=f"{FOOT}\nother: {{loop: 2, channel: 3, controls: {{mix: {{cc: 21}}}}}}",
        effects="open: {box: open}\nleft: other\nset: {other: {set: {mix: 80}}}",
        scenes=scenes,
    )
    summary = proof(compiled)
    assert summary is not None
    assert (summary.scenes, summary.not_known, summary.feet) == counts


def test_nothing_is_proven_of_a_book_with_errors(tmp_path: Path) -> None:
    night = write_night(tmp_path, units=SETS, effects="a: bax", scenes="On: [a]")
    ended = CliRunner().invoke(setwright, ["check", str(night)])
    assert ended.exit_code == 1
    assert ended.output.endswith("nothing is proven yet: mend the errors first\n")


def test_a_collision_is_not_proven(tmp_path: Path) -> None:
    units = "one: {channel: 3, switched by: {cc: 1, on: 127, off: 0}}\ntwo: {channel: 3}\n"
    night = write_night(
        tmp_path, units=units, effects="a: one", scenes="On: [a]\nOff: {effects: []}"
    )
    ended = CliRunner().invoke(setwright, ["check", str(night)])
    assert "[channel-collision]" in ended.output
    assert ended.exit_code == 1
    assert ended.output.endswith("nothing is proven yet: mend the errors first\n")


@pytest.mark.parametrize(
    ("night", "scene", "options"),
    [
        ("granary", "The Swallow's Tail/Lift", []),
        ("granary", "Blind Mary/Bare", ["--direct"]),
        ("parlour", "Drowsy Maggie/Walk", ["--direct"]),
    ],
)
def test_the_trace_of_a_scene(
    night: str, scene: str, options: list[str], golden: Callable[[str, str], None]
) -> None:
    words = ["trace", str(DEMO / f"{night}-night.yaml"), scene, *options]
    ended = CliRunner().invoke(setwright, words)
    assert ended.exit_code == 0
    name = "".join(sign if sign.isalnum() else "-" for sign in scene.lower().replace("'", ""))
    golden(f"trace-{night}-{name}.txt", ended.output)


def test_the_trace_shows_what_should_not_be(tmp_path: Path) -> None:
    units = """
        one: {channel: 3, switched by: {cc: 1, on: 127, off: 0}, acts only on: what is declared}
        two: {channel: 3, thru: no}
        far: {channel: 4, switched by: {cc: 2, on: 127, off: 0}}
    """
    night = write_night(tmp_path, units=units, effects="a: one\nb: far", scenes="On: [a, b]")
    ended = CliRunner().invoke(setwright, ["trace", str(night), "Tune/On"])
    lines = [" ".join(line.split()) for line in ended.output.splitlines() if line.startswith("   ")]
    assert lines == [
        "meant for one: switch on",
        "switcher OUT → one IN acts, as meant",
        "one THRU → two IN MAY ACT, NOT MEANT: might do something on control 1",
        "meant for far: switch on",
        "switcher OUT → one IN listens on channel 3",
        "one THRU → two IN listens on channel 3",
        "far does not hear it: no cable brings it there",
    ]


def test_the_reference_page_is_up_to_date(request: pytest.FixtureRequest) -> None:
    path = ROOT / "templates" / "checks.md"
    if request.config.getoption("--renew"):
        path.write_text(page(), encoding="utf-8", newline="\n")
    assert path.read_text(encoding="utf-8") == page(), "renew it: setwright checks --page"


@pytest.mark.parametrize("one", all_explained(), ids=lambda one: one.code)
def test_every_explanation_is_whole(one: Explained) -> None:
    assert one.finds.endswith(".")
    assert one.hurts.endswith(".")
    assert one.brief.endswith(".")
    assert one.do
    assert one.example.strip()
    for word in ("supply", "fed-twice", "power"):
        if one.code.startswith(word):
            for said in ("label", "polarity", "licensed technician", "loudspeaker", "local"):
                assert said in one.caution, f"{one.code} lacks a word on {said}"


def test_the_command_lists_and_explains() -> None:
    listed = CliRunner().invoke(setwright, ["checks"])
    assert listed.exit_code == 0
    codes = [line.split()[0] for line in listed.output.splitlines() if line.startswith("  ")]
    assert codes == [one.code for one in all_explained()]
    assert all(len(line) <= 120 for line in listed.output.splitlines())
    for one in all_explained():
        ended = CliRunner().invoke(setwright, ["checks", one.code])
        assert (ended.exit_code, ended.output) == (0, "\n".join(in_full(one)) + "\n")


def test_an_explanation_says_what_why_and_what_to_do_in_this_order() -> None:
    for one in all_explained():
        lines = [line for line in in_full(one) if line and not line.startswith(" ")]
        assert lines == [
            f"{one.code} ({' or '.join(w.value for w in (one.severity, *one.sometimes))})",
            "what",
            "why it hurts",
            "what to do",
            *(["caution"] if one.caution else []),
            "for example",
        ]
        text = "".join("".join(in_full(one)).split())
        for said in (one.finds, one.hurts, one.do, one.caution):
            assert "".join(said.split()) in text


def test_an_unknown_code_gets_the_nearest() -> None:
    ended = CliRunner().invoke(setwright, ["checks", "chanel-colision"])
    assert ended.exit_code == 2
    assert "did you mean ‘channel-collision’?" in ended.output


def test_what_hears_something_unmeant_is_not_proven(tmp_path: Path) -> None:
    """Even where the unit would be too busy to take it: that hangs on milliseconds."""
    units = """
        one: {loop: 1, channel: 3, display: 0 to 9, programs: {warm: 1}, busy after program: 90 ms}
        two: {loop: 2, channel: 3, display: 0 to 9, programs: {thin: 2}}
    """
    compiled = compile_mini(
        tmp_path, units=units, effects="a: {one: warm}\nb: {two: thin}", scenes="On: [a, b]"
    )
    assert [finding.code for finding in compiled.findings] == ["channel-collision"]
    (scene,) = compiled.scenes.values()
    verdicts = {(one.unit, one.quantity): one.verdict for one in scene.proved}
    assert verdicts["one", "program"] is Verdict.UNKNOWN
    assert verdicts["two", "program"] is Verdict.PROVEN
    assert proof(compiled) is None


def test_what_only_a_sender_with_running_status_would_lose_is_not_proven(tmp_path: Path) -> None:
    """Without it the mix comes 2.88 ms after the program's end, with it after 2.24 ms."""
    units = """
        far: {channel: 4, acts only on: what is declared, switched by: {cc: 1, on: 127, off: 0},
          controls: {one: {cc: 2, at rest: 1}, two: {cc: 3, at rest: 1}}}
        box: {loop: 1, channel: 3, display: 0 to 9, programs: {warm: 1}, acts only on: what is declared,
          busy after program: BUSY ms, controls: {mix: {cc: 21, at rest: 40}}}
    """
    known = {}
    for busy in ("2.2", "2.5", "2.9"):
        folder = tmp_path / busy
        folder.mkdir()
        compiled = compile_mini(
            folder,
            units=units.replace("BUSY", busy),
            effects="a: {box: warm}\nb: far",
            scenes="On: [a, b]",
            switcher=BOARD,
        )
        (scene,) = compiled.scenes.values()
        (mix,) = [one for one in scene.proved if one.quantity == "mix"]
        known[busy] = mix.verdict
    assert known == {"2.2": Verdict.PROVEN, "2.5": Verdict.UNKNOWN, "2.9": Verdict.UNKNOWN}


@pytest.mark.parametrize(
    ("scenes", "verdict"),
    [
        ("On: [a]\nOff: {effects: []}", Verdict.FREE),
        ("On: [a]\nOff: {effects: [a], echo: 300 ms}", Verdict.UNKNOWN),
        ("On: [a]\nOff: {effects: [b]}", Verdict.UNKNOWN),
    ],
)
def test_what_nothing_moves_tonight_is_not_in_doubt(
    tmp_path: Path, scenes: str, verdict: Verdict
) -> None:
    compiled = compile_mini(
        tmp_path,
        units="box: {channel: 3, switched by: {cc: 1, on: 127, off: 0}, time: {cc: 2, linear: 0 ms to 1270 ms}}",
        effects="a: box\nb: {box: {set: {time: 90 ms}}}",
        scenes=scenes,
    )
    scene = compiled.scene(compiled.songs[0], "On")
    (time,) = [one for one in scene.proved if one.quantity == "time"]
    assert time.verdict is verdict
    if verdict is Verdict.FREE:
        assert (time.why, time.reason) == ("nothing moves it tonight", "")
        assert time.cause is Cause.NONE
    assert [one.code for one in told(compiled)] == (
        ["stays-as-left"] if verdict is Verdict.UNKNOWN else []
    )


@pytest.mark.parametrize(("second", "found"), [("1", ["repeat-ignored"]), ("2", [])])
def test_one_program_with_two_names_is_one_program(
    tmp_path: Path, second: str, found: list[str]
) -> None:
    units = """
        box: {loop: 1, channel: 3, display: 0 to 9, programs: {warm: 1, other: SECOND},
          same program again: ignored, controls: {mix: {cc: 21}}}
    """
    compiled = compile_mini(
        tmp_path,
        units=units.replace("SECOND", second),
        effects="a: {box: warm}\nb: {box: {state: other, set: {mix: 80}}}",
        scenes="On: [a]\nOther: [b]",
    )
    assert [one.code for one in compiled.findings] == found


LOADS = """
box: {loop: 1, channel: 3, display: 0 to 9, programs: {warm: 1, thin: 2},
  same program again: ignored, controls: {mix: {cc: 21, linear: 0 to 127}}}
"""
EFFECTS = """
a: {box: warm}
b: {box: {state: warm, set: {mix: 80}}}
c: {box: {state: thin, set: {mix: 40}}}
"""


@pytest.mark.parametrize(
    ("scenes", "not_known", "left"),
    [
        pytest.param("On: [a]\nThin: [c]", 0, None, id="only the other program is moved"),
        pytest.param("On: [a]\nMoved: [b]", 1, "‘Moved’", id="its own program is moved"),
        pytest.param(
            "Thin: [c]\nOn: [a]\nMoved: [b]", 1, "‘Moved’", id="the other is moved before it"
        ),
    ],
)
def test_only_a_scene_with_the_same_program_leaves_it_changed(
    tmp_path: Path, scenes: str, not_known: int, left: str | None
) -> None:
    """A unit that ignores a repeat: another program, loaded in between, undoes the doubt."""
    compiled = compile_mini(tmp_path, units=LOADS, effects=EFFECTS, scenes=scenes)
    summary = proof(compiled)
    assert summary is not None
    assert summary.not_known == not_known
    assert [one.code for one in told(compiled)] == (["repeat-ignored"] if left else [])
    if left:
        assert f"after {left}" in told(compiled)[0].message
        assert "stays 80" in told(compiled)[0].message


@pytest.mark.parametrize(("slots", "full"), [(1, True), (2, False)])
def test_the_way_out_knows_whether_a_slot_is_left(tmp_path: Path, slots: int, full: bool) -> None:
    """The scene with the doubt sends one control: one slot is full, two leave one."""
    compiled = compile_mini(
        tmp_path,
        units="""
        far: {loop: 2, channel: 4, controls: {depth: {cc: 22, linear: 0 to 127}}}
        box: {loop: 1, channel: 3, controls: {mix: {cc: 21, linear: 0 to 127}}}
        """,
        effects="a: box\nb: {box: {set: {mix: 80}}}\nc: {far: {set: {depth: 5}}}",
        scenes="On: [a, c]\nMoved: [b]",
        switcher=BOARD.replace("controls: 9", f"controls: {slots}"),
    )
    (finding,) = [one for one in compiled.findings if one.code == "stays-as-left"]
    assert ("has no slot left for it (1 control in a preset)" in finding.help) is full


def test_explain_and_the_data_hold_the_verdict_that_was_proven(tmp_path: Path) -> None:
    """What a busy unit loses is not proven, wherever it is said."""
    units = """
        box: {loop: 1, channel: 3, display: 0 to 9, programs: {warm: 1},
          busy after program: 50 ms, controls: {mix: {cc: 21, linear: 0 % to 100 %}}}
    """
    night = write_night(
        tmp_path,
        units=units,
        effects="a: {box: {state: warm, set: {mix: 40 %}}}",
        scenes="On: [a]\nOff: {effects: []}",
    )
    words = ["explain", str(night), "Tune/On", "--format", "json"]
    said = json.loads(CliRunner().invoke(setwright, words).output)
    verdicts = {one["quantity"]: one["verdict"] for one in said["units"]}
    assert verdicts["program"] == "proven"
    assert verdicts["mix"] == "cannot be known"
    ended = CliRunner().invoke(setwright, ["explain", str(night), "Tune/On"])
    assert "comes while the unit is busy" in ended.output
