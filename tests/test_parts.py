"""Songs with words: parts by name, pickups, vamps, tempos that change; beside music21's account."""

from __future__ import annotations

from fractions import Fraction
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from setwright.compiler.outputs.build import output_files
from setwright.compiler.outputs.collect import night_data
from setwright.compiler.outputs.cues import sheet_of
from setwright.compiler.pipeline import compile_night
from setwright.compiler.reports.explain import explain
from setwright.compiler.reports.find import Found
from setwright.scenes.forms import AtPart, Vamp, parse_bars, parse_form, parse_position, parse_tempi
from setwright.scenes.musical_time import parse_meter, parse_notes, parse_tempo
from setwright.scenes.quantities import Slip
from setwright.scenes.shapes import Shape, Turn
from tests.mini import compile_mini, told, write_night

SONG = "intro verse chorus verse chorus bridge chorus 2×"

FORMS = [
    # as written, the parts, rounds, as printed
    (SONG, ["intro", "verse", "chorus", "verse", "chorus", "bridge", "chorus", "chorus"], 1, SONG),
    ("Intro Verse x2", ["Intro", "Verse", "Verse"], 1, "Intro Verse 2×"),
    ("verse, guitar solo, chorus 3x", ["verse", "guitar solo", *["chorus"] * 3], 1, "verse, guitar solo, chorus 3×"),
    ("verse chorus 2×, guitar solo, chorus", ["verse", "chorus", "chorus", "guitar solo", "chorus"], 1,
     "verse, chorus 2×, guitar solo, chorus"),
    ("V1 C V2 C", ["V1", "C", "V2", "C"], 1, "V1 C V2 C"),
    ("verse Verse VERSE", ["verse"] * 3, 1, "verse 3×"),
    ("verse chorus, 3 rounds", ["verse", "chorus"], 3, "verse chorus, 3 rounds"),
    ("vamp", ["vamp"], 1, "vamp"),
    ("AABA", ["A", "A", "B", "A"], 1, "AABA, 1 round"),
    ("a b c, 2 rounds", ["A", "B", "C"], 2, "ABC, 2 rounds"),
]  # fmt: skip


@pytest.mark.parametrize(("text", "parts", "rounds", "printed"), FORMS)
def test_forms(text: str, parts: list[str], rounds: int, printed: str) -> None:
    form = parse_form(text)
    assert (list(form.parts), form.rounds, str(form)) == (parts, rounds, printed)
    assert parse_form(str(form)).parts == form.parts


NO_FORMS = [
    "2×",
    "verse 0×",
    "verse, , chorus",
    "verse = chorus",
    "1 verse",
    ",verse",
    "A, B, 0 rounds",
]


@pytest.mark.parametrize("text", NO_FORMS)
def test_no_forms(text: str) -> None:
    with pytest.raises(Slip, match="is not a form"):
        parse_form(text)


SHAPE = Shape(
    parse_meter("4/4"),
    parse_tempo("quarter = 120"),
    parse_form(SONG),
    (("intro", 4), ("Verse", 16), ("bridge", 12)),
    Fraction(1, 4),
)
# Parts begin at 0, 4, 20, 28, 44, 52, 64 and 72 bars, and a quarter of a bar comes before.
PLACES = [
    ("pickup", 0),
    ("bar 1", Fraction(1, 4)),
    ("intro", Fraction(1, 4)),
    ("verse", 4 + Fraction(1, 4)),
    ("Chorus", 20 + Fraction(1, 4)),
    ("verse 2", 28 + Fraction(1, 4)),
    ("verse 2 bar 5", 32 + Fraction(1, 4)),
    ("verse 2 bar 5 beat 3", 32 + Fraction(3, 4)),
    ("round 1 chorus 2", 44 + Fraction(1, 4)),
    ("chorus 4", 72 + Fraction(1, 4)),
    ("bar 17 beat 3", 16 + Fraction(3, 4)),
    ("0:10", 5),
]


@pytest.mark.parametrize(("text", "bars"), PLACES)
def test_places(text: str, bars: Fraction) -> None:
    assert SHAPE.bar_of(parse_position(text)) == bars


def test_places_in_words() -> None:
    """A song of one round never says which."""
    assert str(SHAPE.position_at(Fraction(0))) == "pickup"
    assert str(SHAPE.position_at(44 + Fraction(1, 4))) == "chorus 2"
    assert str(SHAPE.position_at(45 + Fraction(1, 4))) == "bar 46"
    assert str(SHAPE.in_words(AtPart(1, "B", 2))) == "B2"
    tune = Shape(None, None, parse_form("AABB, 3 rounds"))
    assert str(tune.position_at(Fraction(40))) == "round 2 A2"


def test_parts_that_come_in_several_rounds_are_counted_through() -> None:
    shape = Shape(None, None, parse_form("verse chorus, 3 rounds"))
    assert shape.bar_of(parse_position("chorus 3")) == 40
    assert shape.bar_of(parse_position("round 3 chorus")) == 40
    assert shape.bar_of(parse_position("chorus 4")) is None


def test_names_with_numbers() -> None:
    shape = Shape(None, None, parse_form("V1 C V2 C"))
    assert shape.bar_of(parse_position("V2")) == 16
    assert shape.bar_of(parse_position("C2")) == 24
    assert shape.bar_of(parse_position("V3")) is None


VAMP = Shape(
    parse_meter("4/4"),
    parse_tempo("quarter = 120"),
    parse_form("intro vamp verse chorus"),
    (("vamp", None),),
)


@pytest.mark.parametrize(
    ("text", "bars"), [("intro", 0), ("vamp", 8), ("verse", None), ("bar 9", 8), ("bar 10", None)]
)
def test_behind_a_vamp_nothing_is_known(text: str, bars: int | None) -> None:
    assert VAMP.bar_of(parse_position(text)) == bars
    assert VAMP.bars_in_all is None
    assert VAMP.seconds_in_all is None
    assert VAMP.order_of(parse_position("verse")) == 16


def test_bars() -> None:
    assert parse_bars("16") == 16
    assert parse_bars("until the singer nods") == Vamp("the singer nods")
    for text in ("until", "Until ", "0", "some"):
        with pytest.raises(Slip):
            parse_bars(text)


@pytest.mark.parametrize(
    ("text", "of_whole", "name"),
    [
        ("quarter", "1/4", "quarter"),
        ("3 eighths", "3/8", "3 eighths"),
        ("1 eighth", "1/8", "1 eighth"),
        ("2 dotted eighths", "3/8", "2 dotted eighths"),
        ("dotted quarter", "3/8", "dotted quarter"),
    ],
)
def test_notes(text: str, of_whole: str, name: str) -> None:
    assert parse_notes(text) == (Fraction(of_whole), name)


@pytest.mark.parametrize(
    "text",
    [
        "quarter = 120",
        "free",
        "quarter = 120, quarter = 96 from bridge",
        "free, half = 60 from verse 2 bar 3, free from outro",
    ],
)
def test_tempos_read_back(text: str) -> None:
    assert str(parse_tempi(text)) == text


@pytest.mark.parametrize(
    ("text", "code"),
    [
        ("quarter = 120, 96 from bridge", "tempo-without-beat"),
        ("quarter = 120, quarter = 96", "tempo-without-place"),
        ("quarter = 120 from bridge", "no-first-tempo"),
        ("quarter = 120, quarter = 96 from = 3", "not-a-place"),
        ("loose", "tempo-without-beat"),
    ],
)
def test_no_tempos(text: str, code: str) -> None:
    with pytest.raises(Slip) as found:
        parse_tempi(text)
    assert found.value.code == code


# Beside another account: music21 (version 10) measures offsets in quarter lengths.


@settings(max_examples=40, deadline=None)
@given(
    st.sampled_from(["4/4", "3/4", "6/8", "2/2", "7/8"]),
    st.lists(st.integers(1, 9), min_size=1, max_size=5),
    st.sampled_from(["", "eighth", "quarter", "2 eighths"]),
    st.lists(
        st.tuples(st.integers(0, 30), st.integers(40, 200), st.sampled_from(["quarter", "half"])),
        min_size=1,
        max_size=4,
    ),
)
def test_beside_music21(
    meter: str, lengths: list[int], pickup: str, tempos: list[tuple[int, int, str]]
) -> None:
    """Each measure's offset, and its seconds by music21's map of tempos and durations."""
    music21 = pytest.importorskip("music21", reason="needs music21")
    stream = music21.stream.Part()
    before = parse_notes(pickup).of_whole if pickup else Fraction(0)
    bar = parse_meter(meter).bar
    if before >= bar:
        return
    if before:
        first = music21.stream.Measure(number=0)
        first.timeSignature = music21.meter.TimeSignature(meter)
        first.append(music21.note.Note(quarterLength=before * 4))
        stream.append(first)
    for number in range(1, sum(lengths) + 1):
        measure = music21.stream.Measure(number=number)
        if number == 1 and not before:
            measure.timeSignature = music21.meter.TimeSignature(meter)
        measure.append(music21.note.Note(quarterLength=bar * 4))
        stream.append(measure)
    names = [f"part{chr(97 + at)}" for at in range(len(lengths))]
    beat = {"quarter": 1, "half": 2}
    marks = {0: tempos[0]} | {
        at: (at, bpm, note) for at, bpm, note in tempos[1:] if 0 < at < sum(lengths)
    }
    for at, (_, bpm, note) in marks.items():
        offset = 0 if at == 0 else (before + at * bar) * 4
        mark = music21.tempo.MetronomeMark(
            number=bpm, referent=music21.note.Note(quarterLength=beat[note])
        )
        stream.insert(offset, mark)
    written = ", ".join(
        f"{note} = {bpm}" + (f" from bar {at + 1}" if at else "")
        for at, (_, bpm, note) in sorted(marks.items())
    )
    tempi = parse_tempi(written)
    base = Shape(
        parse_meter(meter),
        parse_tempo(str(tempi.first)),
        parse_form(" ".join([*names, "end"])),
        tuple(zip(names, lengths, strict=True)),
        before,
    )
    shape = base.with_turns(
        tuple(
            Turn(order, one.tempo)
            for one in tempi.later
            if (order := base.order_of(one.at)) is not None
        )
    )
    offsets = {
        measure.number: Fraction(measure.offset) / 4 / bar
        for measure in stream.getElementsByClass("Measure")
    }
    seconds = {
        row["element"].measureNumber: row["offsetSeconds"]
        for row in stream.flatten().secondsMap
        if "Note" in row["element"].classes
    }
    at = 1
    for name, length in zip(names, lengths, strict=True):
        place = parse_position(name)
        assert shape.bar_of(place) == offsets[at]
        assert shape.bar_of(parse_position(f"bar {at}")) == offsets[at]
        passed = shape.seconds_of_bars(offsets[at])
        assert passed is not None
        assert float(passed) == pytest.approx(seconds[at], abs=1e-6)
        back = shape.bars_of_seconds(passed)
        assert back == offsets[at]
        at += length


UNITS = """
squeezer: {loop: 1}
fuzz: {loop: 2}
delay:
  channel: 9
  switched by: {cc: 28, on: 127, off: 0}
  time: {cc: 20, linear: 0 ms to 1270 ms, at rest: 400 ms}
  acts only on: what is declared
"""
EFFECTS = "compression: squeezer\nlead: fuzz\necho: delay"
WORDS = """
songs:
- title: Tune
  meter: 4/4
  tempo: quarter = 120, quarter = 60 from bridge
  form: intro verse chorus bridge chorus
  bars: {intro: 4, verse: 8, chorus: 8, bridge: 2}
  pickup: quarter
  scenes:
    Soft: [compression]
    Loud: {effects: [compression, lead]}
    Far: {effects: [echo], echo: quarter}
    Slow: {effects: [echo], echo: eighth, tempo: quarter = 80}
  order:
  - Soft
  - Loud: chorus
  - Far: {at: bridge, guitar: 'steel, drop D'}
  - Slow: chorus 2
"""


def song(tmp_path: Path, text: str = WORDS):  # type: ignore[no-untyped-def]
    compiled = compile_mini(tmp_path, units=UNITS, effects=EFFECTS, songs=text)
    return compiled, night_data(compiled).songs[0]


def test_a_song_with_words(tmp_path: Path) -> None:
    compiled, tune = song(tmp_path)
    assert told(compiled) == []
    # A quarter of a bar, then 4, 8 and 8 bars of two seconds, two of four, and eight of three.
    assert [(one.place, one.bar, one.seconds) for one in tune.moments] == [
        ("the beginning", 0, 0.0),
        ("chorus", 13, 24.5),
        ("bridge", 21, 40.5),
        ("chorus 2", 23, 48.5),
    ]
    assert (tune.bars, tune.seconds) == (30.25, 72.5)
    assert [(one.where, one.tempo and one.tempo.bpm) for one in tune.turns] == [
        ("from bridge", 60.0),
        ("in Slow", 80.0),
    ]
    times = {
        name: next(w.value.asked.value for w in scene.wanted if w.quantity == "time")
        for name, scene in compiled.songs[0].scenes.items()
        if name in ("Far", "Slow")
    }
    assert times == {"Far": 1000, "Slow": 375}  # 60,000 ÷ 60, and half of 60,000 ÷ 80


def test_the_cue_sheet_of_a_song_with_words(tmp_path: Path) -> None:
    compiled, _ = song(tmp_path)
    (one,) = sheet_of(night_data(compiled)).sets[0].songs
    assert "quarter = 120" in one.facts
    assert "quarter = 60 from bridge" in one.facts
    assert [press.where for press in one.presses] == ["beginning", "chorus", "bridge", "chorus 2"]
    assert [press.guitar for press in one.presses] == ["", "", "steel, drop D", ""]
    html = output_files(compiled).files["cue-sheet.html"].decode()
    assert "guitar: <bdi>steel, drop D</bdi>" in html
    assert "round 1" not in html


def test_tonights_tempo_changes_all_in_proportion(tmp_path: Path) -> None:
    night = write_night(tmp_path, units=UNITS, effects=EFFECTS, songs=WORDS)
    text = night.read_text(encoding="utf-8")
    night.write_text(
        text.replace("[Tune]", "[{song: Tune, tempo: quarter = 60}]"), encoding="utf-8"
    )
    compiled = compile_night(night)
    tune = night_data(compiled).songs[0]  # type: ignore[arg-type]
    assert [one.tempo and one.tempo.bpm for one in tune.turns] == [30.0, 40.0]
    assert tune.seconds == 145.0


def test_midi_files_of_a_song_with_words(tmp_path: Path) -> None:
    mido = pytest.importorskip("mido")
    compiled, _ = song(tmp_path)
    path = tmp_path / "tune.mid"
    files = output_files(compiled).files
    path.write_bytes(next(data for name, data in files.items() if name.startswith("direct/1-01")))
    track = mido.MidiFile(path).tracks[0]
    at, found = 0, []
    for message in track:
        at += message.time
        if message.type == "time_signature":
            found.append((at, f"{message.numerator}/{message.denominator}"))
        elif message.type == "set_tempo":
            found.append((at, mido.tempo2bpm(message.tempo)))
        elif message.type == "marker":
            found.append((at, message.text))
    bar = 4 * 480
    assert found == [
        (0, "1/4"),
        (0, 120),
        (0, "Soft"),
        (480, "4/4"),
        (480 + 12 * bar, "Loud"),
        (480 + 20 * bar, 60),
        (480 + 20 * bar, "Far"),
        (480 + 22 * bar, 80),
        (480 + 22 * bar, "Slow"),
    ]
    assert mido.MidiFile(path).length == pytest.approx(72.5, abs=0.01)


VAMPS = """
songs:
- title: Tune
  meter: 4/4
  tempo: quarter = 120
  form: intro vamp verse outro
  bars: {intro: 4, vamp: until the singer nods}
  scenes:
    Soft: [compression]
    Loud: [compression, lead]
  order:
  - Soft
  - Loud: verse
  - Soft: outro
"""


def test_a_vamp_says_what_ends_it_and_no_time_after_it(tmp_path: Path) -> None:
    compiled, tune = song(tmp_path, VAMPS)
    assert told(compiled) == []
    assert [(one.place, one.bars, one.seconds, one.cue) for one in tune.moments] == [
        ("the beginning", 0, 0, ""),
        ("verse", None, None, "the singer nods"),
        ("outro", None, None, ""),
    ]
    assert (tune.bars, tune.seconds) == (None, None)
    assert tune.form == "intro vamp verse outro; vamp until the singer nods"
    (one,) = sheet_of(night_data(compiled)).sets[0].songs
    assert [(press.where, press.assumed) for press in one.presses] == [
        ("beginning", False),
        ("verse", False),
        ("outro", False),
    ]
    lines = list(
        explain(compiled, Found(compiled.songs[0], compiled.scene(compiled.songs[0], "Loud")))
    )
    assert "  pressed at verse; cue: the singer nods" in lines


SLIPS = [
    # what is exchanged in WORDS, what is found, at which words
    (
        "tempo: quarter = 120, quarter = 60 from bridge",
        "tempo: free",
        "time-not-reached",
        "quarter",
    ),
    ("from bridge", "from brige", "no-such-part", "brige"),
    ("Loud: chorus", "Loud: chorus 3", "no-such-part", "chorus 3"),
    ("Loud: chorus", "Loud: chorus bar 9", "beyond-part", "chorus bar 9"),
    ("verse: 8", "vers: 8", "no-such-part", "vers"),
    ("pickup: quarter", "pickup: whole", "pickup-too-long", "whole"),
    ("  meter: 4/4\n", "", "pickup-without-meter", "quarter"),
    ("bridge: 2", "bridge: until", "vamp-without-cue", "until"),
    ("tempo: quarter = 80", "tempo: slow", "tempo-without-beat", "slow"),
]


@pytest.mark.parametrize(("old", "new", "code", "text"), SLIPS)
def test_one_slip_is_one_finding(old: str, new: str, code: str, text: str, tmp_path: Path) -> None:
    assert WORDS.count(old) == 1
    night = write_night(tmp_path, units=UNITS, effects=EFFECTS, songs=WORDS.replace(old, new))
    found = [one for one in told(compile_night(night)) if one.code != "order-out-of-time"]
    assert [one.code for one in found] == [code], [one.message for one in found]
    place = found[0].place
    assert place.source.line(place.line)[place.column - 1 : place.end_column - 1] == text


def test_one_echo_at_two_tempos(tmp_path: Path) -> None:
    """A preset holds one delay time, and the scene is heard at two tempos."""
    text = WORDS.replace("- Slow: chorus 2", "- Far: chorus").replace(
        "    Slow: {effects: [echo], echo: eighth, tempo: quarter = 80}\n", ""
    )
    night = write_night(tmp_path, units=UNITS, effects=EFFECTS, songs=text)
    found = [one for one in told(compile_night(night)) if one.code != "order-out-of-time"]
    assert [one.code for one in found] == ["echo-at-two-tempos"]


MISSPELT = [
    # what is exchanged in the form, the text that is pointed at
    ("intro verse chorus bridge chorus", "intro vrese chorus bridge chorus", "vrese"),
    ("intro verse chorus bridge chorus", "intro verse chorus brigde chorus", "brigde"),
    ("intro verse chorus bridge chorus", "inttro verse chorus bridge chorus", "inttro"),
]


@pytest.mark.parametrize(("old", "new", "text"), MISSPELT)
def test_a_slip_in_the_form_is_found_there(old: str, new: str, text: str, tmp_path: Path) -> None:
    """What places and bars name tells which part of the form is misspelt."""
    night = write_night(tmp_path, units=UNITS, effects=EFFECTS, songs=WORDS.replace(old, new))
    (found,) = [one for one in told(compile_night(night)) if one.code != "order-out-of-time"]
    place = found.place
    underlined = place.source.line(place.line)[place.column - 1 : place.end_column - 1]
    assert (found.code, underlined) == ("no-such-part", text)


def test_a_form_that_lacks_several_parts_is_one_slip(tmp_path: Path) -> None:
    text = WORDS.replace("form: intro verse chorus bridge chorus", "form: head tutti")
    night = write_night(tmp_path, units=UNITS, effects=EFFECTS, songs=text)
    found = [one for one in told(compile_night(night)) if one.code == "no-such-part"]
    assert len(found) == 1
