"""The preset sheet and the cue sheet: what they say, and what comes out on paper.

Texts are compared with goldens that a person can read. The pages are printed by a real browser
and read by real PDF tools: what is on which page, how high the letters are in ink, whether
anything is cut off.
"""

from __future__ import annotations

import csv
import io
import os
import re
import shutil
import subprocess
import sys
import tempfile
from collections import Counter
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from functools import cache
from html.parser import HTMLParser
from itertools import pairwise
from pathlib import Path

import pytest

from setwright.compiler.outputs import cue_sheet, cued, cues, preset_sheet
from setwright.compiler.outputs.collect import night_data
from setwright.compiler.outputs.cue_sheet import MAIN_MM, SECOND_MM, TITLE_MM, cue_sheet_files
from setwright.compiler.outputs.data import ByHandData, MomentData, NightData, SongData
from setwright.compiler.outputs.plain import FootData
from setwright.compiler.outputs.preset_sheet import COLUMNS, preset_sheet_files
from tests.conftest import DEMO, ROOT
from tests.nights import whole
from tests.pages import A4, STEM, Printed, assert_within_page, bare, in_points, needs_poppler

NIGHTS = ("granary", "parlour")
SHEETS = ("cue-sheet.html", "preset-sheet.html")

# One of everything: a kept switch, bank select, a relay, an assumed place, a stay, feet, a song
# straight after another, general scenes, scenes without a place, songs kept for requests.
SMALL_BOOK = {
    "board.yaml": """\
switcher: board
banks: 0 to 9
switches: A to E
loops: 3
relays: [hold]
each preset stores: {programs: 3, controls: 4, bank select: yes, names: 6}
""",
    "rig.yaml": """\
rig: Attic
switcher: {file: board.yaml, banks: 3 to 9, every bank: {switch E: Tuner}}
units:
  swell: {by foot: [closed, open], at start: open}
  booster: {by foot: [resting, boosting], at rest: resting}
  squeezer: {loop: 1}
  choir:
    loop: 2
    channel: 4
    display: 1 to 512
    bank select: {by: msb and lsb}
    programs: {wide: 300, narrow: 5}
  echo:
    channel: 9
    switched by: {cc: 28, on: 127, off: 0}
    time: {cc: 20, linear: 20 ms to 1290 ms, at rest: 400 ms}
  amp: {is: amplifier, relay: {number: 1, open: clean, closed: crunch}}
effects:
  press: squeezer
  wide: {choir: wide}
  narrow: {choir: narrow}
  long echo: echo
  crunch: {amp: crunch}
  boost: {booster: boosting}
general:
  Plain: [press]
  Loud: [press, crunch, boost]
path:
  - [guitar, swell, booster, squeezer, choir, echo, amp]
midi:
  - [switcher, choir, echo]
""",
    "songs.yaml": """\
songs:
- title: The Lighthouse
  key: B♭ major
  meter: 6/8
  tempo: dotted quarter = 96
  form: AB, 4 rounds
  guitar: steel, capo 2
  note: mind the cable
  scenes:
    Calm: [press]
    Beam: {effects: [press, wide, long echo], echo: dotted quarter}
    Storm: {like: Beam, add: crunch}
    Spare: [narrow]
  order:
  - Calm: {cue: lamp on, foot: swell closed}
  - Calm: {at: round 1 B, foot: swell open}
  - Beam
  - Storm: {at: round 4 A, cue: everybody}
- title: Cliff Walk
  key: F♯ minor
  meter: 4/4
  tempo: quarter = 100
  lasts: 2:00
  scenes:
    Calm: [press]
    Edge: [press, narrow]
    Brink: [press, wide]
  order:
  - Calm
  - Edge: "1:05"
  - Brink: "1:30"
- title: Tide
- title: Gull
  id: gull two
  guitar: steel
  scenes:
    Low: [press]
    High: [press, crunch]
- title: Rest
""",
    "night.yaml": """\
night: Soup & song
date: 6 January
rig: rig.yaml
songs: songs.yaml
note: the <b>stairs</b> are steep
sets:
- name: First half
  at most: 30 min
  note: lamps low
  play:
  - The Lighthouse
  - straight into: Cliff Walk
- play: [Tide, {song: Gull, capo: 3}]
if asked: [Rest]
""",
}

BLOCKS = {"section", "header", "article", "table", "tr", "ul", "li", "p", "div", "h1", "h2", "h3"}
VOID = {"meta", "br"}


@cache
def small() -> NightData:
    """Return the small book, compiled; it is without findings."""
    with tempfile.TemporaryDirectory() as folder:
        for name, text in SMALL_BOOK.items():
            (Path(folder) / name).write_text(text, encoding="utf-8")
        compiled = whole(Path(folder) / "night.yaml")
    assert [finding.message for finding in compiled.findings] == []
    return night_data(compiled)


@cache
def demo(night: str) -> NightData:
    return night_data(whole(DEMO / f"{night}-night.yaml"))


@cache
def sheets(night: str) -> dict[str, bytes]:
    """Return all sheets of a night of the demo, or of the small book."""
    data = small() if night == "small" else demo(night)
    return preset_sheet_files(data) | cue_sheet_files(data)


def page(night: str, name: str) -> str:
    return sheets(night)[name].decode("utf-8")


@dataclass
class Reader(HTMLParser):
    """Reads a page: its text as a person meets it, and every element with its attributes."""

    lines: list[str] = field(default_factory=lambda: [""])
    elements: list[tuple[str, dict[str, str | None]]] = field(default_factory=list)
    open: list[str] = field(default_factory=list)

    def __post_init__(self) -> None:
        super().__init__(convert_charrefs=True)

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.elements.append((tag, dict(attrs)))
        if tag not in VOID:
            self.open.append(tag)
        if tag in BLOCKS:
            self.lines.append("# " if tag in {"h1", "h2", "h3"} else "")
        elif tag in {"td", "th"}:
            self.lines[-1] += " | " if self.lines[-1] else ""
        elif tag == "br":
            self.lines[-1] += " "

    def handle_endtag(self, tag: str) -> None:
        assert self.open.pop() == tag, f"</{tag}> closes something else"
        if tag in BLOCKS:
            self.lines.append("")

    def handle_data(self, data: str) -> None:
        if "head" not in self.open:
            self.lines[-1] += data

    @property
    def text(self) -> str:
        lines = (" ".join(line.split()).strip("| ") for line in self.lines)
        return "\n".join(line for line in lines if line.strip("#")) + "\n"


def read(html: str) -> Reader:
    reader = Reader()
    reader.feed(html)
    reader.close()
    assert reader.open == []
    return reader


# What they say


@pytest.mark.parametrize("name", SHEETS)
def test_a_small_book(name: str, golden: Callable[[str, str], None]) -> None:
    golden(f"{name.removesuffix('.html')}.txt", read(page("small", name)).text)


def test_a_small_book_as_a_table(golden: Callable[[str, str], None]) -> None:
    golden("preset-sheet.csv", sheets("small")["preset-sheet.csv"].decode("utf-8"))


@pytest.mark.parametrize("night", NIGHTS)
def test_every_press_of_the_night_is_on_the_cue_sheet_in_its_order(night: str) -> None:
    data = demo(night)
    text = read(page(night, "cue-sheet.html")).text.replace(" (assumed)", "")
    found = [line for line in text.splitlines() if re.search(r" \| (switch \d|stay) \| ", line)]
    expected = []
    for song in data.songs:
        for moment in song.moments:
            scene = data.scene(song.owner, moment.scene)
            place = scene.place
            assert place is not None
            words = [
                (moment.place or "").removeprefix("the "),
                "stay" if moment.stay else f"switch {place.switch_shown}",
                moment.scene,
                " ".join(filter(None, [moment.cue, scene.note, *map(str, moment.feet)])),
            ]
            expected.append(" | ".join(filter(None, words)))
    assert found == expected
    assert len(expected) > 80


@pytest.mark.parametrize("night", NIGHTS)
def test_guessed_places_are_marked_and_no_others(night: str) -> None:
    guessed = sum(
        moment.assumed and moment.place != "the beginning"
        for song in demo(night).songs
        for moment in song.moments
    )
    assert page(night, "cue-sheet.html").count("(assumed)") == guessed > 0


@pytest.mark.parametrize("night", NIGHTS)
def test_every_preset_is_in_the_table_slot_by_slot(night: str) -> None:
    data = demo(night)
    text = sheets(night)["preset-sheet.csv"].decode("utf-8")
    rows = list(csv.DictReader(io.StringIO(text)))
    assert tuple(rows[0]) == COLUMNS
    slots = {
        (row["bank"], row["switch"], row["what"], row["number"]): (
            row["unit"], row["channel"], row["display"], row["on the wire"], row["value"],
        )
        for row in rows
        if row["what"] in {"program", "control"} and row["meaning"] != "empty"
    }  # fmt: skip
    assert slots == {
        (preset.place.bank_shown, preset.place.switch_shown, slot.kind, str(slot.slot)): (
            slot.unit,
            str(slot.channel),
            slot.shown or "",
            str(slot.number),
            "" if slot.value is None else str(slot.value),
        )
        for preset in data.presets
        for slot in (*preset.programs, *preset.controls)
    }
    loops = {
        (row["bank"], row["switch"], int(row["number"]))
        for row in rows
        if row["what"] == "loop" and row["meaning"] == "in"
    }
    assert loops == {
        (preset.place.bank_shown, preset.place.switch_shown, loop)
        for preset in data.presets
        for loop in preset.loops
    }
    # What was stored in the other slots before has to go.
    filled_or_empty = Counter(row["what"] for row in rows)
    assert filled_or_empty["program"] == len(data.presets) * data.switcher.holds_programs
    assert filled_or_empty["control"] == len(data.presets) * data.switcher.holds_controls
    assert filled_or_empty["kept"] == len({preset.place.bank for preset in data.presets})


def song_of(number: int, title: str, moments: tuple[MomentData, ...] = (), **more: str) -> SongData:
    """Return a song like the first of the small book."""
    first = small().songs[0]
    changed = {"number": number, "title": title, **more}
    return first.model_copy(update=changed | ({"moments": moments} if moments else {}))


def night_of(*songs: SongData, **more: str) -> NightData:
    """Return the small book with one set of these songs instead of its own."""
    numbers = tuple(song.number for song in songs)
    one = small().sets[0].model_copy(update={"songs": numbers})
    return small().model_copy(update={"songs": songs, "sets": (one,), **more})


def test_a_bank_is_framed_where_the_player_has_to_move() -> None:
    sheet = cues.sheet_of(small())
    banks = [(song.bank.shown, song.bank.moves) for one in sheet.sets for song in one.songs]
    # Nobody knows where the switcher stands after the break.
    assert banks == [("2", True), ("3", True), ("3", True), ("3", False)]
    assert page("small", "cue-sheet.html").count('class="title bank moves"') == 4


def test_what_the_foot_leaves_on_is_put_back_after_the_song() -> None:
    sheet = cues.sheet_of(demo("parlour"))
    songs = [song for one in sheet.sets for song in one.songs]
    assert sheet.feet == ("booster resting",)
    straight = 0
    for song in songs:
        moves = [move for press in song.presses for move in press.feet]
        back = ("booster resting",) if moves[-1:] == ["booster boosting"] else ()
        if song.onward is not None and song.onward.straight and back:
            # There is no time after the last note: it stands at the next press.
            straight += 1
            onward = songs[song.number]
            assert (song.afterwards, onward.presses[0].feet) == ((), back), song.title
        else:
            assert song.afterwards == back, song.title
    assert straight
    assert sum(bool(song.afterwards) for song in songs) > 5
    text = read(page("parlour", "cue-sheet.html")).text
    assert "before every song: booster resting" in text
    assert "after the last note | booster resting" in text


def test_what_no_message_can_set_is_set_before_the_night() -> None:
    night = night_of(small().songs[0]).model_copy(
        update={
            "set_by_hand": (ByHandData(unit="drone", quantity="switch", value="on"),),
            "feet_at_start": {"heel": "closed"},
        }
    )
    assert cues.sheet_of(night).before == ("heel closed", "drone on")
    html = cue_sheet.cue_sheet_files(night)["cue-sheet.html"].decode("utf-8")
    assert "when the night begins: heel closed, drone on" in read(html).text


def test_a_bank_that_changes_within_a_song_is_said_between_its_lines() -> None:
    data = small()
    scenes = tuple(
        scene.model_copy(
            update={
                "place": scene.place.model_copy(update={"bank": 9, "bank_shown": "8"})
                if scene.scene == "Storm" and scene.place is not None
                else scene.place
            }
        )
        for scene in data.scenes
    )
    text = read(
        cue_sheet_files(data.model_copy(update={"scenes": scenes}))["cue-sheet.html"].decode()
    ).text
    lines = text.splitlines()
    storm = next(index for index, line in enumerate(lines) if "| Storm |" in line)
    assert lines[storm - 1] == "now bank 8"


# Hostile and unusual texts

ODD = [
    "<script>alert(1)</script>",
    "</style></title><img src=x onerror=alert(1)>",
    "{{ 7 * 7 }}{% raw %}",
    "=1+1",
    '"><b onclick="x">',
    "&amp; &lt;",
    "שיר הים",
    "Lied 🎸👩‍🎤",
    "Ça, où B♭ et F♯",
    "a" * 200,
]


@pytest.mark.parametrize("odd", ODD)
def test_an_odd_text_is_shown_as_it_is_and_does_nothing(odd: str) -> None:
    song = song_of(1, odd, id=odd, owner=odd, key=odd, guitar=odd, note=odd)
    moments = tuple(
        moment.model_copy(update={"cue": odd, "feet": (FootData(unit=odd, position=""),)})
        for moment in song.moments
    )
    song = song.model_copy(update={"moments": moments})
    scenes = tuple(
        scene.model_copy(update={"song": odd if scene.song == "The Lighthouse" else scene.song})
        for scene in small().scenes
    )
    presets = tuple(
        preset.model_copy(update={"name": odd, "scenes": ((odd, "Calm"),)})
        for preset in small().presets[:1]
    )
    data = night_of(song, night=odd, rig=odd, note=odd).model_copy(
        update={"scenes": scenes, "presets": presets}
    )
    plain = night_of(song_of(1, "plain")).model_copy(update={"presets": small().presets[:1]})
    for files, usual in (
        (cue_sheet_files(data), cue_sheet_files(plain)),
        (preset_sheet_files(data), preset_sheet_files(plain)),
    ):
        (name,) = files.keys() & set(SHEETS)
        reader = read(files[name].decode("utf-8"))
        # Nothing of it has become markup: no element that the templates do not write.
        assert {tag for tag, _ in reader.elements} <= {
            tag for tag, _ in read(usual[name].decode()).elements
        } | {"b", "br"}
        assert not [
            name
            for _, attributes in reader.elements
            for name in attributes
            if name.startswith("on")
        ]
        assert reader.text.count(odd) >= 3
    row = next(
        csv.DictReader(io.StringIO(preset_sheet_files(data)["preset-sheet.csv"].decode("utf-8")))
    )
    assert row["preset"].removeprefix("'").startswith(odd[:4])
    assert not row["preset"].startswith(("=", "+", "-", "@"))


def test_what_turns_the_reading_direction_is_shown_escaped() -> None:
    data = night_of(song_of(1, "abc\u202edcba\u2066 \x1b[31m tab\there"))
    text = cue_sheet_files(data)["cue-sheet.html"].decode("utf-8")
    assert "abc\\u202edcba\\u2066 \\x1b[31m tab here" in text
    assert not re.search("[\u202a-\u202e\u2066-\u2069\u200e\u200f\x1b]", text)


@pytest.mark.parametrize(
    ("cell", "written"),
    [
        ("=1+1", "'=1+1"),
        ("+1", "'+1"),
        ("-1", "'-1"),
        ("@a", "'@a"),
        ("01-2", "'01-2"),
        ("a=1", "a=1"),
    ],
)
def test_no_cell_is_a_formula_or_a_date(cell: str, written: str) -> None:
    preset = small().presets[0].model_copy(update={"name": cell})
    data = small().model_copy(update={"presets": (preset,)})
    rows = csv.DictReader(io.StringIO(preset_sheet_files(data)["preset-sheet.csv"].decode("utf-8")))
    assert next(rows)["preset"] == written


def test_two_songs_of_one_title_are_told_apart_by_their_numbers() -> None:
    twin = small().songs[3].model_copy(update={"title": "The Lighthouse"})
    songs = tuple(twin if song.id == twin.id else song for song in small().songs)
    uses = [
        use.song
        for bank in preset_sheet.sheet_of(small().model_copy(update={"songs": songs})).banks
        for preset in bank.presets
        for use in preset.uses
    ]
    assert {"1 The Lighthouse", "4 The Lighthouse", "Cliff Walk"} <= set(uses)


# The pages as such


@pytest.mark.parametrize("night", [*NIGHTS, "small"])
@pytest.mark.parametrize("name", SHEETS)
def test_a_page_loads_nothing_runs_nothing_and_can_be_read_aloud(night: str, name: str) -> None:
    html = page(night, name)
    reader = read(html)
    tags = [tag for tag, _ in reader.elements]
    assert not {"script", "link", "img", "image", "use", "iframe", "object", "base", "form"} & set(
        tags
    )
    loading = {"src", "href", "srcset", "data", "action", "background", "style"}
    assert not [attrs for _, attrs in reader.elements if loading & attrs.keys()]
    assert not re.search(r"url\(|@import|@font-face|https?:", html)
    policy = [attrs["content"] for _, attrs in reader.elements if "http-equiv" in attrs]
    assert policy == ["default-src 'none'; style-src 'unsafe-inline'"]
    assert reader.elements[0] == ("html", {"lang": "en"})
    assert tags.count("h1") == 1
    levels = [int(tag[1]) for tag in tags if re.fullmatch("h[1-6]", tag)]
    assert all(after - before <= 1 for before, after in pairwise(levels))
    assert all("scope" in attrs for tag, attrs in reader.elements if tag == "th")


def test_the_same_night_gives_the_same_bytes() -> None:
    program = (
        "import sys; from tests.test_sheets import sheets; "
        "sys.stdout.buffer.write(repr(sheets('small')).encode())"
    )
    for seed in ("1", "2"):
        ended = subprocess.run(
            [sys.executable, "-c", program],
            capture_output=True,
            cwd=ROOT,
            env={**os.environ, "PYTHONHASHSEED": seed},
            check=True,
        )
        assert ended.stdout == repr(sheets("small")).encode()


def luminance(colour: str) -> float:
    """Return the relative luminance of ``#rgb`` or ``#rrggbb``: WCAG 2.2, definitions."""
    digits = colour.removeprefix("#")
    if len(digits) == 3:
        digits = "".join(digit * 2 for digit in digits)
    channels = [int(digits[at : at + 2], 16) / 255 for at in (0, 2, 4)]
    red, green, blue = (
        channel / 12.92 if channel <= 0.04045 else ((channel + 0.055) / 1.055) ** 2.4
        for channel in channels
    )
    return 0.2126 * red + 0.7152 * green + 0.0722 * blue


def contrast(one: str, other: str) -> float:
    """Return the contrast ratio of two colours: WCAG 2.2, definitions."""
    dark, light = sorted((luminance(one), luminance(other)))
    return (light + 0.05) / (dark + 0.05)


def test_contrast() -> None:
    # The definition's own ends, and pure blue on black, which nobody can read.
    assert contrast("#000", "#fff") == pytest.approx(21)
    assert contrast("#00f", "#000") == pytest.approx(2.44, abs=0.01)
    for name in SHEETS:
        styles = page("small", name)
        pairs = re.findall(r"--ink: (#\w+);\s*--paper: (#\w+);", styles)
        assert pairs == [("#000", "#fff"), ("#f2f2f2", "#000")]
        # No other colour stands anywhere, so nothing can be told by colour.
        assert set(re.findall(r"#[0-9a-fA-F]{3,8}\b", styles)) == {"#000", "#fff", "#f2f2f2"}
        assert not re.search(r"\b(rgba?|hsla?|opacity|red|blue|green|gr[ae]y)\b", styles)
        assert min(contrast(*pair) for pair in pairs) > 18  # SC 1.4.6 wants 7


# On paper

CHROMIUM = next(filter(None, map(shutil.which, ("chromium", "chromium-browser"))), None)
needs_browser = pytest.mark.skipif(CHROMIUM is None, reason="chromium is not installed")


@pytest.fixture(scope="module")
def printed(tmp_path_factory: pytest.TempPathFactory) -> Callable[[str], Printed]:
    """Print pages with a browser, each only once."""
    known: dict[str, Printed] = {}

    def print_page(html: str) -> Printed:
        if html not in known:
            folder = tmp_path_factory.mktemp("printed")
            (folder / "sheet.html").write_text(html, encoding="utf-8")
            assert CHROMIUM is not None
            subprocess.run(
                [
                    CHROMIUM, "--headless", "--no-sandbox", "--disable-gpu", "--disable-quic",
                    "--no-first-run", "--disable-background-networking",
                    "--disable-component-update", "--disable-sync",
                    f"--user-data-dir={folder / 'profile'}", "--no-pdf-header-footer",
                    f"--print-to-pdf={folder / 'sheet.pdf'}", (folder / "sheet.html").as_uri(),
                ],
                capture_output=True,
                check=True,
                timeout=60,
            )  # fmt: skip
            known[html] = Printed(folder / "sheet.pdf")
        return known[html]

    return print_page


SIGNS = ("♭", "♯", "É", "ñ", "ß", "→", "ő", "’")


@pytest.fixture(scope="module")
def unusual(printed: Callable[[str], Printed]) -> Printed:
    """Return a night of unusual songs, printed: signs, long texts, many presses."""
    first = small().songs[0].moments[0]
    calm = first.model_copy(update={"scene": "Heel", "assumed": False, "feet": ()})
    cue = " ".join(f"Hey{number}" for number in range(40))
    places = (f"bar {bar}" for bar in range(11, 35))
    songs = (
        song_of(1, " ".join(SIGNS), (first.model_copy(update={"scene": "nui"}),)),
        song_of(2, "Long cue", (calm.model_copy(update={"cue": cue, "feet": ()}),)),
        song_of(3, " ".join(f"Hut{number}" for number in range(12)), (calm,)),
        song_of(
            4,
            "Endless Reel",
            tuple(calm.model_copy(update={"place": at, "position": at}) for at in places),
        ),
        song_of(5, "After It", (calm,)),
    )
    scenes = tuple(
        scene.model_copy(update={"scene": name})
        for scene in small().scenes
        if scene.scene == "Calm"
        for name in ("nui", "Heel")
    )
    both = (song.model_copy(update={"scenes": ("nui", "Heel")}) for song in songs)
    data = night_of(*both).model_copy(update={"scenes": scenes})
    return printed(cue_sheet_files(data)["cue-sheet.html"].decode("utf-8"))


on_paper = [needs_browser, needs_poppler]
Print = Callable[[str], Printed]


class TestOnPaper:
    pytestmark = on_paper

    @pytest.mark.parametrize("night", NIGHTS)
    @pytest.mark.parametrize("name", SHEETS)
    def test_nothing_is_cut_off_and_pages_are_a4(
        self, printed: Print, night: str, name: str
    ) -> None:
        pdf = printed(page(night, name))
        upright = name == "preset-sheet.html"
        for number, (width, height) in enumerate(pdf.sizes):
            assert (width, height) == pytest.approx(A4 if upright else A4[::-1], abs=0.5)
            assert pdf.words[number], f"page {number + 1} is empty"
        assert_within_page(pdf, name)
        for number in range(0, len(pdf.sizes), 9):
            assert pdf.picture(number).margin_is_blank(6)

    @pytest.mark.parametrize("night", NIGHTS)
    def test_every_press_is_on_paper_and_a_song_on_one_page(
        self, printed: Print, night: str
    ) -> None:
        pdf = printed(page(night, "cue-sheet.html"))
        sheet = cues.sheet_of(demo(night))
        songs = [song for one in sheet.sets for song in one.songs] + list(sheet.asked)
        where = [pages_of(pdf, song) for song in songs]
        assert where == sorted(where)
        # Hardly any is parted, even in the widest of the usual faces.
        assert sum(len(pages) > 1 for pages in where) <= 1
        # A cover, a page for each set, and a page for a song.
        assert len(pdf.texts) <= 1 + len(sheet.sets) + len(songs) + 1

    @pytest.mark.parametrize(("night", "step"), [("granary", 1), ("parlour", 3)])
    def test_letters_are_as_high_as_they_must_be(
        self, printed: Print, night: str, step: int
    ) -> None:
        """At 1.7 m, 20′ is 9.9 mm and 16′ is 7.9 mm: ISO 9241-3:1992, 5.4; NUREG-0700, 1.3.1-4.

        A point of the picture more or less is 0.13 mm.
        """
        pdf = printed(page(night, "cue-sheet.html"))
        sheet = cues.sheet_of(demo(night))
        main, all_of_them = [], []
        for song in [song for one in sheet.sets for song in one.songs][::step]:
            heights: dict[str, list[float]] = {}
            for number in pages_of(pdf, song):
                for word in filter(lambda one: STEM.match(one.text), pdf.words[number]):
                    heights.setdefault(word.text, []).append(pdf.height(number, word))
            scenes = Counter(press.scene for press in song.presses)
            switches = Counter(press.switch for press in song.presses if not press.stay)
            for text, count in [*scenes.items(), *switches.items()]:
                if STEM.match(text):
                    high = [height for height in heights[text] if height >= 9.9]
                    assert len(high) >= count, (song.title, text, heights)
                    main += high
            all_of_them += [height for one in heights.values() for height in one]
        assert len(main) > 60 / step
        assert max(main) < MAIN_MM + 0.13
        assert min(all_of_them) > SECOND_MM - 0.26
        assert min(all_of_them) > 7.9 - 0.13

    @pytest.mark.parametrize(
        ("face", "ratio", "adjusts"),
        [
            # Unadjusted, capitals are as high as the face has them: the extremes of usual faces.
            ("Liberation Sans", 0.688, False),
            ("Liberation Sans", 0.7, True),
            ("DejaVu Sans", 0.729, False),
        ],
    )
    def test_any_face_is_high_enough(
        self, printed: Print, face: str, ratio: float, adjusts: bool
    ) -> None:
        installed = subprocess.run(
            ["fc-list", "--format=%{family}", face], capture_output=True, check=True
        ).stdout
        if not installed:
            pytest.skip(f"the face {face} is not installed")
        html = page("small", "cue-sheet.html").replace("system-ui, sans-serif", f"'{face}'")
        if not adjusts:
            html, count = re.subn(r"font-size-adjust: [^;]*;", "", html)
            assert count == 1
        pdf = printed(html)
        heights = [
            pdf.height(number, word)
            for number, words in enumerate(pdf.words)
            for word in words
            if word.text in {"Edge", "Beam", "Low", "Brink"}
        ]
        assert heights == [pytest.approx(MAIN_MM * ratio / 0.7, abs=0.15)] * 4
        assert min(heights) > 9.9

    def test_lower_case_keeps_sixteen_minutes_in_the_main_lines(self, unusual: Printed) -> None:
        """DIN 1450:2013 sizes by the x-height."""
        heights = [unusual.height(*found) for found in unusual.find("nui")]
        assert len(heights) == 5
        assert min(heights) > 7.9

    @pytest.mark.parametrize(("stem", "height"), [("Hey", SECOND_MM), ("Hut", TITLE_MM)])
    def test_lines_are_far_enough_apart(self, unusual: Printed, stem: str, height: float) -> None:
        """135 to 170 % of the height of capitals: 2010 ADA Standards, 703.5.9."""
        (number,) = [
            n
            for n, text in enumerate(unusual.texts)
            if f"{stem}1{stem}2" in text and "bank2" in text and "songs" not in text
        ]
        lines = sorted(
            {round(word.top, 1) for word in unusual.words[number] if word.text.startswith(stem)}
        )
        gaps = [after - before for before, after in pairwise(lines)]
        assert len(gaps) >= 2
        assert all(1.35 <= gap / height <= 1.7 for gap in gaps), gaps

    def test_a_song_longer_than_a_page_repeats_title_and_bank(self, unusual: Printed) -> None:
        pages = [
            text for text in unusual.texts if "4EndlessReelbank2" in text and "songs" not in text
        ]
        assert len(pages) >= 3
        said = [re.findall(r"bar(\d\d)AHeel", text) for text in pages]
        assert [int(bar) for bars in said for bar in bars] == list(range(11, 35))
        assert all(said)
        assert "5AfterItbank2" in unusual.texts[-1]

    def test_signs_and_accents_are_drawn(self, unusual: Printed) -> None:
        """A sign that no face has would be drawn as the same box as all the others."""
        shapes = []
        for sign in SIGNS:
            number, word = unusual.find(sign)[-1]
            picture = unusual.picture(number)
            left, top, right, bottom = in_points(word)
            assert picture.has_ink(left, top, right, bottom), sign
            shapes.append(tuple(picture.row(y, left, right) for y in range(top, bottom)))
        assert len(set(shapes)) == len(SIGNS)

    @pytest.mark.parametrize("night", NIGHTS)
    def test_no_preset_is_parted_and_every_page_says_night_rig_and_bank(
        self, printed: Print, night: str
    ) -> None:
        data = demo(night)
        pdf = printed(page(night, "preset-sheet.html"))
        articles = re.findall(r"<article.*?</article>", page(night, "preset-sheet.html"), re.DOTALL)
        assert len(articles) == len(data.presets)
        at = -1
        for article in articles:
            text = bare(read(article).text.replace("# ", "").replace("|", ""))
            pages = [n for n, one in enumerate(pdf.texts) if text in one and n >= at]
            assert pages, f"parted: {read(article).text}"
            at = pages[0]
        head = re.compile(r"Bank\d+" + re.escape(bare(f"{data.night}, rig {data.rig}")))
        first = next(n for n, text in enumerate(pdf.texts) if head.search(text))
        assert all(head.search(text) for text in pdf.texts[first:])
        # Boxes, drawings, and what to type in which order come before the banks.
        assert len(pdf.texts) - first <= len(data.presets) / 4 + 1
        assert first <= 6

    def test_a_preset_that_is_full_is_not_parted_either(self, printed: Print) -> None:
        """Twelve programs with bank selects and twelve controls in each of eight presets."""
        full = next(preset for preset in small().presets if preset.programs and preset.controls)
        programs = tuple(full.programs[0].model_copy(update={"slot": n}) for n in range(1, 13))
        controls = tuple(full.controls[0].model_copy(update={"slot": n}) for n in range(1, 13))
        presets = tuple(
            full.model_copy(
                update={
                    "programs": programs,
                    "controls": controls,
                    "name": f"Full{number:02d}",
                    "place": full.place.model_copy(update={"switch": number}),
                }
            )
            for number in range(1, 9)
        )
        html = preset_sheet_files(small().model_copy(update={"presets": presets}))
        pdf = printed(html["preset-sheet.html"].decode("utf-8"))
        first = next(n for n, text in enumerate(pdf.texts) if "Bank2Soup" in text)
        banks = pdf.texts[first:]
        for number in range(1, 9):
            (text,) = [text for text in banks if f"Full{number:02d}" in text]
            after = text.partition(f"Full{number:02d}")[2].partition("Full")[0]
            assert after.count("afterbankselect") == 12
            assert after.count("control20") == 12
        assert all("Bank2Soup&song,rigAttic" in text for text in banks)

    def test_the_longest_names_stay_on_the_page(self, printed: Print) -> None:
        """Two hundred letters, as many as a name may have, in one word and in many."""
        word, words = "W" * 200, ("Wide and " * 22).strip()
        songs = []
        for number, long in enumerate((word, words), 1):
            song = song_of(number, long, guitar=long, note=long)
            moments = (
                one.model_copy(update={"cue": long, "feet": (FootData(unit=long, position=""),)})
                for one in song.moments
            )
            songs.append(song.model_copy(update={"moments": tuple(moments)}))
        switcher = small().switcher.model_copy(
            update={"loop_units": {"1": word, "2": words}, "kept": {"E": word}}
        )
        presets = [
            preset.model_copy(update={"name": long, "scenes": ((None, long),)})
            for preset, long in zip(small().presets, (word, words), strict=False)
        ]
        data = night_of(*songs, night=word, rig=words, note=word)
        scenes = [
            scene.model_copy(update={"song": None, "scene": long})
            for scene, long in zip(small().scenes, (word, words), strict=False)
        ]
        data = data.model_copy(
            update={
                "presets": tuple(presets),
                "switcher": switcher,
                "scenes": (*data.scenes, *scenes),
            }
        )
        for files in (cue_sheet_files(data), preset_sheet_files(data)):
            (name,) = files.keys() & set(SHEETS)
            assert_within_page(printed(files[name].decode("utf-8")), name)


def pages_of(pdf: Printed, song: cued.Card) -> list[int]:
    """Return the pages, counted from 0, on which everything of a song stands in its order.

    They follow one another, and each begins with title and bank.
    """
    title = bare(f"{song.number or ''}{song.title}bank{song.bank.shown}")
    lines = [*song.facts, song.note]
    for press in song.presses:
        where = press.where + ("(assumed)" if press.assumed else "")
        switch = "stay" if press.stay else press.switch
        lines.append(f"{where}{switch}{press.scene}{press.cue}{''.join(press.feet)}")
    lines += [f"{choice.switch}{choice.scene}{''.join(choice.feet)}" for choice in song.choices]
    lines += [f"after the last note{move}" for move in song.afterwards]
    if song.onward is not None and song.onward.straight:
        onward = song.onward
        by = f"({onward.bank.presses})" if onward.bank.presses else ""
        lines.append(
            f"straight into {onward.number}{onward.title}: "
            f"bank{onward.bank.shown}{by}, press {onward.switch}"
            f"{f'; guitar: {onward.gear}' if onward.gear else ''}"
        )
    for count in (1, 2, 3):
        for first in range(len(pdf.texts) - count + 1):
            texts = pdf.texts[first : first + count]
            if all(title in text for text in texts) and in_order(
                "".join(texts), map(bare, [title, *lines])
            ):
                return list(range(first, first + count))
    raise AssertionError((song.title, lines))


def in_order(text: str, parts: Iterator[str]) -> bool:
    """Tell whether ``parts`` stand in ``text`` one after the other."""
    at = 0
    for part in parts:
        found = text.find(part, at)
        if found < 0:
            return False
        at = found + len(part)
    return True
