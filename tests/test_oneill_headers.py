"""The O'Neill headers are what the book's transcription says, and can be made again from it.

Source: F. O'Neill, O'Neill's Music of Ireland, Chicago 1903; ABC transcription as shipped in the
music21 package, folder corpus/oneills1850. The facts here were read in those files by eye.
"""

import re
from collections import Counter
from pathlib import Path

import pytest

from tests.oneill import headers as headers_module
from tests.oneill.extract import (
    decoded,
    extract,
    find_corpus,
    header_fields,
    main,
    read_header,
    read_key,
    read_kind,
    read_meter,
    read_title,
)
from tests.oneill.headers import TABLE, Header, read_headers

HEADERS = read_headers()


def at(number: int) -> list[Header]:
    return [header for header in HEADERS if header.number == number]


# What the table holds


@pytest.mark.parametrize(
    "expected",
    [
        Header(1, "The Enchanted Valley", (), "2/4", "G minor", "air", "section"),
        Header(203, "The Minstrel Boy", (), "4/4", "G major", "air", "section"),
        Header(673, "Planxty Fanny Powers", (), "6/8", "A major", "Carolan piece", "section"),
        Header(887, "Tip the Cruiskeen", (), "6/8", "F# minor", "double jig", "section"),
        Header(987, "Haste to the Wedding", ("Deun Deifir Go De An Posga",), "6/8", "D major",
               "double jig", "file"),
        Header(1268, "The Swallow's Tail", (), "2/2", "A major", "reel", "file"),
        Header(1424, "Sleepy Maggie", (), "2/2", "E dorian", "reel", "section"),
        Header(1425, "Drowsy Maggie", (), "2/2", "E minor", "reel", "section"),
        Header(1553, "Rolling on the Ryegrass", ("ag liatra.d air an seagal.",), "2/2",
               "D mixolydian", "reel", "file"),
        Header(1642, "The Soldier's Joy", (), "2/2", "D major", "hornpipe", "section"),
        Header(1792, "Job of Journey Work, The", ("Greim Obairaonlae",), "4/4", "D major",
               "long dance", "section"),
        Header(1801, "Brian Boru's March", (), "6/8", "A minor", "march or other", "section"),
        Header(1850, "The Fox Chase", (), "4/4", "G major", "march or other", "section"),
    ],
    ids=lambda header: header.title,
)  # fmt: skip
def test_a_tune_reads_as_it_stands_in_the_abc_file(expected: Header) -> None:
    assert at(expected.number) == [expected]


def test_a_tune_that_two_people_transcribed_stands_twice() -> None:
    assert at(1603) == [
        Header(1603, "Harvest Home, The", (), "2/2", "D major", "hornpipe", "file"),
        Header(1603, "The Harvest Home", (), "2/2", "D major", "hornpipe", "file"),
    ]


def test_all_other_titles_are_kept_in_their_order() -> None:
    (slashers,) = at(901)
    assert slashers.title == "The Kinnegad Slashers."
    assert slashers.also == (
        "Land of Sweet Erin",
        "The Powers of Whiskey",
        "Bannocks of Barley Meal",
    )


def test_the_books_number_wins_over_a_slip_in_x() -> None:
    # X: 0, 800 and 1781 in the files; B: has 1646, 700 and 1780.
    assert at(0) == []
    assert [header.title for header in at(1646)] == ["The Supple Dancer"]
    assert [header.title for header in at(700)] == ["O'Carolan's Farewell to Music"]
    assert [header.title for header in at(800)] == ["The Merry Old Woman. 2nd Setting."]
    assert [header.title for header in at(1780)] == ["Caroline O'Neill's Hornpipe"] * 2
    assert [header.title for header in at(1781)] == ["Ace and Deuce of Pipering, The"]


def test_the_collection_is_whole_but_for_eleven_numbers() -> None:
    numbers = Counter(header.number for header in HEADERS)
    assert len(HEADERS) == 2009
    assert list(numbers) == sorted(numbers)
    absent = {573, 589, *range(620, 625), *range(1371, 1375)}
    assert set(numbers) == set(range(1, 1851)) - absent
    assert Counter(numbers.values()) == {1: 1669, 2: 170}


def test_titles_repeat() -> None:
    titles = Counter(header.title for header in HEADERS)
    assert len(titles) == 1876
    assert sum(times > 1 for times in titles.values()) == 118
    # Not only because of second transcriptions: the book has several settings of some tunes.
    numbers: dict[str, set[int]] = {}
    for header in HEADERS:
        numbers.setdefault(header.title, set()).add(header.number)
    assert sum(len(places) > 1 for places in numbers.values()) == 73
    assert numbers["The Blackbird"] == {199, 200, 201}


def test_titles_are_clean_but_not_polished() -> None:
    titles = [title for header in HEADERS for title in (header.title, *header.also)]
    assert "" not in titles
    assert [title for title in titles if title != title.strip()] == []
    assert [title for title in titles if not title.isprintable()] == []
    assert [title for title in titles if re.search(r"\\|&\w+;", title)] == []
    for kept in ('Paddy "Go Easy"', "McFadden's  Own Reel", "Kid on the Mountain., The"):
        assert kept in titles


def test_kinds() -> None:
    assert Counter(header.kind for header in HEADERS) == {
        "air": 605,
        "reel": 377,
        "hornpipe": 336,
        "double jig": 277,
        "jig": 174,
        "Carolan piece": 85,
        "slip jig": 80,
        "march or other": 50,
        "long dance": 19,
        "waltz": 4,
        "march": 1,
        "slide": 1,
    }
    assert Counter(header.kind_source for header in HEADERS) == {"file": 888, "section": 1121}


@pytest.mark.parametrize(
    ("first", "last", "kinds"),
    [
        (701, 1115, {"jig", "double jig", "slide"}),
        (1116, 1175, {"slip jig"}),
        (1176, 1555, {"reel"}),
        (1556, 1780, {"hornpipe"}),
    ],
)
def test_the_files_own_kinds_agree_with_the_sections(
    first: int, last: int, kinds: set[str]
) -> None:
    """What makes a section a fair witness where the file says nothing."""
    told = {
        header.kind
        for header in HEADERS
        if first <= header.number <= last and header.kind_source == "file"
    }
    assert told == kinds


def test_meters() -> None:
    assert Counter(header.meter for header in HEADERS) == {
        "6/8": 663,
        "2/2": 562,
        "4/4": 241,
        "2/4": 227,
        "3/4": 218,
        "9/8": 86,
        "3/8": 8,
        "12/8": 2,
        "5/4": 1,
        "6/4": 1,
    }


def test_keys_are_a_tonic_and_a_mode() -> None:
    well_formed = re.compile(r"[A-G][#b]? (major|minor|dorian|phrygian|lydian|mixolydian)")
    odd = [header for header in HEADERS if not well_formed.fullmatch(header.key)]
    # `K:Bn` in both transcriptions.
    assert [(header.number, header.title, header.key) for header in odd] == [
        (745, "Galway Tom", ""),
        (745, "Galway Tom", ""),
    ]
    commonest = Counter(header.key for header in HEADERS).most_common(4)
    assert commonest == [("G major", 752), ("D major", 546), ("A major", 222), ("E minor", 87)]


def test_the_table_is_plain_lines_of_seven_columns() -> None:
    data = TABLE.read_bytes()
    assert b"\r" not in data
    assert data.endswith(b"\n")
    lines = data.decode("utf-8").removesuffix("\n").split("\n")
    assert lines[0] == "number\ttitle\talso\tmeter\tkey\tkind\tkind_source"
    assert {line.count("\t") for line in lines} == {6}


def test_a_table_with_other_columns_is_refused(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    table = tmp_path / "other.tsv"
    table.write_text("number\ttitle\n1\tThe Enchanted Valley\n", encoding="utf-8")
    monkeypatch.setattr(headers_module, "TABLE", table)
    with pytest.raises(ValueError, match=r"other\.tsv: the columns are not number, title"):
        read_headers()


# How it is made


def test_the_table_is_what_the_abc_files_give() -> None:
    folder = find_corpus()
    if folder is None:
        pytest.skip("needs the music21 package's ABC files")
    assert extract(folder).encode("utf-8") == TABLE.read_bytes()


TWO_TUNES = """\
% a collection
X: 0
T: Second, The
T: An Dara
B: O'Neill's 2
M:C| % cut time
R:SlipJig
K:Ador clef=treble % a guess
A:| text, not a field
M:9/8
K:G
X:1
T:First
M:6/8
K:D
"""


def test_tunes_are_sorted_and_only_their_headers_read(
    tmp_path: Path, capfdbinary: pytest.CaptureFixture[bytes]
) -> None:
    # Tune 2 stands first in the file, and its X: is a slip.
    (tmp_path / "tunes.abc").write_bytes(TWO_TUNES.replace("\n", "\r\n").encode())
    (tmp_path / "notes.txt").write_text("X:3\nT:Not ABC\nK:C\n", encoding="utf-8")
    main([str(tmp_path)])
    out, err = capfdbinary.readouterr()
    assert out.decode() == (
        "number\ttitle\talso\tmeter\tkey\tkind\tkind_source\n"
        "1\tFirst\t\t6/8\tD major\tair\tsection\n"
        "2\tSecond, The\tAn Dara\t2/2\tA dorian\tslip jig\tfile\n"
    )
    assert err == b""


def test_missing_fields_are_empty_and_a_header_without_a_key_ends_at_the_next_tune() -> None:
    found = [read_header(fields) for fields in header_fields("X:\nX:7\nT:Seven\nX:8\nR:\nK:\nT:no")]
    assert found == [
        Header(0, "", (), "", "", "", ""),
        Header(7, "Seven", (), "", "", "air", "section"),
        Header(8, "", (), "", "", "air", "section"),
    ]
    assert list(header_fields("X:9\nT:Nine")) == [{"X": ["9"], "T": ["Nine"]}]
    assert list(header_fields("")) == []


@pytest.mark.parametrize(
    ("abc", "key"),
    [
        ("D", "D major"),
        ("Am", "A minor"),
        ("Edor", "E dorian"),
        ("A Mixolydian", "A mixolydian"),
        ("F#m", "F# minor"),
        ("Bb", "Bb major"),
        ("Gphr", "G phrygian"),
        ("Dlyd", "D lydian"),
        ("Bloc", "B locrian"),
        ("Cmaj", "C major"),
        ("Emin", "E minor"),
        ("G bass", "G major"),
        ("G clef=bass", "G major"),
        ("Dmix treble", "D mixolydian"),
        ("Bn", ""),
        ("none", ""),
        ("", ""),
    ],
)
def test_keys_in_plain_words(abc: str, key: str) -> None:
    assert read_key(abc) == key


@pytest.mark.parametrize(
    ("abc", "meter"),
    [("C", "4/4"), ("C|", "2/2"), ("6/8", "6/8"), ("12/8", "12/8"), ("none", ""), ("", "")],
)
def test_meters_in_numbers(abc: str, meter: str) -> None:
    assert read_meter(abc) == meter


@pytest.mark.parametrize(
    ("abc", "number", "kind"),
    [
        ("Jig", 600, ("jig", "file")),
        ("slip  jig", 1116, ("slip jig", "file")),
        ("slipjig", 1116, ("slip jig", "file")),
        ("", 625, ("air", "section")),
        ("", 626, ("Carolan piece", "section")),
        ("", 1115, ("double jig", "section")),
        ("", 1116, ("slip jig", "section")),
        ("", 1176, ("reel", "section")),
        ("", 1556, ("hornpipe", "section")),
        ("", 1800, ("long dance", "section")),
        ("", 1801, ("march or other", "section")),
        ("", 1851, ("", "")),
        ("", 0, ("", "")),
    ],
)
def test_the_kind_is_the_files_else_the_sections(
    abc: str, number: int, kind: tuple[str, str]
) -> None:
    assert read_kind(abc, number) == kind


@pytest.mark.parametrize(
    ("abc", "title"),
    [
        (r"R\'ois\'in Dubh", "Róisín Dubh"),
        (r"Se\`an, B\^eal, Ni\~na, Zo\"e", "Seàn, Bêal, Niña, Zoë"),
        ("R&oacute;is&iacute;n", "Róisín"),
        ("Fish & Chips", "Fish & Chips"),
        ("one\ttab", "one tab"),
    ],
)
def test_accents_become_letters(abc: str, title: str) -> None:
    # ABC writes the mark before its letter.
    assert read_title(abc) == title


def test_old_files_are_latin_1() -> None:
    assert decoded("T:Róisín".encode()) == "T:Róisín"
    assert decoded("\ufeffT:Róisín".encode()) == "T:Róisín"
    assert decoded("T:Róisín".encode("latin-1")) == "T:Róisín"


def test_a_folder_without_abc_files_is_one_line_and_exit_2(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    folder = tmp_path / "nowhere"
    with pytest.raises(SystemExit) as end:
        main([str(folder)])
    assert end.value.code == 2
    out, err = capsys.readouterr()
    assert (out, err) == ("", f"extract: no .abc files in {folder}\n")


def test_a_missing_package_is_one_line_and_exit_2(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    def nothing(name: str) -> None:
        assert name == "music21"

    monkeypatch.setattr("importlib.util.find_spec", nothing)
    with pytest.raises(SystemExit) as end:
        main([])
    assert end.value.code == 2
    out, err = capsys.readouterr()
    assert (out, err) == ("", "extract: no music21 package here; name the folder instead\n")
