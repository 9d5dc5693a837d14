"""Bad books: each one finding, at the place where it is wrong, and never a traceback or a hang."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

import pytest

from setwright.compiler.pipeline import Compiled, compile_night
from setwright.scenes.finding import Severity
from tests.books import small_book, write_files

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


def night(old: str, new: str, code: str) -> Case:
    return Case("night.yaml", old, new, code)


def rig(old: str, new: str, code: str) -> Case:
    return Case("rig.yaml", old, new, code)


def floor(old: str, new: str, code: str) -> Case:
    return Case("desk.yaml", old, new, code)


TEMPO = "tempo: half = 104"
START = "Start: plain\n      Lift: {sound: frost, echo: dotted quarter}"
LONG = "9" * 5000

CASES = {
    # Names and keys that nothing knows.
    "unknown key of a song": songs("meter: 2/2", "▸metre: 2/2", "unknown-key"),
    "unknown key of a scene": songs("{sound: frost, echo: dotted", "{sound: frost, ▸eco: dotted", "unknown-key"),
    "unknown key of a night": night("date: second", "▸when: second", "unknown-key"),
    "unknown key of a rig": rig("rig: Granary", "▸wires: 3\nrig: Granary", "unknown-key"),
    "unknown key of a unit": rig("busy after program: 120 ms", "▸busy for: 120 ms", "unknown-key"),
    "unknown key of a switcher": floor("at power up", "▸at startup", "unknown-key"),
    "unknown sound": songs("Shade: shiver", "Shade: ▸shriek", "unknown-sound"),
    "unknown scene in the order": songs("- Lift: round 2 A", "- ▸Loft: round 2 A", "unknown-scene"),
    "unknown scene to begin from": songs("{like: Lift, add", "{like: ▸Lofty, add", "unknown-scene"),
    "unknown effect": songs("shiver: [compression, vibrato]", "shiver: [compression, vibrato, ▸fog]", "unknown-effect"),
    "unknown song": night("- The Swallow's Tail", "- ▸The Lark's Tail", "unknown-song"),
    "unknown unit in the path": rig("[splitter, echo, ash", "[splitter, ▸eco, ash", "unknown-unit"),
    "unknown unit on a MIDI line": rig("[switcher, wobbler, barn", "[switcher, ▸warbler, barn", "unknown-unit"),
    "unknown state": rig("vibrato: {wobbler: vibrato}", "vibrato: {wobbler: ▸vibration}", "unknown-state"),
    "unknown control": rig("set: {time: 110 ms, mix", "set: {time: 110 ms, ▸mixture", "unknown-control"),
    "unknown position of the foot": songs("foot: swell closed", "foot: ▸swell clotted", "unknown-state"),
    "drops what is not there": songs("add: lead, drop: tremolo", "add: lead, drop: ▸room", "drops-nothing"),
    "adds what is there": songs("add: lead, drop: tremolo", "add: ▸compression", "adds-twice"),
    "scenes that begin from one another": songs(START, "Start: {like: ▸Lift}\n      Lift: {like: Start}", "like-in-circle"),
    "two songs known by one name": songs("  - title: Drowsy Maggie", "  - title: Drowsy Maggie\n  - title: ▸Drowsy Maggie", "song-twice"),
    # Values of another kind.
    "a list for a title": songs("title: The Swallow's Tail", "title: ▸[The Swallow's Tail]", "wrong-shape"),
    "a mapping for a key": songs("key: A major", "key: ▸{A: major}", "wrong-shape"),
    "a word for the songs": songs("songs:\n", "more: 1\nsongs:\n", "unknown-key"),
    "a number for scenes": songs("scenes:\n      Low: shiver", "scenes: ▸3\n    note: |\n      Low: shiver", "wrong-shape"),
    "a list for units": rig("programs: {tremolo: 42, vibrato: 43, rotor: 44}", "programs: ▸[42, 43, 44]", "wrong-shape"),
    "nothing for a meter": songs("meter: 2/2", "▸meter:", "empty-value"),
    "quotes around nothing": songs("meter: 2/2", "▸meter: ''", "empty-value"),
    "no title": songs("- title: The Swallow's Tail\n    key", "- ▸key", "missing-key"),
    "a word for a loop": rig("loop: 2", "loop: ▸two", "not-a-number"),
    "half a bank": floor("banks: 32", "banks: ▸3.5", "not-a-display"),
    "neither yes nor no": floor("recalled by bank select: yes", "recalled by bank select: ▸perhaps", "not-yes-or-no"),
    "not a meter": songs("meter: 2/2", "meter: ▸2/3", "not-a-meter"),
    "not a form": songs("form: AABB, 4 rounds", "form: ▸4 rounds", "not-a-form"),
    "not a place": songs("- Drive: round 3 A", "- Drive: ▸when I nod", "not-a-place"),
    "a part that the form lacks": songs("- Drive: round 3 A", "- Drive: ▸round 3 Q", "no-such-part"),
    "not an echo": songs("echo: 420 ms", "echo: ▸loud", "not-an-echo-time"),
    "not a length of time": night("at most: 45 min", "at most: ▸long", "not-a-duration"),
    "not a voltage": rig("power: {draws: 5 mA, volts: 9 V}", "power: {draws: 5 mA, volts: ▸nine}", "not-a-voltage"),
    "the voltage of the mains": rig("power: {draws: 5 mA, volts: 9 V}", "power: {draws: 5 mA, volts: ▸230 V}", "out-of-range"),
    "not a current": rig("power: {draws: 5 mA, volts: 9 V}", "power: {draws: ▸5, volts: 9 V}", "not-a-current"),
    "an unknown choice": floor("same switch again: sends again", "same switch again: ▸explodes", "unknown-choice"),
    # Numbers beyond what there is. MIDI 1.0 Detailed Specification 4.2.1: channels are 4 bits,
    # programs and control values 7; control numbers 120 to 127 are mode messages.
    "channel 0": rig("channel: 6", "channel: ▸0", "channel-out-of-range"),
    "channel 17": rig("channel: 6", "channel: ▸17", "channel-out-of-range"),
    "channel -1": rig("channel: 6", "channel: ▸-1", "channel-out-of-range"),
    "channel of the switcher": floor("recalled on channel: 16", "recalled on channel: ▸17", "channel-out-of-range"),
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
    "a list for a name": songs("plain: [compression]", "▸[plain]: [compression]", "key-not-text"),
    "a second document": songs("sounds:", "a: b\n▸---\nsounds:", "second-document"),
    "a comment by mistake": Case("songs.yaml", "key: F# minor", "key: F ▸#minor", "cut-by-comment", Severity.WARNING),
    "a tab after a colon": Case("songs.yaml", "key: A major", "▸key:\tA major", "tab", Severity.WARNING),
    "a tab for indentation": songs("    key: A major", "▸\tkey: A major", "tab"),
    "brackets left open": songs("plain: [compression]", "plain: ▸[compression", "yaml-syntax"),
    "braces left open": songs("{sound: frost, echo: dotted quarter}", "▸{sound: frost, echo: dotted quarter", "yaml-syntax"),
    "a quotation left open": songs("title: Planxty Fanny Powers", "title: ▸'Planxty Fanny Powers", "yaml-syntax"),
    "a sign that begins nothing": songs("title: Harvest Home", "title: ▸@Harvest Home", "yaml-syntax"),
    "an indentation of its own": songs("    key: A major", "   ▸key: A major", "yaml-syntax"),
    "a backslash in quotes": songs("title: Harvest Home", r'title: "Harvest ▸\Home"', "yaml-syntax"),
    # Signs that cannot be seen.
    "NUL": songs("title: Harvest Home", "title: Harvest▸\0Home", "not-text"),
    "escape": songs("title: Harvest Home", "title: Harvest▸\x1b[31mHome", "control-character"),
    "byte order mark within the text": songs("title: Harvest Home", "title: Harvest▸\ufeffHome", "control-character"),
    # Files.
    "a rig that is missing": night("rig: rig.yaml", "rig: ▸barn.yaml", "file-missing"),
    "songs that are missing": night("songs: songs.yaml", "songs: ▸tunes.yaml", "file-missing"),
    "a switcher that is missing": rig("{file: desk.yaml,", "{file: ▸desk.yaml,", "file-missing"),
    "an include that is missing": songs("sounds:", "include: ▸more.yaml\nsounds:", "file-missing"),
    "one of many includes": rig("rig: Granary", "rig: Granary\ninclude: [desk.yaml, ▸more.yaml]", "file-missing"),
    "songs from above": night("songs: songs.yaml", "songs: ▸../songs.yaml", "file-outside"),
    "a rig from the root": night("rig: rig.yaml", "rig: ▸/etc/passwd", "file-outside"),
    "an include from above": songs("sounds:", "include: ▸../x.yaml\nsounds:", "file-outside"),
    "an include that goes up and down": songs("sounds:", "include: ▸x/../../y.yaml\nsounds:", "file-outside"),
    "a file that includes itself": songs("sounds:", "include: ▸songs.yaml\nsounds:", "include-cycle"),
    "a folder for songs": night("songs: songs.yaml", "songs: ▸.", "file-unreadable"),
    "a name that no file can have": night("songs: songs.yaml", f"songs: ▸{'x' * 199}/{'y' * 300}", "name-too-long"),
}  # fmt: skip


def found(compiled: Compiled) -> list[tuple[str, Severity, str, int, int]]:
    return [
        (f.code, f.severity, Path(f.place.file).name, f.place.line, f.place.column)
        for f in compiled.findings
    ]


def check(folder: Path, **changed: str | bytes) -> Compiled:
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
