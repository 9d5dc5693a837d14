"""`setwright new`: a book that works as it stands, and nothing half-written."""

from __future__ import annotations

import os
import re
import subprocess
import sys
from collections.abc import Callable, Iterator
from contextlib import suppress
from pathlib import Path

import pytest
from click.testing import CliRunner

from setwright.compiler import new_book
from setwright.compiler.cli import main
from setwright.compiler.compiled import Compiled
from setwright.compiler.new_book import FILES, write_new_book
from setwright.compiler.outputs.lock import LOCK
from setwright.compiler.outputs.manifest import TRACE
from setwright.compiler.outputs.schemas import schema_files
from setwright.scenes.schema import KINDS, schema_text
from tests.nights import whole
from tests.oneill.headers import read_headers
from tests.test_write import CHANGING, NEEDS_FORK, Fault, disk_full, interrupted, nothing_synced

__all__ = ["nothing_synced"]  # a fixture

TEMPLATES = Path(__file__).resolve().parents[1] / "templates" / "new"
WRITTEN = [*FILES, *(f".schemas/{kind}.schema.json" for kind in KINDS)]

ALL = sorted([*WRITTEN, ".schemas"])


def tree(folder: Path) -> list[str]:
    return sorted(str(path.relative_to(folder)) for path in folder.rglob("*"))


def run(*words: str, cwd: Path) -> subprocess.CompletedProcess[str]:
    program = "import sys; from setwright.compiler.cli import main; sys.exit(main())"
    return subprocess.run(
        [sys.executable, "-c", program, *words],
        cwd=cwd,
        capture_output=True,
        text=True,
        encoding="utf-8",
        env={**os.environ, "PYTHONIOENCODING": "utf-8"},
        check=False,
    )


@pytest.fixture(scope="module")
def book(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("new") / "my first book"
    assert isinstance(write_new_book(str(folder)), list)
    return folder


@pytest.fixture(scope="module")
def compiled(book: Path) -> Compiled:
    return whole(book / "night.yaml")


# -- what is written ------------------------------------------------------------------------------


def test_the_real_command_writes_a_book_that_the_real_command_likes(tmp_path: Path) -> None:
    made = run("new", "my book", cwd=tmp_path)
    assert (made.returncode, made.stderr) == (0, "")
    first, *_, last = made.stdout.splitlines()
    assert first == f"wrote {Path('my book') / 'night.yaml'}"
    assert last.startswith("now try: setwright check ")
    assert made.stdout.count("wrote ") == len(WRITTEN)

    checked = run("check", "my book/night.yaml", cwd=tmp_path)
    assert (checked.returncode, checked.stderr) == (0, "")
    assert ": nothing found\nproven: in all " in checked.stdout
    assert len(checked.stdout.splitlines()) == 3

    # As the comment at the top of night.yaml says, from within the folder.
    folder = tmp_path / "my book"
    assert run("check", "night.yaml", cwd=folder).returncode == 0
    said = run("explain", "night.yaml", "Smash the Windows/Drift", cwd=folder)
    assert (said.returncode, said.stderr) == (0, "")
    assert "Smash the Windows" in (folder / "night.yaml").read_text(encoding="utf-8")


def test_returns_what_it_wrote(tmp_path: Path) -> None:
    folder = tmp_path / "book"
    assert write_new_book(str(folder)) == [str(folder / name) for name in WRITTEN]
    assert tree(folder) == ALL
    assert tree(tmp_path) == sorted(["book", *(f"book/{name}" for name in tree(folder))])
    for name in FILES:
        assert (folder / name).read_bytes() == (TEMPLATES / name).read_bytes()
    for kind in KINDS:
        path = folder / ".schemas" / f"{kind}.schema.json"
        assert path.read_text(encoding="utf-8") == schema_text(kind)


@pytest.mark.parametrize("name", FILES)
def test_every_file_names_the_schema_that_is_written(book: Path, name: str) -> None:
    first = (book / name).read_text(encoding="utf-8").splitlines()[0]
    kind = name.removesuffix(".yaml")
    assert first == f"# yaml-language-server: $schema=.schemas/{kind}.schema.json"
    assert (book / ".schemas" / f"{kind}.schema.json").is_file()


def test_no_template_is_left_unused() -> None:
    assert sorted(path.name for path in TEMPLATES.iterdir()) == sorted(FILES)


@pytest.mark.parametrize("name", FILES)
def test_fits_a_page_and_a_window(name: str) -> None:
    lines = (TEMPLATES / name).read_text(encoding="utf-8").splitlines()
    assert len(lines) <= 80
    assert max(map(len, lines)) <= 100
    assert not any(line != line.rstrip() or "\t" in line for line in lines)
    assert sum("#" in line for line in lines) > len(lines) // 4


def test_the_folder_is_as_open_as_any_other(tmp_path: Path) -> None:
    (tmp_path / "other").mkdir()
    write_new_book(str(tmp_path / "book"))
    assert (tmp_path / "book").stat().st_mode == (tmp_path / "other").stat().st_mode


# -- what it holds --------------------------------------------------------------------------------


def test_nothing_is_found_and_nothing_is_unknown(compiled: Compiled) -> None:
    assert compiled.findings == []
    assert [song.song.title for song in compiled.songs] == [
        "Smash the Windows",
        "The Morning Star",
        "The Little Stack of Barley",
        "The Morning Star",
    ]
    verdicts = {
        wanted.verdict.value
        for song in compiled.songs
        for scene in song.scenes.values()
        for wanted in scene.wanted
    }
    assert verdicts == {"proven", "don't care"}


def test_every_sound_effect_and_program_is_used(compiled: Compiled) -> None:
    book = compiled.book
    assert book is not None
    assert set(book.rig.effects) == {
        effect
        for song in compiled.songs
        for scene in song.scenes.values()
        for effect in scene.effects
    }
    asked = {scene.sound for song in book.songs for scene in song.scenes.values()}
    assert set(book.song_book.sounds) <= asked
    most = max(len(song.scenes) for song in compiled.songs)
    assert most <= book.switcher.switches.count


def test_the_supply_is_enough_for_what_hangs_on_it(compiled: Compiled) -> None:
    book = compiled.book
    assert book is not None
    fed = [unit for output in book.rig.supply.values() for unit in output.feeds]
    assert sorted(fed) == sorted(name for name, unit in book.rig.units.items() if unit.power)
    for output in book.rig.supply.values():
        needs = [power for name in output.feeds if (power := book.rig.units[name].power)]
        assert sum(power.draws for power in needs) <= output.gives
        for power in needs:
            assert power.volts.low <= output.volts.low <= output.volts.high <= power.volts.high
            assert (power.current, power.polarity) == (output.current, output.polarity)


def test_the_tunes_stand_in_a_published_collection(compiled: Compiled) -> None:
    """Source: F. O'Neill, O'Neill's Music of Ireland, Chicago 1903 (`tests/oneill`)."""
    printed = {(one.title, one.meter, one.key) for one in read_headers()}
    book = compiled.book
    assert book is not None
    for song in book.songs:
        assert (song.title, str(song.meter), song.key) in printed


def test_the_usual_cautions_stand_where_they_belong() -> None:
    rig = re.sub(r"\n# ?", " ", (TEMPLATES / "rig.yaml").read_text(encoding="utf-8"))
    for words in ("turn the amplifier down", "protect your ears", "polarity", "voltage"):
        assert words in rig
    for words in ("licensed technician", "local rules", "valve amplifier without its speaker"):
        assert words in rig
    first = rig.index("power:")
    assert "CAUTION" in rig[first : rig.index("\n", first)]


# -- where it refuses -----------------------------------------------------------------------------


def test_a_folder_that_is_there_and_empty_stays_the_same_folder(tmp_path: Path) -> None:
    folder = tmp_path / "book"
    folder.mkdir(mode=0o750)
    before = folder.stat()
    assert isinstance(write_new_book(str(folder)), list)
    after = folder.stat()
    assert (before.st_ino, before.st_mode) == (after.st_ino, after.st_mode)
    assert tree(folder) == ALL


def test_the_folder_that_one_stands_in(tmp_path: Path) -> None:
    made = run("new", ".", cwd=tmp_path)
    assert (made.returncode, made.stderr) == (0, "")
    assert run("check", "night.yaml", cwd=tmp_path).returncode == 0


def test_folders_above_are_made_too(tmp_path: Path) -> None:
    assert isinstance(write_new_book(str(tmp_path / "a" / "b" / "c")), list)
    assert tree(tmp_path / "a" / "b" / "c") == ALL


def test_a_link_to_an_empty_folder_is_followed(tmp_path: Path) -> None:
    (tmp_path / "real").mkdir()
    (tmp_path / "link").symlink_to(tmp_path / "real")
    assert isinstance(write_new_book(str(tmp_path / "link")), list)
    assert tree(tmp_path / "real") == ALL


def _refused() -> Iterator[object]:
    for name, sentence in {
        "full": "‘{}’ is not empty, it holds ‘.hidden’ and 2 more; "
        "name a folder that is empty or not there yet",
        "one": "‘{}’ is not empty, it holds ‘songs.yaml’; "
        "name a folder that is empty or not there yet",
        "file": "‘{}’ is a file, not a folder; name another folder",
        "dangling": "‘{}’ is a link to nowhere; name another folder",
        "circle": "‘{}’ is a link to nowhere; name another folder",
        "file/book": "cannot write ‘{}’: not a directory; nothing was changed; name another folder",
        "new/" + "n" * 300: "cannot write ‘{}’: file name too long; nothing was changed; "
        "name another folder",
        "a\0b": "no folder can be called ‘{}’; name another folder",
    }.items():
        yield pytest.param(name, sentence, id=name[:12].replace("\0", "0"))


@pytest.mark.parametrize(("name", "sentence"), list(_refused()))
def test_refuses_in_one_sentence_and_touches_nothing(
    tmp_path: Path, name: str, sentence: str
) -> None:
    (tmp_path / "full").mkdir()
    for one in (".hidden", "songs.yaml", "z"):
        (tmp_path / "full" / one).write_text("mine")
    (tmp_path / "one").mkdir()
    (tmp_path / "one" / "songs.yaml").write_text("mine")
    (tmp_path / "file").write_text("mine")
    (tmp_path / "dangling").symlink_to(tmp_path / "nowhere")
    (tmp_path / "circle").symlink_to(tmp_path / "circle")
    before = tree(tmp_path)
    folder = str(tmp_path / name)
    said = sentence.format(folder.replace("\0", "\\x00"))
    assert write_new_book(folder) == said
    assert tree(tmp_path) == before

    if "\0" in name:  # no shell can hand that to the command
        return
    result = CliRunner().invoke(main, ["new", folder])
    assert result.exit_code == 2
    assert result.output == f"setwright: {said}\n"
    assert tree(tmp_path) == before
    assert {path.read_text() for path in tmp_path.rglob("*") if path.is_file()} == {"mine"}


def test_no_folder_at_all() -> None:
    assert write_new_book("") == "a book needs a folder; name one that is empty or not there yet"


def test_invisible_characters_are_shown(tmp_path: Path) -> None:
    (tmp_path / "x\x1b[2J").write_text("mine")
    said = write_new_book(str(tmp_path / "x\x1b[2J"))
    assert isinstance(said, str)
    assert said.isprintable()
    assert "x\\x1b[2J" in said


# -- where it fails -------------------------------------------------------------------------------


@pytest.fixture
def quick_schemas(monkeypatch: pytest.MonkeyPatch) -> None:
    """Make the schemas once: to make them takes longer than to write a book."""
    made = schema_files()
    monkeypatch.setattr(new_book, "schema_files", lambda: made)


def at_every_step(
    top: Path, there: bool, fail: Callable[[], None], *, before: bool = True
) -> Iterator[tuple[Path, Fault]]:
    """Yield, for each step of writing a book, a new folder and a fault that comes there."""
    counting = Fault(CHANGING, 0, fail)
    with counting.installed():
        assert isinstance(write_new_book(str(top / "count")), list)
    assert len(counting.calls) > 50
    for step in range(1, len(counting.calls) + 1):
        folder = top / str(step) / "book"
        (folder if there else folder.parent).mkdir(parents=True)
        yield folder, Fault(CHANGING, step, fail, before=before)


@pytest.mark.usefixtures("nothing_synced", "quick_schemas")
@pytest.mark.parametrize("there", [True, False])
@pytest.mark.parametrize(("fail", "before"), [(disk_full, True), (interrupted, False)])
def test_a_failure_at_any_step_leaves_nothing_behind(
    tmp_path: Path, there: bool, fail: Callable[[], None], before: bool
) -> None:
    failed = 0
    for folder, fault in at_every_step(tmp_path, there, fail, before=before):
        kept = tree(folder.parent)
        said: list[str] | str = ""
        with fault.installed(), suppress(KeyboardInterrupt):
            said = write_new_book(str(folder))
        now = tree(folder.parent)
        if isinstance(said, str) and "book/night.yaml" not in now:
            failed += 1
            if fault.calls[fault.step - 1] != "unlink":  # then it could not tidy up either
                assert now == kept
            if fail is disk_full:
                assert said.startswith("cannot write ‘")
                assert "; nothing was changed; make room on the disk" in said
            # Nor is anything in the way of another attempt.
            assert isinstance(write_new_book(str(folder)), list)
            assert tree(folder) == ALL
        else:
            left = set(tree(folder)) - ({LOCK, TRACE} if isinstance(said, str) else set())
            assert sorted(left) == ALL
    assert failed > 40


@NEEDS_FORK
@pytest.mark.usefixtures("nothing_synced", "quick_schemas")
@pytest.mark.parametrize("there", [True, False])
def test_killed_at_any_step_the_next_attempt_finishes_it(tmp_path: Path, there: bool) -> None:
    for folder, fault in at_every_step(tmp_path, there, lambda: os._exit(9)):
        child = os.fork()
        if child == 0:
            with fault.installed():
                write_new_book(str(folder))
            os._exit(0)
        if os.waitstatus_to_exitcode(os.waitpid(child, 0)[1]) == 9:
            for name in FILES:
                if (folder / name).exists():
                    assert (folder / name).read_bytes() == (TEMPLATES / name).read_bytes()
            said = write_new_book(str(folder))
            if isinstance(said, str):  # all was done, but for letting go of the folder
                assert "is not empty" in said
                left = set(tree(folder)) - {LOCK}
                assert sorted(left) == ALL
            else:
                assert tree(folder) == ALL


@pytest.mark.skipif(sys.platform == "win32", reason="needs limits on the size of files")
@pytest.mark.parametrize("there", [True, False])
def test_a_disk_that_really_takes_no_more(tmp_path: Path, there: bool) -> None:
    folder = tmp_path / "book"
    if there:
        folder.mkdir()
    before = tree(tmp_path)
    program = (
        "import resource, sys; from setwright.compiler.cli import main;"
        "resource.setrlimit(resource.RLIMIT_FSIZE, (20000, 20000)); sys.exit(main())"
    )
    made = subprocess.run(
        [sys.executable, "-B", "-c", program, "new", str(folder)],
        capture_output=True,
        text=True,
        encoding="utf-8",
        env={**os.environ, "PYTHONIOENCODING": "utf-8"},
        check=False,
    )
    assert made.returncode == 2
    assert made.stderr == (
        f"setwright: cannot write ‘{folder / '.schemas' / 'rig.schema.json'}’: file too large; "
        "nothing was changed; make room on the disk, or name another folder\n"
    )
    assert made.stdout == ""
    assert tree(tmp_path) == before


def test_two_at_once_do_not_mix(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    folder = tmp_path / "book"

    def meanwhile() -> dict[str, bytes]:
        folder.mkdir()
        (folder / "theirs").write_text("theirs")
        return schema_files()

    monkeypatch.setattr(new_book, "schema_files", meanwhile)
    assert isinstance(write_new_book(str(folder)), str)
    assert tree(tmp_path) == ["book", "book/theirs"]
