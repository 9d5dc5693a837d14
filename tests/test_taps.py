"""Delays that only a foot can set: what it taps at which press, and what stays as it was tapped."""

from __future__ import annotations

from fractions import Fraction
from io import BytesIO
from pathlib import Path

import mido
import pytest
from click.testing import CliRunner

from setwright.compiler.binding.states import Verdict
from setwright.compiler.binding.target import Tap
from setwright.compiler.cli import main as setwright
from setwright.compiler.compiled import Compiled
from setwright.compiler.outputs.collect import night_data
from setwright.compiler.outputs.cues import sheet_of
from setwright.compiler.outputs.midi_file import midi_files
from setwright.compiler.reports.summary import proof
from setwright.scenes.musical_time import parse_note_value, parse_tempo
from tests.mini import quantity, told, write_night
from tests.nights import whole

UNITS = """
squeezer: {loop: 1}
echo: {loop: 2, tempo from: tap}
"""
EFFECTS = "compression: squeezer\nlong echo: echo"


# Worked out by hand: a quarter at dotted quarter = 112 lasts 2/3 of 60,000 ÷ 112 = 357.14 ms,
# which comes 168 times a minute.
@pytest.mark.parametrize(
    ("note", "ms", "tempo", "words"),
    [
        (None, None, "quarter = 132", "tap quarter = 132"),
        (None, None, "dotted quarter = 112.5", "tap dotted quarter = 112.5"),
        (None, None, None, "tap the beat"),
        ("quarter", Fraction(60_000, 168), "dotted quarter = 112", "tap quarter = 168"),
        (
            "dotted quarter",
            Fraction(60_000, 112),
            "dotted quarter = 112",
            "tap dotted quarter = 112",
        ),
        ("dotted eighth", Fraction(375), "quarter = 120", "tap dotted eighth = 160"),
        ("triplet quarter", Fraction(400), "quarter = 100", "tap triplet quarter = 150"),
        # 60,000 ÷ 350 is 171.4, 60,000 ÷ 487.5 is 123.1.
        (None, Fraction(350), "quarter = 100", "tap 350 ms (171 a minute)"),
        (None, Fraction("487.5"), None, "tap 487.5 ms (123 a minute)"),
    ],
)
def test_what_is_tapped(
    note: str | None, ms: Fraction | None, tempo: str | None, words: str
) -> None:
    tap = Tap(parse_note_value(note) if note else None, ms)
    assert tap.at(parse_tempo(tempo) if tempo else None) == words


def night(
    tmp_path: Path, songs: str, play: str = "[One]", rig: str = "", units: str = UNITS
) -> Compiled:
    path = write_night(tmp_path, units=units, effects=EFFECTS, songs=songs, rig=rig)
    text = path.read_text(encoding="utf-8").replace("[Tune]", play)
    path.write_text(text, encoding="utf-8")
    return whole(path)


def song(title: str, tempo: str, scenes: str, order: str = "", more: str = "") -> str:
    order = f"  order: [{order}]\n" if order else ""
    said = f"  tempo: {tempo}\n" if tempo else ""
    return f"- title: {title}\n{said}  form: AB, 4 rounds\n{more}  scenes: {{{scenes}}}\n{order}"


def feet(compiled: Compiled) -> list[list[list[str]]]:
    """Return what the foot does: for each song, at each moment."""
    return [[[str(one) for one in moves] for moves in song.feet] for song in compiled.songs]


DRY = "Dry: {effects: [compression]}"
WET = "Wet: {effects: [long echo]}"
FAR = "Far: {effects: [long echo], echo: dotted eighth}"
MS = "Fixed: {effects: [long echo], echo: 350 ms}"


@pytest.mark.parametrize(
    ("scenes", "order", "moves"),
    [
        pytest.param([DRY, WET], "Dry, Wet", [[], ["echo tap quarter = 120"]], id="the beat"),
        pytest.param([DRY, FAR], "Dry, Far", [[], ["echo tap dotted eighth = 160"]], id="an echo"),
        pytest.param([MS], "Fixed", [["echo tap 350 ms (171 a minute)"]], id="milliseconds"),
        pytest.param(
            [DRY, WET, FAR],
            "Wet, Dry, Wet, Far, Dry, Far, Wet",
            [
                ["echo tap quarter = 120"],
                [],
                [],
                ["echo tap dotted eighth = 160"],
                [],
                [],
                ["echo tap quarter = 120"],
            ],
            id="only where it is another",
        ),
        pytest.param(
            [WET, "Beat: {effects: [long echo], echo: quarter}"],
            "Wet, Beat",
            [["echo tap quarter = 120"], []],
            id="the echo is the beat",
        ),
    ],
)
def test_the_moments_of_a_song(
    tmp_path: Path, scenes: list[str], order: str, moves: list[list[str]]
) -> None:
    songs = "songs:\n" + song("One", "quarter = 120", ", ".join(scenes), order)
    compiled = night(tmp_path, songs)
    assert told(compiled) == []
    assert feet(compiled) == [moves]


def test_an_echo_of_the_song_is_tapped(tmp_path: Path) -> None:
    songs = "songs:\n" + song("One", "quarter = 120", WET, "Wet", "  echo: eighth\n")
    assert feet(night(tmp_path, songs)) == [[["echo tap eighth = 240"]]]


def test_a_song_at_another_tempo_tonight(tmp_path: Path) -> None:
    songs = "songs:\n" + song("One", "quarter = 120", f"{WET}, {FAR}", "Wet, Far")
    compiled = night(tmp_path, songs, "[One, {song: One, tempo: quarter = 90}]")
    assert feet(compiled) == [
        [["echo tap quarter = 120"], ["echo tap dotted eighth = 160"]],
        [["echo tap quarter = 90"], ["echo tap dotted eighth = 120"]],
    ]


def test_without_a_tempo_the_beat_is_tapped_as_it_comes(tmp_path: Path) -> None:
    compiled = night(tmp_path, "songs:\n" + song("One", "", WET, "Wet"))
    assert feet(compiled) == [[["echo tap the beat"]]]


def test_an_echo_that_needs_a_tempo_is_found(tmp_path: Path) -> None:
    compiled = night(tmp_path, "songs:\n" + song("One", "", FAR, "Far"))
    assert [one.code for one in told(compiled)] == ["time-not-reached"]
    assert feet(compiled) == [[[]]]


@pytest.mark.parametrize(
    ("play", "moves"),
    [
        pytest.param("[One, straight into: Two]", [], id="straight on"),
        pytest.param("[One, Two]", ["echo tap quarter = 120"], id="who knows what was before"),
        pytest.param(
            "[One]\n- play: [straight into: Two]", ["echo tap quarter = 120"], id="after a break"
        ),
        pytest.param(
            "[One, straight into: Slow, straight into: Two]",
            ["echo tap quarter = 120"],
            id="another between",
        ),
        pytest.param(
            "[One, straight into: Dry, straight into: Two]", [], id="one that does not use it"
        ),
        pytest.param(
            "[One, straight into: Free, straight into: Two]",
            ["echo tap quarter = 120"],
            id="one that is pressed as one likes",
        ),
    ],
)
def test_from_song_to_song(tmp_path: Path, play: str, moves: list[str]) -> None:
    songs = "songs:\n" + "".join(
        [
            song("One", "quarter = 120", WET, "Wet"),
            song("Two", "quarter = 120", WET, "Wet"),
            song("Slow", "quarter = 60", WET, "Wet"),
            song("Dry", "quarter = 60", DRY, "Dry"),
            song("Free", "quarter = 120", WET),
        ]
    )
    compiled = night(tmp_path, songs, play)
    assert [one for one in told(compiled) if one.code != "unplayed"] == []
    last = next(one for one in compiled.songs if one.song.title == "Two")
    assert [[str(one) for one in some] for some in last.feet] == [moves]


def test_the_verdict_and_the_proof(tmp_path: Path) -> None:
    songs = "songs:\n" + song("One", "quarter = 120", f"{DRY}, {FAR}", "Dry, Far")
    compiled = night(tmp_path, songs)
    time = quantity(compiled.songs[0].scenes["Far"], "echo", "time")
    assert time.verdict is Verdict.FEET
    assert quantity(compiled.songs[0].scenes["Dry"], "echo", "time").verdict is Verdict.FREE
    told = proof(compiled)
    assert told is not None
    assert (told.feet, told.not_known) == (1, 0)


@pytest.mark.parametrize(
    "said",
    [
        "tap: {cc: 93}, channel: 9, acts only on: what is declared",
        "time: {cc: 20, linear: 20 ms to 1800 ms, at rest: 400 ms}, channel: 9",
    ],
)
def test_no_message_taps(tmp_path: Path, said: str) -> None:
    songs = "songs:\n" + song("One", "quarter = 120", FAR, "Far")
    units = UNITS.replace("tempo from: tap", f"tempo from: tap, {said}")
    compiled = night(tmp_path, songs, units=units)
    assert feet(compiled) == [[["echo tap dotted eighth = 160"]]]
    (scene,) = compiled.scenes.values()
    assert scene.lowered.direct.commands == ()


def test_a_time_that_the_rig_asks_for_is_tapped(tmp_path: Path) -> None:
    units = UNITS.replace("tap}", "tap, channel: 9, time: {cc: 20, linear: 20 ms to 1800 ms}}")
    path = write_night(
        tmp_path,
        units=units,
        effects="slap echo: {echo: {set: {time: 118 ms}}}",
        songs="songs:\n"
        + song("Tune", "quarter = 120", "Slap: {effects: [slap echo]}", "Slap", "  echo: eighth\n"),
    )
    assert feet(whole(path)) == [[["echo tap 118 ms (508 a minute)"]]]


def test_it_stands_in_everything_that_is_printed(tmp_path: Path) -> None:
    songs = "songs:\n" + song("One", "quarter = 120", f"{DRY}, {FAR}", "Dry, Far")
    compiled = night(tmp_path, songs)
    data = night_data(compiled)
    (card,) = sheet_of(data).sets[0].songs
    assert [press.feet for press in card.presses] == [(), ("echo tap dotted eighth = 160",)]
    units = data.scene("One", "Far").units
    assert [(one.value, one.verdict) for one in units if one.quantity == "time"] == [
        ("tap dotted eighth = 160", "proven if feet and start are as printed")
    ]
    output = CliRunner().invoke(setwright, ["explain", str(tmp_path / "night.yaml"), "One/Far"])
    assert "; foot: echo tap dotted eighth = 160\n" in output.output
    assert "  time: tap dotted eighth = 160, a dotted eighth at the song's tempo\n" in output.output


def test_a_song_without_an_order(tmp_path: Path) -> None:
    """Its scenes are pressed as one likes, so each says what to tap."""
    songs = "songs:\n" + song("One", "quarter = 120", f"{FAR}, {DRY}, {FAR.replace('Far', 'On')}")
    data = night_data(night(tmp_path, songs))
    (card,) = sheet_of(data).sets[0].songs
    assert [(one.scene, one.feet) for one in card.presses] == [
        ("Far", ("echo tap dotted eighth = 160",)),
        ("Dry", ()),
        ("On", ("echo tap dotted eighth = 160",)),
    ]


@pytest.mark.parametrize("general", [False, True])
def test_scenes_that_no_moment_presses(tmp_path: Path, general: bool) -> None:
    """The tap stands beside the scene to choose, for nobody knows when it comes."""
    rig = f"general: {{{FAR}, {DRY}}}\n" if general else ""
    own = "" if general else f"{FAR}, {DRY}"
    songs = "songs:\n" + song("One", "quarter = 120", own, "" if general else "Dry")
    data = night_data(night(tmp_path, songs, rig=rig))
    (card,) = sheet_of(data).sets[0].songs
    assert [(one.scene, one.feet) for one in card.choices if one.scene == "Far"] == [
        ("Far", ("echo tap dotted eighth = 160",)),
    ]
    output = CliRunner().invoke(setwright, ["explain", str(tmp_path / "night.yaml"), "One/Far"])
    assert "  when it is pressed; foot: echo tap dotted eighth = 160\n" in output.output


def test_midi_files_say_it(tmp_path: Path) -> None:
    units = UNITS + "barn: {channel: 5, controls: {size: {cc: 30, at rest: 64}}}\n"
    songs = "songs:\n" + song("One", "quarter = 120", f"{FAR}, {DRY}", "Far, Dry")
    songs += song("Two", "quarter = 90", "")
    rig = f"general: {{{WET}}}\nmidi:\n- [switcher, barn]\n"
    data = night_data(night(tmp_path, songs, "[One, Two]", rig, units))
    said = {}
    for name, file in midi_files(data).items():
        read = mido.MidiFile(file=BytesIO(file))
        said[name] = [one.text for one in read.tracks[0] if one.type == "text"]
    assert "foot: echo tap dotted eighth = 160" in said["direct/1-01-one.mid"]
    assert "foot: echo tap quarter = 90" in said["direct/1-02-two.mid"]
