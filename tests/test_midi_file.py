"""MIDI files: read again by readers of other hands, event by event, and compared with the night.

RP-001 is Standard MIDI Files 1.0; RP-019 its program and device names. Three readers serve:
midicsv (a Debian package), mido, and one of our own here, written after RP-001 and sharing
nothing with the writer.
"""

from __future__ import annotations

import csv
import hashlib
import shutil
import subprocess
import sys
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from fractions import Fraction
from functools import cache
from io import BytesIO, StringIO
from itertools import groupby, pairwise
from math import ceil
from pathlib import Path

import mido
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from setwright.compiler.outputs.collect import night_data
from setwright.compiler.outputs.data import (
    MomentData,
    NightData,
    SetData,
    SightData,
    SongData,
    SwitcherData,
    TempoData,
    UnitUse,
)
from setwright.compiler.outputs.midi_file import midi_files
from setwright.compiler.outputs.names import ascii_text
from setwright.compiler.outputs.plain import FootData, PlaceData
from setwright.compiler.outputs.sent import MessageData, PresetData, RouteData, SceneData
from setwright.compiler.outputs.tunes import music_of
from tests.conftest import DEMO
from tests.mini import write_night
from tests.nights import whole

NIGHTS = ("granary", "parlour")


# A reader of our own


@dataclass(frozen=True)
class Event:
    """One event: where its delta time begins in the file, its track (from 0) and tick.

    ``status`` is in full even where the file leaves it out; ``kind`` is a meta event's type, or
    None; ``raw`` are all its bytes with the delta time.
    """

    offset: int
    track: int
    tick: int
    status: int
    kind: int | None
    data: bytes
    raw: bytes


def number_at(file: bytes, at: int) -> tuple[int, int]:
    """Return the variable-length quantity at ``at``, and where it ends: RP-001."""
    value = 0
    for length in range(1, 5):
        value = value << 7 | file[at + length - 1] & 0x7F
        if file[at + length - 1] < 0x80:
            return value, at + length
    raise AssertionError(f"a quantity of more than four bytes at {at}")


def chunks(file: bytes) -> Iterator[tuple[bytes, int, int]]:
    """Yield every chunk: its type, where its content begins, and where it ends."""
    at = 0
    while at < len(file):
        size = int.from_bytes(file[at + 4 : at + 8])
        yield file[at : at + 4], at + 8, at + 8 + size
        at += 8 + size
    assert at == len(file)


def events(file: bytes) -> list[Event]:
    """Return the events of all tracks in the order of the file."""
    result = []
    kinds = [kind for kind, _, _ in chunks(file)]
    assert kinds == [b"MThd"] + [b"MTrk"] * (len(kinds) - 1)
    for track, (_, begin, end) in enumerate(list(chunks(file))[1:]):
        at, tick, running = begin, 0, 0
        while at < end:
            offset = at
            delta, at = number_at(file, at)
            tick += delta
            status = file[at]
            if status >= 0x80:
                at += 1
            else:
                status = running
            kind = None
            if status == 0xFF:
                kind = file[at]
                size, at = number_at(file, at + 1)
                running = 0
            else:
                assert 0x80 <= status < 0xF0, f"status {status:02X} at {offset}"
                size = 1 if status & 0xE0 == 0xC0 else 2
                running = status
            data = file[at : at + size]
            at += size
            result.append(Event(offset, track, tick, status, kind, data, file[offset:at]))
        assert at == end
        assert result[-1].kind == END
        assert sum(one.kind == END for one in result if one.track == track) == 1
    return result


TEXT, NAME, MARKER, CUE, PROGRAM_NAME, DEVICE_NAME = 1, 3, 6, 7, 8, 9
END, TEMPO, METER = 0x2F, 0x51, 0x58


def header(file: bytes) -> tuple[int, int, int]:
    """Return format, number of tracks, and ticks in a quarter note."""
    assert file[:8] == b"MThd\0\0\0\x06"
    first, second, third = (int.from_bytes(file[at : at + 2]) for at in (8, 10, 12))
    assert second == len(list(chunks(file))) - 1
    return first, second, third


def merged(file: bytes) -> list[Event]:
    """Return the events as a player meets them: tick by tick, within a tick track by track."""
    return sorted(events(file), key=lambda one: one.tick)


def sent(file: bytes) -> list[tuple[int, bytes]]:
    """Return all channel messages as a player meets them, with their ticks."""
    return [(one.tick, bytes((one.status, *one.data))) for one in merged(file) if one.kind is None]


def texts(file: bytes, kind: int, track: int = 0) -> list[tuple[int, str]]:
    return [
        (one.tick, one.data.decode())
        for one in events(file)
        if (one.kind, one.track) == (kind, track)
    ]


def seconds_at(file: bytes, tick: int) -> Fraction:
    """Return when ``tick`` comes, by the file's own tempo map; RP-001's 120 before any."""
    ppq = header(file)[2]
    now, tempo, seconds = 0, 500_000, Fraction(0)
    for one in events(file):
        if one.kind != TEMPO or one.tick >= tick:
            continue
        assert one.track == 0
        seconds += Fraction((one.tick - now) * tempo, ppq * 1_000_000)
        now, tempo = one.tick, int.from_bytes(one.data)
    return seconds + Fraction((tick - now) * tempo, ppq * 1_000_000)


# RP-001 itself: its table and its two worked examples, read and written byte for byte.

QUANTITIES = {
    0x00: "00",
    0x40: "40",
    0x7F: "7F",
    0x80: "81 00",
    0x2000: "C0 00",
    0x3FFF: "FF 7F",
    0x4000: "81 80 00",
    0x100000: "C0 80 00",
    0x1FFFFF: "FF FF 7F",
    0x200000: "81 80 80 00",
    0x8000000: "C0 80 80 00",
    0xFFFFFFF: "FF FF FF 7F",
}
EXAMPLE_0 = bytes.fromhex(
    "4D546864 00000006 0000 0001 0060 4D54726B 0000003B 00FF580404021808 00FF510307A120 00C005 "
    "00C12E 00C246 00923060 003C60 60914340 60904C20 8140823040 003C40 00814340 00804C40 00FF2F00"
)
EXAMPLE_1 = bytes.fromhex(
    "4D546864 00000006 0001 0004 0060 4D54726B 00000014 00FF580404021808 00FF510307A120 8300FF2F00 "
    "4D54726B 00000010 00C005 8140904C20 81404C00 00FF2F00 4D54726B 0000000F 00C12E 60914340 "
    "82204300 00FF2F00 4D54726B 00000015 00C246 00923060 003C60 83003000 003C00 00FF2F00"
)


@pytest.mark.parametrize(("number", "spelt"), QUANTITIES.items())
def test_variable_length_quantities(number: int, spelt: str) -> None:
    """RP-001, the table of variable-length quantities; written through mido, as our files are."""
    file = saved(mido.MidiFile(tracks=[[mido.MetaMessage("text", text="x", time=number)]]))
    written = bytes.fromhex(spelt)
    ((_, begin, _),) = list(chunks(file))[1:]
    assert file[begin:].startswith(written + b"\xff\x01\x01x")
    assert number_at(written, 0) == (number, len(written))
    (message, _) = mido.MidiFile(file=BytesIO(file)).tracks[0]
    assert message.time == number


def saved(file: mido.MidiFile) -> bytes:
    out = BytesIO()
    file.save(file=out)
    return out.getvalue()


@pytest.mark.parametrize(
    ("example", "size", "digest"),
    [(EXAMPLE_0, 81, "9c512dc6fc73b8be"), (EXAMPLE_1, 118, "83ba1f523c7d4591")],
)
def test_worked_examples(example: bytes, size: int, digest: str) -> None:
    """RP-001, the example in format 0 and in format 1: programs 5, 46, 70 on channels 1, 2, 3."""
    assert (len(example), hashlib.sha256(example).hexdigest()[:16]) == (size, digest)
    assert saved(mido.MidiFile(file=BytesIO(example))) == example
    programs = [one for _, one in sent(example) if one[0] & 0xF0 == 0xC0]
    assert programs == [bytes((0xC0, 5)), bytes((0xC1, 46)), bytes((0xC2, 70))]
    last = max(one.tick for one in events(example))
    assert [header(example)[2], last, seconds_at(example, last)] == [96, 384, 2]
    assert mido.MidiFile(file=BytesIO(example)).length == pytest.approx(2.0)


# The readers read the demo


@cache
def demo(night: str) -> NightData:
    compiled = whole(DEMO / f"{night}-night.yaml")
    assert compiled.findings == []
    return night_data(compiled)


@cache
def demo_files(night: str) -> dict[str, bytes]:
    return midi_files(demo(night))


def test_a_file_for_each_song_and_set_and_route() -> None:
    names = list(demo_files("granary"))
    assert len(names) == len(set(names)) == 2 * (27 + 2 + 1)
    for route in ("stored", "direct"):
        mine = [name for name in names if name.startswith(f"{route}/")]
        assert mine[0] == f"{route}/1-01-haste-to-the-wedding.mid"
        assert f"{route}/0-01-the-lark-in-the-morning.mid" in mine
        assert mine[-3:] == [
            f"{route}/set-1-before-soup.mid",
            f"{route}/set-2-after-soup.mid",
            f"{route}/general.mid",
        ]


def songs_of(data: NightData, name: str) -> list[SongData]:
    """Return the songs that a file holds, found by its name alone."""
    stem = name.partition("/")[2].removesuffix(".mid")
    if stem == "general":
        return []
    if stem.startswith("set-"):
        one = data.sets[int(stem.split("-")[1]) - 1]
        return [song for number in one.songs for song in data.songs if song.number == number]
    group, place = (int(part) for part in stem.split("-")[:2])
    if not group:
        return [[song for song in data.songs if not song.number][place - 1]]
    number = data.sets[group - 1].songs[place - 1]
    return [song for song in data.songs if song.number == number]


@dataclass(frozen=True)
class Expected:
    """A song within a file, worked out from the night's data apart from the writer.

    ``speed`` is quarter notes a minute, ``bar`` a bar in ticks; presses are (tick, marker,
    scene, whether anything is sent).
    """

    song: SongData
    start: int
    speed: Fraction
    bar: int
    presses: tuple[tuple[int, str, SceneData, bool], ...]


def nearest(value: Fraction) -> int:
    return int(value + Fraction(1, 2))


def expected_songs(data: NightData, name: str) -> Iterator[Expected]:
    start, before = 0, 0
    for song in songs_of(data, name):
        meter = song.meter
        assert meter is not None
        beats, unit = map(int, meter.split("/"))
        assert song.tempo is not None
        speed = Fraction(str(song.tempo.quarters_per_minute))
        bar = beats * 4 * 480 // unit
        start += 0 if song.straight_into else 2 * before
        yield Expected(song, start, speed, bar, tuple(expected_presses(data, song, speed, bar)))
        if song.bars is not None:
            bars = ceil(song.bars)
        else:
            assert song.seconds is not None
            bars = ceil(Fraction(str(song.seconds)) * speed * 8 / bar)
        start, before = start + bars * bar, bar


def expected_presses(
    data: NightData, song: SongData, speed: Fraction, bar: int
) -> Iterator[tuple[int, str, SceneData, bool]]:
    if song.general:
        yield 0, song.scenes[0], data.scene(song.owner, song.scenes[0]), True
        return
    for moment in song.moments:
        if moment.bars is not None:
            tick = nearest(Fraction(str(moment.bars)) * bar)
        else:
            assert moment.seconds is not None
            tick = nearest(Fraction(str(moment.seconds)) * speed * 8)
        remarks = ["stay"] * moment.stay + ["assumed"] * (moment.assumed and tick > 0)
        marker = f"{moment.scene} ({', '.join(remarks)})" if remarks else moment.scene
        yield tick, marker, data.scene(song.owner, moment.scene), not moment.stay


def route_of(name: str, scene: SceneData) -> RouteData:
    if name.startswith("direct/"):
        return scene.direct
    assert scene.recall is not None
    return scene.recall


Row = tuple[int, int, str, tuple[str, ...]]
"""Track (from 1), tick, midicsv's word for the event, and what follows it."""


def read_by_midicsv(path: Path) -> list[Row]:
    ended = subprocess.run(["midicsv", path], capture_output=True, check=True)
    assert ended.stderr == b""
    rows = csv.reader(StringIO(ended.stdout.decode("latin-1")), skipinitialspace=True)
    return [(int(row[0]), int(row[1]), row[2], tuple(row[3:])) for row in rows]


@pytest.mark.skipif(shutil.which("midicsv") is None, reason="midicsv is not installed")
@pytest.mark.parametrize("night", NIGHTS)
def test_midicsv_reads_what_the_night_says(night: str, tmp_path: Path) -> None:
    """Every event of every file, as a reader of other hands finds it."""
    data = demo(night)
    path = tmp_path / "one.mid"
    for name, file in demo_files(night).items():
        path.write_bytes(file)
        rows = read_by_midicsv(path)
        boxes = [unit.unit for unit in data.units] if "direct" in name else [data.switcher.name]
        assert rows[0] == (0, 0, "Header", ("1", str(1 + len(boxes)), "480"))
        assert rows[-1] == (0, 0, "End_of_file", ())
        by_track = [list(some) for _, some in groupby(rows[1:-1], key=lambda row: row[0])]
        assert [some[0][:3] for some in by_track] == [
            (track, 0, "Start_track") for track in range(1, len(boxes) + 2)
        ]
        ends = {some[-1][1:] for some in by_track}
        assert len(ends) == 1, name
        assert next(iter(ends))[1:] == ("End_track", ())
        if name.endswith("/general.mid"):
            songs = []
        else:
            songs = list(expected_songs(data, name))
            first = [row[1:] for row in by_track[0][2:-1]]
            assert first == list(first_track(name, songs)), name
        for track, (box, some) in enumerate(zip(boxes, by_track[1:], strict=True), 2):
            device = tuple(map(str, (9, len(box), *box.encode())))
            assert some[1:3] == [
                (track, 0, "Title_t", (box,)),
                (track, 0, "Unknown_meta_event", device),
            ]
        messages = sorted(
            (row[1], row[0], index, row[2], tuple(map(int, row[3])))
            for index, row in enumerate(rows)
            if row[2] in {"Program_c", "Control_c"}
        )
        seen = [(tick, boxes[track - 2], word, data) for tick, track, _, word, data in messages]
        compare_messages(name, songs or [through(data)], seen, data.switcher.name)


def first_track(name: str, songs: list[Expected]) -> Iterator[tuple[int, str, tuple[str, ...]]]:
    """Yield what the first track holds between its title and its end."""
    for one in songs:
        if "/set-" in name:
            title = f"{one.song.number}. {ascii_text(one.song.title)}"
            yield one.start, "Marker_t", (title,)
        assert one.song.meter is not None
        assert one.song.tempo is not None
        beats, unit = map(int, one.song.meter.split("/"))
        click = {"quarter": 24, "dotted quarter": 36, "half": 48}[one.song.tempo.beat]
        signature = (beats, unit.bit_length() - 1, click, 8)
        yield one.start, "Time_signature", tuple(map(str, signature))
        yield one.start, "Tempo", (str(nearest(60_000_000 / one.speed)),)
        if one.song.general:
            names = ", ".join(one.song.scenes)
            yield one.start, "Text_t", (f"general scenes, as you like: {names}",)
        moments: list[MomentData | None] = [*one.song.moments] or [None]
        for (tick, marker, _, _), moment in zip(one.presses, moments, strict=True):
            yield one.start + tick, "Marker_t", (marker,)
            if moment is not None and moment.cue:
                yield one.start + tick, "Cue_point_t", (moment.cue,)
            if moment is not None and moment.feet:
                yield one.start + tick, "Text_t", (f"foot: {', '.join(map(str, moment.feet))}",)


def through(data: NightData) -> Expected:
    """Return what ``general.mid`` holds: the general scenes, a bar each, in 4/4 at 120."""
    scenes = [scene for scene in data.scenes if scene.song is None]
    presses = tuple((n * 1920, one.scene, one, True) for n, one in enumerate(scenes))
    return Expected(data.songs[0], 0, Fraction(120), 1920, presses)


def compare_messages(
    name: str,
    songs: list[Expected],
    seen: list[tuple[int, str, str, tuple[int, ...]]],
    switcher: str,
) -> None:
    """Compare what a reader saw with the night, message by message, in the order of sending."""
    waiting = iter(seen)
    for one in songs:
        for tick, _, scene, sends in one.presses:
            for index, message in enumerate(route_of(name, scene).messages if sends else ()):
                at, box, word, numbers = next(waiting)
                assert word == {"program": "Program_c", "control": "Control_c"}[message.kind]
                assert numbers == (
                    message.channel - 1,
                    message.number,
                    *(() if message.value is None else (message.value,)),
                )
                assert box == (switcher if message.unit == "switcher" else message.unit)
                late = at - one.start - tick
                assert late >= 0 if index else late == 0
                # A tick at most to be whole, one for each message before it on another track;
                # a program is with its bank select instead, 0.96 ms sooner for each.
                wire = Fraction(str(message.starts_ms)) * one.speed * 480 / 60_000
                if message.kind == "program":
                    assert wire - 2 * Fraction(96, 100) * one.speed * 480 / 60_000 <= late
                else:
                    assert wire <= late
                assert late <= wire + 1 + index
    assert list(waiting) == []


@pytest.mark.parametrize("night", NIGHTS)
def test_mido_and_our_own_reader_agree(night: str) -> None:
    """Ticks too, though mido forgets the delta time of meta events that it does not know."""
    for name, file in demo_files(night).items():
        read = mido.MidiFile(file=BytesIO(file))
        assert header(file) == (read.type, len(read.tracks), read.ticks_per_beat), name
        assert (read.type, read.ticks_per_beat) == (1, 480)
        theirs = []
        for number, track in enumerate(read.tracks):
            tick = 0
            for message in track:
                tick += message.time
                theirs.append((number, tick, bytes(message.bytes())))
        ours = [(one.track, one.tick, without_time(one)) for one in events(file)]
        assert theirs == ours, name


def without_time(event: Event) -> bytes:
    """Return an event's bytes without delta time and running status."""
    if event.kind is None:
        return bytes((event.status, *event.data))
    return bytes((0xFF, event.kind, len(event.data), *event.data))


TEXTS = {TEXT, NAME, MARKER, CUE, PROGRAM_NAME, DEVICE_NAME}


@pytest.mark.parametrize("night", NIGHTS)
def test_every_file_keeps_the_rules(night: str) -> None:
    for name, file in demo_files(night).items():
        found = events(file)
        # Nothing but programs, controls and these meta events: no F0 and no F7, no FF 21.
        assert {one.status & 0xF0 for one in found if one.kind is None} <= {0xB0, 0xC0}, name
        assert {one.kind for one in found} <= {None, *TEXTS, END, TEMPO, METER}, name
        for one in found:
            if one.kind in TEXTS:
                assert one.data.isascii(), name
                assert one.data.decode().isprintable(), name
            # The tempo map is in the first track (RP-001), which needs no channel.
            if one.track == 0:
                assert one.kind not in {None, PROGRAM_NAME, DEVICE_NAME}, name
            else:
                assert one.kind not in {TEMPO, METER, MARKER, CUE}, name
        for number in range(header(file)[1]):
            track = [one for one in found if one.track == number]
            assert [one.kind for one in track].count(NAME) == 1, name
            assert (track[0].kind, track[0].tick) == (NAME, 0), name
            if number:
                keeps_to_rp_019(track)


def keeps_to_rp_019(track: list[Event]) -> None:
    """RP-019: the device's name once, before anything that can be sent; programs' names."""
    assert [one.kind for one in track].count(DEVICE_NAME) == 1
    assert (track[1].kind, track[1].tick) == (DEVICE_NAME, 0)
    for before, after in pairwise(track):
        if before.kind == PROGRAM_NAME:
            assert after.tick == before.tick
            assert is_bank(after) or after.status & 0xF0 == 0xC0
        if after.status & 0xF0 == 0xC0:
            assert after.tick == before.tick
            assert is_bank(before) or before.kind == PROGRAM_NAME
        if is_bank(after):
            assert is_bank(before) or before.kind == PROGRAM_NAME


def is_bank(event: Event) -> bool:
    """Tell whether this is a bank select: control 0 or 32."""
    return event.kind is None and event.status & 0xF0 == 0xB0 and event.data[0] in {0, 32}


@pytest.mark.parametrize("night", NIGHTS)
def test_no_tick_is_shared_by_two_boxes(night: str) -> None:
    """Readers merge the tracks of a tick in an order of their own, so none may matter."""
    for name, file in demo_files(night).items():
        messages = [one for one in merged(file) if one.kind is None]
        for _, some in groupby(messages, key=lambda one: one.tick):
            assert len({one.track for one in some}) == 1, name


@pytest.mark.parametrize("night", NIGHTS)
def test_files_last_as_long_as_the_songs(night: str) -> None:
    """By our own reader: tempo map and total time, to the rounding of FF 51 to whole µs."""
    data = demo(night)
    for name, file in demo_files(night).items():
        if name.endswith("/general.mid"):
            continue
        songs = list(expected_songs(data, name))
        last = events(file)[-1].tick
        assert seconds_at(file, last) == pytest.approx(mido.MidiFile(file=BytesIO(file)).length)
        for one, following in pairwise(songs):
            assert one.song.seconds is not None
            took = seconds_at(file, following.start) - seconds_at(file, one.start)
            gap = 0 if following.song.straight_into else 2 * one.bar
            rest = Fraction(gap * 60, 480) / one.speed
            assert float(took - rest) == pytest.approx(one.song.seconds, rel=3e-6)
        (end, song) = (songs[-1].start, songs[-1].song)
        assert song.seconds is not None
        played = seconds_at(file, last) - seconds_at(file, end)
        assert float(played) == pytest.approx(song.seconds, rel=3e-6)


def test_the_same_night_gives_the_same_bytes() -> None:
    again = midi_files(night_data(whole(DEMO / "granary-night.yaml")))
    assert again == demo_files("granary")
    # Also where sets and dicts are hashed otherwise.
    code = (
        "import hashlib, pathlib\n"
        "from setwright.compiler.outputs.collect import night_data\n"
        "from setwright.compiler.outputs.midi_file import midi_files\n"
        "from setwright.compiler.pipeline import compile_night\n"
        f"night = compile_night(pathlib.Path({str(DEMO / 'granary-night.yaml')!r}))\n"
        "print(hashlib.sha256(b''.join(midi_files(night_data(night)).values())).hexdigest())\n"
    )
    ended = subprocess.run(
        [sys.executable, "-c", code],
        capture_output=True,
        encoding="utf-8",
        check=True,
        env={"PYTHONHASHSEED": "77"},
    )
    everything = b"".join(demo_files("granary").values())
    assert ended.stdout.strip() == hashlib.sha256(everything).hexdigest()


# Single matters, on nights made for them


def message(
    unit: str, sets: str, encoded: str, starts: float = 0.0, name: str = "", busy: float = 0.0
) -> MessageData:
    data = bytes.fromhex(encoded)
    return MessageData(
        unit=unit,
        sets=sets,
        kind="program" if len(data) == 2 else "control",
        channel=(data[0] & 0x0F) + 1,
        number=data[1],
        value=data[2] if len(data) > 2 else None,
        hex=data.hex(" "),
        meaning=f"load {name or data[1]}",
        name=name or str(data[1]) if len(data) == 2 else None,
        shown=None,
        asked=None,
        given=None,
        starts_ms=starts,
        ends_ms=starts + 0.32 * len(data),
        busy_ms=busy,
    )


def route(*messages: MessageData) -> RouteData:
    return RouteData(messages=messages, bytes=0, bytes_running=0, ms=0, ms_running=0, sound_ms=0)


def place(bank: int, switch: int) -> PlaceData:
    return PlaceData(bank=bank, switch=switch, bank_shown=str(bank), switch_shown=str(switch))


def scene(
    name: str,
    *direct: MessageData,
    song: str | None = "Tune",
    switch: int | None = None,
    recall: bool = True,
) -> SceneData:
    """Return a scene in the first bank, recalled by a program."""
    number = switch or 1
    load = message("switcher", "program", f"cf {number - 1:02x}", 0, f"bank 1, switch {number}")
    return SceneData(
        song=song,
        scene=name,
        effects=(),
        replaced=(),
        place=place(1, switch) if switch else None,
        units=(),
        recall=route(load) if recall and switch else None,
        stored=route(*direct),
        direct=route(*direct),
    )


def moment(
    name: str,
    bars: float | None = None,
    seconds: float | None = None,
    *,
    cue: str = "",
    feet: tuple[FootData, ...] = (),
    assumed: bool = False,
) -> MomentData:
    return MomentData(
        scene=name,
        position=None,
        place=None,
        bar=None,
        bars=bars,
        seconds=seconds,
        assumed=assumed,
        cue=cue,
        feet=feet,
        stay=False,
        press="press",
    )


def song(
    *moments: MomentData,
    title: str = "Tune",
    number: int = 1,
    meter: str | None = "4/4",
    tempo: tuple[str, float, float] | None = ("quarter", 120, 120),
    bars: int | None = 8,
    seconds: float | None = None,
    straight_into: bool = False,
    general: bool = False,
    scenes: tuple[str, ...] | None = None,
) -> SongData:
    beat, bpm, quarters = tempo or ("", 0, 0)
    return SongData(
        number=number,
        title=title,
        id=title,
        key=None,
        meter=meter,
        tempo=TempoData(beat=beat, bpm=bpm, quarters_per_minute=quarters) if tempo else None,
        form=None,
        guitar="",
        note="",
        straight_into=straight_into,
        general=general,
        bars=bars,
        seconds=seconds,
        scenes=tuple(dict.fromkeys(one.scene for one in moments)) if scenes is None else scenes,
        moments=moments,
        owner=None if general else title,
        called=f"{number} {title}" if number else f"if asked {title}",
        time=min(number, 1),
        begins_late=False,
        feet_first=(),
        feet_after=(),
    )


def night(
    songs: list[SongData],
    scenes: list[SceneData],
    sets: list[tuple[str, tuple[int, ...]]] | None = None,
    units: tuple[str, ...] = ("wobbler", "echo"),
) -> NightData:
    places = {one.place.switch: one.scene for one in scenes if one.place is not None}
    return NightData(
        night="Test",
        date="",
        note="",
        rig="Test",
        state="2222",
        sight=SightData(
            eyes_above_cm=160,
            ahead_cm=80,
            faces_you=False,
            cue_mm=12.8,
            title_mm=11.6,
            rest_mm=9.3,
        ),
        switcher=SwitcherData(
            name="board",
            banks="1 to 10",
            switches="1 to 5",
            bank_count=10,
            switch_count=5,
            first_bank=1,
            last_bank=10,
            recall_channel=16,
            kept={},
            loops=4,
            loop_units={},
            relay_units={},
            holds_programs=4,
            holds_controls=4,
            holds_on_leaving=0,
            bank_moves_by="up and down",
            bank_moves_load=False,
            bank_moves_load_switch="same switch",
            same_switch_again="sends again",
            at_power_up="unknown",
            first_of_all=None,
            loops_per_preset=False,
            volume_loop_after=None,
        ),
        feet={},
        feet_at_start={},
        set_by_hand=(),
        sender="switcher",
        units=tuple(UnitUse(unit=unit, channel=None, display=None) for unit in units),
        sets=tuple(
            SetData(name=name, at_most_seconds=None, note="", songs=numbers)
            for name, numbers in sets or []
        ),
        songs=tuple(songs),
        scenes=tuple(scenes),
        presets=tuple(
            PresetData(
                place=place(1, switch),
                name=name,
                loops=(),
                loop_units=(),
                relays=(),
                programs=(),
                controls=(),
                scenes=(),
            )
            for switch, name in places.items()
        ),
    )


ON = message("echo", "switch", "b8 1c 7f")
OFF = message("echo", "switch", "b8 1c 00")


def one_song(data: NightData, route: str = "direct", **options: bool) -> bytes:
    """Return the file of the night's first song, kept for requests or in no set."""
    files = midi_files(data, **options)
    return next(file for name, file in files.items() if name.startswith(f"{route}/0-01-"))


# Meter and tempo


def meta(file: bytes, kind: int) -> list[tuple[int, str]]:
    return [(one.tick, one.raw.hex(" ").upper()) for one in events(file) if one.kind == kind]


def test_the_bytes_of_meter_and_tempo() -> None:
    """RP-001: 6/8 with a click on the dotted quarter, 120 quarter notes a minute."""
    tune = song(moment("A", 0), meter="6/8", tempo=("dotted quarter", 80, 120))
    file = one_song(night([tune], [scene("A", ON)]))
    assert meta(file, METER) == [(0, "00 FF 58 04 06 03 24 08")]
    assert meta(file, TEMPO) == [(0, "00 FF 51 03 07 A1 20")]


def test_what_a_song_does_not_say_is_as_in_files_without_it() -> None:
    """RP-001: without time signature and tempo, 4/4 and 120 quarter notes a minute."""
    tune = song(moment("A", 0), moment("A", None, 10.0), meter=None, tempo=None, bars=None)
    file = one_song(night([tune], [scene("A", ON)]))
    assert meta(file, METER) == [(0, "00 FF 58 04 04 02 18 08")]
    assert meta(file, TEMPO) == [(0, "00 FF 51 03 07 A1 20")]
    assert texts(file, TEXT) == [
        (0, "no tempo is given: quarter = 120 is assumed"),
        (0, "no meter is given: 4/4 is assumed"),
    ]
    # Ten seconds are twenty quarter notes.
    assert texts(file, MARKER) == [(0, "A"), (20 * 480, "A")]


@pytest.mark.parametrize(
    ("meter", "beat", "bar", "click"),
    [
        ("4/4", "quarter", 1920, 24),
        ("2/2", "half", 1920, 48),
        ("2/2", None, 1920, 48),
        ("2/2", "quarter", 1920, 24),
        ("3/4", "quarter", 1440, 24),
        ("3/4", "dotted half", 1440, 72),
        ("6/8", "dotted quarter", 1440, 36),
        ("6/8", "eighth", 1440, 12),
        ("6/8", None, 1440, 36),
        ("9/8", None, 2160, 36),
        ("12/8", "dotted quarter", 2880, 36),
        ("3/8", None, 720, 12),
        ("7/8", "quarter", 1680, 12),
        ("5/4", None, 2400, 24),
        ("6/16", None, 720, 18),
        ("4/4", "dotted quarter", 1920, 24),
        ("3/32", "dotted thirty-second", 180, 3),
        ("32/1", None, 61_440, 96),
        (None, None, 1920, 24),
    ],
)
def test_bars_and_clicks(meter: str | None, beat: str | None, bar: int, click: int) -> None:
    """The metronome clicks as the tempo counts, where that divides the bar."""
    tempo = TempoData(beat=beat, bpm=100, quarters_per_minute=100) if beat else None
    music = music_of(meter, tempo)
    assert (music.bar, music.click) == (bar, click)
    tune = song(moment("A", 1), meter=meter, tempo=(beat, 100, 100) if beat else None)
    file = one_song(night([tune], [scene("A", ON)]))
    (one,) = (one for one in events(file) if one.kind == METER)
    beats, unit = map(int, (meter or "4/4").split("/"))
    assert tuple(one.data) == (beats, unit.bit_length() - 1, click, 8)
    assert texts(file, MARKER) == [(bar, "A")]


@pytest.mark.parametrize(
    ("speed", "microseconds"),
    [
        (120, 500_000),
        (208, 288_462),
        (216, 277_778),
        (174, 344_828),
        (54, 1_111_111),
        (3000, 20_000),
    ],
)
def test_tempo_is_rounded_to_whole_microseconds(speed: float, microseconds: int) -> None:
    file = one_song(
        night([song(moment("A", 0), tempo=("quarter", speed, speed))], [scene("A", ON)])
    )
    ((_, spelt),) = meta(file, TEMPO)
    assert bytes.fromhex(spelt)[4:] == microseconds.to_bytes(3)


def test_a_tempo_too_slow_for_a_file_is_the_slowest_there_is() -> None:
    """FF 51 has 24 bits of microseconds: 3.6 quarter notes a minute."""
    slow = ("thirty-second", 10, 1.25)
    file = one_song(night([song(moment("A", 1), tempo=slow)], [scene("A", ON)]))
    assert meta(file, TEMPO) == [(0, "00 FF 51 03 FF FF FF")]
    assert texts(file, MARKER) == [(1920, "A")]


METERS = ("4/4", "6/8", "9/8", "2/2", "7/8", "32/32", "3/1", "5/16")


@given(st.sampled_from(METERS), st.integers(0, 2000), st.integers(0, 31))
def test_every_beat_of_a_bar_has_a_tick_of_its_own(meter: str, bar: int, beat: int) -> None:
    """Exactly, although bars are rounded to six places in the night's data."""
    music = music_of(meter, None)
    beats, unit = map(int, meter.split("/"))
    beat %= beats
    bars = round(float(bar + Fraction(beat, beats)), 6)
    assert music.bars(bars) == bar * music.bar + beat * 1920 // unit


@given(st.floats(4, 3000), st.floats(0, 7200), st.integers(0, 5_000_000))
def test_times_become_the_nearest_tick_and_delays_the_next(
    speed: float, seconds: float, microseconds: int
) -> None:
    music = music_of("4/4", TempoData(beat="quarter", bpm=speed, quarters_per_minute=speed))
    ticks_a_second = Fraction(speed) * 480 / 60
    assert abs(music.seconds(seconds) - Fraction(seconds) * ticks_a_second) <= Fraction(501, 1000)
    # By the tempo as the file has it, in whole µs (RP-001, FF 51).
    late = Fraction(music.ticks(microseconds) * music.microseconds, 480) - microseconds
    assert 0 <= late < Fraction(music.microseconds, 480)


# Places


def test_places_are_bars_or_seconds_or_one_bar_on() -> None:
    tune = song(
        moment("A", 0, 0),
        moment("B", 2.5, None),
        moment("C", None, 9.0, assumed=True),
        moment("D", None, None, assumed=True),
        moment("E", None, None, assumed=True),
        bars=None,
    )
    scenes = [scene(name, ON) for name in "ABCDE"]
    file = one_song(night([tune], scenes))
    assert texts(file, MARKER) == [
        (0, "A"),
        (4800, "B"),
        (18 * 480, "C (assumed)"),
        (18 * 480 + 1920, "D (assumed)"),
        (18 * 480 + 2 * 1920, "E (assumed)"),
    ]
    # Of a song whose length nobody knows, the last event is the end.
    assert {one.tick for one in events(file) if one.kind == END} == {18 * 480 + 2 * 1920}


def test_presses_that_are_listed_out_of_order_come_in_the_order_of_time() -> None:
    tune = song(moment("A", 0), moment("B", 6), moment("A", 2))
    data = night([tune], [scene("A", OFF, switch=1), scene("B", ON, switch=2)])
    for route in ("stored", "direct"):
        file = one_song(data, route)
        assert texts(file, MARKER) == [(0, "A"), (3840, "A (stay)"), (11_520, "B")]
        assert [tick for tick, _ in sent(file)] == [0, 11_520]


@pytest.mark.parametrize(
    ("bars", "seconds", "last", "end"),
    [
        (8, None, 2.0, 8 * 1920),
        (8, 99.0, 2.0, 8 * 1920),
        (None, 20.0, 2.0, 40 * 480),
        (None, None, 2.0, 2 * 1920 + 2),
        (8, None, 8.0, 8 * 1920 + 2),
        (8, None, 11.0, 11 * 1920 + 2),
    ],
)
def test_all_tracks_end_with_the_song_or_its_last_event(
    bars: int | None, seconds: float | None, last: float, end: int
) -> None:
    tune = song(moment("A", last), bars=bars, seconds=seconds)
    late = scene("A", ON, message("echo", "mix", "b8 15 10", 1.92))
    file = one_song(night([tune], [late]))
    assert [one.tick for one in events(file) if one.kind == END] == [end] * 2


def test_stays_send_nothing_and_keep_their_marker() -> None:
    tune = song(
        moment("A", 0),
        moment("A", 1, cue="fiddle comes in"),
        moment("B", 2),
        moment(
            "Like B",
            3,
            feet=(
                FootData(unit="swell", position="open"),
                FootData(unit="boost", position="resting"),
            ),
        ),
        moment("A", 4),
    )
    scenes = [
        scene("A", OFF, switch=1),
        scene("B", ON, switch=2),
        scene("Like B", ON, switch=2),
    ]
    for route in ("stored", "direct"):
        file = one_song(night([tune], scenes), route)
        assert texts(file, MARKER) == [
            (0, "A"),
            (1920, "A (stay)"),
            (3840, "B"),
            (5760, "Like B (stay)"),
            (7680, "A"),
        ]
        assert texts(file, CUE) == [(1920, "fiddle comes in")]
        assert texts(file, TEXT) == [(5760, "foot: swell open, boost resting")]
        assert [tick for tick, _ in sent(file)] == [0, 3840, 7680]


def test_what_no_message_reaches_is_pressed_by_foot() -> None:
    tune = song(*(moment(name, bars) for bars, name in enumerate("ABBCC")))
    scenes = [scene("A", ON, switch=1), scene("B", OFF, switch=2, recall=False), scene("C", ON)]
    data = night([tune], scenes)
    stored = one_song(data, "stored")
    # Where a scene lies on no switch, nothing is known to stay.
    assert [text for _, text in texts(stored, MARKER)] == [
        "A",
        "B (by foot)",
        "B (stay)",
        "C (by foot)",
        "C (by foot)",
    ]
    assert sent(stored) == [(0, b"\xcf\x00")]
    direct = one_song(data, "direct")
    assert [text for _, text in texts(direct, MARKER)] == ["A", "B", "B (stay)", "C", "C"]
    assert [tick for tick, _ in sent(direct)] == [0, 1920, 3 * 1920, 4 * 1920]


def test_a_route_that_can_send_nothing_has_no_files() -> None:
    tune = song(moment("A", 0))
    assert midi_files(night([tune], [scene("A")])) == {}
    assert list(midi_files(night([tune], [scene("A", ON)]))) == ["direct/0-01-tune.mid"]
    assert list(midi_files(night([tune], [scene("A", switch=1)]))) == ["stored/0-01-tune.mid"]


# Messages


def test_a_unit_that_is_busy_gets_its_time() -> None:
    """The same milliseconds as on the wire, in ticks of the song's tempo, never too early."""
    slow = scene(
        "A",
        message("wobbler", "program", "c5 2a"),
        message("wobbler", "depth", "b5 10 20", 120.64),
        message("echo", "switch", "b8 1c 7f", 121.6),
    )
    tune = song(moment("A", 1), tempo=("quarter", 125, 125))
    file = one_song(night([tune], [slow]))
    # At 125 quarter notes a minute a millisecond is a tick.
    assert sent(file) == [
        (1920, bytes.fromhex("c5 2a")),
        (1920 + 121, bytes.fromhex("b5 10 20")),
        (1920 + 122, bytes.fromhex("b8 1c 7f")),
    ]


def test_a_whole_tick_is_not_rounded_up() -> None:
    # Triplet quarters at 50: 120 ms are 32 ticks, and 32.00000000000001 in floating point.
    tempo = ("triplet quarter", 50, float(Fraction(100, 3)))
    whole = scene("A", ON, message("echo", "mix", "b8 15 10", 120.0))
    file = one_song(night([song(moment("A", 0), tempo=tempo)], [whole]))
    assert [tick for tick, _ in sent(file)] == [0, 32]


def test_the_order_of_sending_does_not_depend_on_tracks() -> None:
    """At 30 quarter notes a minute a tick is 4 ms, so that all of this falls into one."""
    mixed = scene(
        "A",
        message("echo", "switch", "b8 1c 00", 0),
        message("wobbler", "program", "c5 2a", 0.96),
        message("echo", "time", "b8 14 1d", 1.6),
        message("echo", "mix", "b8 15 26", 2.56),
        message("wobbler", "depth", "b5 10 20", 3.52),
    )
    file = one_song(night([song(moment("A", 0), tempo=("quarter", 30, 30))], [mixed]))
    assert sent(file) == [
        (0, bytes.fromhex("b8 1c 00")),
        (1, bytes.fromhex("c5 2a")),
        (2, bytes.fromhex("b8 14 1d")),
        (2, bytes.fromhex("b8 15 26")),
        (3, bytes.fromhex("b5 10 20")),
    ]


def test_a_press_waits_until_everything_before_it_is_sent() -> None:
    busy = scene("A", ON, message("echo", "mix", "b8 15 10", 3000.0), switch=1)
    tune = song(moment("A", 0), moment("B", 1), tempo=("quarter", 125, 125))
    file = one_song(night([tune], [busy, scene("B", OFF, switch=2)]))
    assert [tick for tick, _ in sent(file)] == [0, 3000, 3000]
    assert sent(file)[-1][1] == bytes.fromhex("b8 1c 00")
    assert texts(file, MARKER) == [(0, "A"), (1920, "B")]


def test_programs_have_their_names_and_banks() -> None:
    """RP-019: FF 08 right before bank select and program change."""
    both = scene(
        "Lift",
        message("echo", "mix", "b8 15 26", 0),
        message("wobbler", "bank", "b5 00 01", 0.96),
        message("wobbler", "bank", "b5 20 02", 1.92),
        message("wobbler", "program", "c5 2a", 2.88, "tremolo (display 42)"),
    )
    file = one_song(night([song(moment("Lift", 1), tempo=("quarter", 125, 125))], [both]))
    wobbler = [(one.tick, one.raw) for one in events(file) if one.track == 1]
    assert wobbler[:-1] == [
        (0, b"\x00\xff\x03\x07wobbler"),
        (0, b"\x00\xff\x09\x07wobbler"),
        # mido, reading, forgets the delta time of FF 08, so that another event has to bear it.
        (1921, b"\x8f\x01\xff\x01\x04Lift"),
        (1921, b"\x00\xff\x08\x14tremolo (display 42)"),
        (1921, bytes.fromhex("00 b5 00 01")),
        (1921, bytes.fromhex("00 20 02")),
        (1921, bytes.fromhex("00 c5 2a")),
    ]
    assert [(one.tick, one.status) for one in events(file) if one.track == 2][2] == (1920, 0xB8)


def test_a_preset_is_called_as_the_switcher_calls_it() -> None:
    scenes = [scene("Lift", ON, switch=2), scene("Last", ON, switch=2)]
    data = night([song(moment("Last", 0))], scenes)
    named = data.presets[0].model_copy(update={"name": "Lift"})
    file = one_song(data.model_copy(update={"presets": (named,)}), "stored")
    assert texts(file, NAME, 1) == texts(file, DEVICE_NAME, 1) == [(0, "board")]
    assert texts(file, MARKER) == texts(file, TEXT, 1) == [(0, "Last")]
    assert texts(file, PROGRAM_NAME, 1) == [(0, "Lift (bank 1, switch 2)")]


def test_utf8_only_when_asked() -> None:
    tune = song(moment("Stübchen", 0, cue="„los“ – 3 × ♭"), title="Pride of Cø’s\tHöfe")
    data = night([tune], [scene("Stübchen", ON, song="Pride of Cø’s\tHöfe")])
    plain = one_song(data)
    assert all(one.data.isascii() for one in events(plain) if one.kind in {NAME, MARKER, CUE})
    assert texts(plain, NAME) == [(0, "Pride of Co's?Hofe")]
    assert texts(plain, MARKER) == [(0, "Stubchen")]
    told = one_song(data, utf8=True)
    assert texts(told, NAME) == [(0, "Pride of Cø’s Höfe")]
    assert texts(told, MARKER) == [(0, "Stübchen")]
    assert texts(told, CUE) == [(0, "„los“ – 3 × ♭")]
    for utf8 in (False, True):
        belled = one_song(night([song(moment("A", 0, cue="go\anow"))], [scene("A", ON)]), utf8=utf8)
        assert texts(belled, CUE) == [(0, "go?now")]
    # mido's own charset is as it was before.
    assert mido.MetaMessage("text", text="é").bytes()[3:] == [0xE9]


# Sets and general scenes


def test_songs_of_a_set_follow_one_another_on_bars() -> None:
    songs = [
        song(moment("A", 0), title="One", number=1, meter="6/8", bars=4),
        song(moment("A", 0), title="Two", number=2, straight_into=True, bars=2),
        # Not a whole number of bars: 2.5 of 4/4.
        song(moment("A", 1), title="Three", number=3, bars=None, seconds=5.0),
        song(moment("A", 0), title="Four", number=4, straight_into=True, bars=1),
        # Nobody knows how long it is, and its last press stands on a bar line.
        song(moment("A", 0), moment("A", 3), title="Five", number=5, bars=None, meter="3/4"),
        song(moment("A", 0), title="Six", number=6, straight_into=True, bars=1),
        # Its last press lies beyond its end.
        song(moment("A", 2), title="Seven", number=7, straight_into=True, bars=1),
        song(moment("A", 0), title="Eight", number=8, straight_into=True, bars=1),
    ]
    scenes = [scene("A", ON, song=one.title) for one in songs]
    files = midi_files(night(songs, scenes, sets=[("All of it", tuple(range(1, 9)))]))
    assert list(files)[-1] == "direct/set-1-all-of-it.mid"
    file = files["direct/set-1-all-of-it.mid"]
    starts = [
        ("1. One", 0),
        ("2. Two", 4 * 1440),
        ("3. Three", 4 * 1440 + 2 * 1920 + 2 * 1920),
        ("4. Four", 4 * 1440 + 4 * 1920 + 3 * 1920),
        ("5. Five", 4 * 1440 + 7 * 1920 + 1920 + 2 * 1920),
        ("6. Six", 4 * 1440 + 10 * 1920 + 4 * 1440),
        ("7. Seven", 4 * 1440 + 10 * 1920 + 4 * 1440 + 1920),
        ("8. Eight", 4 * 1440 + 10 * 1920 + 4 * 1440 + 1920 + 3 * 1920),
    ]
    titles = [(text, tick) for tick, text in texts(file, MARKER) if text != "A"]
    assert titles == starts
    assert [one.tick for one in events(file) if one.kind == METER] == [tick for _, tick in starts]
    assert [one.tick for one in events(file) if one.kind == TEMPO] == [tick for _, tick in starts]
    assert {one.tick for one in events(file) if one.kind == END} == {starts[-1][1] + 1920}
    # Every song begins on a bar line, as a reader counts bars.
    line, bar = 0, 1440
    for one in merged(file):
        if one.kind == METER:
            assert (one.tick - line) % bar == 0
            line, bar = one.tick, one.data[0] * 1920 >> one.data[1]


def test_a_set_holds_what_its_songs_hold() -> None:
    """Message by message, only later: both demo nights, both routes."""
    for name in NIGHTS:
        files, data = demo_files(name), demo(name)
        for route in ("stored", "direct"):
            for number, _ in enumerate(data.sets, 1):
                whole = next(v for k, v in files.items() if k.startswith(f"{route}/set-{number}-"))
                parts = [v for k, v in files.items() if k.startswith(f"{route}/{number}-")]
                songs = expected_songs(data, f"{route}/set-{number}-")
                together = [
                    (one.start + tick, what)
                    for one, part in zip(songs, parts, strict=True)
                    for tick, what in sent(part)
                ]
                assert sent(whole) == together


def test_a_set_without_songs_has_no_file() -> None:
    data = night([song(moment("A", 0))], [scene("A", ON)], sets=[("Empty", ()), ("One", (1,))])
    assert list(midi_files(data)) == ["direct/2-01-tune.mid", "direct/set-2-one.mid"]


RESTING = {"feet_first": (FootData(unit="booster", position="resting"),)}


def test_what_stands_at_the_beginning_where_nothing_is_pressed() -> None:
    late = song(moment("A", 2)).model_copy(update={"begins_late": True, **RESTING})
    file = midi_files(night([late], [scene("A", ON)]))["direct/0-01-tune.mid"]
    assert texts(file, TEXT) == [(0, "no press: the sound of before; foot: booster resting")]
    assert texts(file, MARKER) == [(2 * 1920, "A")]


def test_what_the_foot_does_with_the_first_note_of_a_song_with_general_scenes() -> None:
    tune = song(general=True, scenes=("Plain",)).model_copy(update=RESTING)
    file = midi_files(night([tune], [scene("Plain", OFF, song=None)]))["direct/0-01-tune.mid"]
    assert texts(file, TEXT) == [
        (0, "general scenes, as you like: Plain"),
        (0, "foot: booster resting"),
    ]


def test_general_scenes() -> None:
    """The first is sent with the song; all of them, a bar each, in a file of their own."""
    scenes = [
        scene("Plain", OFF, song=None, switch=1),
        scene("Loud", ON, song=None, switch=2),
    ]
    tune = song(general=True, scenes=("Plain", "Loud"), meter="3/4", bars=4)
    files = midi_files(night([tune], scenes))
    assert list(files) == [
        f"{r}/{n}.mid" for r in ("stored", "direct") for n in ("0-01-tune", "general")
    ]
    file = files["direct/0-01-tune.mid"]
    assert texts(file, MARKER) == [(0, "Plain")]
    assert texts(file, TEXT) == [(0, "general scenes, as you like: Plain, Loud")]
    assert sent(file) == [(0, bytes.fromhex("b8 1c 00"))]
    assert {one.tick for one in events(file) if one.kind == END} == {4 * 1440}
    everything = files["direct/general.mid"]
    assert texts(everything, NAME) == [(0, "general scenes")]
    assert texts(everything, TEXT) == []
    assert texts(everything, MARKER) == [(0, "Plain"), (1920, "Loud")]
    assert sent(everything) == [(0, bytes.fromhex("b8 1c 00")), (1920, bytes.fromhex("b8 1c 7f"))]
    assert {one.tick for one in events(everything) if one.kind == END} == {2 * 1920}
    # A song of which all scenes are left out tonight has nothing to send.
    bare = one_song(night([song(general=True)], scenes))
    assert (texts(bare, MARKER), texts(bare, TEXT), sent(bare)) == ([], [], [])


def test_songs_beyond_all_measure() -> None:
    """A delta time has four bytes at most (RP-001), so a longer rest takes several events."""
    tune = song(moment("A", 0), moment("A", 12_787_200), bars=12_787_200)
    file = one_song(night([tune], [scene("A", ON)]))
    last = 12_787_200 * 1920
    assert last > 90 * 0xFFFFFFF
    assert sent(file) == [(0, b"\xb8\x1c\x7f"), (last, b"\xb8\x1c\x7f")]
    assert texts(file, MARKER) == [(0, "A"), (last, "A")]
    assert {one.tick for one in events(file) if one.kind == END} == {last}


# Waits


def losses(file: bytes, busy: dict[int, Fraction]) -> Iterator[tuple[Fraction, bytes]]:
    """Yield what comes while its unit is busy: by how many ms too early, and the message.

    ``busy`` is how long, in ms, the unit on a channel (from 0) is deaf after a program. Ticks and
    tempo are read from the file by mido; a byte takes 320 µs, none is left out, and a message
    begins when the one before it is through (IEC 63035:2017, 4.1).
    """
    read = mido.MidiFile(file=BytesIO(file))
    tempo, now, free = 500_000, Fraction(0), Fraction(0)
    ready: dict[int, Fraction] = {}
    for one in mido.merge_tracks(read.tracks):
        now += Fraction(one.time * tempo, read.ticks_per_beat * 1000)
        if one.type == "set_tempo":
            tempo = one.tempo
        if one.is_meta:
            continue
        message = bytes(one.bytes())
        if now < ready.get(one.channel, now):
            yield ready[one.channel] - now, message
        free = max(now, free) + len(message) * Fraction(32, 100)
        if one.type == "program_change" and busy.get(one.channel):
            ready[one.channel] = free + busy[one.channel]


BUSY_UNITS = """
one: {channel: 1, display: 0 to 9, programs: {a: 1}, busy after program: 10 ms}
two: {channel: 2, display: 0 to 9, programs: {b: 2}, busy after program: 10 ms}
three: {channel: 3, display: 0 to 9, programs: {c: 3}, busy after program: 10 ms,
  controls: {mix: {cc: 21, linear: 0 to 127, after a program: from the program, at rest: 7}}}
"""


@pytest.mark.parametrize("tempo", ["quarter = 100", "quarter = 97", "dotted quarter = 112"])
def test_a_wait_counts_from_the_tick_that_was_written(tmp_path: Path, tempo: str) -> None:
    """A program that is put off to a tick of its own puts off what has to wait for it."""
    path = write_night(
        tmp_path,
        units=BUSY_UNITS,
        effects="x: {one: a, two: b, three: c}",
        songs=f"songs:\n- {{title: Tune, meter: 4/4, tempo: {tempo}, scenes: {{S: {{effects: [x]}}}},"
        " order: [S], form: A}",
    )
    data = night_data(whole(path))
    (file,) = [file for name, file in midi_files(data).items() if name == "direct/1-01-tune.mid"]
    assert len(sent(file)) == 4
    assert list(losses(file, dict.fromkeys(range(3), Fraction(10)))) == []


def test_a_press_waits_for_what_the_press_before_it_loads() -> None:
    """In a file, as at any computer: late by some ms rather than lost."""
    load = message("wobbler", "program", "c5 2a", busy=700)
    mix = message("wobbler", "mix", "b5 15 40")
    scenes = [scene("Soft", load, switch=1), scene("Loud", mix, switch=2)]
    file = one_song(night([song(moment("Soft", 0), moment("Loud", 0.25), number=0)], scenes))
    # 480 ticks are 500 ms: the mix waits for 0.64 + 700 ms, which are 672.61 ticks.
    assert sent(file) == [(0, b"\xc5\x2a"), (673, b"\xb5\x15\x40")]
    assert texts(file, MARKER) == [(0, "Soft"), (480, "Loud")]


# Whatever the night


def waiting(sent: list[MessageData]) -> list[MessageData]:
    """Return messages at the times at which a computer sends them that waits for busy units."""
    now, ready, result = 0.0, dict.fromkeys("abc", 0.0), []
    for one in sent:
        starts = round(max(one.starts_ms, now, ready[one.unit]), 3)
        now = round(starts + one.ends_ms - one.starts_ms, 3)
        if one.kind == "program":
            ready[one.unit] = now + one.busy_ms
        result.append(one.model_copy(update={"starts_ms": starts, "ends_ms": now}))
    return result


BUSY = st.sampled_from([0.0, 0.0, 3.0, 10.0, 57.3, 400.0])
"""Ms for which a unit is deaf after a program."""


@st.composite
def nights(draw: st.DrawFn) -> NightData:
    """Draw a night with one set of two songs: any messages, any presses, any tempo."""
    data = st.integers(0, 127)
    units = {"a": 1, "b": 2, "c": 3}
    busy = {unit: draw(BUSY) for unit in units}
    scenes = []
    for owner in ("One", "Two"):
        for name in "xyz":
            sent, now = [], 0.0
            for unit in draw(st.lists(st.sampled_from("abc"), max_size=6)):
                now += draw(st.sampled_from([0, 0, 0, 0.5, 30, 120]))
                status = units[unit] - 1
                if draw(st.booleans()):
                    for control in draw(st.sampled_from([(), (0,), (32,), (0, 32)])):
                        value = bytes((0xB0 | status, control, draw(data)))
                        sent.append(message(unit, "bank", value.hex(), round(now, 3)))
                        now += 0.96
                    load = bytes((0xC0 | status, draw(data)))
                    sent.append(message(unit, "program", load.hex(), round(now, 3), "", busy[unit]))
                    now += 0.64
                else:
                    value = bytes((0xB0 | status, draw(st.integers(40, 60)), draw(data)))
                    sent.append(message(unit, "mix", value.hex(), round(now, 3)))
                    now += 0.96
            told = waiting(sent)
            scenes.append(scene(name, *told, song=owner, switch=draw(st.integers(1, 4))))
    place_of_press = st.floats(0, 40) | st.integers(0, 40).map(float)
    press = st.builds(
        lambda name, bars, seconds: moment(name, bars, None if bars is not None else seconds),
        st.sampled_from("xyz"),
        st.none() | place_of_press,
        st.none() | place_of_press,
    )
    songs = [
        song(
            *draw(st.lists(press, max_size=5)),
            title=title,
            number=number,
            meter=draw(st.sampled_from([None, *METERS])),
            tempo=draw(
                st.none() | st.sampled_from([("quarter", q, q) for q in (4.5, 50, 100, 208.5, 900)])
            ),
            bars=draw(st.none() | st.integers(0, 40)),
            straight_into=draw(st.booleans()),
            scenes=("x", "y", "z"),
        )
        for number, title in enumerate(("One", "Two"), 1)
    ]
    return night(songs, scenes, sets=[("Set", (1, 2))], units=("a", "b", "c"))


def expected_order(data: NightData, one: SongData, route: str) -> list[bytes]:
    """Return what a song sends, in order, worked out from its presses."""
    bar = Fraction(one.meter or "4/4") * 1920
    speed = Fraction(one.tempo.quarters_per_minute) if one.tempo else Fraction(120)
    placed: list[tuple[int, SceneData]] = []
    for press in one.moments:
        if press.bars is not None:
            tick = nearest(Fraction(press.bars) * bar)
        elif press.seconds is not None:
            tick = nearest(Fraction(press.seconds) * speed * 8)
        else:
            tick = placed[-1][0] + int(bar) if placed else 0
        placed.append((tick, data.scene(one.owner, press.scene)))
    placed.sort(key=lambda pair: pair[0])
    result, last = [], None
    for _, pressed in placed:
        assert pressed.place is not None
        if pressed.place.switch != last:
            sent = pressed.direct if route == "direct" else pressed.recall
            assert sent is not None
            result += [bytes.fromhex(one.hex) for one in sent.messages]
        last = pressed.place.switch
    return result


def no_wait_is_cut_short(data: NightData, file: bytes) -> None:
    busy = {
        one.channel - 1: Fraction(str(one.busy_ms))
        for some in data.scenes
        for one in some.direct.messages
        if one.kind == "program"
    }
    assert list(losses(file, busy)) == []


@given(nights())
@settings(max_examples=40, deadline=None)
def test_whatever_the_night(data: NightData) -> None:
    for name, file in midi_files(data).items():
        route = name.partition("/")[0]
        songs = data.songs if "/set-" in name else songs_of(data, name)
        command = [one for tune in songs for one in expected_order(data, tune, route)]
        assert [one for _, one in sent(file)] == command
        if route == "direct":
            no_wait_is_cut_short(data, file)
        found = [one for one in events(file) if one.kind is None]
        for before, after in pairwise(sorted(found, key=lambda one: one.tick)):
            assert before.track == after.track or before.tick < after.tick
        for before, after in pairwise(found):
            if is_bank(before):
                assert (after.track, after.tick) == (before.track, before.tick)
        assert len({one.tick for one in events(file) if one.kind == END}) == 1


# Two files for a person to read

GOLDEN_UNITS = """
wobbler: {loop: 1, channel: 6, display: 1 to 512, programs: {tremolo: 300, rotor: 7},
  bank select: {by: msb and lsb}, busy after program: 120 ms,
  controls: {depth: {cc: 16, linear: 0 % to 100 %, at rest: 50 %}}}
echo: {channel: 9, switched by: {cc: 28, on: 127, off: 0},
  time: {cc: 20, linear: 0 ms to 1270 ms, at rest: 400 ms}}
swell: {is: volume, by foot: [closed, open], at start: open}
"""
GOLDEN_SONGS = """
songs:
- title: Tune
  meter: 6/8
  tempo: dotted quarter = 112
  form: AB, 2 rounds
  scenes:
    Start: {effects: [tremolo]}
    Lift: {effects: [rotor, long echo], echo: dotted quarter}
    Last: {effects: [tremolo]}
  order:
  - Start: {cue: fiddle alone, foot: swell closed}
  - Lift: {at: round 1 B, foot: swell open}
  - Lift: bar 13 beat 4
  - Last: round 2 B
"""
GOLDEN_SWITCHER = """\
switcher: board
banks: 40
switches: 4
loops: 4
each preset stores: {programs: 4, controls: 4, bank select: yes, names: 8}
recalled on channel: 16
recalled by bank select: msb
"""
SAID = {
    TEXT: "text",
    NAME: "name",
    MARKER: "marker",
    CUE: "cue",
    PROGRAM_NAME: "program name",
    DEVICE_NAME: "device name",
}


def annotated(file: bytes) -> str:
    """Return a MIDI file as hex with a word on every event: offset, bytes, tick, meaning."""
    first, tracks, ppq = header(file)
    lines = [
        "offset  tick    bytes",
        f"{0:06x}          {file[:14].hex(' ')}",
        f"                  format {first}, {tracks} tracks, {ppq} ticks in a quarter note",
    ]
    for number, (_, begin, end) in enumerate(list(chunks(file))[1:]):
        lines += [
            "",
            f"{begin - 8:06x}          {file[begin - 8 : begin].hex(' ')}",
            f"                  track {number}, {end - begin} bytes",
        ]
        for one in events(file):
            if one.track == number:
                lines.append(f"{one.offset:06x}  {one.tick:<6}  {one.raw.hex(' ')}")
                lines.append(f"                  {in_words(one)}")
    return "\n".join(lines) + "\n"


def in_words(one: Event) -> str:
    data = one.data
    if one.kind is None:
        channel = f"channel {(one.status & 0x0F) + 1}"
        if one.status & 0xF0 == 0xC0:
            return f"{channel}: program {data[0]}"
        return f"{channel}: control {data[0]} value {data[1]}"
    if one.kind == TEMPO:
        return f"tempo: {int.from_bytes(data)} µs a quarter note"
    if one.kind == METER:
        return f"meter: {data[0]}/{2 ** data[1]}, a click every {data[2]} clocks"
    return "end of track" if one.kind == END else f"{SAID[one.kind]}: {data.decode()}"


@pytest.mark.parametrize("route", ["stored", "direct"])
def test_two_files_in_full(tmp_path: Path, golden: Callable[[str, str], None], route: str) -> None:
    path = write_night(
        tmp_path,
        units=GOLDEN_UNITS,
        effects="tremolo: {wobbler: tremolo}\nrotor: {wobbler: {state: rotor, set: {depth: 80 %}}}\n"
        "long echo: echo",
        songs=GOLDEN_SONGS,
        switcher=GOLDEN_SWITCHER,
    )
    # A name of another folder's length would change nothing, but a rig's other banks show.
    rig = (tmp_path / "rig.yaml").read_text(encoding="utf-8")
    rig = rig.replace("switcher: board.yaml", "switcher: {file: board.yaml, banks: 33 to 40}")
    (tmp_path / "rig.yaml").write_text(rig, encoding="utf-8")
    compiled = whole(path)
    # A switcher cannot wait for the wobbler, a computer can: that is what these files show.
    assert {finding.code for finding in compiled.findings} == {"sent-in-vain"}
    golden(
        f"{route}-tune.midi.txt",
        annotated(midi_files(night_data(compiled))[f"{route}/1-01-tune.mid"]),
    )
