"""The drawings of a rig: all of it is there, in words too, and nothing lies on anything else.

What has to be there is counted from the rig's own file; geometry is read from the SVG, and
measured once more by a browser and by the program that prints the sheets.
"""

from __future__ import annotations

import json
import os
import re
import shutil
import struct
import subprocess
import sys
import sysconfig
import tempfile
from collections import Counter
from functools import cache
from itertools import pairwise
from pathlib import Path
from typing import Any

import pytest
import typst
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from ruamel.yaml import YAML

from setwright.compiler.compiled import Compiled
from setwright.compiler.outputs.collect import night_data
from setwright.compiler.outputs.data import NightData
from setwright.compiler.outputs.drawings import lettering
from setwright.compiler.outputs.drawings.drawn import drawings_of
from setwright.compiler.outputs.drawings.svg import Drawing
from setwright.compiler.outputs.wiring import (
    FedData,
    MidiBoxData,
    MidiCableData,
    OutputData,
    PathCableData,
    PathUnitData,
    WiringData,
)
from setwright.compiler.pipeline import compile_night
from setwright.scenes.finding import Severity
from tests.conftest import DEMO, ROOT
from tests.drawn import Picture, faults, read
from tests.mini import write_night
from tests.nights import whole
from tests.rigs import Book, books

BOATHOUSE = ROOT / "tests" / "boathouse"
NIGHTS = {
    "granary": DEMO,
    "parlour": DEMO,
    "boathouse": BOATHOUSE,
    "rowboat": BOATHOUSE,
}
FONTS = next(Path(sysconfig.get_path("purelib")).glob("font_source_sans_pro/files"))
CHROMIUM = next(filter(None, map(shutil.which, ("chromium", "chromium-browser"))), None)
needs_poppler = pytest.mark.skipif(
    not all(map(shutil.which, ("pdftotext", "pdftoppm"))), reason="poppler-utils is not installed"
)
needs_browser = pytest.mark.skipif(CHROMIUM is None, reason="chromium is not installed")


@cache
def data_of(night: str) -> NightData:
    return night_data(whole(NIGHTS[night] / f"{night}-night.yaml"))


@cache
def rig_of(night: str) -> dict[str, Any]:
    """Return what the rig's file says, read by nothing of ours."""
    text = (NIGHTS[night] / f"{night}.yaml").read_text(encoding="utf-8")
    said: dict[str, Any] = YAML(typ="safe").load(text)
    return said


def pictures(data: NightData) -> dict[str, Picture]:
    return {one.name: read(one.svg) for one in drawings_of(data)}


def with_wiring(wiring: WiringData) -> NightData:
    return data_of("granary").model_copy(update={"wiring": wiring})


def geometry(drawings: tuple[Drawing, ...]) -> list[str]:
    return [f"{one.name}: {fault}" for one in drawings for fault in faults(read(one.svg))]


def listed(said: Any) -> list[str]:
    return said if isinstance(said, list) else [said]


# -- everything is there -------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("night", "names"),
    [
        ("granary", ["signal", "midi", "power", "banks"]),
        ("parlour", ["signal", "midi", "power", "banks"]),
        ("boathouse", ["signal", "midi", "banks"]),
        ("rowboat", ["signal", "banks"]),
    ],
)
def test_what_the_rig_says_is_drawn_and_nothing_else(night: str, names: list[str]) -> None:
    assert [one.name for one in drawings_of(data_of(night))] == names


@pytest.mark.parametrize("night", NIGHTS)
def test_every_unit_and_cable_of_the_path(night: str) -> None:
    rig = rig_of(night)
    picture = pictures(data_of(night))["signal"]
    wanted: set[str] = set()
    cables = 0
    for run in rig["path"]:
        cables += len(run) - 1
        wanted |= {re.sub(" (send|return)$", "", name) for name in run}
    assert set(picture.names()) == wanted
    # An amplifier whose effects loop is in use has two boxes, every other unit has one.
    twice = {name.removesuffix(" return") for run in rig["path"] for name in run} & {
        name for name, unit in rig["units"].items() if unit.get("effects loop")
    }
    assert Counter(picture.names()) == Counter([*wanted, *twice])
    assert len(picture.lines) == cables
    for name in wanted:
        assert name in picture.description
        loop = rig["units"].get(name, {}).get("loop")
        if loop is not None:
            assert picture.words(name) == [f"loop {loop}"]
            assert f"{name} in loop {loop}" in picture.description
    for before, after in (pair for run in rig["path"] for pair in pairwise(run)):
        assert f"{before} to {after}" in picture.description


def test_the_effects_loop_lies_between_send_and_return() -> None:
    picture = pictures(data_of("boathouse"))["signal"]
    (strip,) = picture.boxes("strip")
    inside = [
        name
        for box, name in zip(picture.boxes(), picture.names(), strict=True)
        if box.lies_in(strip)
    ]
    assert inside == ["tapper", "cloud"]
    assert (
        " ".join(
            one.area.what
            for one in picture.inside(strip)
            if not any(one.area.lies_in(box) for box in picture.boxes())
        )
        == "effects loop of oak amplifier"
    )
    assert "Between send and return of oak amplifier lie tapper and cloud." in picture.description
    labels = {one.area.what: one.area for one in picture.labels}
    front, back = (
        box
        for box, name in zip(picture.boxes(), picture.names(), strict=True)
        if name == "oak amplifier"
    )
    assert front.right < labels["send"].left < labels["return"].left
    assert labels["return"].right < back.left
    assert [one.area.what for one in picture.inside(front)][1:] == ["preamplifier"]
    assert [one.area.what for one in picture.inside(back)][1:] == ["power amplifier"]


@pytest.mark.parametrize("night", ["granary", "parlour", "boathouse"])
def test_every_midi_cable_and_channel(night: str) -> None:
    rig = rig_of(night)
    picture = pictures(data_of(night))["midi"]
    lines: list[list[str]] = rig["midi"]
    boxes = {name for line in lines for name in line}
    assert Counter(picture.names()) == Counter(boxes)
    cables = [pair for line in lines for pair in pairwise(line)]
    assert len(picture.lines) == len(cables)
    for start, end in cables:
        assert re.search(rf"\b{start} (OUT|THRU) to {end} IN\b", picture.description)
    for name in boxes & rig["units"].keys():
        channel = rig["units"][name].get("channel")
        if channel is not None:
            assert f"channel {channel}" in picture.words(name)
            assert f"{name}: channel {channel}" in picture.description
    # Every cable but the first of a line comes out of a THRU, unless it leads out of one of these.
    out = {"switcher", "computer", "joiner", "pedal"}
    labels = Counter(one.area.what for one in picture.labels)
    assert labels["OUT"] == sum(start in out for start, _ in cables)
    assert labels["THRU"] == len(cables) - labels["OUT"]


@pytest.mark.parametrize("night", ["granary", "parlour"])
def test_every_output_and_what_it_gives(night: str) -> None:
    rig = rig_of(night)
    picture = pictures(data_of(night))["power"]
    outputs = rig["supply"]
    fed = [name for output in outputs.values() for name in listed(output["feeds"])]
    assert Counter(picture.names()) == Counter([*(f"output {name}" for name in outputs), *fed])
    assert len(picture.lines) == len(fed)
    scales, bars = picture.boxes("scale"), picture.boxes("bar")
    for (name, output), scale, bar in zip(outputs.items(), scales, bars, strict=True):
        gives = int(output["gives"].removesuffix(" mA"))
        draws = sum(
            int(rig["units"][unit]["power"]["draws"].removesuffix(" mA"))
            for unit in listed(output["feeds"])
        )
        assert picture.words(f"output {name}") == [
            f"{output['volts']} DC, centre negative",
            f"{draws} of {gives} mA, {round(100 * draws / gives)} %",
        ]
        share = (bar.right - bar.left) / (scale.right - scale.left)
        assert share == pytest.approx(draws / gives, abs=0.001)
    for unit in fed:
        power = rig["units"][unit]["power"]
        assert picture.words(unit) == [
            f"{power['draws']} at {power['volts']} DC",
            "centre negative",
        ]
    assert "licensed technician" in " ".join(one.area.what for one in picture.labels)


@pytest.mark.parametrize("night", NIGHTS)
def test_the_grid_of_banks(night: str) -> None:
    data = data_of(night)
    picture = pictures(data)["banks"]
    banks = sorted({one.place.bank for one in data.presets})
    count = data.switcher.switch_count
    cells = picture.boxes("cell")
    assert len(cells) == len(banks) * count
    rows = sorted({cell.top for cell in cells})
    assert len(rows) == len(banks)
    shown = {
        (cell.top, cell.left): name for cell, name in zip(cells, picture.names("cell"), strict=True)
    }
    columns = sorted({cell.left for cell in cells})
    found = {
        (bank, switch): name
        for bank, top in zip(banks, rows, strict=True)
        for switch, left in enumerate(columns, 1)
        if (name := shown[top, left])
    }
    assert found == {(one.place.bank, one.place.switch): one.name for one in data.presets}
    kept = [one.area.what for cell in cells for one in picture.inside(cell) if not one.strong]
    assert kept == ["Tuner"] * (len(banks) if data.switcher.kept else 0)
    for one in data.presets:
        assert f"switch {one.place.switch_shown} {one.name}" in picture.description
    labels = {one.area.what: one.area for one in picture.labels}
    for one in data.presets:
        cell = next(
            cell
            for cell in cells
            if (cell.top, cell.left)
            == (rows[banks.index(one.place.bank)], columns[one.place.switch - 1])
        )
        head = labels[f"switch {one.place.switch_shown}"]
        assert head.left + head.right == pytest.approx(cell.left + cell.right, abs=0.1)
        side = labels[f"bank {one.place.bank_shown}"]
        assert side.top + side.bottom == pytest.approx(cell.top + cell.bottom, abs=1.5)


def test_units_that_are_left_out_are_not_drawn() -> None:
    gone = frozenset({"wobbler", "ash amplifier"})
    data = night_data(whole(DEMO / "granary-night.yaml", gone))
    for one in drawings_of(data)[:3]:
        picture = read(one.svg)
        assert gone.isdisjoint(picture.names())
        assert not any(name in picture.description for name in gone)
    assert "fuzz to booster" in drawings_of(data)[0].description
    assert "switcher OUT to barn IN" in drawings_of(data)[1].description
    assert "feeds nothing" in drawings_of(data)[2].description


# -- nothing lies on anything else ---------------------------------------------------------------


@pytest.mark.parametrize("night", NIGHTS)
def test_labels_and_lines_keep_apart(night: str) -> None:
    assert geometry(drawings_of(data_of(night))) == []


NAMES = st.one_of(
    st.text(st.characters(exclude_categories=["Cs"]), min_size=1, max_size=40),
    st.sampled_from(
        [
            "漢字と仮名でできたとても長い名前のエフェクター",
            "🎸🎛️👩‍🎤🏳️‍🌈",
            "x" * 200,
            "many short words that go on and on " * 5,
            "<script>alert('&amp;')</script>",
            "]]>&<!--",
            "e\u0301" + "\u0301" * 60,
            "﷽﷽﷽",
            "\u202egnol\u202c",
            "שלום עולם",
            "a\tb\nc\x00d\x1b[31m",
            "WWWWWWWWWWWWWWWWWWWW",
        ]
    ),
)


@st.composite
def wirings(draw: st.DrawFn) -> WiringData:
    """Draw cables as no musician would plug them: circles, doubles, a box into itself."""
    names = draw(st.lists(NAMES, min_size=1, max_size=9, unique=True))
    one = st.sampled_from(names)
    looped = draw(st.sets(one, max_size=2))
    path = tuple(
        PathUnitData(
            unit=name,
            kind=draw(st.sampled_from(["guitar", "effect", "amplifier", "splitter", "volume"])),
            loop=draw(st.none() | st.integers(1, 64)),
            effects_loop=name in looped,
            within=draw(st.sampled_from([None, *sorted(looped - {name})])),
        )
        for name in names
    )
    # Sends and returns only of what has them; or a send that is used alone.
    path_cables = tuple(
        PathCableData(
            source=source,
            source_side=draw(st.sampled_from(["out", "send"])),
            target=target,
            target_side="return" if target in looped and draw(st.booleans()) else "in",
        )
        for source, target in draw(st.lists(st.tuples(one, one), max_size=14))
    )
    midi = tuple(
        MidiBoxData(
            box=name,
            kind=draw(st.sampled_from(["switcher", "computer", "merge", "sender", "effect"])),
            channel=draw(st.none() | st.integers(1, 16)),
            omni=draw(st.booleans()),
            passes_on=draw(st.booleans()),
        )
        for name in names
    )
    midi_cables = tuple(
        MidiCableData(source=source, socket=draw(st.sampled_from(["OUT", "THRU"])), target=target)
        for source, target in draw(st.lists(st.tuples(one, one), max_size=14))
    )
    supply = tuple(
        OutputData(
            output=output,
            gives_ma=draw(st.integers(1, 10_000)),
            volts="9 to 18.125 V",
            current="dc",
            polarity="centre positive",
            draws_ma=draw(st.integers(0, 30_000)),
            feeds=tuple(_feeds(draw, names)),
        )
        for output in draw(st.lists(NAMES, max_size=4, unique=True))
    )
    return WiringData(
        path=path, path_cables=path_cables, midi=midi, midi_cables=midi_cables, supply=supply
    )


def _feeds(draw: st.DrawFn, names: list[str]) -> list[FedData]:
    fed: list[FedData] = []
    for name in draw(st.lists(st.sampled_from(names), max_size=5, unique=True)):
        through = draw(st.sampled_from([None, *(one.unit for one in fed)]))
        known = draw(st.booleans())
        fed.append(
            FedData(
                unit=name,
                through=through,
                draws_ma=33.25 if known else None,
                volts="9 V" if known else None,
                current="ac" if known else None,
                polarity=None,
            )
        )
    return fed


@settings(max_examples=60, deadline=None, suppress_health_check=list(HealthCheck))
@given(wirings())
def test_any_cables_and_any_names(wiring: WiringData) -> None:
    drawings = drawings_of(with_wiring(wiring))
    assert geometry(drawings) == []
    assert drawings == drawings_of(with_wiring(wiring))
    by_name = {one.name: read(one.svg) for one in drawings}
    parts = {
        kind: [one for name, one in by_name.items() if name.partition("-")[0] == kind]
        for kind in ("signal", "midi")
    }
    for kind, cables in (("signal", wiring.path_cables), ("midi", wiring.midi_cables)):
        assert sum(len(one.lines) for one in parts[kind]) == len(cables)
    split = sum(one.effects_loop for one in wiring.path)
    assert sum(len(one.boxes()) for one in parts["signal"]) == len(wiring.path) + split
    assert sum(len(one.boxes()) for one in parts["midi"]) == len(wiring.midi)


@settings(max_examples=40, deadline=None, suppress_health_check=list(HealthCheck))
@given(books())
def test_random_rigs(book: Book) -> None:
    with tempfile.TemporaryDirectory() as folder:
        for name, text in book.files.items():
            (Path(folder) / name).write_text(text, encoding="utf-8")
        compiled = compile_night(Path(folder) / "night.yaml", book.gone)
        assert isinstance(compiled, Compiled)
        if any(one.severity is Severity.ERROR for one in compiled.findings):
            return
        drawings = drawings_of(night_data(compiled))
    assert geometry(drawings) == []
    rig = json.loads(book.files["rig.yaml"])
    by_name = {one.name: read(one.svg) for one in drawings}
    gone = book.gone
    if "signal" in by_name:
        said = {re.sub(" (send|return)$", "", name) for run in rig["path"] for name in run}
        assert set(by_name["signal"].names()) == said - gone
    if "midi" in by_name:
        boxes = {
            next(iter(one)) if isinstance(one, dict) else one
            for line in rig["midi"]
            for one in line
        }
        assert set(by_name["midi"].names()) == boxes - gone


@pytest.mark.parametrize("switches", [1, 4, 10, 11, 40])
def test_banks_of_any_width(switches: int) -> None:
    data = data_of("granary")
    place = data.presets[0].place
    presets = tuple(
        data.presets[0].model_copy(
            update={
                "name": name,
                "place": place.model_copy(
                    update={
                        "bank": bank,
                        "switch": 1 + bank % switches,
                        "bank_shown": f"{bank}" * 9,
                    }
                ),
            }
        )
        for bank, name in enumerate(
            ["WWWWWWWWWWWWWWWW", "漢字漢字漢字漢字漢字漢字", "a" * 99, "&lt;"] * 12, 1
        )
    )
    switcher = data.switcher.model_copy(
        update={"switches": f"1 to {switches}", "switch_count": switches, "kept": {"1": "x" * 99}}
    )
    drawings = drawings_of(data.model_copy(update={"presets": presets, "switcher": switcher}))
    grids = [one for one in drawings if one.name.startswith("banks")]
    assert geometry(tuple(grids)) == []
    assert sum(len(read(one.svg).boxes("cell")) for one in grids) == 48 * switches
    assert [one.name for one in grids] == [
        "banks",
        *(f"banks-{at}" for at in range(2, len(grids) + 1)),
    ]
    assert all(one.height_mm <= 260 for one in grids)


def test_what_is_cut_stands_in_the_description() -> None:
    name = "a very long name of a box that nobody could ever print on it, or read, or say " * 2
    unit = PathUnitData(unit=name, kind="effect", loop=None, effects_loop=False, within=None)
    (drawing, *_) = drawings_of(with_wiring(WiringData(path=(unit,))))
    picture = read(drawing.svg)
    assert picture.names()[0].endswith("…")
    assert name.strip() in picture.description


def test_a_book_without_cables(tmp_path: Path) -> None:
    path = write_night(
        tmp_path,
        units="fuzz: {loop: 1}",
        effects="fuzz: fuzz",
        rig="path: []\nmidi: []\n",
        scenes="On: [fuzz]",
    )
    assert [one.name for one in drawings_of(night_data(whole(path)))] == ["banks"]


def test_the_same_drawings_in_every_process() -> None:
    code = (
        "import hashlib, sys\n"
        "from tests.test_drawings import data_of, drawings_of\n"
        "said = ''.join(one.svg for one in drawings_of(data_of('boathouse')))\n"
        "print(hashlib.sha256(said.encode()).hexdigest())\n"
    )
    seen = {
        subprocess.run(
            [sys.executable, "-c", code],
            cwd=ROOT,
            env={**os.environ, "PYTHONHASHSEED": seed},
            check=True,
            capture_output=True,
            text=True,
        ).stdout
        for seed in ("1", "2")
    }
    assert len(seen) == 1


# -- a player can read it -------------------------------------------------------------------------


def chain(names: list[str], cables: list[tuple[str, str]] | None = None) -> WiringData:
    """Return the same boxes on a path and on a MIDI line: one after the other, if not said."""
    pairs = list(pairwise(names)) if cables is None else cables
    return WiringData(
        path=tuple(
            PathUnitData(unit=name, kind="effect", loop=None, effects_loop=False, within=None)
            for name in names
        ),
        path_cables=tuple(
            PathCableData(source=one, source_side="out", target=other, target_side="in")
            for one, other in pairs
        ),
        midi=tuple(
            MidiBoxData(box=name, kind="effect", channel=3, omni=False, passes_on=True)
            for name in names
        ),
        midi_cables=tuple(
            MidiCableData(source=one, socket="THRU", target=other) for one, other in pairs
        ),
    )


MANY = [f"box number {number}" for number in range(40)]


@pytest.mark.parametrize(
    "wiring",
    [
        pytest.param(chain(MANY), id="forty in a row"),
        pytest.param(chain(MANY, [(MANY[0], one) for one in MANY[1:]]), id="forty on one"),
        pytest.param(chain(MANY, [(one, MANY[0]) for one in MANY[1:]]), id="forty into one"),
        pytest.param(
            chain(MANY[:8], [(a, b) for a in MANY[:8] for b in MANY[:8]]), id="each on each"
        ),
        pytest.param(chain(MANY, [*pairwise(MANY), (MANY[-1], MANY[0])]), id="a circle of forty"),
        pytest.param(chain(MANY, []), id="forty that nothing joins"),
    ],
)
def test_rigs_as_large_as_nobody_carries(wiring: WiringData) -> None:
    drawings = drawings_of(with_wiring(wiring))
    assert geometry(drawings) == []
    for kind in ("signal", "midi"):
        parts = [read(one.svg) for one in drawings if one.name.partition("-")[0] == kind]
        assert sum(len(one.lines) for one in parts) == len(wiring.path_cables)
        assert sum(len(one.boxes()) for one in parts) == len(wiring.path)


def test_a_chain_is_read_like_writing() -> None:
    """From left to right, line below line of a length, and every line straight."""
    picture = read(drawings_of(with_wiring(chain(MANY[:9])))[0].svg)
    boxes = dict(zip(picture.names(), picture.boxes(), strict=True))
    corners = [(boxes[name].top, boxes[name].left) for name in MANY[:9]]
    assert corners == sorted(corners)
    rows = Counter(top for top, _ in corners)
    assert list(rows.values()) == [5, 4]
    assert {len({y for _, y in line}) for line in picture.lines} == {1, 3}
    straight = [line for line in picture.lines if len({y for _, y in line}) == 1]
    assert len(straight) == 7


def test_an_effects_loop_stands_in_one_line() -> None:
    """Preamplifier, what is in the loop, and power amplifier: also with a branch out of it."""
    said = [
        "guitar",
        "drive",
        "oak",
        "splitter",
        "chorus",
        "echo",
        "wide echo",
        "hall",
        "ash",
        "elm",
    ]
    path = tuple(
        PathUnitData(
            unit=name,
            kind="amplifier" if name in {"oak", "ash", "elm"} else "effect",
            loop=None,
            effects_loop=name == "oak",
            within="oak" if name in {"splitter", "chorus"} else None,
        )
        for name in said
    )
    cables = [
        *[("guitar", "drive"), ("drive", "oak"), ("oak", "splitter"), ("splitter", "chorus")],
        *[("chorus", "oak"), ("splitter", "echo"), ("echo", "wide echo"), ("wide echo", "ash")],
        *[("wide echo", "hall"), ("hall", "elm")],
    ]
    path_cables = tuple(
        PathCableData(
            source=one,
            source_side="send" if one == "oak" else "out",
            target=other,
            target_side="return" if (one, other) == ("chorus", "oak") else "in",
        )
        for one, other in cables
    )
    drawings = drawings_of(with_wiring(WiringData(path=path, path_cables=path_cables)))
    assert geometry(drawings) == []
    picture = read(drawings[0].svg)
    (strip,) = picture.boxes("strip")
    front, back = (
        box for box, name in zip(picture.boxes(), picture.names(), strict=True) if name == "oak"
    )
    assert front.right < strip.left < strip.right < back.left
    inside = [
        name
        for box, name in zip(picture.boxes(), picture.names(), strict=True)
        if box.lies_in(strip)
    ]
    assert inside == ["splitter", "chorus"]


def test_frames_tell_what_a_box_is() -> None:
    path = pictures(data_of("granary"))["signal"]
    looks = {name: path.look(name) for name in path.names()}
    plain = looks["fuzz"]
    assert {name for name, look in looks.items() if look.stroke > 2 * plain.stroke} == {
        "oak amplifier",
        "ash amplifier",
    }
    assert [name for name, look in looks.items() if look.radius > 2] == ["guitar"]
    assert not any(look.dotted for look in looks.values())
    midi = pictures(data_of("granary"))["midi"]
    heavy = {name for name in midi.names() if midi.look(name).stroke > 2 * plain.stroke}
    assert heavy == {"switcher", "computer"}
    banks = pictures(data_of("granary"))["banks"]
    cells = Counter(
        (look.dotted, "".join(one.area.what for one in banks.inside(frame)) != "")
        for frame, look in zip(banks.frames, banks.looks, strict=True)
    )
    presets = len(data_of("granary").presets)
    # 16 banks of 8 switches, the last of which is kept in all of them.
    assert cells == {(True, True): 16, (False, True): presets, (False, False): 16 * 7 - presets}


@pytest.mark.parametrize("night", NIGHTS)
def test_no_paper_is_wasted(night: str) -> None:
    for one in drawings_of(data_of(night)):
        picture = read(one.svg)
        areas = [*picture.frames, *(label.area for label in picture.labels)]
        assert min(area.top for area in areas) < 3.5
        assert min(area.left for area in areas) < 3.5
        assert picture.whole.bottom - max(area.bottom for area in areas) < 1.5
        assert picture.whole.right - max(area.right for area in areas) < 7


def test_what_no_page_holds_goes_on_in_another_drawing() -> None:
    fed = FedData(unit="x", through=None, draws_ma=20, volts="9 V", current="dc", polarity=None)
    supply = tuple(
        OutputData(
            output=f"{number}",
            gives_ma=100,
            volts="9 V",
            current="dc",
            polarity="centre negative",
            draws_ma=20,
            feeds=(fed.model_copy(update={"unit": f"box {number}"}),),
        )
        for number in range(40)
    )
    drawings = [
        one
        for one in drawings_of(with_wiring(WiringData(supply=supply)))
        if one.name.startswith("power")
    ]
    assert [(one.name, one.title) for one in drawings] == [
        ("power", "Power of Granary, 1 of 2"),
        ("power-2", "Power of Granary, 2 of 2"),
    ]
    assert geometry(tuple(drawings)) == []
    names = [name for one in drawings for name in read(one.svg).names()]
    assert Counter(names) == Counter(
        [*(f"output {n}" for n in range(40)), *(f"box {n}" for n in range(40))]
    )
    assert all(one.height_mm < 260 for one in drawings)


# -- letters -------------------------------------------------------------------------------------


def advances(file: str) -> dict[int, int]:
    """Return the advance width of every character of a font file, in thousandths.

    Read as ISO/IEC 14496-22 (Open Font Format) has it: cmap format 4, hhea, hmtx.
    """
    data = (FONTS / file).read_bytes()
    tables = {}
    for at in range(struct.unpack_from(">H", data, 4)[0]):
        tag, _, offset, _ = struct.unpack_from(">4sIII", data, 12 + 16 * at)
        tables[tag.decode()] = offset
    assert struct.unpack_from(">H", data, tables["head"] + 18)[0] == 1000
    known = struct.unpack_from(">H", data, tables["hhea"] + 34)[0]
    cmap = tables["cmap"]
    found = {}
    for at in range(struct.unpack_from(">H", data, cmap + 2)[0]):
        offset = cmap + struct.unpack_from(">HHI", data, cmap + 4 + 8 * at)[2]
        if struct.unpack_from(">H", data, offset)[0] != 4:
            continue
        count = struct.unpack_from(">H", data, offset + 6)[0] // 2
        ends = struct.unpack_from(f">{count}H", data, offset + 14)
        starts = struct.unpack_from(f">{count}H", data, offset + 16 + 2 * count)
        deltas = struct.unpack_from(f">{count}h", data, offset + 16 + 4 * count)
        ranges = struct.unpack_from(f">{count}H", data, offset + 16 + 6 * count)
        for part in range(count):
            for code in range(starts[part], min(ends[part], 0xFFFE) + 1):
                glyph = code + deltas[part]
                if ranges[part]:
                    here = offset + 16 + 6 * count + 2 * part + ranges[part]
                    glyph = struct.unpack_from(">H", data, here + 2 * (code - starts[part]))[0]
                    glyph += deltas[part] if glyph else 0
                place = tables["hmtx"] + 4 * min(glyph & 0xFFFF, known - 1)
                found[code] = struct.unpack_from(">H", data, place)[0]
    return found


@pytest.mark.parametrize(
    ("file", "strong"), [("SourceSansPro-Regular.otf", False), ("SourceSansPro-Semibold.otf", True)]
)
def test_widths_are_those_of_the_font(file: str, strong: bool) -> None:
    widths = advances(file)
    for code in (*range(32, 127), *map(ord, "éÀñüÇžŁ")):
        if chr(code) != "Ł":  # whose stroke is no accent
            expected = max(widths[code], 300) / 1000
            assert lettering.width_of(chr(code), 1, strong=strong) == pytest.approx(expected), chr(
                code
            )
    assert lettering.width_of("Wave", 10, strong=strong) == pytest.approx(
        sum(widths[ord(one)] for one in "Wave") / 100
    )


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        ("fuzz", ("fuzz",)),
        ("oak amplifier", ("oak", "amplifier")),
        ("a b c", ("a b c",)),
        ("one two three four five six seven", ("one two", "three fou…")),
        ("unbreakableandlong", ("unbreakabl", "eandlong")),
        ("tab\tand\nlines", ("tab and", "lines")),
        ("", ()),
    ],
)
def test_where_texts_are_broken(text: str, expected: tuple[str, ...]) -> None:
    # By hand, from the widths above: three is 2.221, a blank 0.2, fou 1.378 and … 0.965 wide.
    assert lettering.broken(text, 5.0, 1.0).lines == expected


# -- measured by other programs ------------------------------------------------------------------


HOSTILE = (
    "漢字と仮名でできたとても長い名前",
    "🎸🎛️ loud",
    "<b>&amp;</b>",
    "x" * 200,
    "﷽",
    "שלום עולם",
    "Größenwahn",
    "Усилитель",
)


def hostile() -> NightData:
    """Return a night whose units have names that nobody expects."""
    path = tuple(
        PathUnitData(unit=name, kind="effect", loop=at, effects_loop=False, within=None)
        for at, name in enumerate(HOSTILE, 1)
    )
    cables = tuple(
        PathCableData(source=one, source_side="out", target=other, target_side="in")
        for one, other in pairwise(HOSTILE)
    )
    return with_wiring(WiringData(path=path, path_cables=cables))


MEASURE = """() => [...document.querySelectorAll('svg')].map(svg => {
  const whole = svg.getBoundingClientRect();
  return [...svg.querySelectorAll('text')].map(text => {
    const box = text.getBoundingClientRect();
    return [text.textContent, box.left - whole.left, box.right - whole.left];
  });
})"""


@needs_browser
@pytest.mark.parametrize("font", ["Source Sans Pro", "none that is there"])
def test_a_browser_measures_the_same_widths(font: str) -> None:
    """With the font of the sheets and with any other, every label is as wide as the file says."""
    from playwright.sync_api import sync_playwright

    drawings = [one for night in NIGHTS for one in drawings_of(data_of(night))]
    drawings += drawings_of(hostile())
    faces = "".join(
        f"@font-face {{ font-family: 'Source Sans Pro'; font-weight: {weight}; "
        f"src: url('{(FONTS / file).as_uri()}'); }}"
        for weight, file in (
            (400, "SourceSansPro-Regular.otf"),
            (600, "SourceSansPro-Semibold.otf"),
        )
    )
    page_text = (
        "<!DOCTYPE html><meta charset=utf-8>"
        f"<style>{faces if font == 'Source Sans Pro' else ''} svg {{ display: block; }}</style>"
        + "".join(one.svg for one in drawings)
    )
    with tempfile.TemporaryDirectory() as folder, sync_playwright() as play:
        file = Path(folder) / "page.html"
        file.write_text(page_text, encoding="utf-8")
        browser = play.chromium.launch(
            executable_path=CHROMIUM,
            args=["--no-sandbox", "--disable-gpu", "--disable-background-networking"],
        )
        try:
            page = browser.new_page()
            page.goto(file.as_uri())
            page.evaluate("document.fonts.ready")
            measured = page.evaluate(MEASURE)
        finally:
            browser.close()
    assert len(measured) == len(drawings)
    millimetre = 96 / 25.4  # CSS Values and Units Level 3, 5.2
    for drawing, texts in zip(drawings, measured, strict=True):
        picture = read(drawing.svg)
        assert [text for text, _, _ in texts] == [one.area.what for one in picture.labels]
        for (text, left, right), label in zip(texts, picture.labels, strict=True):
            assert left / millimetre == pytest.approx(label.area.left, abs=0.3), text
            assert right / millimetre == pytest.approx(label.area.right, abs=0.3), text


@needs_poppler
@pytest.mark.parametrize("night", NIGHTS)
def test_the_printer_of_the_sheets_takes_them_and_prints_black(night: str) -> None:
    for one in drawings_of(data_of(night)):
        with tempfile.TemporaryDirectory() as folder:
            (Path(folder) / "one.svg").write_text(one.svg, encoding="utf-8")
            page = Path(folder) / "page.typ"
            page.write_text(
                "#set page(width: 210mm, height: 297mm, margin: 12mm)\n"
                '#set document(title: "drawing")\n'
                f'#image("one.svg", format: "svg", alt: {json.dumps(one.title)})\n',
                encoding="utf-8",
            )
            pdf = Path(folder) / "page.pdf"
            pdf.write_bytes(
                typst.compile(str(page), font_paths=[str(FONTS)], pdf_standards=["ua-1"])
            )
            text = subprocess.run(
                ["pdftotext", "-raw", str(pdf), "-"], check=True, capture_output=True
            ).stdout.decode()
            drawn = subprocess.run(
                ["pdftoppm", "-r", "60", str(pdf)], check=True, capture_output=True
            ).stdout
        for label in read(one.svg).labels:
            assert "".join(label.area.what.split()) in "".join(text.split())
        head, size, most, pixels = drawn.split(b"\n", 3)
        assert (head, most) == (b"P6", b"255")
        wide, high = map(int, size.split())
        assert len(pixels) == 3 * wide * high
        assert pixels[::3] == pixels[1::3] == pixels[2::3], "there is a colour"
        assert min(pixels) < 60, "there is no black"
