"""The sheets as PDF, read by tools that had no part in making them.

How high the letters are in ink, what stands on which page, whether a bank and switch that is read
back from paper is the one that the MIDI files load, what is shown of hostile texts, and that the
same night gives the same bytes.
"""

from __future__ import annotations

import io
import re
import subprocess
import sys
from collections.abc import Iterator, Mapping
from functools import cache
from itertools import pairwise
from math import atan, degrees, hypot
from pathlib import Path

import mido
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from setwright.compiler.outputs import cues, paper, pdf, preset_sheet
from setwright.compiler.outputs.build import output_files
from setwright.compiler.outputs.collect import night_data
from setwright.compiler.outputs.cued import Card
from setwright.compiler.outputs.data import NightData, SongData
from setwright.compiler.outputs.midi_file import midi_files
from setwright.compiler.outputs.names import stem_of_song
from setwright.compiler.outputs.paper import paper_files
from setwright.compiler.outputs.plain import FootData
from tests.conftest import DEMO, ROOT
from tests.nights import whole
from tests.pages import A4, STEM, Printed, bare, needs_poppler
from tests.test_sheets import night_of as sheets_of
from tests.test_sheets import small, song_of

NIGHTS: Mapping[str, Path] = {
    "granary": DEMO / "granary-night.yaml",
    "parlour": DEMO / "parlour-night.yaml",
    "boathouse": ROOT / "tests" / "boathouse" / "boathouse-night.yaml",
    "rowboat": ROOT / "tests" / "boathouse" / "rowboat-night.yaml",
}
LETTER = (215.9, 279.4)
"""ANSI/ASME Y14.1, size A: 8.5 × 11 in, in mm."""

UPRIGHT = {"cue-sheet-strip.pdf", "band-list.pdf", "preset-sheet.pdf", "preset-sheet-by-bank.pdf"}
LYING = {"cue-sheet-floor.pdf", "cue-sheet-beside.pdf"}

pytestmark = needs_poppler


@cache
def data_of(night: str) -> NightData:
    return night_data(whole(NIGHTS[night]))


@cache
def papers(night: str, paper: str = "a4") -> dict[str, bytes]:
    made = paper_files(data_of(night), paper)
    assert made.notices == ()
    return made.files


@pytest.fixture(scope="module")
def opened(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Opener]:
    yield Opener(tmp_path_factory.mktemp("paper"))


def night_of(*songs: SongData, **more: str) -> NightData:
    """Return the small book with these songs, and no presets, which belong to its own."""
    return sheets_of(*songs, **more).model_copy(update={"presets": (), "typing": ()})


class Opener:
    """Opens PDFs with poppler, each only once."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        self.known: dict[bytes, Printed] = {}

    def __call__(self, content: bytes) -> Printed:
        if content not in self.known:
            path = self.folder / f"{len(self.known)}.pdf"
            path.write_bytes(content)
            self.known[content] = Printed(path)
        return self.known[content]

    def tool(self, *command: str, content: bytes) -> str:
        """Return what a tool prints of a PDF."""
        path = str(self(content).path)
        made = subprocess.run([*command, path], capture_output=True, check=True, timeout=60)
        return made.stdout.decode("utf-8", errors="replace")


# Size and pages


@pytest.mark.parametrize("night", NIGHTS)
@pytest.mark.parametrize(("paper", "size"), [("a4", A4), ("letter", LETTER)])
def test_paper_and_margins(
    opened: Opener, night: str, paper: str, size: tuple[float, float]
) -> None:
    files = papers(night, paper)
    assert files.keys() == UPRIGHT | LYING
    for name, content in files.items():
        page = opened(content)
        wanted = size[::-1] if name in LYING else size
        for number, found in enumerate(page.sizes):
            assert found == pytest.approx(wanted, abs=0.2), name
            assert page.words[number], f"{name}: page {number + 1} is empty"
        for words, (width, height) in zip(page.words, page.sizes, strict=True):
            for word in words:
                assert 3 < word.left < word.right < width - 3, (name, word)
                assert word.top > -1 and word.bottom < height - 1, (name, word)
        for number in range(0, len(page.sizes), 5):
            assert page.picture(number).margin_is_blank(3), (name, number)


def test_how_many_pages(opened: Opener) -> None:
    """A night on the floor takes about a page for two songs, a set on the strip one."""
    pages = {name: len(opened(content).sizes) for name, content in papers("granary").items()}
    assert pages["cue-sheet-floor.pdf"] <= 14
    assert pages["cue-sheet-strip.pdf"] == 2
    assert pages["preset-sheet.pdf"] <= 8


@pytest.mark.parametrize("night", NIGHTS)
def test_a_song_stands_on_one_page(opened: Opener, night: str) -> None:
    sheet = cues.sheet_of(data_of(night))
    page = opened(papers(night)["cue-sheet-floor.pdf"])
    at = 0
    for song in (*(song for one in sheet.sets for song in one.songs), *sheet.asked):
        head = head_of(song)
        begins = [n for n, text in enumerate(page.texts) if head.search(text) and n >= at]
        assert begins, song.title
        at = begins[0]
        found = head.search(page.texts[at])
        assert found is not None
        text = page.texts[at][found.end() :]
        marks = [
            bare(f"{'stay' if press.stay else press.switch}{press.scene}{press.brief}")
            for press in song.presses
            if press.scene
        ]
        marks += [bare(f"{choice.switch}{choice.scene}") for choice in song.choices]
        for mark in marks:
            assert mark in text, (song.title, mark, text)
            text = text.partition(mark)[2]


@given(
    st.lists(
        st.tuples(st.integers(0, 9), st.integers(0, 120), st.integers(0, 60), st.booleans()),
        min_size=1,
        max_size=9,
    )
)
@settings(max_examples=25, deadline=None)
def test_no_song_and_no_press_is_ever_lost(
    opened: Opener, drawn: list[tuple[int, int, int, bool]]
) -> None:
    """However many presses, however long the words: all of it is there, in its order."""
    songs = []
    for number, (presses, cue, note, straight) in enumerate(drawn, 1):
        song = song_of(number, f"Tune{number}x", note="n" * note)
        one = song.moments[0].model_copy(update={"feet": (), "guitar": ""})
        moments = tuple(
            one.model_copy(update={"cue": f"cue{number}y{at}z" + " word" * (cue // 5)})
            for at in range(presses)
        )
        songs.append(song.model_copy(update={"moments": moments, "straight_into": straight}))
    text = "".join(opened(paper_files(night_of(*songs)).files["cue-sheet-floor.pdf"]).texts)
    text = text.replace("\u200b", "")
    at = 0
    for number, (presses, *_) in enumerate(drawn, 1):
        wanted = [f"{number}Tune{number}x", *(f"cue{number}y{n}z" for n in range(presses))]
        for words in wanted:
            assert words in text[at:], (words, text[at : at + 200])
            at = text.index(words, at) + len(words)


def head_of(song: Card) -> re.Pattern[str]:
    """Return what the line of a song begins with: bank, presses to get there, switch, title."""
    title = re.escape(bare(f"{song.switch}{song.number or ''}{song.title}"))
    return re.compile(rf"bank{re.escape(song.bank.shown)}(?:[↑↓]\d+)?{title}")


# How high the letters are


@pytest.mark.parametrize(("night", "step"), [("granary", 3), ("parlour", 4), ("boathouse", 3)])
def test_letters_in_ink(opened: Opener, night: str, step: int) -> None:
    """Cues are seen at 20′, all the rest at 16′: ISO 9241-3:1992, 5.4; NUREG-0700, 1.3.1-4.

    From eyes 1.6 m above a sheet that lies flat 0.8 m ahead; a point of the picture is 0.22′.
    The lower case of cues is then seen at 14.9′; DIN 1450:2013 would have 22′ for these.
    """
    page = opened(papers(night)["cue-sheet-floor.pdf"])
    sheet = cues.sheet_of(data_of(night))
    songs = [song for one in sheet.sets for song in one.songs]
    scenes = {press.scene for song in songs for press in song.presses}
    high: dict[str, list[float]] = {"scene": [], "switch": [], "rest": []}
    for number in range(0, len(page.sizes), step):
        for word, following in pairwise(page.words[number]):
            if not STEM.match(word.text):
                continue
            large = word.bottom - word.top > 16
            if large and word.text in scenes:
                kind = "scene"
            elif large and word.text == "1" and following.text in scenes:
                kind = "switch"
            elif word.text[0].isdigit() and len(word.text) > 1:
                continue  # figures within words
            else:
                kind = "rest"
            high[kind].append(minutes(page.height(number, word)))
    assert len(high["scene"]) > 8
    assert len(high["switch"]) > 2
    assert len(high["rest"]) > 12
    assert min(high["scene"]) > 20 - 0.22
    assert min(high["switch"]) > 20 - 0.22
    assert min(high["rest"]) > 16 - 0.22


@pytest.mark.parametrize(
    ("name", "metres", "slant"),
    [
        ("cue-sheet-beside.pdf", hypot(1.6, 0.8), 1.6 / hypot(1.6, 0.8)),
        ("cue-sheet-strip.pdf", 1.0, 1.0),
        ("band-list.pdf", 0.7, 1.0),
    ],
)
def test_letters_of_the_others_in_ink(
    opened: Opener, name: str, metres: float, slant: float
) -> None:
    """16′ from where each is read: on the floor, on an amplifier, on a stand."""
    page = opened(papers("granary")[name])
    high = [
        2 * degrees(atan(page.height(number, word) * slant / 2 / (metres * 1000))) * 60
        for number, words in enumerate(page.words[:2])
        for word in words
        if STEM.match(word.text)
    ]
    assert len(high) > 15
    point = 0.127 / (metres * 1000) * 3438 * slant  # of the picture, in minutes of arc
    assert min(high) > 16 - point


@pytest.mark.parametrize("name", sorted(UPRIGHT | LYING))
def test_black_on_white_alone(opened: Opener, name: str) -> None:
    """21:1 (WCAG 2.2, SC 1.4.6); under one colour of light the same share of what is possible.

    Every point of the page is grey: as bright in red as in green and blue. Its inks are black and
    white; in between are the edges of letters.
    """
    path = opened(papers("granary")[name]).path
    command = ["pdftoppm", "-r", "40", "-l", "3", str(path)]
    ppm = subprocess.run(command, capture_output=True, check=True, timeout=60).stdout
    kind, width, height, _, rows = re.split(rb"\s", ppm, maxsplit=4)
    assert kind == b"P6"
    rows = rows[: int(width) * int(height) * 3]
    assert rows[0::3] == rows[1::3] == rows[2::3]
    assert min(rows) < 40
    assert rows.count(255) > len(rows) / 2


def minutes(height: float) -> float:
    """Return at which angle capitals are seen, in minutes of arc."""
    distance = hypot(1600, 800)
    return 2 * degrees(atan(height * 1600 / distance / 2 / distance)) * 60


def test_lines_are_far_enough_apart(opened: Opener) -> None:
    """135 to 170 % of the height of capitals: 2010 ADA Standards, 703.5.9."""
    long = " ".join(f"Hey{number}" for number in range(60))
    song = song_of(1, "Long cue")
    moment = song.moments[0].model_copy(update={"cue": long, "feet": ()})
    data = night_of(song.model_copy(update={"moments": (moment,)}))
    page = opened(paper_files(data).files["cue-sheet-floor.pdf"])
    lines = sorted(
        {
            round(word.top, 1)
            for words in page.words[:1]
            for word in words
            if word.text.startswith("Hey")
        }
    )
    gaps = [after - before for before, after in pairwise(lines)]
    assert len(gaps) >= 3
    cue = data.sight.cue_mm
    title = data.sight.title_mm
    assert all(gap / title >= 1.34 and gap / cue <= 1.7 for gap in gaps), gaps


# What is read from paper is what the MIDI files do


@pytest.mark.parametrize("night", ["granary", "parlour"])
def test_paper_loads_what_the_midi_files_load(opened: Opener, night: str) -> None:
    """Bank and switch are read from the PDF, song by song, and from the files by another reader.

    The switcher's own file says: bank select by MSB and 128 presets in each, the first preset is
    program 0 of bank 0, eight to a bank.
    """
    data = data_of(night)
    files = midi_files(data)
    text = "".join(opened(papers(night)["cue-sheet-floor.pdf"]).texts)
    compared = 0
    songs = [song for song in data.songs if song.number]
    heads = [
        re.search(rf"bank(\d+)(?:[↑↓]\d+)?\d{song.number}{re.escape(bare(song.title))}", text)
        for song in songs
    ]
    for at, (song, head) in enumerate(zip(songs, heads, strict=True)):
        assert head is not None, song.title
        following = heads[at + 1] if at + 1 < len(heads) else None
        part = text[head.end() : following.start() if following is not None else None]
        bank = int(head.group(1))
        read = [
            (bank, int(switch))
            for switch, scene in pressed_in(part, song)
            if scene in song.scenes and switch != "stay"
        ]
        if not song.moments:
            # Nothing is pressed in an order: the file loads the first of the scenes.
            first = re.search(rf"(\d){re.escape(bare(song.scenes[0]))}", part)
            assert first is not None, part
            read = [(bank, int(first.group(1)))]
        assert read == list(loaded(files[f"stored/{stem_of_song(data, song)}.mid"])), song.title
        compared += len(read)
    assert compared > 70


def pressed_in(part: str, song: SongData) -> Iterator[tuple[str, str]]:
    """Yield switch and scene of each press as they are read, in the order of the page."""
    names = sorted({moment.scene for moment in song.moments}, key=len, reverse=True)
    if not names:
        return
    pattern = re.compile(rf"(\d|stay)({'|'.join(re.escape(bare(name)) for name in names)})")
    at = 0
    for moment in song.moments:
        found = pattern.search(part, at)
        assert found is not None, (song.title, moment.scene, part)
        at = found.end()
        yield found.group(1), found.group(2)


def loaded(content: bytes) -> Iterator[tuple[int, int]]:
    """Yield bank and switch of every preset that a file loads on channel 16, counted from 1."""
    msb = 0
    for message in mido.MidiFile(file=io.BytesIO(content)):
        if message.type == "control_change" and message.channel == 15 and message.control == 0:
            msb = message.value
        elif message.type == "program_change" and message.channel == 15:
            bank, switch = divmod(msb * 128 + message.program, 8)
            yield bank + 1, switch + 1


@pytest.mark.parametrize("night", NIGHTS)
def test_every_number_of_a_preset_is_on_paper(opened: Opener, night: str) -> None:
    data = data_of(night)
    text = "".join(opened(papers(night)["preset-sheet-by-bank.pdf"]).texts)
    at = 0
    for preset in sorted(data.presets, key=lambda one: (one.place.bank, one.place.switch)):
        if preset.place.switch == min(
            one.place.switch for one in data.presets if one.place.bank == preset.place.bank
        ):
            at = text.index(bare(f"Bank {preset.place.bank_shown}"), at)
        head = bare(f"{preset.place.switch_shown}{preset.name}loops in:")
        assert head in text[at:], (preset.place, preset.name)
        part = text[text.index(head, at) :].partition("for")[0]
        for loop, unit in zip(preset.loops, preset.loop_units, strict=True):
            assert bare(f"{loop} {unit}") in part, (preset.name, part)
        for slot in preset.programs:
            wanted = f"channel {slot.channel}, display {slot.shown}, wire {slot.number}"
            assert bare(wanted) in part, (preset.name, wanted, part)
        for slot in preset.controls:
            wanted = f"channel {slot.channel}, control {slot.number} value {slot.value}"
            assert bare(wanted) in part, (preset.name, wanted, part)


@pytest.mark.parametrize("night", NIGHTS)
def test_whoever_types_in_that_order_has_the_presets(opened: Opener, night: str) -> None:
    """Each step as it is printed is carried out by hand, so to say, on a switcher of our own."""
    data = data_of(night)
    text = "".join(opened(papers(night)["preset-sheet.pdf"]).texts)
    typed: dict[tuple[int, int], tuple[set[int], set[int], list[str], str]] = {}
    at = 0
    for number, step in enumerate(data.typing, 1):
        begin = "from nothing" if step.from_nothing else ""
        loops: set[int] = set()
        relays: set[int] = set()
        messages: list[str] = []
        name = ""
        if step.copied_from is not None:
            source = (step.copied_from.bank, step.copied_from.switch)
            begin = f"copy {step.copied_from.bank_shown} – {step.copied_from.switch_shown}"
            had = typed[source]
            loops, relays, messages, name = set(had[0]), set(had[1]), list(had[2]), had[3]
        head = f"{number}/{len(data.typing)}{step.place.bank_shown}–{step.place.switch_shown}"
        line = bare(f"{head}{step.name}{begin}")
        assert line in text[at:], (line, text[at : at + 300])
        at = text.index(line, at) + len(line)
        for entry in step.entries:
            assert bare(entry) in text[at:].partition("for")[0] or "for" in entry
            name = carry_out(entry, loops, relays, messages) or name
        typed[step.place.bank, step.place.switch] = (loops, relays, messages, name)
    presets = [*data.presets]
    for preset in presets:
        loops, relays, messages, name = typed[preset.place.bank, preset.place.switch]
        assert (loops, relays) == (set(preset.loops), set(preset.relays)), preset.name
        assert name == preset.name
        wanted = [
            *(
                f"channel {slot.channel} control {number} value {value}"
                for slot in preset.programs
                for number, value in ((0, slot.bank_msb), (32, slot.bank_lsb))
                if value is not None
            ),
            *(f"channel {slot.channel} program {slot.number}" for slot in preset.programs),
            *(
                f"channel {slot.channel} control {slot.number} value {slot.value}"
                for slot in preset.controls
            ),
        ]
        assert sorted(messages) == sorted(wanted), preset.name


def carry_out(entry: str, loops: set[int], relays: set[int], messages: list[str]) -> str:
    """Set what an entry says; return the name if it sets that."""
    if found := re.fullmatch(r"(loop|relay)s? ([\d, ]+) (in|out|open|closed)", entry):
        numbers = {int(one) for one in found.group(2).split(",")}
        kept = loops if found.group(1) == "loop" else relays
        if found.group(3) in ("in", "closed"):
            kept |= numbers
        else:
            kept -= numbers
        return ""
    if found := re.fullmatch(r"name (.*)", entry):
        return found.group(1)
    if entry == "the messages in the order of the preset sheet" or entry.startswith("tempo "):
        return ""
    new, _, old = entry.removeprefix("not ").partition(" in place of ")
    if entry.startswith("not "):
        messages.remove(new.rpartition(" = ")[2])
        return ""
    if old:
        messages.remove(old.rpartition(" = ")[2])
    messages.append(new.rpartition(" = ")[2])
    return ""


@pytest.mark.parametrize("night", ["granary", "boathouse"])
def test_each_preset_says_its_bank(opened: Opener, night: str) -> None:
    """The next page may begin in the middle of a bank."""
    data = data_of(night)
    text = "".join(opened(papers(night)["preset-sheet-by-bank.pdf"]).texts)
    for preset in data.presets:
        place = preset.place
        head = f"{place.bank_shown}–{place.switch_shown}{preset.name}loops in:"
        assert bare(head) in text, place


@pytest.mark.parametrize("lines", range(5))
def test_no_song_of_the_band_is_parted(opened: Opener, lines: int) -> None:
    """A title ends one page and its form begins the next: nobody knows of which song that is."""
    songs = [song_of(number, f"Tune{number}", note=f"word{number}") for number in range(1, 41)]
    data = night_of(*songs, note="and on " * 16 * lines)
    (values,) = [values for name, _, values in paper._sheets(data) if name == "band-list.pdf"]
    page = opened(pdf.printed("band.typ", values).pdf)
    assert len(page.words) >= 2
    for words in page.words:
        titles, notes = (
            [word.text[4:] for word in words if re.fullmatch(rf"{kind}\d+", word.text)]
            for kind in ("Tune", "word")
        )
        assert titles == notes


def test_a_cue_does_not_run_into_what_stands_before_it(opened: Opener) -> None:
    """No narrower than blanks within the cue, which is in smaller letters than the scene."""
    page = opened(papers("granary")["cue-sheet-floor.pdf"])
    (words,) = [one for one in page.words if {"fiddle", "drops"} <= {word.text for word in one}]
    at = next(n for n, word in enumerate(words) if word.text == "fiddle")
    before, cue, within = words[at - 1 : at + 2]
    assert (before.text, within.text) == ("B", "drops")
    assert cue.left - before.right >= within.left - cue.right


# What is in the file


@pytest.mark.parametrize("name", sorted(UPRIGHT | LYING))
def test_a_file_of_its_own(opened: Opener, name: str) -> None:
    """Fonts within, tagged, titled, nothing that acts: PDF/UA-1 (ISO 14289-1:2014)."""
    content = papers("granary")[name]
    told = opened.tool("pdfinfo", content=content)
    for line in ("Tagged: *yes", "JavaScript: *no", "Form: *none", "Encrypted: *no"):
        assert re.search(line, told), told
    assert re.search(r"Title: +\S.*Winter dance", told), told
    assert "<pdfuaid:part>1</pdfuaid:part>" in opened.tool("pdfinfo", "-meta", content=content)
    fonts = opened.tool("pdffonts", content=content).splitlines()[2:]
    assert fonts
    for line in fonts:
        assert re.match(r"[A-Z]{6}\+(SourceSansPro-|DejaVuSansMono)", line), line
        assert re.search(r" yes yes yes +\d+ +\d+$", line), line  # embedded, subset, readable


def test_the_same_night_gives_the_same_bytes() -> None:
    script = (
        "import hashlib, sys\n"
        "from pathlib import Path\n"
        "from setwright.compiler.outputs.collect import night_data\n"
        "from setwright.compiler.outputs.paper import paper_files\n"
        "from tests.nights import whole\n"
        "files = paper_files(night_data(whole(Path(sys.argv[1])))).files\n"
        "for name in sorted(files): print(name, hashlib.sha256(files[name]).hexdigest())\n"
    )
    made = {
        subprocess.run(
            [sys.executable, "-c", script, str(NIGHTS["granary"])],
            capture_output=True,
            check=True,
            cwd=ROOT,
            env={"PYTHONHASHSEED": seed, "TZ": zone, "PATH": ""},
            timeout=60,
        ).stdout
        for seed, zone in (("1", "UTC"), ("2", "Asia/Tokyo"))
    }
    assert len(made) == 1


# Hostile texts

HOSTILE = (
    "<script>alert(1)</script>",
    '#{panic("x")} #import "a" $x$ *b* _i_ `c` @ref <lab> \\u{41} "q" [x] //y /*z*/',
    "= Heading\n- list",
    "’ “quotes” — ½ ♭ ♯ → Ő ß é",
    "W" * 200,
    ("Wide and " * 22).strip(),
)


@pytest.mark.parametrize("text", HOSTILE)
def test_texts_are_shown_as_they_are(opened: Opener, text: str) -> None:
    song = song_of(1, text, guitar=text, note=text)
    moments = tuple(
        one.model_copy(update={"cue": text, "feet": (FootData(unit=text, position="on"),)})
        for one in song.moments
    )
    data = night_of(song.model_copy(update={"moments": moments}), night=text, rig=text, note=text)
    made = paper_files(data)
    assert made.notices == ()
    for name, content in made.files.items():
        page = opened(content)
        assert bare(text) in "".join(page.texts).replace("\u200b", ""), name
        assert_within_page_or_edge(page, name)
        assert "JavaScript:      no" in opened.tool("pdfinfo", content=content)


def assert_within_page_or_edge(page: Printed, name: str) -> None:
    for words, (width, height) in zip(page.words, page.sizes, strict=True):
        for word in words:
            assert word.left > 0 and word.right < width, (name, word)
            assert word.top > -1 and word.bottom < height + 1, (name, word)


def test_letters_that_no_font_has_stand_by_number(opened: Opener) -> None:
    """Told by a check, so the build need not."""
    song = song_of(1, "中文 tune 😀 \u202eback", note="a e\u0301 b\u0489")
    made = paper_files(night_of(song))
    assert made.notices == ()
    page = opened(made.files["cue-sheet-floor.pdf"])
    text = "".join(page.texts).replace("\u200b", "")
    assert r"\u{4e2d}\u{6587}tune\u{1f600}\u202eback" in text
    assert "aé" in text


def test_letters_that_only_the_library_knows_of_are_told(
    opened: Opener, monkeypatch: pytest.MonkeyPatch
) -> None:
    """As where a font has two letters alone and not together, or is another one."""
    monkeypatch.setattr(pdf, "lacking", lambda text: ())
    made = paper_files(night_of(song_of(1, "中文 tune 😀")))
    (notice,) = made.notices
    assert "3 letters by number" in notice
    assert "中 (\\u{4e2d})" in notice
    assert "😀 (\\u{1f600})" in notice
    text = "".join(opened(made.files["cue-sheet-floor.pdf"]).texts).replace("\u200b", "")
    assert r"\u{4e2d}\u{6587}tune\u{1f600}" in text


def test_all_strange_letters_from_right_to_left(opened: Opener) -> None:
    """The library breaks off where a line of such letters ends; so it never sees them."""
    syriac = "".join(chr(number) for number in range(0x712, 0x72F))
    song = song_of(1, "Tune", note=" ".join(syriac * 4))
    made = paper_files(night_of(song))
    assert made.notices == ()
    text = "".join(opened(made.files["cue-sheet-floor.pdf"]).texts).replace("\u200b", "")
    assert r"\u{712}\u{713}" in text


def test_where_the_library_breaks_off_the_other_sheets_are_made(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    class PanicException(BaseException):
        pass

    def broken(*_: object, **__: object) -> bytes:
        raise PanicException("end byte index 3 is out of bounds")

    monkeypatch.setattr("typst.compile", broken)
    made = output_files(whole(NIGHTS["granary"]))
    assert "cue-sheet.html" in made.files
    assert not [name for name in made.files if name.endswith(".pdf")]
    (notice,) = made.notices
    assert "no sheet is made as PDF: the library that makes PDF broke off" in notice


def test_numbers_of_letters_are_broken_where_a_line_ends(opened: Opener) -> None:
    made = paper_files(night_of(song_of(1, "眠い" * 30)))
    for name, content in made.files.items():
        page = opened(content)
        assert_within_page_or_edge(page, name)
        text = "".join(page.texts).replace("\u200b", "")
        if name.startswith(("cue-sheet", "band")):
            for number in (r"\u{7720}", r"\u{3044}"):
                assert text.count(number) >= 30, (name, number)


def test_a_song_of_sixty_moments_repeats_its_title(opened: Opener) -> None:
    song = song_of(1, "Endless Reel")
    heel = song.moments[0].model_copy(update={"scene": "Calm", "feet": (), "cue": ""})
    moments = tuple(
        heel.model_copy(update={"place": f"bar {n}", "brief": f"bar {n}", "position": f"bar {n}"})
        for n in range(11, 71)
    )
    data = night_of(song.model_copy(update={"moments": moments}), *small().songs[1:2])
    page = opened(paper_files(data).files["cue-sheet-floor.pdf"])
    pages = [text for text in page.texts if "1EndlessReel" in text]
    assert len(pages) >= 3
    said = [re.findall(r"Calmbar(\d\d)", text) for text in page.texts]
    assert [int(bar) for bars in said for bar in bars if int(bar) > 10] == list(range(11, 71))
    assert len([bars for bars in said if bars]) == len(pages)


def test_no_songs_in_a_set(opened: Opener) -> None:
    made = paper_files(night_of())
    for name, content in made.files.items():
        assert opened(content).sizes, name


def test_a_strip_of_what_may_be_asked_for(opened: Opener) -> None:
    """Not an empty page, where a night has no sets."""
    data = night_of(song_of(0, "Only Asked")).model_copy(update={"sets": ()})
    page = opened(paper_files(data).files["cue-sheet-strip.pdf"])
    assert page.texts[0].startswith("Ifasked")
    assert "OnlyAsked" in page.texts[0]


def test_what_is_read_from_right_to_left_turns_nothing_beside_it(opened: Opener) -> None:
    """Title, guitar and note stand in this order on their line, whatever they are written in."""
    song = song_of(1, "שיר", guitar="ערב", note="הים")
    page = opened(paper_files(night_of(song)).files["cue-sheet-floor.pdf"])
    words = {word.text: word.left for word in page.words[0]}
    # The reader gives letters as they stand, from the left.
    lefts = [words[one[::-1]] for one in ("שיר", "ערב")] + [words["0:00"], words["הים"[::-1]]]
    assert lefts == sorted(lefts)


# Without the library


def test_without_the_library_the_other_sheets_are_made(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setitem(sys.modules, "typst", None)
    pdf._fonts.cache_clear()
    made = output_files(whole(NIGHTS["granary"]))
    assert "cue-sheet.html" in made.files
    assert not [name for name in made.files if name.endswith(".pdf")]
    (notice,) = made.notices
    assert "no sheet is made as PDF" in notice
    assert "pip install typst font-source-sans-pro" in notice


def test_without_units_the_sheet_says_so(opened: Opener) -> None:
    data = night_data(whole(NIGHTS["granary"], frozenset({"echo"})))
    files = paper_files(data).files
    for name in ("cue-sheet-strip.pdf", "cue-sheet-beside.pdf", "preset-sheet.pdf"):
        assert "withoutecho" in opened(files[name]).texts[0], name
    assert f"state{data.state}withoutecho" in opened(files["cue-sheet-floor.pdf"]).texts[0]
    assert preset_sheet.sheet_of(data).without == ("echo",)
