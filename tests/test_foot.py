"""What a song says of the foot, and which unit it means."""

from __future__ import annotations

from pathlib import Path

import pytest

from setwright.compiler.binding.states import Verdict
from setwright.compiler.pipeline import compile_night
from setwright.scenes.finding import Severity
from tests.corpus import underlined
from tests.mini import write_night
from tests.nights import whole


@pytest.mark.parametrize(
    ("foot", "rig", "without", "found"),
    [
        pytest.param("swell open", "", (), None, id="as declared"),
        pytest.param("swel open", "", (), ("unknown-unit", "‘swell’"), id="misspelt"),
        pytest.param("swell opem", "", (), ("unknown-state", "‘open’"), id="position misspelt"),
        pytest.param("swell", "", (), ("unknown-state", ""), id="no position"),
        pytest.param("one open", "", (), ("unknown-unit", ""), id="no foot works it"),
        pytest.param("pedal down", "", (), ("unknown-unit", "swell"), id="not in this rig"),
        pytest.param("pedal down", "instead of: {pedal: nothing}\n", (), None, id="excused"),
        pytest.param(
            "pedal", "instead of: {pedal: nothing}\n", (), None, id="excused by name alone"
        ),
        pytest.param(
            "pedal down",
            "instead of: {lever: nothing}\n",
            (),
            ("unknown-unit", "swell"),
            id="another is excused",
        ),
        pytest.param(
            "swell open",
            "instead of: {swell: nothing}\n",
            ("swell",),
            None,
            id="missing tonight, and excused",
        ),
    ],
)
def test_what_the_foot_is_to_do(
    tmp_path: Path, foot: str, rig: str, without: tuple[str, ...], found: tuple[str, str] | None
) -> None:
    night = write_night(
        tmp_path,
        units="swell: {by foot: [closed, open], at start: closed}\none: {loop: 1}",
        effects="a: one",
        songs=f"""
        songs:
        - title: Tune
          scenes: {{A: [a]}}
          order: [A: {{foot: {foot}}}]
        """,
        rig=rig,
    )
    findings = compile_night(night, frozenset(without)).findings
    if found is None:
        assert [one.message for one in findings] == []
        return
    (one,) = findings
    assert (one.code, underlined(one)) == (found[0], foot)
    assert found[1] in one.help


def test_an_unknown_unit_has_a_way_out_though_another_is_known(tmp_path: Path) -> None:
    night = write_night(
        tmp_path,
        units="swell: {by foot: [closed, open], at start: open}\nbox: {loop: 1}",
        effects="near: box",
        songs="""
        songs:
        - title: Tune
          scenes: {A: [near]}
          order:
          - A: {foot: pedal open}
        """,
    )
    (finding,) = whole(night).findings
    assert finding.code == "unknown-unit"
    assert finding.help == (
        "declare it with by foot:; or, if this rig does without, write instead of: "
        "{pedal: nothing} in the rig (known here: swell)"
    )
    # What it says clears the finding.
    rig = tmp_path / "rig.yaml"
    rig.write_text(rig.read_text("utf-8") + "\ninstead of: {pedal: nothing}\n", "utf-8")
    assert whole(night).findings == []


def test_a_unit_that_many_songs_ask_for_is_one_finding(tmp_path: Path) -> None:
    night = write_night(
        tmp_path,
        units="swell: {by foot: [closed, open], at start: open}\nbox: {loop: 1}",
        effects="near: box",
        songs="""
        songs:
        - title: Tune
          form: AB, 2 rounds
          scenes: {A: [near], B: [near]}
          order:
          - A: {foot: lever down}
          - B: {at: round 2 A, foot: lever up}
        """,
    )
    (finding,) = whole(night).findings
    assert finding.message == "this rig has nothing called ‘lever’ that a foot works (2 times)"
    assert len(finding.related) == 1


def test_a_unit_that_is_missing_tonight_is_one_note_however_many_songs_move_it(
    tmp_path: Path,
) -> None:
    night = write_night(
        tmp_path,
        units="swell: {by foot: [closed, open], at start: open}\nbox: {loop: 1}",
        effects="near: box",
        songs="""
        songs:
        - title: Tune
          form: AB, 2 rounds
          scenes: {A: [near], B: [near]}
          order:
          - A: {foot: swell closed}
          - B: {at: round 2 A, foot: swell open}
        """,
    )
    (finding,) = whole(night, frozenset({"swell"})).findings
    assert (finding.code, finding.severity, underlined(finding)) == (
        "foot-without-unit",
        Severity.NOTE,
        "swell",
    )
    assert "in 2 moments" in finding.message
    assert len(finding.related) == 2


@pytest.mark.parametrize(
    ("said", "order", "verdict"),
    [
        # Once before the first printed move, once with it: before it nobody knows.
        pytest.param("", "[A, B, A: {foot: swell open}]", Verdict.FREE, id="not known once"),
        pytest.param("", "[A: {foot: swell open}, B, A]", Verdict.FEET, id="known each time"),
        pytest.param(
            ", at start: closed", "[A, B, A: {foot: swell open}]", Verdict.FEET, id="said"
        ),
    ],
)
def test_a_position_that_nobody_says_is_not_promised(
    tmp_path: Path, said: str, order: str, verdict: Verdict
) -> None:
    night = write_night(
        tmp_path,
        units=f"swell: {{by foot: [closed, open]{said}}}\none: {{loop: 1}}",
        effects="a: one",
        songs=f"""
        songs:
        - title: Tune
          scenes: {{A: [a], B: []}}
          order: {order}
        """,
    )
    scene = whole(night).songs[0].scenes["A"]
    (foot,) = [one for one in scene.wanted if one.quantity == "foot"]
    assert foot.verdict is verdict
