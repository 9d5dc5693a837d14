"""The stage page, driven in a real browser as a finger, a pedal and a keyboard do."""

from __future__ import annotations

import base64
import hashlib
import os
import re
import shutil
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

from setwright.compiler.outputs import cues
from setwright.compiler.outputs.data import NightData
from setwright.compiler.outputs.stage_page import stage_page_files
from tests.test_paper import HOSTILE, data_of, night_of
from tests.test_sheets import SHEETS, contrast, sheets, song_of

CHROMIUM = next(filter(None, map(shutil.which, ("chromium", "chromium-browser"))), None)
AXE = os.environ.get("SETWRIGHT_AXE", "")
needs_browser = pytest.mark.skipif(CHROMIUM is None, reason="chromium is not installed")
needs_axe = pytest.mark.skipif(
    not AXE, reason="SETWRIGHT_AXE does not say where axe-core (axe.min.js) lies"
)
WIDTHS = {"phone": (390, 844), "tablet": (1024, 768), "desktop": (1440, 900)}


def html_of(data: NightData) -> str:
    return stage_page_files(data)["stage.html"].decode("utf-8")


@pytest.fixture(scope="module")
def browser() -> Iterator[Any]:
    from playwright.sync_api import sync_playwright

    with sync_playwright() as playwright:
        opened = playwright.chromium.launch(
            executable_path=CHROMIUM,
            args=[
                "--no-sandbox", "--disable-gpu", "--no-first-run",
                "--disable-background-networking", "--disable-component-update", "--disable-sync",
            ],
        )  # fmt: skip
        yield opened
        opened.close()


class Page:
    """The stage page of a night in a browser; whatever it asks the network for is noted."""

    def __init__(self, browser: Any, path: Path, html: str, **how: Any) -> None:
        path.write_text(html, encoding="utf-8")
        self.context = browser.new_context(**how)
        self.page = self.context.new_page()
        self.asked: list[str] = []
        self.said: list[str] = []
        self.page.on("request", lambda one: self.asked.append(one.url))
        self.page.on("console", lambda one: self.said.append(one.text))
        self.page.on("pageerror", lambda one: self.said.append(str(one)))
        self.page.goto(path.as_uri())

    def shown(self) -> list[str]:
        """Return the titles of the songs that can be seen on the page."""
        found = self.page.locator("main article:visible h3").all_inner_texts()
        return [" ".join(one.split()) for one in found]

    def press(self, *keys: str) -> None:
        for key in keys:
            self.page.keyboard.press(key)


@pytest.fixture
def granary(browser: Any, tmp_path: Path) -> Iterator[Page]:
    width, height = WIDTHS["desktop"]
    page = Page(
        browser,
        tmp_path / "stage.html",
        html_of(data_of("granary")),
        viewport={"width": width, "height": height},
        has_touch=True,
    )
    yield page
    assert page.said == []
    assert [one for one in page.asked if not one.startswith("file:")] == []
    assert len(page.asked) == 1
    page.context.close()


TITLES = [
    " ".join(f"{song.number} {song.title}".split())
    for one in cues.sheet_of(data_of("granary")).sets
    for song in one.songs
]


def test_a_file_of_its_own() -> None:
    html = html_of(data_of("granary"))
    assert len(html.encode("utf-8")) <= 100_000
    assert html == html_of(data_of("granary"))
    assert not re.search(r"https?:|url\(|@import|\bsrc=|<link|<img|<iframe", html)
    (policy,) = re.findall(r'Content-Security-Policy" content="([^"]*)"', html)
    parts = dict(part.strip().split(" ", 1) for part in policy.split(";"))
    assert parts["default-src"] == "'none'"
    for kind, tag in (("style-src", "style"), ("script-src", "script")):
        (text,) = re.findall(rf"<{tag}>(.*?)</{tag}>", html, re.DOTALL)
        digest = base64.b64encode(hashlib.sha256(text.encode("utf-8")).digest()).decode("ascii")
        assert parts[kind] == f"'sha256-{digest}'"


@pytest.mark.parametrize("night", ["granary", "parlour", "boathouse", "rowboat"])
def test_everything_of_the_cues_stands_there(night: str) -> None:
    """Song by song, press by press: as in the record that all sheets are made from."""
    data = data_of(night)
    html = re.sub(r"<[^>]*>", " ", html_of(data).partition("</details>")[2])
    text = " ".join(html.replace("&#39;", "'").replace("&amp;", "&").split())
    sheet = cues.sheet_of(data)
    at = 0
    for song in (*(song for one in sheet.sets for song in one.songs), *sheet.asked):
        for words in (
            song.title, f"bank {song.bank.shown}", *song.facts, song.gear, song.note,
            *(
                word
                for press in song.presses
                for word in (
                    *((press.switch, press.scene) if press.scene and not press.stay else ()),
                    press.where, press.cue, *press.feet, press.note,
                )
            ),
            *(word for choice in song.choices for word in (choice.switch, choice.scene)),
            *song.afterwards,
        ):  # fmt: skip
            assert words in text[at:], (song.title, words)
            at = text.index(words, at)


@needs_browser
@pytest.mark.parametrize("size", WIDTHS)
@pytest.mark.parametrize("scripts", [True, False])
def test_at_every_width_with_and_without_scripts(
    browser: Any, tmp_path: Path, size: str, scripts: bool
) -> None:
    width, height = WIDTHS[size]
    page = Page(
        browser,
        tmp_path / "stage.html",
        html_of(data_of("granary")),
        viewport={"width": width, "height": height},
        java_script_enabled=scripts,
    )
    assert page.shown()[:2] == (TITLES[:1] if scripts else TITLES[:2])
    assert len(page.shown()) == (1 if scripts else len(data_of("granary").songs))
    if scripts:
        wide = page.page.evaluate("document.documentElement.scrollWidth")
        assert wide <= width
    else:
        assert page.page.locator("footer").is_hidden()
        link = page.page.locator("details a").nth(4)
        page.page.locator("summary").click()
        link.click()
        assert page.page.url.endswith("#song-5")
    assert page.said == []
    page.context.close()


@needs_browser
@pytest.mark.parametrize("size", [(390, 844), (600, 960), (820, 1180), (1024, 768), (1440, 900)])
def test_what_stands_below_leaves_room_for_the_song(
    browser: Any, tmp_path: Path, size: tuple[int, int]
) -> None:
    """At most a sixth of the page; and no frame is drawn around the song that comes first."""
    width, height = size
    html = html_of(data_of("boathouse"))
    viewport = {"width": width, "height": height}
    page = Page(browser, tmp_path / "s.html", html, viewport=viewport)
    for _ in range(3):
        high = page.page.locator("footer").evaluate("one => one.offsetHeight")
        assert high <= height / 6, size
        outline = "getComputedStyle(document.activeElement).outlineStyle"
        assert page.page.evaluate(outline) == "none"
        page.press("PageDown")
    page.context.close()


CUT = """[...document.querySelectorAll("footer button")]
    .filter(one => one.scrollWidth > one.clientWidth).map(one => one.innerText)"""


@needs_browser
@pytest.mark.parametrize("size", [(320, 568), (390, 844), (820, 1180), (1440, 900)])
def test_a_finger_finds_the_buttons_where_they_were(
    browser: Any, tmp_path: Path, size: tuple[int, int]
) -> None:
    width, height = size
    html = html_of(data_of("boathouse"))
    viewport = {"width": width, "height": height}
    page = Page(browser, tmp_path / "s.html", html, viewport=viewport)
    where = """[...document.querySelectorAll("#on, #back")].map(one =>
        { const box = one.getBoundingClientRect(); return [box.left, box.right, box.bottom]; })"""
    assert page.page.evaluate(CUT) == []
    before = page.page.evaluate(where)
    for _ in range(4):
        page.press("PageDown")
        assert page.page.evaluate(where) == before
    page.page.locator("#clock").click()
    assert page.page.evaluate(where) == before
    page.context.close()


@needs_browser
@pytest.mark.parametrize("key", ["PageDown", "ArrowRight", "ArrowDown", "Space", "Enter"])
def test_a_pedal_turns(granary: Page, key: str) -> None:
    for title in TITLES[:4]:
        assert granary.shown() == [title]
        granary.press(key)
    assert granary.shown() == [TITLES[4]]


@needs_browser
@pytest.mark.parametrize("key", ["PageUp", "ArrowLeft", "ArrowUp", "Backspace", "Shift+Space"])
def test_a_pedal_turns_back(granary: Page, key: str) -> None:
    granary.press("PageDown", "PageDown", key)
    assert granary.shown() == [TITLES[1]]
    granary.press(key, key, key)
    assert granary.shown() == [TITLES[0]]


@needs_browser
def test_a_key_that_is_held_turns_once(granary: Page) -> None:
    granary.page.evaluate(
        """() => { for (const repeat of [false, true, true, true]) document.body.dispatchEvent(
        new KeyboardEvent("keydown", {key: "PageDown", repeat, bubbles: true})); }"""
    )
    assert granary.shown() == [TITLES[1]]


@needs_browser
def test_a_swipe_turns_and_a_scroll_does_not(granary: Page) -> None:
    swipe = """([x, y]) => {
        const target = document.querySelector("main article:not([hidden])");
        const at = (x, y) => new Touch({identifier: 1, target, clientX: x, clientY: y});
        const say = (type, touches, changed) => target.dispatchEvent(
            new TouchEvent(type, {bubbles: true, touches, changedTouches: changed}));
        say("touchstart", [at(500, 400)], [at(500, 400)]);
        say("touchend", [], [at(500 + x, 400 + y)]);
    }"""
    granary.page.evaluate(swipe, [-200, 10])
    assert granary.shown() == [TITLES[1]]
    for move in ([-30, 0], [-100, 90], [0, -300]):
        granary.page.evaluate(swipe, move)
        assert granary.shown() == [TITLES[1]], move
    granary.page.evaluate(swipe, [150, -20])
    assert granary.shown() == [TITLES[0]]


@needs_browser
def test_a_finger_turns_and_a_pedal_after_it(granary: Page) -> None:
    """A button that was touched must not take the pedal's Enter for itself."""
    granary.page.locator("#on").click()
    granary.page.locator("#clock").click()
    granary.press("Enter")
    assert granary.shown() == [TITLES[2]]
    assert re.fullmatch(r"0:0\d", granary.page.locator("#clock").inner_text())
    granary.page.locator("#back").click()
    assert granary.shown() == [TITLES[1]]


@needs_browser
def test_a_song_is_chosen_from_the_list(granary: Page) -> None:
    granary.page.locator("#choose").click()
    granary.page.locator("details a", has_text="Blind Mary").click()
    assert granary.shown() == ["21 Blind Mary"]
    granary.press("PageDown")
    assert granary.shown() == ["22 The Butcher's March"]


@needs_browser
def test_now_and_next_are_told(granary: Page) -> None:
    sheet = cues.sheet_of(data_of("granary"))
    second = sheet.sets[0].songs[1]
    told = granary.page.locator("#following").inner_text()
    assert told.startswith(f"next: 2 {second.title}, bank {second.bank.shown}")
    assert told.endswith(f"press {second.switch}") or second.gear in told
    assert granary.page.locator("#said").text_content() == f"{TITLES[0]}; next {TITLES[1]}"


@needs_browser
def test_the_last_song_ends_it(granary: Page) -> None:
    for _ in range(60):
        granary.press("PageDown")
    assert granary.shown() == [data_of("granary").songs[-1].title]
    assert granary.page.locator("#following").inner_text() == "the last one"


@needs_browser
def test_nothing_turns_by_itself(browser: Any, tmp_path: Path) -> None:
    """Three quarters of an hour go by, on a clock that is wound."""
    path = tmp_path / "stage.html"
    path.write_text(html_of(data_of("granary")), encoding="utf-8")
    context = browser.new_context()
    page = context.new_page()
    page.clock.install()
    page.goto(path.as_uri())
    page.locator("#clock").click()
    page.clock.run_for("45:02")
    assert page.locator("main article:visible h3").count() == 1
    assert "Haste to the Wedding" in page.locator("main article:visible h3").inner_text()
    assert re.fullmatch("45:0[0-2]", page.locator("#clock").inner_text())
    context.close()


@needs_browser
def test_a_long_song_is_read_to_its_end_before_the_page_turns(browser: Any, tmp_path: Path) -> None:
    song = song_of(1, "Endless")
    moments = tuple(
        song.moments[0].model_copy(update={"place": f"bar {n}", "position": f"bar {n}"})
        for n in range(60)
    )
    data = night_of(song.model_copy(update={"moments": moments}), song_of(2, "After it"))
    page = Page(browser, tmp_path / "s.html", html_of(data), viewport={"width": 390, "height": 700})
    last = page.page.locator("article:visible .presses li").last
    for _ in range(60):
        if last.evaluate("one => one.getBoundingClientRect().bottom") < 640:
            break
        page.press("PageDown")
        assert page.shown() == ["1 Endless"]
    else:
        raise AssertionError("its end never came")
    page.press("PageDown")
    assert page.shown() == ["2 After it"]
    page.context.close()


@needs_browser
@pytest.mark.parametrize("light", [False, True])
@pytest.mark.parametrize("lamp", [(1, 1, 1), (1, 0, 0), (0, 1, 0), (0, 0, 1)])
def test_contrast_in_any_light(granary: Page, light: bool, lamp: tuple[int, int, int]) -> None:
    """At least 7 (WCAG 2.2, SC 1.4.6), and nearly all that is possible in light of one colour.

    Ink and paper are what the browser painted; under a lamp only its part of them is left. White
    on black under a red lamp is 5.3:1 and under a blue one 2.4:1, whatever is printed.
    """
    if light:
        granary.page.locator("#light").check()
    ink, paper = (
        granary.page.evaluate(f"getComputedStyle(document.body).{name}")
        for name in ("color", "backgroundColor")
    )
    colours = [tuple(map(int, re.findall(r"\d+", one)[:3])) for one in (ink, paper)]
    lit = [
        "#" + "".join(f"{(one if on else 0):02x}" for one, on in zip(colour, lamp, strict=True))
        for colour in colours
    ]
    white = "#" + "".join("ff" if on else "00" for on in lamp)
    if lamp == (1, 1, 1):
        assert contrast(*lit) >= 7
    assert contrast(*lit) >= 0.8 * contrast(white, "#000000")


@needs_browser
@needs_axe
@pytest.mark.parametrize("size", WIDTHS)
@pytest.mark.parametrize("light", [False, True])
def test_nothing_for_axe_to_find(browser: Any, tmp_path: Path, size: str, light: bool) -> None:
    width, height = WIDTHS[size]
    page = Page(
        browser,
        tmp_path / "stage.html",
        html_of(data_of("granary")),
        viewport={"width": width, "height": height},
        bypass_csp=True,
    )
    if light:
        page.page.locator("#light").check()
    page.page.evaluate(Path(AXE).read_text(encoding="utf-8"))
    found = page.page.evaluate("axe.run()")
    assert [
        (one["id"], [node["html"] for node in one["nodes"]]) for one in found["violations"]
    ] == []
    assert len(found["passes"]) > 15
    page.context.close()


@needs_browser
@needs_axe
@pytest.mark.parametrize("size", ["phone", "desktop"])
@pytest.mark.parametrize("name", SHEETS)
def test_nothing_for_axe_to_find_on_the_sheets(
    browser: Any, tmp_path: Path, name: str, size: str
) -> None:
    width, height = WIDTHS[size]
    page = Page(
        browser,
        tmp_path / name,
        sheets("granary")[name].decode("utf-8"),
        viewport={"width": width, "height": height},
        bypass_csp=True,
    )
    page.page.evaluate(Path(AXE).read_text(encoding="utf-8"))
    found = page.page.evaluate("axe.run()")
    assert [(one["id"], one["nodes"][0]["html"]) for one in found["violations"]] == []
    assert len(found["passes"]) > 10
    page.context.close()


@needs_browser
@pytest.mark.parametrize("night", ["granary", "parlour", "small"])
def test_the_sheet_leaves_drawings_as_they_are(browser: Any, tmp_path: Path, night: str) -> None:
    """A style of the sheet could change a drawing's shapes: SVG 2, 7.1, geometry properties."""
    page = Page(
        browser, tmp_path / "sheet.html", sheets(night)["preset-sheet.html"].decode("utf-8")
    )
    found = page.page.evaluate(
        """() => [...document.querySelectorAll("svg rect")].map(one => {
            const box = one.getBBox();
            return ["x", "y", "width", "height"].map(name =>
                [box[name], Number(one.getAttribute(name))]);
        })"""
    )
    assert len(found) > 5
    for sides in found:
        for drawn, meant in sides:
            assert drawn == pytest.approx(meant, abs=0.01)
    inside = page.page.evaluate(
        """() => [...document.querySelectorAll("svg text")].every(one => {
            const [text, all] = [one, one.ownerSVGElement].map(one => one.getBoundingClientRect());
            return text.left >= all.left - 1 && text.right <= all.right + 1;
        })"""
    )
    assert inside
    page.context.close()


@needs_browser
@pytest.mark.parametrize(
    "text", [*HOSTILE, '"><script>alert(1)</script>', "' onload='x", "</style>"]
)
def test_texts_are_shown_as_they_are(browser: Any, tmp_path: Path, text: str) -> None:
    song = song_of(1, text, guitar=text, note=text, key=text)
    moments = tuple(one.model_copy(update={"cue": text}) for one in song.moments)
    data = night_of(song.model_copy(update={"moments": moments}), night=text, rig=text)
    page = Page(browser, tmp_path / "stage.html", html_of(data))
    wanted = " ".join(text.split())
    assert page.shown() == [f"1 {wanted}"]
    assert page.page.title() == f"{wanted}, {wanted}: on stage"
    assert page.page.locator("script").count() == 1
    assert page.said == []
    page.context.close()


@needs_browser
def test_where_the_screen_cannot_be_kept_on_it_says_so(browser: Any, tmp_path: Path) -> None:
    path = tmp_path / "stage.html"
    path.write_text(html_of(data_of("granary")), encoding="utf-8")
    context = browser.new_context()
    context.add_init_script("Object.defineProperty(navigator, 'wakeLock', {value: undefined})")
    page = context.new_page()
    page.goto(path.as_uri())
    page.locator("#awake", has_text="may go dark").wait_for(state="attached", timeout=5000)
    context.close()


@needs_browser
def test_the_browser_refuses_what_is_not_ours(browser: Any, tmp_path: Path) -> None:
    html = html_of(data_of("granary")).replace(
        "</main>", "<script>document.title = 'taken over'</script><img src='x.png'></main>"
    )
    page = Page(browser, tmp_path / "stage.html", html)
    assert page.page.title() != "taken over"
    assert any("Content Security Policy" in one for one in page.said)
    page.context.close()
