"""Large books and many slips: cost in proportion to size, and a few findings with a count."""

from __future__ import annotations

import json
import re
import sys
from collections import Counter
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from click.testing import CliRunner

from setwright.compiler.cli import main as setwright
from setwright.compiler.outputs.build import build
from setwright.scenes import forms, musical_time, quantities
from setwright.scenes.book import Opened, open_night
from setwright.scenes.finding import (
    MANY,
    Finding,
    Place,
    Severity,
    Source,
    how_many,
    in_order,
    summary,
)
from setwright.scenes.forms import parse_form, parse_position
from setwright.scenes.identities import identify
from setwright.scenes.musical_time import parse_meter
from setwright.scenes.names import TRIED, Nearest, suggestion
from setwright.scenes.quantities import (
    LONGEST,
    Slip,
    parse_amount,
    parse_clock,
    parse_current,
    parse_duration,
    parse_voltage,
)
from setwright.scenes.resolve import Resolver
from setwright.scenes.songs import SongBook
from setwright.scenes.text import read_document
from tests.books import small_book, write_files
from tests.nights import whole
from tests.work import growth

BOOK = small_book()
TWO_WORDS = "abcdefghijklmnopqrst"


def unlike(number: int) -> str:
    """Return names of which no two are much like one another for long."""
    letters = []
    seed = number * 7919 + 13
    for _ in range(12):
        seed = (seed * 1103515245 + 12345) % 2**31
        letters.append(TWO_WORDS[(seed >> 16) % len(TWO_WORDS)])
    return f"{''.join(letters[:6])} {''.join(letters[6:])}"


def lines(count: int, each: Callable[[int], str]) -> str:
    return "".join(each(number) for number in range(count))


def one_song(*more: str) -> str:
    return "  - title: Extra\n" + "".join(f"    {line}\n" for line in more)


def scenes(count: int, each: Callable[[int], str]) -> str:
    return one_song("scenes:", "  first: plain") + lines(count, lambda n: f"      {each(n)}\n")


def order(count: int, each: Callable[[int], str], *more: str) -> str:
    begin = one_song(*more, "scenes: {a: plain, b: frost}", "order:")
    return begin + lines(count, lambda n: f"      - {each(n)}\n")


MUSIC = ("form: AABB, 3 rounds", "meter: 2/2", "tempo: half = 100")

# What is added to the songs, for so many entries.
SONGS: dict[str, Callable[[int], str]] = {
    "songs": lambda n: lines(n, lambda i: f"  - title: T{i}\n"),
    "comments": lambda n: lines(n, lambda i: f"  - title: T{i} # x\n"),
    "comments that cut": lambda n: lines(n, lambda i: f"  - title: T{i} #x\n"),
    "tabs": lambda n: lines(n, lambda i: f"  - title:\tT{i}\n"),
    "scenes": lambda n: scenes(n, lambda i: f"s{i}: plain"),
    "sounds that are not there": lambda n: scenes(n, lambda i: f"s{i}: {unlike(i)}"),
    "a long order": lambda n: order(n, lambda i: "a"),
    "a long order in a form": lambda n: order(n, lambda i: "a", *MUSIC),
    "a long order in a length": lambda n: order(n, lambda i: "a", "lasts: 3:10"),
    "every second place": lambda n: order(n, lambda i: "a" if i % 2 else "b: round 2 A", *MUSIC),
    "scenes that are not there": lambda n: order(n, unlike),
    "places that are none": lambda n: order(n, lambda i: f"a: nod {i}"),
    "parts that are not there": lambda n: order(n, lambda i: "a: round 1 Q", *MUSIC),
    "unknown keys": lambda n: one_song() + lines(n, lambda i: f"    zork{i}: 1\n"),
    "unknown keys of songs": lambda n: lines(n, lambda i: f"  - title: T{i}\n    zork{i}: 1\n"),
    "misspelt keys": lambda n: lines(n, lambda i: f"  - title: T{i}\n    metre: 2/2\n"),
    "keys without a space": lambda n: lines(n, lambda i: f"  - title: T{i}\n    'meter:2/2':\n"),
    "missing keys": lambda n: lines(n, lambda i: "  - key: A major\n"),
    "misspelt keys that must be": lambda n: lines(n, lambda i: f"  - titel: T{i}\n    zork: 1\n"),
    "values of another kind": lambda n: lines(n, lambda i: f"  - title: T{i}\n    tempo: {i}\n"),
    "empty values": lambda n: lines(n, lambda i: f"  - title: T{i}\n    meter:\n"),
    "scenes that do not fit": lambda n: lines(
        n, lambda i: f"  - title: T{i}\n    scenes: {{a: plain, b: {{echo: z}}}}\n    order: [a, b]\n"
    ),
    "keys twice": lambda n: lines(n, lambda i: f"  - title: T{i}\n    key: a\n    key: b\n"),
    "equal titles": lambda n: lines(n, lambda i: "  - title: Same\n"),
    "anchors": lambda n: lines(n, lambda i: f"  - title: &a{i} T{i}\n    key: *a{i}\n"),
    "effects that are dropped": lambda n: one_song("scenes:", "  first: plain").replace(
        "plain\n", "{{sound: plain, add: [{0}]}}\n      b: {{like: first, drop: [{0}]}}\n".format(", ".join(f"e{i}" for i in range(n)))
    ),
    "text instead of lists": lambda n: scenes(n, lambda i: f"s{i}: {{sound: plain, add: q{i}}}"),
}  # fmt: skip


def misspelt(count: int) -> list[str]:
    return [f"{unlike(number)[:-1]}z" for number in range(count)]


# Whole files instead, by what is in them.
FILES: dict[str, Callable[[int], dict[str, str]]] = {
    "an effect of many units": lambda n: {
        "rig.yaml": BOOK["rig.yaml"].replace(
            "  lead: fuzz\n", f"  lead: [{', '.join(f'u{i}' for i in range(n))}]\n"
        )
    },
    "units": lambda n: {
        "rig.yaml": BOOK["rig.yaml"].replace(
            "units:\n", "units:\n" + lines(n, lambda i: f"  u{i}: {{loup: 3}}\n")
        )
    },
    "misspelt sounds": lambda n: {
        "songs.yaml": BOOK["songs.yaml"].replace(
            "sounds:\n", "sounds:\n" + lines(n, lambda i: f"  {unlike(i)}: [lead]\n")
        )
        + scenes(n, lambda i: f"s{i}: {misspelt(n)[i]}")
    },
    "misspelt songs": lambda n: {
        "songs.yaml": BOOK["songs.yaml"] + lines(n, lambda i: f"  - title: {unlike(i)}\n"),
        "night.yaml": BOOK["night.yaml"].replace(
            "    play:\n", "    play:\n" + "".join(f"      - {one}\n" for one in misspelt(n)), 1
        ),
    },
}


def read(folder: Path) -> Opened:
    """Do what the rooms of reading do with a book."""
    opened = open_night(folder / "night.yaml")
    if opened.book is not None:
        opened.findings += identify(opened.book)
        resolver = Resolver(opened.book)
        for song in opened.book.songs:
            resolver.song(song)
        opened.findings += resolver.done()
    in_order(opened.findings)
    return opened


@pytest.mark.parametrize("name", SONGS)
def test_cost_in_proportion_to_the_songs(tmp_path: Path, name: str) -> None:
    def make(size: int) -> Callable[[], object]:
        write_files(tmp_path, BOOK | {"songs.yaml": BOOK["songs.yaml"] + SONGS[name](size)})
        return lambda: read(tmp_path)

    assert growth(make, 60) < 1.25


@pytest.mark.parametrize("name", FILES)
def test_cost_in_proportion_to_the_files(tmp_path: Path, name: str) -> None:
    def make(size: int) -> Callable[[], object]:
        write_files(tmp_path, BOOK | FILES[name](size))
        return lambda: whole(tmp_path / "night.yaml")

    assert growth(make, 100) < 1.25


def test_an_item_of_a_list_is_found_by_its_text_at_once() -> None:
    def make(size: int) -> Callable[[], object]:
        spot = read_document(Source("x", lines(size, lambda i: f"- u{i}\n"))).spot
        return lambda: [spot.find((f"u{i}",)) for i in range(size)]

    assert growth(make, 100) < 1.25
    spot = read_document(Source("x", "- b\n- a\n- b\n- {c: d}\n")).spot
    assert [spot.find((name,)).line for name in "ab"] == [2, 1]
    assert spot.items is not None
    spot.items.pop(0)
    assert spot.find(("b",)).line == 3
    assert not spot.holds(("c",))


@pytest.mark.parametrize("keys", [10, 1000])
def test_a_file_is_read_a_few_times_however_much_is_wrong(
    tmp_path: Path, keys: int, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A round of validating takes out all that it finds; what one hides, the next one meets."""
    rounds = 0
    before = SongBook.model_validate

    def counted(data: object) -> SongBook:
        nonlocal rounds
        rounds += 1
        return before(data)

    monkeypatch.setattr(SongBook, "model_validate", counted)
    wrong = one_song(*(f"zork{i}: 1" for i in range(keys)), "scenes:")
    wrong += lines(keys, lambda i: f"      s{i}: {{sund: plain, ecco: loud, zork: 1}}\n")
    write_files(tmp_path, BOOK | {"songs.yaml": BOOK["songs.yaml"] + wrong})
    findings = open_night(tmp_path / "night.yaml").findings
    assert Counter(one.code for one in findings) == {
        "unknown-key": 4 * keys,
        "not-an-echo-time": keys,
    }
    assert rounds == 4


def test_the_lines_above_a_comment_are_not_counted_anew() -> None:
    """To do so reads the whole text as often as there are comments, within one instruction."""
    called: Counter[str] = Counter()

    def note(frame: object, event: str, argument: Any) -> None:
        if event == "c_call":
            called[argument.__name__] += 1

    source = Source("x", lines(200, lambda i: f"- a{i} #x\n"))
    sys.setprofile(note)
    try:
        found = read_document(source).findings
    finally:
        sys.setprofile(None)
    assert [one.code for one in found] == ["cut-by-comment"] * 200
    assert called["match"] >= 200
    assert called["count"] == called["splitlines"] == 0


QUANTITIES: dict[str, Callable[[str], object]] = {
    "1 h#min": parse_duration,
    "1#h#2 min#3 x": parse_clock,
    "20#ms x": parse_amount,
    "5#": parse_current,
    "9#to#": parse_voltage,
    "6#/#": parse_meter,
    "AABB#,#3#": parse_form,
    "round#2#A#=": parse_position,
    "bar#2#beat#x": parse_position,
}


class Short:
    """A pattern that refuses to look at a long text."""

    def __init__(self, pattern: re.Pattern[str]) -> None:
        self.pattern = pattern

    def fullmatch(self, text: str) -> re.Match[str] | None:
        assert len(text) <= LONGEST
        assert "  " not in text
        return self.pattern.fullmatch(text)

    def search(self, text: str) -> re.Match[str] | None:
        assert len(text) <= LONGEST
        assert "  " not in text
        return self.pattern.search(text)


@pytest.mark.parametrize("text", QUANTITIES)
def test_no_pattern_sees_a_long_run_of_blanks(text: str, monkeypatch: pytest.MonkeyPatch) -> None:
    for room in (quantities, musical_time, forms):
        for name, value in vars(room).items():
            if isinstance(value, re.Pattern) and name != "_NUMBER":  # it has no blanks
                monkeypatch.setattr(room, name, Short(value))
    for long in (text.replace("#", " " * 50_000), text.replace("#", " x" * 50_000)):
        with pytest.raises(Slip):
            QUANTITIES[text](long)


def test_blanks_in_a_quantity_do_not_matter() -> None:
    assert parse_duration("1 h" + " " * 5000 + "10\tmin") == 4200
    assert str(parse_voltage("9" + " " * 5000 + "to 18 V")) == "9 to 18 V"


# A few findings and a count.


def many(count: int, code: str = "some-code", severity: Severity = Severity.ERROR) -> list[Finding]:
    source = Source("x.yaml", "x\n" * count)
    return [
        Finding(code, severity, f"x{n}", Place.at(source, n, 1, n, 2), "mend it")
        for n in range(1, count + 1)
    ]


@pytest.mark.parametrize(
    ("count", "shown", "more", "also"),
    [
        (1, 1, 0, []),
        (MANY, MANY, 0, []),
        (MANY + 1, 4, MANY - 3, [5, 6, 7]),
        (10_000, 4, 9_996, [5, 6, 7]),
    ],
)
def test_many_of_one_kind_are_a_few_and_a_count(
    count: int, shown: int, more: int, also: list[int]
) -> None:
    findings = in_order(reversed(many(count)))
    assert [one.place.line for one in findings] == list(range(1, shown + 1))
    assert [one.more for one in findings] == [0] * (shown - 1) + [more]
    assert [other.place.line for other in findings[-1].related] == also
    assert how_many(findings, Severity.ERROR) == count
    assert summary(findings) == f"{count:,} error{'s' if count > 1 else ''}"


def test_other_codes_and_severities_are_kinds_of_their_own() -> None:
    notes = many(MANY, severity=Severity.NOTE)
    others = many(2, "other-code")
    findings = in_order([*many(5000), *notes, *others])
    assert Counter((one.code, one.severity) for one in findings) == {
        ("some-code", Severity.ERROR): 4,
        ("some-code", Severity.NOTE): MANY,
        ("other-code", Severity.ERROR): 2,
    }
    assert [(one.place.line, one.more) for one in findings if one.more] == [(4, 4996)]
    assert summary(findings) == f"5,002 errors, {MANY} notes"


def test_ten_thousand_slips_on_the_command_line(tmp_path: Path) -> None:
    text = BOOK["songs.yaml"] + lines(10_000, lambda i: f"  - title: T{i}\n    tempo: {i}\n")
    write_files(tmp_path, BOOK | {"songs.yaml": text})
    night = str(tmp_path / "night.yaml")
    plain = CliRunner().invoke(setwright, ["check", night])
    assert plain.exit_code == 1
    assert plain.output.count("[tempo-without-beat]") == 4
    assert plain.output.count("here too") == 3
    assert "\n  and 9,996 more like this\n  help: " in plain.output
    assert "10,000 errors" in plain.output
    data = json.loads(CliRunner().invoke(setwright, ["check", night, "--format", "json"]).output)
    assert [one["more"] for one in data] == [0, 0, 0, 9_996]
    assert [len(one["related"]) for one in data] == [0, 0, 0, 3]
    built = CliRunner().invoke(setwright, ["build", night, "--out", str(tmp_path / "out")])
    assert built.exit_code == 1
    assert "nothing is written: 10,000 errors" in built.output
    asked = CliRunner().invoke(setwright, ["explain", night, "Harvest Home/Start"])
    assert "the book has 10,000 errors; run check" in asked.output
    compiled = whole(tmp_path / "night.yaml")
    problem = build(compiled, tmp_path / "out").problem
    assert problem == "nothing is built from a book with 10,000 errors; check it and mend them"
    warnings = BOOK["songs.yaml"] + lines(60, lambda i: f"  - title: T{i} #x\n")
    write_files(tmp_path, {"songs.yaml": warnings})
    warned = CliRunner().invoke(setwright, ["check", night])
    assert warned.exit_code == 1
    assert "60 warnings" in warned.output


@pytest.mark.parametrize("known", [10, TRIED, TRIED + 1, 5000])
def test_the_nearest_is_found_among_any_number_of_names(known: int) -> None:
    names = [unlike(number) for number in range(known)]
    near = Nearest(names)
    for number in range(0, known, max(1, known // 40)):
        right = names[number]
        slips = [right[1:], right[:-1], f"{right[:4]}{right[5:]}", right.upper(), f"x{right}"]
        slips += [f"{right[:2]}{right[3]}{right[2]}{right[4:]}", f"{right[:7]}zz{right[9:]}"]
        assert [near.to(slip) for slip in slips] == [right] * len(slips)
    assert near.to("0000 99999") is None


def test_a_suggestion_names_the_nearest_first() -> None:
    names = [f"name {number}" for number in range(20)]
    assert suggestion("nmae 7", names, "") == (
        "did you mean ‘name 7’? Known too: name 0, name 1, name 2, name 3, name 4, name 5, "
        "name 6, name 8 and 11 more"
    )
    assert suggestion("zzz", names[:2], "") == "known here: name 0, name 1"
    assert suggestion("name1", ["name 1"], "") == "did you mean ‘name 1’?"
    assert suggestion("zzz", (), "write one") == "write one"
    assert suggestion("zzz", names, "", listed=20).endswith("name 18, name 19")
