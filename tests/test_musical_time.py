"""Tempo, notes, meters, forms and places."""

from __future__ import annotations

from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from setwright.scenes.forms import (
    AtBar,
    AtPart,
    AtPickup,
    AtTime,
    Form,
    Position,
    parse_form,
    parse_position,
)
from setwright.scenes.musical_time import (
    Meter,
    NoteValue,
    parse_meter,
    parse_note_value,
    parse_tempo,
)
from setwright.scenes.quantities import Slip
from setwright.scenes.shapes import Shape

JIG = Shape(parse_meter("6/8"), parse_tempo("dotted quarter = 112"), parse_form("AABB, 3 rounds"))


@pytest.mark.parametrize(
    ("text", "of_whole"),
    [
        ("quarter", Fraction(1, 4)),
        ("dotted quarter", Fraction(3, 8)),
        ("Dotted Eighth note", Fraction(3, 16)),
        ("triplet quarter", Fraction(1, 6)),
        ("1/8", Fraction(1, 8)),
        ("dotted 1/8", Fraction(3, 16)),
        ("thirty-second", Fraction(1, 32)),
        ("whole", Fraction(1)),
        ("half", Fraction(1, 2)),
        ("eighth", Fraction(1, 8)),
        ("sixteenth", Fraction(1, 16)),
        ("1/1", Fraction(1)),
        ("1/2", Fraction(1, 2)),
        ("1/4", Fraction(1, 4)),
        ("1/16", Fraction(1, 16)),
        ("1/32", Fraction(1, 32)),
        ("triplet half", Fraction(1, 3)),
    ],
)
def test_note_values(text: str, of_whole: Fraction) -> None:
    assert parse_note_value(text).of_whole == of_whole


def test_a_delay_of_one_beat_lasts_60000_by_bpm() -> None:
    """60000 ÷ BPM ms where the BPM counts that beat: common practice, no source."""
    for text in ("quarter = 120", "dotted quarter = 112", "half = 60"):
        tempo = parse_tempo(text)
        assert tempo.milliseconds(tempo.beat) == 60_000 / tempo.bpm


def test_tempo_in_quarters() -> None:
    """RP-001 (Standard MIDI Files 1.0) counts tempo in quarter notes, whatever the beat."""
    assert parse_tempo("dotted quarter = 112").quarters_per_minute == 168
    assert parse_tempo("half = 60").quarters_per_minute == 120


@pytest.mark.parametrize(
    ("text", "code", "way_out"),
    [
        ("112", "tempo-without-beat", "dotted quarter = 112"),
        ("fast", "tempo-without-beat", "quarter = 120"),
        ("quarter = 0", "tempo-out-of-range", "10 to 500"),
        ("quarter = -20", "tempo-out-of-range", "10 to 500"),
        ("quarter = 1e999", "not-a-number", "beats per minute"),
        ("quarter = " + "9" * 5000, "not-a-number", "beats per minute"),
        ("crooked = 100", "not-a-note-value", "dotted eighth"),
    ],
)
def test_tempos_refused(text: str, code: str, way_out: str) -> None:
    with pytest.raises(Slip) as caught:
        parse_tempo(text)
    assert caught.value.code == code
    assert way_out in caught.value.way_out


@pytest.mark.parametrize("text", ["", "quarters", "dotted", "triplet dotted quarter", "1/3", "0"])
def test_no_note_values(text: str) -> None:
    with pytest.raises(Slip):
        parse_note_value(text)


def test_meters_and_forms() -> None:
    assert parse_meter("6/8") == Meter(6, 8)
    assert parse_meter("6/8").bar == Fraction(3, 4)
    assert parse_form("aabb, 3 rounds") == Form(("A", "A", "B", "B"), 3)
    assert parse_form("AABBCC") == Form(tuple("AABBCC"), 1, rounds_said=False)
    assert str(parse_form("AABB, 1 round")) == "AABB, 1 round"
    for text in ("6", "0/4", "33/8", "4/3", "4/64"):
        with pytest.raises(Slip, match="not a meter"):
            parse_meter(text)
    for text in ("", "AABB, 0 rounds", "AABB, 201 rounds", "AABB 3", "AA|BB", "2× A"):
        with pytest.raises(Slip, match="not a form"):
            parse_form(text)


@pytest.mark.parametrize(
    ("text", "position", "bars"),
    [
        ("round 1", AtPart(1, ""), 0),
        ("round 2 A", AtPart(2, "A"), 32),
        ("round 2 a2", AtPart(2, "A", 2), 40),
        ("Round 3 B", AtPart(3, "B"), 80),
        ("round 3 B 2", AtPart(3, "B", 2), 88),
        ("bar 17", AtBar(17), 16),
        ("bar 17 beat 4", AtBar(17, 4), Fraction(33, 2)),
        ("0:00", AtTime(Fraction(0)), 0),
    ],
)
def test_positions(text: str, position: Position, bars: Fraction) -> None:
    assert parse_position(text) == position
    assert JIG.bar_of(position) == bars


@pytest.mark.parametrize(
    "text", ["round 0 A", "bar 0", "round A", "bar A", "round 2 A0", "12", "a = b"]
)
def test_no_positions(text: str) -> None:
    with pytest.raises(Slip, match="not a place"):
        parse_position(text)


def test_lengths() -> None:
    # 96 bars of two dotted quarters at 112 a minute.
    assert JIG.bars_in_all == 96
    assert JIG.seconds_in_all == Fraction(96 * 2 * 60, 112)
    assert JIG.bar_of(AtPart(1, "C")) is None
    assert JIG.bar_of(AtPart(1, "A", 3)) is None
    uneven = Shape(JIG.meter, JIG.tempo, parse_form("ABA, 2 rounds"), (("B", 16),))
    assert [int(bar) for bar in uneven.part_starts] == [0, 8, 24, 32, 40, 56]
    assert uneven.bar_of(AtPart(2, "A", 2)) == 56
    nothing = Shape(None, None, None)
    assert nothing.bars_in_all is None
    assert nothing.bar_of(AtTime(Fraction(5))) is None
    assert nothing.seconds_of_bars(Fraction(5)) is None


POSITIONS = st.one_of(
    st.builds(
        AtPart,
        st.integers(1, 999),
        st.sampled_from("ABCZ"),
        st.integers(1, 99),
        st.integers(1, 999),
        st.integers(1, 99),
    ),
    st.builds(
        AtPart,
        st.just(0),
        st.sampled_from(["A2", "V1", "chorus", "chorus 2", "Guitar Solo", "pré-refrain"]),
        st.just(1),
        st.integers(1, 99),
        st.integers(1, 99),
    ),
    st.just(AtPickup()),
    st.builds(AtBar, st.integers(1, 9999), st.integers(1, 99)),
    st.builds(AtTime, st.integers(0, 999 * 60).map(Fraction)),
)


@given(POSITIONS)
def test_positions_read_back(position: Position) -> None:
    assert parse_position(str(position)) == position


@given(st.fractions(10, 500, max_denominator=10), st.sampled_from(["quarter", "dotted eighth"]))
def test_tempos_read_back(bpm: Fraction, beat: str) -> None:
    tempo = parse_tempo(f"{beat} = {float(bpm):.3f}")
    assert parse_tempo(str(tempo)) == tempo
    assert tempo.milliseconds(NoteValue(Fraction(1, 4), "quarter")) > 0
