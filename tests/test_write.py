"""Writing a folder: each file old or new, never half, whatever fails at whichever step."""

from __future__ import annotations

import errno
import hashlib
import json
import math
import os
import subprocess
import sys
from collections.abc import Callable, Iterator, Mapping
from contextlib import contextmanager, nullcontext
from pathlib import Path
from textwrap import dedent
from typing import Any

import pytest

from setwright.compiler.outputs.lock import LOCK
from setwright.compiler.outputs.manifest import TRACE, broken_off, check_folder, read_manifest
from setwright.compiler.outputs.schemas import write_schemas
from setwright.compiler.outputs.survey import Problem
from setwright.compiler.outputs.write import Written, write_outputs
from setwright.scenes.schema import KINDS, schema_text

NEEDS_FORK = pytest.mark.skipif(not hasattr(os, "fork"), reason="this system has no fork")


def whole(
    files: Mapping[str, bytes], night: str = "Dance", rig: str = "Granary"
) -> dict[str, bytes]:
    """Return ``files`` with the night.json that lists them."""
    listed = {name: hashlib.sha256(content).hexdigest() for name, content in files.items()}
    data = {"setwright": "0", "night": night, "rig": rig, "files": listed}
    return {**files, "night.json": json.dumps(data).encode()}


def tree(folder: Path) -> dict[str, bytes]:
    """Return every file below ``folder``, every folder with a slash at its end, every link."""
    found = {}
    for path in folder.rglob("*"):
        name = path.relative_to(folder).as_posix()
        if path.is_symlink():
            found[name] = b"-> " + os.fsencode(path.readlink())
        elif path.is_dir():
            found[f"{name}/"] = b""
        else:
            found[name] = path.read_bytes()
    return found


def expected(files: Mapping[str, bytes]) -> dict[str, bytes]:
    folders = {
        f"{'/'.join(name.split('/')[:depth])}/": b""
        for name in files
        for depth in range(1, len(name.split("/")))
    }
    return {**files, **folders}


OLD = whole({"same.txt": b"same", "maps/a.csv": b"old a", "gone/deep/b.mid": b"b", "c.html": b"c"})
NEW = whole({"same.txt": b"same", "maps/a.csv": b"new a", "fresh/d.mid": b"d" * 50, "c.html": b"C"})
NEWER = whole({"maps/a.csv": b"newer a", "fresh/e.mid": b"e", "other/f.mid": b"f"})


# -- what a build does to a folder ----------------------------------------------------------------


def test_a_new_folder(tmp_path: Path) -> None:
    out = tmp_path / "not" / "there" / "yet"
    written = write_outputs(out, NEW)
    assert written == Written(wrote=tuple(sorted(NEW)))
    assert tree(out) == expected(NEW)
    assert check_folder(out) == []


def test_an_earlier_build_is_replaced_and_what_is_no_longer_made_is_removed(tmp_path: Path) -> None:
    write_outputs(tmp_path, OLD)
    mine = tmp_path / "gone" / "mine.txt"
    mine.write_bytes(b"mine")
    written = write_outputs(tmp_path, NEW)
    assert written.wrote == ("c.html", "fresh/d.mid", "maps/a.csv", "night.json")
    assert written.unchanged == ("same.txt",)
    assert (written.removed, written.pending) == (("gone/deep/b.mid",), ())
    assert (written.notices, written.problem) == ((), None)
    # A folder stays while anything else is in it, and goes when it is empty.
    assert tree(tmp_path) == {**expected(NEW), "gone/": b"", "gone/mine.txt": b"mine"}
    write_outputs(tmp_path, OLD)
    mine.unlink()
    write_outputs(tmp_path, NEW)
    assert tree(tmp_path) == expected(NEW)


def test_what_is_as_it_should_be_is_not_touched(tmp_path: Path) -> None:
    write_outputs(tmp_path, NEW)
    for path in tmp_path.rglob("*"):
        os.utime(path, (1, 1))
    assert write_outputs(tmp_path, NEW) == Written(unchanged=tuple(sorted(NEW)))
    assert {path.stat().st_mtime for path in tmp_path.rglob("*")} == {1.0}


def test_other_files_in_the_folder_are_left_alone(tmp_path: Path) -> None:
    others = {
        "readme.txt": b"x",
        ".git/": b"",
        ".git/config": b"y",
        "maps/": b"",
        "maps/z.csv": b"z",
    }
    for name, content in others.items():
        path = tmp_path / name
        path.parent.mkdir(exist_ok=True)
        if not name.endswith("/"):
            path.write_bytes(content)
    write_outputs(tmp_path, OLD)
    write_outputs(tmp_path, NEW)
    assert tree(tmp_path) == {**expected(NEW), **others}


@pytest.mark.parametrize("name", ["c.html", "maps/a.csv", "fresh/d.mid", "night.json"])
@pytest.mark.parametrize(
    "content", [b"mine", b"", b'{"setwright": 1, "files": []}', b"[" * 100_000]
)
def test_a_file_that_no_build_made_is_not_overwritten(
    tmp_path: Path, name: str, content: bytes
) -> None:
    (tmp_path / name).parent.mkdir(exist_ok=True)
    (tmp_path / name).write_bytes(content)
    before = tree(tmp_path)
    written = write_outputs(tmp_path, NEW)
    assert tree(tmp_path) == before
    assert written == Written(
        pending=tuple(sorted(NEW)),
        problem=Problem(
            f"‘{tmp_path / name}’ is not from an earlier build, and would be overwritten",
            "move it away, or name another folder",
        ),
    )


def test_a_file_that_the_list_of_the_earlier_build_does_not_name(tmp_path: Path) -> None:
    write_outputs(tmp_path, OLD)
    (tmp_path / "fresh").mkdir()
    (tmp_path / "fresh" / "d.mid").write_bytes(b"mine")
    before = tree(tmp_path)
    assert "fresh" in str(write_outputs(tmp_path, NEW).problem)
    assert tree(tmp_path) == before


@pytest.mark.parametrize(
    ("name", "what"), [("maps", "a file, and should be a folder"), ("c.html", "a folder, and")]
)
def test_a_folder_where_a_file_belongs_and_the_other_way_round(
    tmp_path: Path, name: str, what: str
) -> None:
    if name == "maps":
        (tmp_path / name).write_bytes(b"")
    else:
        (tmp_path / name).mkdir()
    before = tree(tmp_path)
    assert what in str(write_outputs(tmp_path, NEW).problem)
    assert tree(tmp_path) == before


def test_a_pipe_in_the_way_is_refused_without_waiting_for_it(tmp_path: Path) -> None:
    for name in ("c.html", "night.json", TRACE):
        folder = tmp_path / name
        folder.mkdir()
        os.mkfifo(folder / name)
        written = write_outputs(folder, NEW)
        assert (written.problem is None) is (name == TRACE), name


# -- links ----------------------------------------------------------------------------------------


@pytest.mark.parametrize("name", ["c.html", "night.json", "maps/a.csv", TRACE, f"{TRACE}.new"])
@pytest.mark.parametrize("target", ["file", "folder", "nowhere"])
@pytest.mark.parametrize("built_before", [False, True])
def test_a_link_is_replaced_and_not_followed(
    tmp_path: Path, name: str, target: str, built_before: bool
) -> None:
    out, outside = tmp_path / "out", tmp_path / "outside"
    outside.mkdir()
    (outside / "file").write_bytes(b"precious")
    (outside / "folder").mkdir()
    if built_before:
        write_outputs(out, OLD)
    (out / name).parent.mkdir(parents=True, exist_ok=True)
    (out / name).unlink(missing_ok=True)
    (out / name).symlink_to(outside / target)
    before = tree(outside)
    if built_before and name == "night.json":
        # Without the list of the earlier build its files are anybody's.
        written = write_outputs(out, NEW)
        assert "is not from an earlier build" in str(written.problem)
        assert (out / name).is_symlink()
    else:
        written = write_outputs(out, NEW)
        assert written.problem is None
        assert tree(out) == expected(NEW)
        assert not (out / name).is_symlink()
        assert any(f"{name} was a link" in one for one in written.notices) is (name in NEW)
    assert tree(outside) == before


@pytest.mark.parametrize("inside", [False, True])
def test_a_linked_folder_is_refused(tmp_path: Path, inside: bool) -> None:
    out = tmp_path / "out"
    elsewhere = out / "elsewhere" if inside else tmp_path / "elsewhere"
    elsewhere.mkdir(parents=True)
    (out / "maps").parent.mkdir(exist_ok=True)
    (out / "maps").symlink_to(elsewhere)
    written = write_outputs(out, NEW)
    assert f"‘{out / 'maps'}’ is a link, and should be a folder" in str(written.problem)
    assert tree(elsewhere) == {}


def test_what_is_no_longer_made_is_not_removed_through_a_link(tmp_path: Path) -> None:
    out, elsewhere = tmp_path / "out", tmp_path / "elsewhere"
    write_outputs(out, OLD)
    (out / "gone").rename(elsewhere)
    (out / "gone").symlink_to(elsewhere)
    written = write_outputs(out, NEW)
    assert (written.problem, written.removed) == (None, ())
    assert tree(elsewhere) == {"deep/": b"", "deep/b.mid": b"b"}
    # Nor is a link that stands where one of our files was.
    (out / "fresh" / "d.mid").unlink()
    (out / "fresh" / "d.mid").symlink_to(elsewhere / "deep" / "b.mid")
    (out / "gone").unlink()
    written = write_outputs(out, OLD)
    assert written.removed == ()
    assert (out / "fresh" / "d.mid").is_symlink()
    assert tree(elsewhere) == {"deep/": b"", "deep/b.mid": b"b"}


def test_an_empty_folder_is_not_removed_through_a_link(tmp_path: Path) -> None:
    out, elsewhere = tmp_path / "out", tmp_path / "elsewhere"
    write_outputs(out, OLD)
    (out / "gone").rename(elsewhere)
    (elsewhere / "deep" / "b.mid").unlink()
    (out / "gone").symlink_to(elsewhere)
    assert write_outputs(out, NEW).problem is None
    assert tree(elsewhere) == {"deep/": b""}


def test_the_folder_itself_may_be_a_link(tmp_path: Path) -> None:
    (tmp_path / "real").mkdir()
    (tmp_path / "link").symlink_to("real")
    assert write_outputs(tmp_path / "link", NEW).problem is None
    assert (tmp_path / "link").is_symlink()
    assert tree(tmp_path / "real") == expected(NEW)


# -- which folder it may be -----------------------------------------------------------------------


def prepare_sources(top: Path) -> list[Path]:
    (top / "book" / "units").mkdir(parents=True)
    sources = [top / "book" / "night.yaml", top / "book" / "units" / "echo.yaml"]
    for source in sources:
        source.write_bytes(b"mine")
    return sources


@pytest.mark.parametrize(
    ("out", "sentence"),
    [
        ("book", "‘{top}/book’ holds ‘{top}/book/night.yaml’, and the build reads it"),
        (
            "book/units",
            "‘{top}/book/units’ holds ‘{top}/book/units/echo.yaml’, and the build reads it",
        ),
        ("book/out/..", "holds ‘{top}/book/night.yaml’"),
        (".", "holds ‘{top}/book/night.yaml’"),
        ("linked", "‘{top}/linked’ holds ‘{top}/book/night.yaml’"),
        ("book/night.yaml", "‘{top}/book/night.yaml’ is a file, not a folder"),
        (
            "book/night.yaml/out",
            "cannot write ‘{top}/book/night.yaml/out’: not a directory; nothing was changed",
        ),
        ("nowhere", "‘{top}/nowhere’ is a link to nowhere"),
        ("circle", "‘{top}/circle’ is a link to nowhere"),
        ("a\0b", "no folder can be called"),
        ("x" * 300, "file name too long; nothing was changed"),
        ("built/maps", "‘{top}/built/maps’ is a part of the build in ‘{top}/built’"),
        ("built/gone/deep/x", None),
        ("book/out", None),
        ("book/units/out", None),
        ("units", None),
    ],
)
def test_which_folder_it_may_be(tmp_path: Path, out: str, sentence: str | None) -> None:
    sources = prepare_sources(tmp_path)
    write_outputs(tmp_path / "built", OLD)
    (tmp_path / "linked").symlink_to("book")
    (tmp_path / "nowhere").symlink_to("not-there/at-all")
    (tmp_path / "circle").symlink_to("circle")
    (tmp_path / "book" / "out").mkdir()
    before = tree(tmp_path)
    written = write_outputs(tmp_path / out, NEW, sources)
    if sentence is None:
        assert written.problem is None
        assert before.items() <= tree(tmp_path).items()
    else:
        assert sentence.format(top=tmp_path) in str(written.problem)
        assert written.problem is not None and written.problem.way_out
        assert tree(tmp_path) == before


def test_a_source_that_is_a_link_out_of_the_folder_counts_too(tmp_path: Path) -> None:
    sources = prepare_sources(tmp_path)
    (tmp_path / "out").mkdir()
    (tmp_path / "out" / "night.yaml").symlink_to(sources[0])
    written = write_outputs(tmp_path / "out", NEW, [tmp_path / "out" / "night.yaml"])
    assert "and the build reads it" in str(written.problem)


def test_the_folder_in_which_a_linked_source_really_lies_counts_too(tmp_path: Path) -> None:
    _, echo = prepare_sources(tmp_path)
    link = tmp_path / "book" / "linked.yaml"
    link.symlink_to(echo)
    written = write_outputs(echo.parent, NEW, [link])
    assert f"‘{echo.parent}’ holds ‘{link}’, and the build reads it" in str(written.problem)


def test_names_are_relative_to_where_one_stands(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    prepare_sources(tmp_path)
    monkeypatch.chdir(tmp_path / "book")
    assert "holds ‘night.yaml’" in str(write_outputs(Path(), NEW, [Path("night.yaml")]).problem)
    assert write_outputs(Path("out"), NEW, [Path("night.yaml")]).problem is None
    assert tree(tmp_path / "book" / "out") == expected(NEW)


@pytest.mark.parametrize(
    "names",
    [
        ["../x"],
        ["/x"],
        ["a/../../x"],
        [".hidden"],
        ["con"],
        ["a b"],
        ["A.csv", "a.csv"],
        ["a", "a/b"],
        ["A", "a/b"],
        ["night.JSON"],
        [""],
    ],
)
def test_names_that_no_output_may_have(tmp_path: Path, names: list[str]) -> None:
    files = whole({}) | dict.fromkeys(names, b"x")
    with pytest.raises(ValueError, match="name"):
        write_outputs(tmp_path / "out", files)
    with pytest.raises(ValueError, match="name"):
        write_outputs(tmp_path / "out", {"a": b""})
    assert not (tmp_path / "out").exists()


def test_what_is_shown_is_escaped(tmp_path: Path) -> None:
    out = tmp_path / "a\x1b[31m\u202e"
    out.write_bytes(b"")
    assert str(write_outputs(out, NEW).problem).isprintable()
    assert "a\\x1b[31m\\u202e" in str(write_outputs(out, NEW).problem)
    assert all(one.isprintable() for one in check_folder(out))


# -- lists that lie -------------------------------------------------------------------------------


@pytest.mark.parametrize("name", ["../precious", "{top}/precious", "maps/../../precious", ".git/x"])
def test_a_list_that_names_files_elsewhere_removes_nothing(tmp_path: Path, name: str) -> None:
    out = tmp_path / "out"
    (out / ".git").mkdir(parents=True)
    for path in (tmp_path / "precious", out / ".git" / "x"):
        path.write_bytes(b"mine")
    digest = hashlib.sha256(b"mine").hexdigest()
    name = name.format(top=tmp_path)
    lie = {"setwright": "0", "night": "", "rig": "", "files": {name: digest}, "token": "a"}
    (out / "night.json").write_text(json.dumps(lie), encoding="utf-8")
    (out / TRACE).write_text(json.dumps({**lie, "files": {name: [digest]}}), encoding="utf-8")
    written = write_outputs(out, NEW)
    assert (written.problem, written.removed) == (None, ())
    assert (tmp_path / "precious").read_bytes() == b"mine"
    assert (out / ".git" / "x").read_bytes() == b"mine"


@pytest.mark.parametrize(
    "trace",
    [
        b"",
        b"{",
        b"[]",
        b"null",
        b"\xff",
        b'{"token": "../x", "files": {}}',
        b'{"token": "a", "files": 1}',
    ],
)
def test_a_trace_that_cannot_be_read(tmp_path: Path, trace: bytes) -> None:
    write_outputs(tmp_path, OLD)
    (tmp_path / TRACE).write_bytes(trace)
    assert write_outputs(tmp_path, NEW).problem is None
    assert tree(tmp_path) == expected(NEW)


# -- faults at every step -------------------------------------------------------------------------


@pytest.fixture
def nothing_synced(monkeypatch: pytest.MonkeyPatch) -> None:
    """Thousands of files are written here, and no power will be cut."""
    monkeypatch.setattr(os, "fsync", lambda handle: None)


CHANGING = ("open", "write", "fsync", "close", "replace", "unlink", "mkdir", "rmdir")
LOOKING = ("stat",)


class Fault:
    """Counts the calls of some functions of ``os``, and fails at one of them.

    The fault comes ``before`` the call or after it has done its work; it comes ``times`` times in
    a row, with ``lasting`` at every later call.
    """

    def __init__(
        self,
        functions: tuple[str, ...],
        step: int,
        fail: Callable[[], None],
        *,
        before: bool = True,
        lasting: bool = False,
        times: int = 1,
    ) -> None:
        self.functions, self.step, self.fail = functions, step, fail
        self.before, self.last = before, math.inf if lasting else step + times - 1
        self.calls: list[str] = []

    def _wrapped(self, name: str, real: Callable[..., Any]) -> Callable[..., Any]:
        def call(*args: Any, **keywords: Any) -> Any:
            self.calls.append(name)
            count = len(self.calls)
            due = 0 < self.step <= count <= self.last
            # What is open has to be closed, whatever is said of it.
            if due and self.before and name != "close":
                self.fail()
            try:
                result = real(*args, **keywords)
            except OSError:
                if due:
                    self.fail()
                raise
            if due:
                if name == "open":
                    REAL_CLOSE(result)
                self.fail()
            return result

        return call

    @contextmanager
    def installed(self) -> Iterator[None]:
        with pytest.MonkeyPatch.context() as patch:
            for name in self.functions:
                patch.setattr(os, name, self._wrapped(name, getattr(os, name)))
            yield


REAL_CLOSE = os.close


def raising(error: BaseException) -> Callable[..., None]:
    def fail(*args: object) -> None:
        raise error

    return fail


def disk_full() -> None:
    raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))


def refused() -> None:
    raise PermissionError(errno.EACCES, os.strerror(errno.EACCES))


def interrupted() -> None:
    raise KeyboardInterrupt


def ended() -> None:
    raise SystemExit(3)


class SurpriseError(Exception):
    """What nobody expects."""


def surprised() -> None:
    raise SurpriseError


def killed(functions: tuple[str, ...], step: int, folder: Path) -> int:
    """Build NEW in a process that ends at one step as if it were killed; return how it ended."""
    child = os.fork()
    if child == 0:
        with Fault(functions, step, lambda: os._exit(9)).installed():
            write_outputs(folder, NEW)
        os._exit(0)
    return os.waitstatus_to_exitcode(os.waitpid(child, 0)[1])


def steps(functions: tuple[str, ...], folder: Path, start: Callable[[Path], None]) -> int:
    """Return how many steps it takes to build NEW into a folder that ``start`` prepared."""
    counting = Fault(functions, 0, disk_full)
    start(folder)
    with counting.installed():
        assert write_outputs(folder, NEW).problem is None
    return len(counting.calls)


def nothing_there(folder: Path) -> None:
    assert not folder.exists()


def old_there(folder: Path) -> None:
    write_outputs(folder, OLD)


def unfinished_there(folder: Path) -> None:
    """Leave what a build of NEWER over OLD leaves that is interrupted in the middle of moving."""
    write_outputs(folder, OLD)
    fault = Fault(("replace",), 3, interrupted)
    with fault.installed():
        written = write_outputs(folder, NEWER)
    assert written.wrote == ("fresh/e.mid",)
    assert (folder / TRACE).exists()


STARTS = [nothing_there, old_there, unfinished_there]


def assert_old_or_new(folder: Path, before: Mapping[str, bytes]) -> None:
    now = tree(folder) if folder.exists() else {}
    for name, content in now.items():
        if name in NEW:
            assert content in (before.get(name), NEW[name]), f"{name} is half"
    if now.get("night.json") == NEW["night.json"] != before.get("night.json"):
        assert NEW.items() <= now.items(), "the list came before what it lists"
    for name in before:
        assert name.endswith("/") or name == TRACE or name in now or name not in NEW


def assert_told_truly(folder: Path, before: Mapping[str, bytes], written: Written) -> None:
    now = tree(folder) if folder.exists() else {}
    is_new = {name for name in NEW if now.get(name) == NEW[name]}
    assert set(written.wrote) == {name for name in is_new if before.get(name) != NEW[name]}
    assert set(written.pending) == set(NEW) - is_new
    assert set(written.removed) == {
        name for name in before if name not in now and name != TRACE and not name.endswith("/")
    }
    if written.problem is not None:
        sentence = written.problem.sentence
        if written.wrote and written.pending:
            assert sentence.endswith(
                f"new: {', '.join(written_in_order(written.wrote))}; "
                f"as before: {', '.join(written_in_order(written.pending))}"
            )
        else:
            assert ("nothing was changed" in sentence) is not bool(written.wrote)
            assert ("every file is new" in sentence) is bool(written.wrote)


def written_in_order(names: tuple[str, ...]) -> list[str]:
    return sorted(names, key=lambda name: (name == "night.json", name))


def assert_nothing_aside(folder: Path) -> None:
    """Let the trace stay, and a lock that nobody holds, but nothing else that is hidden."""
    if folder.exists():
        hidden = [name for name in tree(folder) if name.split("/")[-1].startswith(".")]
        assert set(hidden) <= {TRACE, LOCK}, hidden


def assert_next_build_is_whole(folder: Path) -> None:
    written = write_outputs(folder, NEW)
    assert written.problem is None, written.problem
    assert tree(folder) == expected(NEW)
    assert check_folder(folder) == []


@pytest.mark.usefixtures("nothing_synced")
@pytest.mark.parametrize(
    ("start", "fail", "before_the_call"),
    [
        (nothing_there, disk_full, True),
        (nothing_there, interrupted, False),
        (old_there, disk_full, True),
        (old_there, interrupted, True),
        (old_there, ended, False),
        (unfinished_there, refused, True),
        (unfinished_there, interrupted, False),
        (unfinished_there, surprised, True),
    ],
)
def test_a_fault_at_every_step(
    tmp_path: Path,
    start: Callable[[Path], None],
    fail: Callable[[], None],
    before_the_call: bool,
) -> None:
    count = steps(CHANGING, tmp_path / "count", start)
    assert count > 30
    problems = set()
    for step in range(1, count + 1):
        folder = tmp_path / str(step)
        start(folder)
        before = tree(folder) if folder.exists() else {}
        fault = Fault(CHANGING, step, fail, before=before_the_call)
        written = None
        with fault.installed():
            if fail in (ended, surprised):
                with pytest.raises((SystemExit, SurpriseError)) as caught:
                    write_outputs(folder, NEW)
                assert "while writing into" in caught.value.__notes__[0]
            else:
                written = write_outputs(folder, NEW)
        assert len(fault.calls) >= step
        assert_old_or_new(folder, before)
        if written is not None:
            assert_told_truly(folder, before, written)
            problems.add(written.problem is not None)
            # A step that fails may be the very one that removes what was written aside.
        if fault.calls[step - 1] != "unlink":
            assert_nothing_aside(folder)
        if (
            written is not None
            and written.problem
            and "nothing was changed" in str(written.problem)
        ):
            trace_of_another = TRACE in before
            if fault.calls[step - 1] != "unlink" and not trace_of_another:
                now = tree(folder) if folder.exists() else {}
                assert now == before, "nothing was changed, it says"
        assert_next_build_is_whole(folder)
    assert fail in (ended, surprised) or True in problems


@pytest.mark.usefixtures("nothing_synced")
@pytest.mark.parametrize(
    ("start", "fail"),
    [(nothing_there, interrupted), (old_there, disk_full), (unfinished_there, disk_full)],
)
def test_a_fault_that_lasts(
    tmp_path: Path, start: Callable[[Path], None], fail: Callable[[], None]
) -> None:
    """The disk is gone from one step on, or somebody leans on Ctrl+C: nothing can be removed."""
    for step in range(1, steps(CHANGING, tmp_path / "count", start) + 1):
        folder = tmp_path / str(step)
        start(folder)
        before = tree(folder) if folder.exists() else {}
        with Fault(CHANGING, step, fail, lasting=True).installed():
            written = write_outputs(folder, NEW)
        assert_old_or_new(folder, before)
        assert_told_truly(folder, before, written)
        assert_next_build_is_whole(folder)


@pytest.mark.usefixtures("nothing_synced")
def test_an_impatient_user_is_tidied_up_after_too(tmp_path: Path) -> None:
    for step in range(1, steps(CHANGING, tmp_path / "count", old_there) + 1):
        folder = tmp_path / str(step)
        old_there(folder)
        with Fault(CHANGING, step, interrupted, times=5).installed():
            written = write_outputs(folder, NEW)
        assert_old_or_new(folder, OLD)
        assert_told_truly(folder, OLD, written)
        assert_nothing_aside(folder)
        assert_next_build_is_whole(folder)


@pytest.mark.usefixtures("nothing_synced")
@pytest.mark.parametrize(
    ("start", "fail"),
    [(nothing_there, refused), (old_there, interrupted), (unfinished_there, refused)],
)
def test_a_fault_while_looking(
    tmp_path: Path, start: Callable[[Path], None], fail: Callable[[], None]
) -> None:
    for step in range(1, steps(LOOKING, tmp_path / "count", start) + 1):
        folder = tmp_path / str(step)
        start(folder)
        before = tree(folder) if folder.exists() else {}
        with Fault(LOOKING, step, fail).installed():
            written = write_outputs(folder, NEW)
        assert written.problem is None or written.problem.way_out
        assert_old_or_new(folder, before)
        assert_nothing_aside(folder)
        assert_next_build_is_whole(folder)


@NEEDS_FORK
@pytest.mark.usefixtures("nothing_synced")
@pytest.mark.parametrize(
    ("start", "partly"),
    [(nothing_there, "incomplete"), (old_there, "mixed"), (unfinished_there, "mixed")],
)
def test_killed_at_every_step(tmp_path: Path, start: Callable[[Path], None], partly: str) -> None:
    """Nothing can be tidied up by who is killed; what is left says so, and the next build does."""
    seen = set()
    for step in range(1, steps(CHANGING, tmp_path / "count", start) + 1):
        folder = tmp_path / str(step)
        start(folder)
        before = tree(folder) if folder.exists() else {}
        assert killed(CHANGING, step, folder) == 9
        assert_old_or_new(folder, before)
        now = tree(folder) if folder.exists() else {}
        moved = [
            name in now and now[name] == NEW[name] for name in NEW if before.get(name) != NEW[name]
        ]
        said = broken_off(folder, "‘out’")
        state = "whole" if all(moved) else partly if any(moved) or TRACE in before else "as it was"
        seen.add(state)
        assert (f"so its sheets are {partly}" in said) is (state == partly), (step, said)
        assert ("sheets are" in said) is (state == partly)
        if state == "whole":
            assert said in (
                "",
                "the last build into ‘out’ was broken off when every file was in "
                "place and only tidying up was left",
            )
        written = write_outputs(folder, NEW)
        if said and written.wrote:
            shown = said.replace("‘out’", f"‘{folder}’")
            assert f"{shown}; now every file is of this one" in written.notices
        assert_next_build_is_whole(folder)
        assert broken_off(folder, "") == ""
    assert seen == {"whole", partly} | ({"as it was"} if start is not unfinished_there else set())


@pytest.mark.usefixtures("nothing_synced")
@pytest.mark.parametrize("stride", [7, 11, 13])
def test_broken_off_again_and_again_with_other_files_each_time(tmp_path: Path, stride: int) -> None:
    """Whatever was left by whom, one build that is let finish leaves nothing but its own."""
    others = [whole({f"x{n}/a.mid": b"%d" % n, "maps/a.csv": b"%d" % n}) for n in range(5)]
    count = steps(CHANGING, tmp_path / "count", old_there)
    folder = tmp_path / "out"
    write_outputs(folder, OLD)
    for number in range(15):
        step = 1 + (number * stride) % count
        with Fault(CHANGING, step, disk_full, lasting=True).installed():
            write_outputs(folder, others[number % 5])
    assert_next_build_is_whole(folder)


def test_what_cannot_be_removed_is_tried_again(tmp_path: Path) -> None:
    write_outputs(tmp_path, OLD)
    stuck = tmp_path / "gone" / "deep" / "b.mid"
    real = os.unlink

    def unlink(path: Any, **keywords: Any) -> None:
        if Path(path) == stuck:
            refused()
        real(path, **keywords)

    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(os, "unlink", unlink)
        written = write_outputs(tmp_path, NEW)
    assert (written.problem, written.removed) == (None, ())
    assert written.notices == (
        "gone/deep/b.mid of an earlier build could not be removed: permission denied",
    )
    assert stuck.exists()
    written = write_outputs(tmp_path, NEW)
    assert written.removed == ("gone/deep/b.mid",)
    assert tree(tmp_path) == expected(NEW)


def test_a_disk_that_takes_a_few_bytes_at_a_time(tmp_path: Path) -> None:
    real = os.write
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(os, "write", lambda handle, data: real(handle, data[:3]))
        assert write_outputs(tmp_path, NEW).problem is None
    assert tree(tmp_path) == expected(NEW)


def test_nothing_is_moved_before_everything_is_written_and_synced(tmp_path: Path) -> None:
    write_outputs(tmp_path, OLD)
    counting = Fault(CHANGING, 0, disk_full)
    with counting.installed():
        write_outputs(tmp_path, NEW)
    calls = counting.calls
    first = calls.index("replace", calls.index("replace") + 1)  # the very first is the trace
    last = len(calls) - 1 - calls[::-1].index("replace")
    assert calls[:first].count("write") == calls.count("write") == 5
    assert calls[:first].count("fsync") >= 5
    assert calls[first:last].count("replace") == 3
    assert "fsync" in calls[first:last], "the folders are synced before the list is moved"


# -- what was changed by hand ---------------------------------------------------------------------


def test_what_was_changed_by_hand_is_said(tmp_path: Path) -> None:
    write_outputs(tmp_path, OLD)
    (tmp_path / "maps" / "a.csv").write_bytes(b"edited")
    (tmp_path / "gone" / "deep" / "b.mid").write_bytes(b"edited too")
    (tmp_path / "c.html").unlink()
    assert check_folder(tmp_path) == [
        f"missing in ‘{tmp_path}’: c.html; build again",
        f"not as built in ‘{tmp_path}’: gone/deep/b.mid, maps/a.csv; build again",
    ]
    written = write_outputs(tmp_path, NEW)
    assert written.notices == (
        "gone/deep/b.mid was changed after it was built; that one is kept as gone/deep/b.mid.yours",
        "maps/a.csv was changed after it was built; that one is kept as maps/a.csv.yours",
    )
    assert written.kept == ("gone/deep/b.mid.yours", "maps/a.csv.yours")
    assert written.removed == ()
    assert tree(tmp_path) == {
        **expected(NEW),
        "maps/a.csv.yours": b"edited",
        "gone/": b"",
        "gone/deep/": b"",
        "gone/deep/b.mid.yours": b"edited too",
    }
    assert check_folder(tmp_path) == []


PENCILLED = {
    "maps/a.csv": b"pencilled a",
    "c.html": b"pencilled c",
    "gone/deep/b.mid": b"pencilled b",
}
KEPT = {f"{name}.yours": content for name, content in PENCILLED.items()}


def pencilled_there(folder: Path) -> None:
    """Leave a build of OLD of which a user has changed some files, one that NEW lacks too."""
    write_outputs(folder, OLD)
    for name, content in PENCILLED.items():
        (folder / name).write_bytes(content)


def assert_everything_is_kept(folder: Path) -> None:
    now = {name: content for name, content in tree(folder).items() if not name.endswith("/")}
    assert now == {**NEW, **KEPT}


def test_what_was_kept_is_never_overwritten_nor_removed(tmp_path: Path) -> None:
    files = [OLD, NEW]
    for number in range(1, 5):
        write_outputs(tmp_path, files[number % 2])
        (tmp_path / "c.html").write_bytes(b"%d" % number)
    write_outputs(tmp_path, whole({}))
    assert {path.name: path.read_bytes() for path in tmp_path.glob("c.html*")} == {
        "c.html.yours": b"1",
        "c.html.yours.2": b"2",
        "c.html.yours.3": b"3",
        "c.html.yours.4": b"4",
    }


def test_the_same_is_not_kept_twice(tmp_path: Path) -> None:
    for _ in range(3):
        write_outputs(tmp_path, NEW)
        (tmp_path / "c.html").write_bytes(b"mine")
        written = write_outputs(tmp_path, NEW)
        assert written.kept == ("c.html.yours",)
    assert [path.name for path in tmp_path.glob("*.yours*")] == ["c.html.yours"]


@pytest.mark.parametrize("stands", ["folder", "link", "other"])
def test_a_name_that_is_taken_gets_a_number(tmp_path: Path, stands: str) -> None:
    write_outputs(tmp_path, NEW)
    (tmp_path / "c.html").write_bytes(b"mine")
    if stands == "link":
        (tmp_path / "c.html.yours").symlink_to("c.html")
    elif stands == "folder":
        (tmp_path / "c.html.yours").mkdir()
    else:
        (tmp_path / "c.html.yours").write_bytes(b"other")
    assert write_outputs(tmp_path, OLD).kept == ("c.html.yours.2",)
    assert (tmp_path / "c.html.yours.2").read_bytes() == b"mine"


def test_a_disk_that_knows_no_second_names(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def link(source: object, target: object) -> None:
        raise PermissionError(errno.EPERM, "Operation not permitted")

    monkeypatch.setattr(os, "link", link)
    pencilled_there(tmp_path)
    written = write_outputs(tmp_path, NEW)
    assert (written.problem, written.kept) == (None, tuple(sorted(KEPT)))
    assert_everything_is_kept(tmp_path)


@pytest.mark.parametrize("name", ["c.html.yours", "maps/a.csv.YOURS.3"])
def test_no_list_makes_what_was_kept_ours(tmp_path: Path, name: str) -> None:
    (tmp_path / "maps").mkdir()
    (tmp_path / name).write_bytes(b"kept")
    files = whole({name: b"kept"})
    with pytest.raises(ValueError, match="name"):
        write_outputs(tmp_path / "out", files)
    (tmp_path / "night.json").write_bytes(files["night.json"])
    trace = {"token": "a", "files": {name: [hashlib.sha256(b"kept").hexdigest()]}, "moving": {}}
    (tmp_path / TRACE).write_text(json.dumps(trace), encoding="utf-8")
    assert write_outputs(tmp_path, NEW).removed == ()
    assert (tmp_path / name).read_bytes() == b"kept"


@pytest.mark.usefixtures("nothing_synced")
@pytest.mark.parametrize("links", [True, False])
@pytest.mark.parametrize("fail", [disk_full, interrupted])
def test_a_fault_at_every_step_loses_nothing_that_was_pencilled(
    tmp_path: Path, fail: Callable[[], None], links: bool, monkeypatch: pytest.MonkeyPatch
) -> None:
    if not links:
        monkeypatch.setattr(os, "link", raising(OSError(errno.EPERM, "no")))
    functions = (*CHANGING, "link", "rename") if links else (*CHANGING, "rename")
    for step in range(1, steps(functions, tmp_path / "count", pencilled_there) + 1):
        folder = tmp_path / str(step)
        pencilled_there(folder)
        fault = Fault(functions, step, fail, before=fail is disk_full)
        with fault.installed():
            written = write_outputs(folder, NEW)
        now = tree(folder)
        for name, content in PENCILLED.items():
            assert content in (now.get(name), now.get(f"{name}.yours")), (step, name)
        assert set(written.kept) <= now.keys()
        if written.problem and "nothing was changed" in str(written.problem):
            assert {one: now.get(one) for one in PENCILLED} == PENCILLED
            if fault.calls[step - 1] not in ("unlink", "link"):
                assert not KEPT.keys() & now.keys()
        assert write_outputs(folder, NEW).problem is None
        assert_everything_is_kept(folder)


@NEEDS_FORK
@pytest.mark.usefixtures("nothing_synced")
@pytest.mark.parametrize("links", [True, False])
def test_killed_at_every_step_loses_nothing_that_was_pencilled(
    tmp_path: Path, links: bool, monkeypatch: pytest.MonkeyPatch
) -> None:
    if not links:
        monkeypatch.setattr(os, "link", raising(OSError(errno.EPERM, "no")))
    functions = (*CHANGING, "link", "rename") if links else (*CHANGING, "rename")
    for step in range(1, steps(functions, tmp_path / "count", pencilled_there) + 1):
        folder = tmp_path / str(step)
        pencilled_there(folder)
        assert killed(functions, step, folder) == 9
        assert write_outputs(folder, NEW).problem is None
        assert_everything_is_kept(folder)


def test_a_build_of_another_night_is_said(tmp_path: Path) -> None:
    write_outputs(tmp_path, OLD)
    assert write_outputs(tmp_path, whole({}, "Dance", "Parlour")).notices == (
        f"‘{tmp_path}’ held ‘Dance’ on ‘Granary’ until now",
    )


def test_a_folder_without_a_build(tmp_path: Path) -> None:
    holds_none = [f"‘{tmp_path}’ holds no build; name the folder that you built into"]
    assert check_folder(tmp_path) == holds_none
    (tmp_path / "night.json").write_bytes(b"{}")
    assert check_folder(tmp_path) == holds_none
    assert check_folder(tmp_path / "not" / "there")[0].endswith(
        "name the folder that you built into"
    )
    assert check_folder(tmp_path / "a\0b") != []
    write_outputs(tmp_path / "x", OLD)
    (tmp_path / "x" / TRACE).write_bytes(b"")
    assert check_folder(tmp_path / "x") == [
        f"the last build into ‘{tmp_path / 'x'}’ was broken off, nobody knows where; build again"
    ]


# -- schemas --------------------------------------------------------------------------------------

SCHEMAS = sorted(f"{kind}.schema.json" for kind in KINDS)


def test_writes_all_four_schemas_and_writes_them_again(tmp_path: Path) -> None:
    folder = tmp_path / "not" / "there"
    assert write_schemas(str(folder)) == Written(wrote=tuple(SCHEMAS))
    old = {**json.loads((folder / "rig.schema.json").read_bytes()), "description": "of yesterday"}
    (folder / "rig.schema.json").write_text(json.dumps(old), encoding="utf-8")
    assert write_schemas(str(folder)).wrote == ("rig.schema.json",)
    assert sorted(path.name for path in folder.iterdir()) == SCHEMAS
    for kind in KINDS:
        text = (folder / f"{kind}.schema.json").read_bytes().decode()
        assert text == schema_text(kind)
        assert text.endswith("}\n")
        assert text.startswith('{\n  "$schema"')


@pytest.mark.parametrize("content", [b"mine", b"", b"[]", b'{"title": "Mine"}'])
def test_what_is_no_schema_of_ours_is_kept(tmp_path: Path, content: bytes) -> None:
    (tmp_path / "songs.schema.json").write_bytes(content)
    assert write_schemas(str(tmp_path)).kept == ("songs.schema.json.yours",)
    assert (tmp_path / "songs.schema.json.yours").read_bytes() == content
    assert (tmp_path / "songs.schema.json").read_text(encoding="utf-8") == schema_text("songs")


@pytest.mark.usefixtures("nothing_synced")
def test_a_failure_at_any_step_leaves_whole_schemas(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    texts = {kind: schema_text(kind) for kind in KINDS}
    monkeypatch.setattr("setwright.compiler.outputs.schemas.schema_text", texts.__getitem__)
    old = json.dumps({"title": "Setwright: songs"})
    (tmp_path / "count").mkdir()
    counting = Fault(CHANGING, 0, disk_full)
    with counting.installed():
        write_schemas(str(tmp_path / "count"))
    for step in range(1, len(counting.calls) + 1):
        folder = tmp_path / str(step)
        folder.mkdir()
        (folder / "songs.schema.json").write_text(old, encoding="utf-8")
        fault = Fault(CHANGING, step, disk_full)
        with fault.installed():
            written = write_schemas(str(folder))
        assert (folder / "songs.schema.json").read_text(encoding="utf-8") in (old, texts["songs"])
        if fault.calls[step - 1] != "unlink":
            assert_nothing_aside(folder)
        if written.problem is not None:
            assert "no space left on device" in str(written.problem)
            assert write_schemas(str(folder)).problem is None
        assert sorted(path.name for path in folder.iterdir()) in (SCHEMAS, [LOCK, *SCHEMAS])


# -- real disks -----------------------------------------------------------------------------------


@contextmanager
def small_disk(at: Path) -> Iterator[bool]:
    """Mount a disk of 64 KB at ``at``; yields whether the system permits that."""
    at.mkdir()
    mount = ["mount", "-t", "tmpfs", "-o", "size=64k", "tmpfs", str(at)]
    try:
        mounted = subprocess.run(mount, capture_output=True, check=False).returncode == 0
    except FileNotFoundError:
        mounted = False
    try:
        yield mounted
    finally:
        if mounted:
            subprocess.run(["umount", str(at)], check=True)


BIG = whole({f"part-{n}.bin": bytes([n]) * 12_000 for n in range(8)})
SMALL = whole({f"part-{n}.bin": b"old" for n in range(3)})


def test_a_full_disk_changes_nothing(tmp_path: Path) -> None:
    with small_disk(tmp_path / "disk") as mounted:
        if not mounted:
            # Where no disk can be mounted, files that may not grow come near to it.
            before, sentence, after = with_files_of_at_most(8_000, tmp_path / "disk" / "out")
            assert "file too large; nothing was changed" in sentence
            assert after == before
            return
        out = tmp_path / "disk" / "out"
        assert write_outputs(out, SMALL).problem is None
        written = write_outputs(out, BIG)
        assert "no space left on device; nothing was changed; make room" in str(written.problem)
        assert (written.wrote, written.pending) == ((), tuple(sorted(BIG)))
        assert tree(out) == expected(SMALL)
        assert check_folder(out) == []
        # A folder that is not there yet is not there afterwards either.
        assert write_outputs(tmp_path / "disk" / "a" / "b", BIG).problem is not None
        assert not (tmp_path / "disk" / "a").exists()


def test_files_that_may_not_grow(tmp_path: Path) -> None:
    before, sentence, after = with_files_of_at_most(8_000, tmp_path / "out")
    assert "file too large; nothing was changed; make room" in sentence
    assert after == before


def with_files_of_at_most(size: int, out: Path) -> tuple[dict[str, bytes], str, dict[str, bytes]]:
    """Build BIG over SMALL where no file may be larger than ``size`` bytes."""
    pytest.importorskip("resource", reason="this system has no such limits")
    write_outputs(out, SMALL)
    before = tree(out)
    script = """
        import resource, sys
        from pathlib import Path
        from setwright.compiler.outputs.write import write_outputs
        from tests.test_write import BIG
        resource.setrlimit(resource.RLIMIT_FSIZE, (int(sys.argv[1]), resource.RLIM_INFINITY))
        print(write_outputs(Path(sys.argv[2]), BIG).problem)
    """
    ended = subprocess.run(
        [sys.executable, "-c", dedent(script), str(size), str(out)],
        capture_output=True,
        encoding="utf-8",
        env={**os.environ, "PYTHONIOENCODING": "utf-8"},
        cwd=Path(__file__).resolve().parent.parent,
        check=False,
    )
    assert (ended.returncode, ended.stderr) == (0, "")
    return before, ended.stdout, tree(out)


@contextmanager
def read_only(disk: Path, *, mounted: bool) -> Iterator[None]:
    """Let nothing be written to ``disk``: by its mount, by permissions, or else as if it were so."""
    folders = [path for path in (disk, *disk.rglob("*")) if path.is_dir()]
    if mounted:
        subprocess.run(["mount", "-o", "remount,ro", str(disk)], check=True)
    else:
        for folder in folders:
            folder.chmod(0o500)
    as_if = Fault(CHANGING, 1, refused, lasting=True) if os.access(disk, os.W_OK) else None
    try:
        with as_if.installed() if as_if is not None else nullcontext():
            yield
    finally:
        for folder in [] if mounted else folders:
            folder.chmod(0o700)


def test_a_folder_that_may_only_be_read(tmp_path: Path) -> None:
    disk = tmp_path / "disk"
    with small_disk(disk) as mounted:
        assert write_outputs(disk / "out", OLD).problem is None
        with read_only(disk, mounted=mounted):
            written = write_outputs(disk / "out", NEW)
            elsewhere = write_outputs(disk / "a" / "b", NEW)
            same = write_outputs(disk / "out", OLD)
        for problem in (written.problem, elsewhere.problem):
            assert "; nothing was changed; " in str(problem)
            assert "that you may write into" in str(problem)
        assert same == Written(unchanged=tuple(sorted(OLD)))  # there is nothing to write
        assert tree(disk) == expected({f"out/{name}": content for name, content in OLD.items()})


def test_an_interrupt_from_the_keyboard(tmp_path: Path) -> None:
    """A real signal, while files are being written aside."""
    script = """
        import os, signal, sys
        from pathlib import Path
        from setwright.compiler.outputs import write
        from tests.test_write import NEW
        real, count = os.fsync, 0
        def fsync(handle):
            global count
            count += 1
            if count == 4:
                os.kill(os.getpid(), signal.SIGINT)
            real(handle)
        os.fsync = fsync
        print(write.write_outputs(Path(sys.argv[1]), NEW).problem)
    """
    out = tmp_path / "out"
    write_outputs(out, OLD)
    ended = subprocess.run(
        [sys.executable, "-c", dedent(script), str(out)],
        capture_output=True,
        encoding="utf-8",
        env={**os.environ, "PYTHONIOENCODING": "utf-8"},
        cwd=Path(__file__).resolve().parent.parent,
        check=False,
    )
    assert (ended.returncode, ended.stderr) == (0, "")
    assert ended.stdout == (
        f"interrupted while writing into ‘{out}’; nothing was changed; try again\n"
    )
    assert tree(out) == expected(OLD)


def test_the_list_of_a_folder(tmp_path: Path) -> None:
    write_outputs(tmp_path, OLD)
    manifest = read_manifest(tmp_path)
    assert manifest is not None
    assert manifest.whose == "‘Dance’ on ‘Granary’"
    assert manifest.files == json.loads(OLD["night.json"])["files"]
    assert read_manifest(tmp_path / "maps") is None
