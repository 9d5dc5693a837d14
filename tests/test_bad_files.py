"""Bad books: each one finding, at the place where it is wrong, and never a traceback or a hang."""

from __future__ import annotations

import json
import os
import subprocess
import sys
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

import pytest

from setwright.compiler.compiled import Compiled, Unopened
from setwright.compiler.pipeline import compile_night
from setwright.scenes.finding import Severity
from tests.books import HEAD, small_book, write_files
from tests.conftest import ROOT
from tests.mini import told

HERE = "▸"
"""Marks the place of the finding in the text of a case; it is taken out before the text is used."""


@dataclass(frozen=True, slots=True)
class Case:
    """``old`` in the good ``file`` becomes ``new``; the finding is ``code`` where `HERE` stands."""

    file: str
    old: str
    new: str
    code: str
    severity: Severity = Severity.ERROR


def songs(old: str, new: str, code: str) -> Case:
    return Case("songs.yaml", old, new, code)


def warning(old: str, new: str, code: str) -> Case:
    return Case("songs.yaml", old, new, code, Severity.WARNING)


def night(old: str, new: str, code: str) -> Case:
    return Case("night.yaml", old, new, code)


def rig(old: str, new: str, code: str) -> Case:
    return Case("rig.yaml", old, new, code)


def desk(old: str, new: str, code: str) -> Case:
    return Case("desk.yaml", old, new, code)


TEMPO = "tempo: half = 104"
START = "Start: plain\n      Lift: {sound: frost, echo: dotted quarter}"
LONG = "9" * 5000

CASES = {
    # Names and keys that nothing knows.
    "unknown key of a song": songs("meter: 2/2", "▸metre: 2/2", "unknown-key"),
    "unknown key of a scene": songs("{sound: frost, echo: dotted", "{sound: frost, ▸eco: dotted", "unknown-key"),
    "unknown key of a night": night("date: second", "▸when: second", "unknown-key"),
    "unknown key of a rig": rig("rig: Boathouse", "▸wires: 3\nrig: Boathouse", "unknown-key"),
    "unknown key of a unit": rig("busy after program: 120 ms", "▸busy for: 120 ms", "unknown-key"),
    "unknown key of a switcher": desk("at power up", "▸at startup", "unknown-key"),
    "unknown sound": songs("Shade: shiver", "Shade: ▸shriek", "unknown-sound"),
    "unknown scene in the order": songs("- Lift: round 2 A", "- ▸Loft: round 2 A", "unknown-scene"),
    "unknown scene to begin from": songs("{like: Lift, add", "{like: ▸Lofty, add", "unknown-scene"),
    "unknown effect": songs("shiver: [compression, vibrato]", "shiver: [compression, vibrato, ▸fog]", "unknown-effect"),
    "unknown song": night("- The Swallow's Tail", "- ▸The Lark's Tail", "unknown-song"),
    "unknown unit in the path": rig("[splitter, echo, ash", "[splitter, ▸eco, ash", "unknown-unit"),
    "unknown unit on a MIDI line": rig("[switcher, wobbler, barn", "[switcher, ▸warbler, barn", "unknown-unit"),
    "unknown state": rig("vibrato: {wobbler: vibrato}", "vibrato: {wobbler: ▸vibration}", "unknown-state"),
    "unknown control": rig("set: {time: 118 ms, mix", "set: {time: 118 ms, ▸mixture", "unknown-control"),
    "unknown position of the foot": songs("foot: swell open", "foot: ▸swell opening", "unknown-state"),
    "drops what is not there": warning("add: lead, drop: tremolo", "add: lead, drop: ▸room", "drops-nothing"),
    "adds what is there": warning("add: lead, drop: tremolo", "add: ▸compression", "adds-twice"),
    "scenes that begin from one another": songs(START, "Start: {like: ▸Lift}\n      Lift: {like: Start}", "like-in-circle"),
    "two songs known by one name": songs("  - title: Drowsy Maggie", "  - title: Drowsy Maggie\n  - title: ▸Drowsy Maggie", "song-twice"),
    # What is empty, and what leads nowhere.
    "a set without songs": Case("night.yaml", "  - name: After soup", "  - {name: Middle, ▸play: []}\n  - name: After soup", "set-empty", Severity.WARNING),
    "a night without a file of songs": night("songs: songs.yaml", "▸songs: []", "nothing-to-play"),
    "nothing under include": songs("sounds:", "▸include: ''\nsounds:", "empty-value"),
    "one name under include is empty": rig("rig: Boathouse", "rig: Boathouse\ninclude: [▸'']", "empty-value"),
    "a misspelt effect on the left": Case("rig.yaml", "  tremolo: vibrato\n  hall", "  ▸tremlo: vibrato\n  hall", "stand-in-for-nothing", Severity.WARNING),
    "effects that stand in for one another": rig("  tremolo: vibrato\n  hall", "  ▸fog: mist\n  mist: fog\n  hall", "instead-of-in-circle"),
    "an effect that stands in for itself": rig("  tremolo: vibrato\n  hall", "  ▸tremolo: [tremolo, vibrato]\n  hall", "instead-of-in-circle"),
    "bars of a part that the form lacks": songs("bars: {A: 8, B", "bars: {A: 8, ▸Q: 8, B", "no-such-part"),
    "bars of a part without a form": songs("lasts: 3:10", "bars: {▸A: 8}\n    lasts: 3:10", "no-such-part"),
    "bars of one part in two letters": songs("bars: {A: 8, B", "bars: {A: 8, ▸a: 16, B", "key-twice"),
    "more switches than there can be": desk("switches: 8", "switches: ▸0 to 16383", "out-of-range"),
    "more switches in rows than there can be": desk("switches: 8", "switches: ▸A1 to H9", "out-of-range"),
    "more banks than there can be": desk("banks: 32", "banks: ▸16385", "out-of-range"),
    "more banks, as shown, than there can be": desk("banks: 32", "banks: ▸0 to 16384", "not-a-display"),
    "more switches, counted": desk("switches: 8", "switches: ▸65", "out-of-range"),
    # Values of another kind.
    "a list for a title": songs("title: The Swallow's Tail", "▸title: [The Swallow's Tail]", "wrong-shape"),
    "a mapping for a key": songs("key: A major", "▸key: {A: major}", "wrong-shape"),
    "a number for scenes": songs("scenes:\n      Low: shiver", "scenes: ▸3\n    note: |\n      Low: shiver", "wrong-shape"),
    "a list for units": rig("programs: {tremolo: 42, vibrato: 43, rotor: 44}", "▸programs: [42, 43, 44]", "wrong-shape"),
    "nothing for a meter": songs("meter: 2/2", "▸meter:", "empty-value"),
    "quotes around nothing": songs("meter: 2/2", "▸meter: ''", "empty-value"),
    "no title": songs("- title: The Swallow's Tail\n    key", "- ▸key", "missing-key"),
    "a word for a loop": rig("loop: 2", "loop: ▸two", "not-a-number"),
    "half a bank": desk("banks: 32", "banks: ▸3.5", "not-a-display"),
    "neither yes nor no": desk("loads at once: no", "loads at once: ▸perhaps", "not-yes-or-no"),
    "not a meter": songs("meter: 2/2", "meter: ▸2/3", "not-a-meter"),
    "not a form": songs("form: AABB, 4 rounds", "form: ▸4 rounds", "not-a-form"),
    "not a place": songs("- Drive: round 3 A", "- Drive: ▸3 bars later", "not-a-place"),
    "a part that the form lacks": songs("- Drive: round 3 A", "- Drive: ▸round 3 Q", "no-such-part"),
    "not an echo": songs("echo: 420 ms", "echo: ▸loud", "not-an-echo-time"),
    "not a length of time": night("at most: 45 min", "at most: ▸long", "not-a-duration"),
    "not a voltage": rig("power: {draws: 5 mA, volts: 9 V}", "power: {draws: 5 mA, volts: ▸nine}", "not-a-voltage"),
    "the voltage of the mains": rig("power: {draws: 5 mA, volts: 9 V}", "power: {draws: 5 mA, volts: ▸230 V}", "out-of-range"),
    "not a current": rig("power: {draws: 5 mA, volts: 9 V}", "power: {draws: ▸5, volts: 9 V}", "not-a-current"),
    "an unknown choice": desk("same switch again: sends again", "same switch again: ▸explodes", "unknown-choice"),
    # Numbers beyond what there is. MIDI 1.0 Detailed Specification 4.2.1: channels are 4 bits,
    # programs and control values 7; control numbers 120 to 127 are mode messages.
    "channel 0": rig("channel: 6", "channel: ▸0", "channel-out-of-range"),
    "channel 17": rig("channel: 6", "channel: ▸17", "channel-out-of-range"),
    "channel -1": rig("channel: 6", "channel: ▸-1", "channel-out-of-range"),
    "channel of the switcher": desk("recalled on channel: 16", "recalled on channel: ▸17", "channel-out-of-range"),
    "a program beyond the display": rig("tremolo: 42, vib", "tremolo: ▸100, vib", "program-out-of-range"),
    "a program below the display": rig("{small room: 3,", "{small room: ▸0,", "program-out-of-range"),
    "a program beyond one bank": rig("display: 1 to 128\n    programs: {small room: 3, great hall: 12}", "display: 1 to 200\n    programs: {small room: 3, great hall: ▸129}", "program-out-of-range"),
    "a negative program": rig("tremolo: 42, vib", "tremolo: ▸-1, vib", "program-out-of-range"),
    "control 120": rig("time: {cc: 20,", "time: {cc: ▸120,", "control-is-mode-message"),
    "control 128": rig("time: {cc: 20,", "time: {cc: ▸128,", "control-out-of-range"),
    "control -1": rig("time: {cc: 20,", "time: {cc: ▸-1,", "control-out-of-range"),
    "control 1.5": rig("time: {cc: 20,", "time: {cc: ▸1.5,", "not-a-number"),
    "a value of 128": rig("on: 127, off: 0", "on: ▸128, off: 0", "out-of-range"),
    "a loop that the switcher lacks": rig("loop: 6", "loop: ▸9", "loop-out-of-range"),
    "loop 0": rig("loop: 6", "loop: ▸0", "loop-out-of-range"),
    "a loop of 5,000 digits": rig("loop: 6", f"loop: ▸{LONG}", "not-a-number"),
    "a bank that the switcher lacks": rig("banks: 1 to 16", "banks: ▸1 to 33", "bank-out-of-range"),
    "banks backwards": rig("banks: 1 to 16", "banks: ▸16 to 1", "span-backwards"),
    "a setting beyond its curve": rig("at rest: 400 ms", "at rest: ▸2 s", "out-of-range"),
    "a capo on fret 15": night("capo: 4", "capo: ▸15", "out-of-range"),
    "tempo 0": songs(TEMPO, "tempo: ▸half = 0", "tempo-out-of-range"),
    "tempo -104": songs(TEMPO, "tempo: ▸half = -104", "tempo-out-of-range"),
    "tempo 1e999": songs(TEMPO, "tempo: ▸half = 1e999", "not-a-number"),
    "tempo .inf": songs(TEMPO, "tempo: ▸half = .inf", "not-a-number"),
    "tempo nan": songs(TEMPO, "tempo: ▸half = .nan", "not-a-number"),
    "tempo of 5,000 digits": songs(TEMPO, f"tempo: ▸half = {LONG}", "not-a-number"),
    "tempo with 5,000 decimals": songs(TEMPO, f"tempo: ▸half = 1.{LONG}", "not-a-number"),
    "tempo without its beat": songs(TEMPO, "tempo: ▸104", "tempo-without-beat"),
    "tempo with underscores": songs(TEMPO, "tempo: ▸half = 1_04", "not-a-number"),
    "a length of 5,000 digits": songs("lasts: 3:10", f"lasts: ▸{LONG} s", "not-a-duration"),
    "rounds without end": songs("form: AABB, 4 rounds", f"form: ▸AABB, {LONG} rounds", "not-a-form"),
    "a program with such a letter": rig("display: 0 to 99\n    programs: {tremolo: 42, vibrato: 43, rotor: 44}", "display: A1 to H8\n    programs: {tremolo: ▸ß3, vibrato: B4, rotor: B5}", "program-out-of-range"),
    "a letter whose capital is two": rig("display: 1 to 128", "display: ▸ß to Z", "not-a-display"),
    "a display of 5,000 digits": rig("display: 0 to 99", f"display: ▸0 to {LONG}", "not-a-display"),
    "a title of 5,000 letters": songs("title: Planxty Fanny Powers", f"title: ▸{'a' * 5000}", "name-too-long"),
    # YAML.
    "a key twice": songs("key: A major", "key: A major\n    ▸key: B minor", "key-twice"),
    "a scene twice": songs(START, f"{START}\n      ▸Start: frost", "key-twice"),
    "a merge key": songs("key: A major", "▸<<: {key: A major}", "merge-key"),
    "a tag": songs("title: Harvest Home", "title: ▸!!str Harvest Home", "yaml-tag"),
    "a tag of a program": songs("title: Harvest Home", "title: ▸!!python/object/apply:os.system [ls]", "yaml-tag"),
    "an unknown alias": songs("key: A major", "key: ▸*major", "alias-unknown"),
    "an alias to itself": songs("plain: [compression]", "plain: &x [compression, ▸*x]", "alias-loop"),
    "a list for a name": songs("plain: [compression]", "[▸plain]: [compression]", "key-not-text"),
    "a second document": songs("sounds:", "a: b\n▸---\nsounds:", "second-document"),
    "a comment by mistake": warning("key: F# minor", "key: F ▸#minor", "cut-by-comment"),
    "a tab after a colon": warning("key: A major", "▸key:\tA major", "tab"),
    "a tab for indentation": songs("    key: A major", "▸\tkey: A major", "tab"),
    "brackets left open": songs("plain: [compression]", "plain: ▸[compression", "yaml-syntax"),
    "braces left open": songs("{sound: frost, echo: dotted quarter}", "▸{sound: frost, echo: dotted quarter", "yaml-syntax"),
    "a question mark behind quotes": songs("{sound: frost, echo: dotted quarter}", "{sound: 'frost' ▸? b}", "yaml-syntax"),
    "a quotation left open": songs("title: Planxty Fanny Powers", "title: ▸'Planxty Fanny Powers", "yaml-syntax"),
    "a sign that begins nothing": songs("title: Harvest Home", "title: ▸@Harvest Home", "yaml-syntax"),
    "an indentation of its own": songs("    key: A major", "   ▸key: A major", "yaml-syntax"),
    "a backslash in quotes": songs("title: Harvest Home", r'title: "Harvest ▸\Home"', "yaml-syntax"),
    # Signs that cannot be seen.
    "NUL": songs("title: Harvest Home", "title: Harvest▸\0Home", "not-text"),
    "escape": songs("title: Harvest Home", "title: Harvest▸\x1b[31mHome", "control-character"),
    # Breaks lines for some parsers of YAML 1.1 and not for those of 1.2 (YAML 1.2.2, 5.4).
    "line separator": songs("title: Harvest Home", "title: Harvest▸\u2028Home", "control-character"),
    "next line": songs("title: Harvest Home", "title: Harvest▸\x85Home", "control-character"),
    "escape on the first line": songs("# The book of", "# The book ▸\x1b[31mof", "control-character"),
    "byte order mark within the text": songs("title: Harvest Home", "title: Harvest▸\ufeffHome", "control-character"),
    # Files.
    "a rig that is missing": night("rig: rig.yaml", "rig: ▸barn.yaml", "file-missing"),
    "songs that are missing": night("songs: songs.yaml", "songs: ▸tunes.yaml", "file-missing"),
    "a switcher that is missing": rig("{file: desk.yaml,", "{file: ▸box.yaml,", "file-missing"),
    "an include that is missing": songs("sounds:", "include: ▸more.yaml\nsounds:", "file-missing"),
    "one of many includes": rig("rig: Boathouse", "rig: Boathouse\ninclude: [▸more.yaml]", "file-missing"),
    "songs from above": night("songs: songs.yaml", "songs: ▸../songs.yaml", "file-outside"),
    "a rig from the root": night("rig: rig.yaml", "rig: ▸/etc/passwd", "file-outside"),
    "an include from above": songs("sounds:", "include: ▸../x.yaml\nsounds:", "file-outside"),
    "an include that goes up and down": songs("sounds:", "include: ▸x/../../y.yaml\nsounds:", "file-outside"),
    "a file that includes itself": songs("sounds:", "include: ▸songs.yaml\nsounds:", "include-cycle"),
    "a folder for songs": night("songs: songs.yaml", "songs: ▸.", "file-unreadable"),
    "a name that no file can have": night("songs: songs.yaml", f"songs: ▸{'x' * 199}/{'y' * 300}", "name-too-long"),
}  # fmt: skip


def found(compiled: Compiled | Unopened) -> list[tuple[str, Severity, str, int, int]]:
    return [
        (f.code, f.severity, Path(f.place.file).name, f.place.line, f.place.column)
        for f in compiled.findings
    ]


def check(folder: Path, **changed: str | bytes) -> Compiled | Unopened:
    """Check the good book with whole files replaced; underlines stand for dots in their names."""
    write_files(folder, small_book())
    for name, content in changed.items():
        data = content if isinstance(content, bytes) else content.encode("utf-8")
        (folder / name.replace("_", ".")).write_bytes(data)
    return compile_night(folder / "night.yaml")


@pytest.mark.parametrize("name", CASES)
def test_one_finding_where_it_is_wrong(tmp_path: Path, name: str) -> None:
    case = CASES[name]
    text = small_book()[case.file]
    assert case.old in text
    marked = text.replace(case.old, case.new, 1)
    before, _, after = marked.partition(HERE)
    line, column = before.count("\n") + 1, len(before.rpartition("\n")[2]) + 1
    compiled = check(tmp_path, **{case.file.replace(".", "_"): before + after})
    assert found(compiled) == [(case.code, case.severity, case.file, line, column)]
    (finding,) = compiled.findings
    assert finding.message
    assert finding.help


SWITCHER_ALONE = "rig: B\nswitcher: desk.yaml\n"

# Books in which something is empty that should not be: the files that are replaced, the code,
# and the file and the text where it has to be found.
EMPTY: dict[str, tuple[dict[str, str], str, str, str]] = {
    "no sets": ({"night_yaml": HEAD}, "nothing-to-play", "night.yaml", "songs"),
    "sets: []": ({"night_yaml": HEAD + "sets: []\n"}, "nothing-to-play", "night.yaml", "sets"),
    "sets: nothing": ({"night_yaml": HEAD + "sets:\n"}, "empty-value", "night.yaml", "sets"),
    "play: []": ({"night_yaml": HEAD + "sets: [{play: []}]\n"}, "nothing-to-play", "night.yaml", "play"),
    "play: [] twice": ({"night_yaml": HEAD + "sets: [{play: []}, {play: []}]\n"}, "nothing-to-play", "night.yaml", "play"),
    "play: nothing": ({"night_yaml": HEAD + "sets:\n- play:\n"}, "empty-value", "night.yaml", "play"),
    "songs: []": ({"songs_yaml": "songs: []\n"}, "nothing-to-play", "songs.yaml", "songs"),
    "songs: nothing": ({"songs_yaml": "songs:\n"}, "empty-value", "songs.yaml", "songs"),
    "sounds alone": ({"songs_yaml": "sounds: {a: lead}\n"}, "nothing-to-play", "songs.yaml", "sounds"),
    "neither songs nor sets": ({"songs_yaml": "songs: []\n", "night_yaml": HEAD}, "nothing-to-play", "songs.yaml", "songs"),
    "songs: [] in each of two": ({"songs_yaml": "include: more.yaml\nsongs: []\n", "more_yaml": "songs: []\n"}, "nothing-to-play", "songs.yaml", "songs"),
    "songs: [] in one of two": ({"songs_yaml": "include: more.yaml\n" + small_book()["songs.yaml"], "more_yaml": "songs: []\n"}, "file-without-songs", "more.yaml", "songs"),
    "songs: nothing, and an include": ({"songs_yaml": "include: more.yaml\nsongs:\n", "more_yaml": small_book()["songs.yaml"]}, "empty-value", "songs.yaml", "songs"),
    "songs: nothing in an include": ({"songs_yaml": "include: more.yaml\n" + small_book()["songs.yaml"], "more_yaml": "songs:\n"}, "empty-value", "more.yaml", "songs"),
    "no units": ({"rig_yaml": SWITCHER_ALONE}, "rig-without-units", "rig.yaml", "switcher"),
    "units: {}": ({"rig_yaml": SWITCHER_ALONE + "units: {}\neffects: {}\n"}, "rig-without-units", "rig.yaml", "units"),
    "units: {}, but effects": ({"rig_yaml": SWITCHER_ALONE + "units: {}\neffects: {lead: fuzz}\n"}, "rig-without-units", "rig.yaml", "units"),
    "no general scenes": ({"rig_yaml": small_book()["rig.yaml"].partition("general:")[0] + "instead of:" + small_book()["rig.yaml"].partition("instead of:")[2]}, "song-without-scenes", "rig.yaml", "instead of"),
}  # fmt: skip


@pytest.mark.parametrize("name", EMPTY)
def test_what_is_empty_is_said_once(tmp_path: Path, name: str) -> None:
    changed, code, file, text = EMPTY[name]
    compiled = check(tmp_path, **changed)
    assert [(f.code, Path(f.place.file).name) for f in compiled.findings] == [(code, file)]
    (finding,) = compiled.findings
    line = finding.place.source.line(finding.place.line)
    assert line[finding.place.column - 1 : finding.place.end_column - 1] == text
    assert finding.help


def test_a_request_with_scenes_of_its_own_needs_no_general_ones(tmp_path: Path) -> None:
    rig = small_book()["rig.yaml"]
    bare = rig.partition("general:")[0] + "instead of:" + rig.partition("instead of:")[2]
    asked = HEAD + "if asked: [Drowsy Maggie]\n"
    assert found(check(tmp_path, rig_yaml=bare, night_yaml=asked)) == []


def test_requests_alone_are_a_night(tmp_path: Path) -> None:
    asked = HEAD + "if asked: [Drowsy Maggie]\n"
    assert found(check(tmp_path, night_yaml=asked)) == []


@pytest.mark.parametrize("words", ["check", "explain", "trace", "send", "build"])
def test_every_command_says_that_nothing_is_played(tmp_path: Path, words: str) -> None:
    check(tmp_path, night_yaml=HEAD + "sets: []\n")
    more = {"check": [], "build": ["--out", "out"]}.get(words, ["Drowsy Maggie/Drive"])
    ended = subprocess.run(
        [sys.executable, "-m", "setwright.compiler", words, "night.yaml", *more],
        capture_output=True,
        encoding="utf-8",
        cwd=tmp_path,
        check=False,
    )
    said = ended.stdout + ended.stderr
    assert ended.returncode == 1
    assert said.count("this night plays nothing [nothing-to-play]") == 1
    assert "proven:" not in said
    assert not (tmp_path / "out").exists()


# Every kind of file, named where another kind belongs: the file that names it, the text there,
# the file that is named.
SHOWN = {
    "night.yaml": "a night",
    "songs.yaml": "a file of songs",
    "rig.yaml": "a rig",
    "desk.yaml": "a switcher",
}
NAMES = {
    "songs of a night": ("night.yaml", "songs: songs.yaml", "songs: {}", "songs.yaml"),
    "one of the songs": ("night.yaml", "songs: songs.yaml", "songs: [songs.yaml, {}]", "songs.yaml"),
    "rig of a night": ("night.yaml", "rig: rig.yaml", "rig: {}", "rig.yaml"),
    "switcher of a rig": ("rig.yaml", "file: desk.yaml", "file: {}", "desk.yaml"),
    "include of songs": ("songs.yaml", "sounds:", "include: {}\nsounds:", "songs.yaml"),
    "include of a rig": ("rig.yaml", "rig: Boathouse", "rig: Boathouse\ninclude: {}", "rig.yaml"),
}  # fmt: skip


@pytest.mark.parametrize(
    ("where", "named"),
    [(where, named) for where in NAMES for named in SHOWN if named != NAMES[where][3]],
)
def test_a_file_of_another_kind(tmp_path: Path, where: str, named: str) -> None:
    file, old, new, belongs = NAMES[where]
    text = small_book()[file].replace(old, new.replace("{}", named), 1)
    compiled = check(tmp_path, **{file.replace(".", "_"): text})
    (finding,) = compiled.findings
    assert (finding.code, Path(finding.place.file).name) == ("wrong-kind-of-file", file)
    line = finding.place.source.line(finding.place.line)
    assert line[finding.place.column - 1 : finding.place.end_column - 1] == named
    assert f"{named} is {SHOWN[named]}, and {SHOWN[belongs]} belongs here" in finding.message


@pytest.mark.parametrize("named", ["songs.yaml", "rig.yaml", "desk.yaml"])
def test_another_kind_of_file_on_the_command_line(tmp_path: Path, named: str) -> None:
    write_files(tmp_path, small_book())
    compiled = compile_night(tmp_path / named)
    (finding,) = compiled.findings
    assert finding.code == "wrong-kind-of-file"
    assert finding.message == f"this is {SHOWN[named]}, and a night is wanted"


@pytest.mark.parametrize("old, new", [
    ("sounds:", "soundz:"), ("songs:\n  - title", "song:\n  - title"), ("title: Drowsy", "titel: Drowsy"),
])  # fmt: skip
def test_a_misspelt_key_makes_no_other_kind_of_file(tmp_path: Path, old: str, new: str) -> None:
    text = small_book()["songs.yaml"].replace(old, new, 1)
    codes = [finding.code for finding in check(tmp_path, songs_yaml=text).findings]
    assert codes == ["unknown-key"]


@pytest.mark.parametrize("where", ["songs.yaml", "night.yaml"])
def test_a_link_to_itself(tmp_path: Path, where: str) -> None:
    write_files(tmp_path, small_book())
    (tmp_path / where).unlink()
    try:
        (tmp_path / where).symlink_to("other.yaml")
        (tmp_path / "other.yaml").symlink_to(where)
    except OSError:
        pytest.skip("links cannot be made here")
    compiled = compile_night(tmp_path / "night.yaml")
    (finding,) = compiled.findings
    assert finding.code == "file-unreadable"
    assert finding.message == f"{where}: this is a link that leads back to itself"
    assert "link" in finding.help
    unreadable = isinstance(compiled, Unopened) and compiled.unreadable
    assert unreadable == (where == "night.yaml")


def test_a_folder_is_called_a_folder(tmp_path: Path) -> None:
    text = "include: .\n" + small_book()["songs.yaml"]
    (finding,) = check(tmp_path, songs_yaml=text).findings
    assert (finding.code, finding.message) == ("file-unreadable", ".: this is a folder")


@pytest.mark.parametrize(("files", "codes"), [(31, []), (32, ["include-too-deep"]), (2000, ["include-too-deep"])])  # fmt: skip
@pytest.mark.parametrize("kind", ["songs", "rig"])
def test_a_long_row_of_includes(tmp_path: Path, kind: str, files: int, codes: list[str]) -> None:
    """Each file includes the next; the deepest holds what all the others rest upon."""
    good = small_book()[f"{kind}.yaml"]
    top = "include: i1.yaml\n" + ("switcher: desk.yaml\n" if kind == "rig" else "")
    for number in range(1, files):
        text = f"include: i{number + 1}.yaml\n"
        (tmp_path / f"i{number}.yaml").write_text(text, encoding="utf-8")
    (tmp_path / f"i{files}.yaml").write_text(good, encoding="utf-8")
    compiled = check(tmp_path, **{f"{kind}_yaml": top})
    assert [finding.code for finding in compiled.findings] == codes
    if codes:
        (finding,) = compiled.findings
        assert "32 files deep" in finding.message
        assert "include all the others itself" in finding.help


@pytest.mark.parametrize("kind", ["songs", "rig"])
def test_an_include_that_is_missing_is_all_that_is_said(tmp_path: Path, kind: str) -> None:
    """Everything that others rest upon would stand in that file."""
    compiled = check(tmp_path, **{f"{kind}_yaml": "include: more.yaml\n"})
    assert [finding.code for finding in compiled.findings] == ["file-missing"]


def test_a_title_of_two_songs(tmp_path: Path) -> None:
    text = small_book()["night.yaml"].replace("- minstrel air", "- The Minstrel Boy")
    (finding,) = check(tmp_path, night_yaml=text).findings
    assert (finding.code, finding.place.line) == ("title-of-several", 16)
    assert finding.message == "2 songs have the title ‘The Minstrel Boy’"
    assert "‘minstrel air’, ‘minstrel march’" in finding.help
    assert [Path(one.place.file).name for one in finding.related] == ["songs.yaml"] * 2


def test_a_misspelt_stand_in_is_found_where_it_is_written(tmp_path: Path) -> None:
    """The rig lost its tremolo, and what is to stand in for it is written of a ‘tremlo’."""
    text = small_book()["rig.yaml"].replace("  tremolo: {wobbler: tremolo}\n", "")
    text = text.replace("  tremolo: vibrato\n", "  tremlo: vibrato\n")
    (finding,) = check(tmp_path, rig_yaml=text).findings
    assert finding.code == "unknown-effect"
    assert finding.place.source.line(finding.place.line) == "  tremlo: vibrato"
    assert finding.help == "did you mean ‘tremolo’?"


def test_a_dead_circle_is_one_finding_though_songs_ask_for_it(tmp_path: Path) -> None:
    text = small_book()["rig.yaml"]
    for effect in ("tremolo", "vibrato"):
        text = text.replace(f"  {effect}: {{wobbler: {effect}}}\n", "")
    text = text.replace("  tremolo: vibrato\n", "  tremolo: vibrato\n  vibrato: tremolo\n")
    assert [f.code for f in check(tmp_path, rig_yaml=text).findings] == ["instead-of-in-circle"]


def test_what_is_right_under_instead_of(tmp_path: Path) -> None:
    """Two that stand in for one another, names of other books, and of what a foot works."""
    text = small_book()["rig.yaml"].replace(
        "  tremolo: vibrato\n",
        "  tremolo: vibrato\n  vibrato: tremolo\n  fog: [mist, room]\n  mist: [fog, nothing]\n"
        "  swell: nothing\n",
    )
    assert found(check(tmp_path, rig_yaml=text)) == []


KEYS_OF_A_STEP = "at, cue, foot, silent, guitar"
SAID = {
    "an article before a vowel": (
        rig("supply:\n", "supply:\n  seven: [x]\n", ""),
        "a list stands where a supply output (names with values) belongs",
        "write a supply output (names with values)",
    ),
    "many belong": (
        rig("programs: {tremolo: 42, vibrato: 43, rotor: 44}", "programs: [42, 43, 44]", ""),
        "a list stands where names with values belong",
        "write names with values",
    ),
    "many stand": (
        songs("order:\n      - Start\n      - Lift: round 2 A\n", "order:\n      Start: {}\n      Lift: {}\n    note:\n      - Lift: round 2 A\n", ""),
        "names with values stand where a list belongs",
        "write a list",
    ),
    "all keys are listed": (
        songs("meter: 2/2", "zork: 2/2", ""),
        "a song has no ‘zork’",
        "known here: title, id, key, meter, tempo, form, bars, pickup, lasts, guitar, echo, note, scenes, "
        "over two banks, order, let pass",
    ),
    "the nearest key first": (
        songs("meter: 2/2", "metre: 2/2", ""),
        "a song has no ‘metre’",
        "did you mean ‘meter’? Known too: title, id, key, tempo, form, bars, pickup, lasts, guitar, echo, "
        "note, scenes, over two banks, order, let pass",
    ),
    "a comma within a cue": (
        songs("cue: caller lifts the lamp,", "cue: lamp, then fiddle,", ""),
        "a moment has no ‘then fiddle’",
        "if a comma in a text comes before this, put quotes around the whole text; known here: "
        f"{KEYS_OF_A_STEP}",
    ),
    "a comma that is none of a text": (
        songs("cue: caller lifts the lamp,", "zork: x,", ""),
        "a moment has no ‘zork’",
        f"known here: {KEYS_OF_A_STEP}",
    ),
}  # fmt: skip


@pytest.mark.parametrize("name", SAID)
def test_what_is_said(tmp_path: Path, name: str) -> None:
    case, message, way_out = SAID[name]
    text = small_book()[case.file]
    assert case.old in text
    changed = text.replace(case.old, case.new, 1)
    compiled = check(tmp_path, **{case.file.replace(".", "_"): changed})
    assert (message, way_out) in [(f.message, f.help) for f in compiled.findings]


# Whole files.

NESTED = 10_000

WHOLE = {
    "empty": (b"", "file-empty", 1, 1),
    "blank": (b" \n\n", "file-empty", 1, 1),
    "nothing but a comment": (b"# to be written\n", "file-empty", 1, 1),
    "a list": (b"- a\n- b\n", "wrong-shape", 1, 3),
    "one word": (b"songs\n", "wrong-shape", 1, 1),
    "UTF-16, little end first": ("a: b\n".encode("utf-16-le").join((b"\xff\xfe", b"")), "wrong-encoding", 1, 1),
    "UTF-16, big end first": ("a: b\n".encode("utf-16-be").join((b"\xfe\xff", b"")), "wrong-encoding", 1, 1),
    "UTF-16 without its mark": ("a: b\n".encode("utf-16-le"), "not-text", 1, 2),
    "Latin-1": ("a: b\nc: Se\xe1n\n".encode("latin-1"), "wrong-encoding", 2, 6),
    "half a character": (b"a: b\xc3", "wrong-encoding", 1, 5),
    "a picture": (b"\x89PNG\r\n\x1a\n\0\0\0\rIHDR\0\0", "not-text", 1, 1),
    "a MIDI file": (bytes.fromhex("4D546864 00000006 0000 0001 0060 4D54726B"), "not-text", 1, 5),
    "zeros": (b"\0" * 4096, "not-text", 1, 1),
    "larger than any book": (b"#" * (8 * 1024 * 1024 + 1), "file-too-large", 1, 1),
    "brackets, 10,000 deep": (b"a: " + b"[" * NESTED, "nested-too-deep", 1, 35),
    "braces, 10,000 deep": (b"{a: " * NESTED, "nested-too-deep", 1, 129),
    "dashes, 10,000 deep": (b"- " * NESTED + b"a\n", "nested-too-deep", 1, 65),
    "brackets, closed again": (b"[" * NESTED + b"]" * NESTED, "nested-too-deep", 1, 33),
    "questions, 10,000 deep": (b"? " * NESTED + b"a\n", "nested-too-deep", 1, 65),
    "indentation, 10,000 deep": (b"\n".join(b" " * n + b"a:" for n in range(2_000)), "nested-too-deep", 33, 33),
    "an alias bomb": (
        b"a: &a [x, x, x, x, x, x, x, x, x, x]\n"
        + b"".join(b"%c: &%c [%s]\n" % (n + 1, n + 1, b", ".join([b"*%c" % n] * 10)) for n in range(97, 107)),
        "too-much-text", 6, 36,
    ),
    "an alias to all around it": (b"&x\na: *x\n", "alias-loop", 2, 4),
}  # fmt: skip


ASKED_FOR = {
    "songs.yaml": ("night.yaml", 6, 8),
    "rig.yaml": ("night.yaml", 5, 6),
    "desk.yaml": ("rig.yaml", 4, 18),
}


@pytest.mark.parametrize("file", sorted(small_book()))
@pytest.mark.parametrize("name", WHOLE)
def test_one_finding_for_a_whole_file(tmp_path: Path, name: str, file: str) -> None:
    content, code, line, column = WHOLE[name]
    compiled = check(tmp_path, **{file.replace(".", "_"): content})
    expected = (code, Severity.ERROR, file, line, column)
    if code.startswith("file-") and code != "file-empty" and file in ASKED_FOR:
        # A file that cannot be read is reported where it is asked for.
        expected = (code, Severity.ERROR, *ASKED_FOR[file])
    assert found(compiled) == [expected]
    unreadable = isinstance(compiled, Unopened) and compiled.unreadable
    assert unreadable == (file == "night.yaml" and code == "file-too-large")


def test_byte_order_mark_and_other_line_ends_are_no_slips(tmp_path: Path) -> None:
    for text in small_book().values():
        assert "\r" not in text
    marked = {
        name.replace(".", "_"): b"\xef\xbb\xbf" + text.encode().replace(b"\n", end)
        for (name, text), end in zip(
            small_book().items(), (b"\r\n", b"\r\n", b"\r", b"\r\n"), strict=True
        )
    }
    assert found(check(tmp_path, **marked)) == []
    slip = SONGS_WITH_A_SLIP.encode().replace(b"\n", b"\r\n")
    assert found(check(tmp_path, songs_yaml=b"\xef\xbb\xbf" + slip)) == [
        ("tempo-out-of-range", Severity.ERROR, "songs.yaml", 16, 12)
    ]


SONGS_WITH_A_SLIP = small_book()["songs.yaml"].replace("half = 104", "half = 9", 1)


def test_the_largest_book_is_still_read(tmp_path: Path) -> None:
    text = small_book()["songs.yaml"]
    text += "#" * (8 * 1024 * 1024 - len(text.encode()) - 1) + "\n"
    assert found(check(tmp_path, songs_yaml=text)) == []
    # Its byte-order mark, which is no part of the text, does not cut it short.
    slip = "#" * (8 * 1024 * 1024 - 2) + "\n:"
    marked = check(tmp_path, songs_yaml=b"\xef\xbb\xbf" + slip.encode())
    assert [place[:1] + place[3:4] for place in found(marked)] == [("yaml-syntax", 2)]


TIGHT = """\
sounds:
  on: compression
  no: [compression, tremolo]
  010: []
songs:
  - title: 12:30
    key: no
    tempo: half = 010
    lasts: 1:10
    scenes:
      on: on
      off: {like: on, note: yes}
      1_000: 010
    order: [on, off, {1_000: {at: 1:05, cue: 2024-01-06}}]
  - {title: 1.10, scenes: {~: no, null: on, .inf: on, 0x10: on}}
  - {title: 2024-01-06, id: 1e3}
  - title: "Róisín Dubh, the \\"Dark\\" one: a #1 # tune"
  - title: 'Soldier''s Joy & Co.'
  - title: Fish & Chips * 2 % @ home!
"""
TIGHT_NIGHT = """\
night: on
date: 2024-01-06
rig: rig.yaml
songs: songs.yaml
sets:
- name: 1
  play:
  - 12:30
  - 1.10
  - 1e3
  - "Róisín Dubh, the \\"Dark\\" one: a #1 # tune"
  - Soldier's Joy & Co.
  - Fish & Chips * 2 % @ home!
"""


def test_names_stay_what_was_typed(tmp_path: Path) -> None:
    """YAML 1.1 would make switches, times, octal numbers and dates of these (YAML 1.2.2, 10.2)."""
    compiled = check(tmp_path, songs_yaml=TIGHT, night_yaml=TIGHT_NIGHT)
    assert isinstance(compiled, Compiled)
    assert [(f.message, f.place.line) for f in told(compiled)] == []
    assert compiled.book.night.night == "on"
    assert compiled.book.night.date == "2024-01-06"
    assert [song.song.title for song in compiled.songs] == [
        "12:30",
        "1.10",
        "2024-01-06",
        'Róisín Dubh, the "Dark" one: a #1 # tune',
        "Soldier's Joy & Co.",
        "Fish & Chips * 2 % @ home!",
    ]
    first, second = compiled.songs[:2]
    assert first.song.key == "no"
    assert str(first.tempo) == "half = 10"
    assert list(first.scenes) == ["on", "off", "1_000"]
    assert first.scenes["1_000"].effects == ()
    assert first.scenes["off"].effects == ("compression",)
    assert list(second.scenes) == ["~", "null", ".inf", "0x10"]
    moment = first.moments[2]
    assert (str(moment.position), moment.cue) == ("1:05", "2024-01-06")


def test_colons_and_question_marks_within_braces(tmp_path: Path) -> None:
    """Plain text there may hold both (YAML 1.2.2, 7.3.3), which not every parser knows."""
    good = small_book()["songs.yaml"]
    text = good.replace("{at: bar 49, cue: last verse}", "{at: 2:40, cue: ready?}")
    compiled = check(tmp_path, songs_yaml=text)
    assert isinstance(compiled, Compiled)
    assert found(compiled) == []
    (air,) = [song for song in compiled.songs if song.song.id == "minstrel air"]
    moment = air.moments[2]
    assert (str(moment.position), moment.cue) == ("2:40", "ready?")
    without_colon = good.replace("cue: last verse", "cue: ready?")
    assert found(check(tmp_path, songs_yaml=without_colon)) == []


# Files that lead out of the folder, or round in it.


def test_a_link_may_not_lead_out_of_the_folder(tmp_path: Path) -> None:
    outside, inside = tmp_path / "outside.yaml", tmp_path / "book"
    outside.write_text(small_book()["songs.yaml"], encoding="utf-8")
    inside.mkdir()
    (inside / "away.yaml").symlink_to(outside)
    (inside / "up").symlink_to(tmp_path)
    for name in ("away.yaml", "up/outside.yaml"):
        text = small_book()["night.yaml"].replace("songs: songs.yaml", f"songs: {name}")
        got = found(check(inside, night_yaml=text))
        assert got == [("file-outside", Severity.ERROR, "night.yaml", 6, 8)]


def test_a_link_within_the_folder_is_followed(tmp_path: Path) -> None:
    check(tmp_path)
    (tmp_path / "songs.yaml").rename(tmp_path / "real.yaml")
    (tmp_path / "songs.yaml").symlink_to("real.yaml")
    assert found(compile_night(tmp_path / "night.yaml")) == []


def test_a_link_to_itself_is_a_finding(tmp_path: Path) -> None:
    check(tmp_path)
    (tmp_path / "songs.yaml").unlink()
    (tmp_path / "songs.yaml").symlink_to("songs.yaml")
    ((code, _, file, line, column),) = found(compile_night(tmp_path / "night.yaml"))
    assert code.startswith("file-")
    assert (file, line, column) == ("night.yaml", 6, 8)


def test_includes_in_a_circle(tmp_path: Path) -> None:
    songs = "include: other.yaml\n" + small_book()["songs.yaml"]
    (tmp_path / "other.yaml").write_text("include: [third.yaml]\n", encoding="utf-8")
    (tmp_path / "third.yaml").write_text("songs: []\ninclude: songs.yaml\n", encoding="utf-8")
    assert found(check(tmp_path, songs_yaml=songs)) == [
        ("include-cycle", Severity.ERROR, "third.yaml", 2, 10)
    ]


def test_many_includes_one_after_the_other(tmp_path: Path) -> None:
    for number in range(1500):
        text = f"include: f{number + 1}.yaml\n"
        (tmp_path / f"f{number}.yaml").write_text(text, encoding="utf-8")
    (tmp_path / "f1500.yaml").write_text("songs: []\n", encoding="utf-8")
    compiled = check(tmp_path, songs_yaml="include: f0.yaml\n" + small_book()["songs.yaml"])
    assert len(compiled.findings) <= 1


def test_an_include_from_a_folder_below(tmp_path: Path) -> None:
    (tmp_path / "more").mkdir()
    (tmp_path / "more" / "waltzes.yaml").write_text(
        "songs:\n  - title: A Waltz\n    meter: 3/5\n", encoding="utf-8"
    )
    compiled = check(
        tmp_path, songs_yaml="include: more/waltzes.yaml\n" + small_book()["songs.yaml"]
    )
    assert found(compiled) == [("not-a-meter", Severity.ERROR, "waltzes.yaml", 3, 12)]


# What is not an ordinary file, read by the real command, which must not wait for ever.


def setwright(*words: str, **environment: str) -> subprocess.CompletedProcess[str]:
    return subprocess.run(
        [sys.executable, "-m", "setwright.compiler", *words],
        capture_output=True,
        encoding="utf-8",
        cwd=ROOT,
        env={**os.environ, "PYTHONIOENCODING": "utf-8", **environment},
        timeout=60,
        stdin=subprocess.DEVNULL,
        check=False,
    )


def _odd_files(folder: Path) -> Iterator[Path]:
    for device in ("/dev/zero", "/dev/null", "/dev/tty"):
        if Path(device).exists():
            yield Path(device)
    if hasattr(os, "mkfifo"):
        os.mkfifo(folder / "pipe.yaml")
        yield folder / "pipe.yaml"
    (folder / "folder.yaml").mkdir()
    yield folder / "folder.yaml"
    yield folder / "nothing.yaml"
    yield folder / ("x" * 300 + ".yaml")


def test_a_night_that_cannot_be_opened(tmp_path: Path) -> None:
    for path in _odd_files(tmp_path):
        ended = setwright("check", str(path))
        assert ended.returncode == 2, path
        assert "Traceback" not in ended.stdout + ended.stderr
        assert path.name in ended.stdout + ended.stderr


def test_songs_that_cannot_be_opened(tmp_path: Path) -> None:
    for path in _odd_files(tmp_path):
        if path.parent != tmp_path:
            continue
        night = small_book()["night.yaml"].replace("songs: songs.yaml", f"songs: {path.name}")
        check(tmp_path, night_yaml=night)
        ended = setwright("check", str(tmp_path / "night.yaml"), "--format", "json")
        (finding,) = json.loads(ended.stdout)
        code = "name-too-long" if len(path.name) > 200 else "file-"
        assert (ended.returncode, finding["code"][: len(code)]) == (1, code)
        assert Path(finding["file"]).name == "night.yaml"
        assert (finding["line"], finding["column"]) == (6, 8)


def test_songs_that_may_not_be_read(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    # Not by the file's mode: whoever runs the tests as root may read everything.
    def refuse(path: Path, flags: int) -> int:
        if path.name == "songs.yaml":
            raise PermissionError(13, "Permission denied", str(path))
        return os_open(path, flags)

    os_open = os.open
    check(tmp_path)
    monkeypatch.setattr("setwright.scenes.files.os.open", refuse)
    compiled = compile_night(tmp_path / "night.yaml")
    assert found(compiled) == [("file-unreadable", Severity.ERROR, "night.yaml", 6, 8)]
    assert "permission denied" in compiled.findings[0].message


# The command.

FIELDS = {
    "code", "severity", "message", "file", "line", "column", "end_line", "end_column", "help",
    "related", "more", "table",
}  # fmt: skip
RELATED = {"message", "file", "line", "column", "end_line", "end_column"}


def test_json_is_a_list_of_findings_and_nothing_else(tmp_path: Path) -> None:
    text = small_book()["songs.yaml"].replace("meter: 2/2", "meter: 2/2\n    meter: 2/3", 1)
    check(tmp_path, songs_yaml=text.replace("half = 108", "half = \u202e108"))
    ended = setwright("check", str(tmp_path / "night.yaml"), "--format", "json", FORCE_COLOR="1")
    assert (ended.returncode, ended.stderr) == (1, "")
    assert ended.stdout.isascii()
    twice, tempo = json.loads(ended.stdout)
    assert set(twice) == set(tempo) == FIELDS
    assert (twice["code"], twice["severity"]) == ("key-twice", "error")
    (first,) = twice["related"]
    assert set(first) == RELATED
    assert (first["line"], twice["line"]) == (15, 16)
    assert (twice["end_line"], twice["end_column"]) == (16, 10)
    assert Path(twice["file"]) == tmp_path / "songs.yaml"
    assert "\u202e" not in tempo["message"]
    assert r"\u202e" in tempo["message"]

    check(tmp_path)
    ended = setwright("check", str(tmp_path / "night.yaml"), "--format", "json")
    assert (ended.returncode, ended.stderr, json.loads(ended.stdout)) == (0, "", [])


def test_no_colour_reaches_a_file(tmp_path: Path) -> None:
    check(tmp_path, songs_yaml=SONGS_WITH_A_SLIP.replace("AABB, 3 rounds", "\x7fAABB", 1))
    for environment in ({}, {"NO_COLOR": "1"}, {"TERM": "dumb"}):
        ended = setwright("check", str(tmp_path / "night.yaml"), **environment)
        assert ended.returncode == 1
        assert "\x1b" not in ended.stdout + ended.stderr
        assert "\x7f" not in ended.stdout


@pytest.mark.skipif(sys.platform == "win32", reason="needs a pseudo-terminal")
def test_colour_on_a_terminal_unless_it_is_not_wanted(tmp_path: Path) -> None:
    check(tmp_path, songs_yaml=SONGS_WITH_A_SLIP)
    coloured = _on_a_terminal(tmp_path / "night.yaml", {})
    plain = _on_a_terminal(tmp_path / "night.yaml", {"NO_COLOR": "1"})
    assert "\x1b[1;31merror:\x1b[0m" in coloured
    assert "\x1b" not in plain
    assert "error:" in plain


def _on_a_terminal(night: Path, environment: dict[str, str]) -> str:
    import pty

    master, slave = pty.openpty()
    kept = {name: value for name, value in os.environ.items() if name != "NO_COLOR"}
    with subprocess.Popen(
        [sys.executable, "-m", "setwright.compiler", "check", str(night)],
        stdout=slave,
        stderr=slave,
        stdin=subprocess.DEVNULL,
        cwd=ROOT,
        env={**kept, "TERM": "xterm", "PYTHONIOENCODING": "utf-8", **environment},
    ) as running:
        os.close(slave)
        shown = b""
        while True:
            try:
                piece = os.read(master, 4096)
            except OSError:  # Linux says so when the other end is closed
                break
            if not piece:
                break
            shown += piece
        running.wait(timeout=60)
    os.close(master)
    return shown.decode("utf-8")


def test_exit_codes(tmp_path: Path) -> None:
    check(tmp_path)
    night = str(tmp_path / "night.yaml")
    assert setwright("check", night).returncode == 0
    assert setwright("check").returncode == 2
    assert setwright("check", night, "--format", "xml").returncode == 2
    assert setwright("chek", night).returncode == 2
    warned = small_book()["songs.yaml"].replace("key: A major", "key:\tA major", 1)
    check(tmp_path, songs_yaml=warned)
    assert setwright("check", night).returncode == 1
    check(tmp_path, rig_yaml=b"\xff\xfe")
    assert setwright("check", night).returncode == 1


def test_two_slips_are_two_findings(tmp_path: Path) -> None:
    text = SONGS_WITH_A_SLIP.replace("meter: 9/8", "meter: 9/7").replace("350 ms", "350 m")
    assert found(check(tmp_path, songs_yaml=text)) == [
        ("tempo-out-of-range", Severity.ERROR, "songs.yaml", 16, 12),
        ("not-a-meter", Severity.ERROR, "songs.yaml", 65, 12),
        ("not-an-echo-time", Severity.ERROR, "songs.yaml", 72, 33),
    ]
