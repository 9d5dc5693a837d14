"""A night that is followed: what is pressed and turned, what the page shows, real ports, a browser."""

from __future__ import annotations

import re
import signal
import socket
import time
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest

from setwright.compiler.lowering.preset import Address
from setwright.compiler.outputs.collect import night_data
from setwright.compiler.outputs.data import NightData
from setwright.compiler.outputs.stage_page import followed_page
from setwright.compiler.sending.following.follow import Follower, pages_of
from setwright.compiler.sending.following.page_server import PageServer
from setwright.compiler.sending.incoming.expected import Tonight, tonight
from setwright.compiler.sending.incoming.presses import Press, Presses
from setwright.scenes.finding import Severity, worst
from tests.jack import Server, jack_server, sender
from tests.mini import write_night
from tests.nights import whole
from tests.test_cli import setwright
from tests.test_paper import NIGHTS, data_of
from tests.test_stage_page import AXE, CUT, browser, needs_axe, needs_browser
from tests.test_watch import Watching

__all__ = ["browser"]

PATIENCE = 20_000
"""ms for which something is waited for that comes at once."""

UNITS = """
wobbler: {loop: 1, channel: 6, display: 0 to 99, programs: {slow: 10, fast: 11, deep: 12}}
echo: {loop: 2, channel: 9, display: 0 to 9, programs: {short: 1, long: 2}}
swell: {by foot: [closed, open], at start: open, foot sends: {channel: 9, cc: 11, values: {closed: 0, open: 127}}}
"""
EFFECTS = """
slow: {wobbler: slow}
fast: {wobbler: fast}
deep: {wobbler: deep}
short: {echo: short}
long: {echo: long}
"""
SONGS = """
songs:
- title: Jig
  meter: 6/8
  tempo: dotted quarter = 112
  form: AB, 2 rounds
  scenes: {Start: [slow, short], Lift: [fast, short], Spare: [deep, long]}
  order: [Start, {Lift: {at: B, cue: caller <claps>}}, {Start: round 2 A}]
- title: Reel
  meter: 4/4
  tempo: half = 100
  form: AB, 2 rounds
  scenes: {Calm: [slow, long], Storm: [fast, long]}
  order: [Calm, {Storm: B}]
- title: Waltz
  meter: 3/4
  tempo: quarter = 140
  form: AB, 2 rounds
  scenes: {Glide: [deep, short]}
  order: [Glide]
"""
KEPT = "{file: board.yaml, every bank: {switch 5: {name: Wide, effects: [deep]}}}"
NIGHT = """
night: Test
rig: rig.yaml
songs: songs.yaml
sets: [{name: Only, play: [Jig, Reel]}]
if asked: [Waltz]
"""
# Cn and its program: MIDI 1.0 Detailed Specification 4.2.1, Table II.
START, LIFT, SPARE = ("c5 0a", "c8 01"), ("c5 0b", "c8 01"), ("c5 0c", "c8 02")
CALM, STORM = ("c5 0a", "c8 02"), ("c5 0b", "c8 02")


@pytest.fixture(scope="module")
def night(tmp_path_factory: pytest.TempPathFactory) -> tuple[NightData, Tonight]:
    compiled = whole(written(tmp_path_factory.mktemp("night")))
    assert worst(compiled.findings) is not Severity.ERROR
    return night_data(compiled), tonight(compiled)


def written(folder: Path) -> Path:
    """Write the night into ``folder`` and return its path."""
    path = write_night(folder, units=UNITS, effects=EFFECTS, songs=SONGS)
    path.write_text(NIGHT, encoding="utf-8")
    rig = folder / "rig.yaml"
    text = rig.read_text(encoding="utf-8")
    rig.write_text(text.replace("switcher: board.yaml", f"switcher: {KEPT}"), encoding="utf-8")
    return path


PRESSES: dict[str, tuple[list[tuple[float, str]], list[str]]] = {
    "one": ([(0, "c5 0a"), (0.001, "c8 01")], ["1/1 Start"]),
    "one after the other": (
        [(0, "c5 0a"), (0.001, "c8 01"), (1, "c5 0b"), (1.001, "c8 01")],
        ["1/1 Start", "1/2 Lift"],
    ),
    "in quick succession": (
        [(0, "c5 0a"), (0.001, "c8 01"), (0.03, "c5 0b"), (0.031, "c8 01")],
        ["1/1 Start", "1/2 Lift"],
    ),
    "with notes and other channels between": (
        [(0, "c5 0a"), (0.0003, "90 40 40"), (0.0005, "c0 01"), (0.001, "c8 01")],
        ["1/1 Start"],
    ),
    "with a pedal between": (
        [(0, "c5 0a"), (0.0005, "b8 0b 40"), (0.001, "c8 01")],
        ["1/1 Start"],
    ),
    "a pedal alone": ([(n / 100, f"b8 0b {n:02x}") for n in range(40)], []),
    "one slip": (
        [(0, "c5 0d"), (0.001, "c8 01")],
        [
            "1/1 Start or 1/2 Lift or 1/4 Glide: wobbler: program 13 (display 13) came, "
            "not program 10 (display 10, slow)"
        ],
    ),
    "a message is missing": (
        [(0, "c8 02")],
        [
            "1/3 Spare or 2/1 Calm or 2/2 Storm: wobbler deep (display 12): "
            "missing (channel 6 program 12)"
        ],
    ),
    "the same in every bank": ([(0, "c5 0c")], ["1/5 Wide or 2/5 Wide"]),
    "nothing of tonight": ([(0, "c5 7f"), (0.001, "c8 7f")], ["none"]),
    "another box": ([(0, "c2 0a"), (0.001, "b0 07 40")], []),
}  # fmt: skip


@pytest.mark.parametrize("case", PRESSES)
def test_what_was_pressed(night: tuple[NightData, Tonight], case: str) -> None:
    messages, wanted = PRESSES[case]
    presses = Presses(night[1])
    found = []
    for at, message in messages:
        found += list(presses.message(at, bytes.fromhex(message)))
    left = presses.left(messages[-1][0])
    assert (left is None) == (not found and not wanted)
    found += list(presses.ended(messages[-1][0] + 0.03))
    assert len(found) < len(wanted) or not wanted or len(wanted) == 1
    found += list(presses.ended(messages[-1][0] + 5))
    assert [said(one) for one in found] == wanted


def said(press: Press) -> str:
    names = " or ".join(map(str, press.presets)) or "none"
    return f"{names}: {press.unlike}" if press.unlike else names


class Told:
    """A follower of the night, and what its page was told last."""

    def __init__(self, night: tuple[NightData, Tonight], *, load: bool = False) -> None:
        data, self.night = night
        self.news: dict[str, Any] = {}
        switcher = data.switcher.model_copy(update={"bank_moves_load": load})
        self.follower = Follower(
            data.model_copy(update={"switcher": switcher}), self.night, self._tell
        )

    def _tell(self, news: dict[str, object]) -> None:
        self.news = dict(news)

    def press(self, shown: str, at: float = 0.0) -> str:
        """Press ``1/2``, or all that send the same."""
        (one,) = [one for one in self.night.presets if one.shown == shown]
        same = tuple(other for other in self.night.presets if other.messages == one.messages)
        return self.follower.pressed(Press(same, one.messages), at)


def test_what_the_page_is_told(night: tuple[NightData, Tonight]) -> None:
    """Each press in words; switches, places and cues as the book has them."""
    told = Told(night)
    found = []
    for shown in ("1/1", "1/2", "1/1", "1/3", "1/5", "2/1", "2/2", "1/4"):
        told.press(shown)
        found.append(tuple(told.news[key] for key in ("song", "sounds", "stood", "now", "then")))
    assert found == [
        ("song-1", ("song-1", 0), None, "1 Jig: 1 Start, beginning",
         "then 2 Lift, B: caller <claps>"),
        ("song-1", ("song-1", 1), None, "1 Jig: 2 Lift, B: caller <claps>",
         "then 1 Start, round 2 A"),
        ("song-1", ("song-1", 2), None, "1 Jig: 1 Start, round 2 A",
         "then 2 Reel: bank 2 (up 1), press 1"),
        ("song-1", ("song-1", 3), ("song-1", 2), "1 Jig: 3 Spare",
         "then 2 Reel: bank 2 (up 1), press 1"),
        ("song-1", None, ("song-1", 2), "every bank/Wide", "then 2 Reel: bank 2 (up 1), press 1"),
        ("song-2", ("song-2", 0), None, "2 Reel: 1 Calm, beginning", "then 2 Storm, B"),
        ("song-2", ("song-2", 1), None, "2 Reel: 2 Storm, B", "nothing comes after it"),
        ("asked-1", ("asked-1", 0), None, "Waltz: 4 Glide, beginning", "nothing comes after it"),
    ]  # fmt: skip
    assert told.news["presses"] == 8


def test_turned_by_hand_and_told_where_we_are(night: tuple[NightData, Tonight]) -> None:
    told = Told(night)
    told.press("1/1")
    assert told.follower.turned("song-2", None)
    assert (told.news["song"], told.news["then"]) == (
        "song-2", "then 2 Reel: bank 2 (up 1), press 1"
    )  # fmt: skip
    assert told.news["now"] == "1 Jig: 1 Start, beginning", "it sounds until something is pressed"
    assert told.follower.turned("song-1", 2)
    assert (told.news["sounds"], told.news["now"]) == (("song-1", 2), "1 Jig: 1 Start, round 2 A")
    assert told.news["presses"] == 1
    for song, line in (("song-3", None), ("song-0", None), ("asked-2", None), ("song-1", 4)):
        assert not told.follower.turned(song, line)
    assert told.press("2/2") == "2 Reel: 2 Storm, B"
    told.press("1/4")
    told.follower.turned("song-1", 1)
    assert told.follower.turned("asked-1", None)
    assert told.news["then"] == "then 1 Jig: 1 Start, round 2 A"


def test_what_no_preset_sends_moves_nothing(night: tuple[NightData, Tonight]) -> None:
    told = Told(night)
    told.press("1/1")
    said = told.follower.pressed(Press((), (b"\xc5\x7f", b"\xc8\x7f")), 1.0)
    assert said == "nothing of tonight (c5 7f, c8 7f)"
    assert (told.news["song"], told.news["sounds"], told.news["stood"]) == (
        "song-1", None, ("song-1", 0)
    )  # fmt: skip
    told.press("1/2")
    assert told.news["sounds"] == ("song-1", 1)


def test_what_is_loaded_on_the_way_to_a_bank_counts_for_nothing(
    night: tuple[NightData, Tonight],
) -> None:
    """Where banks load as they are moved to, a foot that goes on has not pressed what it passed."""
    for load, place in ((True, None), (False, ("song-2", 0))):
        told = Told(night, load=load)
        told.press("1/1", 0.0)
        told.press("2/1", 10.0)
        assert told.news["sounds"] == ("song-2", 0)
        told.press("1/2", 10.5)
        assert told.news["sounds"] == ("song-1", 1)
        told.follower.turned("song-2", None)
        assert told.news["stood"] == place
        told.press("2/1", 60.0)
        told.press("2/2", 70.0)
        told.follower.turned("song-1", None)
        told.follower.turned("song-2", None)
        assert told.news["stood"] is None
        assert told.news["sounds"] == ("song-2", 1)


@pytest.mark.parametrize("name", NIGHTS)
def test_every_line_of_the_page_has_its_switch(name: str) -> None:
    """What is looked for is what stands on the page, song by song and line by line."""
    data = data_of(name)
    pages = pages_of(data, tonight(whole(NIGHTS[name])))
    html = followed_page(data).html.decode("utf-8")
    articles = re.findall(r'<article id="([^"]*)"(.*?)</article>', html, re.DOTALL)
    assert [one.id for one in pages] == [name for name, _ in articles]
    found = 0
    for page, (_, article) in zip(pages, articles, strict=True):
        rows = [
            one for one in re.findall(r"<li>(.*?)</li>", article, re.DOTALL) if '"scene"' in one
        ]
        assert len(rows) == len(page.lines) == len(page.song.lines)
        for row, line, address in zip(rows, page.lines, page.song.lines, strict=True):
            key = re.search(r"switch </span>([^<]*)<", row)
            assert key is None or key[1] == line.switch
            sends = [
                Address(one.place.bank - 1, one.place.switch - 1)
                for one in data.presets
                if key is not None
                and one.place.switch_shown == key[1]
                and (one.programs or one.controls)
            ]
            assert address is None or address in sends
            found += address is not None
    assert (found > 20) == (name != "rowboat"), "there the computer sends everything"


@pytest.mark.parametrize("name", [one for one in NIGHTS if one != "rowboat"])
def test_a_whole_night_is_followed(name: str) -> None:
    """Every press that is heard, in its order, told apart by nothing but its messages.

    Songs in which nothing of the order is heard are turned to by hand, and turned away from.
    """
    compiled = whole(NIGHTS[name])
    data, expected = night_data(compiled), tonight(compiled)
    told = Told((data, expected))
    shown = {one.address: one.shown for one in expected.presets}
    heard, last = 0, True
    for page in pages_of(data, expected):
        lines = page.song.lines[: page.song.moments]
        if page.song.asked:
            continue
        if not any(lines) or not last:
            told.follower.turned(page.id, None)
        last = any(lines)
        for line, address in enumerate(lines):
            if address is not None:
                told.press(shown[address])
                assert told.news["sounds"] == (page.id, line)
                heard += 1
    assert heard > 20


class Followed:
    """A night that is followed by a server of its own, in a browser."""

    def __init__(
        self, night: tuple[NightData, Tonight], browser: Any, *, light: bool = False
    ) -> None:
        page = followed_page(night[0], light=light)
        self.server = PageServer(page.html, page.policy)
        self.told = Told(night)
        self.told.follower = Follower(night[0], night[1], self.server.tell)
        self.server.start(self.told.follower.turned)
        self.told.follower.midi("Listening to ‘board’.", gone=False)
        self.browser = browser
        self.said: list[str] = []
        self.asked: list[str] = []
        self.contexts: list[Any] = []
        self.page = self.open()

    def open(self, name: str = "", **how: Any) -> Any:
        """Open the page in a window of its own."""
        how = {"viewport": {"width": 820, "height": 1180}, **how}
        self.contexts.append(self.browser.new_context(**how))
        page = self.contexts[-1].new_page()
        page.set_default_timeout(PATIENCE)
        page.on("console", lambda one: self.said.append(one.text))
        page.on("pageerror", lambda one: self.said.append(str(one)))
        page.on("request", lambda one: self.asked.append(one.url))
        page.goto(self.server.address + name)
        page.locator("#link", has_text="Listening").wait_for()
        return page

    def close(self) -> None:
        for one in self.contexts:
            one.close()
        self.server.close()


@pytest.fixture
def followed(night: tuple[NightData, Tonight], browser: Any) -> Iterator[Followed]:
    one = Followed(night, browser)
    yield one
    one.close()
    assert one.said == []
    own = one.server.address
    assert set(one.asked) <= {own, f"{own}news", f"{own}turned"}


def song(page: Any) -> str:
    (title,) = page.locator("main article:visible h3").all_inner_texts()
    return " ".join(title.split())


def sounds(page: Any, scene: str) -> None:
    """Wait until this scene, and no other, is marked."""
    page.locator(".sounds .scene", has_text=scene).wait_for()
    assert page.locator(".sounds, [aria-current]").count() == 1


@needs_browser
def test_a_press_turns_every_page(followed: Followed) -> None:
    one, other = followed.page, followed.open()
    assert (song(one), one.locator(".sounds").count()) == ("1 Jig", 0)
    for shown, title, scene, then in (
        ("1/1", "1 Jig", "Start", "then 2 Lift, B: caller <claps>"),
        ("1/2", "1 Jig", "Lift", "then 1 Start, round 2 A"),
        ("2/1", "2 Reel", "Calm", "then 2 Storm, B"),
        ("1/4", "Waltz", "Glide", "then 2 Reel: 2 Storm, B"),
    ):
        followed.told.press(shown)
        for page in (one, other):
            sounds(page, scene)
            assert song(page) == title
            assert page.locator("#then").inner_text() == then
            assert (
                page.locator("#now")
                .text_content()
                .endswith(
                    page.locator(".sounds .place").inner_text()
                    if page.locator(".sounds .cue").count() == 0
                    else "caller <claps>"
                )
            )


@needs_browser
def test_the_mark_has_a_shape_and_is_in_view(followed: Followed) -> None:
    """A sign and a frame, as black and white show them; above the footer, however small it is."""
    page = followed.page
    followed.told.press("1/1")
    sounds(page, "Start")
    mark = page.locator(".sounds")
    assert mark.evaluate("one => getComputedStyle(one, '::before').content") == '"▶"'
    frame, other = (
        page.locator(where).first.evaluate("one => getComputedStyle(one).borderTopColor")
        for where in (".sounds", "article:visible .presses li:not(.sounds)")
    )
    assert frame == "rgb(242, 242, 242)"
    assert other == "rgba(0, 0, 0, 0)"
    # However long what comes next is, it leaves the buttons their words.
    page.evaluate("document.getElementById('then').textContent = 'capo 2, '.repeat(20)")
    assert page.evaluate(CUT) == []
    page.set_viewport_size({"width": 390, "height": 520})
    assert page.evaluate(CUT) == []
    for shown in ("1/2", "1/1", "1/3", "1/1"):
        followed.told.press(shown)
        mark = page.locator(".sounds", has_text="Spare" if shown == "1/3" else "")
        mark.wait_for()
        page.wait_for_function(
            """() => { const box = document.querySelector(".sounds").getBoundingClientRect();
            const foot = document.querySelector("footer").getBoundingClientRect();
            return box.top >= 0 && box.bottom <= foot.top; }"""
        )


@needs_browser
def test_nothing_moves_without_a_press(followed: Followed) -> None:
    """Nor does a page that another one was turned away from, nor for news of the port."""
    one, other = followed.page, followed.open()
    followed.told.press("1/1")
    sounds(one, "Start")
    sounds(other, "Start")
    other.keyboard.press("PageDown")
    assert song(other) == "2 Reel"
    one.locator("#then", has_text="2 Reel: bank 2").wait_for()
    followed.told.follower.midi("MIDI is gone", gone=True)
    one.locator("#link.gone").wait_for()
    time.sleep(1.2)  # a word that the server is there comes each second
    assert (song(one), song(other)) == ("1 Jig", "2 Reel")
    assert other.locator("#now").inner_text() == "1 Jig: 1 Start, beginning"
    followed.told.press("2/2")
    for page in (one, other):
        sounds(page, "Storm")
        assert song(page) == "2 Reel"


@needs_browser
def test_a_wrong_guess_is_mended_by_hand(followed: Followed) -> None:
    page = followed.page
    for shown, scene in (("1/1", "Start"), ("1/2", "Lift"), ("1/1", "Start"), ("1/4", "Glide")):
        followed.told.press(shown)
        sounds(page, scene)
    for _ in range(2):
        page.keyboard.press("PageUp")
        page.wait_for_timeout(100)
    assert song(page) == "1 Jig"
    page.locator(".stood .scene", has_text="Start").wait_for()
    page.locator("article:visible .here").nth(0).click()
    page.locator(".sounds .place", has_text="beginning").wait_for()
    page.keyboard.press("Enter")
    assert song(page) == "2 Reel", "a pedal's Enter turns; it does not press again what was touched"
    page.locator("#choose").click()
    followed.told.press("1/2")
    sounds(page, "Lift")
    assert song(page) == "1 Jig"
    assert not page.locator("#list").evaluate("one => one.open")
    page.locator("article:visible .here").nth(2).focus()
    page.keyboard.press("Space")
    page.locator(".sounds .place", has_text="round 2 A").wait_for()


@needs_browser
def test_a_page_that_comes_late_begins_where_the_night_is(followed: Followed) -> None:
    followed.told.press("2/1")
    late = followed.open()
    sounds(late, "Calm")
    assert song(late) == "2 Reel"
    late.keyboard.press("PageUp")
    late.wait_for_timeout(100)
    late.reload()
    late.locator("#then", has_text="1 Jig: bank 1").wait_for()
    assert song(late) == "1 Jig"


@needs_browser
def test_an_address_that_names_a_song(night: tuple[NightData, Tonight], browser: Any) -> None:
    one = Followed(night, browser)
    page = one.open("#song-2")
    page.locator("#then", has_text="2 Reel").wait_for()
    assert song(page) == "2 Reel"
    one.close()


@needs_browser
def test_what_is_lost_is_said_in_words(followed: Followed) -> None:
    """The port and the server, each in its own; and when it is back."""
    page, follower = followed.page, followed.told.follower
    assert page.locator("#link").get_attribute("role") == "status"
    follower.midi("MIDI is gone: the port ‘board’ went away.", gone=True)
    page.locator("#link.gone", has_text="the port ‘board’ went away").wait_for()
    follower.midi("MIDI is back: listening to ‘board’.", gone=False)
    page.locator("#link:not(.gone)", has_text="MIDI is back").wait_for()
    followed.server.close()
    page.locator("#link.gone", has_text="Setwright has ended: turn by hand").wait_for()
    page.keyboard.press("PageDown")
    assert song(page) == "2 Reel"


@needs_browser
def test_texts_are_shown_as_they_are(followed: Followed) -> None:
    followed.told.press("1/2")
    sounds(followed.page, "Lift")
    assert "caller <claps>" in followed.page.locator("#now").text_content()
    assert followed.page.locator("claps").count() == 0


@needs_browser
@needs_axe
@pytest.mark.parametrize("size", [(390, 844), (820, 1180), (1440, 900)])
@pytest.mark.parametrize("light", [False, True])
def test_nothing_for_axe_to_find(
    night: tuple[NightData, Tonight], browser: Any, size: tuple[int, int], light: bool
) -> None:
    one = Followed(night, browser, light=light)
    page = one.open(viewport={"width": size[0], "height": size[1]}, bypass_csp=True)
    one.told.press("1/1")
    one.told.press("1/3")
    sounds(page, "Spare")
    one.told.follower.midi("MIDI is gone: the port ‘board’ went away.", gone=True)
    page.locator("#link.gone").wait_for()
    assert page.locator("#light").is_checked() == light
    assert page.evaluate("document.documentElement.scrollWidth") <= size[0]
    page.evaluate(Path(AXE).read_text(encoding="utf-8"))
    found = page.evaluate("axe.run()")
    assert [(v["id"], [node["html"] for node in v["nodes"]]) for v in found["violations"]] == []
    assert len(found["passes"]) > 15
    one.close()


@pytest.fixture(scope="module")
def server() -> Iterator[Server]:
    with jack_server() as running:
        yield running


@pytest.fixture
def begin(server: Server, tmp_path: Path) -> Iterator[Callable[..., Watching]]:
    begun: list[Watching] = []
    path = written(tmp_path)

    def start(*words: str, **environment: str) -> Watching:
        begun.append(
            Watching(path.name, *words, cwd=tmp_path, command="follow", **server.env, **environment)
        )
        return begun[-1]

    yield start
    for one in begun:
        one.process.kill()
        one.process.wait()


CLOCK = r"\d\d:\d\d:\d\d "


@needs_browser
def test_a_night_from_the_switcher_to_the_page(
    server: Server, begin: Callable[..., Watching], browser: Any
) -> None:
    """Presses, nonsense, silence; the switcher goes and comes back; so do we, and are killed."""
    with sender(server, "board") as board:
        running = begin("--port", "board")
        (line,) = running.until("the page: ")
        running.until("listening to ", errors=True)
        page = browser.new_context(viewport={"width": 820, "height": 1180}).new_page()
        page.set_default_timeout(PATIENCE)
        page.goto(line.removeprefix("the page: "))
        page.locator("#link", has_text="Listening to ‘RtMidiOut Client:board’").wait_for()
        board.send("f8", *START, "f8")
        sounds(page, "Start")
        (said,) = running.until(CLOCK)
        assert said[9:] == "1 Jig: 1 Start, beginning"
        board.send("c5 0b 90", "40 f8 40", "c8 01", "fe")
        sounds(page, "Lift")
        board.send(*CALM)
        sounds(page, "Calm")
        assert song(page) == "2 Reel"
        board.send("f8", "90 40 40", "f0 7d 01 f7", "b0 07 40")
        page.wait_for_timeout(400)
        sounds(page, "Calm")
    page.locator("#link.gone", has_text="MIDI is gone: the port ‘RtMidiOut Client:board").wait_for()
    assert "it is waited for" in running.until(f"{CLOCK}the port ‘")[-1]
    page.keyboard.press("PageUp")
    assert song(page) == "1 Jig"
    with sender(server, "board") as board:
        page.locator("#link:not(.gone)", has_text="MIDI is back").wait_for()
        assert song(page) == "1 Jig"
        board.send(*STORM)
        sounds(page, "Storm")
        assert song(page) == "2 Reel"
        running.process.send_signal(signal.SIGSTOP)
        page.locator("#link.gone", has_text="Setwright does not answer").wait_for()
        running.process.send_signal(signal.SIGCONT)
        page.locator("#link", has_text="Setwright is back").wait_for()
        sounds(page, "Storm")
        running.process.send_signal(signal.SIGKILL)
        page.locator("#link.gone", has_text="Setwright does not answer").wait_for()
        page.keyboard.press("PageUp")
        assert song(page) == "1 Jig"
    page.context.close()


@needs_browser
def test_an_interrupt_ends_it_cleanly(
    server: Server, begin: Callable[..., Watching], browser: Any, tmp_path: Path
) -> None:
    """The address was opened by the browser of the user's choice, if that was asked for."""
    opens = tmp_path / "opens"
    opens.write_text('#!/bin/sh\necho "$1" > "$0.txt"\n', encoding="ascii")
    opens.chmod(0o755)
    with sender(server, "board"):
        running = begin("--light", "--open", BROWSER=f"{opens} %s")
        address = running.until("the page: ")[-1].removeprefix("the page: ")
        running.until("listening to ", errors=True)
        page = browser.new_page()
        page.set_default_timeout(PATIENCE)
        page.goto(address)
        page.locator("#link", has_text="Listening").wait_for()
        assert page.locator("#light").is_checked()
        assert (tmp_path / "opens.txt").read_text(encoding="ascii").strip() == address
        code, _, errors = running.interrupt()
        assert (code, errors) == (0, [])
        page.locator("#link.gone", has_text="Setwright has ended").wait_for()
        with pytest.raises(ConnectionRefusedError):
            socket.create_connection(("127.0.0.1", int(address.split(":")[2].split("/")[0])), 2)
        page.close()


def test_an_interrupt_while_the_switcher_is_away(
    server: Server, begin: Callable[..., Watching]
) -> None:
    with sender(server, "board"):
        running = begin()
        running.until("listening to ", errors=True)
    running.until(f"{CLOCK}the port ‘")
    code, _, errors = running.interrupt()
    assert (code, errors) == (0, [])


def test_a_port_that_is_not_there(server: Server, begin: Callable[..., Watching]) -> None:
    with sender(server, "board"):
        code, lines, errors = begin("--port", "bord").ended()
    assert (code, lines) == (2, [])
    assert len(errors) == 1
    assert "bord" in errors[0]


def test_a_rig_whose_presets_send_nothing() -> None:
    ended = setwright("follow", str(NIGHTS["rowboat"]))
    assert (ended.returncode, ended.stdout) == (2, "")
    assert "no preset of this rig sends a message" in ended.stderr


def test_a_book_with_errors(tmp_path: Path) -> None:
    path = written(tmp_path)
    path.write_text(NIGHT.replace("Reel", "Rel"), encoding="utf-8")
    ended = setwright("follow", str(path))
    assert (ended.returncode, ended.stdout) == (1, "")
    assert ended.stderr == "nothing is followed: 1 error; run check\n"
    ended = setwright("follow", str(tmp_path / "other.yaml"))
    assert (ended.returncode, ended.stdout) == (2, "")
