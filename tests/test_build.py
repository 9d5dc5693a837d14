"""A whole build: what stands in the folder, the same every time, and safe whatever is in the book."""

from __future__ import annotations

import csv
import hashlib
import io
import json
import os
import shutil
import subprocess
import sys
from importlib.metadata import version
from pathlib import Path
from typing import Any

import mido
import pytest
from jsonschema import Draft202012Validator

from setwright.compiler.compiled import Compiled
from setwright.compiler.outputs import lock, maps
from setwright.compiler.outputs.build import Built, build, left_unfinished, output_files
from setwright.compiler.outputs.collect import night_data
from setwright.compiler.outputs.manifest import check_folder
from setwright.compiler.outputs.names import is_safe
from setwright.compiler.outputs.night_json import NightFile, is_as_written, night_json
from setwright.compiler.outputs.night_schema import night_schema, night_schema_text
from setwright.compiler.outputs.survey import Survey
from setwright.compiler.outputs.write import write_outputs
from setwright.scenes.finding import Finding, Place, Severity, Source, worst
from tests.conftest import DEMO, ROOT
from tests.mini import write_night
from tests.nights import whole
from tests.test_cli import setwright
from tests.test_write import Fault

RIGS = ("granary", "parlour")
SCHEMA = ROOT / "templates" / "schemas" / "night-data.schema.json"


@pytest.fixture(scope="module")
def compiled() -> dict[str, Compiled]:
    return {rig: whole(DEMO / f"{rig}-night.yaml") for rig in RIGS}


@pytest.fixture(scope="module")
def folders(
    compiled: dict[str, Compiled], tmp_path_factory: pytest.TempPathFactory
) -> dict[str, Path]:
    """Return where both demo nights are built."""
    made = {}
    for rig in RIGS:
        made[rig] = tmp_path_factory.mktemp("built") / rig
        built = build(compiled[rig], made[rig])
        assert (built.problem, built.notices, built.removed) == (None, (), ())
        assert list(built.wrote) == names_in(made[rig])
    return made


def names_in(folder: Path) -> list[str]:
    return sorted(
        path.relative_to(folder).as_posix() for path in folder.rglob("*") if path.is_file()
    )


def contents(folder: Path) -> dict[str, bytes]:
    return {name: (folder / name).read_bytes() for name in names_in(folder)}


def read_night(folder: Path) -> dict[str, Any]:
    data: dict[str, Any] = json.loads((folder / "night.json").read_bytes())
    return data


# -- what stands in the folder --------------------------------------------------------------------


@pytest.mark.parametrize("rig", RIGS)
def test_everything_is_there(rig: str, folders: dict[str, Path]) -> None:
    names = names_in(folders[rig])
    kinds = {name.split("/")[0] if "/" in name else name for name in names}
    assert {"stored", "direct", "maps", "cue-sheet.html", "preset-sheet.html"} < kinds
    songs = read_night(folders[rig])["songs"]
    for route in ("stored", "direct"):
        files = [name for name in names if name.startswith(f"{route}/") and name.endswith(".mid")]
        assert len(files) >= len(songs) + 2


@pytest.mark.parametrize("rig", RIGS)
def test_night_json_lists_every_file_with_its_digest(rig: str, folders: dict[str, Path]) -> None:
    listed = read_night(folders[rig])["files"]
    assert sorted([*listed, "night.json"]) == names_in(folders[rig])
    assert list(listed) == sorted(listed)
    for name, digest in listed.items():
        assert hashlib.sha256((folders[rig] / name).read_bytes()).hexdigest() == digest
    assert check_folder(folders[rig]) == []


@pytest.mark.skipif(shutil.which("sha256sum") is None, reason="needs sha256sum")
def test_the_digests_are_those_of_another_tool(folders: dict[str, Path], tmp_path: Path) -> None:
    listed = read_night(folders["granary"])["files"]
    sums = tmp_path / "sums"
    sums.write_text("".join(f"{one}  {name}\n" for name, one in listed.items()), encoding="ascii")
    command = ["sha256sum", "--check", "--strict", "--quiet", str(sums)]
    assert subprocess.run(command, cwd=folders["granary"], check=False).returncode == 0


@pytest.mark.parametrize("rig", RIGS)
def test_names_are_safe_and_differ_in_any_letters(rig: str, folders: dict[str, Path]) -> None:
    names = names_in(folders[rig])
    assert all(is_safe(name) and len(name.split("/")[-1]) <= 60 for name in names)
    assert len({name.casefold() for name in names}) == len(names)


@pytest.mark.parametrize("rig", RIGS)
def test_night_json_is_the_night(
    rig: str, folders: dict[str, Path], compiled: dict[str, Compiled]
) -> None:
    text = (folders[rig] / "night.json").read_bytes()
    assert text.isascii()
    assert text.endswith(b"}\n")
    whole = NightFile.model_validate_json(text)
    assert whole.setwright == version("setwright")
    data = night_data(compiled[rig])
    assert (
        whole.model_dump(exclude={"setwright", "files", "made_from", "older", "itself"})
        == data.model_dump()
    )
    assert list(json.loads(text))[:3] == ["format", "setwright", "night"]


# -- the schema of night.json ---------------------------------------------------------------------


def test_the_committed_schema_is_that_of_the_records(request: pytest.FixtureRequest) -> None:
    """``python -m pytest --renew`` writes it anew."""
    if request.config.getoption("--renew"):
        SCHEMA.write_text(night_schema_text(), encoding="utf-8", newline="\n")
    assert SCHEMA.read_text(encoding="utf-8") == night_schema_text()
    Draft202012Validator.check_schema(night_schema())


@pytest.mark.parametrize("rig", RIGS)
def test_night_json_fits_its_schema(rig: str, folders: dict[str, Path]) -> None:
    schema = json.loads(SCHEMA.read_text(encoding="utf-8"))
    assert list(Draft202012Validator(schema).iter_errors(read_night(folders[rig]))) == []


@pytest.mark.parametrize(
    ("path", "value"),
    [
        (("format",), 1),
        (("night",), None),
        (("files", "x"), "not a digest"),
        (("extra",), 1),
        (("scenes", 0, "stored", "messages", 0, "channel"), 17),
        (("scenes", 0, "stored", "messages", 0, "number"), 128),
        (("scenes", 0, "place", "bank"), 0),
        (("presets", 0, "scenes", 0), ["only one"]),
    ],
)
def test_the_schema_refuses_what_is_wrong(
    path: tuple[str | int, ...], value: object, folders: dict[str, Path]
) -> None:
    night = read_night(folders["parlour"])
    at: Any = night
    for step in path[:-1]:
        at = at[step]
    at[path[-1]] = value
    assert list(Draft202012Validator(night_schema()).iter_errors(night)) != []
    if path != ("format",):  # another version's file is read by another version
        with pytest.raises(ValueError, match="validation error"):
            NightFile.model_validate(night)


def test_every_key_is_required(folders: dict[str, Path]) -> None:
    whole = read_night(folders["parlour"])
    assert set(night_schema()["required"]) == set(whole)
    del whole["files"]
    assert not Draft202012Validator(night_schema()).is_valid(whole)


# -- the same bytes, wherever and whenever --------------------------------------------------------


@pytest.mark.parametrize(
    "environment",
    [
        {"PYTHONHASHSEED": "0", "LC_ALL": "C", "TZ": "UTC", "PYTHONUTF8": "0"},
        {"PYTHONHASHSEED": "4711", "LC_ALL": "C.UTF-8", "TZ": "Pacific/Auckland", "COLUMNS": "20"},
    ],
)
def test_the_same_bytes_everywhere(
    environment: dict[str, str], folders: dict[str, Path], tmp_path: Path
) -> None:
    book = tmp_path / "book"
    shutil.copytree(DEMO, book)
    script = (
        "import sys; from pathlib import Path\n"
        "from setwright.compiler.pipeline import compile_night\n"
        "from setwright.compiler.outputs.build import build\n"
        "built = build(compile_night(Path(sys.argv[1])), Path(sys.argv[2]))\n"
        "sys.exit(built.problem)\n"
    )
    for cwd, night, out in (
        (book, "granary-night.yaml", "../here"),
        (Path("/"), str(book / "granary-night.yaml"), str(tmp_path / "there")),
    ):
        command = [sys.executable, "-c", script, night, out]
        ended = subprocess.run(
            command, cwd=cwd, env={**os.environ, **environment}, capture_output=True, check=False
        )
        assert (ended.returncode, ended.stderr) == (0, b"")
    assert contents(tmp_path / "here") == contents(folders["granary"])
    assert contents(tmp_path / "there") == contents(folders["granary"])


def test_nothing_tells_where_or_when_it_was_built(folders: dict[str, Path]) -> None:
    for name, content in contents(folders["granary"]).items():
        for word in (str(ROOT), str(folders["granary"]), "examples/", "granary-night.yaml"):
            assert word.encode() not in content, name


def test_building_again_changes_nothing(
    compiled: dict[str, Compiled], folders: dict[str, Path]
) -> None:
    before = {path: path.stat().st_mtime_ns for path in folders["granary"].rglob("*")}
    built = build(compiled["granary"], folders["granary"])
    assert built == Built(unchanged=tuple(names_in(folders["granary"])))
    assert {path: path.stat().st_mtime_ns for path in folders["granary"].rglob("*")} == before


def test_the_other_rig_into_the_same_folder(
    compiled: dict[str, Compiled], folders: dict[str, Path], tmp_path: Path
) -> None:
    out = tmp_path / "out"
    build(compiled["granary"], out)
    built = build(compiled["parlour"], out)
    assert built.notices == (f"‘{out}’ held ‘Winter dance’ on ‘Granary’ until now",)
    assert "stored/1-02-the-swallows-tail.mid" in built.removed
    assert contents(out) == contents(folders["parlour"])


# -- broken off, and two at once ------------------------------------------------------------------


@pytest.mark.skipif(not hasattr(os, "fork"), reason="this system has no fork")
@pytest.mark.parametrize(
    ("function", "step", "state"),
    [
        ("replace", 2, "was broken off before it replaced a file"),
        ("replace", 20, "was broken off in the middle (new: "),
        ("unlink", 3, "was broken off when every file was in place and only tidying up was left"),
    ],
)
def test_after_a_kill_every_build_says_in_which_state_the_sheets_are(
    function: str,
    step: int,
    state: str,
    compiled: dict[str, Compiled],
    folders: dict[str, Path],
    tmp_path: Path,
) -> None:
    out = tmp_path / "out"
    shutil.copytree(folders["granary"], out)
    new = contents(folders["parlour"])
    child = os.fork()
    if child == 0:
        with Fault((function,), step, lambda: os._exit(9)).installed():
            write_outputs(out, new)
        os._exit(0)
    assert os.waitstatus_to_exitcode(os.waitpid(child, 0)[1]) == 9
    mixed = "so its sheets are mixed" if "middle" in state else ""
    (said,) = left_unfinished(out)
    assert said.startswith(f"the last build into ‘{out}’ {state}")
    assert said.endswith(f"{mixed}; build again when the errors are mended")
    assert ("mixed" in said) is bool(mixed)
    assert state in check_folder(out)[0]

    # The real command says so whether it can build or not.
    if mixed:
        book = tmp_path / "book"
        shutil.copytree(DEMO, book)
        (book / "songs.yaml").write_text("songs: [", encoding="utf-8")
        refused = setwright("build", str(book / "granary-night.yaml"), "--out", str(out))
        assert refused.returncode == 1
        assert f"note: {said}\n" in refused.stderr
        mended = setwright("build", str(DEMO / "parlour-night.yaml"), "--out", str(out))
        assert (mended.returncode, mended.stderr.count("note: ")) == (0, 2)
        assert f"{mixed}; now every file is of this one\n" in mended.stderr
    else:
        written = write_outputs(out, new)
        assert written.notices[-1].endswith("; now every file is of this one")
    assert contents(out) == new
    assert left_unfinished(out) == ()


def test_two_builds_at_once_take_turns(folders: dict[str, Path], tmp_path: Path) -> None:
    """Real processes, of two nights, that meet in one new folder again and again."""
    out = tmp_path / "new" / "out"
    script = (
        "import os, sys; from pathlib import Path\n"
        "from setwright.compiler.outputs import lock\n"
        "from setwright.compiler.outputs.write import write_outputs\n"
        "lock.PATIENCE = 100; os.fsync = lambda handle: None\n"
        "there = Path(sys.argv[1])\n"
        "files = {one.relative_to(there).as_posix(): one.read_bytes()\n"
        "         for one in there.rglob('*') if one.is_file()}\n"
        "print('ready', flush=True); sys.stdin.read()\n"
        "for _ in range(10):\n"
        "    built = write_outputs(Path(sys.argv[2]), files)\n"
        "    assert built.problem is None, built.problem\n"
        "    assert not built.kept, built.kept\n"
        "    assert not any('broken off' in one for one in built.notices), built.notices\n"
    )
    running = [
        subprocess.Popen(
            [sys.executable, "-c", script, str(folders[rig]), str(out)],
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            stderr=subprocess.PIPE,
            text=True,
        )
        for rig in (*RIGS, "granary")
    ]
    for process in running:
        assert process.stdout is not None
        assert process.stdout.readline() == "ready\n"
    for process in running:
        assert process.stdin is not None
        process.stdin.close()
        process.stdin = None
    errors = [process.communicate(timeout=120)[1] for process in running]
    assert errors == ["", "", ""]
    assert contents(out) in (contents(folders["granary"]), contents(folders["parlour"]))
    assert check_folder(out) == []


def test_what_vanishes_while_another_moves_it_is_looked_for_again(
    compiled: dict[str, Compiled], tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    build(compiled["granary"], tmp_path)
    look, refused = Survey.look, [FileNotFoundError(2, "no such file")]

    def first_look_fails(self: Survey) -> object:
        if refused:
            raise refused.pop()
        return look(self)

    monkeypatch.setattr(Survey, "look", first_look_fails)
    written = build(compiled["parlour"], tmp_path)
    assert written.problem is None
    assert not refused
    assert check_folder(tmp_path) == []


def test_who_waits_too_long_is_told_and_a_dead_holder_keeps_nobody_out(
    compiled: dict[str, Compiled], tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(lock, "PATIENCE", 0.2)
    build(compiled["granary"], tmp_path)
    before = contents(tmp_path)
    script = (
        "import sys; from pathlib import Path; from setwright.compiler.outputs.lock import Turn\n"
        "assert Turn(Path(sys.argv[1])).take(); print('mine', flush=True); sys.stdin.read()\n"
    )
    holder = subprocess.Popen(
        [sys.executable, "-c", script, str(tmp_path)],
        stdin=subprocess.PIPE,
        stdout=subprocess.PIPE,
        text=True,
    )
    with holder:
        assert holder.stdout is not None
        assert holder.stdout.readline() == "mine\n"
        built = build(compiled["parlour"], tmp_path)
        assert built.problem == (
            f"another setwright is writing into ‘{tmp_path}’; nothing was changed; "
            "wait until it has ended, and try again"
        )
        assert contents(tmp_path) == {**before, lock.LOCK: b""}
        holder.kill()
    assert (tmp_path / lock.LOCK).exists()
    assert build(compiled["parlour"], tmp_path).problem is None
    assert not (tmp_path / lock.LOCK).exists()


@pytest.mark.skipif(os.name == "nt", reason="needs signals")
def test_an_interrupted_build_says_so_and_ends_as_interrupted(tmp_path: Path) -> None:
    program = (
        "import os, signal; from setwright.compiler.cli import main\n"
        "real, calls = os.fsync, []\n"
        "def fsync(handle):\n"
        "    calls.append(handle)\n"
        "    if len(calls) == 9: os.kill(os.getpid(), signal.SIGINT)\n"
        "    real(handle)\n"
        "os.fsync = fsync\n"
        "main()\n"
    )
    words = ["build", str(DEMO / "parlour-night.yaml"), "--out", str(tmp_path / "out")]
    ended = subprocess.run(
        [sys.executable, "-c", program, *words],
        capture_output=True,
        encoding="utf-8",
        env={**os.environ, "PYTHONIOENCODING": "utf-8"},
        check=False,
    )
    assert (ended.returncode, ended.stdout) == (130, "")
    assert ended.stderr.splitlines()[-1] == (
        f"setwright: interrupted while writing into ‘{tmp_path / 'out'}’; nothing was changed; "
        "try again"
    )
    assert not (tmp_path / "out").exists()


# -- what may not be built ------------------------------------------------------------------------


def test_errors_stop_a_build_and_warnings_do_not(tmp_path: Path) -> None:
    book = tmp_path / "book"
    shutil.copytree(DEMO, book)
    songs = book / "songs.yaml"
    text = songs.read_text(encoding="utf-8")
    songs.write_text(text.replace("Start: brushed", "Start: brushd", 1), encoding="utf-8")
    built = build(whole(book / "granary-night.yaml"), tmp_path / "out")
    assert built == Built(
        problem="nothing is built from a book with 1 error; check it and mend them"
    )
    assert not (tmp_path / "out").exists()
    songs.write_text(text, encoding="utf-8")
    warned = whole(book / "granary-night.yaml")
    place = Place.at(Source("songs.yaml", text), 1, 1, 1, 1)
    warned.findings.append(
        Finding("of-a-kind", Severity.WARNING, "mind the step", place, "mind it")
    )
    assert build(warned, tmp_path / "out").problem is None


def test_a_night_that_is_not_there(tmp_path: Path) -> None:
    ended = setwright("build", "none.yaml", "--out", "out", cwd=tmp_path)
    assert (ended.returncode, ended.stderr) == (2, "nothing is written: 1 error\n")
    assert "there is no such file [file-missing]" in ended.stdout
    assert not (tmp_path / "out").exists()


@pytest.mark.parametrize("out", [".", "units", "units/deep", ".."])
def test_no_folder_of_the_book_is_built_into(tmp_path: Path, out: str) -> None:
    """Whatever is read, includes too."""
    book = tmp_path / "book"
    (book / "units" / "deep").mkdir(parents=True)
    night = write_night(
        book,
        units="fuzz: {loop: 1}",
        effects="lead: fuzz",
        scenes="Loud: [lead]",
        rig="include: units/one.yaml",
    )
    (book / "units" / "one.yaml").write_text("include: deep/two.yaml\n", encoding="utf-8")
    (book / "units" / "deep" / "two.yaml").write_text("units: {swell: {loop: 2}}\n", "utf-8")
    compiled = whole(night)
    before = contents(tmp_path)
    built = build(compiled, book / out)
    if out == "units":
        # Nothing of one.yaml itself is in the book, but it was read.
        assert "one.yaml" in str(built.problem)
    assert "and the build reads it" in str(built.problem)
    assert contents(tmp_path) == before
    names = sorted(path.name for path in compiled.book.files)
    assert names == ["board.yaml", "night.yaml", "one.yaml", "rig.yaml", "songs.yaml", "two.yaml"]
    assert build(compiled, book / "out").problem is None


def test_two_outputs_with_one_name_are_our_own_fault(
    compiled: dict[str, Compiled], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(maps, "map_files", lambda data: {"preset-sheet.html": b""})
    with pytest.raises(AssertionError, match="preset-sheet"):
        output_files(compiled["granary"])


# -- whatever stands in the book ------------------------------------------------------------------

TITLES = [
    ("../../x", "../../x"),
    ("CON", "CON"),
    ("con", "con"),
    ("a/b", "a/b"),
    ("x" * 200, "x" * 200),
    ("🎸🎻", "🎸🎻"),
    ("夜", "夜"),
    ('"<script>alert(1)</script>"', "<script>alert(1)</script>"),
    ('"</title><b>"', "</title><b>"),
    ('"=1+1"', "=1+1"),
    ('"@sum(1)"', "@sum(1)"),
    ("'+2'", "+2"),
    ('"\\e[31mred\\e[0m"', "\x1b[31mred\x1b[0m"),
    ('"\\x9b2J"', "\x9b2J"),
    ('"\\u202eright to left"', "\u202eright to left"),
    ("Soldier’s Joy", "Soldier’s Joy"),
    ('"{{ 7 * 7 }}{% raw %}"', "{{ 7 * 7 }}{% raw %}"),
]

ASKED = 3
"""So many of them are kept for requests too."""


@pytest.fixture(scope="module", params=[False, True], ids=["ascii", "utf8"])
def odd(request: pytest.FixtureRequest, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Return where a night of odd titles is built; sets, scenes and boxes have such names too."""
    top = tmp_path_factory.mktemp("odd")
    songs = "songs:\n" + "".join(
        f"- title: {typed}\n  note: {typed}\n  scenes:\n    {typed}: [{typed}]\n"
        for typed, _ in TITLES
    )
    units = "box: {channel: 3, display: 0 to 99, acts only on: what is declared, programs: {" + (
        ", ".join(f"{typed}: {number}" for number, (typed, _) in enumerate(TITLES)) + "}}"
    )
    effects = "\n".join(f"{typed}: {{box: {typed}}}" for typed, _ in TITLES)
    night = write_night(top, units=units, effects=effects, songs=songs)
    sets = "".join(f"- name: {typed}\n  note: {typed}\n  play: [{typed}]\n" for typed, _ in TITLES)
    asked = "".join(f"- {typed}\n" for typed, _ in TITLES[:ASKED])
    night.write_text(
        f"night: {TITLES[7][0]}\ndate: {TITLES[12][0]}\nnote: {TITLES[9][0]}\nrig: rig.yaml\n"
        f"songs: songs.yaml\nsets:\n{sets}if asked:\n{asked}",
        encoding="utf-8",
    )
    switcher = (top / "board.yaml").read_text(encoding="utf-8")
    (top / "board.yaml").write_text(
        switcher.replace("banks: 10", "banks: 30\nrecalled on channel: 16"), encoding="utf-8"
    )
    compiled = whole(night)
    assert worst(compiled.findings) is not Severity.ERROR, compiled.findings
    before = names_in(top)
    built = build(compiled, top / "out", utf8=bool(request.param))
    assert built.problem is None
    assert [name for name in names_in(top) if not name.startswith("out/")] == before
    return top / "out"


def test_odd_titles_make_safe_names_all_different(odd: Path) -> None:
    names = names_in(odd)
    assert all(is_safe(name) and len(name.split("/")[-1]) <= 60 for name in names)
    assert len({name.casefold() for name in names}) == len(names)
    for route in ("stored", "direct"):
        songs = [name for name in names if name.startswith((f"{route}/0", f"{route}/1"))]
        assert len(songs) == len(TITLES) + ASKED
    assert {"stored/01-01-x.mid", "stored/02-01-con-.mid", "stored/03-01-con-.mid"} < set(names)
    assert check_folder(odd) == []


def test_odd_titles_are_whole_in_the_data(odd: Path) -> None:
    night = read_night(odd)
    assert [song["title"] for song in night["songs"]] == [
        title for _, title in TITLES + TITLES[:ASKED]
    ]
    assert list(Draft202012Validator(night_schema()).iter_errors(night)) == []


def test_no_text_file_acts_on_a_terminal(odd: Path) -> None:
    checked = 0
    for name, content in contents(odd).items():
        if name.endswith((".mid", ".pdf")):
            continue
        checked += 1
        text = content.decode("utf-8")
        assert not {"\x1b", "\x9b", "\u202e", "\x07", "\x00"} & set(text), name
    assert checked > 8


def test_no_table_holds_a_formula(odd: Path) -> None:
    checked = 0
    for name, content in contents(odd).items():
        if name.endswith(".csv"):
            rows = list(csv.reader(io.StringIO(content.decode("utf-8"), newline="")))
            checked += len(rows)
            for row in rows:
                assert not any(one.startswith(("=", "+", "-", "@", "\t", "\r")) for one in row)
    assert checked > len(TITLES)


def test_no_page_runs_what_a_title_says(odd: Path) -> None:
    for name, content in contents(odd).items():
        if name.endswith(".html"):
            text = content.decode("utf-8")
            assert "<script>alert" not in text, name
            assert "</title><b>" not in text, name
            assert "{{ 7 * 7 }}" in text, name
            assert "49{%" not in text, name


def test_no_text_in_a_midi_file_acts_on_a_terminal(odd: Path, request: Any) -> None:
    charset = "utf-8" if "utf8" in request.node.name else "ascii"
    texts = 0
    for name in names_in(odd):
        if name.endswith(".mid"):
            for track in mido.MidiFile(odd / name, charset=charset).tracks:
                for message in track:
                    text = getattr(message, "text", getattr(message, "name", ""))
                    texts += bool(text)
                    assert text.isprintable() or "\u200d" in text, (name, text)
    assert texts > len(TITLES)


def test_text_in_midi_files_is_ascii_unless_asked(
    compiled: dict[str, Compiled], monkeypatch: pytest.MonkeyPatch
) -> None:
    asked = []

    def files(data: object, *, utf8: bool = False) -> dict[str, bytes]:
        asked.append(utf8)
        return {}

    monkeypatch.setattr("setwright.compiler.outputs.midi_file.midi_files", files)
    output_files(compiled["granary"])
    output_files(compiled["granary"], utf8=True)
    assert asked == [False, True]


def test_the_same_data_with_other_files_differs_only_in_the_list(
    compiled: dict[str, Compiled],
) -> None:
    data = night_data(compiled["parlour"])
    one = json.loads(night_json(data, {"b": b"1", "a": b"2"}))
    two = json.loads(night_json(data, {"a": b"2"}))
    assert list(one["files"]) == ["a", "b"]
    assert night_json(data, {"b": b"1", "a": b"2"}) == night_json(data, {"a": b"2", "b": b"1"})
    assert {**one, "files": {}, "itself": ""} == {**two, "files": {}, "itself": ""}


def test_night_json_tells_whether_it_was_changed(folders: dict[str, Path]) -> None:
    content = (folders["parlour"] / "night.json").read_bytes()
    itself = json.loads(content)["itself"]
    assert hashlib.sha256(content.replace(itself.encode(), b"0" * 64)).hexdigest() == itself
    assert is_as_written(content, itself)
    for changed in (content + b" ", content.replace(b"Parlour", b"parlour", 1), b"", b"{}"):
        assert not is_as_written(changed, itself)
    assert not is_as_written(content, "0" * 64)
    assert not is_as_written(content, None)


# -- what a pencil added --------------------------------------------------------------------------


def test_the_real_command_keeps_what_a_pencil_added(tmp_path: Path) -> None:
    """Every file of a build is changed by hand, and then built again for other songs."""
    out = tmp_path / "out"
    assert setwright("build", str(DEMO / "granary-night.yaml"), "--out", str(out)).returncode == 0
    pencilled = {name: content + b"\n " for name, content in contents(out).items()}
    for name, content in pencilled.items():
        (out / name).write_bytes(content)
    # A change that stays JSON, and one more line: both are no longer what was built.
    ended = setwright("build", str(DEMO / "parlour-night.yaml"), "--out", str(out))
    assert ended.returncode == 0
    kept = {
        name.removesuffix(".yours"): one for name, one in contents(out).items() if ".yours" in name
    }
    assert kept == pencilled
    for name in pencilled:
        assert (
            ended.stderr.count(
                f"note: {name} was changed after it was built; that one is kept as {name}.yours\n"
            )
            == 1
        )
    assert "removed" not in ended.stdout
    assert check_folder(out) == []

    # Again, with other changes: what was kept stays, what is new is kept under a number.
    (out / "cue-sheet.html").write_bytes(b"second thoughts")
    ended = setwright("build", str(DEMO / "parlour-night.yaml"), "--out", str(out))
    assert "cue-sheet.html was changed after it was built; " in ended.stderr
    assert (out / "cue-sheet.html.yours").read_bytes() == pencilled["cue-sheet.html"]
    assert (out / "cue-sheet.html.yours.2").read_bytes() == b"second thoughts"
