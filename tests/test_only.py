"""Some kinds of files alone: what stays, what it is called, and when a folder is of one state again."""

from __future__ import annotations

import json
import os
import shutil
from collections.abc import Collection
from pathlib import Path
from typing import Any

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from setwright.compiler.compiled import Compiled
from setwright.compiler.outputs.build import build, output_files
from setwright.compiler.outputs.collect import night_data
from setwright.compiler.outputs.kinds import KINDS, Made, Wish, kind_of, kinds_of, make
from setwright.compiler.outputs.lock import LOCK, Turn
from setwright.compiler.outputs.manifest import check_folder, read_manifest
from setwright.compiler.outputs.write import write_outputs
from tests.conftest import DEMO
from tests.nights import whole
from tests.test_build import contents, names_in, read_night
from tests.test_cli import setwright
from tests.test_write import Fault

RIGS = ("granary", "parlour")
MAKE = "setwright.compiler.outputs.build.make"

# Where the files of each kind lie, written by hand.
BELONGS = {
    "cue-sheet.html": "sheets",
    "preset-sheet.html": "sheets",
    "preset-sheet.csv": "sheets",
    "cue-sheet-floor.pdf": "sheets",
    "cue-sheet-strip.pdf": "sheets",
    "cue-sheet-beside.pdf": "sheets",
    "band-list.pdf": "sheets",
    "preset-sheet.pdf": "sheets",
    "preset-sheet-by-bank.pdf": "sheets",
    "stage.html": "page",
    "stored": "midi",
    "direct": "midi",
    "maps": "maps",
}


def kind_by_hand(name: str) -> str:
    return BELONGS[name.split("/")[0]]


@pytest.fixture(scope="module")
def compiled() -> dict[str, Compiled]:
    return {rig: whole(DEMO / f"{rig}-night.yaml") for rig in RIGS}


@pytest.fixture(scope="module")
def files(compiled: dict[str, Compiled]) -> dict[str, dict[str, bytes]]:
    return {rig: output_files(compiled[rig]).files for rig in RIGS}


@pytest.fixture
def book(tmp_path: Path) -> Path:
    shutil.copytree(DEMO, tmp_path / "book")
    return tmp_path / "book"


def change(book: Path) -> None:
    """Let the first song with this tempo be faster: sheets, MIDI files and maps all change."""
    songs = book / "songs.yaml"
    text = songs.read_text(encoding="utf-8")
    assert "half = 104" in text
    songs.write_text(text.replace("half = 104", "half = 96", 1), encoding="utf-8")


def built(book: Path, out: Path, *only: str) -> list[str]:
    """Build with the real command; return what it noted."""
    words = [word for kind in only for word in ("--only", kind)]
    ended = setwright("build", str(book / "granary-night.yaml"), "--out", str(out), *words)
    assert ended.returncode == 0, ended.stderr
    return ended.stderr.splitlines()


def older(out: Path, *kinds: str) -> list[str]:
    """Return what is said where these kinds are of an earlier state of the book."""
    return [
        f"note: ‘{out}’ holds files that are older than this book: {', '.join(kinds)}; "
        "a build without --only makes them anew"
    ]


# -- the table ------------------------------------------------------------------------------------


@pytest.mark.parametrize("rig", RIGS)
def test_every_file_is_of_exactly_one_kind(rig: str, files: dict[str, dict[str, bytes]]) -> None:
    names = files[rig].keys() - {"night.json"}
    for name in names:
        of = [kind for kind, one in KINDS.items() if name.startswith(one.names)]
        assert of == [kind_by_hand(name)] == [kind_of(name)], name
    assert kinds_of(names) == list(KINDS)
    assert kind_of("night.json") == ""


def test_a_file_beyond_its_kind_is_our_own_fault(
    compiled: dict[str, Compiled], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(
        "setwright.compiler.outputs.cue_sheet.cue_sheet_files", lambda data: {"a.pdf": b""}
    )
    with pytest.raises(AssertionError, match=r"sheets makes \['a.pdf'\]"):
        output_files(compiled["granary"])


def test_a_file_of_no_kind_stands_for_itself() -> None:
    assert kinds_of(["b.txt", "maps/a.csv", "a.txt", "cue-sheet.html"]) == [
        "sheets",
        "maps",
        "a.txt",
        "b.txt",
    ]


def test_a_kind_that_is_not_known(tmp_path: Path) -> None:
    night = str(DEMO / "granary-night.yaml")
    ended = setwright("build", night, "--out", str(tmp_path / "out"), "--only", "sheet")
    assert (ended.returncode, ended.stdout) == (2, "")
    for kind in KINDS:
        assert f"'{kind}'" in ended.stderr.splitlines()[-1]
    assert "'sheet' is not one of" in ended.stderr
    assert not (tmp_path / "out").exists()


# -- real builds ----------------------------------------------------------------------------------


@pytest.mark.parametrize("kind", KINDS)
def test_into_a_new_folder(kind: str, tmp_path: Path, files: dict[str, dict[str, bytes]]) -> None:
    out = tmp_path / "out"
    assert built(DEMO, out, kind) == []
    made = contents(out)
    data = json.loads(made.pop("night.json"))
    assert made == {
        name: one
        for name, one in files["granary"].items()
        if name != "night.json" and kind_by_hand(name) == kind
    }
    assert (sorted(data["files"]), data["older"]) == (sorted(made), {})
    assert check_folder(out) == []


def test_from_one_state_of_the_book_to_the_next_kind_by_kind(book: Path, tmp_path: Path) -> None:
    out, other = tmp_path / "out", tmp_path / "other"
    assert built(book, out) == []
    first = contents(out)
    # Of the same book, nothing is another.
    assert built(book, out, "midi") == []
    assert contents(out) == first
    change(book)
    built(book, other)
    second = contents(other)
    differ = {kind_by_hand(name) for name in first if first[name] != second[name] and "/" in name}
    assert differ == {"midi", "maps"}

    assert built(book, out, "sheets") == older(out, "midi", "maps", "page")
    now = contents(out)
    for name in first.keys() - {"night.json"}:
        assert now[name] == (second if kind_by_hand(name) == "sheets" else first)[name], name
    data, before = read_night(out), json.loads(first["night.json"])
    for name, digest in data["files"].items():
        if kind_by_hand(name) != "sheets":
            assert digest == before["files"][name]
    assert data["made_from"] == read_night(other)["made_from"] != before["made_from"]
    behind = {name for name in data["files"] if kind_by_hand(name) != "sheets"}
    assert data["older"] == dict.fromkeys(sorted(behind), before["made_from"])
    (said,) = check_folder(out)
    assert said.startswith(f"older than the rest in ‘{out}’: direct/")

    # The list is of this book by now, and still the others are not.
    assert built(book, out, "sheets") == older(out, "midi", "maps", "page")
    assert built(book, out, "midi") == older(out, "maps", "page")
    assert built(book, out, "maps") == older(out, "page")
    assert built(book, out, "page") == []
    assert contents(out) == second
    assert check_folder(out) == []


def test_back_to_the_state_in_which_the_others_were_made(book: Path, tmp_path: Path) -> None:
    out = tmp_path / "out"
    text = (book / "songs.yaml").read_bytes()
    built(book, out)
    first = contents(out)
    change(book)
    assert built(book, out, "sheets", "maps") == older(out, "midi", "page")
    (book / "songs.yaml").write_bytes(text)
    # What is of the first state again is not older than it.
    assert built(book, out, "maps") == older(out, "sheets")
    assert built(book, out, "sheets") == []
    assert contents(out) == first


def test_all_of_it_makes_the_folder_of_one_state(book: Path, tmp_path: Path) -> None:
    out = tmp_path / "out"
    built(book, out)
    change(book)
    built(book, out, "midi")
    assert built(book, out) == []
    assert check_folder(out) == []
    assert built(book, tmp_path / "other") == []
    assert contents(out) == contents(tmp_path / "other")


def test_what_a_pencil_added_is_kept_whichever_kind_is_built(book: Path, tmp_path: Path) -> None:
    out = tmp_path / "out"
    built(book, out)
    sheet, table = out / "cue-sheet.html", out / "maps" / "programs.csv"
    pencilled = {one: one.read_bytes() + b"\n " for one in (sheet, table)}
    for path, content in pencilled.items():
        path.write_bytes(content)
    changed = "was changed after it was built; that one is kept as"
    assert built(book, out, "sheets") == [f"note: cue-sheet.html {changed} cue-sheet.html.yours"]
    assert (out / "cue-sheet.html.yours").read_bytes() == pencilled[sheet]
    assert table.read_bytes() == pencilled[table]
    assert check_folder(out) == [f"not as built in ‘{out}’: maps/programs.csv; build again"]
    change(book)
    assert built(book, out) == [f"note: maps/programs.csv {changed} maps/programs.csv.yours"]
    assert (out / "maps" / "programs.csv.yours").read_bytes() == pencilled[table]
    assert check_folder(out) == []


def test_what_a_user_has_removed_is_missing_until_it_is_built(book: Path, tmp_path: Path) -> None:
    out = tmp_path / "out"
    built(book, out)
    (out / "maps" / "channels.csv").unlink()
    assert built(book, out, "midi") == []
    assert check_folder(out) == [f"missing in ‘{out}’: maps/channels.csv; build again"]
    assert built(book, out) == []
    assert check_folder(out) == []


# -- within one process ---------------------------------------------------------------------------


def test_of_another_night_only_one_kind(
    compiled: dict[str, Compiled], files: dict[str, dict[str, bytes]], tmp_path: Path
) -> None:
    build(compiled["granary"], tmp_path)
    done = build(compiled["parlour"], tmp_path, only=["midi"])
    held, said = done.notices
    assert held == f"‘{tmp_path}’ held ‘Winter dance’ on ‘Granary’ until now"
    assert "older than this book: sheets, maps, page;" in said
    midi = {name for name in names_in(tmp_path) if name.endswith(".mid")}
    assert midi == {name for name in files["parlour"] if name.endswith(".mid")}
    assert {kind_by_hand(name) for name in done.removed} == {"midi"}
    assert build(compiled["parlour"], tmp_path).problem is None
    assert contents(tmp_path) == files["parlour"]


def without(list_of: dict[str, Any], key: str) -> bytes:
    return json.dumps({name: one for name, one in list_of.items() if name != key}).encode()


@pytest.mark.parametrize(
    ("edit", "kept"),
    [
        (lambda data: json.dumps({**data, "note": "by hand"}).encode(), ("night.json.yours",)),
        (lambda data: without({k: v for k, v in data.items() if k != "itself"}, "made_from"), ()),
        (lambda data: without({**data, "older": 7}, "itself"), ()),
    ],
    ids=["changed by hand", "of long ago", "of long ago, and odd"],
)
def test_a_list_that_says_nothing_sure_vouches_for_nothing(
    edit: Any, kept: tuple[str, ...], compiled: dict[str, Compiled], tmp_path: Path
) -> None:
    build(compiled["granary"], tmp_path)
    data = read_night(tmp_path)
    (tmp_path / "night.json").write_bytes(edit(data))
    done = build(compiled["granary"], tmp_path, only=["maps"])
    assert done.kept == kept
    if "made_from" in edit(data).decode() and not kept:
        # All that it lacks is its own digest: it is believed, as builds of long ago are.
        assert done.notices == ()
    else:
        assert "older than this book: sheets, midi, page;" in done.notices[-1]
        names = [name for name in data["files"] if kind_by_hand(name) != "maps"]
        assert read_night(tmp_path)["older"] == dict.fromkeys(names, "")
    assert build(compiled["granary"], tmp_path).problem is None
    assert read_night(tmp_path) == data


@pytest.mark.skipif(not hasattr(os, "fork"), reason="this system has no fork")
@pytest.mark.parametrize(("step", "state"), [(2, "before it replaced a file"), (20, "mixed")])
def test_after_a_build_that_was_broken_off_a_part_is_refused(
    step: int,
    state: str,
    compiled: dict[str, Compiled],
    files: dict[str, dict[str, bytes]],
    tmp_path: Path,
) -> None:
    build(compiled["granary"], tmp_path)
    child = os.fork()
    if child == 0:
        with Fault(("replace",), step, lambda: os._exit(9)).installed():
            write_outputs(tmp_path, files["parlour"])
        os._exit(0)
    assert os.waitstatus_to_exitcode(os.waitpid(child, 0)[1]) == 9
    (tmp_path / LOCK).unlink()
    before = contents(tmp_path)
    done = build(compiled["parlour"], tmp_path, only=["sheets"])
    assert done.problem == (
        f"‘{tmp_path}’ cannot be built in part, for the last build there was broken off; "
        "build all of it once, without --only"
    )
    (said,) = done.notices
    assert state in said
    assert contents(tmp_path) == before
    assert build(compiled["parlour"], tmp_path).problem is None
    assert contents(tmp_path) == files["parlour"]


def test_another_build_that_comes_in_between_is_listed(
    compiled: dict[str, Compiled],
    files: dict[str, dict[str, bytes]],
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    build(compiled["granary"], tmp_path)
    (tmp_path / "maps" / "programs.csv").unlink()
    take, others = Turn.take, [files["parlour"]]

    def taken(self: Turn) -> bool:
        if others:
            write_outputs(tmp_path, others.pop())
        return take(self)

    monkeypatch.setattr(Turn, "take", taken)
    done = build(compiled["granary"], tmp_path, only=["maps"])
    assert "older than this book: sheets, midi, page;" in done.notices[-1]
    listed = read_night(tmp_path)["files"]
    assert {name for name in listed if name.endswith(".mid")} == {
        name for name in files["parlour"] if name.endswith(".mid")
    }
    assert len(check_folder(tmp_path)) == 1


def of(files: dict[str, bytes], kind: str) -> dict[str, bytes]:
    return {name: content for name, content in files.items() if kind_of(name) == kind}


STEPS = st.lists(
    st.tuples(st.sampled_from(RIGS), st.sets(st.sampled_from(sorted(KINDS)))),
    min_size=1,
    max_size=6,
)


@given(steps=STEPS)
@settings(
    max_examples=25, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture]
)
def test_any_builds_in_any_order(
    steps: list[tuple[str, set[str]]],
    compiled: dict[str, Compiled],
    files: dict[str, dict[str, bytes]],
    tmp_path_factory: pytest.TempPathFactory,
) -> None:
    """An account of its own: for each kind, of which night its files are."""
    out = tmp_path_factory.mktemp("any")
    of_kind: dict[str, str] = {}
    data_of = {id(one): night_data(one) for one in compiled.values()}

    few = {
        rig: {n: c for kind in KINDS for n, c in [*of(mine, kind).items()][:4]}
        for rig, mine in files.items()
    }

    def ready(data: Any, kind: str, wish: Wish) -> Made:
        return Made(of(few[data.rig.lower()], kind))

    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(MAKE, ready)
        patch.setattr(os, "fsync", lambda handle: None)
        patch.setattr("setwright.compiler.outputs.build.night_data", lambda one: data_of[id(one)])
        for rig, only in steps:
            done = build(compiled[rig], out, only=only)
            assert (done.problem, done.kept) == (None, ())
            of_kind |= dict.fromkeys(only or KINDS, rig)
            wanted = {
                name: content
                for kind, one in of_kind.items()
                for name, content in of(few[one], kind).items()
            }
            there = contents(out)
            del there["night.json"]
            assert there == wanted
            behind = [kind for kind in KINDS if of_kind.get(kind, rig) != rig]
            listed = read_manifest(out)
            assert listed is not None
            assert kinds_of(listed.older) == behind
            said = [one for one in done.notices if "older" in one]
            assert [f"this book: {', '.join(behind)};" in one for one in said] == [True] * bool(
                behind
            )
            assert check_folder(out) == [] or behind
    shutil.rmtree(out)


def test_nothing_else_is_made(
    compiled: dict[str, Compiled], tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    made: list[str] = []

    def noted(data: Any, kind: str, wish: Wish) -> Made:
        made.append(kind)
        return make(data, kind, wish)

    monkeypatch.setattr(MAKE, noted)
    said: list[tuple[str, int, int]] = []
    only: Collection[str] = ("maps", "sheets", "maps")
    build(compiled["parlour"], tmp_path, only=only, doing=lambda *step: said.append(step))
    assert made == ["sheets", "maps"]
    assert said == [("sheets", 1, 3), ("maps", 2, 3), ("files into their folder", 3, 3)]
