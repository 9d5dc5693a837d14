"""The night as data: how long songs last and when their scenes are pressed, in seconds."""

from __future__ import annotations

from pathlib import Path

import pytest

from setwright.compiler.outputs.collect import night_data
from tests.mini import compile_mini


@pytest.mark.parametrize(
    ("song", "order", "bars", "seconds", "moments"),
    [
        # A bar of 4/4 at 120 quarters lasts 4 · 60/120 = 2 s; AB has 16 bars, twice is 32.
        pytest.param(
            "meter: 4/4, tempo: quarter = 120, form: 'AB, 2 rounds'",
            "[On, {Off: round 2 A}, {On: bar 20}]",
            32,
            64.0,
            [(1, 0.0), (17, 32.0), (20, 38.0)],
            id="reel",
        ),
        # A bar of 6/8 has two dotted quarters: 2 · 60/112 = 1.0714285… s; 3 · 32 bars.
        pytest.param(
            "meter: 6/8, tempo: dotted quarter = 112, form: 'AABB, 3 rounds'",
            "[On, {Off: round 2 A}, {On: round 3 B}]",
            96,
            102.857143,
            [(1, 0.0), (33, 34.285714), (81, 85.714286)],
            id="jig",
        ),
        # The same jig with its eighths counted: 6 · 60/336 s a bar.
        pytest.param(
            "meter: 6/8, tempo: eighth = 336, form: 'AABB, 3 rounds'",
            "[On, {Off: round 2 A}]",
            96,
            102.857143,
            [(1, 0.0), (33, 34.285714)],
            id="eighths",
        ),
        # 3/4 at 90 quarters: 2 s a bar; a minute and a half is bar 46.
        pytest.param(
            "meter: 3/4, tempo: quarter = 90, form: 'AB, 4 rounds'",
            "[On, {Off: '1:30'}]",
            64,
            128.0,
            [(1, 0.0), (46, 90.0)],
            id="minutes and seconds",
        ),
        # Without meter and tempo only the clock is known.
        pytest.param(
            "lasts: '3:20'",
            "[{On: '0:10'}, {Off: '1:11'}]",
            None,
            200.0,
            [(None, 10.0), (None, 71.0)],
            id="clock alone",
        ),
        pytest.param(
            "meter: 4/4, form: 'AB, 2 rounds'",
            "[On, {Off: round 2 A}]",
            32,
            None,
            [(1, None), (17, None)],
            id="no tempo",
        ),
    ],
)
def test_bars_and_seconds_of_songs_and_presses(
    tmp_path: Path,
    song: str,
    order: str,
    bars: int | None,
    seconds: float | None,
    moments: list[tuple[int | None, float | None]],
) -> None:
    compiled = compile_mini(
        tmp_path,
        units="box: {loop: 1}",
        effects="a: box",
        songs=f"songs:\n- {{title: Tune, {song}, scenes: {{On: [a], Off: {{effects: []}}}}, "
        f"order: {order}}}\n",
    )
    late = ["begins-late"] if moments[0][1] else []
    assert [one.code for one in compiled.findings] == late
    (data,) = night_data(compiled).songs
    assert data.bars == bars
    assert data.seconds == seconds
    assert [(one.bar, one.seconds) for one in data.moments] == moments
