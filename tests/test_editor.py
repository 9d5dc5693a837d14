"""What an editor shows while a book is typed, from the real yaml-language-server.

The server reads our schemas as they are written beside a book; the client is
`tests.language_server`. Lines and columns count from 0 there.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from hypothesis import HealthCheck, Phase, given, seed, settings

from setwright.compiler.new_book import write_new_book
from setwright.scenes.schema import KINDS, schema_of
from tests.language_server import LanguageServer, find_server
from tests.legal_documents import WRONG, documents, marked_line, to_yaml
from tests.test_schema import LEGAL

ROOT = Path(__file__).resolve().parents[1]
DEMO = ROOT / "examples" / "winter-dance"
NEW = ROOT / "templates" / "new"


@pytest.fixture(scope="module")
def book(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("editor") / "Ünser Buch"
    assert isinstance(write_new_book(str(folder)), list)
    return folder


@pytest.fixture(scope="module")
def server(book: Path) -> Iterator[LanguageServer]:
    command = find_server()
    if command is None:
        pytest.skip("needs yaml-language-server")
    with LanguageServer(book, command=command) as server:
        yield server
    assert server.exit_code == 0


def modeline(kind: str) -> str:
    return f"# yaml-language-server: $schema=.schemas/{kind}.schema.json\n"


# -- what is right, and what is wrong -------------------------------------------------------------


def test_our_own_files_have_nothing_to_say(server: LanguageServer, book: Path) -> None:
    paths = [*sorted(DEMO.glob("*.yaml")), *sorted(book.glob("*.yaml"))]
    assert len(paths) >= 10
    # All are opened before any is asked about: the server waits a moment before each check.
    opened = {}
    for path in paths:
        text = path.read_text(encoding="utf-8")
        assert text.startswith("# yaml-language-server: $schema="), path
        opened[path.name] = server.open(path, text)
    assert {name: server.diagnostics(uri) for name, uri in opened.items()} == {
        name: [] for name in opened
    }
    # That they have nothing to say is worth something only where a slip is said.
    for path in paths:
        slip = path.read_text(encoding="utf-8") + "\nno such key: 1\n"
        opened[path.name] = server.open(path, slip)
    for path in paths:
        said = [one.message for one in server.diagnostics(opened[path.name])]
        assert said == ["Property no such key is not allowed."], path


def test_odd_but_legal_files_have_nothing_to_say(server: LanguageServer, book: Path) -> None:
    opened = {
        case: server.open(book / f"legal {number}.yaml", modeline(kind) + text)
        for number, (case, (kind, text)) in enumerate(LEGAL.items())
    }
    assert {case: server.diagnostics(uri) for case, uri in opened.items()} == {
        case: [] for case in opened
    }


@pytest.mark.parametrize("kind", KINDS)
def test_whatever_the_reader_takes_the_editor_takes(
    server: LanguageServer, book: Path, kind: str
) -> None:
    drawn: list[str] = []

    @seed(1)
    @settings(
        max_examples=40,
        database=None,
        deadline=None,
        phases=[Phase.generate],
        suppress_health_check=list(HealthCheck),
    )
    @given(documents(kind))
    def draw(document: Any) -> None:
        drawn.append(modeline(kind) + to_yaml(document))

    draw()
    opened = {
        server.open(book / f"{kind} {number}.yaml", text): text
        for number, text in enumerate(dict.fromkeys(drawn))
    }
    assert len(opened) > 20
    for uri, text in opened.items():
        assert server.diagnostics(uri) == [], text


def test_slips_are_underlined_where_they_are(server: LanguageServer, book: Path) -> None:
    opened = {
        case: server.open(book / f"wrong {number}.yaml", modeline(kind) + text)
        for number, (case, (kind, text)) in enumerate(WRONG.items())
    }
    lines = {case: [one.line for one in server.diagnostics(uri)] for case, uri in opened.items()}
    # The modeline stands above, and the protocol counts from 0.
    assert lines == {case: [marked_line(text)] for case, (_, text) in WRONG.items()}


SAID = {
    "a tempo without its note": "write the note that it counts, and how many a minute: "
    "quarter = 120, or dotted quarter = 112 for a jig; from a place on: quarter = 120, quarter = "
    "96 from bridge; or free",
    "a meter that is none": "write a time signature: 4/4, 6/8",
    "a place that is none": "write a place in the song: round 2 A, chorus 2, verse 2 bar 5, "
    "bar 17 or 1:05",
    "a current without a unit": "write the current as the label says it: 45 mA",
    "an empty title": "one value belongs here; true, false and null need quotes around them",
    "channel 17": "Value is above the maximum of 16.",
    "half a slot": "write a whole number from 0 to 64",
    "neither yes nor no": 'Value is not accepted. Valid values: "yes", "no".',
    "a polarity that is none": "Value is not accepted. "
    'Valid values: "centre negative", "centre positive".',
    "a key that no scene has": "Property sond is not allowed.",
    "a night without a rig": 'Missing property "rig".',
    "power without its voltage": 'Missing property "volts".',
    "a song to play without a name": 'Missing property "song".',
}


@pytest.mark.parametrize("case", SAID)
def test_slips_are_named_in_plain_words(server: LanguageServer, book: Path, case: str) -> None:
    kind, text = WRONG[case]
    path = book / f"{re.sub(r'[^a-z0-9]', '', case)}.yaml"
    found = server.diagnostics(server.open(path, modeline(kind) + text))
    assert [one.message for one in found] == [SAID[case]]


# -- hover ----------------------------------------------------------------------------------------

EVERYTHING = {
    "songs": """\
include: more.yaml
sounds:
  plain: [compression]
  frost: {effects: [tremolo]}
songs:
  - title: Tune
    id: t
    key: E dorian
    meter: 6/8
    tempo: dotted quarter = 112
    form: AABB, 3 rounds
    bars: {A: 8}
    lasts: 3:10
    guitar: steel
    echo: quarter
    note: x
    let pass: {beyond-end: x}
    scenes:
      Start: plain
      Lift:
        sound: frost
        echo: eighth
        add: lead
      Blaze: {like: Lift, drop: tremolo}
    order:
      - Start
      - Lift: round 2 A
      - Blaze: {at: bar 3, cue: x, foot: swell open}
""",
    "switcher": """\
switcher: floor
banks: 20
switches: 5
loops: 7
relays: [hold]
each preset stores: {programs: 4, on any channel: yes, sends: programs first}
bank moves:
  by: up and down
  loads at once: no
recalled on channel: 16
first program: 0
recalled by bank select: no
same switch again: goes back
at power up: last used
copies presets: yes
loop order: fixed
volume loop: {after loop: 3}
clock: per preset
tap outputs: 1
gap between messages: 3 ms
passes on MIDI: no
note: x
let pass: {beyond-recall: x}
""",
    "rig": """\
rig: Granary
include: more.yaml
switcher: {file: floor.yaml, banks: 1 to 12, every bank: {switch 5: Tuner}}
units:
  delay:
    is: effect
    channel: 9
    free programs: [60]
    switched by: {cc: 28, on: 127, off: 0}
    time: {cc: 20, points: {0: 20 ms, 127: 1 s}, at rest: 400 ms}
    controls:
      mix: {cc: 21, linear: 0 % to 100 %}
    tails: stay
    power: {draws: 45 mA, volts: 9 V, polarity: centre negative}
effects:
  lead: {delay: {state: x, set: {mix: 4 %}}}
instead of: {lead: nothing}
general: {Plain: []}
path:
  - [guitar, delay]
midi:
  - [switcher, {delay: {thru: no}}]
supply:
  one: {gives: 100 mA, volts: 9 V, feeds: delay}
note: x
changes within: 150 ms
best for: the feet
let pass: {deaf-unit: x}
cue sheet: {eyes above: 1.2 m, ahead: 80 cm, faces you: no}
""",
    "night": """\
night: Dance
date: x
rig: rig.yaml
songs: songs.yaml
sets:
  - name: First
    at most: 45 min
    note: x
    play:
      - Tune
      - straight into: Jig
      - {song: Reel, capo: 3, tempo: half = 90, leave out: Lift, note: x}
if asked: Jig
note: x
best for: the hands
bank presses: 3
let pass: {set-too-long: x}
between songs: 30 s
cue sheet: {eyes above: 1.2 m}
""",
}

_KEY = re.compile(r"(?<=[\s{-])([\w%][\w %.-]*?):(?=\s|$)|^(\w[\w ]*?):(?=\s|$)")


def _keys(text: str) -> Iterator[tuple[int, int, str]]:
    """Yield line, column and name of every key, those in braces too."""
    for number, line in enumerate(text.splitlines()):
        for match in _KEY.finditer(line):
            group = 1 if match.group(1) else 2
            yield number, match.start(group), match.group(group).strip()


def _described(kind: str) -> dict[str, set[str]]:
    """Return the descriptions that a key has in its schema, by the key."""
    schema = schema_of(kind)
    found: dict[str, set[str]] = {}
    for one in (schema, *schema["$defs"].values()):
        at_length = next(way for way in one.get("anyOf", [one]) if "properties" in way)
        for key, value in at_length["properties"].items():
            found.setdefault(key, set()).add(value["description"])
    return found


@pytest.mark.parametrize("kind", KINDS)
def test_every_key_explains_itself(server: LanguageServer, book: Path, kind: str) -> None:
    path = book / f"everything {kind}.yaml"
    text = modeline(kind) + EVERYTHING[kind]
    assert server.diagnostics(server.open(path, text)) == []
    described = _described(kind)
    explained = set()
    for line, column, key in _keys(text):
        if key not in described:
            continue
        shown = re.sub(r"\\(.)", r"\1", server.hover(path, line, column + 1))
        assert any(words in shown for words in described[key]), (key, shown)
        assert "||" not in shown, shown
        explained.add(key)
    assert set(schema_of(kind)["properties"]) <= explained
    assert len(explained) >= 12


def at(text: str, piece: str) -> tuple[int, int]:
    """Return line and column just within ``piece``, which stands once in ``text``."""
    assert text.count(piece) == 1, piece
    before = text[: text.index(piece)]
    return before.count("\n"), len(before) - before.rfind("\n")


@pytest.mark.parametrize(
    ("kind", "piece", "shown"),
    [
        ("songs", "frost: {", "A named list of effects that scenes share."),
        ("songs", "Start: plain", "One sound within a song, one press on the night."),
        ("songs", "Blaze: {at", "A moment of the song at which a scene is pressed."),
        ("rig", "delay:\n    is", "One box of the rig."),
        ("rig", "mix: {cc", "A control of a unit that has a meaning"),
        ("rig", "switch 5", "kept the same in every bank"),
        ("rig", "one: {gives", "One output of the power supply."),
        ("night", "Tune\n", "One song of a set"),
    ],
)
def test_names_of_ones_own_say_what_they_are_for(
    server: LanguageServer, book: Path, kind: str, piece: str, shown: str
) -> None:
    path = book / f"names {kind}.yaml"
    text = modeline(kind) + EVERYTHING[kind]
    server.open(path, text)
    assert shown in server.hover(path, *at(text, piece))


def test_a_choice_shows_what_there_is_and_what_holds_otherwise(
    server: LanguageServer, book: Path
) -> None:
    path = book / "choice.yaml"
    text = modeline("rig") + EVERYTHING["rig"]
    server.open(path, text)
    shown = server.hover(path, *at(text, "tails"))
    assert "If not said: cut." in shown
    assert "* `stay`" in shown
    assert "* `cut`" in shown


# -- completion -----------------------------------------------------------------------------------

HERE = "@"

OFFERED: dict[str, tuple[str, str, set[str], set[str]]] = {
    "a file of songs": ("songs", "songs: []\n@", {"sounds", "include"}, {"songs"}),
    "a song": (
        "songs",
        "songs:\n  - title: Tune\n    key: D major\n    @",
        {"meter", "tempo", "form", "bars", "guitar", "scenes", "order", "echo"},
        {"title", "key"},
    ),
    "a scene": (
        "songs",
        "songs:\n  - title: Tune\n    scenes:\n      Lift:\n        like: Start\n        @",
        {"add", "drop", "echo", "sound", "effects"},
        {"like"},
    ),
    "a moment": (
        "songs",
        "songs:\n  - title: Tune\n    order:\n      - Lift:\n          at: bar 3\n          @",
        {"cue", "foot"},
        {"at"},
    ),
    "a switcher": (
        "switcher",
        "switcher: floor\nbanks: 20\n@",
        {"switches", "loops", "each preset stores", "bank moves", "at power up"},
        {"switcher", "banks"},
    ),
    "what a preset stores": (
        "switcher",
        "switcher: floor\neach preset stores:\n  programs: 4\n  @",
        {"controls", "on any channel", "sends"},
        {"programs"},
    ),
    "a rig": (
        "rig",
        "rig: Granary\n@",
        {"switcher", "units", "effects", "general", "instead of", "path", "midi", "supply"},
        {"rig"},
    ),
    "a unit": (
        "rig",
        "switcher: floor.yaml\nunits:\n  echo:\n    channel: 9\n    @",
        {"is", "loop", "display", "programs", "switched by", "time", "power", "tails"},
        {"channel"},
    ),
    "power": (
        "rig",
        "switcher: floor.yaml\nunits:\n  echo:\n    power:\n      draws: 4 mA\n      @",
        {"volts", "current", "polarity"},
        {"draws"},
    ),
    "a night": ("night", "night: Dance\n@", {"rig", "songs", "sets", "if asked"}, {"night"}),
    "a set": (
        "night",
        "night: Dance\nsets:\n  - name: First\n    @",
        {"play", "at most", "note"},
        {"name"},
    ),
    "a song to play": (
        "night",
        "night: Dance\nsets:\n  - play:\n      - song: Tune\n        @",
        {"capo", "tempo", "leave out", "note"},
        {"song"},
    ),
    "a kind of box": (
        "rig",
        "units:\n  echo:\n    is: @",
        {"effect", "amplifier", "splitter"},
        {"true", "Amplifier"},
    ),
    "yes or no": ("rig", "units:\n  echo:\n    thru: @", {'"yes"', '"no"'}, {"null"}),
    "a tempo": (
        "songs",
        "songs:\n  - title: Tune\n    tempo: @",
        {"quarter = 120", "dotted quarter = 112"},
        {"true", "false"},
    ),
}


@pytest.mark.parametrize("case", OFFERED)
def test_offers_what_is_missing(server: LanguageServer, book: Path, case: str) -> None:
    kind, text, wanted, unwanted = OFFERED[case]
    text = modeline(kind) + text
    line, column = at(text, HERE)
    path = book / f"offer {case}.yaml"
    server.open(path, text.replace(HERE, ""))
    offered = server.complete(path, line, column - 1)
    assert wanted <= set(offered)
    assert not unwanted & set(offered)
    assert len(offered) == len(set(offered)), offered


def test_offers_the_keys_of_a_record_in_its_own_order(server: LanguageServer, book: Path) -> None:
    path = book / "order.yaml"
    server.open(path, modeline("night") + "\n")
    keys = list(schema_of("night")["properties"])
    assert [one for one in server.complete(path, 1, 0) if one in keys] == keys
